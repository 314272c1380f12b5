//! Numbers as people read them: a proper minus, groups of three, no needless digits.

/// U+2212, the minus sign.
const MINUS: char = '\u{2212}';
/// U+202F, a narrow no-break space between groups of three digits (ISO 80000-1, 7.3.1: a small gap, no comma or point).
const GAP: char = '\u{202f}';

/// A number with a fixed count of decimals.
pub(super) fn fixed(value: f64, decimals: usize) -> String {
    let digits = format!("{:.*}", decimals, value.abs());
    let negative = value < 0.0 && digits.bytes().any(|b| (b'1'..=b'9').contains(&b));
    let (whole, fraction) = digits.split_once('.').unwrap_or((&digits, ""));
    let mut text = String::new();
    if negative {
        text.push(MINUS);
    }
    push_grouped(&mut text, whole);
    if !fraction.is_empty() {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

/// Four digits stay together; from five on they are grouped.
fn push_grouped(text: &mut String, whole: &str) {
    for (index, digit) in whole.chars().enumerate() {
        if whole.len() > 4 && index > 0 && (whole.len() - index).is_multiple_of(3) {
            text.push(GAP);
        }
        text.push(digit);
    }
}

/// A number rounded to a count of significant digits, without trailing zeros; powers of ten far from 1.
pub(super) fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return if value.is_nan() {
            "not a number".into()
        } else {
            "infinite".into()
        };
    }
    if value == 0.0 {
        return "0".into();
    }
    let places = digits.max(1) - 1;
    let rounded = format!("{value:.places$e}");
    let Some((mantissa, exponent)) = rounded.split_once('e') else {
        return fixed(value, 0);
    };
    let exponent: i32 = exponent.parse().unwrap_or(0);
    if !(-4..7).contains(&exponent) {
        return power(trim(mantissa), exponent);
    }
    let decimals = (places as i32 - exponent).max(0) as usize;
    // Digits before the point that were rounded away stay away: 12 345 to three digits is 12 300.
    let kept: f64 = rounded.parse().unwrap_or(value);
    let text = fixed(kept, decimals);
    trim(&text).to_owned()
}

/// As [`significant`], with a plus sign on what is above zero.
pub(super) fn signed(value: f64, digits: usize) -> String {
    let text = significant(value, digits);
    if value > 0.0 {
        format!("+{text}")
    } else {
        text
    }
}

/// `2.5` and 7 as `2.5×10⁷`.
pub(super) fn power(mantissa: &str, exponent: i32) -> String {
    let mantissa = mantissa.replace('-', &MINUS.to_string());
    let exponent: String = exponent.to_string().chars().map(superscript).collect();
    format!("{mantissa}\u{d7}10{exponent}")
}

fn superscript(digit: char) -> char {
    match digit {
        '-' => '\u{207b}',
        '1' => '\u{b9}',
        '2' => '\u{b2}',
        '3' => '\u{b3}',
        '4'..='9' => char::from_u32(0x2070 + u32::from(digit) - u32::from('0')).unwrap_or(digit),
        _ => '\u{2070}',
    }
}

fn trim(text: &str) -> &str {
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // ISO 80000-1:2009, 7.3.1 and 7.1.4 (from memory): the minus sign, and groups of three set off by a small gap.
    #[test]
    fn fixed_uses_a_minus_sign_and_groups_from_five_digits() {
        assert_eq!(fixed(-1234.5, 1), "−1234.5");
        assert_eq!(fixed(12345.0, 0), "12\u{202f}345");
        assert_eq!(fixed(1234567.25, 2), "1\u{202f}234\u{202f}567.25");
    }

    #[test]
    fn what_rounds_to_zero_has_no_sign() {
        assert_eq!(fixed(-0.001, 2), "0.00");
        assert_eq!(fixed(-0.0, 0), "0");
        assert_eq!(signed(0.0, 3), "0");
    }

    #[test]
    fn significant_digits_drop_trailing_zeros() {
        assert_eq!(significant(62.831853, 4), "62.83");
        assert_eq!(significant(60.0, 4), "60");
        assert_eq!(significant(99.96, 3), "100");
        assert_eq!(significant(0.00123, 3), "0.00123");
        assert_eq!(significant(12345.0, 3), "12\u{202f}300");
        assert_eq!(significant(-0.5, 3), "−0.5");
    }

    #[test]
    fn numbers_far_from_one_are_powers_of_ten() {
        assert_eq!(significant(2.5e7, 3), "2.5×10⁷");
        assert_eq!(significant(-1.26e-5, 2), "−1.3×10⁻⁵");
        assert_eq!(significant(1e100, 3), "1×10¹⁰⁰");
    }

    #[test]
    fn signed_marks_what_is_above_zero() {
        assert_eq!(signed(9.75, 3), "+9.75");
        assert_eq!(signed(-9.75, 3), "−9.75");
    }
}

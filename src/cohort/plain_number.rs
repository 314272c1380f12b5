//! Decimal numbers as wards write them.

/// Powers of ten that are exact.
const TENS: [f64; DIGITS + 1] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];

/// Digits that a binary64 always holds exactly.
const DIGITS: usize = 15;

/// A decimal number, with or without an exponent.
pub(super) fn plain_number(field: &str) -> Option<f64> {
    short(field.as_bytes()).or_else(|| any(field))
}

/// A number of few digits without an exponent. Two exact numbers are divided, which rounds once:
/// the result is the one nearest to the decimal, as any other way of reading it must give.
fn short(field: &[u8]) -> Option<f64> {
    let (is_negative, digits) = match field {
        [b'-', digits @ ..] => (true, digits),
        [b'+', digits @ ..] => (false, digits),
        digits => (false, digits),
    };
    // A point is no digit.
    if digits.is_empty() || digits.len() > DIGITS {
        return None;
    }
    let (mut whole, mut point) = (0_u64, None);
    for (at, byte) in digits.iter().enumerate() {
        match byte {
            b'0'..=b'9' => whole = 10 * whole + u64::from(byte - b'0'),
            b'.' if point.is_none() && digits.len() > 1 => point = Some(at),
            _ => return None,
        }
    }
    let decimals = point.map_or(0, |at| digits.len() - 1 - at);
    let number = whole as f64 / TENS[decimals];
    Some(if is_negative { -number } else { number })
}

fn any(field: &str) -> Option<f64> {
    // `inf`, `nan` and hexadecimal would be read by the standard library; a ward writes none.
    let is_plain = field
        .bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'));
    let number = is_plain.then(|| field.parse::<f64>().ok())?;
    number.filter(|number| number.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn short_numbers_are_read_as_the_standard_library_reads_them(
            field in "[-+]?[0-9]{0,9}(\\.[0-9]{0,8})?"
        ) {
            let read = plain_number(&field).map(f64::to_bits);
            prop_assert_eq!(read, field.parse::<f64>().ok().map(f64::to_bits));
        }
    }

    #[test]
    fn what_is_no_decimal_number_is_not_read() {
        for field in [
            "", ".", "-", "+.", "1.2.3", "1,5", "inf", "nan", "0x10", "1e999", "5 ", "٣",
        ] {
            assert_eq!(plain_number(field), None, "{field}");
        }
        assert_eq!(plain_number("1.5e2"), Some(150.0));
        assert_eq!(plain_number("-0"), Some(-0.0));
        assert_eq!(
            plain_number("1234567890123456789"),
            Some(1234567890123456789.0)
        );
    }
}

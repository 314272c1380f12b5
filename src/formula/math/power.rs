//! The power of a positive number, through a logarithm carried in two parts: 2 to the power of
//! [`times`] of [`log2`]. For other numbers the result has no meaning, but computing it does no
//! harm.

// From e_pow.c of FreeBSD's msun, branches turned into selections:
//
// ====================================================
// Copyright (C) 2004 by Sun Microsystems, Inc. All rights reserved.
//
// Permission to use, copy, modify, and distribute this
// software is freely granted, provided that this notice
// is preserved.
// ====================================================

use super::{
    FRACTION_BITS, Normal, ONE_BITS, ROUNDER, exponent_field, normal, remainder_of_exp,
    times_power_of_two,
};

/// An unevaluated sum: about twice the precision of one number.
#[derive(Clone, Copy)]
pub(in crate::formula) struct Sum {
    pub(in crate::formula) hi: f64,
    pub(in crate::formula) lo: f64,
}

/// Powers of numbers between these to an exponent up to [`STEEP`] in magnitude are normal numbers
/// and meet no special case.
const LOW: f64 = 1.0 / HIGH;
/// 2^100.
const HIGH: f64 = 1_267_650_600_228_229_401_496_703_205_376.0;
const STEEP: f64 = 9.0;

/// Whether a power needs no care for special cases, as far as its base is concerned.
#[inline(always)]
pub(in crate::formula) fn is_ordinary_base(x: f64) -> bool {
    // Both are asked, without a branch.
    let (is_above, is_below) = (LOW <= x, x <= HIGH);
    is_above & is_below
}

/// Whether a power needs no care for special cases, as far as its exponent is concerned.
#[inline(always)]
pub(in crate::formula) fn is_ordinary_exponent(y: f64) -> bool {
    y.abs() <= STEEP
}

/// The upper 21 bits of the significand, so that a product of two such parts is exact.
#[inline(always)]
fn upper(x: f64) -> f64 {
    f64::from_bits(x.to_bits() & 0xffff_ffff_0000_0000)
}

/// Logarithm to the base 2 of a positive finite number, with about 14 bits more than binary64
/// has; `hi` is an [`upper`]. `ORDINARY` leaves out what a number between [`LOW`] and [`HIGH`]
/// does not need, and gives the same bits.
#[inline(always)]
pub(super) fn log2<const ORDINARY: bool>(x: f64) -> Sum {
    /// Coefficients for 3/2 (ln(1 + f) - 2 s - 2/3 s³).
    const L1: f64 = f64::from_bits(0x3fe3_3333_3333_3303);
    const L2: f64 = f64::from_bits(0x3fdb_6db6_db6f_abff);
    const L3: f64 = f64::from_bits(0x3fd5_5555_518f_264d);
    const L4: f64 = f64::from_bits(0x3fd1_7460_a91d_4101);
    const L5: f64 = f64::from_bits(0x3fcd_864a_93c9_db65);
    const L6: f64 = f64::from_bits(0x3fca_7e28_4a45_4eef);
    /// Base 2 logarithm of 1.5.
    const LOG2_CENTER_HI: f64 = f64::from_bits(0x3fe2_b803_4000_0000);
    const LOG2_CENTER_LO: f64 = f64::from_bits(0x3e4c_fdeb_43cf_d006);
    /// 2 / (3 ln 2).
    const C: f64 = f64::from_bits(0x3fee_c709_dc3a_03fd);
    const C_HI: f64 = f64::from_bits(0x3fee_c709_e000_0000);
    const C_LO: f64 = f64::from_bits(0xbe3e_2fe0_145b_01f5);
    const SQRT_3_HALVES: f64 = f64::from_bits(0x3ff3_988f_0000_0000);
    const SQRT_3: f64 = f64::from_bits(0x3ffb_b67a_0000_0000);

    // x = 2^n m with m between √3 / 2 and √3, close to 1 or to 1.5, whichever `center` says.
    let Normal { value, offset } = match ORDINARY {
        true => Normal {
            value: x,
            offset: 1023.0,
        },
        false => normal(x),
    };
    let bits = value.to_bits();
    let significand = f64::from_bits((bits & FRACTION_BITS) | ONE_BITS);
    let exponent = exponent_field(bits) - offset;
    let high = significand >= SQRT_3;
    let middle = (significand >= SQRT_3_HALVES) & !high;
    let m = if high { 0.5 * significand } else { significand };
    let n = if high { exponent + 1.0 } else { exponent };
    let center = if middle { 1.5 } else { 1.0 };
    let log2_center_hi = if middle { LOG2_CENTER_HI } else { 0.0 };
    let log2_center_lo = if middle { LOG2_CENTER_LO } else { 0.0 };

    // s = (m - center) / (m + center), in two parts.
    let difference = m - center;
    let per_sum = 1.0 / (m + center);
    let s = difference * per_sum;
    let s_hi = upper(s);
    let sum_hi = upper(m + center);
    let sum_lo = m - (sum_hi - center);
    let s_lo = per_sum * ((difference - s_hi * sum_hi) - s_hi * sum_lo);

    // ln(m / center) = 2/3 s (3 + s² + s⁴ L(s²)), the bracket in two parts.
    let z = s * s;
    let tail =
        z * z * (L1 + z * (L2 + z * (L3 + z * (L4 + z * (L5 + z * L6))))) + s_lo * (s_hi + s);
    let square = s_hi * s_hi;
    let bracket_hi = upper(3.0 + square + tail);
    let bracket_lo = tail - ((bracket_hi - 3.0) - square);
    let product = s_hi * bracket_hi;
    let product_tail = s_lo * bracket_hi + bracket_lo * s;
    let p_hi = upper(product + product_tail);
    let p_lo = product_tail - (p_hi - product);

    // To the base 2, with the logarithm of the center and the exponent.
    let z_hi = C_HI * p_hi;
    let z_lo = C_LO * p_hi + p_lo * C + log2_center_lo;
    let hi = upper(((z_hi + z_lo) + log2_center_hi) + n);
    let lo = z_lo - (((hi - n) - log2_center_hi) - z_hi);
    Sum { hi, lo }
}

/// A logarithm with an [`upper`] `hi`, times `y`; `ORDINARY` is for a `y` that is finite.
#[inline(always)]
pub(super) fn times<const ORDINARY: bool>(log: Sum, y: f64) -> Sum {
    // An infinity cannot be split; the largest number leads to the same end.
    let capped = if y > f64::MAX { f64::MAX } else { y };
    let bounded = if capped < f64::MIN { f64::MIN } else { capped };
    let factor = if ORDINARY { y } else { bounded };
    let factor_hi = upper(factor);
    Sum {
        hi: factor_hi * log.hi,
        lo: (factor - factor_hi) * log.hi + factor * log.lo,
    }
}

/// 2 to the power of a sum; `ORDINARY` is for one below 1000 in magnitude.
#[inline(always)]
pub(super) fn exp2<const ORDINARY: bool>(exponent: Sum) -> f64 {
    const LN_2: f64 = f64::from_bits(0x3fe6_2e42_fefa_39ef);
    const LN_2_UPPER: f64 = f64::from_bits(0x3fe6_2e43_0000_0000);
    const LN_2_REST: f64 = f64::from_bits(0xbe20_5c61_0ca8_6c39);
    /// Beyond it the scaling at the end gives 0 or ∞ by itself.
    const LIMIT: f64 = 1100.0;

    let total = exponent.lo + exponent.hi;
    let outside = !ORDINARY & (total.abs() > LIMIT);
    let limit = LIMIT.copysign(total);
    let whole_hi = if outside { limit } else { exponent.hi };
    let lo = if outside { 0.0 } else { exponent.lo };
    let rounder = (if outside { limit } else { total }) + ROUNDER;
    let hi = whole_hi - (rounder - ROUNDER);

    // r + w = (hi + lo) ln 2, then e^(r + w) with a first order term for w.
    let t = upper(lo + hi);
    let u = t * LN_2_UPPER;
    let v = (lo - (t - hi)) * LN_2 + t * LN_2_REST;
    let r = u + v;
    let w = v - (r - u);
    let c = remainder_of_exp(r);
    let power = 1.0 - (((r * c) / (c - 2.0) - (w + r * w)) - r);
    match ORDINARY {
        true => power * power_of_two(rounder),
        false => times_power_of_two(power, rounder),
    }
}

/// 2^k, where `rounder` is [`ROUNDER`] + k and the power is a normal number.
#[inline(always)]
fn power_of_two(rounder: f64) -> f64 {
    let biased = rounder
        .to_bits()
        .wrapping_sub(ROUNDER.to_bits().wrapping_sub(1023));
    f64::from_bits(biased << 52)
}

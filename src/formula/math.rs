//! One `ln`, `exp`, `pow`, `cos` and `sin` for one lane and for many.
//!
//! ```
//! use semilunar::formula::math::{exp, ln, pow};
//!
//! // One lane, or a loop that the compiler turns into vector instructions: the same bits.
//! let weights = [3.2, 58.0, 71.5, 140.0];
//! let mut powers = [0.0; 4];
//! for (power, weight) in powers.iter_mut().zip(weights) {
//!     *power = pow(weight, 0.425);
//! }
//! assert_eq!(powers[1].to_bits(), pow(58.0, 0.425).to_bits());
//! assert!((exp(ln(58.0)) - 58.0).abs() < 1e-13);
//! ```
//!
//! # The same bits everywhere
//!
//! The platform's own functions differ between C libraries, and a fused multiply-add rounds once
//! where a product and a sum round twice. So everything here is plain IEEE 754 binary64 `+ - * /`,
//! comparisons, selections and integer operations on bits, which have one answer on every
//! conforming CPU and at every vector width. There is no `mul_add` and no table. Every NaN returned
//! is [`f64::NAN`], because CPUs disagree on the sign of the NaN they make. Not covered: the x87 unit
//! (32-bit x86 without SSE2) and programs that flush subnormals to zero or change the rounding mode.
//!
//! `ln`, `exp` and `pow` have no branches either, so a loop over a block becomes vector code under
//! SSE2, AVX2 and AVX-512; they are `#[inline(always)]`, so that they take on the target features of
//! their caller. `cos` and `sin` are the `libm` crate's, which use no fused multiply-add (read in
//! version 0.2.16); they run lane after lane.
//!
//! # How close
//!
//! In ulp (units in the last place) of the exact result, subnormal results included:
//!
//! | function | promised | largest seen | arguments tried |
//! |---|---|---|---|
//! | [`ln`] | < 1 | 0.85 | 45 million |
//! | [`exp`] | < 1 | 0.93 | 30 million |
//! | [`pow`] | < 1, for all arguments | 0.85 | 90 million |
//! | [`cos`], [`sin`] | < 1 | 0.78 | 15 million each, up to 5e11 |
//!
//! Seen against the 80-bit functions of a C library. Promised is what the tests assert; it is not
//! proven. None is promised to be monotone; 100 million pairs of neighbors showed no step the wrong
//! way for `ln`, `exp` and `pow(x, 0.425)`.

// The algorithms and coefficients of `ln`, `exp` and, in power.rs, `pow` are those of e_log.c, e_exp.c
// and e_pow.c of FreeBSD's msun (fdlibm), with the branches turned into selections:
//
// ====================================================
// Copyright (C) 1993, 2004 by Sun Microsystems, Inc. All rights reserved.
//
// Permission to use, copy, modify, and distribute this
// software is freely granted, provided that this notice
// is preserved.
// ====================================================

mod power;

pub(super) use power::{Sum, is_ordinary_base, is_ordinary_exponent};
use power::{exp2, log2, times};

const TWO_52: f64 = 4_503_599_627_370_496.0;
const TWO_54: f64 = 18_014_398_509_481_984.0;
/// Added to a number below 2^51 in magnitude, it leaves the nearest integer in the low bits.
const ROUNDER: f64 = 1.5 * TWO_52;
const FRACTION_BITS: u64 = 0x000f_ffff_ffff_ffff;
const ONE_BITS: u64 = 0x3ff0_0000_0000_0000;
/// High word of √½, below which a significand is counted with the next lower exponent.
const SQRT_HALF_BITS: u64 = 0x3fe6_a09e_0000_0000;

const LN_2_HI: f64 = f64::from_bits(0x3fe6_2e42_fee0_0000);
const LN_2_LO: f64 = f64::from_bits(0x3dea_39ef_3579_3c76);

/// Natural logarithm of `x`, a bare number.
///
/// Less than 1 ulp from the exact value. `ln(±0)` is −∞, `ln(∞)` is ∞; a negative number or a NaN
/// gives NaN.
#[inline(always)]
#[must_use]
pub fn ln(x: f64) -> f64 {
    const L1: f64 = f64::from_bits(0x3fe5_5555_5555_5593);
    const L2: f64 = f64::from_bits(0x3fd9_9999_9997_fa04);
    const L3: f64 = f64::from_bits(0x3fd2_4924_9422_9359);
    const L4: f64 = f64::from_bits(0x3fcc_71c5_1d8e_78af);
    const L5: f64 = f64::from_bits(0x3fc7_4664_96cb_03de);
    const L6: f64 = f64::from_bits(0x3fc3_9a09_d078_c69f);
    const L7: f64 = f64::from_bits(0x3fc2_f112_df3e_5244);

    // x = 2^k (1 + f) with 1 + f between √½ and √2.
    let Normal { value, offset } = normal(x);
    let bits = value
        .to_bits()
        .wrapping_add(ONE_BITS.wrapping_sub(SQRT_HALF_BITS));
    let k = exponent_field(bits) - offset;
    let f = f64::from_bits((bits & FRACTION_BITS).wrapping_add(SQRT_HALF_BITS)) - 1.0;

    // ln(1 + f) = f - f²/2 + s (f²/2 + R(s²)) with s = f / (2 + f).
    let half_square = 0.5 * f * f;
    let s = f / (2.0 + f);
    let z = s * s;
    let w = z * z;
    let even = w * (L2 + w * (L4 + w * L6));
    let odd = z * (L1 + w * (L3 + w * (L5 + w * L7)));
    let finite = s * (half_square + (odd + even)) + k * LN_2_LO - half_square + f + k * LN_2_HI;

    let positive = if x < f64::INFINITY { finite } else { x };
    let not_negative = if x == 0.0 {
        f64::NEG_INFINITY
    } else {
        positive
    };
    // Not `x < 0.0`: the comparison is false for NaN, which belongs with the negative numbers here.
    if x >= 0.0 { not_negative } else { f64::NAN }
}

/// e to the power `x`, a bare number.
///
/// Less than 1 ulp from the exact value, subnormal results included. Overflows to ∞ above 709.78,
/// underflows to 0 below −745.13; `exp(−∞)` is 0, `exp(∞)` is ∞, NaN gives NaN.
#[inline(always)]
#[must_use]
pub fn exp(x: f64) -> f64 {
    const PER_LN_2: f64 = f64::from_bits(0x3ff7_1547_652b_82fe);

    // Beyond these the scaling at the end gives 0 or ∞ by itself. A NaN passes both comparisons by.
    let capped = if x > 710.0 { 710.0 } else { x };
    let bounded = if capped < -746.0 { -746.0 } else { capped };

    // x = k ln 2 + r with |r| at most half of ln 2; e^r = 1 + r + r c / (2 - c).
    let rounder = bounded * PER_LN_2 + ROUNDER;
    let k = rounder - ROUNDER;
    let hi = bounded - k * LN_2_HI;
    let lo = k * LN_2_LO;
    let r = hi - lo;
    let c = remainder_of_exp(r);
    let power = 1.0 + (r * c / (2.0 - c) - lo + hi);
    let scaled = times_power_of_two(power, rounder);
    if x.is_nan() { f64::NAN } else { scaled }
}

/// `x` to the power `y`, bare numbers.
///
/// Less than 1 ulp from the exact value for all arguments, subnormal results included. Where the
/// exact result is a binary64 number, the tests found just that (`pow(x, 1.0)` is `x`). The special
/// cases are those of IEEE 754 and annex F of the C standard:
///
/// - `pow(x, 0.0)` and `pow(1.0, y)` are 1, even for a NaN; any other NaN argument gives NaN;
/// - a negative finite `x` gives NaN unless `y` is an integer; then the result has the sign of `x`
///   for odd `y`;
/// - `pow(0.0, y)` is 0 for positive `y` and ∞ for negative `y`; `pow(-0.0, y)` is the same, with a
///   minus for odd integers `y`;
/// - infinite arguments give the limit.
#[inline(always)]
#[must_use]
pub fn pow(x: f64, y: f64) -> f64 {
    pow_by_log(x, log_for_pow(x), y)
}

/// The first part of [`pow`]. In a loop of its own it lets the processor work on more numbers at
/// a time than one loop with both parts does.
#[inline(always)]
pub(super) fn log_for_pow(x: f64) -> Sum {
    log2::<false>(x.abs())
}

/// The same of a base for which [`is_ordinary_base`].
#[inline(always)]
pub(super) fn log_for_ordinary_pow(x: f64) -> Sum {
    log2::<true>(x)
}

/// The second part of [`pow`] where base and exponent are ordinary: the same bits with less work.
#[inline(always)]
pub(super) fn ordinary_pow_by_log(log: Sum, y: f64) -> f64 {
    exp2::<true>(times::<true>(log, y))
}

/// The second part of [`pow`], with what the first part made of `x`.
#[inline(always)]
pub(super) fn pow_by_log(x: f64, log: Sum, y: f64) -> f64 {
    let base = x.abs();
    let between = exp2::<false>(times::<false>(log, y));

    let at_end = if (base == 0.0) ^ (y > 0.0) {
        f64::INFINITY
    } else {
        0.0
    };
    let magnitude = if (base == 0.0) | (base == f64::INFINITY) {
        at_end
    } else {
        between
    };

    let whole = is_integer(y);
    let odd = whole & !is_integer(0.5 * y);
    let sign = if odd { 1.0_f64.copysign(x) } else { 1.0 };
    let undefined = (x < 0.0) & (base < f64::INFINITY) & !whole;
    let signed = if undefined | x.is_nan() | y.is_nan() {
        f64::NAN
    } else {
        sign * magnitude
    };
    if (y == 0.0) | (x == 1.0) { 1.0 } else { signed }
}

/// Cosine of `x`, in radians.
///
/// Less than 1 ulp from the exact value for any finite argument; an infinity or a NaN gives NaN.
#[inline(always)]
#[must_use]
pub fn cos(x: f64) -> f64 {
    let value = libm::cos(x);
    if value.is_nan() { f64::NAN } else { value }
}

/// Sine of `x`, in radians.
///
/// Less than 1 ulp from the exact value for any finite argument; an infinity or a NaN gives NaN.
/// `sin(-0.0)` is −0.
#[inline(always)]
#[must_use]
pub fn sin(x: f64) -> f64 {
    let value = libm::sin(x);
    if value.is_nan() { f64::NAN } else { value }
}

/// A number lifted out of the subnormal range, and what [`exponent_field`] counts too much for it.
struct Normal {
    value: f64,
    offset: f64,
}

#[inline(always)]
fn normal(x: f64) -> Normal {
    let subnormal = x < f64::MIN_POSITIVE;
    Normal {
        value: if subnormal { x * TWO_54 } else { x },
        offset: if subnormal { 1023.0 + 54.0 } else { 1023.0 },
    }
}

/// The bits above the fraction as a number. The detour over 2^52 is there because SSE2 and AVX2
/// cannot convert 64-bit integers.
#[inline(always)]
fn exponent_field(bits: u64) -> f64 {
    f64::from_bits((bits >> 52) | TWO_52.to_bits()) - TWO_52
}

/// `value` times 2^k, where `rounder` is [`ROUNDER`] + k and |k| < 2000. In two steps, so that a
/// subnormal or infinite result is rounded once and neither factor leaves the normal range.
#[inline(always)]
fn times_power_of_two(value: f64, rounder: f64) -> f64 {
    let k_plus_2048 = rounder
        .to_bits()
        .wrapping_sub(ROUNDER.to_bits().wrapping_sub(2048));
    let half = k_plus_2048 >> 1;
    let rest = k_plus_2048.wrapping_sub(half);
    let factor = |part: u64| f64::from_bits(part.wrapping_sub(1) << 52);
    value * factor(half) * factor(rest)
}

/// r - r (e^r + 1) / (e^r - 1) + 2, to which e^r is 1 + r + r c / (2 - c); |r| at most half of ln 2.
#[inline(always)]
fn remainder_of_exp(r: f64) -> f64 {
    const P1: f64 = f64::from_bits(0x3fc5_5555_5555_553e);
    const P2: f64 = f64::from_bits(0xbf66_c16c_16be_bd93);
    const P3: f64 = f64::from_bits(0x3f11_566a_af25_de2c);
    const P4: f64 = f64::from_bits(0xbebb_bd41_c5d2_6bf1);
    const P5: f64 = f64::from_bits(0x3e66_3769_72be_a4d0);
    let z = r * r;
    r - z * (P1 + z * (P2 + z * (P3 + z * (P4 + z * P5))))
}

/// Whether `y` is an integer; true for infinities.
#[inline(always)]
fn is_integer(y: f64) -> bool {
    let size = y.abs();
    (size >= TWO_52) | ((size + TWO_52) - TWO_52 == size)
}

#[cfg(test)]
mod tests;

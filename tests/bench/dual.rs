//! One exam with its uncertainties as a programmer writes it for one exam: numbers that carry
//! their slopes along.

use std::ops::{Add, Div, Mul, Sub};

use semilunar::formula::math::pow;

/// A value and its slopes in eight readings.
#[derive(Clone, Copy)]
struct Dual {
    value: f64,
    slopes: [f64; 8],
}

impl Dual {
    fn reading(value: f64, at: usize) -> Dual {
        let mut slopes = [0.0; 8];
        slopes[at] = 1.0;
        Dual { value, slopes }
    }

    fn carry(self, value: f64, slope: f64) -> Dual {
        Dual {
            value,
            slopes: self.slopes.map(|s| s * slope),
        }
    }

    fn join(self, a: f64, other: Dual, b: f64, value: f64) -> Dual {
        Dual {
            value,
            slopes: std::array::from_fn(|i| self.slopes[i] * a + other.slopes[i] * b),
        }
    }

    fn times(self, k: f64) -> Dual {
        self.carry(self.value * k, k)
    }

    fn to(self, exponent: f64) -> Dual {
        let value = pow(self.value, exponent);
        self.carry(value, exponent * value / self.value)
    }

    fn standard(self) -> f64 {
        let parts = self.slopes.iter().zip(STATED);
        parts.map(|(s, u)| (s * u) * (s * u)).sum::<f64>().sqrt()
    }
}

impl Add for Dual {
    type Output = Dual;
    fn add(self, other: Dual) -> Dual {
        self.join(1.0, other, 1.0, self.value + other.value)
    }
}

impl Sub for Dual {
    type Output = Dual;
    fn sub(self, other: Dual) -> Dual {
        self.join(1.0, other, -1.0, self.value - other.value)
    }
}

impl Mul for Dual {
    type Output = Dual;
    fn mul(self, other: Dual) -> Dual {
        self.join(other.value, other, self.value, self.value * other.value)
    }
}

impl Div for Dual {
    type Output = Dual;
    fn div(self, other: Dual) -> Dual {
        let (value, per) = (self.value / other.value, 1.0 / other.value);
        self.join(per, other, -value * per, value)
    }
}

/// Standard uncertainties of the eight readings.
const STATED: [f64; 8] = [0.1, 1.0, 2.0, 1.0, 1.0, 4.0, 3.0, 2.0];

/// The values and uncertainties of ten derived cells, added up.
pub fn exam(diameter: f64) -> f64 {
    let values = [diameter, 20.0, 70.0, 170.0, 70.0, 120.0, 80.0, 5.0];
    let [d, vti, hr, h, w, s, dia, cvp] =
        std::array::from_fn(|at| Dual::reading(std::hint::black_box(values[at]), at));
    let area = (d * d).times(std::f64::consts::FRAC_PI_4);
    let sv = area * vti;
    let bsa = (w.to(0.425) * h.to(0.725)).times(0.007184);
    let svi = sv / bsa;
    let co = (sv * hr).times(0.001);
    let ci = co / bsa;
    let map = dia + (s - dia).times(1.0 / 3.0);
    let svr = ((map - cvp) / co).times(MM_HG * 6.0);
    let svri = svr * bsa;
    let cpo = (map * co).times(MM_HG / 6000.0);
    [area, sv, bsa, svi, co, ci, map, svr, svri, cpo]
        .iter()
        .map(|x| x.value + x.standard())
        .sum()
}

/// kPa·10 in a mm[Hg], as UCUM has it.
const MM_HG: f64 = 13.3322;

//! Standard uncertainties of three columns in one loop, as a programmer writes them for speed:
//! slopes and units settled by hand, no states, the widest vector instructions at hand.

use std::f64::consts::FRAC_PI_4;

use semilunar::sheet::Computed;

use crate::widest::{Loop, widest};

/// The readings that rows supply.
pub const INPUTS: [&str; 5] = [
    "lvot_diameter",
    "lvot_vti",
    "heart_rate",
    "mean_pressure",
    "central_venous_pressure",
];

/// Their standard uncertainties, in the unit of each.
pub const STATED: [f64; 5] = [0.1, 1.0, 2.0, 3.0, 2.0];

/// Whether uncertainties are the same in each row or columns as well.
#[derive(Clone, Copy)]
pub enum Rows {
    Constant,
    Columns,
}

/// Rows taken at a time, so that a block stays in the cache.
const ROWS: usize = 2048;

/// dyn·s/cm⁵ in a mm[Hg]·min/L.
const WOOD: f64 = 79.9932;

/// Numbers of a plausible size, no two rows near each other alike: readings, then uncertainties.
pub fn invented_rows(rows: usize) -> Vec<Vec<f64>> {
    let ranges = [
        (1.6, 2.6),
        (10.0, 30.0),
        (45.0, 140.0),
        (55.0, 110.0),
        (0.0, 20.0),
    ];
    let column = |at: usize, low: f64, high: f64| -> Vec<f64> {
        let step = 0.618_033_988_749_894_9 * (at + 1) as f64;
        (0..rows)
            .map(|row| low + (high - low) * (row as f64 * step).fract())
            .collect()
    };
    let values = ranges.iter().enumerate();
    let values = values.map(|(at, (low, high))| column(at, *low, *high));
    let stated = STATED.iter().enumerate();
    let stated = stated.map(|(at, u)| column(at + 5, 0.5 * u, 1.5 * u));
    values.chain(stated).collect()
}

/// Computes the three outputs of all rows.
pub fn run(stated: Rows, inputs: &[Vec<f64>], outputs: &mut [Computed]) {
    for start in (0..inputs[0].len()).step_by(ROWS) {
        let end = (start + ROWS).min(inputs[0].len());
        let mut rest = outputs.iter_mut();
        let outputs = std::array::from_fn(|_| &mut rest.next().unwrap().numbers[start..end]);
        let values = std::array::from_fn(|i| &inputs[i][start..end]);
        match stated {
            Rows::Constant => widest(Block {
                values,
                stated: STATED,
                outputs,
            }),
            Rows::Columns => widest(Block {
                values,
                stated: std::array::from_fn::<_, 5, _>(|i| &inputs[5 + i][start..end]),
                outputs,
            }),
        }
    }
}

/// An uncertainty in one row.
trait At: Copy {
    fn at(self, row: usize) -> f64;
}

impl At for f64 {
    #[inline(always)]
    fn at(self, _: usize) -> f64 {
        self
    }
}

impl At for &[f64] {
    #[inline(always)]
    fn at(self, row: usize) -> f64 {
        self[row]
    }
}

struct Block<'a, U> {
    values: [&'a [f64]; 5],
    stated: [U; 5],
    outputs: [&'a mut [f64]; 3],
}

impl<U: At> Loop for Block<'_, U> {
    #[inline(always)]
    fn run(self) {
        let n = self.values[0].len();
        let [d, vti, hr, map, cvp] = self.values.map(|column| &column[..n]);
        let [u_sv, u_co, u_svr] = self.outputs.map(|column| &mut column[..n]);
        let stated = self.stated;
        for i in 0..n {
            let [ud, uv, uh, um, uc] = stated.map(|u| u.at(i));
            let area = FRAC_PI_4 * (d[i] * d[i]);
            let sv = area * vti[i];
            let from_d = FRAC_PI_4 * 2.0 * d[i] * vti[i] * ud;
            let from_v = area * uv;
            let sv_square = from_d * from_d + from_v * from_v;
            u_sv[i] = sv_square.sqrt();
            let rate = hr[i] / 1000.0;
            let from_h = sv / 1000.0 * uh;
            let co = sv * rate;
            let co_square = sv_square * (rate * rate) + from_h * from_h;
            u_co[i] = co_square.sqrt();
            let per = 1.0 / co;
            let wood = WOOD * per;
            let by_co = wood * (map[i] - cvp[i]) * per;
            u_svr[i] = (co_square * (by_co * by_co) + wood * wood * (um * um + uc * uc)).sqrt();
        }
    }
}

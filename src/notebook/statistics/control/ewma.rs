//! `show ewma`: the exponentially weighted moving average of values in order of time.

use super::in_time::InTime;
use super::{Charted, begins};
use crate::charts::{ControlKind, ControlPoint};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::Rendering;
use crate::notebook::statistics::page::{Answer, Table, refused};
use crate::notebook::statistics::settings::Setting;
use crate::sheet::{figure, figure_as_given};
use crate::statistics::quality::{Individuals, ewma};

/// Usual choices (NIST/SEMATECH e-Handbook, section 6.3.2.4); the ranges are as wide as charts make sense (common practice, no source).
const WEIGHT: Setting = Setting {
    clause: "weight",
    usual: 0.2,
    // From the least number above zero.
    allowed: f64::from_bits(1)..=1.0,
    words: "the weight of the newest value is a number above 0 and at most 1, such as `weight 0.1`",
};

const WIDTH: Setting = Setting {
    clause: "width",
    usual: 3.0,
    allowed: 1.0..=6.0,
    words: "the limits are from 1 to 6 standard deviations of the average wide, such as `width 2.7`",
};

/// How a moving average is made.
pub(super) struct Average {
    weight: f64,
    width: f64,
}

impl Average {
    pub(super) fn of(
        rendering: &Rendering<'_>,
        analysis: &Analysis,
    ) -> Result<Average, Vec<Diagnostic>> {
        Ok(Average {
            weight: WEIGHT.of(rendering, analysis)?,
            width: WIDTH.of(rendering, analysis)?,
        })
    }
}

pub(super) fn moving_average(
    rendering: &Rendering<'_>,
    in_time: &InTime<'_>,
    found: &Individuals,
    set: &Average,
    table: &mut Table,
    answer: &mut Answer,
) -> Result<Charted, Vec<Diagnostic>> {
    let center = found.limits.center;
    let chart = ewma(&in_time.values, center, found.sigma, set.weight, set.width)
        .map_err(refused(rendering))?;
    let steady = chart.steady_limits;
    table.row([
        "Limits of the average, in the end".to_owned(),
        format!(
            "{} to {}",
            figure(steady.lower),
            in_time.column.with_unit(&figure(steady.upper))
        ),
        format!(
            "weight {}, width {}",
            figure_as_given(set.weight),
            figure_as_given(set.width)
        ),
    ]);
    answer.warn(&chart.warnings);
    let why = "the moving average is beyond its limits";
    let points: Vec<ControlPoint> = chart
        .points
        .iter()
        .enumerate()
        .map(|(at, point)| ControlPoint {
            x: at as f64 + 1.0,
            value: point.average,
            lower: point.limits.lower,
            upper: point.limits.upper,
            signal: point.is_beyond.then(|| why.to_owned()),
            ..ControlPoint::default()
        })
        .collect();
    Ok(Charted {
        kind: ControlKind::MovingAverage,
        center,
        signals: begins(&points),
        points,
    })
}

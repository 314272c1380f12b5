//! Statements that ask a statistical question of a cohort's rows: one family of questions a file.
//!
//! Each answer says what is counted and over which rows, then a table, a drawing and cautions: small numbers, many looks,
//! thresholds chosen on the same data. Rows that cannot be used are counted with the reason. Random draws have a fixed seed,
//! which the answer prints.

mod agreement;
mod beside;
mod change;
mod completeness;
mod control;
mod crossings;
mod definition;
mod digits;
mod dose_response;
mod estimates;
mod fields;
mod funnel;
mod gray_zone;
mod if_recorded;
mod lacking;
mod noise;
mod one_reading;
mod outcome;
mod page;
mod periods;
mod readings;
mod repeatability;
mod responders;
mod roc;
mod row_by_row;
mod row_flow;
mod rows;
mod sample_size;
mod serial;
mod set_aside;
mod settings;
mod small;
mod time;
mod unknown;

use super::render::{Rendered, Rendering};
use crate::formula::notation::{Analysis, Question};
use crate::uncertainty::Settings;

/// Seed of every resampling, printed with its results.
const SEED: u64 = 1;

/// Resamples; 2000 settle a 95 % percentile interval (common practice, no source).
const RESAMPLES: usize = 2000;

/// Answers a question.
pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    match analysis.if_recorded {
        true => if_recorded::answer(rendering, analysis),
        false => asked(rendering, analysis),
    }
}

fn asked(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    match analysis.question {
        Question::Roc => roc::answer(rendering, analysis),
        Question::GrayZone => gray_zone::answer(rendering, analysis),
        Question::Responders => responders::answer(rendering, analysis),
        Question::Change => change::answer(rendering, analysis),
        Question::DoseResponse => dose_response::answer(rendering, analysis),
        Question::Agreement => agreement::answer(rendering, analysis),
        Question::Repeatability => repeatability::answer(rendering, analysis),
        Question::Individuals | Question::Ewma | Question::Cusum => {
            control::answer(rendering, analysis)
        }
        Question::Proportions => periods::answer(rendering, analysis),
        Question::Funnel => funnel::answer(rendering, analysis),
        Question::Digits => digits::answer(rendering, analysis),
        Question::Drift => serial::drift(rendering, analysis),
        Question::Jumps => serial::jumps(rendering, analysis),
        Question::Completeness => completeness::answer(rendering, analysis),
        Question::RowFlow => row_flow::answer(rendering, analysis),
        Question::Crossings => crossings::answer(rendering, analysis),
        Question::SampleSize => sample_size::answer(rendering, analysis),
        Question::SetAside => set_aside::answer(rendering, analysis),
    }
}

/// The coverage of intervals that the notebook asks for.
fn level(rendering: &Rendering<'_>) -> f64 {
    Settings::of(rendering.sheet).coverage
}

fn bootstrap() -> crate::statistics::Bootstrap {
    crate::statistics::Bootstrap::seeded(SEED).with_resamples(RESAMPLES)
}

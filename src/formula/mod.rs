//! Formulas as data, and the readers of them.

pub mod math;

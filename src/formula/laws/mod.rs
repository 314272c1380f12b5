//! Laws that all readers obey, tried on random formulas that make sense in units.
//!
//! A case is a list of choices (numbers), so that it shrinks as a list does; [`sample`] turns
//! choices into a formula's text and operands, [`bound`] evaluates with a bound of the rounding
//! error, and the files beside state the laws.

mod bound;
mod derivatives;
mod evaluators;
mod round_trip;
mod sample;
mod sizes;
mod units;

//! Quantities: dimensions, kinds, units, and the readings a person or a file supplies.
//!
//! Start with [`Unit`] for units and conversion, [`Reading`] for what is put into a cell, and
//! [`Kind`] for what dimensions cannot keep apart.
//!
//! ```
//! use semilunar::quantity::{Origin, Reading, Unit};
//!
//! let cm = Unit::parse("cm").unwrap();
//! let diameter = Reading::of(2.05, cm).unwrap().with_origin(Origin::Estimated);
//! assert_eq!(diameter.origin(), Origin::Estimated);
//! assert!(Reading::of(f64::NAN, cm).is_err());
//! ```
//!
//! Not here: units with a zero of their own (temperatures in `Cel`) and logarithmic units;
//! [`Unit::parse`] refuses them by name.

mod beats;
mod between;
mod dimension;
mod kind;
mod origin;
mod reading;
mod scale;
mod spelling;
mod uncertainty;
mod unit;

pub use beats::Beats;
pub use between::Between;
pub use dimension::Dimension;
pub use kind::Kind;
pub use origin::Origin;
pub use reading::{Content, Reading, ReadingError};
pub use scale::Scale;
pub(crate) use scale::without_rounding;
pub use uncertainty::{Deviation, Spread, SpreadForm};
pub use unit::{Unit, UnitError};

//! The state of one lane in a byte: missing, faulty, and the origin of what it used.
//!
//! States join by `or`: a result is missing if anything it needed is missing, and its origin is
//! the worst of what it used.

use crate::quantity::Origin;

/// The state of a value in one lane.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Status(pub(crate) u8);

impl Status {
    /// Known, from measurements alone.
    pub const MEASURED: Status = Status(0);
    pub(crate) const ESTIMATED: u8 = 1;
    pub(crate) const ASSUMED: u8 = 2;
    pub(crate) const MISSING_BIT: u8 = 4;
    pub(crate) const FAULTY_BIT: u8 = 8;
    /// Of a row's own reading only: it could not be obtained. No result carries it on.
    pub(crate) const UNOBTAINABLE_BIT: u8 = 16;
    /// Not known.
    pub const MISSING: Status = Status(Self::MISSING_BIT);
    /// Not a finite number, somewhere on the way.
    pub const FAULTY: Status = Status(Self::FAULTY_BIT);

    /// The state of a known value of this origin.
    pub fn known(origin: Origin) -> Status {
        Status(origin_bits(origin))
    }

    /// Whether there is a value.
    pub fn is_known(self) -> bool {
        self.0 & (Self::MISSING_BIT | Self::FAULTY_BIT) == 0
    }

    /// Whether a fault lies on the way, which outweighs what is missing.
    pub fn is_faulty(self) -> bool {
        self.0 & Self::FAULTY_BIT != 0
    }

    /// Whether something needed is missing, and nothing is faulty.
    pub fn is_missing(self) -> bool {
        self.0 & Self::MISSING_BIT != 0 && !self.is_faulty()
    }

    /// The state as bits: 1 estimated, 2 assumed, 4 missing, 8 faulty.
    pub fn bits(self) -> u8 {
        self.0
    }

    /// Whether a row said that its reading could not be obtained.
    pub(crate) fn is_unobtainable(self) -> bool {
        self.0 & Self::UNOBTAINABLE_BIT != 0
    }

    /// The origin of a known value.
    pub fn origin(self) -> Origin {
        if self.0 & Self::ASSUMED != 0 {
            Origin::Assumed
        } else if self.0 & Self::ESTIMATED != 0 {
            Origin::Estimated
        } else {
            Origin::Measured
        }
    }

    /// One byte for each state that can be told apart: what compares equal is the same.
    pub(crate) fn settled(self) -> Status {
        if self.is_faulty() {
            Status::FAULTY
        } else if self.is_missing() {
            Status::MISSING
        } else {
            Status::known(self.origin())
        }
    }
}

pub(crate) fn origin_bits(origin: Origin) -> u8 {
    match origin {
        Origin::Measured => 0,
        Origin::Estimated => Status::ESTIMATED,
        Origin::Assumed => Status::ASSUMED,
    }
}

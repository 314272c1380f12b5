//! Kinds: what keeps apart quantities that share a dimension and must not be mixed.
//!
//! A stroke volume index has the dimension of a length and a cardiac index that of a velocity;
//! an outflow area and a body surface area are both areas. Dimensions alone would let them be
//! added, compared or shown in each other's units.
//!
//! ```
//! use semilunar::quantity::Kind;
//!
//! assert!(Kind::OutflowArea.meet(Kind::BodySurfaceArea).is_none());
//! assert_eq!(Kind::OutflowArea.meet(Kind::Plain), Some(Kind::OutflowArea));
//! ```

/// The kind of a quantity. `Plain` is any quantity that its dimension describes well enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Kind {
    /// Nothing beyond the dimension.
    #[default]
    Plain,
    /// Height of the body.
    BodyHeight,
    /// Diameter of the left ventricular outflow tract.
    OutflowDiameter,
    /// Velocity-time integral of a Doppler trace; also the stroke distance.
    VelocityTimeIntegral,
    /// Stroke distance times heart rate.
    MinuteDistance,
    /// Cross-section of the outflow tract.
    OutflowArea,
    /// Surface of the body.
    BodySurfaceArea,
    /// Stroke volume per body surface; has the dimension of a length.
    StrokeVolumeIndex,
    /// Cardiac output per body surface; has the dimension of a velocity.
    CardiacIndex,
}

impl Kind {
    /// The kind of a sum or choice of the two; `None` where they must not be mixed.
    pub fn meet(self, other: Self) -> Option<Self> {
        match (self, other) {
            (a, Kind::Plain) => Some(a),
            (Kind::Plain, b) => Some(b),
            (a, b) if a == b => Some(a),
            _ => None,
        }
    }

    /// Whether the unit of this kind must itself be written per area (`mL/m2`, not `cm`).
    pub fn is_per_area(self) -> bool {
        matches!(self, Kind::StrokeVolumeIndex | Kind::CardiacIndex)
    }

    /// The words for messages.
    pub fn label(self) -> &'static str {
        match self {
            Kind::Plain => "plain quantity",
            Kind::BodyHeight => "body height",
            Kind::OutflowDiameter => "outflow diameter",
            Kind::VelocityTimeIntegral => "velocity-time integral",
            Kind::MinuteDistance => "minute distance",
            Kind::OutflowArea => "outflow area",
            Kind::BodySurfaceArea => "body surface area",
            Kind::StrokeVolumeIndex => "stroke volume index",
            Kind::CardiacIndex => "cardiac index",
        }
    }
}

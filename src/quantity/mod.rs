//! Quantities: dimensions, kinds, units, readings and findings.

/// What kind of quantity a cell holds, beyond its dimension.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Nothing beyond the dimension.
    Plain,
    /// Standing height of a person.
    BodyHeight,
    /// Diameter of the left ventricular outflow tract.
    OutflowDiameter,
    /// Velocity-time integral, also called stroke distance.
    VelocityTimeIntegral,
    /// Velocity-time integral times heart rate.
    MinuteDistance,
    /// Cross-section of the left ventricular outflow tract.
    OutflowArea,
    /// Surface of the body.
    BodySurfaceArea,
    /// Stroke volume per body surface area.
    StrokeVolumeIndex,
    /// Cardiac output per body surface area.
    CardiacIndex,
}

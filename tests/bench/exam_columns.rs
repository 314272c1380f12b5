//! What the ten formulas of an exam take and give, as columns.

pub const INPUTS: [&str; 8] = [
    "lvot_diameter",
    "lvot_vti",
    "heart_rate",
    "height",
    "weight",
    "systolic_pressure",
    "diastolic_pressure",
    "central_venous_pressure",
];

pub const OUTPUTS: [&str; 10] = [
    "lvot_area",
    "stroke_volume",
    "body_surface_area",
    "stroke_volume_index",
    "cardiac_output",
    "cardiac_index",
    "mean_pressure",
    "systemic_vascular_resistance",
    "systemic_vascular_resistance_index",
    "cardiac_power_output",
];

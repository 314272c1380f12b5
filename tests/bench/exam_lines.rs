//! One exam in the notation.

/// Readings of the eight inputs.
pub const READINGS: &str = "
    lvot_diameter = 2.0 cm
    lvot_vti = 20 cm
    heart_rate = 70 /min
    height = 170 cm
    weight = 70 kg
    systolic_pressure = 120 mm[Hg]
    diastolic_pressure = 80 mm[Hg]
    central_venous_pressure = 5 mm[Hg]
";

/// Ten derived values.
pub const TEN_FORMULAS: &str = "
    lvot_area [cm2] = pi/4 * lvot_diameter^2
    stroke_volume [mL] = lvot_area * lvot_vti
    body_surface_area [m2] = 0.007184 m2 * (weight / 1 kg)^0.425 * (height / 1 cm)^0.725
    stroke_volume_index [mL/m2] = stroke_volume / body_surface_area
    cardiac_output [L/min] = stroke_volume * heart_rate
    cardiac_index [L/min/m2] = cardiac_output / body_surface_area
    mean_pressure [mm[Hg]] = diastolic_pressure + (systolic_pressure - diastolic_pressure) / 3
    systemic_vascular_resistance [dyn.s/cm5] = (mean_pressure - central_venous_pressure) / cardiac_output
    systemic_vascular_resistance_index [dyn.s.m2/cm5] = systemic_vascular_resistance * body_surface_area
    cardiac_power_output [W] = mean_pressure * cardiac_output
";

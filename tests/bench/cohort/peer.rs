//! The ten formulas as Polars expressions, written by hand for speed: level by level, so that no
//! value is computed twice.

use polars::prelude::{Expr, LazyFrame, col, lit};

/// Adds the ten outputs.
pub fn with_outputs(frame: LazyFrame) -> LazyFrame {
    let square = |x: Expr| x.clone() * x;
    let power = |x: Expr, p: f64| x.pow(lit(p));
    frame
        .with_columns([
            (lit(std::f64::consts::FRAC_PI_4) * square(col("lvot_diameter"))).alias("lvot_area"),
            (lit(0.007184) * power(col("weight"), 0.425) * power(col("height"), 0.725))
                .alias("body_surface_area"),
            (col("diastolic_pressure")
                + (col("systolic_pressure") - col("diastolic_pressure")) / lit(3.0))
            .alias("mean_pressure"),
        ])
        .with_columns([(col("lvot_area") * col("lvot_vti")).alias("stroke_volume")])
        .with_columns([
            (col("stroke_volume") / col("body_surface_area")).alias("stroke_volume_index"),
            (col("stroke_volume") * col("heart_rate") / lit(1000.0)).alias("cardiac_output"),
        ])
        .with_columns([
            (col("cardiac_output") / col("body_surface_area")).alias("cardiac_index"),
            (lit(79.9932)
                * ((col("mean_pressure") - col("central_venous_pressure"))
                    / col("cardiac_output")))
            .alias("systemic_vascular_resistance"),
            (col("mean_pressure") * col("cardiac_output") * lit(0.133322 / 60.0))
                .alias("cardiac_power_output"),
        ])
        .with_columns([
            (col("systemic_vascular_resistance") * col("body_surface_area"))
                .alias("systemic_vascular_resistance_index"),
        ])
}

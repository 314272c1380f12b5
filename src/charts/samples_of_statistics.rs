//! Charts of the statistics for the gallery, of invented data: usual, nasty and sparse (tests only).

use super::samples::{Chart, Drawing, LONG, Noise};
use super::*;

macro_rules! drawings {
    ($($chart:ty),*) => {
        $(impl Drawing for $chart {
            fn svg(&self, size: Size) -> Result<String, ChartError> {
                <$chart>::svg(self, size)
            }
            fn description(&self) -> String {
                <$chart>::description(self)
            }
        })*
    };
}

drawings!(
    Roc,
    GrayZonePlot,
    DoseResponse,
    BlandAltman,
    ControlChart,
    FunnelPlot,
    DigitColumns,
    RowFlow
);

fn boxed(name: &'static str, chart: impl Drawing + 'static) -> (&'static str, Chart) {
    (name, Chart::Statistics(Box::new(chart)))
}

fn points<const N: usize>(pairs: [(f64, f64); N]) -> Vec<Point> {
    pairs.map(Point::from).to_vec()
}

fn mark(x: f64, y: f64, label: &str) -> Mark {
    Mark {
        x,
        y,
        label: label.into(),
    }
}

pub(super) fn roc() -> Roc {
    let curve = points([
        (0.0, 0.0),
        (0.0, 0.38),
        (0.056, 0.52),
        (0.111, 0.71),
        (0.167, 0.86),
        (0.222, 0.952),
        (0.5, 0.952),
        (0.61, 1.0),
        (1.0, 1.0),
    ]);
    let band = curve.iter().map(|p| BandPoint {
        x: p.x,
        low: (p.y - 0.13).max(0.0),
        high: (p.y + 0.1).min(1.0),
    });
    let second = points([(0.0, 0.0), (0.1, 0.3), (0.3, 0.6), (0.55, 0.8), (1.0, 1.0)]);
    Roc {
        title: "Response predicted by two indexes (invented data)".into(),
        curves: vec![
            RocCurve {
                name: "Leg raise".into(),
                band: band.collect(),
                points: curve,
                area: Some(CurveArea {
                    value: 0.92,
                    low: 0.83,
                    high: 0.98,
                }),
                marks: vec![mark(0.222, 0.952, "10 %"), mark(0.111, 0.71, "15 %")],
            },
            RocCurve {
                name: "Pulse pressure variation".into(),
                points: second,
                area: Some(CurveArea {
                    value: 0.71,
                    low: 0.6,
                    high: 0.81,
                }),
                ..RocCurve::default()
            },
        ],
        band_name: "95 % band".into(),
        ..Roc::default()
    }
}

pub(super) fn gray_zone() -> GrayZonePlot {
    let over = |f: fn(f64) -> f64| -> Vec<Point> {
        (0..=25)
            .map(|x| Point {
                x: f64::from(x),
                y: f(f64::from(x)),
            })
            .collect()
    };
    GrayZonePlot {
        title: "Where pulse pressure variation does not decide (invented data)".into(),
        x: Axis::new("Pulse pressure variation", "%"),
        sensitivity: over(|x| 1.0 / (1.0 + ((x - 13.0) / 3.0).exp())),
        specificity: over(|x| 1.0 / (1.0 + ((8.0 - x) / 3.0).exp())),
        demand: Some(0.9),
        zone: Some(Zone {
            low: 6.5,
            high: 14.5,
            inside: 0.62,
            of: "patients",
        }),
        threshold: Some(10.5),
        ..GrayZonePlot::default()
    }
}

pub(super) fn dose_response() -> DoseResponse {
    let mut noise = Noise(11);
    let doses = [250.0, 300.0, 400.0, 500.0, 500.0, 750.0, 1000.0];
    let all: Vec<(f64, f64)> = (0..180)
        .map(|i| {
            let dose = doses[i % doses.len()];
            (dose, 18.0 * dose / (dose + 200.0) + 9.0 * noise.normal())
        })
        .collect();
    let along = |f: fn(f64) -> f64| {
        (0..=30)
            .map(move |i| 250.0 + 25.0 * f64::from(i))
            .map(move |x| (x, f(x)))
    };
    let line = |x: f64| 9.0 + 0.006 * x;
    DoseResponse {
        title: "Change of stroke volume against fluid (invented data)".into(),
        x: Axis::new("Fluid given", "mL"),
        y: Axis::new("Change of stroke volume", "%"),
        points: Series::new("one challenge", all),
        line: Some(Fit {
            line: Series::new("straight line", along(line)),
            band_name: "95 % interval of the mean".into(),
            band: along(line)
                .map(|(x, y)| BandPoint {
                    x,
                    low: y - 2.0,
                    high: y + 2.0,
                })
                .collect(),
        }),
        smooth: Some(Series::new(
            "LOWESS",
            along(|x| 10.0 + 4.0 * (x / 300.0).sin()),
        )),
        saturating: Some(Series::new(
            "saturating curve",
            along(|x| 18.0 * x / (x + 200.0)),
        )),
        medians: [(250.0, 9.0), (500.0, 13.0), (1000.0, 15.0)]
            .map(|(x, value)| GroupMedian {
                x,
                value,
                low: value - 3.0,
                high: value + 3.5,
            })
            .to_vec(),
        medians_name: "median with 95 % interval".into(),
        references: vec![
            Reference::horizontal(10.0, "10 %"),
            Reference::horizontal(15.0, "15 %"),
        ],
        ..DoseResponse::default()
    }
}

pub(super) fn bland_altman() -> BlandAltman {
    let mut noise = Noise(7);
    let mut group = |name: &str, count: usize| {
        let pair = |_| (60.0 + 14.0 * noise.normal(), -2.0 + 6.0 * noise.normal());
        Series::new(name, (0..count).map(pair).collect::<Vec<_>>())
    };
    let level = |value: f64, half: f64| {
        Some(Level {
            value,
            low: value - half,
            high: value + half,
        })
    };
    BlandAltman {
        title: "Two exams without fluid between them (invented data)".into(),
        x: Axis::new("Mean stroke volume", "mL"),
        y: Axis::new("Second minus first", "mL"),
        groups: vec![group("same operator", 60), group("two operators", 35)],
        bias: level(-2.1, 1.3),
        upper: level(9.8, 2.2),
        lower: level(-14.0, 2.2),
        interval_name: "95 % interval".into(),
        trend: Some(Series::new(
            "line through the differences",
            [(25.0, 1.0), (98.0, -5.0)],
        )),
        ..BlandAltman::default()
    }
}

pub(super) fn individuals() -> ControlChart {
    let mut noise = Noise(9);
    let point = |i: i32| {
        let value = 2.02 + 0.07 * noise.normal() + if i > 30 { 0.12 } else { 0.0 };
        ControlPoint {
            x: f64::from(i),
            value,
            lower: 1.81,
            upper: 2.23,
            signal: (value > 2.23).then(|| "beyond 3 sigma".to_owned()),
            ..ControlPoint::default()
        }
    };
    ControlChart {
        title: "Diameters in order of time (invented data)".into(),
        x: ControlScale::Number(Axis::new("Exam", "")),
        y: Axis::new("Outflow diameter", "cm"),
        center: 2.02,
        points: (1..=45).map(point).collect(),
        baseline_end: Some(20.0),
        ..ControlChart::default()
    }
}

pub(super) fn proportions() -> ControlChart {
    let sizes = [40, 55, 38, 61, 52, 44, 70, 49, 33, 58];
    let shares = [82.0, 78.0, 85.0, 80.0, 79.0, 83.0, 55.0, 81.0, 76.0, 84.0];
    let point = |(i, (n, share)): (usize, (i32, f64))| {
        let half = 3.0 * 100.0 * (0.8_f64 * 0.2 / f64::from(n)).sqrt();
        ControlPoint {
            x: i as f64,
            value: share,
            lower: 80.0 - half,
            upper: (80.0 + half).min(100.0),
            signal: (share < 80.0 - half).then(|| "beyond 3 sigma".to_owned()),
            ..ControlPoint::default()
        }
    };
    ControlChart {
        title: "Measurements saved, by month (invented data)".into(),
        kind: ControlKind::Proportions,
        x: ControlScale::Periods {
            label: "Month".into(),
            names: (1..=10).map(|m| format!("month {m}")).collect(),
        },
        y: Axis::new("Saved", "%"),
        center: 80.0,
        points: sizes
            .into_iter()
            .zip(shares)
            .enumerate()
            .map(point)
            .collect(),
        ..ControlChart::default()
    }
}

pub(super) fn sums() -> ControlChart {
    let mut noise = Noise(4);
    let (mut up, mut down) = (0.0_f64, 0.0_f64);
    let point = |i: i32| {
        let z = noise.normal() + if i > 25 { 0.9 } else { 0.0 };
        up = (up + z - 0.5).max(0.0);
        down = (down - z - 0.5).max(0.0);
        ControlPoint {
            x: f64::from(i),
            value: up,
            below: Some(-down),
            lower: -5.0,
            upper: 5.0,
            signal: (up > 5.0 || down > 5.0).then(|| "beyond the decision interval".to_owned()),
        }
    };
    ControlChart {
        title: "Cumulative sums of an operator (invented data)".into(),
        kind: ControlKind::CumulativeSums,
        x: ControlScale::Number(Axis::new("Exam", "")),
        y: Axis::new("Sum of deviations", "standard deviations"),
        points: (1..=40).map(point).collect(),
        ..ControlChart::default()
    }
}

pub(super) fn funnel() -> FunnelPlot {
    let limits = |z: f64| -> Vec<BandPoint> {
        (1..=30)
            .map(|i| {
                let x = 6.0 * f64::from(i);
                let half = z * 40.0 / x.sqrt();
                BandPoint {
                    x,
                    low: (80.0 - half).max(0.0),
                    high: (80.0 + half).min(100.0),
                }
            })
            .collect()
    };
    let one = |(label, size, value, place): (&str, f64, f64, FunnelPlace)| FunnelMark {
        label: label.into(),
        size,
        value,
        place,
    };
    FunnelPlot {
        title: "Measurements saved, by operator (invented data)".into(),
        x: Axis::new("Exams", ""),
        y: Axis::new("Saved", "%"),
        target: 80.0,
        inner: limits(1.96),
        outer: limits(3.09),
        inner_name: "95 % limits".into(),
        outer_name: "99.8 % limits".into(),
        points: [
            ("A", 160.0, 94.0, FunnelPlace::BeyondOuter),
            ("B", 120.0, 83.0, FunnelPlace::Inside),
            ("C", 118.0, 79.0, FunnelPlace::Inside),
            ("D", 90.0, 52.0, FunnelPlace::BeyondOuter),
            ("E", 12.0, 75.0, FunnelPlace::Inside),
        ]
        .map(one)
        .to_vec(),
        ..FunnelPlot::default()
    }
}

pub(super) fn digits() -> DigitColumns {
    DigitColumns {
        title: "Last digit of the diameter (invented data)".into(),
        digit: "Last digit, 0.01 cm".into(),
        counted: "Readings".into(),
        counts: [212, 61, 70, 66, 58, 131, 63, 71, 60, 55],
        ..DigitColumns::default()
    }
}

pub(super) fn flow() -> RowFlow {
    let step = |label: &str, count: usize, out: &[(&str, usize)]| FlowStep {
        rows: FlowCount::new(label, count),
        left_out: out.iter().map(|(l, n)| FlowCount::new(*l, *n)).collect(),
    };
    RowFlow {
        title: "Which rows the result rests on (invented data)".into(),
        steps: vec![
            step("rows read", 966, &[("set aside, not readable", 24)]),
            step(
                "rows used",
                942,
                &[("not a fluid challenge", 302), ("no leg raise", 402)],
            ),
            step("challenges with both", 238, &[("change not known", 24)]),
        ],
        classes: vec![
            FlowCount::new("responders", 121),
            FlowCount::new("no response", 93),
        ],
        ..RowFlow::default()
    }
}

pub(super) fn usual() -> Vec<(&'static str, Chart)> {
    vec![
        boxed("roc with band", roc()),
        boxed("gray zone", gray_zone()),
        boxed("dose response", dose_response()),
        boxed("bland altman", bland_altman()),
        boxed("individuals", individuals()),
        boxed("proportions", proportions()),
        boxed("sums", sums()),
        boxed("funnel", funnel()),
        boxed("digits", digits()),
        boxed("flow", flow()),
    ]
}

/// The same with every word too long and every number far away.
pub(super) fn nasty() -> Vec<(&'static str, Chart)> {
    let long = || LONG.to_owned();
    let axis = || Axis::new(LONG, LONG);
    let curve = |i: usize| RocCurve {
        name: format!("{i} {LONG}"),
        points: points([(0.0, 0.0), (1.0, 1.0)]),
        marks: (0..5)
            .map(|j| mark(0.01 * f64::from(j), 1.0, LONG))
            .collect(),
        ..RocCurve::default()
    };
    let far = |i: i32| ControlPoint {
        x: f64::from(i),
        value: 1e9 * f64::from(i),
        lower: -1e-9,
        upper: 1e12,
        signal: Some(long()),
        ..ControlPoint::default()
    };
    let operators = |i: i32| FunnelMark {
        label: format!("{i} {LONG}"),
        size: 1e7 + f64::from(i % 3),
        value: 1e-9 * f64::from(i),
        place: FunnelPlace::BeyondInner,
    };
    let step = FlowStep {
        rows: FlowCount::new(LONG, 123_456_789),
        left_out: vec![FlowCount::new(LONG, 1); 7],
    };
    vec![
        boxed(
            "nasty roc",
            Roc {
                title: long(),
                curves: (0..6).map(curve).collect(),
                band_name: long(),
                ..Roc::default()
            },
        ),
        boxed(
            "nasty gray zone",
            GrayZonePlot {
                title: long(),
                x: axis(),
                sensitivity: points([(-1e9, 1.0), (1e9, 0.0)]),
                zone: Some(Zone {
                    low: -1e-9,
                    high: 1e-9,
                    inside: 1.0,
                    of: "rows",
                }),
                demand: Some(1.0),
                threshold: Some(1e9),
                ..GrayZonePlot::default()
            },
        ),
        boxed(
            "nasty dose response",
            DoseResponse {
                title: long(),
                x: axis(),
                y: axis(),
                points: Series::new(LONG, [(1e-9, 1e9), (2e-9, -1e9)]),
                smooth: Some(Series::new(LONG, [(1e-9, 0.0)])),
                medians: vec![GroupMedian {
                    x: 1.0,
                    value: 0.0,
                    low: -1e12,
                    high: 1e12,
                }],
                medians_name: long(),
                references: vec![Reference::horizontal(0.0, LONG); 4],
                ..DoseResponse::default()
            },
        ),
        boxed(
            "nasty bland altman",
            BlandAltman {
                title: long(),
                x: axis(),
                y: axis(),
                groups: vec![Series::new(LONG, [(1e9, 1e-9), (1e9, 2e-9)]); 6],
                bias: Some(Level {
                    value: 0.0,
                    low: 0.0,
                    high: 0.0,
                }),
                interval_name: long(),
                ..BlandAltman::default()
            },
        ),
        boxed(
            "nasty control chart",
            ControlChart {
                title: long(),
                x: ControlScale::Periods {
                    label: long(),
                    names: (0..30).map(|i| format!("{i} {LONG}")).collect(),
                },
                y: axis(),
                points: (0..30).map(far).collect(),
                ..ControlChart::default()
            },
        ),
        boxed(
            "nasty funnel",
            FunnelPlot {
                title: long(),
                x: axis(),
                y: axis(),
                inner_name: long(),
                outer_name: long(),
                points: (0..40).map(operators).collect(),
                ..FunnelPlot::default()
            },
        ),
        boxed(
            "nasty digits",
            DigitColumns {
                title: long(),
                digit: long(),
                counted: long(),
                counts: [usize::MAX / 1000, 0, 0, 0, 0, 0, 0, 0, 0, 1],
                ..DigitColumns::default()
            },
        ),
        boxed(
            "nasty flow",
            RowFlow {
                title: long(),
                steps: vec![step; 9],
                classes: vec![FlowCount::new(LONG, 0); 4],
                ..RowFlow::default()
            },
        ),
    ]
}

/// Nothing, and one.
pub(super) fn sparse() -> Vec<(&'static str, Chart)> {
    vec![
        boxed("no roc", Roc::default()),
        boxed("no gray zone", GrayZonePlot::default()),
        boxed("no dose response", DoseResponse::default()),
        boxed(
            "one dose",
            DoseResponse {
                points: Series::new("only", [(250.0, 10.0)]),
                ..DoseResponse::default()
            },
        ),
        boxed("no pairs", BlandAltman::default()),
        boxed("no control chart", ControlChart::default()),
        boxed(
            "one value of a control chart",
            ControlChart {
                points: vec![ControlPoint {
                    x: 1.0,
                    ..ControlPoint::default()
                }],
                ..ControlChart::default()
            },
        ),
        boxed("no funnel", FunnelPlot::default()),
        boxed("no digits", DigitColumns::default()),
        boxed("no flow", RowFlow::default()),
        boxed(
            "one step of a flow",
            RowFlow {
                steps: vec![FlowStep::default()],
                ..RowFlow::default()
            },
        ),
    ]
}

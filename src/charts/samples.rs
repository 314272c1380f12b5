//! Charts of invented data for the gallery: usual, nasty and sparse (tests only).

use super::*;

/// A fixed sequence of numbers in 0..1 that look random (a linear congruential generator, Numerical Recipes' constants
/// from memory; quality does not matter here).
pub(super) struct Noise(pub u32);

impl Noise {
    pub fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(self.0) / f64::from(u32::MAX)
    }

    /// Roughly normal: the sum of twelve.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() - 6.0
    }
}

/// Any chart of the gallery.
pub(super) enum Chart {
    Scatter(Scatter),
    Curves(Curves),
    Effects(EffectBars),
    Shares(ShareBars),
    Trend(Trend),
    Histogram(Histogram),
    Statistics(Box<dyn Drawing>),
}

/// A chart, whatever its kind.
pub(super) trait Drawing {
    fn svg(&self, size: Size) -> Result<String, ChartError>;
    fn description(&self) -> String;
}

impl Chart {
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        match self {
            Chart::Scatter(c) => c.svg(size),
            Chart::Curves(c) => c.svg(size),
            Chart::Effects(c) => c.svg(size),
            Chart::Shares(c) => c.svg(size),
            Chart::Trend(c) => c.svg(size),
            Chart::Histogram(c) => c.svg(size),
            Chart::Statistics(c) => c.svg(size),
        }
    }

    pub fn description(&self) -> String {
        match self {
            Chart::Scatter(c) => c.description(),
            Chart::Curves(c) => c.description(),
            Chart::Effects(c) => c.description(),
            Chart::Shares(c) => c.description(),
            Chart::Trend(c) => c.description(),
            Chart::Histogram(c) => c.description(),
            Chart::Statistics(c) => c.description(),
        }
    }
}

pub(super) const LONG: &str = "A label that goes on for longer than any picture is wide, <script>alert(\"&\")</script>, and ends here";

pub(super) fn scatter() -> Scatter {
    let mut noise = Noise(1);
    let mut group = |name: &str, count: usize, offset: f64| {
        let point = |noise: &mut Noise| {
            let x = 65.0 + 14.0 * noise.normal();
            (x, 6.0 + offset + 0.93 * x + 5.0 * noise.normal())
        };
        Series::new(
            name,
            (0..count).map(|_| point(&mut noise)).collect::<Vec<_>>(),
        )
    };
    let groups = vec![
        group("Operator A", 40, 0.0),
        group("Operator B", 30, 3.0),
        group("Resident", 20, -6.0),
    ];
    let line = (0..=20).map(|i| 25.0 + 4.0 * f64::from(i));
    Scatter {
        title: "Two ways to measure stroke volume (invented data)".into(),
        x: Axis::new("Stroke volume by outflow tract", "mL"),
        y: Axis::new("Stroke volume by comparison", "mL"),
        groups,
        fit: Some(Fit {
            line: Series::new("fitted line", line.clone().map(|x| (x, 6.0 + 0.93 * x))),
            band_name: "95 % interval".into(),
            band: line
                .map(|x| {
                    let half = 2.0 + 0.002 * (x - 65.0) * (x - 65.0);
                    BandPoint {
                        x,
                        low: 6.0 + 0.93 * x - half,
                        high: 6.0 + 0.93 * x + half,
                    }
                })
                .collect(),
        }),
        references: vec![
            Reference::horizontal(60.0, "lower limit"),
            Reference::vertical(100.0, "upper limit of method"),
        ],
        ..Scatter::default()
    }
}

pub(super) fn cloud() -> Scatter {
    let mut noise = Noise(2);
    let points: Vec<(f64, f64)> = (0..5000)
        .map(|_| {
            let x = noise.normal();
            (4.5 + x, 1200.0 - 180.0 * x + 120.0 * noise.normal())
        })
        .collect();
    let groups = (0..6).map(|g| {
        Series::new(
            format!("Ward {}", g + 1),
            points.iter().skip(g).step_by(6).copied(),
        )
    });
    Scatter {
        title: "Resistance against flow, 5000 exams (invented data)".into(),
        x: Axis::new("Cardiac output", "L/min"),
        y: Axis::new("Systemic vascular resistance", "dyn·s/cm⁵"),
        groups: groups.collect(),
        references: vec![
            Reference::horizontal(800.0, "low"),
            Reference::horizontal(1200.0, "high"),
        ],
        ..Scatter::default()
    }
}

pub(super) fn curves() -> Curves {
    let wave = |height: f64, end: f64| {
        let at = move |i: i32| {
            let t = f64::from(i) / 60.0;
            (
                t * end,
                height * (std::f64::consts::PI * t.powf(0.8)).sin().max(0.0),
            )
        };
        (0..=60).map(at).collect::<Vec<_>>()
    };
    let curve = |name: &str, height: f64, end: f64| Curve {
        line: Series::new(name, wave(height, end)),
        band: Vec::new(),
        marks: Vec::new(),
    };
    let mut first = curve("before fluid", 92.0, 310.0);
    first.band = first
        .line
        .points
        .iter()
        .map(|p| BandPoint {
            x: p.x,
            low: p.y * 0.93,
            high: p.y * 1.07,
        })
        .collect();
    first.marks = vec![Mark {
        x: 130.0,
        y: 92.0,
        label: "peak 92 cm/s".into(),
    }];
    let mut second = curve("after fluid", 108.0, 325.0);
    second.marks = vec![Mark {
        x: 137.0,
        y: 108.0,
        label: "peak 108 cm/s".into(),
    }];
    Curves {
        title: "Envelope of the outflow signal (invented data)".into(),
        x: Axis::new("Time from opening", "ms"),
        y: Axis::new("Velocity", "cm/s"),
        curves: vec![first, second, curve("passive leg raise", 101.0, 318.0)],
        references: vec![
            Reference::horizontal(100.0, "1 m/s"),
            Reference::vertical(80.0, "early systole"),
        ],
        ..Curves::default()
    }
}

pub(super) fn roc() -> Curves {
    let steps = [
        (0.0, 0.0),
        (0.0, 38.0),
        (5.6, 52.0),
        (11.1, 71.0),
        (16.7, 86.0),
        (22.2, 95.2),
        (50.0, 95.2),
        (61.0, 100.0),
        (100.0, 100.0),
    ];
    Curves {
        title: "Response predicted by the mini-fluid change (invented data)".into(),
        x: Axis::new("1 − specificity", "%"),
        y: Axis::new("Sensitivity", "%"),
        curves: vec![
            Curve {
                line: Series::new("change of the velocity time integral", steps),
                marks: vec![
                    Mark {
                        x: 22.2,
                        y: 95.2,
                        label: "10 %".into(),
                    },
                    Mark {
                        x: 16.7,
                        y: 86.0,
                        label: "12 %".into(),
                    },
                    Mark {
                        x: 11.1,
                        y: 71.0,
                        label: "15 %".into(),
                    },
                ],
                ..Curve::default()
            },
            Curve {
                line: Series::new("chance", [(0.0, 0.0), (100.0, 100.0)]),
                ..Curve::default()
            },
        ],
        ..Curves::default()
    }
}

pub(super) fn effects() -> EffectBars {
    EffectBars {
        title: "Were one reading off by its uncertainty (invented data)".into(),
        axis: Axis::new("Change of systemic vascular resistance", "dyn·s/cm⁵"),
        effects: vec![
            Effect::new("Outflow tract diameter, 1 mm", 178.0, -149.5),
            Effect::new("Velocity time integral, 1 cm", 84.6, -76.5),
            Effect::new("Mean pressure, 3 mmHg", -54.5, 54.5),
            Effect::new("Heart rate, 2 /min", 47.3, -44.6),
            Effect::new("Doppler angle, 10°", -24.4, -6.1),
            Effect::new("Central venous pressure, 1 mmHg", 18.2, -18.2),
        ],
        ..EffectBars::default()
    }
}

pub(super) fn shares() -> ShareBars {
    ShareBars {
        title: "Where the uncertainty of stroke volume comes from (invented data)".into(),
        label: "Share of the variance of stroke volume".into(),
        shares: vec![
            Share::new("Outflow tract diameter", 79.4),
            Share::new("Velocity time integral, scatter of beats", 12.6),
            Share::new("Doppler angle", 7.1),
            Share::new("Heart rate", 0.88),
            Share::new("Calibration of the ruler", 0.004),
        ],
        ..ShareBars::default()
    }
}

pub(super) fn trend() -> Trend {
    let point = |x: f64, y: f64| TrendPoint::new(x, y).between(y * 0.91, y * 1.09);
    Trend {
        title: "Stroke volume over four exams (invented data)".into(),
        x: TrendScale::Exams {
            label: "Exam".into(),
            names: [
                "Admission",
                "After 500 mL",
                "Next morning",
                "Before transfer",
            ]
            .map(String::from)
            .to_vec(),
        },
        y: Axis::new("Stroke volume", "mL"),
        error_name: "95 % interval".into(),
        series: vec![TrendSeries {
            name: "Bed 4".into(),
            points: vec![
                point(0.0, 44.0),
                point(1.0, 56.0).marked("responder, +27 %"),
                point(2.0, 52.0),
                point(3.0, 61.0).marked("off vasopressor"),
            ],
        }],
        references: vec![
            Reference::horizontal(60.0, "usual lower limit"),
            Reference::vertical(2.0, "extubation"),
        ],
        ..Trend::default()
    }
}

pub(super) fn hours() -> Trend {
    let mut noise = Noise(5);
    let mut series = |name: &str, level: f64| TrendSeries {
        name: name.into(),
        points: (0..9)
            .map(|i| {
                let y = level + 0.2 * f64::from(i) + 0.3 * noise.normal();
                TrendPoint::new(6.0 * f64::from(i), y).between(y - 0.5, y + 0.5)
            })
            .collect(),
    };
    Trend {
        title: "Cardiac output, two beds (invented data)".into(),
        x: TrendScale::Time(Axis::new("Time since admission", "h")),
        y: Axis::new("Cardiac output", "L/min"),
        error_name: "standard uncertainty, k = 2".into(),
        series: vec![series("Bed 4", 3.8), series("Bed 7", 4.4)],
        references: vec![Reference::horizontal(4.0, "target")],
        ..Trend::default()
    }
}

pub(super) fn histogram() -> Histogram {
    let mut noise = Noise(3);
    Histogram {
        title: "Stroke volume, 10 000 draws (invented data)".into(),
        x: Axis::new("Stroke volume", "mL"),
        counted: "Draws".into(),
        values: (0..10_000).map(|_| 63.0 + 7.04 * noise.normal()).collect(),
        references: vec![
            Reference::vertical(49.5, "2.5 %"),
            Reference::vertical(62.8, "median"),
            Reference::vertical(77.1, "97.5 %"),
        ],
        ..Histogram::default()
    }
}

/// Everything too long, too many, too large, too small.
pub(super) fn nasty() -> Vec<(&'static str, Chart)> {
    let groups = (0..6).map(|g| {
        Series::new(
            LONG,
            [(f64::from(g), 1e9 + f64::from(g) * 1e-3), (-1e5, 1e9)],
        )
    });
    let references = |x: f64, y: f64| {
        let mut all: Vec<Reference> = (0..5).map(|_| Reference::horizontal(y, LONG)).collect();
        all.extend((0..5).map(|i| Reference::vertical(x + f64::from(i) * 1e-6, LONG)));
        all
    };
    let many = |count: i32| {
        (0..count).map(move |i| Effect::new(format!("{LONG} {i}"), -1e9 / f64::from(i + 1), 1e-7))
    };
    let marks = |count: i32| {
        (0..count).map(|i| Mark {
            x: f64::from(i) * 0.01,
            y: 5.0,
            label: format!("{i} {LONG}"),
        })
    };
    let nasty_curve = Curve {
        line: Series::new(LONG, [(0.0, -1e-7), (1.0, 8.0)]),
        marks: marks(12).collect(),
        band: vec![],
    };
    let exams = TrendScale::Exams {
        label: LONG.into(),
        names: (0..30).map(|i| format!("{i} {LONG}")).collect(),
    };
    let values = (0..30).map(|i| TrendPoint::new(f64::from(i), -1e-9 * f64::from(i)).marked(LONG));
    let wide =
        "心拍出量と血管抵抗の関係を示す図で、題名がとても長い場合の表示を確かめるもの🫀".to_owned();
    vec![
        (
            "nasty scatter",
            Chart::Scatter(Scatter {
                title: LONG.repeat(3),
                x: Axis::new(LONG, "mmHg·min/L"),
                y: Axis::new(LONG, LONG),
                groups: groups.collect(),
                references: references(0.0, 1e9),
                fit: Some(Fit {
                    line: Series::new(LONG, [(0.0, 1e9)]),
                    band_name: LONG.into(),
                    band: vec![],
                }),
                key: String::new(),
            }),
        ),
        (
            "nasty curves",
            Chart::Curves(Curves {
                title: wide.clone(),
                x: Axis::new(wide, "μs"),
                y: Axis::new("\u{202e}y\u{0}", "L·min⁻¹·m⁻²"),
                curves: vec![nasty_curve; 6],
                references: references(0.5, 4.0),
                ..Curves::default()
            }),
        ),
        (
            "nasty effects",
            Chart::Effects(EffectBars {
                title: LONG.into(),
                axis: Axis::new(LONG, "%"),
                minus_name: LONG.into(),
                plus_name: LONG.into(),
                effects: many(40).collect(),
                ..EffectBars::default()
            }),
        ),
        (
            "nasty shares",
            Chart::Shares(ShareBars {
                shares: (0..9)
                    .map(|i| Share::new(format!("{LONG} {i}"), 115.0 - 30.0 * f64::from(i)))
                    .collect(),
                ..ShareBars::default()
            }),
        ),
        (
            "nasty trend",
            Chart::Trend(Trend {
                title: LONG.into(),
                x: exams,
                y: Axis::new(LONG, "dyn·s·m²/cm⁵"),
                series: vec![
                    TrendSeries {
                        name: LONG.into(),
                        points: values.collect()
                    };
                    6
                ],
                error_name: LONG.into(),
                references: vec![
                    Reference::vertical(3.0, LONG),
                    Reference::horizontal(0.0, LONG),
                ],
                ..Trend::default()
            }),
        ),
        (
            "nasty histogram",
            Chart::Histogram(Histogram {
                values: (0..50).map(|i| -1e150 + 1e148 * f64::from(i)).collect(),
                references: references(-1e150, 3.0),
                ..Histogram::default()
            }),
        ),
    ]
}

/// Nothing, and one.
pub(super) fn sparse() -> Vec<(&'static str, Chart)> {
    let one = || vec![Series::new("only", [(1.9, 63.0)])];
    let curve = |series: Series| Curve {
        line: series,
        ..Curve::default()
    };
    let single_trend = TrendSeries {
        name: "Bed 4".into(),
        points: vec![TrendPoint::new(0.0, 44.0)],
    };
    vec![
        (
            "no points",
            Chart::Scatter(Scatter {
                title: "Empty".into(),
                ..scatter_axes()
            }),
        ),
        (
            "one point",
            Chart::Scatter(Scatter {
                title: "One point".into(),
                groups: one(),
                ..scatter_axes()
            }),
        ),
        (
            "no curve",
            Chart::Curves(Curves {
                title: "Empty".into(),
                ..Curves::default()
            }),
        ),
        (
            "one point of a curve",
            Chart::Curves(Curves {
                curves: one().into_iter().map(curve).collect(),
                ..Curves::default()
            }),
        ),
        ("no effects", Chart::Effects(EffectBars::default())),
        (
            "one effect",
            Chart::Effects(EffectBars {
                effects: vec![Effect::new("diameter", 0.0, 0.0)],
                ..EffectBars::default()
            }),
        ),
        ("no shares", Chart::Shares(ShareBars::default())),
        (
            "one share",
            Chart::Shares(ShareBars {
                shares: vec![Share::new("diameter", 100.0)],
                ..ShareBars::default()
            }),
        ),
        (
            "no values",
            Chart::Trend(Trend {
                title: "Empty".into(),
                ..Trend::default()
            }),
        ),
        (
            "one value",
            Chart::Trend(Trend {
                series: vec![single_trend],
                ..Trend::default()
            }),
        ),
        ("empty histogram", Chart::Histogram(Histogram::default())),
        (
            "histogram of one",
            Chart::Histogram(Histogram {
                values: vec![4.2],
                ..Histogram::default()
            }),
        ),
    ]
}

pub(super) fn scatter_axes() -> Scatter {
    Scatter {
        x: Axis::new("Body surface area", "m²"),
        y: Axis::new("Stroke volume", "mL"),
        ..Scatter::default()
    }
}

pub(super) fn usual() -> Vec<(&'static str, Chart)> {
    vec![
        ("scatter", Chart::Scatter(scatter())),
        ("cloud", Chart::Scatter(cloud())),
        ("curves", Chart::Curves(curves())),
        ("roc", Chart::Curves(roc())),
        ("effects", Chart::Effects(effects())),
        ("shares", Chart::Shares(shares())),
        ("trend", Chart::Trend(trend())),
        ("hours", Chart::Trend(hours())),
        ("histogram", Chart::Histogram(histogram())),
    ]
}

pub(super) fn all() -> Vec<(&'static str, Chart)> {
    use super::samples_of_statistics as statistics;
    let own = usual().into_iter().chain(nasty()).chain(sparse());
    own.chain(statistics::usual())
        .chain(statistics::nasty())
        .chain(statistics::sparse())
        .collect()
}

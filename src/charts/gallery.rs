//! Every chart at many sizes, easy and nasty, checked for structure (tests only).
//!
//! With `SEMILUNAR_GALLERY` naming a folder, the pictures are written there as HTML pages for a person to look at.
//! All data are invented.

use super::check::{problems, texts};
use super::samples::*;
use super::*;

fn sizes() -> Vec<Size> {
    let pairs = [
        (320, 240),
        (333, 800),
        (400, 300),
        (480, 320),
        (640, 400),
        (800, 240),
        (900, 600),
        (1200, 240),
        (1200, 800),
    ];
    pairs.map(|(w, h)| Size::new(w, h).unwrap()).to_vec()
}

#[test]
fn no_text_overlaps_or_leaves_the_picture_at_any_size() {
    for (name, chart) in all() {
        for size in sizes() {
            let svg = chart.svg(size).unwrap();
            let found = problems(&svg, f64::from(size.width()), f64::from(size.height()));
            assert!(
                found.is_empty(),
                "{name} at {size:?}:\n{}",
                found.join("\n")
            );
        }
    }
}

#[test]
fn charts_have_titles_ticks_and_axis_names_at_any_size() {
    let shown = usual()
        .into_iter()
        .chain(super::samples_of_statistics::usual());
    // A flow of rows has boxes in the place of axes.
    for (name, chart) in shown.filter(|(name, _)| *name != "flow") {
        for size in sizes() {
            let svg = chart.svg(size).unwrap();
            let texts = texts(&svg);
            let count = |class: &str| texts.iter().filter(|t| t.class == class).count();
            assert!(count("title") >= 1, "{name} at {size:?}");
            assert!(count("axis-name") >= 1, "{name} at {size:?}");
            assert!(
                texts
                    .iter()
                    .all(|t| !(t.class == "tick" && t.content.ends_with('…'))),
                "{name} at {size:?}"
            );
            assert!(
                count("tick") + count("row") >= 5,
                "{name} at {size:?}: {} ticks",
                count("tick")
            );
        }
    }
}

#[test]
fn labels_of_usual_charts_are_not_dropped_from_640_px_on() {
    let size = Size::new(640, 400).unwrap();
    let has = |svg: &str, label: &str| texts(svg).iter().any(|t| t.content == label);
    let svg = scatter().svg(size).unwrap();
    assert!(has(&svg, "lower limit") && has(&svg, "upper limit of method"));
    let svg = curves().svg(size).unwrap();
    assert!(has(&svg, "peak 92 cm/s") && has(&svg, "peak 108 cm/s") && has(&svg, "1 m/s"));
    let svg = trend().svg(size).unwrap();
    assert!(
        has(&svg, "responder, +27 %")
            && has(&svg, "off vasopressor")
            && has(&svg, "usual lower limit")
    );
    let svg = histogram().svg(size).unwrap();
    assert!(has(&svg, "2.5 %") && has(&svg, "median") && has(&svg, "97.5 %"));
    let svg = effects().svg(size).unwrap();
    assert!(has(&svg, "+178") && has(&svg, "−150") && has(&svg, "−24.4, −6.1"));
}

#[test]
fn every_drawing_carries_its_description_and_no_markup_of_the_data() {
    let size = Size::new(640, 400).unwrap();
    for (name, chart) in all() {
        let svg = chart.svg(size).unwrap();
        assert!(!svg.contains("<script"), "{name}");
        let description = super::text::escape(&super::text::clean(&chart.description()));
        assert!(svg.contains(&format!(">{description}</desc>")), "{name}");
        assert!(!description.contains("NaN"), "{name}: {description}");
    }
}

#[test]
fn what_is_shortened_stands_whole_in_the_description() {
    let long = super::text::clean(LONG);
    for (name, chart) in nasty()
        .into_iter()
        .chain(super::samples_of_statistics::nasty())
    {
        let text = super::text::clean(&chart.description());
        assert!(text.contains(&long), "{name}: {text}");
    }
}

#[test]
fn an_empty_chart_says_so_in_the_picture() {
    let sparse = sparse()
        .into_iter()
        .chain(super::samples_of_statistics::sparse());
    for (name, chart) in
        sparse.filter(|(name, _)| name.starts_with("no ") || name.starts_with("empty"))
    {
        let svg = chart.svg(Size::new(320, 240).unwrap()).unwrap();
        assert!(
            texts(&svg)
                .iter()
                .any(|t| t.class == "message" && t.content.starts_with("No ")),
            "{name}"
        );
    }
}

#[test]
fn the_same_chart_gives_the_same_bytes_and_other_charts_other_ids() {
    let size = Size::new(640, 400).unwrap();
    let first: Vec<String> = all()
        .iter()
        .map(|(_, chart)| chart.svg(size).unwrap())
        .collect();
    let second: Vec<String> = all()
        .iter()
        .map(|(_, chart)| chart.svg(size).unwrap())
        .collect();
    assert_eq!(first, second);
    let id = |svg: &String| {
        svg.split_once("<title id=\"")
            .and_then(|(_, rest)| rest.split_once('"'))
            .unwrap()
            .0
            .to_owned()
    };
    let mut ids: Vec<String> = first.iter().map(id).collect();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), first.len());
}

#[test]
fn references_far_from_zero_are_drawn_where_they_are() {
    let chart = Scatter {
        groups: vec![Series::new("a", [(-1e9, -1e9), (-1e9 - 0.5, -1e9 - 0.5)])],
        references: vec![
            Reference::vertical(-1e9, "x"),
            Reference::horizontal(-1e9, "y"),
        ],
        ..Scatter::default()
    };
    let svg = chart.svg(Size::new(640, 400).unwrap()).unwrap();
    assert!(problems(&svg, 640.0, 400.0).is_empty());
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(96))]

    #[test]
    fn any_numbers_and_any_labels_give_a_clean_picture(
        mantissas in proptest::collection::vec((-10.0..10.0f64, -10.0..10.0f64), 0..12),
        offset in -1e6..1e6f64,
        exponent in -140..140i32,
        label in ".{0,60}",
        name in "\\PC{0,40}",
        reference in -20.0..20.0f64,
        width in 320..1200u32,
        height in 240..800u32,
    ) {
        let scale = 10f64.powi(exponent);
        let points: Vec<(f64, f64)> = mantissas.iter().map(|(x, y)| ((x + offset) * scale, y * scale)).collect();
        let size = Size::new(width, height).unwrap();
        let view = (f64::from(width), f64::from(height));
        let axis = Axis::new(name.clone(), label.clone());
        let references = vec![Reference::horizontal(reference * scale, label.clone())];
        let series = Series::new(name.clone(), points.iter().copied());
        let trend = points.iter().map(|(x, y)| TrendPoint::new(*x, *y).between(y - scale, y + scale).marked(&label));
        let effects = points.iter().map(|(x, y)| Effect::new(&label, *x, *y));
        let charts = [
            Chart::Scatter(Scatter {
                title: label.clone(), x: axis.clone(), y: axis.clone(), groups: vec![series.clone(); 3],
                references: references.clone(), ..Scatter::default()
            }),
            Chart::Curves(Curves {
                title: name.clone(), x: axis.clone(), y: axis.clone(), references: references.clone(),
                curves: vec![Curve { line: series, ..Curve::default() }], ..Curves::default()
            }),
            Chart::Effects(EffectBars { axis: axis.clone(), effects: effects.collect(), ..EffectBars::default() }),
            Chart::Shares(ShareBars {
                shares: points.iter().map(|(_, y)| Share::new(&label, *y)).collect(), ..ShareBars::default()
            }),
            Chart::Trend(Trend {
                y: axis.clone(), series: vec![TrendSeries { name: name.clone(), points: trend.collect() }],
                error_name: label.clone(), references, ..Trend::default()
            }),
            Chart::Histogram(Histogram {
                x: axis, values: points.iter().map(|(x, _)| *x).collect(), ..Histogram::default()
            }),
        ];
        for (index, chart) in charts.iter().enumerate() {
            let svg = chart.svg(size).unwrap();
            let found = problems(&svg, view.0, view.1);
            proptest::prop_assert!(found.is_empty(), "chart {index}: {}", found.join("\n"));
        }
    }
}

#[test]
fn thousands_of_points_stay_below_300_kb() {
    let svg = cloud().svg(Size::new(1200, 800).unwrap()).unwrap();
    assert!(svg.len() < 300_000, "{}", svg.len());
}

#[test]
fn the_gallery_is_written_where_a_folder_is_named() {
    let Some(folder) = std::env::var_os("SEMILUNAR_GALLERY") else {
        return;
    };
    let folder = std::path::PathBuf::from(folder);
    use super::samples_of_statistics as statistics;
    for (set, charts) in [
        ("usual", usual()),
        ("nasty", nasty()),
        ("sparse", sparse()),
        ("statistics", statistics::usual()),
        ("statistics-nasty", statistics::nasty()),
    ] {
        for (width, height) in [(320, 240), (640, 400), (1200, 600)] {
            let size = Size::new(width, height).unwrap();
            let svgs: String = charts
                .iter()
                .map(|(_, chart)| chart.svg(size).unwrap())
                .collect();
            let page = format!(
                "<!doctype html><meta charset=utf-8><title>{set}</title><body>{svgs}</body>"
            );
            std::fs::write(folder.join(format!("{set}-{width}.html")), page).unwrap();
        }
    }
}

//! The one look: colors in light and dark, dash patterns, and the style sheet.

/// How many series can be told apart.
pub(super) const SERIES: usize = 6;

/// How strongly a band covers the grid.
pub(super) const BAND_OPACITY: &str = "0.2";

/// Dash patterns that tell curves apart without color.
pub(super) const DASHES: [&str; SERIES] = ["", "8 4", "2 3", "10 3 2 3", "14 5", "6 3 2 3 2 3"];

/// Colors of one background.
pub(super) struct Theme {
    pub paper: &'static str,
    pub ink: &'static str,
    pub muted: &'static str,
    pub grid: &'static str,
    pub line: &'static str,
    pub series: [&'static str; SERIES],
}

// The series colors come from a search that kept every pair apart for normal, red-blind, green-blind and blue-blind
// eyes and in lightness; the tests below hold them to it.
pub(super) const LIGHT: Theme = Theme {
    paper: "#ffffff",
    ink: "#1d2329",
    muted: "#525d68",
    grid: "#e4e8eb",
    line: "#8b959e",
    series: [
        "#333085", "#bd820f", "#528c99", "#783145", "#4e6b11", "#967d60",
    ],
};

const DARK: Theme = Theme {
    paper: "#14181d",
    ink: "#e8ecef",
    muted: "#a9b3bc",
    grid: "#2a3138",
    line: "#6d7883",
    series: [
        "#58a4f5", "#de792f", "#60f6bf", "#c2a0c5", "#69896d", "#d3f58b",
    ],
};

/// The style sheet; the same in every chart, so that several in one page agree.
pub(super) fn style_sheet() -> String {
    let mut css = format!(
        ".semilunar-chart{{{}max-width:100%;height:auto;font-family:system-ui,sans-serif}}\n",
        variables(&LIGHT)
    );
    css.push_str(&format!(
        "@media (prefers-color-scheme:dark){{.semilunar-chart{{{}}}}}\n",
        variables(&DARK)
    ));
    for (selectors, declarations) in RULES {
        let scoped: Vec<String> = selectors
            .split(',')
            .map(|s| format!(".semilunar-chart .{s}"))
            .collect();
        css.push_str(&format!("{}{{{declarations}}}\n", scoped.join(",")));
    }
    for series in 1..=SERIES {
        css.push_str(&format!(
            ".semilunar-chart .s{series}{{--sc-s:var(--sc-{series})}}\n"
        ));
    }
    css
}

fn variables(theme: &Theme) -> String {
    let named = [
        ("paper", theme.paper),
        ("ink", theme.ink),
        ("muted", theme.muted),
        ("grid", theme.grid),
        ("line", theme.line),
    ];
    let mut css = String::new();
    for (name, color) in named {
        css.push_str(&format!("--sc-{name}:var(--chart-{name},{color});"));
    }
    for (index, color) in theme.series.iter().enumerate() {
        let series = index + 1;
        css.push_str(&format!(
            "--sc-{series}:var(--chart-series-{series},{color});"
        ));
    }
    css
}

const RULES: [(&str, &str); 12] = [
    ("paper", "fill:var(--sc-paper)"),
    ("rim", "stroke:var(--sc-paper)"),
    ("grid", "stroke:var(--sc-grid)"),
    ("axis", "stroke:var(--sc-line)"),
    ("zero,fit", "stroke:var(--sc-ink)"),
    ("reference", "stroke:var(--sc-muted)"),
    (
        "fit-band,title,message,axis-name,key,row,mark-label,value",
        "fill:var(--sc-ink)",
    ),
    ("note,tick,reference-label", "fill:var(--sc-muted)"),
    ("line,error-bar", "stroke:var(--sc-s)"),
    ("band,marker,bar", "fill:var(--sc-s)"),
    ("marker.dot", "fill:none;stroke:var(--sc-s)"),
    ("ring,open-bar", "fill:var(--sc-paper);stroke:var(--sc-s)"),
];

/// Text over data gets a rim in the color of the paper.
pub(super) const RIM: &str = ".semilunar-chart .reference-label,.semilunar-chart .mark-label,.semilunar-chart .value{paint-order:stroke;stroke:var(--sc-paper);stroke-width:3px;stroke-linejoin:round}\n";

#[cfg(test)]
mod tests {
    use super::*;

    fn linear(hex: &str) -> [f64; 3] {
        [1, 3, 5].map(|at| {
            let c = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        })
    }

    fn luminance(hex: &str) -> f64 {
        let [r, g, b] = linear(hex);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    // WCAG 2.2 (W3C), success criteria 1.4.3 (text: 4.5 to 1) and 1.4.11 (graphics: 3 to 1), with its formulas of
    // relative luminance and contrast ratio.
    #[test]
    fn text_and_marks_have_the_contrast_of_wcag() {
        for theme in [&LIGHT, &DARK] {
            assert!(contrast(theme.ink, theme.paper) >= 7.0);
            assert!(contrast(theme.muted, theme.paper) >= 4.5);
            assert!(
                contrast(theme.line, theme.paper) >= 3.0,
                "{}",
                contrast(theme.line, theme.paper)
            );
            for color in theme.series {
                assert!(
                    contrast(color, theme.paper) >= 3.0,
                    "{color}: {}",
                    contrast(color, theme.paper)
                );
            }
        }
    }

    /// CIE 1976 L*a*b* of linear sRGB, white D65 (IEC 61966-2-1).
    fn lab([r, g, b]: [f64; 3]) -> [f64; 3] {
        let xyz = [
            (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505,
            0.2126 * r + 0.7152 * g + 0.0722 * b,
            (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089,
        ];
        let [x, y, z] = xyz.map(|t| {
            if t > 0.008856 {
                t.cbrt()
            } else {
                7.787 * t + 16.0 / 116.0
            }
        });
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    fn seen(matrix: [[f64; 3]; 3], hex: &str) -> [f64; 3] {
        let color = linear(hex);
        lab(matrix.map(|row| {
            row.iter()
                .zip(color)
                .map(|(m, c)| m * c)
                .sum::<f64>()
                .clamp(0.0, 1.0)
        }))
    }

    // Matrices of full protanopia, deuteranopia and tritanopia: Machado, Oliveira & Fernandes, IEEE Trans Vis Comput
    // Graph 2009;15:1291-8 (values from memory). A CIE 1976 difference of 15 is far above what is just seen (2.3).
    #[test]
    fn series_differ_for_color_blind_eyes() {
        let eyes = [
            [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ],
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ],
            [
                [1.255528, -0.076749, -0.178779],
                [-0.078411, 0.930809, 0.147602],
                [0.004733, 0.691367, 0.303900],
            ],
        ];
        for theme in [&LIGHT, &DARK] {
            for eye in eyes {
                for (i, a) in theme.series.iter().enumerate() {
                    for b in &theme.series[i + 1..] {
                        let (p, q) = (seen(eye, a), seen(eye, b));
                        let distance = p
                            .iter()
                            .zip(q)
                            .map(|(u, v)| (u - v).powi(2))
                            .sum::<f64>()
                            .sqrt();
                        assert!(distance >= 15.0, "{a} and {b}: {distance}");
                    }
                }
            }
        }
    }

    #[test]
    fn the_style_sheet_needs_no_escaping_and_touches_only_charts() {
        let css = style_sheet();
        assert!(!css.contains(['<', '&', '>']));
        for line in css.lines() {
            assert!(
                line.starts_with(".semilunar-chart") || line.starts_with("@media"),
                "{line}"
            );
        }
    }
}

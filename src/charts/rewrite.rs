//! From what plotters wrote to our SVG: roles become classes, tenths become px, and neighbors of one role one path.

use super::error::ChartError;
use super::look::Role;

/// The drawing elements, ready to stand inside `<svg>`.
pub(super) fn rewrite(written: &str) -> Result<String, ChartError> {
    let mut out = Output::default();
    let mut lines = written.lines();
    while let Some(line) = lines.next() {
        let element = Element::parse(line)?;
        match element.tag {
            "svg" | "/svg" | "" => {}
            "text" => {
                let content = lines.next().ok_or_else(|| unexpected(line))?;
                let end = lines.next();
                if end != Some("</text>") {
                    return Err(unexpected(line));
                }
                out.text(&element, content)?;
            }
            _ => out.shape(&element)?,
        }
    }
    out.finish();
    Ok(out.svg)
}

fn unexpected(what: &str) -> ChartError {
    let start: String = what.chars().take(80).collect();
    ChartError::Drawing(format!(
        "the drawing library wrote what is not expected: {start}"
    ))
}

/// One start tag with its attributes.
struct Element<'a> {
    tag: &'a str,
    attributes: Vec<(&'a str, &'a str)>,
}

impl<'a> Element<'a> {
    fn parse(line: &'a str) -> Result<Self, ChartError> {
        let line = line.trim();
        if line.is_empty() {
            return Ok(Element {
                tag: "",
                attributes: Vec::new(),
            });
        }
        let inner = line
            .strip_prefix('<')
            .and_then(|l| l.strip_suffix('>'))
            .ok_or_else(|| unexpected(line))?;
        let inner = inner.strip_suffix('/').unwrap_or(inner);
        let (tag, mut rest) = inner.split_once(' ').unwrap_or((inner, ""));
        let mut attributes = Vec::new();
        while !rest.trim().is_empty() {
            let (name, after) = rest.split_once("=\"").ok_or_else(|| unexpected(line))?;
            let (value, after) = after.split_once('"').ok_or_else(|| unexpected(line))?;
            attributes.push((name.trim(), value));
            rest = after;
        }
        Ok(Element { tag, attributes })
    }

    fn get(&self, name: &str) -> Result<&'a str, ChartError> {
        let found = self.attributes.iter().find(|(n, _)| *n == name);
        found
            .map(|(_, value)| *value)
            .ok_or_else(|| unexpected(self.tag))
    }

    /// A whole number of tenths.
    fn tenths(&self, name: &str) -> Result<i64, ChartError> {
        self.get(name)?.parse().map_err(|_| unexpected(self.tag))
    }

    fn points(&self) -> Result<Vec<(i64, i64)>, ChartError> {
        let pair = |text: &str| {
            let (x, y) = text.split_once(',')?;
            Some((x.parse().ok()?, y.parse().ok()?))
        };
        let points: Option<Vec<_>> = self.get("points")?.split_whitespace().map(pair).collect();
        points.ok_or_else(|| unexpected(self.tag))
    }

    /// The role hides in the color that is not `none`.
    fn role(&self) -> Result<Role, ChartError> {
        ["fill", "stroke"]
            .iter()
            .filter_map(|name| self.get(name).ok())
            .find_map(Role::from_hex)
            .ok_or_else(|| unexpected(self.tag))
    }
}

/// What can be drawn in one go.
#[derive(Clone, Copy, PartialEq)]
struct Run {
    role: Role,
    /// Radius in tenths of a round dot, drawn as a line of no length with round ends.
    dot: Option<i64>,
}

#[derive(Default)]
struct Output {
    svg: String,
    run: Option<Run>,
    path: String,
}

impl Output {
    fn shape(&mut self, element: &Element<'_>) -> Result<(), ChartError> {
        let role = element.role()?;
        match element.tag {
            "circle" => {
                let (x, y, r) = (
                    element.tenths("cx")?,
                    element.tenths("cy")?,
                    element.tenths("r")?,
                );
                if matches!(role, Role::Marker(_)) {
                    self.start(Run { role, dot: Some(r) });
                    self.path.push_str(&format!("M{},{}h0", px(x), px(y)));
                } else {
                    self.start(Run { role, dot: None });
                    let (r, d) = (px(r), px(2 * r));
                    let from = format!("M{},{}", px(x - element.tenths("r")?), px(y));
                    self.path
                        .push_str(&format!("{from}a{r},{r} 0 1,0 {d},0a{r},{r} 0 1,0 -{d},0z"));
                }
            }
            "rect" => {
                let (w, h) = (element.tenths("width")?, element.tenths("height")?);
                let corner = (element.tenths("x")?, element.tenths("y")?);
                self.start(Run { role, dot: None });
                self.trace(&[
                    corner,
                    (corner.0 + w, corner.1),
                    (corner.0 + w, corner.1 + h),
                    (corner.0, corner.1 + h),
                ]);
                self.path.push('z');
            }
            "polygon" => {
                self.start(Run { role, dot: None });
                self.trace(&element.points()?);
                self.path.push('z');
            }
            "polyline" => {
                self.start(Run { role, dot: None });
                self.trace(&element.points()?);
            }
            other => return Err(unexpected(other)),
        }
        Ok(())
    }

    /// A path through the points, each relative to the one before; a point that repeats is left out.
    fn trace(&mut self, points: &[(i64, i64)]) {
        let mut previous: Option<(i64, i64)> = None;
        for &(x, y) in points {
            match previous {
                None => self.path.push_str(&format!("M{},{}l", px(x), px(y))),
                Some(p) if p == (x, y) => continue,
                Some((px0, py0)) => {
                    self.path
                        .push_str(&format!("{},{} ", px(x - px0), px(y - py0)))
                }
            }
            previous = Some((x, y));
        }
        if self.path.ends_with('l') {
            self.path.push_str("0,0");
        }
        self.path.truncate(self.path.trim_end().len());
    }

    fn start(&mut self, run: Run) {
        if self.run != Some(run) {
            self.finish();
            self.run = Some(run);
        }
    }

    fn finish(&mut self) {
        let Some(run) = self.run.take() else { return };
        let class = run.role.class();
        let (class, attributes) = match run.dot {
            None => (class, run.role.attributes()),
            Some(radius) => (
                class.replacen("marker", "marker dot", 1),
                format!(
                    r#"{} stroke-width="{}" stroke-linecap="round""#,
                    run.role
                        .attributes()
                        .replacen("fill", r#"fill="none" stroke"#, 1),
                    px(2 * radius)
                ),
            ),
        };
        self.svg.push_str(&format!(
            "<path class=\"{class}\" {attributes} d=\"{}\"/>\n",
            self.path
        ));
        self.path.clear();
    }

    /// Plotters has escaped the content already.
    fn text(&mut self, element: &Element<'_>, content: &str) -> Result<(), ChartError> {
        self.finish();
        let role = element.role()?;
        let size: f64 = element
            .get("font-size")?
            .parse()
            .map_err(|_| unexpected("font-size"))?;
        let anchor = match element.get("text-anchor")? {
            "start" => "",
            "middle" => " text-anchor=\"middle\"",
            "end" => " text-anchor=\"end\"",
            other => return Err(unexpected(other)),
        };
        self.svg.push_str(&format!(
            "<text class=\"{}\" {} x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor}>{content}</text>\n",
            role.class(),
            role.attributes(),
            px(element.tenths("x")?),
            px(element.tenths("y")?),
            px(size.round() as i64),
        ));
        Ok(())
    }
}

/// Tenths as px: `123` is `12.3`, `120` is `12`.
fn px(tenths: i64) -> String {
    let sign = if tenths < 0 { "-" } else { "" };
    let (whole, rest) = (tenths.abs() / 10, tenths.abs() % 10);
    match (whole, rest) {
        (whole, 0) => format!("{sign}{whole}"),
        (0, rest) => format!("{sign}.{rest}"),
        (whole, rest) => format!("{sign}{whole}.{rest}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex(role: Role) -> String {
        let plotters::style::RGBColor(r, g, b) = role.color();
        format!("#{r:02X}{g:02X}{b:02X}")
    }

    #[test]
    fn neighbors_of_one_role_become_one_path() {
        let marker = format!(
            "<circle cx=\"100\" cy=\"205\" r=\"30\" opacity=\"1\" fill=\"{}\" stroke=\"none\"/>
",
            hex(Role::Marker(1))
        );
        let written = format!("<svg width=\"10\">\n{}</svg>\n", marker.repeat(2));
        let svg = rewrite(&written).unwrap();
        assert_eq!(svg.matches("<path").count(), 1);
        assert!(svg.contains("class=\"marker dot s2\""));
        assert!(svg.contains("d=\"M10,20.5h0M10,20.5h0\""));
        assert!(svg.contains("stroke-width=\"6\""));
    }

    #[test]
    fn what_is_not_known_is_an_error_and_never_passed_on() {
        for line in [
            "<image href=\"x\" fill=\"#09015A\"/>",
            "<circle cx=\"a\" cy=\"1\" r=\"1\" fill=\"#09015A\"/>",
            "plain",
            "<rect fill=\"#FFFFFF\"/>",
        ] {
            assert!(
                matches!(rewrite(line), Err(ChartError::Drawing(_))),
                "{line}"
            );
        }
    }

    #[test]
    fn tenths_are_written_short() {
        assert_eq!(
            [px(0), px(5), px(-5), px(123), px(-120)],
            ["0", ".5", "-.5", "12.3", "-12"]
        );
    }
}

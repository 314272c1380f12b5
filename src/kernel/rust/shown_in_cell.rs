//! What a Rust cell can show: text, tables, HTML, drawings.

use std::fmt::Display;

use serde::{Deserialize, Serialize};

use super::quantity_in_cell::Quantity;
use crate::formula::notation::number;
use crate::formula::typed::Dimensioned;

/// Something shown, in several forms.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shown {
    /// In plain text.
    pub text: String,
    /// As HTML.
    pub html: Option<String>,
    /// As a drawing.
    pub svg: Option<String>,
}

/// What a cell can show.
pub trait Show {
    /// Its forms.
    fn shown(&self) -> Shown;
}

impl<T: Show + ?Sized> Show for &T {
    fn shown(&self) -> Shown {
        (**self).shown()
    }
}

impl Show for Shown {
    fn shown(&self) -> Shown {
        self.clone()
    }
}

macro_rules! shown_as_text {
    ($($kind:ty),*) => {$(
        impl Show for $kind {
            fn shown(&self) -> Shown {
                Shown { text: self.to_string(), ..Shown::default() }
            }
        }
    )*};
}
shown_as_text!(str, String, bool, char, i32, i64, u32, u64, usize);

impl Show for f64 {
    fn shown(&self) -> Shown {
        Shown {
            text: number(*self),
            ..Shown::default()
        }
    }
}

impl<D: Dimensioned> Show for Quantity<D> {
    fn shown(&self) -> Shown {
        self.to_string().shown()
    }
}

/// HTML, shown as it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Html(pub String);

impl Show for Html {
    fn shown(&self) -> Shown {
        Shown {
            text: without_tags(&self.0),
            html: Some(self.0.clone()),
            svg: None,
        }
    }
}

/// A drawing, with its description in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Svg {
    /// The drawing.
    pub svg: String,
    /// What it shows, for those who do not see it.
    pub description: String,
}

impl Show for Svg {
    fn shown(&self) -> Shown {
        Shown {
            text: self.description.clone(),
            html: None,
            svg: Some(self.svg.clone()),
        }
    }
}

/// Charts of the library, in the size that notebooks draw.
macro_rules! drawn {
    ($($chart:ident),*) => {$(
        impl Show for crate::charts::$chart {
            fn shown(&self) -> Shown {
                let drawn = crate::charts::Size::new(640, 400).and_then(|size| self.svg(size));
                match drawn {
                    Ok(svg) => Svg { svg, description: self.description() }.shown(),
                    Err(error) => format!("this chart cannot be drawn: {error}").shown(),
                }
            }
        }
    )*};
}
drawn!(Scatter, Curves, EffectBars, ShareBars, Trend, Histogram);

/// A table of texts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    headings: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with headings and no rows.
    pub fn new<T: Display>(headings: impl IntoIterator<Item = T>) -> Table {
        Table {
            headings: headings.into_iter().map(|h| h.to_string()).collect(),
            rows: Vec::new(),
        }
    }

    /// The table with a row more.
    #[must_use]
    pub fn row<T: Display>(mut self, cells: impl IntoIterator<Item = T>) -> Table {
        self.rows
            .push(cells.into_iter().map(|c| c.to_string()).collect());
        self
    }
}

impl Show for Table {
    fn shown(&self) -> Shown {
        let line = |cells: &[String], tag: &str| {
            let cells = cells
                .iter()
                .map(|c| format!("<{tag}>{}</{tag}>", escaped(c)));
            format!("<tr>{}</tr>", cells.collect::<String>())
        };
        let rows: String = self.rows.iter().map(|row| line(row, "td")).collect();
        let all = std::iter::once(&self.headings).chain(&self.rows);
        let text: Vec<String> = all.map(|row| row.join("\t")).collect();
        let head = line(&self.headings, "th");
        Shown {
            text: text.join("\n"),
            html: Some(format!(
                "<table><thead>{head}</thead><tbody>{rows}</tbody></table>"
            )),
            svg: None,
        }
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

/// The text of some HTML, for readers of plain text.
fn without_tags(html: &str) -> String {
    let mut is_tag = false;
    let mut text = String::new();
    for c in html.chars() {
        match c {
            '<' => is_tag = true,
            '>' if is_tag => is_tag = false,
            _ if !is_tag => text.push(c),
            _ => {}
        }
    }
    text.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_in_a_table_is_escaped() {
        let shown = Table::new(["a < b"]).row(["1 & 2"]).shown();
        assert_eq!(shown.text, "a < b\n1 & 2");
        let html = shown.html.unwrap();
        assert!(html.contains("<th>a &lt; b</th>") && html.contains("<td>1 &amp; 2</td>"));
    }

    #[test]
    fn html_is_read_as_text_too() {
        let shown = Html("<p>1 &lt; <b>2</b></p>".into()).shown();
        assert_eq!(shown.text, "1 < 2");
        assert_eq!(shown.html.as_deref(), Some("<p>1 &lt; <b>2</b></p>"));
    }
}

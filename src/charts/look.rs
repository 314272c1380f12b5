//! What each thing drawn is for, and its class and attributes in the SVG.

use plotters::style::RGBColor;

use super::theme::{BAND_OPACITY, DASHES, LIGHT, SERIES};

/// What a thing drawn is for. Plotters carries only colors, so a role travels through it as one and becomes a class
/// again in [`super::rewrite`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Paper,
    Grid,
    AxisLine,
    Zero,
    Reference,
    /// Paper on both sides of a reference line, so that it shows on bars.
    ReferenceRim,
    FitLine,
    FitBand,
    Line(usize),
    Band(usize),
    Marker(usize),
    /// A ring around a marked point.
    Ring(usize),
    Bar(usize),
    /// A bar told apart by being hollow.
    OpenBar(usize),
    ErrorBar(usize),
    Title,
    Note,
    Message,
    TickLabel,
    AxisName,
    KeyText,
    RowLabel,
    ReferenceLabel,
    MarkLabel,
    ValueLabel,
}

/// Every role without a series, and one of each with; the position is its code.
const CODES: [Role; 25] = [
    Role::Paper,
    Role::Grid,
    Role::AxisLine,
    Role::Zero,
    Role::Reference,
    Role::ReferenceRim,
    Role::FitLine,
    Role::FitBand,
    Role::Line(0),
    Role::Band(0),
    Role::Marker(0),
    Role::Ring(0),
    Role::Bar(0),
    Role::OpenBar(0),
    Role::ErrorBar(0),
    Role::Title,
    Role::Note,
    Role::Message,
    Role::TickLabel,
    Role::AxisName,
    Role::KeyText,
    Role::RowLabel,
    Role::ReferenceLabel,
    Role::MarkLabel,
    Role::ValueLabel,
];

impl Role {
    /// The same role for another series.
    fn of_series(self, series: usize) -> Role {
        match self {
            Role::Line(_) => Role::Line(series),
            Role::Band(_) => Role::Band(series),
            Role::Marker(_) => Role::Marker(series),
            Role::Ring(_) => Role::Ring(series),
            Role::Bar(_) => Role::Bar(series),
            Role::OpenBar(_) => Role::OpenBar(series),
            Role::ErrorBar(_) => Role::ErrorBar(series),
            other => other,
        }
    }

    fn series(self) -> Option<usize> {
        match self {
            Role::Line(i) | Role::Band(i) | Role::Marker(i) | Role::Ring(i) => Some(i),
            Role::Bar(i) | Role::OpenBar(i) | Role::ErrorBar(i) => Some(i),
            _ => None,
        }
    }

    /// The color that carries the role through plotters.
    pub fn color(self) -> RGBColor {
        let code = CODES
            .iter()
            .position(|role| *role == self.of_series(0))
            .unwrap_or(0);
        RGBColor(code as u8, self.series().unwrap_or(0) as u8, 0x5a)
    }

    /// The role that a color carries.
    pub fn from_hex(hex: &str) -> Option<Role> {
        let digits = hex
            .strip_prefix('#')
            .filter(|d| d.len() == 6 && d.is_ascii())?;
        let byte = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).ok();
        if byte(4)? != 0x5a {
            return None;
        }
        let role = *CODES.get(usize::from(byte(0)?))?;
        Some(role.of_series(usize::from(byte(2)?)))
    }

    /// The class names in the SVG.
    pub fn class(self) -> String {
        let kind = match self {
            Role::Paper => "paper",
            Role::Grid => "grid",
            Role::AxisLine => "axis",
            Role::Zero => "zero",
            Role::Reference => "reference",
            Role::ReferenceRim => "rim",
            Role::FitLine => "fit",
            Role::FitBand => "fit-band",
            Role::Line(_) => "line",
            Role::Band(_) => "band",
            Role::Marker(_) => "marker",
            Role::Ring(_) => "ring",
            Role::Bar(_) => "bar",
            Role::OpenBar(_) => "open-bar",
            Role::ErrorBar(_) => "error-bar",
            Role::Title => "title",
            Role::Note => "note",
            Role::Message => "message",
            Role::TickLabel => "tick",
            Role::AxisName => "axis-name",
            Role::KeyText => "key",
            Role::RowLabel => "row",
            Role::ReferenceLabel => "reference-label",
            Role::MarkLabel => "mark-label",
            Role::ValueLabel => "value",
        };
        match self.series() {
            Some(series) => format!("{kind} s{}", series + 1),
            None => kind.to_owned(),
        }
    }

    /// Plain attributes for readers that know no CSS variables: the light theme.
    pub fn attributes(self) -> String {
        let color = self.light_color();
        match self {
            Role::Paper | Role::Bar(_) => format!(r#"fill="{color}""#),
            Role::FitBand | Role::Band(_) => {
                format!(r#"fill="{color}" fill-opacity="{BAND_OPACITY}""#)
            }
            Role::Grid | Role::AxisLine => format!(r#"fill="none" stroke="{color}""#),
            Role::Zero | Role::ErrorBar(_) => {
                format!(r#"fill="none" stroke="{color}" stroke-width="1.5""#)
            }
            Role::Reference => {
                format!(r#"fill="none" stroke="{color}" stroke-width="1.2" stroke-dasharray="5 3""#)
            }
            Role::ReferenceRim => format!(r#"fill="none" stroke="{color}" stroke-width="3.2""#),
            Role::FitLine => format!(r#"fill="none" stroke="{color}" stroke-width="2""#),
            Role::Line(series) => {
                let dash = match DASHES[series % SERIES] {
                    "" => String::new(),
                    dash => format!(r#" stroke-dasharray="{dash}""#),
                };
                format!(
                    r#"fill="none" stroke="{color}" stroke-width="2" stroke-linejoin="round"{dash}"#
                )
            }
            Role::Marker(_) => format!(r#"fill="{color}""#),
            Role::Ring(_) | Role::OpenBar(_) => {
                format!(
                    r#"fill="{}" stroke="{color}" stroke-width="1.8""#,
                    LIGHT.paper
                )
            }
            Role::Title => format!(r#"fill="{color}" font-weight="700""#),
            _ => format!(r#"fill="{color}""#),
        }
    }

    fn light_color(self) -> &'static str {
        match self {
            Role::Paper | Role::ReferenceRim => LIGHT.paper,
            Role::Grid => LIGHT.grid,
            Role::AxisLine => LIGHT.line,
            Role::Note | Role::TickLabel | Role::ReferenceLabel | Role::Reference => LIGHT.muted,
            other => other
                .series()
                .map_or(LIGHT.ink, |series| LIGHT.series[series % SERIES]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_role_survives_its_way_through_a_color() {
        for code in CODES {
            for series in 0..SERIES {
                let role = code.of_series(series);
                let RGBColor(r, g, b) = role.color();
                assert_eq!(
                    Role::from_hex(&format!("#{r:02X}{g:02X}{b:02X}")),
                    Some(role)
                );
            }
        }
        assert_eq!(Role::from_hex("#FFFFFF"), None);
        assert_eq!(Role::from_hex("red"), None);
    }
}

//! `adjust`: readings that the reader of a page can move.

use maud::html;

use crate::formula::CellId;
use crate::formula::notation::{Adjust, Diagnostic, number};
use crate::notebook::output::Output;
use crate::notebook::render::{Rendered, Rendering};
use crate::quantity::{Content, Reading, Unit};
use crate::sheet::join_unit;

/// Most places that a reading can be moved to.
const MOST_PLACES: f64 = 10_000.0;

/// Decimals looked at for writing the places of a slider.
const MOST_DECIMALS: u32 = 9;

/// A reading that can be moved, in its cell's unit.
pub(in crate::notebook) struct Adjustable {
    pub cell: CellId,
    pub unit: Unit,
    pub from: f64,
    pub by: f64,
    /// Steps between the least and the greatest place.
    pub count: u32,
    /// Decimals that show every place.
    pub decimals: u32,
}

impl Adjustable {
    /// The greatest place.
    pub fn to(&self) -> f64 {
        self.from + f64::from(self.count) * self.by
    }

    /// Checks a statement.
    pub fn of(rendering: &Rendering<'_>, adjust: &Adjust) -> Result<Adjustable, Vec<Diagnostic>> {
        let sheet = rendering.sheet;
        let name = &adjust.name;
        let cell = rendering.cell(name)?;
        let at_name = |message: String| vec![Diagnostic::error(message, name.place)];
        let unit = sheet.unit(cell).unwrap_or(Unit::ONE);
        let given = sheet.reading(cell).map(Reading::content);
        let (Some(now), Some(Content::Magnitude { .. })) = (sheet.value(cell), given) else {
            let error = at_name(format!(
                "`{}` has no reading that could be moved",
                name.text
            ));
            return Err(error
                .into_iter()
                .map(|e| e.hint(format!("give it one first, such as `{} = …`", name.text)))
                .collect());
        };
        let part = |reading: &Reading| match *reading.content() {
            Content::Magnitude { value, unit: own } => own
                .convert(value, unit)
                .ok_or_else(|| rendering.not_in_unit(name, unit, (value, own))),
            _ => Err(at_name("a number with its unit belongs here".into())),
        };
        let (from, to, by) = (part(&adjust.from)?, part(&adjust.to)?, part(&adjust.by)?);
        let steps = ((to - from) / by + 1e-9).floor();
        if !(from < to && by > 0.0 && (1.0..=MOST_PLACES).contains(&steps)) {
            return Err(rendering.error(format!(
                "from {} to {} by {} gives no places to move to; from 1 to {MOST_PLACES} steps will do",
                number(from),
                number(to),
                number(by)
            )));
        }
        if !(from..=to).contains(&now) {
            return Err(at_name(format!(
                "the reading, {}, lies outside the range",
                join_unit(&number(now), unit)
            )));
        }
        for end in [from, to] {
            let reading = Reading::of(end, unit).map_err(|e| at_name(e.to_string()))?;
            let mut tried = sheet.clone();
            tried
                .set(cell, reading)
                .map_err(|e| at_name(e.to_string()))?;
        }
        Ok(Adjustable {
            cell,
            unit,
            from,
            by,
            count: steps as u32,
            decimals: decimals(from, by),
        })
    }
}

fn decimals(from: f64, by: f64) -> u32 {
    let whole = |value: f64, d: u32| {
        let scaled = value * 10f64.powi(d as i32);
        (scaled - scaled.round()).abs() < 1e-6
    };
    (0..MOST_DECIMALS)
        .find(|d| whole(from, *d) && whole(by, *d))
        .unwrap_or(MOST_DECIMALS)
}

/// The line that stands where nothing can be moved: in a notebook, on paper, without script.
pub(in crate::notebook) fn shown(rendering: &Rendering<'_>, adjust: &Adjust) -> Rendered {
    let found = Adjustable::of(rendering, adjust)?;
    let sheet = rendering.sheet;
    let said = |value: f64| {
        let decimals = found.decimals as usize;
        let text = format!("{value:.decimals$}").replace('-', "−");
        join_unit(&text, found.unit)
    };
    let line = format!(
        "{}: {} (on a page it can be moved from {} to {} by {})",
        sheet.label(found.cell),
        sheet.shown(found.cell),
        said(found.from),
        said(found.to()),
        said(found.by)
    );
    let html = html! { div.adjust { p { (line) } } };
    Ok(Output::new(&rendering.id, line, html.into_string()))
}

#[cfg(test)]
mod tests {
    use crate::notebook::said::said;

    fn shown_for(line: &str) -> String {
        said(&format!(
            "use hemodynamics\nlvot_diameter = 2.05 cm\n{line}"
        ))
    }

    #[test]
    fn a_line_says_what_can_be_moved() {
        assert_eq!(
            shown_for("adjust lvot_diameter from 1.6 cm to 26 mm by 0.5 mm"),
            "LVOT diameter: 2.05 cm (on a page it can be moved from 1.60 cm to 2.60 cm by 0.05 cm)"
        );
    }

    #[test]
    fn what_cannot_be_moved_is_said() {
        for (line, words) in [
            (
                "adjust lvot_vti from 1 cm to 2 cm by 1 mm",
                "has no reading",
            ),
            (
                "adjust lvot_diameter from 1 s to 2 s by 1 s",
                "is in cm, not in s",
            ),
            (
                "adjust lvot_diameter from 2.5 cm to 2.6 cm by 1 mm",
                "outside the range",
            ),
            (
                "adjust lvot_diameter from 2.6 cm to 1.6 cm by 1 mm",
                "no places",
            ),
            ("adjust lvot_diameter from 1.6 cm to 90 cm by 1 mm", "90"),
        ] {
            let said = shown_for(line);
            assert!(said.contains(words), "{line}: {said}");
        }
    }
}

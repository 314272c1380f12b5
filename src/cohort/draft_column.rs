//! What a draft says of one column: its cell, unit and words, or why it is not bound.

use std::fmt::Write as _;

use super::apply::counted;
use super::binding::Part;
use super::draft::{Drafting, one_line, quoted, quoted_list};
use super::draft_match::Match;
use super::draft_persons::could_be_a_persons;
use super::plain_number::plain_number;
use super::trade_units;
use crate::formula::CellId;
use crate::quantity::Unit;

impl Drafting<'_> {
    /// The entry of a column that seems to supply a cell; commented out where it would not do.
    pub(super) fn write_column(&mut self, text: &mut String, column: usize, found: &Match) {
        let heading = self.headings[column].clone();
        let name = self.sheet.name(found.cell);
        let mut entry = ColumnDraft {
            lines: vec![format!("cell = {}", quoted(&name))],
            ..ColumnDraft::default()
        };
        entry.unsure.extend(found.doubt.clone());
        let part = found.part.word();
        if found.part != Part::Value {
            entry.lines.push(format!("part = \"{part}\""));
        }
        let supplied = (name.clone(), part);
        if found.doubt.is_some() && self.sure.contains(&supplied) {
            entry.why_not = Some(format!("another column is headed as {name} just so"));
        } else if !self.taken.insert(supplied) {
            entry.why_not = Some(format!("another column supplies {name} already"));
        }
        let about = self.sheet.about(found.cell);
        if self.sheet.is_derived(found.cell) && about.is_none_or(|a| a.domain.is_none()) {
            entry.why_not = Some(format!(
                "{name} is computed; uncomment to take the table's instead"
            ));
        }
        if self.fields(column).len() == 0 {
            entry
                .unsure
                .push("the column is blank in the rows looked at".into());
        }
        match (found.part, self.sheet.words(found.cell)) {
            (Part::Value, [_, ..]) => self.draft_words(&mut entry, column, found.cell),
            (Part::Value, []) => self.draft_numbers(&mut entry, column, found),
            _ => {
                if let Some(unit) = found.unit.filter(|_| found.part == Part::Uncertainty) {
                    entry.lines.push(format!("unit = {}", quoted(unit.code())));
                }
            }
        }
        self.unsure += entry.unsure.len();
        self.bound += usize::from(entry.why_not.is_none());
        entry.write(text, &heading);
    }

    fn draft_words(&self, entry: &mut ColumnDraft, column: usize, cell: CellId) {
        let known: Vec<&str> = self.sheet.words(cell).iter().map(|w| &**w).collect();
        let words = self.fields(column).words(&known);
        if words.len() > 20 {
            entry.why_not = Some("it holds too many texts to be words of a finding".into());
            return;
        }
        let mapped: Vec<String> = words
            .iter()
            .filter_map(|(field, word)| Some((field, word.as_ref()?)))
            .filter(|(field, word)| **field != word.as_str())
            .map(|(field, word)| format!("{} = {}", quoted(field), quoted(word)))
            .collect();
        if !mapped.is_empty() {
            entry
                .lines
                .push(format!("words = {{ {} }}", mapped.join(", ")));
        }
        for (field, _) in words.iter().filter(|(_, word)| word.is_none()) {
            entry.unsure.push(format!(
                "{} is none of the words {}; add it to words, or to missing",
                quoted(field),
                known.join(", ")
            ));
        }
    }

    fn draft_numbers(&self, entry: &mut ColumnDraft, column: usize, found: &Match) {
        let fields = self.fields(column);
        if let (None, Some(text)) = (found.unit, &found.unread) {
            entry.why_not = Some(format!(
                "the heading says `{text}`, which is no unit that is known here: say the unit{}",
                trade_units::way_out(text)
            ));
            entry.lines.push("unit = \"\"".into());
            return;
        }
        let own = self.sheet.unit(found.cell).unwrap_or(Unit::ONE);
        let mut unit = found.unit.unwrap_or(own);
        let likely = fields.likely_unit(self.sheet, found.cell, self.marks);
        match (found.unit, likely) {
            (Some(stated), likely) => {
                entry
                    .lines
                    .push(format!("unit = {}", quoted(stated.code())));
                if let Some(likely) = likely
                    && fields.is_outside(self.sheet, found.cell, stated, self.marks)
                {
                    entry.unsure.push(format!(
                        "the heading says {stated}, and a median of {} is rather one in {}",
                        likely.median, likely.unit
                    ));
                }
            }
            (None, Some(likely)) if likely.unit == own => {
                if own != Unit::ONE {
                    let line = format!(
                        "unit = {}  # the heading names none; the values fit",
                        quoted(own.code())
                    );
                    entry.lines.push(line);
                }
            }
            (None, Some(likely)) => {
                unit = likely.unit;
                entry.lines.push(format!("unit = {}", quoted(unit.code())));
                entry.unsure.push(format!(
                    "the unit: the heading names none, and a median of {} is possible in {unit}, not in {own}",
                    likely.median
                ));
            }
            (None, None) if fields.carry_units(self.marks) => {}
            (None, None) if fields.len() == 0 => {}
            (None, None) => {
                entry.why_not = Some(format!(
                    "its values are not possible for it in {own} or a like unit"
                ));
            }
        }
        let stand_ins = fields.stand_ins(self.sheet, found.cell, unit);
        if !stand_ins.is_empty() {
            let list = quoted_list(stand_ins);
            entry.unsure.push(format!(
                "{list}: if they stand for nothing, write missing = [{list}]"
            ));
        }
        let texts = fields.texts(self.marks);
        if !texts.is_empty() {
            let first = texts.iter().take(5).map(|(text, _)| text);
            entry.unsure.push(format!(
                "{}, such as {}; those that stand for nothing belong to missing",
                counted(
                    texts.len(),
                    "text that is no number",
                    "texts that are no numbers"
                ),
                quoted_list(first)
            ));
        }
    }

    /// A column that seems to supply nothing: named in a comment, so that it can be bound.
    pub(super) fn write_unbound(&self, text: &mut String, column: usize) {
        let heading = &self.headings[column];
        if heading.trim().is_empty() {
            return;
        }
        let example = self
            .rows
            .iter()
            .map(|row| row[column].trim())
            .find(|field| !field.is_empty());
        // What could be a person's is not written down.
        let is_measured = could_be_a_persons(&self.fields(column)).is_none();
        let example = example.filter(|field| is_measured && plain_number(field).is_some());
        let example = example.map_or_else(String::new, |field| format!(", such as {field}"));
        _ = writeln!(
            text,
            "\n# [columns.{}]  # passes through as it is{example}\n# cell = \"\"",
            quoted(heading)
        );
    }
}

/// What is drafted of one column.
#[derive(Default)]
struct ColumnDraft {
    lines: Vec<String>,
    unsure: Vec<String>,
    /// Why the column is not bound.
    why_not: Option<String>,
}

impl ColumnDraft {
    fn write(&self, text: &mut String, heading: &str) {
        text.push('\n');
        if let Some(why) = &self.why_not {
            _ = writeln!(text, "# Not bound: {}", one_line(why));
        }
        for doubt in &self.unsure {
            _ = writeln!(text, "# unsure: {}", one_line(doubt));
        }
        let mark = if self.why_not.is_some() { "# " } else { "" };
        _ = writeln!(text, "{mark}[columns.{}]", quoted(heading));
        for line in &self.lines {
            _ = writeln!(text, "{mark}{line}");
        }
    }
}

//! The rows that a question is asked of: columns by name, conditions, and what was left out on the way.

use std::borrow::Cow;

use super::fields::{self, Fields};
use super::lacking::never_given;
use super::page::counted;
use crate::cohort::{Cohort, Private};
use crate::formula::CellId;
use crate::formula::notation::{Analysis, Condition, Diagnostic, Name, Test, is_name, likeliest};
use crate::notebook::coupled::{self, Drawn, Told};
use crate::notebook::render::{Rendering, words_of_finding};
use crate::notebook::sides::{is_above, is_below};
use crate::notebook::words::capitalized;
use crate::quantity::{Content, Origin, Reading, Unit};
use crate::sheet::{figure_as_given, in_sentence, join_unit, name_in_words};

/// The group of rows that belong to none.
pub(super) const NOT_SAID: &str = "not said";

/// One known number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Value {
    pub(super) value: f64,
    pub(super) origin: Origin,
}

/// A column of numbers over the rows used.
#[derive(Clone, Debug)]
pub(super) struct Column {
    /// Of the cell, or of the table's column.
    pub(super) name: String,
    /// How a person calls it.
    pub(super) label: String,
    pub(super) unit: Unit,
    pub(super) values: Vec<Option<Value>>,
    /// Entries that are no numbers; they count as missing.
    pub(super) unreadable: usize,
}

impl Column {
    pub(super) fn value(&self, row: usize) -> Option<f64> {
        self.values.get(row).copied().flatten().map(|v| v.value)
    }

    /// Where a value came from; nothing where it is not known.
    pub(super) fn origin(&self, row: usize) -> Option<Origin> {
        self.values.get(row).copied().flatten().map(|v| v.origin)
    }

    pub(super) fn is_rough(&self, row: usize) -> bool {
        self.origin(row).is_some_and(|o| o != Origin::Measured)
    }

    /// The label inside a sentence.
    pub(super) fn said(&self) -> String {
        in_sentence(&self.label)
    }

    /// A number in its unit, for a person.
    pub(super) fn with_unit(&self, figure: &str) -> String {
        join_unit(figure, self.unit)
    }
}

/// Why rows were left out, and how many.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct LeftOut {
    /// What is not known; blank for any other reason.
    pub(super) of: String,
    pub(super) why: String,
    pub(super) count: usize,
}

impl LeftOut {
    /// For a reason that speaks for itself.
    pub(super) fn because(why: impl Into<String>, count: usize) -> LeftOut {
        LeftOut {
            of: String::new(),
            why: why.into(),
            count,
        }
    }

    /// The whole reason.
    pub(super) fn words(&self) -> String {
        format!("{} {}", self.of, self.why).trim_start().to_owned()
    }

    /// Reasons with their counts, what is not known named once for its reasons in a row.
    pub(super) fn all_in_words<'l>(all: impl IntoIterator<Item = &'l LeftOut>) -> Vec<String> {
        let mut before = "";
        let mut words = Vec::new();
        for left in all {
            words.push(match !left.of.is_empty() && left.of == before {
                true => format!("{} {}", left.why, left.count),
                false => format!("{} {}", left.words(), left.count),
            });
            before = &left.of;
        }
        words
    }
}

/// The rows that meet the conditions of a question.
pub(super) struct Rows<'r> {
    pub(super) rendering: &'r Rendering<'r>,
    pub(super) cohort: &'r Cohort,
    pub(super) name: &'r Name,
    /// Positions among the rows used.
    pub(super) kept: Vec<usize>,
    /// What the conditions left out, in their order.
    pub(super) left_out: Vec<LeftOut>,
    /// Whether values that rest on an estimated or assumed reading stay in.
    pub(super) with_estimated: bool,
}

type Found<T> = Result<T, Vec<Diagnostic>>;

impl<'r> Rows<'r> {
    /// The rows of a question's cohort that meet its conditions.
    pub(super) fn of(rendering: &'r Rendering<'r>, analysis: &'r Analysis) -> Found<Rows<'r>> {
        let cohort = rendering.cohort(&analysis.over)?;
        let mut rows = Rows {
            rendering,
            cohort,
            name: &analysis.over,
            kept: (0..cohort.counts.used).collect(),
            left_out: Vec::new(),
            with_estimated: analysis.with_estimated,
        };
        rows.keep(&analysis.conditions)?;
        if rows.kept.is_empty() {
            return Err(rows.none_left());
        }
        Ok(rows)
    }

    fn none_left(&self) -> Vec<Diagnostic> {
        let of = self.cohort.counts.used;
        let name = &self.name.text;
        let message = match (of, self.left_out.is_empty()) {
            (0, _) => {
                let counts = self.cohort.counts;
                match counts.read {
                    0 => format!("`{name}` has no rows"),
                    read => format!(
                        "no row of `{name}` is used: of {read} read, {} are set aside",
                        counts.set_aside
                    ),
                }
            }
            (of, _) => format!("none of the {of} rows used of `{name}` meets the conditions"),
        };
        let why = self.left_out_words();
        vec![
            Diagnostic::error(message, self.rendering.place)
                .hint_if((!why.is_empty()).then(|| format!("left out: {why}"))),
        ]
    }

    /// What was left out: why, and how many rows.
    pub(super) fn left_out_words(&self) -> String {
        let left = self.left_out.iter();
        let all: Vec<String> = left
            .map(|l| format!("{}: {}", l.words(), l.count))
            .collect();
        all.join("; ")
    }

    /// The same rows before any condition, for what is looked at beside them.
    pub(super) fn all(&self) -> Rows<'r> {
        Rows {
            rendering: self.rendering,
            cohort: self.cohort,
            name: self.name,
            kept: (0..self.cohort.counts.used).collect(),
            left_out: Vec::new(),
            with_estimated: self.with_estimated,
        }
    }

    /// Leaves out what does not meet the conditions.
    pub(super) fn keep(&mut self, conditions: &[Condition]) -> Found<()> {
        for condition in conditions {
            let met = self.meets(condition)?;
            if condition.test == Test::Known {
                let said = self.said(&condition.name);
                self.keep_where_known(&condition.name.text, &said, |row| met[row] == Some(true));
                continue;
            }
            let before = self.kept.len();
            self.kept.retain(|row| met[*row] == Some(true));
            let unmet = LeftOut::because(self.unmet(condition), before - self.kept.len());
            self.left_out.push(unmet);
        }
        Ok(())
    }

    /// Leaves out rows by a test of their own.
    pub(super) fn keep_if(&mut self, why: impl Into<String>, test: impl Fn(usize) -> bool) {
        let before = self.kept.len();
        self.kept.retain(|row| test(*row));
        if before > self.kept.len() {
            let left = LeftOut::because(why, before - self.kept.len());
            self.left_out.push(left);
        }
    }

    /// What a column says in the rows kept, where it is known.
    pub(super) fn values_of(&self, column: &Column) -> Vec<f64> {
        let rows = self.kept.iter();
        rows.filter_map(|row| column.value(*row)).collect()
    }

    /// What two cells that are drawn against each other have in common, in the rows kept; nothing
    /// where one is no cell.
    pub(super) fn coupling(
        &self,
        names: [&Name; 2],
        drawn: impl Fn(CellId, CellId) -> Drawn,
        right: &Column,
    ) -> Option<Told> {
        let [a, b] = names.map(|name| self.rendering.sheet.cell(&name.text));
        let rows = self.kept.iter();
        let rows = rows.filter_map(|row| Some((*row, right.value(*row)?)));
        let rows = coupled::from_left_to_right(rows);
        coupled::words(self.rendering, self.cohort, drawn(a?, b?), &rows)
    }

    /// Whether each row used meets a condition; nothing where it is not known.
    pub(super) fn meets(&self, condition: &Condition) -> Found<Vec<Option<bool>>> {
        let name = &condition.name;
        let over = |reading: &Reading, test: fn(f64, f64) -> bool| -> Found<Vec<Option<bool>>> {
            let column = self.numbers(name)?;
            let at = self.in_unit(&column, name, reading)?;
            let rows = 0..self.cohort.counts.used;
            Ok(rows.map(|row| Some(test(column.value(row)?, at))).collect())
        };
        match &condition.test {
            Test::Above(reading) => over(reading, is_above),
            Test::AtLeast(reading) => over(reading, |value, at| !is_below(value, at)),
            Test::Below(reading) => over(reading, is_below),
            Test::AtMost(reading) => over(reading, |value, at| !is_above(value, at)),
            Test::Is(word) => self.says(name, word),
            Test::IsNot(word) => {
                let says = self.says(name, word)?;
                Ok(says.into_iter().map(|s| s.map(|s| !s)).collect())
            }
            Test::Known => Ok(self.is_known(name)?.into_iter().map(Some).collect()),
        }
    }

    /// Whether each row used says a word in a column; an error where no row says it.
    pub(super) fn says(&self, name: &Name, word: &Name) -> Found<Vec<Option<bool>>> {
        let texts = self.texts(name)?;
        if !texts.iter().flatten().any(|text| *text == word.text) {
            let message = format!(
                "no row used of `{}` says `{}` in `{}`",
                self.name.text, word.text, name.text
            );
            let mut known: Vec<&str> = texts.iter().flatten().map(|t| &**t).collect();
            known.sort_unstable();
            known.dedup();
            let known: Vec<&str> = known.into_iter().take(8).collect();
            let hint = format!("it says {}", known.join(", "));
            return Err(vec![
                Diagnostic::error(message, word.place).hint_if((!known.is_empty()).then_some(hint)),
            ]);
        }
        let says = |text: Option<Cow<'_, str>>| text.map(|t| t == word.text);
        Ok(texts.into_iter().map(says).collect())
    }

    /// Whether a cell is known, or a column says something, in each row used.
    pub(super) fn is_known(&self, name: &Name) -> Found<Vec<bool>> {
        if self.rendering.sheet.cell(&name.text).is_some() {
            let column = self.cohort.column(&name.text);
            let rows = 0..self.cohort.counts.used;
            return Ok(rows
                .map(|row| column.is_some_and(|c| c[row].is_some()))
                .collect());
        }
        Ok(self.texts(name)?.iter().map(Option::is_some).collect())
    }

    /// The numbers of a cell, or of a column that is bound to none.
    pub(super) fn numbers(&self, name: &Name) -> Found<Column> {
        match self.rendering.sheet.cell(&name.text) {
            Some(_) => self.of_cell(name),
            None => self.of_table(name),
        }
    }

    fn of_cell(&self, name: &Name) -> Found<Column> {
        let cell = self.rendering.number_cell(name)?;
        let sheet = self.rendering.sheet;
        let Some(values) = self.cohort.column(&name.text) else {
            let message = format!(
                "no row of `{}` could make `{}` known",
                self.name.text, name.text
            );
            let error = Diagnostic::error(message, name.place);
            return Err(vec![
                error.hint(never_given(sheet, self.cohort, cell).hint()),
            ]);
        };
        let value = |v: &Option<crate::cohort::RowValue>| {
            v.map(|v| Value {
                value: v.value,
                origin: v.origin,
            })
        };
        Ok(Column {
            name: name.text.clone(),
            label: exam_label(sheet.label(cell), &name.text),
            unit: sheet.unit(cell).unwrap_or(Unit::ONE),
            values: values.iter().map(value).collect(),
            unreadable: 0,
        })
    }

    fn of_table(&self, name: &Name) -> Found<Column> {
        let Some(fields) = Fields::of(self.cohort, &name.text) else {
            return Err(self.no_such(name));
        };
        if fields.private == Some(Private::Identifier) {
            let message = format!("`{}` holds identifiers, not numbers", name.text);
            let hint = "rows are told apart by it, such as `by`";
            return Err(vec![Diagnostic::error(message, name.place).hint(hint)]);
        }
        let number = |text: &str| text.parse::<f64>().ok().filter(|n| n.is_finite());
        let (values, unreadable) = fields.read(number);
        if values.iter().all(Option::is_none) {
            let message = format!(
                "`{}` of `{}` has no numbers in the rows used",
                name.text, self.name.text
            );
            let is_withheld = fields.private == Some(Private::Date);
            let error = Diagnostic::error(message, name.place);
            let hint = "the binding names it as dates to shift, which are withheld without a key";
            return Err(vec![match is_withheld {
                true => error.hint(hint),
                false => error,
            }]);
        }
        Ok(Column {
            name: name.text.clone(),
            label: label_of(&name.text),
            unit: fields.unit,
            values,
            unreadable,
        })
    }

    /// The words of a finding, or the texts of a column.
    pub(super) fn texts(&self, name: &Name) -> Found<Vec<Option<Cow<'r, str>>>> {
        if let Some(fields) = Fields::of(self.cohort, &name.text) {
            return Ok(fields.texts().map(|text| text.map(Cow::Borrowed)).collect());
        }
        if self.rendering.sheet.cell(&name.text).is_none() {
            return Err(self.no_such(name));
        }
        let cell = self.rendering.cell(name)?;
        self.words_of(name, cell)
    }

    fn words_of(&self, name: &Name, cell: CellId) -> Found<Vec<Option<Cow<'r, str>>>> {
        let words = words_of_finding(self.rendering.sheet, cell);
        if words.is_empty() {
            let message = format!("`{}` has numbers, not words", name.text);
            let error = Diagnostic::error(message, name.place);
            return Err(vec![
                error.hint(format!("compare it, such as `{} > 0`", name.text)),
            ]);
        }
        let column = self.cohort.column(&name.text);
        let rows = 0..self.cohort.counts.used;
        let word = |row: usize| {
            let code = column?.get(row).copied().flatten()?.value;
            let word = words.get(code as usize)?;
            Some(Cow::Owned(word.to_string()))
        };
        Ok(rows.map(word).collect())
    }

    fn no_such(&self, name: &Name) -> Vec<Diagnostic> {
        let message = format!(
            "`{}` is neither a cell of the sheet nor a column of `{}`",
            name.text, self.name.text
        );
        let columns = fields::names(self.cohort);
        let near = likeliest(&name.text, columns.iter().copied()).map(str::to_owned);
        let near = near.or_else(|| self.rendering.sheet.nearest_name(&name.text));
        let lost = self.rendering.lost.names.get(&name.text).cloned();
        let hint = lost.or(near.map(|near| match is_name(&near) {
            true => format!("did you mean `{near}`?"),
            false => format!("did you mean `\"{near}\"`, in quotation marks?"),
        }));
        vec![Diagnostic::error(message, name.place).hint_if(hint)]
    }

    /// A number of the statement in the unit of a column.
    pub(super) fn in_unit(&self, column: &Column, name: &Name, reading: &Reading) -> Found<f64> {
        let Content::Magnitude { value, unit } = *reading.content() else {
            return Err(self.rendering.error("a number with its unit belongs here"));
        };
        if is_share_meant(value, unit, column.unit) {
            let figure = figure_as_given(value);
            let message = format!(
                "`{}` is in %, and a bare {figure} would be {} %",
                name.text,
                figure_as_given(100.0 * value)
            );
            let hint = format!("such as `{figure} %`");
            return Err(vec![Diagnostic::error(message, name.place).hint(hint)]);
        }
        unit.convert(value, column.unit).ok_or_else(|| {
            let own = unit_words(column.unit);
            let message = format!("`{}` is {own}, not {}", name.text, unit_words(unit));
            vec![Diagnostic::error(message, name.place)]
        })
    }

    /// The groups, and last the kept rows in which the column is blank, as `not said`.
    pub(super) fn grouped_with_blank(&self, name: &Name) -> Found<Vec<(String, Vec<usize>)>> {
        let mut groups = self.grouped(name)?;
        let blank = self.blank_rows(name)?;
        if !blank.is_empty() {
            groups.push((NOT_SAID.to_owned(), blank));
        }
        Ok(groups)
    }

    /// The kept rows in which a column is blank.
    pub(super) fn blank_rows(&self, name: &Name) -> Found<Vec<usize>> {
        let texts = self.texts(name)?;
        let kept = self.kept.iter().copied();
        Ok(kept.filter(|row| texts[*row].is_none()).collect())
    }

    /// Leaves out the rows in which a column is blank.
    pub(super) fn keep_said(&mut self, name: &Name) -> Found<()> {
        let texts = self.texts(name)?;
        let why = format!("{} {NOT_SAID}", spaced(&name.text));
        self.keep_if(why, |row| texts[row].is_some());
        Ok(())
    }

    /// Refuses a column that says one thing in every row of a question that needs it to differ.
    pub(super) fn check_varies(&self, column: &Column) -> Found<()> {
        let values = self.values_of(column);
        let Some(first) = values.first() else {
            return Ok(());
        };
        if values.iter().any(|value| value != first) {
            return Ok(());
        }
        let message = format!(
            "{} is {} in {}: nothing can be set against it",
            column.said(),
            column.with_unit(&figure_as_given(*first)),
            match values.len() {
                1 => "the one row".to_owned(),
                rows => format!("all {rows} rows"),
            }
        );
        let hint = "ask over rows in which it differs, or of something else";
        Err(vec![
            Diagnostic::error(message, self.rendering.place).hint(hint),
        ])
    }

    /// Refuses a share of none or all, about which limits would have no width.
    pub(super) fn check_share_varies(&self, said: &str, count: usize, of: usize) -> Found<()> {
        let words = match count {
            0 => format!("{said} in none of {}", counted(of, "row", "rows")),
            all if all == of => format!("{said} in every one of {}", counted(of, "row", "rows")),
            _ => return Ok(()),
        };
        let message = format!("{words}: limits would have no width");
        let hint = "ask over rows, or a longer baseline, in which it differs, or of something else";
        Err(vec![
            Diagnostic::error(message, self.rendering.place).hint(hint),
        ])
    }

    /// The texts of a column as groups: of the kept rows, and the words in order.
    pub(super) fn grouped(&self, name: &Name) -> Found<Vec<(String, Vec<usize>)>> {
        let texts = self.texts(name)?;
        let mut groups: std::collections::BTreeMap<String, Vec<usize>> =
            std::collections::BTreeMap::new();
        for row in &self.kept {
            if let Some(text) = &texts[*row] {
                groups.entry(text.to_string()).or_default().push(*row);
            }
        }
        let mut groups: Vec<(String, Vec<usize>)> = groups.into_iter().collect();
        if Fields::of(self.cohort, &name.text).is_some_and(|fields| fields.private.is_some()) {
            // `patient 2` comes before `patient 10`.
            groups.sort_by_key(|(text, _)| text.len());
        }
        Ok(groups)
    }
}

/// Whether a bare number of 1 or more stands where per cents are meant.
fn is_share_meant(value: f64, unit: Unit, column: Unit) -> bool {
    unit.pretty().is_empty() && column.pretty() == "%" && value.abs() >= 1.0
}

fn unit_words(unit: Unit) -> String {
    match unit.pretty() {
        "" => "a bare number".to_owned(),
        pretty => format!("in {pretty}"),
    }
}

/// Names of the notation in a sentence.
pub(super) fn in_code(names: &[String]) -> String {
    let names: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    match &names[..] {
        [before @ .., last] if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => names.concat(),
    }
}

/// A column's name as words.
pub(super) fn label_of(name: &str) -> String {
    capitalized(&name_in_words(name))
}

/// A cell's label; the exam it belongs to is part of what it is.
pub(super) fn exam_label(label: String, name: &str) -> String {
    match name.split_once('.') {
        Some((exam, _)) if !label.to_lowercase().contains(&exam.to_lowercase()) => {
            format!("{label}, {exam}")
        }
        _ => label,
    }
}

impl Rows<'_> {
    /// A condition as a person reads it.
    pub(super) fn in_words(&self, condition: &Condition) -> String {
        let name = self.said(&condition.name);
        let amount = |reading: &Reading| match *reading.content() {
            Content::Magnitude { value, unit } => join_unit(&figure_as_given(value), unit),
            _ => String::new(),
        };
        match &condition.test {
            Test::Is(word) => format!("{name} is {}", spaced(&word.text)),
            Test::IsNot(word) => format!("{name} is not {}", spaced(&word.text)),
            Test::Known => format!("{name} is known"),
            Test::Above(reading) => format!("{name} > {}", amount(reading)),
            Test::AtLeast(reading) => format!("{name} ≥ {}", amount(reading)),
            Test::Below(reading) => format!("{name} < {}", amount(reading)),
            Test::AtMost(reading) => format!("{name} ≤ {}", amount(reading)),
        }
    }

    /// What rows have that do not meet a condition.
    fn unmet(&self, condition: &Condition) -> String {
        let name = self.said(&condition.name);
        match &condition.test {
            Test::Is(word) => format!("{name} not {}", spaced(&word.text)),
            Test::IsNot(word) => format!("{name} {}", spaced(&word.text)),
            Test::Known => format!("{name} not known"),
            _ => format!("not {}", self.in_words(condition)),
        }
    }

    /// A cell or column inside a sentence.
    pub(super) fn said(&self, name: &Name) -> String {
        match self.rendering.sheet.cell(&name.text) {
            Some(cell) => in_sentence(&exam_label(self.rendering.sheet.label(cell), &name.text)),
            None => in_sentence(&label_of(&name.text)),
        }
    }

    /// All conditions as a person reads them, after a word; nothing without any.
    pub(super) fn all_in_words(&self, before: &str, conditions: &[Condition]) -> String {
        let words: Vec<String> = conditions.iter().map(|c| self.in_words(c)).collect();
        match words.is_empty() {
            true => String::new(),
            false => format!("{before}{}", words.join(" and ")),
        }
    }

    /// How the notebook computes a cell, for whoever reads the result: `NAME = FORMULA`.
    pub(super) fn formula(&self, name: &Name) -> Option<String> {
        let cell = self.rendering.sheet.cell(&name.text)?;
        let formula = self.rendering.sheet.formula_text(cell)?;
        Some(format!("{} is computed as {formula}.", name.text))
    }
}

/// A word of the notation as a person writes it.
pub(super) fn spaced(word: &str) -> String {
    word.replace(['_', '.'], " ")
}

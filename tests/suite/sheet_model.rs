//! A model of a sheet that knows nothing of recomputation: it keeps what was put in, and builds a
//! new sheet from it, operands first.

use std::collections::BTreeSet;

use semilunar::formula::{CellId, Facet, Target, notation};
use semilunar::quantity::{Content, Kind, Origin, Reading, Unit};
use semilunar::sheet::{About, Asked, Sheet};

/// What anyone can see of a cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    pub state: &'static str,
    pub bits: Option<u64>,
    pub origin: Option<Origin>,
    pub because: BTreeSet<String>,
}

pub fn seen(sheet: &Sheet, cell: CellId) -> Seen {
    Seen {
        state: sheet.state(cell).unwrap().word(),
        bits: sheet.value(cell).map(f64::to_bits),
        origin: sheet.origin(cell),
        because: sheet.because(cell).into_iter().collect(),
    }
}

pub fn unit(code: &str) -> Unit {
    Unit::parse(code).unwrap()
}

#[derive(Clone, Debug)]
pub enum Made {
    Input,
    Finding,
    /// A template of [`TEMPLATES`] over cells of the model.
    Formula(usize, [usize; 3]),
}

#[derive(Clone, Debug)]
pub struct ModelCell {
    pub name: String,
    pub made: Made,
    pub reading: Option<Reading>,
    pub id: CellId,
}

/// Formulas over `A`, `B`, `C`, all lengths, and the finding `F`: sums, branches, fallbacks,
/// clamps, faults, and questions about readings.
pub const TEMPLATES: &[&str] = &[
    "A + B",
    "A - B",
    "A",
    "min(A, B, C)",
    "max(A, B) + C",
    "mean(A, B)",
    "clamp(A, 1 cm, 2 cm)",
    "abs(A) * 2",
    "A * B / C",
    "1 cm * sqrt(A / 1 cm)",
    "1 cm * ln(A / 1 cm)",
    "A else B",
    "A else B else C",
    "if A > B then A else C",
    "if A <= 1 cm then B else C",
    "if F is yes then A else B",
    "if F is missing then A else B + C",
    "if A is known then A else B",
    "if A is estimated or B is assumed then C else A",
    "if beat_count(A) >= 3 then A else B",
    "if A is largest then withheld \"a largest beat\" else A",
    "if A is unobtainable then B else A",
    "if reading is known then reading + A else B",
    "if reading is unobtainable then A else reading",
    "if F is no then withheld \"it was said to be no\" else A + B",
    "estimated(A)",
    "assumed(A else B)",
];

#[derive(Clone)]
pub struct Model {
    pub cells: Vec<Option<ModelCell>>,
    pub finding: usize,
    pub names_given: usize,
}

/// What a reading answers beyond its value, and why it says nothing where it does not.
pub fn asked_of_reading(reading: Option<&Reading>, facet: Facet) -> Result<u32, &'static str> {
    let content = reading.map(Reading::content);
    let is_given = matches!(content, Some(Content::Magnitude { .. } | Content::Word(_)));
    let is_unobtainable = content == Some(&Content::Unobtainable);
    match facet {
        Facet::Value => Err("not a question about the reading"),
        Facet::Given => Ok(u32::from(is_given)),
        Facet::Beats => match reading {
            Some(reading) if is_given => Ok(reading.beats().count()),
            _ if is_unobtainable => Err("could not be obtained"),
            _ => Err("no reading"),
        },
        Facet::Largest => Ok(u32::from(reading.is_some_and(|r| r.beats().is_largest()))),
        Facet::Unobtainable => Ok(u32::from(is_unobtainable)),
    }
}

impl Model {
    pub fn new() -> Model {
        Model {
            cells: Vec::new(),
            finding: 0,
            names_given: 0,
        }
    }

    pub fn alive(&self) -> Vec<usize> {
        (0..self.cells.len())
            .filter(|i| self.cells[*i].is_some())
            .collect()
    }

    pub fn cell(&self, at: usize) -> &ModelCell {
        self.cells[at].as_ref().unwrap()
    }

    pub fn text(&self, made: &Made) -> Option<String> {
        let Made::Formula(template, operands) = made else {
            return None;
        };
        let mut text = String::new();
        for c in TEMPLATES[*template].chars() {
            match "ABC".find(c) {
                Some(at) => text += &self.cell(operands[at]).name,
                None if c == 'F' => text += &self.cell(self.finding).name,
                None => text.push(c),
            }
        }
        Some(text)
    }

    /// The formula, and who is asked what.
    pub fn parsed(&self, made: &Made, own: usize) -> (notation::Parsed, Vec<(usize, Facet)>) {
        let parsed = notation::formula(&self.text(made).unwrap(), 0).unwrap();
        let operands = parsed
            .names
            .iter()
            .zip(parsed.formula.operands())
            .map(|(name, facet)| match name == notation::OWN_READING {
                true => (own, *facet),
                false => (self.by_name(name), *facet),
            })
            .collect();
        (parsed, operands)
    }

    pub fn by_name(&self, name: &str) -> usize {
        let is_it = |i: &usize| self.cell(*i).name == name;
        self.alive().into_iter().find(is_it).unwrap()
    }

    /// The cells that a formula names; its own reading is no other cell.
    pub fn needs(&self, made: &Made, own: usize) -> BTreeSet<usize> {
        match made {
            Made::Input | Made::Finding => BTreeSet::new(),
            Made::Formula(..) => {
                let (parsed, operands) = self.parsed(made, own);
                let names = parsed.names.iter().zip(operands);
                names
                    .filter(|(name, _)| *name != notation::OWN_READING)
                    .map(|(_, (cell, _))| cell)
                    .collect()
            }
        }
    }

    /// Whether `from` is, or needs, `to`.
    pub fn leads_to(&self, from: usize, to: usize) -> bool {
        let needs = self.needs(&self.cell(from).made, from);
        from == to || needs.into_iter().any(|n| self.leads_to(n, to))
    }

    pub fn users(&self, of: usize) -> Vec<usize> {
        let uses = |i: &usize| self.needs(&self.cell(*i).made, *i).contains(&of);
        self.alive()
            .into_iter()
            .filter(|i| *i != of && uses(i))
            .collect()
    }

    pub fn asked(
        &self,
        own: usize,
        operands: &[(usize, Facet)],
        parsed: &notation::Parsed,
    ) -> Vec<Asked> {
        let is_own = parsed.names.iter().map(|n| n == notation::OWN_READING);
        operands
            .iter()
            .zip(is_own)
            .map(|((cell, facet), is_own)| Asked {
                cell: (!is_own || *cell != own).then(|| self.cell(*cell).id),
                facet: *facet,
            })
            .collect()
    }

    /// A new sheet from what was put in, operands first, with each cell's place in the model.
    pub fn fresh(&self) -> (Sheet, Vec<(usize, CellId)>) {
        let mut sheet = Sheet::new();
        let mut built: Vec<(usize, CellId)> = Vec::new();
        let mut left = self.alive();
        while !left.is_empty() {
            let ready = left
                .iter()
                .position(|at| {
                    let needs = self.needs(&self.cell(*at).made, *at);
                    needs.iter().all(|n| built.iter().any(|(b, _)| b == n))
                })
                .expect("a model without circles");
            let at = left.remove(ready);
            let cell = self.cell(at);
            let id = match &cell.made {
                Made::Input => sheet
                    .add_named_input(About::named(&cell.name), unit("cm"), Kind::Plain)
                    .unwrap(),
                Made::Finding => sheet
                    .add_named_input(finding(&cell.name), Unit::ONE, Kind::Plain)
                    .unwrap(),
                made => {
                    let (parsed, operands) = self.parsed(made, at);
                    let asked: Vec<Asked> = self
                        .asked(at, &operands, &parsed)
                        .into_iter()
                        .zip(&operands)
                        .map(|(asked, (of, facet))| Asked {
                            cell: asked
                                .cell
                                .map(|_| built.iter().find(|(b, _)| b == of).unwrap().1),
                            facet: *facet,
                        })
                        .collect();
                    sheet
                        .add_named_formula(
                            About::named(&cell.name),
                            parsed.formula,
                            &asked,
                            in_cm(),
                        )
                        .unwrap()
                }
            };
            if let Some(reading) = &cell.reading {
                sheet.set(id, reading.clone()).unwrap();
            }
            built.push((at, id));
        }
        (sheet, built)
    }
}

pub fn finding(name: &str) -> About {
    About {
        words: ["yes".into(), "no".into()].into(),
        ..About::named(name)
    }
}

pub fn in_cm() -> Target {
    Target {
        unit: Some(unit("cm")),
        ..Target::default()
    }
}

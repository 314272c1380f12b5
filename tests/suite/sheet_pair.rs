//! A sheet beside its model: each edit is made to both, and checked.

use std::collections::BTreeSet;

use semilunar::formula::{CellId, Facet};
use semilunar::quantity::{Beats, Kind, Origin, Reading, Unit};
use semilunar::sheet::{About, Edit, EditError, Sheet};

use crate::sheet_model::{
    Made, Model, ModelCell, Seen, TEMPLATES, asked_of_reading, finding, in_cm, seen, unit,
};

pub struct Pair {
    model: Model,
    sheet: Sheet,
}

/// Raw numbers that an edit is made of.
pub type Raw = [u8; 6];

impl Pair {
    pub fn new(shape: &[Raw]) -> Pair {
        let mut pair = Pair {
            model: Model::new(),
            sheet: Sheet::new(),
        };
        pair.add(Made::Finding);
        pair.add(Made::Input);
        pair.add(Made::Input);
        for raw in shape {
            pair.grow(*raw);
        }
        pair
    }

    pub fn grow(&mut self, raw: Raw) {
        match raw[0] % 4 {
            0 => self.add(Made::Input),
            _ => {
                let made = self.formula(raw);
                self.add(made);
            }
        }
    }

    pub fn lengths(&self) -> Vec<usize> {
        let is_length = |i: &usize| !matches!(self.model.cell(*i).made, Made::Finding);
        self.model.alive().into_iter().filter(is_length).collect()
    }

    pub fn formula(&self, raw: Raw) -> Made {
        let lengths = self.lengths();
        let pick = |n: u8| lengths[n as usize % lengths.len()];
        Made::Formula(
            raw[1] as usize % TEMPLATES.len(),
            [pick(raw[2]), pick(raw[3]), pick(raw[4])],
        )
    }

    pub fn add(&mut self, made: Made) {
        let at = self.model.cells.len();
        let name = format!("cell_{}", self.model.names_given);
        self.model.names_given += 1;
        let id = match &made {
            Made::Input => self
                .sheet
                .add_named_input(About::named(&name), unit("cm"), Kind::Plain)
                .unwrap(),
            Made::Finding => self
                .sheet
                .add_named_input(finding(&name), Unit::ONE, Kind::Plain)
                .unwrap(),
            Made::Formula(..) => {
                let (parsed, operands) = self.model.parsed(&made, at);
                let asked = self.model.asked(at, &operands, &parsed);
                self.sheet
                    .add_named_formula(About::named(&name), parsed.formula, &asked, in_cm())
                    .unwrap()
            }
        };
        self.model.cells.push(Some(ModelCell {
            name,
            made,
            reading: None,
            id,
        }));
    }

    /// The cells as lines, for messages.
    pub fn told(&self) -> String {
        let line = |at: usize| {
            let cell = self.model.cell(at);
            let formula = self.model.text(&cell.made).unwrap_or_default();
            let seen = seen(&self.sheet, cell.id);
            format!(
                "\n{at}: {} = {formula} {:?}\n    {seen:?}",
                cell.name, cell.reading
            )
        };
        self.model.alive().into_iter().map(line).collect()
    }

    pub fn all_seen(&self) -> Vec<Option<Seen>> {
        let cells = self.model.cells.iter();
        cells
            .map(|cell| Some(seen(&self.sheet, cell.as_ref()?.id)))
            .collect()
    }

    /// One edit of any sort, checked against the model.
    pub fn edit(&mut self, raw: Raw) {
        match raw[0] % 12 {
            0..=4 => self.set(&[raw]),
            5 | 6 => {
                let more = [raw[1], raw[4], raw[2], raw[5], raw[3], raw[0]];
                let again = [raw[0], raw[1], raw[5], raw[2], raw[4], raw[3]];
                self.set(&[raw, more, again]);
            }
            7 | 8 => self.redefine(raw),
            9 => self.remove(raw),
            10 => self.rename(raw),
            _ => {
                if self.model.alive().len() < 16 {
                    self.grow(raw);
                } else {
                    self.set(&[raw]);
                }
            }
        }
        self.is_as_built_anew();
    }

    pub fn set(&mut self, raws: &[Raw]) {
        let alive = self.model.alive();
        let readings: Vec<(usize, Reading)> = raws
            .iter()
            .map(|raw| {
                let at = alive[raw[1] as usize % alive.len()];
                let is_finding = matches!(self.model.cell(at).made, Made::Finding);
                (at, reading(*raw, is_finding))
            })
            .collect();
        let fits = readings
            .iter()
            .all(|(at, r)| self.sheet.fits(self.model.cell(*at).id, r).is_ok());
        let before = self.all_seen();
        let former = self.model.clone();
        let batch: Vec<(CellId, Reading)> = readings
            .iter()
            .map(|(at, r)| (self.model.cell(*at).id, r.clone()))
            .collect();
        let edit = match batch.len() {
            1 => self.sheet.set(batch[0].0, batch[0].1.clone()).cloned(),
            _ => self.sheet.set_all(batch).cloned(),
        };
        assert_eq!(edit.is_ok(), fits);
        let Ok(edit) = edit else {
            assert_eq!(self.all_seen(), before, "a refused edit left something");
            return;
        };
        let mut restated = BTreeSet::new();
        for (at, reading) in readings {
            restated.insert(at);
            self.model.cells[at].as_mut().unwrap().reading = Some(reading);
        }
        self.was_minimal(&before, &former, &restated, &edit);
        let told: BTreeSet<CellId> = edit.restated.iter().copied().collect();
        let meant: BTreeSet<CellId> = restated.iter().map(|at| self.model.cell(*at).id).collect();
        assert_eq!(told, meant);
        assert_eq!(told.len(), edit.restated.len());
    }

    pub fn redefine(&mut self, raw: Raw) {
        let alive = self.model.alive();
        let at = alive[raw[5] as usize % alive.len()];
        let made = self.formula(raw);
        let before = self.all_seen();
        let former = self.model.clone();
        let (parsed, operands) = self.model.parsed(&made, at);
        let asked = self.model.asked(at, &operands, &parsed);
        let closes_circle = self
            .model
            .needs(&made, at)
            .into_iter()
            .any(|n| self.model.leads_to(n, at));
        let is_finding = matches!(self.model.cell(at).made, Made::Finding);
        let edit = self
            .sheet
            .redefine(self.model.cell(at).id, parsed.formula, &asked)
            .cloned();
        match edit {
            Ok(edit) => {
                assert!(!closes_circle && !is_finding);
                self.model.cells[at].as_mut().unwrap().made = made;
                self.was_minimal(&before, &former, &BTreeSet::from([at]), &edit);
            }
            Err(EditError::Cycle { path }) => {
                assert!(closes_circle);
                self.is_circle(&path, at, &made);
                assert_eq!(self.all_seen(), before, "a refused edit left something");
            }
            Err(EditError::NumberForFinding { .. }) => assert!(is_finding),
            Err(other) => panic!("{other}"),
        }
    }

    /// Each cell of the path needs the next, with the refused formula in place.
    pub fn is_circle(&self, path: &[String], at: usize, made: &Made) {
        assert_eq!(path.first(), path.last());
        assert_eq!(path[0], self.model.cell(at).name);
        for step in path.windows(2) {
            let [from, to] = [&step[0], &step[1]].map(|n| self.model.by_name(n));
            let made = match from == at {
                true => made,
                false => &self.model.cell(from).made,
            };
            assert!(self.model.needs(made, from).contains(&to), "{path:?}");
        }
    }

    pub fn remove(&mut self, raw: Raw) {
        let lengths = self.lengths();
        let at = lengths[raw[1] as usize % lengths.len()];
        let before = self.all_seen();
        let users = self.model.users(at);
        let id = self.model.cell(at).id;
        // The first inputs stay, so that there is always something to ask for.
        if lengths.len() <= 3 {
            return;
        }
        match self.sheet.remove(id) {
            Ok(()) => {
                assert!(users.is_empty());
                let cell = self.model.cells[at].take().unwrap();
                assert_eq!(self.sheet.state(id), None);
                assert_eq!(self.sheet.value(id), None);
                assert_eq!(self.sheet.cell(&cell.name), None);
                let foreign = self.sheet.set(id, Reading::unknown()).cloned();
                assert_eq!(foreign, Err(EditError::ForeignHandle));
                let mut left = before;
                left[at] = None;
                assert_eq!(self.all_seen(), left);
            }
            Err(EditError::InUse { name, dependents }) => {
                assert_eq!(name, self.model.cell(at).name);
                let told: BTreeSet<String> = dependents.into_iter().collect();
                let meant: BTreeSet<String> = users
                    .iter()
                    .map(|u| self.model.cell(*u).name.clone())
                    .collect();
                assert_eq!(told, meant);
                assert_eq!(self.all_seen(), before);
            }
            Err(other) => panic!("{other}"),
        }
    }

    pub fn rename(&mut self, raw: Raw) {
        let alive = self.model.alive();
        let at = alive[raw[1] as usize % alive.len()];
        let id = self.model.cell(at).id;
        let taken = self
            .model
            .cell(alive[raw[2] as usize % alive.len()])
            .name
            .clone();
        let refused = self.sheet.rename(id, &taken);
        assert_eq!(refused, Err(EditError::NameTaken { name: taken }));
        let bad = self.sheet.rename(id, "if");
        assert_eq!(bad, Err(EditError::BadName { name: "if".into() }));
        let name = format!("renamed_{}", self.model.names_given);
        self.model.names_given += 1;
        self.sheet.rename(id, &name).unwrap();
        let former = std::mem::replace(&mut self.model.cells[at].as_mut().unwrap().name, name);
        assert_eq!(self.sheet.cell(&former), None);
    }

    /// The sheet is what its model builds, to the bit.
    pub fn is_as_built_anew(&self) {
        let (fresh, built) = self.model.fresh();
        for (at, id) in built {
            let cell = self.model.cell(at);
            assert_eq!(
                seen(&self.sheet, cell.id),
                seen(&fresh, id),
                "{} = {:?} {:?}",
                cell.name,
                self.model.text(&cell.made),
                cell.reading
            );
            assert_eq!(self.sheet.name(cell.id), cell.name);
            assert_eq!(self.sheet.cell(&cell.name), Some(cell.id));
            assert_eq!(self.sheet.formula_text(cell.id), fresh.formula_text(id));
        }
        assert_eq!(self.sheet.len(), self.model.alive().len());
        assert_eq!(self.sheet.cells().count(), self.model.alive().len());
    }

    /// A cell was evaluated if and only if its own reading or formula was touched, or something
    /// that its formula asks for is another; each at most once, operands first; and `changed`
    /// tells what changed.
    pub fn was_minimal(
        &self,
        before: &[Option<Seen>],
        former: &Model,
        touched: &BTreeSet<usize>,
        edit: &Edit,
    ) {
        let after = self.all_seen();
        let is_other = |at: usize, facet: Facet| match facet {
            Facet::Value => before[at] != after[at],
            facet => {
                let reading = |m: &Model| asked_of_reading(m.cell(at).reading.as_ref(), facet);
                reading(former) != reading(&self.model)
            }
        };
        let mut due = BTreeSet::new();
        for at in self.model.alive() {
            let made = &self.model.cell(at).made;
            if matches!(made, Made::Formula(..)) {
                let (_, operands) = self.model.parsed(made, at);
                if touched.contains(&at) || operands.iter().any(|(of, f)| is_other(*of, *f)) {
                    due.insert(at);
                }
            }
        }
        let at_of = |id: &CellId| {
            let is_it = |at: &usize| self.model.cell(*at).id == *id;
            self.model.alive().into_iter().find(is_it).unwrap()
        };
        let order: Vec<usize> = edit.recomputed.iter().map(at_of).collect();
        let done: BTreeSet<usize> = order.iter().copied().collect();
        assert_eq!(done.len(), order.len(), "a cell was evaluated twice");
        assert_eq!(done, due, "evaluated, and due, in {}", self.told());
        for (i, at) in order.iter().enumerate() {
            let needs = self.model.needs(&self.model.cell(*at).made, *at);
            assert!(
                order[i..].iter().all(|later| !needs.contains(later)),
                "a cell was evaluated before what it needs"
            );
        }
        let changed: Vec<usize> = edit.changed.iter().map(at_of).collect();
        let told: BTreeSet<usize> = changed.iter().copied().collect();
        let meant: BTreeSet<usize> = self
            .model
            .alive()
            .into_iter()
            .filter(|at| before[*at] != after[*at])
            .collect();
        assert_eq!(told.len(), changed.len());
        assert_eq!(told, meant, "told as changed, and changed");
    }
}

/// A reading of any sort; one in sixteen does not fit its cell.
pub fn reading(raw: Raw, is_finding: bool) -> Reading {
    let origin = [Origin::Measured, Origin::Estimated, Origin::Assumed][raw[4] as usize % 3];
    if is_finding {
        return match raw[2] % 8 {
            0 => Reading::unknown(),
            1 => Reading::unobtainable(),
            2 => Reading::word("perhaps"),
            n => Reading::word(["yes", "no"][n as usize % 2]).with_origin(origin),
        };
    }
    let number = [0.0, 1.0, 2.0, 2.5, -1.0, 3.0, 20.0, 1e200][raw[3] as usize % 8];
    let in_unit = [unit("cm"), unit("mm")][raw[5] as usize % 2];
    match raw[2] % 16 {
        0 | 1 => Reading::unknown(),
        2 => Reading::unobtainable(),
        3 => Reading::of(number, unit("s")).unwrap(),
        4 | 5 => Reading::of_beats(Beats::Mean(vec![number; 3]), in_unit).unwrap(),
        6 => Reading::of_beats(Beats::Largest(vec![number, -5.0]), in_unit).unwrap(),
        7 => Reading::of(number, in_unit)
            .unwrap()
            .with_beat_count(5)
            .unwrap(),
        8 => Reading::unknown_in(unit("km")),
        _ => Reading::of(number, in_unit).unwrap().with_origin(origin),
    }
}

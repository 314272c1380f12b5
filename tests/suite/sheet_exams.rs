//! The same laws on the catalogue: two named exams, what they share, and their changes.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use semilunar::formula::{CellId, notation};
use semilunar::sheet::{Asked, Edit, Sheet};

use crate::sheet_model::{Seen, seen};
use crate::sheet_support::sheet;

/// Cells that readings are put into: of one exam, shared by both, derived, and a change.
const CELLS: &[(&str, &[&str])] = &[
    ("lvot_vti", VTI),
    ("before.lvot_vti", VTI),
    ("after.lvot_vti", VTI),
    ("lvot_diameter", DIAMETER),
    ("before.lvot_diameter", DIAMETER),
    ("after.lvot_diameter", DIAMETER),
    ("height", &["?", "1.7 m", "180 cm assumed"]),
    ("before.height", &["?", "170 cm", "unobtainable"]),
    (
        "weight",
        &["?", "70 kg", "62.5 kg estimated", "unobtainable"],
    ),
    ("rhythm", RHYTHM),
    ("before.rhythm", RHYTHM),
    ("after.rhythm", RHYTHM),
    ("signal", &["?", "good", "poor"]),
    ("after.signal", &["?", "good", "poor"]),
    (
        "before.heart_rate",
        &["?", "70 /min", "96 bpm", "70 /min (u = 2 /min)"],
    ),
    ("after.heart_rate", &["?", "70 /min", "88 /min"]),
    (
        "systolic_pressure",
        &["?", "120 mm[Hg]", "16 kPa", "60 mm[Hg]"],
    ),
    ("diastolic_pressure", &["?", "80 mm[Hg]", "70 mmHg assumed"]),
    (
        "before.mean_pressure",
        &["?", "68 mm[Hg]", "93 mm[Hg] estimated"],
    ),
    ("after.mean_pressure", &["?", "75 mm[Hg]"]),
    (
        "before.central_venous_pressure",
        &["?", "5 mm[Hg]", "90 mm[Hg]", "8 mm[Hg] assumed"],
    ),
    ("before.stroke_volume", &["?", "60 mL", "unobtainable"]),
    ("change.stroke_volume", &["?", "12 %"]),
    ("before.age_group", &["?", "adult", "child"]),
];
const VTI: &[&str] = &[
    "?",
    "18 cm",
    "beats(17.8, 18.4, 18.1) cm",
    "beats(17.8, 18.4) cm",
    "largest(17.8, 18.4, 18.1) cm",
    "180 mm (n = 5)",
    "unobtainable",
    "1 km",
];
const DIAMETER: &[&str] = &[
    "?",
    "2.05 cm",
    "20.5 mm",
    "2.1 cm assumed",
    "unobtainable",
    "9 cm",
];
const RHYTHM: &[&str] = &["?", "regular", "irregular", "unobtainable", "wild"];

/// Formulas that take the place of the catalogue's.
const FORMULAS: &[(&str, &[&str])] = &[
    (
        "before.body_surface_area",
        &[
            "before.body_surface_area_mosteller",
            "estimated(1.9 m2)",
            "before.height * after.height",
        ],
    ),
    (
        "after.cardiac_output",
        &[
            "after.stroke_volume * before.heart_rate",
            "before.cardiac_output else 5 L/min",
        ],
    ),
    (
        "after.central_venous_pressure",
        &["before.central_venous_pressure", "assumed(8 mm[Hg])"],
    ),
];

const USE: &str = "use hemodynamics as before\nuse hemodynamics as after\ncompare before, after\n";

struct Exams {
    lines: BTreeMap<&'static str, &'static str>,
    sheet: Sheet,
}

impl Exams {
    fn new() -> Exams {
        let lines: BTreeMap<&str, &str> = CELLS.iter().map(|(name, _)| (*name, "?")).collect();
        let sheet = sheet(&text(&lines));
        Exams { lines, sheet }
    }

    fn all_seen(&self) -> BTreeMap<CellId, Seen> {
        let cells = self.sheet.cells();
        cells.map(|cell| (cell, seen(&self.sheet, cell))).collect()
    }

    fn edit(&mut self, raws: &[[u8; 3]]) {
        let before = self.all_seen();
        let mut lines = self.lines.clone();
        let mut batch = Vec::new();
        for [cell, reading, _] in raws {
            let (name, readings) = CELLS[*cell as usize % CELLS.len()];
            let text = readings[*reading as usize % readings.len()];
            let reading = notation::reading(text, 0).unwrap();
            batch.push((self.sheet.cell(name).unwrap(), reading));
            lines.insert(name, text);
        }
        let fits = batch
            .iter()
            .all(|(cell, r)| self.sheet.fits(*cell, r).is_ok());
        let edit = self.sheet.set_all(batch).cloned();
        assert_eq!(edit.is_ok(), fits);
        match edit {
            Ok(edit) => {
                self.lines = lines;
                self.was_in_order(&before, &edit);
            }
            Err(_) => assert_eq!(self.all_seen(), before),
        }
    }

    fn redefine(&mut self, raw: [u8; 3]) {
        let (name, formulas) = FORMULAS[raw[0] as usize % FORMULAS.len()];
        let text = formulas[raw[1] as usize % formulas.len()];
        let parsed = notation::formula(text, 0).unwrap();
        let asked: Vec<Asked> = parsed
            .names
            .iter()
            .zip(parsed.formula.operands())
            .map(|(name, facet)| Asked {
                cell: self.sheet.cell(name),
                facet: *facet,
            })
            .collect();
        let before = self.all_seen();
        let cell = self.sheet.cell(name).unwrap();
        let edit = self
            .sheet
            .redefine(cell, parsed.formula, &asked)
            .unwrap()
            .clone();
        self.lines.insert(name, text);
        self.was_in_order(&before, &edit);
    }

    /// Each cell at most once, inputs first, only for a reason; all that changed is told.
    fn was_in_order(&self, before: &BTreeMap<CellId, Seen>, edit: &Edit) {
        let after = self.all_seen();
        let is_other = |cell: &&CellId| before[*cell] != after[*cell];
        let meant: BTreeSet<CellId> = after.keys().filter(is_other).copied().collect();
        let told: BTreeSet<CellId> = edit.changed.iter().copied().collect();
        assert_eq!(told, meant);
        assert_eq!(told.len(), edit.changed.len());

        let done: BTreeSet<CellId> = edit.recomputed.iter().copied().collect();
        assert_eq!(
            done.len(),
            edit.recomputed.len(),
            "a cell was evaluated twice"
        );
        for (i, cell) in edit.recomputed.iter().enumerate() {
            let inputs = self.sheet.inputs(*cell);
            let later = &edit.recomputed[i..];
            assert!(inputs.iter().all(|input| !later.contains(input)));
        }
        for cell in self.sheet.cells() {
            let inputs = self.sheet.inputs(cell);
            let must = inputs.iter().any(|input| told.contains(input));
            let is_touched =
                |c: &CellId| edit.restated.contains(c) || self.shared_is_touched(*c, edit);
            // A redefined cell is no restated one, but its formula is in the lines.
            let is_redefined = FORMULAS
                .iter()
                .any(|(name, _)| *name == self.sheet.name(cell));
            let may = must || is_redefined || is_touched(&cell) || inputs.iter().any(is_touched);
            assert!(!must || done.contains(&cell), "{}", self.sheet.name(cell));
            assert!(may || !done.contains(&cell), "{}", self.sheet.name(cell));
        }
    }

    /// Whether the cell that stands in for this one in all exams was given another reading.
    fn shared_is_touched(&self, cell: CellId, edit: &Edit) -> bool {
        let name = self.sheet.name(cell);
        let bare = name.split_once('.').map(|(_, bare)| bare);
        let shared = bare.and_then(|bare| self.sheet.cell(bare));
        shared.is_some_and(|shared| edit.restated.contains(&shared))
    }

    fn is_as_loaded_anew(&self) {
        let fresh = sheet(&text(&self.lines));
        let (now, anew) = (self.sheet.to_json(), fresh.to_json());
        for (name, cell) in now["cells"].as_object().unwrap() {
            assert_eq!(
                *cell,
                anew["cells"][name],
                "{name} in\n{}",
                text(&self.lines)
            );
        }
        assert_eq!(now, anew);
        for cell in self.sheet.cells() {
            let twin = fresh.cell(&self.sheet.name(cell)).unwrap();
            assert_eq!(seen(&self.sheet, cell), seen(&fresh, twin));
            assert_eq!(self.sheet.formula_text(cell), fresh.formula_text(twin));
            // Of a redefined cell the explanation is that of a formula of one's own.
            assert_eq!(
                self.sheet.explain(cell).unwrap(),
                fresh.explain(twin).unwrap()
            );
        }
    }
}

fn text(lines: &BTreeMap<&str, &str>) -> String {
    let lines: Vec<String> = lines.iter().map(|(n, r)| format!("{n} = {r}")).collect();
    format!("{USE}{}", lines.join("\n"))
}

proptest! {
    #![proptest_config(ProptestConfig {
        // Each case loads a whole catalogue several times.
        cases: 32,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn two_exams_are_after_any_edits_what_they_would_be_loaded_anew(
        edits in prop::collection::vec(prop::collection::vec(any::<[u8; 3]>(), 1..5), 1..12),
    ) {
        let mut exams = Exams::new();
        for raws in edits {
            match raws[0][2] % 6 {
                0 => exams.redefine(raws[0]),
                _ => exams.edit(&raws),
            }
        }
        exams.is_as_loaded_anew();
    }
}

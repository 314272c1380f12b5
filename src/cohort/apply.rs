//! Applying a sheet to rows, stretch by stretch.
//!
//! Rows read = rows used + rows set aside, always. A row is set aside when it cannot be parsed,
//! a reading is not possible, a required cell is not known, or nothing derived is known.

use std::collections::HashMap;

use super::advice_held::{AdviceOf, Held};
use super::alike::Alike;
use super::aside::Aside;
use super::binding::Binding;
use super::checks::{Finding, Tally, Verdict, Why};
use super::error::CohortError;
use super::intake::{Intake, Memory, Stretch};
use super::leave::Leave;
use super::remarks::{remark, remarks};
use super::rewritten::Rewritten;
use super::row::{Wrong, is_read};
use super::rows::{Rows, Taken};
use super::stood::Stood;
use super::uncertain::{Chamber, Standards, Uncertain, UncertaintyCounts};
use crate::formula::{CellId, Lane, Lanes, Status};
use crate::sheet::{Block, Program, Sheet};

/// Rows computed at once.
pub(super) const WIDTH: usize = 256;

/// How many rows went where.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Rows read.
    pub read: usize,
    /// Rows used.
    pub used: usize,
    /// Rows set aside.
    pub set_aside: usize,
}

/// `1 row read = 1 used + 0 set aside`.
impl std::fmt::Display for Counts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let read = counted(self.read, "row", "rows");
        let (used, set_aside) = (self.used, self.set_aside);
        write!(f, "{read} read = {used} used + {set_aside} set aside")
    }
}

/// `1 row`, `2 rows`.
pub(crate) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

impl Counts {
    pub(super) fn add(&mut self, more: Counts) {
        self.read += more.read;
        self.used += more.used;
        self.set_aside += more.set_aside;
    }
}

/// A sheet made ready to be applied to the rows of a table; any number of threads can.
pub(super) struct Application<'s> {
    pub(super) sheet: &'s Sheet,
    pub(super) binding: &'s Binding,
    /// The cells whose values are kept, the derived ones first.
    pub(super) kept: Vec<CellId>,
    /// How many of them are derived.
    pub(super) derived: usize,
    program: Program,
    intake: Intake,
    slots: Vec<usize>,
    required: Vec<CellId>,
    pub(super) advice: AdviceOf,
    /// How the table's own fields leave.
    pub(super) leave: Leave,
    /// The results whose uncertainties are wanted too.
    uncertain: Option<Uncertain>,
}

/// What a thread needs to compute.
pub(super) struct Workspace {
    block: Block<WIDTH>,
    inputs: Vec<Lanes<WIDTH>>,
    memory: Memory,
    chamber: Option<Chamber>,
    alike: Alike,
}

/// A piece of a table with what came of it.
pub(super) struct Applied {
    /// The rows that could be read.
    pub(super) rows: Rows,
    /// The same as they stood in the table, where they are written anew.
    pub(super) stood: Stood,
    /// The numbers in columns that are bound as numbers, by column of the table, over the rows
    /// that could be read; not a number where a field holds none.
    pub(super) numbers: HashMap<usize, Vec<f64>>,
    /// The fields of rows that could be read whose numbers leave in another form than they came.
    pub(super) rewritten: Rewritten,
    /// Those of them that are used, in order.
    pub(super) used: Vec<usize>,
    /// The rows set aside, in order.
    pub(super) aside: Vec<Aside>,
    /// The values of the cells kept, over the rows used.
    pub(super) columns: Vec<Values>,
    /// The uncertainties of results, where they are wanted.
    pub(super) uncertain: Vec<Standards>,
    /// Of each row used.
    pub(super) remarks: Vec<String>,
    /// The rows used in which each advice held.
    pub(super) held: Vec<usize>,
    /// What checks found.
    pub(super) tally: Tally,
    /// How many rows went where.
    pub(super) counts: Counts,
}

/// The values of a cell over the rows used.
#[derive(Clone, Debug, Default)]
pub(super) struct Values {
    /// Of no meaning where the state is not known.
    pub(super) numbers: Vec<f64>,
    pub(super) states: Vec<Status>,
}

impl Values {
    fn with_room(rows: usize) -> Values {
        Values {
            numbers: Vec::with_capacity(rows),
            states: Vec::with_capacity(rows),
        }
    }

    /// The numbers where they are known.
    pub(super) fn known(&self) -> impl Iterator<Item = Option<f64>> + '_ {
        let pairs = self.numbers.iter().zip(&self.states);
        pairs.map(|(number, state)| state.is_known().then_some(*number))
    }

    /// Appends some lanes, in order, of the first `len`.
    fn append(&mut self, computed: &Lanes<WIDTH>, lanes: &[usize], len: usize) {
        if lanes.len() == len {
            let states = computed.states[..len].iter();
            self.numbers.extend_from_slice(&computed.values[..len]);
            self.states.extend(states.map(|bits| Status(*bits)));
            return;
        }
        for lane in lanes.iter().map(|lane| computed.lane(*lane)) {
            self.numbers.push(lane.value);
            self.states.push(lane.status);
        }
    }
}

impl<'s> Application<'s> {
    /// Makes ready to compute what the columns make derivable; the bound cells, and the cells that
    /// only pass these on, are kept too where that is asked for.
    pub(super) fn new(
        sheet: &'s Sheet,
        binding: &'s Binding,
        leave: Leave,
        bound_too: bool,
    ) -> Result<Application<'s>, CohortError> {
        let bound = binding.cells();
        let mut kept = sheet.reachable(&bound);
        let derived = kept.len();
        if bound_too {
            kept.extend(&bound);
            kept.extend(sheet.passed_on(&bound));
        }
        let required: Vec<CellId> = sheet
            .required()
            .chain(binding.required.iter().copied())
            .collect();
        let mut wanted = kept.clone();
        wanted.extend(&required);
        wanted.extend(sheet.rule_operands(&kept[..derived]));
        let program = Program::new(sheet, &wanted, &bound);
        let slots = kept.iter().filter_map(|cell| program.slot(*cell)).collect();
        Ok(Application {
            uncertain: Uncertain::of(sheet, binding, &program, &kept[..derived])?,
            intake: Intake::new(sheet, binding, &program),
            advice: AdviceOf::new(&sheet.rule_texts()),
            sheet,
            binding,
            kept,
            derived,
            program,
            slots,
            required,
            leave,
        })
    }

    /// The cells that are computed and shown.
    pub(super) fn derived(&self) -> &[CellId] {
        &self.kept[..self.derived]
    }

    /// How far the uncertainties of a piece can be trusted.
    pub(super) fn count_uncertainties(&self, applied: &Applied) -> Vec<UncertaintyCounts> {
        let Some(uncertain) = &self.uncertain else {
            return Vec::new();
        };
        let mut counts = uncertain.counts(self.sheet);
        let all = counts
            .iter_mut()
            .zip(uncertain.wanted())
            .zip(&applied.uncertain);
        for ((counts, cell), standards) in all {
            if let Some(at) = self.kept.iter().position(|kept| kept == cell) {
                counts.add(self.sheet, standards, &applied.columns[at]);
            }
        }
        counts
    }

    pub(super) fn workspace(&self) -> Workspace {
        Workspace {
            block: self.program.block(),
            inputs: vec![Lanes::MISSING; self.program.inputs().len()],
            memory: Memory::default(),
            chamber: self.uncertain.as_ref().map(Uncertain::chamber),
            alike: Alike::new(&self.program, &self.slots[..self.derived]),
        }
    }

    /// Computes a piece of a table; `verdicts` are what checks across rows found, by row.
    pub(super) fn apply(
        &self,
        (taken, verdicts): (Taken, Vec<Verdict>),
        workspace: &mut Workspace,
    ) -> Applied {
        let mut applied = Applied {
            numbers: HashMap::new(),
            rewritten: Rewritten::default(),
            used: Vec::with_capacity(taken.rows.len()),
            aside: Vec::new(),
            columns: self
                .kept
                .iter()
                .map(|_| Values::with_room(taken.rows.len()))
                .collect(),
            uncertain: vec![Standards::default(); self.binding.uncertainty.len()],
            remarks: Vec::with_capacity(taken.rows.len()),
            held: vec![0; self.advice.distinct.len()],
            tally: Tally::default(),
            counts: Counts::default(),
            rows: taken.rows,
            stood: taken.stood,
        };
        let refused = taken.refused.into_iter();
        applied.aside.extend(refused.map(Aside::from));
        self.intake
            .read_numbers(&applied.rows, &mut workspace.memory);
        let mut verdicts = verdicts.into_iter().peekable();
        for start in (0..applied.rows.len()).step_by(WIDTH) {
            let here = |verdict: &Verdict| verdict.row < start + WIDTH;
            let verdicts: Vec<Verdict> = std::iter::from_fn(|| verdicts.next_if(here)).collect();
            self.stretch(start, verdicts, workspace, &mut applied);
        }
        applied.numbers = self.intake.take_numbers(&mut workspace.memory);
        applied.rewritten = workspace.memory.take_rewritten();
        applied
            .rewritten
            .note_uncertainties(self.binding, &applied.rows);
        let told = applied
            .rewritten
            .told(self.binding, &applied.rows, &applied.stood);
        for told in told.into_iter().rev() {
            if let Ok(at) = applied.used.binary_search(&told.row) {
                // What stood in the row comes before what was made of it.
                let mut words = told.words;
                let after = &mut applied.remarks[at];
                if !after.is_empty() {
                    remark(&mut words, after);
                }
                *after = words;
            }
        }
        applied.aside.sort_by_key(|aside| aside.number);
        for aside in &mut applied.aside {
            aside.withhold(self.binding, |bound, field| {
                is_read(self.sheet, bound, field)
            });
        }
        for aside in &applied.aside {
            if let Why::Check(check) = aside.why {
                applied.tally.set_aside(check);
            }
        }
        applied.counts = Counts {
            read: taken.count,
            used: applied.used.len(),
            set_aside: applied.aside.len(),
        };
        applied
    }

    fn stretch(
        &self,
        start: usize,
        verdicts: Vec<Verdict>,
        workspace: &mut Workspace,
        applied: &mut Applied,
    ) {
        let len = WIDTH.min(applied.rows.len() - start);
        let stretch = Stretch {
            rows: &applied.rows,
            stood: &applied.stood,
            start,
            len,
        };
        let odd = {
            let Workspace { inputs, memory, .. } = workspace;
            self.intake
                .fill(self.sheet, self.binding, &stretch, memory, inputs)
        };
        if let (Some(uncertain), Some(chamber)) = (&self.uncertain, &mut workspace.chamber) {
            let by = (self.sheet, self.binding);
            uncertain.run(by, &stretch, &workspace.inputs, chamber);
        }
        let borrowed: Vec<&Lanes<WIDTH>> = workspace.inputs.iter().collect();
        self.program.run(&borrowed, &mut workspace.block);
        let block = &workspace.block;
        let derived = self.slots[..self.derived].iter();
        let computed = Computed {
            application: self,
            block,
            derived: derived.map(|slot| block.lanes(*slot)).collect(),
            chamber: workspace.chamber.as_ref(),
            held: self.advice.over(self.sheet, &self.program, block),
        };
        let mut reasons: Vec<Option<Wrong>> = vec![None; len];
        let mut found: Vec<(usize, Vec<Finding>)> = Vec::new();
        for (lane, read) in odd {
            match read {
                Ok(findings) if findings.is_empty() => {}
                Ok(findings) => found.push((lane, findings)),
                Err(wrong) => reasons[lane] = Some(wrong),
            }
        }
        for (lane, reason) in reasons.iter_mut().enumerate() {
            let leave = || {
                self.leave
                    .refusal(&applied.rows, start + lane, &self.binding.headings)
                    .map(Wrong::from)
            };
            *reason = reason.take().or_else(leave);
        }
        for verdict in verdicts {
            let lane = verdict.row - start;
            let aside = verdict.aside.map(|finding| Wrong {
                why: Why::Check(finding.check),
                text: finding.text,
            });
            reasons[lane] = reasons[lane].take().or(aside);
            found.push((lane, verdict.marks));
        }
        // What a row's own numbers show comes before what its neighbors show.
        found.sort_by_key(|(lane, _)| *lane);
        computed.refuse(&mut reasons);
        computed.keep(start, reasons, &found, &mut workspace.alike, applied);
    }
}

/// A stretch of rows, computed.
struct Computed<'a, 's> {
    application: &'a Application<'s>,
    block: &'a Block<WIDTH>,
    /// The lanes of the results.
    derived: Vec<&'a Lanes<WIDTH>>,
    chamber: Option<&'a Chamber>,
    held: Held,
}

impl Computed<'_, '_> {
    /// Why rows that were read are still not used.
    fn refuse(&self, reasons: &mut [Option<Wrong>]) {
        let application = self.application;
        for required in &application.required {
            for (lane, reason) in reasons.iter_mut().enumerate() {
                if reason.is_none() && !self.is_known(*required, lane) {
                    let because = self.row(lane).because(*required).join("; ");
                    let name = application.sheet.name(*required);
                    *reason = Some(Wrong {
                        why: Why::Required,
                        text: format!("{name} is required, but {because}"),
                    });
                }
            }
        }
        for (lane, reason) in reasons.iter_mut().enumerate() {
            let is_known = |lanes: &&Lanes<WIDTH>| lanes.lane(lane).status.is_known();
            if reason.is_none() && !self.derived.iter().any(is_known) {
                *reason = Some(Wrong {
                    why: Why::NothingDerived,
                    text: "nothing can be derived from this row".into(),
                });
            }
        }
    }

    fn is_known(&self, cell: CellId, lane: usize) -> bool {
        self.row(lane)
            .lane(cell)
            .is_some_and(|l| l.status.is_known())
    }

    fn row(&self, lane: usize) -> ComputedRow<'_> {
        ComputedRow {
            sheet: self.application.sheet,
            program: &self.application.program,
            block: self.block,
            lane,
        }
    }

    /// Puts the rows where they belong.
    fn keep(
        &self,
        start: usize,
        reasons: Vec<Option<Wrong>>,
        found: &[(usize, Vec<Finding>)],
        alike: &mut Alike,
        applied: &mut Applied,
    ) {
        let application = self.application;
        let len = reasons.len();
        let width = application.binding.headings.len();
        let mut lanes = Vec::with_capacity(reasons.len());
        for (lane, reason) in reasons.into_iter().enumerate() {
            let row = start + lane;
            match reason {
                None => {
                    applied.used.push(row);
                    lanes.push(lane);
                }
                Some(wrong) => {
                    let why = (wrong.why, wrong.text);
                    let aside = Aside::of((&applied.rows, row), width, why);
                    applied.aside.push(aside);
                }
            }
        }
        for (values, slot) in applied.columns.iter_mut().zip(&application.slots) {
            values.append(self.block.lanes(*slot), &lanes, len);
        }
        let needs_words = self.needs_words();
        let mut found = found.iter().peekable();
        for lane in lanes {
            self.held.count(lane, &mut applied.held);
            let mut remarks = match needs_words[lane] {
                true if self.held.cautions[lane] => self.remarks(lane),
                true => alike.remarks(self.block, &self.derived, lane, || self.remarks(lane)),
                false => String::new(),
            };
            if let (Some(uncertain), Some(chamber)) = (&application.uncertain, self.chamber) {
                let kept = &mut applied.uncertain;
                for more in uncertain.keep(application.sheet, chamber, lane, kept) {
                    remark(&mut remarks, &more);
                }
            }
            // What was found stands in the order of the rows; of those set aside nothing is told.
            let mut told = Vec::new();
            while let Some((at, findings)) = found.next_if(|(at, _)| *at <= lane) {
                for finding in findings.iter().filter(|_| *at == lane) {
                    remark(&mut remarks, &format!("check: {}", finding.text));
                    told.push(finding.check);
                }
            }
            told.sort_unstable();
            told.dedup();
            told.into_iter().for_each(|check| applied.tally.mark(check));
            applied.remarks.push(remarks);
        }
    }

    /// The rows in which something is not known, or not measured, or calls for caution.
    fn needs_words(&self) -> [bool; WIDTH] {
        let mut needs = self.held.cautions;
        for lanes in &self.derived {
            for (needs, state) in needs.iter_mut().zip(&lanes.states) {
                *needs |= *state != 0;
            }
        }
        needs
    }

    fn remarks(&self, lane: usize) -> String {
        let cautions = self.held.cautions_in(lane);
        let texts = cautions.map(|at| &*self.application.advice.distinct[at].text);
        remarks(
            self.application.sheet,
            &self.row(lane),
            self.application.derived(),
            texts,
        )
    }
}

/// One row of a stretch.
pub(super) struct ComputedRow<'a> {
    sheet: &'a Sheet,
    program: &'a Program,
    block: &'a Block<WIDTH>,
    lane: usize,
}

impl ComputedRow<'_> {
    /// Value and state of a cell that the program computes.
    pub(super) fn lane(&self, cell: CellId) -> Option<Lane> {
        let slot = self.program.slot(cell)?;
        Some(self.block.lanes(slot).lane(self.lane))
    }

    /// Why a cell is not known in this row.
    pub(super) fn because(&self, cell: CellId) -> Vec<String> {
        self.sheet
            .because_in_row(self.program, self.block, self.lane, cell)
    }
}

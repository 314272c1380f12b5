//! Standard uncertainties of chosen results, row by row: the bits that
//! [`propagate`](crate::uncertainty::propagate) gives for a sheet with the readings of the row.
//!
//! What a row does not state is never taken as zero: its remarks name it, and so does the summary.
//! Both also say where a bend or branch lies within reach of a row's uncertainties, so that its
//! linear figures do not hold.

mod bent;
mod counts;

use std::sync::Arc;

pub(super) use bent::Bent;
pub use counts::UncertaintyCounts;

use bent::{OneRow, bent};

use super::apply::{Values, WIDTH};
use super::binding::{Binding, BoundColumn, Part};
use super::error::CohortError;
use super::intake::Stretch;
use super::row::{says_nothing, standard};
use super::rows::Rows;
use crate::formula::{CellId, Facet, Lane, Lanes};
use crate::quantity::{Spread, Unit};
use crate::sheet::{Program, Sheet};
use crate::uncertainty::{NOT_LINEAR, Room, Settings, Stated, Watched};

/// Rows whose uncertainties are computed at once.
const LANES: usize = 64;

/// The standard uncertainties of one result over the rows used.
#[derive(Clone, Debug, Default)]
pub(super) struct Standards {
    pub(super) values: Values,
    /// The readings that stated none and in which the result has a slope.
    pub(super) unstated: Vec<Arc<[CellId]>>,
    /// The bends and branches within reach.
    pub(super) bends: Vec<Arc<[Bent]>>,
}

/// Chosen results made ready for their uncertainties; any number of threads can use it.
pub(super) struct Uncertain {
    watched: Watched,
    wanted: Vec<CellId>,
    /// For each input of `columns`, the one of the application's program.
    inputs: Vec<usize>,
    stating: Vec<Stating>,
    lending: Vec<Lending>,
}

/// What rows state about one reading.
struct Stating {
    /// The input of the application's program that has the value.
    value: usize,
    unit: Unit,
    /// What the binding file states for every row.
    always: Option<Spread>,
    /// The column of uncertainties.
    column: Option<BoundColumn>,
}

/// A reading whose uncertainty may be taken from a publication.
struct Lending {
    cell: CellId,
    source: &'static str,
    /// Among the columns of uncertainties, where rows may state it.
    stated: Option<usize>,
    /// The input that has the value, where rows supply it.
    value: Option<usize>,
    /// The results that lean on it, by number.
    by: Vec<usize>,
}

/// What a thread needs to compute uncertainties, and those of the rows at hand.
pub(super) struct Chamber {
    room: Room<LANES>,
    of: Vec<Found>,
    /// Readings that rows take from a publication, by number in `lending`.
    lent: Vec<[bool; WIDTH]>,
    lists: Vec<Arc<[CellId]>>,
    /// The row that was looked at closely last, once there was one.
    one_row: Option<OneRow>,
    bends: Vec<Arc<[Bent]>>,
}

/// Uncertainties of one result over a stretch.
struct Found {
    standards: Vec<Lane>,
    is_valued: Vec<bool>,
    unstated: Vec<Arc<[CellId]>>,
    bends: Vec<Arc<[Bent]>>,
}

impl Uncertain {
    /// Makes the results that a binding asks for ready; none where it asks for none.
    ///
    /// # Errors
    /// A cell that no column makes derivable, or whose uncertainty cannot be asked for.
    pub(super) fn of(
        sheet: &Sheet,
        binding: &Binding,
        program: &Program,
        derived: &[CellId],
    ) -> Result<Option<Uncertain>, CohortError> {
        let wanted = &binding.uncertainty;
        if wanted.is_empty() {
            return Ok(None);
        }
        if let Some(cell) = wanted.iter().find(|cell| !derived.contains(cell)) {
            return Err(CohortError::Uncertainty {
                name: sheet.name(*cell),
                message: not_derivable(binding),
            });
        }
        let values = binding.columns.iter().filter(|c| c.part == Part::Value);
        let bound: Vec<(CellId, Stated)> = values.map(|c| (c.cell, stated(binding, c))).collect();
        let watched = Watched::new(sheet, wanted, &bound, &Settings::of(sheet)).map_err(|e| {
            let names: Vec<String> = wanted.iter().map(|cell| sheet.name(*cell)).collect();
            CohortError::Uncertainty {
                name: names.join(", "),
                message: e.to_string(),
            }
        })?;
        let columns = watched.columns();
        let input = |cell: CellId, facet: Facet| {
            let mut inputs = program.inputs().iter();
            inputs.position(|input| input.cell == cell && input.facet == facet)
        };
        // What a result leans on is computed for the result itself too.
        let inputs = columns.inputs().iter();
        let inputs = inputs.filter_map(|i| input(i.cell, i.facet)).collect();
        let stating = columns.uncertainty_inputs().iter();
        let stating: Vec<Stating> = stating
            .filter_map(|cell| {
                Some(Stating {
                    value: input(*cell, Facet::Value)?,
                    unit: sheet.unit(*cell)?,
                    always: binding.column_of(*cell, Part::Value)?.spread,
                    column: binding.column_of(*cell, Part::Uncertainty).cloned(),
                })
            })
            .collect();
        let lending = columns.lent().iter().map(|(cell, source)| Lending {
            cell: *cell,
            source,
            stated: columns.uncertainty_inputs().iter().position(|c| c == cell),
            value: input(*cell, Facet::Value),
            by: (0..wanted.len())
                .filter(|at| sheet.leans_on(wanted[*at]).contains(cell))
                .collect(),
        });
        Ok(Some(Uncertain {
            lending: lending.collect(),
            wanted: wanted.clone(),
            inputs,
            stating,
            watched,
        }))
    }

    /// The results, in the order in which they were asked for.
    pub(super) fn wanted(&self) -> &[CellId] {
        &self.wanted
    }

    /// Counts that nothing was added to yet.
    pub(super) fn counts(&self, sheet: &Sheet) -> Vec<UncertaintyCounts> {
        let of = |(at, cell): (usize, &CellId)| UncertaintyCounts {
            name: sheet.name(*cell),
            published: self
                .lending
                .iter()
                .filter(|lending| lending.by.contains(&at))
                .map(|lending| (sheet.name(lending.cell), lending.source))
                .collect(),
            ..UncertaintyCounts::default()
        };
        self.wanted.iter().enumerate().map(of).collect()
    }

    pub(super) fn chamber(&self) -> Chamber {
        let found = || Found {
            standards: vec![Lane::MISSING; WIDTH],
            is_valued: vec![false; WIDTH],
            unstated: vec![Arc::from([]); WIDTH],
            bends: vec![Arc::from([]); WIDTH],
        };
        Chamber {
            room: self.watched.columns().room(),
            of: self.wanted.iter().map(|_| found()).collect(),
            lent: vec![[false; WIDTH]; self.lending.len()],
            lists: vec![Arc::from([])],
            one_row: None,
            bends: vec![Arc::from([])],
        }
    }

    /// Computes a stretch of rows whose readings are in `inputs`.
    pub(super) fn run(
        &self,
        (sheet, binding): (&Sheet, &Binding),
        stretch: &Stretch<'_>,
        inputs: &[Lanes<WIDTH>],
        chamber: &mut Chamber,
    ) {
        let columns = self.watched.columns();
        for from in (0..stretch.len).step_by(LANES) {
            for (at, input) in self.inputs.iter().enumerate() {
                let to = columns.row(&mut chamber.room, at);
                to.values
                    .copy_from_slice(&inputs[*input].values[from..from + LANES]);
                to.states
                    .copy_from_slice(&inputs[*input].states[from..from + LANES]);
            }
            for (at, stating) in self.stating.iter().enumerate() {
                let column = columns.uncertainty(&mut chamber.room, at);
                for lane in 0..LANES {
                    let value = inputs[stating.value].lane(from + lane);
                    let row = (from + lane < stretch.len).then_some(stretch.start + from + lane);
                    let u = row.and_then(|row| stating.standard(stretch.rows, row, value));
                    column.set(lane, u.map_or(Lane::MISSING, Lane::measured));
                }
            }
            columns.run(&mut chamber.room);
            self.collect(from, inputs, chamber);
            self.look_closely((sheet, binding), stretch, from, chamber);
        }
    }

    /// Looks for bends in the rows of the block that ran last where there may be any.
    fn look_closely(
        &self,
        (sheet, binding): (&Sheet, &Binding),
        stretch: &Stretch<'_>,
        from: usize,
        chamber: &mut Chamber,
    ) {
        let Chamber {
            room,
            of,
            one_row,
            bends,
            ..
        } = chamber;
        for lane in 0..LANES.min(stretch.len - from) {
            let mut doubtful = Vec::new();
            for (at, found) in of.iter_mut().enumerate() {
                found.bends[from + lane] = bends[0].clone();
                let is_valued = found.is_valued[from + lane];
                if is_valued && self.watched.is_doubtful(room, at, lane) {
                    doubtful.push(at);
                }
            }
            if doubtful.is_empty() {
                continue;
            }
            let one = one_row.get_or_insert_with(|| OneRow::of(sheet, &self.wanted));
            // A row that cannot be read is set aside.
            let Some(mut search) = one.read((sheet, binding), stretch, from + lane) else {
                continue;
            };
            for at in doubtful {
                let bent = bent(sheet, &mut search, self.wanted[at]);
                of[at].bends[from + lane] = shared(bends, &bent);
            }
        }
    }

    fn collect(&self, from: usize, inputs: &[Lanes<WIDTH>], chamber: &mut Chamber) {
        let Chamber {
            room,
            of,
            lent,
            lists,
            ..
        } = chamber;
        let columns = self.watched.columns();
        for (at, found) in of.iter_mut().enumerate() {
            let may_lack = columns.may_lack(at);
            for lane in 0..LANES {
                let standard = columns.standard(room, at).lane(lane);
                let value = columns.value_of(room, at).lane(lane);
                let unstated = match may_lack && value.status.is_known() {
                    true => columns.unstated(room, at, lane),
                    false => Vec::new(),
                };
                found.standards[from + lane] = standard;
                found.is_valued[from + lane] = value.status.is_known();
                found.unstated[from + lane] = shared(lists, &unstated);
            }
        }
        for (lending, lent) in self.lending.iter().zip(lent) {
            for lane in 0..LANES {
                let has_value = lending
                    .value
                    .is_none_or(|input| inputs[input].lane(from + lane).status.is_known());
                let is_stated = lending.stated.is_some_and(|at| {
                    let column = columns.uncertainty(room, at);
                    column.lane(lane).status.is_known()
                });
                let is_used = lending.by.iter().any(|at| of[*at].is_valued[from + lane]);
                lent[from + lane] = has_value && !is_stated && is_used;
            }
        }
    }

    /// Takes one row of the stretch into what is kept, and gives its remarks.
    pub(super) fn keep(
        &self,
        sheet: &Sheet,
        chamber: &Chamber,
        lane: usize,
        kept: &mut [Standards],
    ) -> Vec<String> {
        for (found, kept) in chamber.of.iter().zip(kept) {
            kept.values.numbers.push(found.standards[lane].value);
            kept.values.states.push(found.standards[lane].status);
            kept.unstated.push(found.unstated[lane].clone());
            kept.bends.push(found.bends[lane].clone());
        }
        self.remarks(sheet, chamber, lane)
    }

    /// Which uncertainties are lower bounds, and which are none, each with the reason.
    fn remarks(&self, sheet: &Sheet, chamber: &Chamber, lane: usize) -> Vec<String> {
        let mut said: Vec<Said> = Vec::new();
        for (cell, found) in self.wanted.iter().zip(&chamber.of) {
            let unstated = &found.unstated[lane];
            let status = found.standards[lane].status;
            let is_known = status.is_known();
            if !found.is_valued[lane] || (is_known && unstated.is_empty()) {
                continue;
            }
            let reason = if status.is_faulty() {
                "the uncertainty has no finite slope here".to_owned()
            } else if unstated.is_empty() {
                "nothing that is uncertain enters".to_owned()
            } else {
                format!("no uncertainty is stated for {}", names(sheet, unstated))
            };
            let name = format!("{} (u)", sheet.name(*cell));
            let is_same = |s: &&mut Said| s.reason == reason && s.is_known == is_known;
            match said.iter_mut().find(is_same) {
                Some(said) => said.of.push(name),
                None => said.push(Said {
                    reason,
                    is_known,
                    of: vec![name],
                }),
            }
        }
        let mut remarks: Vec<String> = said
            .into_iter()
            .map(|said| match said.is_known {
                true => format!("{}: {} at least", said.reason, said.of.join(", ")),
                false => format!("{}: no {}", said.reason, said.of.join(", ")),
            })
            .collect();
        remarks.extend(self.remarks_on_bends(sheet, chamber, lane));
        let lent = self.lending.iter().zip(&chamber.lent);
        let lent: Vec<CellId> = lent
            .filter(|(_, lent)| lent[lane])
            .map(|(lending, _)| lending.cell)
            .collect();
        if !lent.is_empty() {
            remarks.push(format!(
                "uncertainty published, not stated: {}",
                names(sheet, &lent)
            ));
        }
        remarks
    }

    /// Which linear figures do not hold, and why not.
    fn remarks_on_bends(&self, sheet: &Sheet, chamber: &Chamber, lane: usize) -> Vec<String> {
        let mut said: Vec<(&[Bent], Vec<String>)> = Vec::new();
        for (cell, found) in self.wanted.iter().zip(&chamber.of) {
            let bent = &*found.bends[lane];
            if bent.is_empty() {
                continue;
            }
            let name = format!("{} (u)", sheet.name(*cell));
            match said.iter_mut().find(|(places, _)| *places == bent) {
                Some((_, of)) => of.push(name),
                None => said.push((bent, vec![name])),
            }
        }
        let words = said.into_iter().map(|(bent, of)| {
            let places: Vec<&str> = bent.iter().map(|bent| &*bent.place).collect();
            format!("{} {NOT_LINEAR}: {}", places.join(" and "), of.join(", "))
        });
        words.collect()
    }
}

/// A reason, and the uncertainties that are lower bounds or none for it.
struct Said {
    reason: String,
    is_known: bool,
    of: Vec<String>,
}

impl Stating {
    /// The standard uncertainty that a row states, in the unit of the cell.
    fn standard(&self, rows: &Rows, row: usize, value: Lane) -> Option<f64> {
        if !value.status.is_known() {
            return None;
        }
        let own = self.column.as_ref().and_then(|bound| {
            let field = rows.field(row, bound.column);
            let field = field.trim();
            // A row with what is no number here was set aside.
            (!says_nothing(bound, field)).then(|| standard((field, field), bound).ok())??
        });
        own.or(self.always)?.standard(value.value, self.unit)
    }
}

/// Why a result is not there, with the columns that found no cell.
fn not_derivable(binding: &Binding) -> String {
    let message = "it is not among the results that the columns of the table make derivable";
    let without: Vec<String> = binding.without_cell.iter().map(|c| c.to_string()).collect();
    match without.is_empty() {
        true => format!("{message}; ask for one that is"),
        false => format!("{message}: {}", without.join("; ")),
    }
}

/// What rows state about a reading that a column supplies.
fn stated(binding: &Binding, value: &BoundColumn) -> Stated {
    let column = binding.column_of(value.cell, Part::Uncertainty);
    match column.is_some() || value.spread.is_some() {
        true => Stated::Column,
        false => Stated::Unstated,
    }
}

/// The same list once: rows differ little in what is said of them.
fn shared<T: Clone + PartialEq>(lists: &mut Vec<Arc<[T]>>, list: &[T]) -> Arc<[T]> {
    if let Some(known) = lists.iter().find(|known| ***known == *list) {
        return known.clone();
    }
    let list: Arc<[T]> = list.into();
    lists.push(list.clone());
    list
}

fn names(sheet: &Sheet, cells: &[CellId]) -> String {
    let names: Vec<String> = cells.iter().map(|cell| sheet.name(*cell)).collect();
    names.join(", ")
}

/// The heading of a column of standard uncertainties: `name (u) [unit]`, or `name (u)` of a bare
/// number and of a result in `%`: such a column is in the unit of its values, in points of `%`,
/// while `(u) [%]` would be shares of them.
pub fn uncertainty_heading(sheet: &Sheet, cell: CellId) -> String {
    match sheet.unit(cell) {
        Some(unit) if unit != Unit::ONE && !unit.is_share() => {
            format!("{} (u) [{unit}]", sheet.name(cell))
        }
        _ => format!("{} (u)", sheet.name(cell)),
    }
}

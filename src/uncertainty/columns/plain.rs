//! The operations of columns for blocks of plain rows: values and uncertainties in one list.

use super::{Columns, Place};
use crate::formula::{Facet, Fused, FusedNode, Graph, NodeId, PlainBounds, Status};
use crate::sheet::Sheet;

/// Operations for rows that supply a known number everywhere.
pub(in crate::uncertainty) struct PlainRows {
    /// Takes the row inputs, then the columns of uncertainties; its results are the standard
    /// uncertainties of the wanted cells.
    pub(in crate::uncertainty) fused: Fused,
    /// The states of the results.
    pub(in crate::uncertainty) states: Vec<Status>,
}

/// What a slot holds in plain rows.
struct Plain {
    /// All registers of its formula; only the value where it has none.
    registers: Vec<NodeId>,
    inputs: usize,
    result: usize,
    /// Origins of what it was made from.
    origins: u8,
}

impl Plain {
    fn value(&self) -> NodeId {
        self.registers[self.result]
    }
}

impl Columns {
    /// The operations for plain rows; `None` where a formula branches, looks at states or has
    /// long functions, and where something is not known in any row. `bounds` are those of the row
    /// inputs, then of the columns of uncertainties.
    pub(in crate::uncertainty) fn plain(
        &self,
        sheet: &Sheet,
        bounds: &[PlainBounds],
    ) -> Option<PlainRows> {
        let mut graph = Graph::default();
        let mut slots: Vec<Plain> = Vec::new();
        for slot in 0..self.program.slots() {
            let plain = self.plain_slot(slot, sheet, &slots, &mut graph)?;
            slots.push(plain);
        }
        let rows = self.inputs().len();
        let supplied = |graph: &mut Graph, at: usize| graph.put(FusedNode::Supplied(at as u32));
        let given: Vec<Option<NodeId>> = self
            .places
            .iter()
            .map(|place| match *place {
                Place::Slot(slot) => Some(slots[slot].value()),
                Place::Step(slot, step) => {
                    let plain = &slots[slot];
                    plain.registers.get(plain.inputs + step).copied()
                }
                Place::Row(row) => Some(supplied(&mut graph, row)),
                Place::Column(column) => Some(supplied(&mut graph, rows + column)),
                Place::Constant(at) => {
                    let lane = self.constants[at];
                    lane.status.is_known().then(|| graph.number(lane.value))
                }
            })
            .collect();
        let code = self.carried.plain(&mut graph, &given);
        let mut variances = Vec::with_capacity(self.wanted.len());
        for (wanted, standard) in self.wanted.iter().zip(&self.standards) {
            let variance = self.carried.under_root(*standard)?;
            variances.push(code.at(variance)?);
            graph.must_be_finite(slots[wanted.slot].value());
        }
        let states = self.wanted.iter();
        Some(PlainRows {
            fused: graph.fuse(&variances, bounds)?,
            states: states
                .map(|wanted| Status(slots[wanted.slot].origins).settled())
                .collect(),
        })
    }

    fn plain_slot(
        &self,
        slot: usize,
        sheet: &Sheet,
        before: &[Plain],
        graph: &mut Graph,
    ) -> Option<Plain> {
        let course = self.program.course(slot, sheet);
        let alone = |value: NodeId, origins: u8| Plain {
            registers: vec![value],
            inputs: 0,
            result: 0,
            origins,
        };
        match (course.row, course.formula) {
            (Some(row), None) => {
                let is_value = self.inputs()[row].facet == Facet::Value;
                is_value.then(|| alone(graph.put(FusedNode::Supplied(row as u32)), 0))
            }
            (None, None) => {
                let lane = self.program.constant(slot);
                let is_known = lane.status.is_known();
                is_known.then(|| alone(graph.number(lane.value), lane.status.bits()))
            }
            (None, Some((tape, operands))) if !tape.uses_reading() => {
                let inputs: Vec<NodeId> = operands.iter().map(|o| before[*o].value()).collect();
                let origins = operands.iter().map(|o| before[*o].origins);
                Some(Plain {
                    registers: graph.follow(tape, &inputs)?,
                    inputs: inputs.len(),
                    result: tape.result(),
                    origins: origins.fold(0, |all, origins| all | origins),
                })
            }
            // A reading that takes the place of a formula, or that the formula looks at.
            (_, Some(_)) => None,
        }
    }
}

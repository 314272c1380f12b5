//! Which cells the value of a row comes from, as [`Sheet::formulas_behind`] has it for one sheet.

use super::{Block, Computed, Place, Program};
use crate::formula::{CellId, Lane, used_inputs};
#[cfg(doc)]
use crate::sheet::Sheet;

/// A cell of a program, to be asked in which rows others come from it.
#[derive(Clone, Debug)]
pub(crate) struct Behind {
    slot: usize,
    /// The slots that can come from it, itself among them.
    users: Vec<bool>,
}

impl Program {
    /// A cell to be asked; `None` for one that is not computed.
    pub(crate) fn behind(&self, cell: CellId) -> Option<Behind> {
        let slot = self.slot(cell)?;
        let mut users = vec![false; self.slots.len()];
        users[slot] = true;
        for at in slot + 1..self.slots.len() {
            let mut operands = self.slots[at].computed.iter().flat_map(|c| &c.operands);
            users[at] = operands.any(|operand| users[*operand]);
        }
        Some(Behind { slot, users })
    }

    /// Whether in a row of a block that ran the value of a slot comes from the formula of a cell.
    pub(crate) fn is_behind<const W: usize>(
        &self,
        block: &Block<W>,
        lane: usize,
        from: usize,
        behind: &Behind,
    ) -> bool {
        let mut waiting = vec![from];
        let mut met = vec![false; from + 1];
        while let Some(at) = waiting.pop() {
            let Some(computed) = self.running(block, lane, at) else {
                continue;
            };
            if at == behind.slot {
                return true;
            }
            let used = match computed.tape.is_straight() {
                true => Vec::new(),
                false => used_inputs(&computed.tape, &self.input_lanes(block, lane, at, computed)),
            };
            for (k, operand) in computed.operands.iter().enumerate() {
                let is_used = used.get(k).copied().unwrap_or(true);
                if is_used && behind.users[*operand] && !met[*operand] {
                    met[*operand] = true;
                    waiting.push(*operand);
                }
            }
        }
        false
    }

    /// The formula of a slot, unless the row's reading takes precedence.
    fn running<const W: usize>(
        &self,
        block: &Block<W>,
        lane: usize,
        at: usize,
    ) -> Option<&Computed> {
        let slot = &self.slots[at];
        let computed = slot.computed.as_ref()?;
        let is_given = slot
            .row
            .is_some_and(|row| self.supplied(block, row).lane(lane).status.is_known());
        (!is_given || computed.tape.uses_reading()).then_some(computed)
    }

    /// What a formula ran on in a row.
    fn input_lanes<const W: usize>(
        &self,
        block: &Block<W>,
        lane: usize,
        at: usize,
        computed: &Computed,
    ) -> Vec<Lane> {
        let operands = computed.operands.iter();
        let operands = operands.map(|operand| block.lanes(*operand).lane(lane));
        let slot = &self.slots[at];
        let own = match slot.row.map(|row| self.places[row]) {
            Some(Place::Beside(beside)) => block.beside[beside].lane(lane),
            Some(Place::Slot(_)) | None => slot.constant,
        };
        let own = computed.tape.uses_reading().then_some(own);
        operands.chain(own).collect()
    }
}

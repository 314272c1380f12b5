//! A graph written by hand for speed alone: no units, states, origins, names or reports.
//!
//! Cells stand in one vector, operands before users; a cell is a function pointer with up to
//! three operands. An edit queues the users of what changed in a heap, least position first, and
//! stops where a value stays the same.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// What a cell computes from its operands.
pub type Function = fn([f64; 3]) -> f64;

/// An operand that is not there.
const NONE: u32 = u32::MAX;

struct Cell {
    function: Function,
    operands: [u32; 3],
    value: f64,
    is_queued: bool,
    users: Vec<u32>,
}

/// Cells in the order of evaluation.
#[derive(Default)]
pub struct Arena {
    cells: Vec<Cell>,
    queue: BinaryHeap<Reverse<u32>>,
}

impl Arena {
    /// Adds a cell that holds a number.
    pub fn input(&mut self, value: f64) -> u32 {
        self.push(|_| 0.0, [NONE; 3], value)
    }

    /// Adds a cell that computes one.
    pub fn cell(&mut self, function: Function, used: &[u32]) -> u32 {
        let position = self.cells.len() as u32;
        let mut operands = [NONE; 3];
        operands[..used.len()].copy_from_slice(used);
        for operand in used {
            self.cells[*operand as usize].users.push(position);
        }
        self.push(function, operands, 0.0);
        self.cells[position as usize].value = self.evaluate(position);
        position
    }

    /// Sets an input.
    #[inline]
    pub fn set(&mut self, position: u32, value: f64) {
        let cell = &mut self.cells[position as usize];
        if cell.value != value {
            cell.value = value;
            self.queue_users(position);
        }
    }

    /// Brings the graph up to date.
    #[inline]
    pub fn settle(&mut self) {
        while let Some(Reverse(position)) = self.queue.pop() {
            self.cells[position as usize].is_queued = false;
            let value = self.evaluate(position);
            let cell = &mut self.cells[position as usize];
            if value != cell.value {
                cell.value = value;
                self.queue_users(position);
            }
        }
    }

    /// The value of a cell since the graph was last up to date.
    #[inline]
    pub fn value(&self, position: u32) -> f64 {
        self.cells[position as usize].value
    }

    fn push(&mut self, function: Function, operands: [u32; 3], value: f64) -> u32 {
        self.cells.push(Cell {
            function,
            operands,
            value,
            is_queued: false,
            users: Vec::new(),
        });
        self.cells.len() as u32 - 1
    }

    #[inline]
    fn evaluate(&self, position: u32) -> f64 {
        let cell = &self.cells[position as usize];
        let mut values = [0.0; 3];
        for (value, operand) in values.iter_mut().zip(cell.operands) {
            if operand != NONE {
                *value = self.cells[operand as usize].value;
            }
        }
        (cell.function)(values)
    }

    #[inline]
    fn queue_users(&mut self, position: u32) {
        // Taken out for the time, so that the users can be written to meanwhile.
        let users = std::mem::take(&mut self.cells[position as usize].users);
        for user in &users {
            let cell = &mut self.cells[*user as usize];
            if !cell.is_queued {
                cell.is_queued = true;
                self.queue.push(Reverse(*user));
            }
        }
        self.cells[position as usize].users = users;
    }
}

//! Reasons: why a cell is missing or faulty, kept once for all cells that share it.

use std::collections::HashMap;
use std::sync::Arc;

use crate::formula::Trouble;

/// One cause of a cell's not being known.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Cause {
    /// This cell has no reading.
    NoReading(u32),
    /// This cell's reading could not be obtained.
    Unobtainable(u32),
    /// The formula of this cell withholds its value, for the stated reason.
    Withheld(u32, Arc<str>),
    /// Operation `.1` of the formula of this cell failed.
    Fault(u32, u32, Trouble),
}

/// Most causes told of one cell; a cell that waits for more names these and says so.
pub(crate) const MOST_CAUSES: usize = 32;
/// One more is kept, to tell whether there are more.
const MOST_KEPT: usize = MOST_CAUSES + 1;

/// All reasons in use, each a sorted list of causes. Number 0 is no reason at all.
#[derive(Clone, Debug)]
pub(super) struct Reasons {
    lists: Vec<Arc<[Cause]>>,
    numbers: HashMap<Arc<[Cause]>, u32>,
}

impl Default for Reasons {
    fn default() -> Self {
        let none: Arc<[Cause]> = Arc::from([]);
        Reasons {
            lists: vec![none.clone()],
            numbers: HashMap::from([(none, 0)]),
        }
    }
}

impl Reasons {
    /// The number of a list of causes.
    pub(super) fn number(&mut self, mut causes: Vec<Cause>) -> u32 {
        causes.sort();
        causes.dedup();
        causes.truncate(MOST_KEPT);
        if let Some(number) = self.numbers.get(&causes[..]) {
            return *number;
        }
        let list: Arc<[Cause]> = causes.into();
        let number = self.lists.len() as u32;
        self.lists.push(list.clone());
        self.numbers.insert(list, number);
        number
    }

    /// The causes under a number.
    pub(super) fn causes(&self, number: u32) -> &[Cause] {
        &self.lists[number as usize]
    }
}

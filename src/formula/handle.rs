//! Identity of a cell: a small number that knows which sheet it belongs to.

/// A cell of one sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CellId {
    pub(crate) sheet: u32,
    pub(crate) index: u32,
}

impl CellId {
    /// Position of the cell in the order of definition.
    pub fn index(self) -> usize {
        self.index as usize
    }
}

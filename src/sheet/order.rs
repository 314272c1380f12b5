//! The order in which cells are evaluated: that of definition, until a cell had to move.

/// Places of cells in the order of evaluation. Nothing is kept while each cell stands where it
/// was defined, which spares large sheets two numbers a cell and two look-ups an evaluation.
#[derive(Clone, Debug, Default)]
pub(super) struct Order {
    moved: Option<Moved>,
}

#[derive(Clone, Debug)]
struct Moved {
    /// The cell at each place.
    cells: Vec<u32>,
    /// The place of each cell.
    ranks: Vec<u32>,
}

impl Order {
    /// Adds the cell of this number, which is the number of cells before it, at the end.
    #[inline]
    pub(super) fn push(&mut self, index: u32) {
        if let Some(moved) = &mut self.moved {
            moved.cells.push(index);
            moved.ranks.push(index);
        }
    }

    /// The place of a cell.
    #[inline]
    pub(super) fn rank(&self, index: u32) -> u32 {
        match &self.moved {
            None => index,
            Some(moved) => moved.ranks[index as usize],
        }
    }

    /// The cell at a place.
    #[inline]
    pub(super) fn at(&self, rank: u32) -> u32 {
        match &self.moved {
            None => rank,
            Some(moved) => moved.cells[rank as usize],
        }
    }

    /// Moves a cell behind all others, of which there are `count` with it.
    pub(super) fn move_last(&mut self, index: u32, count: usize) {
        let from = self.rank(index) as usize;
        if from + 1 >= count {
            return;
        }
        let moved = self.moved.get_or_insert_with(|| Moved {
            cells: (0..count as u32).collect(),
            ranks: (0..count as u32).collect(),
        });
        moved.cells[from..].rotate_left(1);
        for (rank, cell) in moved.cells.iter().enumerate().skip(from) {
            moved.ranks[*cell as usize] = rank as u32;
        }
    }

    /// Takes another order; each cell stands in it once.
    pub(super) fn replace(&mut self, cells: Vec<u32>) {
        let mut ranks = vec![0; cells.len()];
        for (rank, cell) in cells.iter().enumerate() {
            ranks[*cell as usize] = rank as u32;
        }
        self.moved = (!cells.is_sorted()).then_some(Moved { cells, ranks });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_stand_where_they_were_defined_until_one_moves() {
        let mut order = Order::default();
        (0..4).for_each(|index| order.push(index));
        assert_eq!(order.at(2), 2);
        order.move_last(3, 4);
        assert!(order.moved.is_none());
        order.move_last(1, 4);
        order.push(4);
        let cells: Vec<u32> = (0..5).map(|rank| order.at(rank)).collect();
        assert_eq!(cells, [0, 2, 3, 1, 4]);
        for (rank, cell) in cells.into_iter().enumerate() {
            assert_eq!(order.rank(cell), rank as u32);
        }
        order.replace((0..5).collect());
        assert!(order.moved.is_none());
    }
}

//! The cells whose formulas use a cell.

use std::ops::Deref;

/// How many stand in the list itself, without memory of their own: most cells have no more.
const FEW: usize = 3;

/// A list of cells in the room of a vector's head.
#[derive(Clone, Debug)]
pub(super) enum Users {
    Few { count: u8, cells: [u32; FEW] },
    Many(Vec<u32>),
}

impl Default for Users {
    fn default() -> Self {
        Users::Few {
            count: 0,
            cells: [0; FEW],
        }
    }
}

impl Deref for Users {
    type Target = [u32];

    #[inline]
    fn deref(&self) -> &[u32] {
        match self {
            Users::Few { count, cells } => &cells[..usize::from(*count).min(FEW)],
            Users::Many(cells) => cells,
        }
    }
}

impl Users {
    /// Appends a cell.
    #[inline]
    pub(super) fn push(&mut self, cell: u32) {
        match self {
            Users::Few { count, cells } if usize::from(*count) < FEW => {
                cells[usize::from(*count)] = cell;
                *count += 1;
            }
            Users::Few { .. } => {
                let mut many = self.to_vec();
                many.push(cell);
                *self = Users::Many(many);
            }
            Users::Many(cells) => cells.push(cell),
        }
    }

    /// Takes a cell out, however often it is there.
    pub(super) fn remove(&mut self, cell: u32) {
        let left: Vec<u32> = self.iter().copied().filter(|user| *user != cell).collect();
        *self = Users::default();
        left.into_iter().for_each(|user| self.push(user));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_and_many_are_the_same_list() {
        let mut users = Users::default();
        let mut judge: Vec<u32> = Vec::new();
        for cell in [5, 9, 5, 7, 1, 9, 2] {
            users.push(cell);
            judge.push(cell);
            assert_eq!(users[..], judge[..]);
        }
        for cell in [5, 9, 4, 2, 1, 7] {
            users.remove(cell);
            judge.retain(|user| *user != cell);
            assert_eq!(users[..], judge[..]);
        }
    }

    #[test]
    fn the_list_takes_no_more_room_than_a_vector() {
        assert_eq!(size_of::<Users>(), size_of::<Vec<u32>>());
    }
}

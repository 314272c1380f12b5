//! Memory for a column of results.

use std::fmt;
use std::ops::{Deref, DerefMut};

/// Bytes of a line of the processor's caches.
pub(crate) const LINE: usize = 64;

/// Numbers or states in a row, from a whole line of memory on: so that what is written to them
/// line by line never waits for the rest of a line. To read and write it is a slice.
///
/// ```
/// use semilunar::sheet::Buffer;
///
/// let mut buffer = Buffer::default();
/// buffer.make_room(1000);
/// buffer[7] = 2.5;
/// assert_eq!(buffer.len(), 1000);
/// assert_eq!(buffer[6..9], [0.0, 2.5, 0.0]);
/// assert_eq!(buffer.as_ptr().addr() % 64, 0);
/// ```
#[derive(Default)]
pub struct Buffer<T> {
    /// A line longer than what is used of it.
    memory: Vec<T>,
    start: usize,
    len: usize,
}

impl<T: Copy + Default> Buffer<T> {
    /// Makes it `len` long. The memory is used again where there is enough of it, and what stands
    /// in it then is of no meaning.
    pub fn make_room(&mut self, len: usize) {
        if self.start + len > self.memory.len() {
            // First free the old, then take the new.
            *self = Buffer::default();
            self.memory = vec![T::default(); len + Self::IN_LINE];
            // Where memory says nothing about its place, any will do.
            let to_line = self.memory.as_ptr().align_offset(LINE);
            self.start = if to_line < Self::IN_LINE { to_line } else { 0 };
        }
        self.len = len;
    }

    /// How many stand in a line.
    const IN_LINE: usize = LINE / size_of::<T>();
}

impl<T> Deref for Buffer<T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        &self.memory[self.start..self.start + self.len]
    }
}

impl<T> DerefMut for Buffer<T> {
    fn deref_mut(&mut self) -> &mut [T] {
        &mut self.memory[self.start..self.start + self.len]
    }
}

impl<'b, T> IntoIterator for &'b Buffer<T> {
    type Item = &'b T;
    type IntoIter = std::slice::Iter<'b, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl<T: Copy + Default> Clone for Buffer<T> {
    fn clone(&self) -> Self {
        let mut clone = Buffer::default();
        clone.make_room(self.len);
        clone.copy_from_slice(self);
        clone
    }
}

impl<T: PartialEq> PartialEq for Buffer<T> {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

impl<T: fmt::Debug> fmt::Debug for Buffer<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        (**self).fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn starts_at_a_line<T>(buffer: &Buffer<T>) -> bool {
        buffer.as_ptr().addr().is_multiple_of(LINE)
    }

    #[test]
    fn memory_starts_at_a_line_and_is_used_again() {
        let mut numbers = Buffer::<f64>::default();
        let mut states = Buffer::<u8>::default();
        for len in [1, 7, 8, 100_000] {
            numbers.make_room(len);
            states.make_room(len);
            assert_eq!((numbers.len(), states.len()), (len, len));
            assert!(starts_at_a_line(&numbers) && starts_at_a_line(&states));
        }
        let place = numbers.as_ptr();
        numbers.make_room(10);
        numbers.make_room(99_999);
        assert_eq!(numbers.as_ptr(), place);
    }

    #[test]
    fn a_clone_is_equal_and_its_own() {
        let mut numbers = Buffer::<f64>::default();
        numbers.make_room(3);
        numbers[1] = 2.0;
        let clone = numbers.clone();
        assert!(starts_at_a_line(&clone));
        assert_eq!(clone, numbers);
        numbers[1] = 3.0;
        assert_eq!(*clone, [0.0, 2.0, 0.0]);
        assert_ne!(clone, numbers);
        assert_eq!(format!("{clone:?}"), "[0.0, 2.0, 0.0]");
    }
}

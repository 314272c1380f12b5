//! Memory for a column of results.

mod memory;

use std::fmt;
use std::ops::{Deref, DerefMut};

use crate::formula::simd::LINE;
use memory::Memory;

pub use memory::Held;

/// Numbers or states in a row, from a whole line of memory on: so that what is written to them
/// line by line never waits for the rest of a line. To read and write it is a slice.
///
/// With the feature `huge-pages`, on Linux, buffers of many rows stand in pages of 2 MiB where the
/// system gives such to who asks for them: the processor then looks up places far less often.
/// Readings may stand in buffers too, for the same reason.
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
pub struct Buffer<T> {
    memory: Memory<T>,
    /// Where the first line of it starts.
    start: usize,
    len: usize,
}

impl<T: Held> Buffer<T> {
    /// Makes it `len` long. The memory is used again where there is enough of it, and what stands
    /// in it then is of no meaning.
    pub fn make_room(&mut self, len: usize) {
        if self.start + len > self.memory.all().len() {
            // First give back the old, then take the new: with room to start at a line.
            *self = Buffer::default();
            let in_line = LINE / size_of::<T>();
            self.memory = Memory::of(len + in_line);
            // Where memory says nothing about its place, any will do.
            let to_line = self.memory.all().as_ptr().align_offset(LINE);
            self.start = if to_line < in_line { to_line } else { 0 };
        }
        self.len = len;
    }
}

impl<T> Default for Buffer<T> {
    /// Of no length, and without memory.
    fn default() -> Self {
        Buffer {
            memory: Memory::NONE,
            start: 0,
            len: 0,
        }
    }
}

impl<T: Held> Deref for Buffer<T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        &self.memory.all()[self.start..self.start + self.len]
    }
}

impl<T: Held> DerefMut for Buffer<T> {
    fn deref_mut(&mut self) -> &mut [T] {
        &mut self.memory.all_mut()[self.start..self.start + self.len]
    }
}

impl<'b, T: Held> IntoIterator for &'b Buffer<T> {
    type Item = &'b T;
    type IntoIter = std::slice::Iter<'b, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl<T: Held> Clone for Buffer<T> {
    fn clone(&self) -> Self {
        let mut clone = Buffer::default();
        clone.make_room(self.len);
        clone.copy_from_slice(self);
        clone
    }
}

impl<T: Held + PartialEq> PartialEq for Buffer<T> {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

impl<T: Held + fmt::Debug> fmt::Debug for Buffer<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        (**self).fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn starts_at_a_line<T: Held>(buffer: &Buffer<T>) -> bool {
        buffer.as_ptr().addr().is_multiple_of(LINE)
    }

    #[test]
    fn memory_starts_at_a_line_and_is_used_again() {
        let mut numbers = Buffer::<f64>::default();
        let mut states = Buffer::<u8>::default();
        for len in [1, 7, 8, 10_000_000] {
            numbers.make_room(len);
            states.make_room(len);
            assert_eq!((numbers.len(), states.len()), (len, len));
            assert!(starts_at_a_line(&numbers) && starts_at_a_line(&states));
        }
        let place = numbers.as_ptr();
        numbers.make_room(10);
        numbers.make_room(9_999_999);
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

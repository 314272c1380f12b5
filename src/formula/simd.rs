//! The choice of instruction set, made at run time, and what the processor is told about memory:
//! the only unsafe code of the crate.

use std::cell::Cell;
use std::marker::PhantomData;

/// Bytes of a line of the processor's caches.
pub(crate) const LINE: usize = 64;

/// Work with one body for every instruction set. `run` and all that it calls in its loops must be
/// `#[inline(always)]`, so that each instruction set gets code of its own.
pub(crate) trait Job {
    /// Does the work.
    fn run(self);
}

/// Does the work with the widest vectors of this processor. The bits do not depend on them.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
#[inline]
pub(crate) fn widest(job: impl Job) {
    if has_avx512() {
        // SAFETY: the features were found on this processor in the line above.
        unsafe { avx512(job) }
    } else if std::is_x86_feature_detected!("avx2") {
        // SAFETY: the feature was found on this processor in the line above.
        unsafe { avx2(job) }
    } else {
        job.run();
    }
}

#[cfg(target_arch = "x86_64")]
fn has_avx512() -> bool {
    std::is_x86_feature_detected!("avx512f")
        && std::is_x86_feature_detected!("avx512dq")
        && std::is_x86_feature_detected!("avx512bw")
        && std::is_x86_feature_detected!("avx512vl")
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512bw,avx512vl")]
fn avx512(job: impl Job) {
    job.run();
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn avx2(job: impl Job) {
    job.run();
}

/// Does the work with the instructions of the target.
#[cfg(not(target_arch = "x86_64"))]
pub(crate) fn widest(job: impl Job) {
    job.run();
}

/// Leave to write memory past the caches, given by [`past_caches`]. A cell, and so of no use to
/// other threads, for whose writing nobody waits.
pub(crate) struct PastCaches<'m>(PhantomData<Cell<&'m mut ()>>);

/// Numbers whose bytes all mean something.
pub(crate) trait Plain: Copy {}
impl Plain for f64 {}
impl Plain for u8 {}

/// Lets `work` write memory past the caches, and waits until all is written. What is written is
/// borrowed for longer than the work takes, so that nobody reads it before.
pub(crate) fn past_caches<'m, T>(work: impl FnOnce(&PastCaches<'m>) -> T) -> T {
    /// Waits also where the work panics.
    struct Wait;
    impl Drop for Wait {
        #[allow(unsafe_code)]
        fn drop(&mut self) {
            // SAFETY: the instruction is part of every x86-64.
            #[cfg(target_arch = "x86_64")]
            unsafe {
                std::arch::x86_64::_mm_sfence();
            }
        }
    }
    let _wait = Wait;
    work(&PastCaches(PhantomData))
}

impl<'m> PastCaches<'m> {
    /// Copies numbers to memory that will not be looked at soon: whole lines of the cache go there
    /// without being read first, and drive nothing else from the caches.
    pub(crate) fn put<N: Plain>(&self, to: &'m mut [N], from: &[N]) {
        assert_eq!(to.len(), from.len());
        let lines = |len: usize| len / (LINE / size_of::<N>()) * (LINE / size_of::<N>());
        let before = to.as_ptr().align_offset(LINE).min(to.len());
        let (to_start, to) = to.split_at_mut(before);
        let (to_lines, to_rest) = to.split_at_mut(lines(to.len()));
        let (start, from) = from.split_at(before);
        let (whole, rest) = from.split_at(to_lines.len());
        to_start.copy_from_slice(start);
        put_lines(to_lines, whole);
        to_rest.copy_from_slice(rest);
    }
}

/// Copies whole lines that start at a line, with the widest instructions of this processor.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
fn put_lines<N: Plain>(to: &mut [N], from: &[N]) {
    assert_eq!(to.len(), from.len());
    let lines = size_of_val(from) / LINE;
    let (to, from) = (to.as_mut_ptr().cast::<Line>(), from.as_ptr().cast::<Line>());
    assert!(lines == 0 || to.addr().is_multiple_of(LINE));
    // SAFETY: both places lie inside of slices of so many bytes, all of which mean something, and
    // the first is aligned. Who can reach it waits for what is written, as `past_caches` says. The
    // feature was found on this processor.
    unsafe {
        match has_avx512() {
            true => put_whole_lines(to, from, lines),
            false => put_lines_by_parts(to, from, lines),
        }
    }
}

/// The bytes of a line.
#[cfg(target_arch = "x86_64")]
type Line = [u8; LINE];

/// # Safety
/// From both places on there are so many lines, `to` is the start of one, and whoever reads what
/// is written there waits for it.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
#[target_feature(enable = "avx512f")]
unsafe fn put_whole_lines(to: *mut Line, from: *const Line, lines: usize) {
    use std::arch::x86_64::{_mm512_loadu_si512, _mm512_stream_si512};
    for line in 0..lines {
        // SAFETY: as the caller says.
        unsafe {
            let bytes = _mm512_loadu_si512(from.add(line).cast());
            _mm512_stream_si512(to.add(line).cast(), bytes);
        }
    }
}

/// # Safety
/// As of [`put_whole_lines`].
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
unsafe fn put_lines_by_parts(to: *mut Line, from: *const Line, lines: usize) {
    use std::arch::x86_64::{__m128i, _mm_loadu_si128, _mm_stream_si128};
    let (to, from) = (to.cast::<__m128i>(), from.cast::<__m128i>());
    for part in 0..lines * (LINE / size_of::<__m128i>()) {
        // SAFETY: as the caller says. The instructions are part of every x86-64.
        unsafe { _mm_stream_si128(to.add(part), _mm_loadu_si128(from.add(part))) };
    }
}

#[cfg(not(target_arch = "x86_64"))]
fn put_lines<N: Plain>(to: &mut [N], from: &[N]) {
    to.copy_from_slice(from);
}

/// Asks for the lines of memory in which numbers stand, to have them near a little later.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
pub(crate) fn ask_for(numbers: &[f64]) {
    use std::arch::x86_64::{_MM_HINT_T1, _mm_prefetch};
    for line in numbers.chunks(LINE / size_of::<f64>()) {
        // SAFETY: the instruction is part of every x86-64. It reads nothing that anyone sees.
        unsafe { _mm_prefetch::<_MM_HINT_T1>(line.as_ptr().cast()) };
    }
}

/// Looks at the lines of memory in which numbers stand, to have them near a little later.
#[cfg(not(target_arch = "x86_64"))]
pub(crate) fn ask_for(numbers: &[f64]) {
    for line in numbers.chunks(LINE / size_of::<f64>()) {
        std::hint::black_box(line[0]);
    }
}

/// Tells the processor that the memory so many numbers behind one will soon be read. It reads
/// nothing yet, and there need not be any.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
#[inline(always)]
pub(crate) fn soon_read(number: &f64, ahead: usize) {
    use std::arch::x86_64::{_MM_HINT_T0, _mm_prefetch};
    let place = std::ptr::from_ref(number).wrapping_add(ahead);
    // SAFETY: a hint may name any place: nothing is read that the program could see, and none fails.
    unsafe { _mm_prefetch::<_MM_HINT_T0>(place.cast()) };
}

/// Tells the processor nothing.
#[cfg(not(target_arch = "x86_64"))]
#[inline(always)]
pub(crate) fn soon_read(_: &f64, _: usize) {}

#[cfg(test)]
mod tests {
    use super::*;

    /// The way for processors without the widest instructions, which others do not go.
    #[cfg(target_arch = "x86_64")]
    #[allow(unsafe_code)]
    #[test]
    fn lines_written_by_parts_are_whole() {
        #[repr(align(64))]
        struct Lines([Line; 3]);
        let mut to = Lines([[0; LINE]; 3]);
        let from: [Line; 2] = [1, 2].map(|byte| [byte; LINE]);
        past_caches(|_| {
            // SAFETY: both have two lines, the first starts at one, and `past_caches` waits.
            unsafe { put_lines_by_parts(to.0.as_mut_ptr(), from.as_ptr(), 2) };
        });
        assert_eq!(to.0, [[1; LINE], [2; LINE], [0; LINE]]);
    }

    /// Wherever it starts and ends: all of it, and nothing beside it.
    #[test]
    fn what_is_written_past_the_caches_is_there_afterwards() {
        let numbers: Vec<f64> = (1..100).map(f64::from).collect();
        let states: Vec<u8> = (1..250).collect();
        for before in [0, 1, 7, 8, 63] {
            for len in [0, 1, 15, 64, 98] {
                let (mut to_numbers, mut to_states) = (vec![0.0; 200], vec![0_u8; 400]);
                let here = before..before + len;
                past_caches(|caches| {
                    caches.put(&mut to_numbers[here.clone()], &numbers[..len]);
                    caches.put(&mut to_states[here.clone()], &states[..len]);
                });
                assert_eq!(to_numbers[here.clone()], numbers[..len]);
                assert_eq!(to_states[here.clone()], states[..len]);
                assert_eq!(to_numbers.iter().filter(|n| **n != 0.0).count(), len);
                assert_eq!(to_states.iter().filter(|s| **s != 0).count(), len);
            }
        }
    }
}

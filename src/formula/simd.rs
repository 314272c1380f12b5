//! The choice of instruction set, made at run time, and a hint to the processor: the only unsafe
//! code of the crate.

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

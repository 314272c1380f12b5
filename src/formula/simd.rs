//! The choice of instruction set, made at run time: the only unsafe code of the crate.

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

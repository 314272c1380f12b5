//! The widest vector instructions of this processor, for loops written by hand.

/// A loop with one body for every instruction set.
pub trait Loop {
    fn run(self);
}

/// The vector instructions that are used.
pub fn instructions() -> &'static str {
    #[cfg(target_arch = "x86_64")]
    {
        if has_avx512() {
            return "AVX-512";
        }
        if std::is_x86_feature_detected!("avx2") {
            return "AVX2";
        }
    }
    "those of the target"
}

#[cfg(target_arch = "x86_64")]
fn has_avx512() -> bool {
    std::is_x86_feature_detected!("avx512f")
        && std::is_x86_feature_detected!("avx512dq")
        && std::is_x86_feature_detected!("avx512bw")
        && std::is_x86_feature_detected!("avx512vl")
}

#[cfg(target_arch = "x86_64")]
pub fn widest(body: impl Loop) {
    if has_avx512() {
        // SAFETY: the features were found on this processor in the line above.
        unsafe { avx512(body) }
    } else if std::is_x86_feature_detected!("avx2") {
        // SAFETY: the feature was found on this processor in the line above.
        unsafe { avx2(body) }
    } else {
        body.run();
    }
}

#[cfg(not(target_arch = "x86_64"))]
pub fn widest(body: impl Loop) {
    body.run();
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512bw,avx512vl")]
fn avx512(body: impl Loop) {
    body.run();
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn avx2(body: impl Loop) {
    body.run();
}

//! How much the caches of this processor hold.

use std::sync::OnceLock;

/// What is taken where the processor does not say.
const USUAL: usize = 32 << 20;

/// Bytes of the largest cache, which may serve other processors too.
pub(super) fn largest_cache() -> usize {
    static SIZE: OnceLock<usize> = OnceLock::new();
    *SIZE.get_or_init(|| told().filter(|size| *size > 0).unwrap_or(USUAL))
}

/// What the processor says.
#[cfg(target_arch = "x86_64")]
fn told() -> Option<usize> {
    let caches = raw_cpuid::CpuId::new().get_cache_parameters()?;
    let sizes = caches.map(|cache| {
        cache.associativity()
            * cache.physical_line_partitions()
            * cache.coherency_line_size()
            * cache.sets()
    });
    sizes.max()
}

#[cfg(not(target_arch = "x86_64"))]
fn told() -> Option<usize> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cache_holds_some_and_not_all() {
        assert!((1 << 15..1 << 34).contains(&largest_cache()));
    }
}

//! Where a buffer's memory comes from.

#[cfg(all(feature = "huge-pages", target_os = "linux"))]
use memmap2::{Advice, MmapMut};

/// What a [`Buffer`](super::Buffer) may hold: numbers and states.
pub trait Held: Copy + Default + Bits {}
impl Held for f64 {}
impl Held for u8 {}

/// Numbers that any bytes are.
#[cfg(all(feature = "huge-pages", target_os = "linux"))]
pub trait Bits: bytemuck::Pod {}
#[cfg(not(all(feature = "huge-pages", target_os = "linux")))]
pub trait Bits {}
impl Bits for f64 {}
impl Bits for u8 {}

/// Memory that holds zeros at first.
pub(super) enum Memory<T> {
    Allocated(Vec<T>),
    /// Taken from the system itself, in pages as large as it has.
    #[cfg(all(feature = "huge-pages", target_os = "linux"))]
    Mapped(MmapMut),
}

impl<T> Memory<T> {
    pub(super) const NONE: Memory<T> = Memory::Allocated(Vec::new());
}

impl<T: Held> Memory<T> {
    pub(super) fn of(len: usize) -> Memory<T> {
        #[cfg(all(feature = "huge-pages", target_os = "linux"))]
        if let Some(mapped) = Self::mapped(len) {
            return mapped;
        }
        Memory::Allocated(vec![T::default(); len])
    }

    /// Memory in large pages; `None` where it is too little to fill some, or the system gives none.
    #[cfg(all(feature = "huge-pages", target_os = "linux"))]
    fn mapped(len: usize) -> Option<Memory<T>> {
        const PAGE: usize = 2 << 20;
        let bytes = len.checked_mul(size_of::<T>())?;
        let map = (bytes >= 2 * PAGE)
            .then(|| MmapMut::map_anon(bytes))?
            .ok()?;
        // Where the system has no large pages, small ones do.
        let _ = map.advise(Advice::HugePage);
        Some(Memory::Mapped(map))
    }

    pub(super) fn all(&self) -> &[T] {
        match self {
            Memory::Allocated(memory) => memory,
            #[cfg(all(feature = "huge-pages", target_os = "linux"))]
            Memory::Mapped(map) => bytemuck::cast_slice(map),
        }
    }

    pub(super) fn all_mut(&mut self) -> &mut [T] {
        match self {
            Memory::Allocated(memory) => memory,
            #[cfg(all(feature = "huge-pages", target_os = "linux"))]
            Memory::Mapped(map) => bytemuck::cast_slice_mut(map),
        }
    }
}

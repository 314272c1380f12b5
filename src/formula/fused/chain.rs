//! Products in a row, and where they go.

/// The greatest of some numbers' bits, which tells whether one was out of bounds.
pub(super) type Worst = u64;

pub(super) const INFINITY: u64 = f64::INFINITY.to_bits();

/// The size of a number by its bits; at least [`INFINITY`] for what is not finite.
#[inline(always)]
pub(super) fn size(number: f64) -> Worst {
    number.to_bits() & (u64::MAX >> 1)
}

/// The same, where zero is out of bounds too.
#[inline(always)]
pub(super) fn size_above_zero(number: f64) -> Worst {
    // Of a zero, the greatest of all.
    number.to_bits().wrapping_sub(1)
}

/// What is done last in a chain.
pub(super) const NOTHING: u8 = 0;
pub(super) const TIMES: u8 = 1;
pub(super) const OVER: u8 = 2;

#[inline(always)]
pub(super) fn products<const N: usize, const W: usize, const FIRST: bool, const LAST: u8>(
    lanes: [&[f64; W]; N],
    first: f64,
    last: f64,
    mut sink: impl Sink,
) -> Worst {
    for i in 0..W {
        let mut product = match FIRST {
            true => first * lanes[0][i],
            false => lanes[0][i],
        };
        for lanes in &lanes[1..] {
            product *= lanes[i];
        }
        sink.put(
            i,
            match LAST {
                TIMES => product * last,
                OVER => product / last,
                _ => product,
            },
        );
    }
    sink.worst()
}

/// Where the products of rows go. Not closures: these are sure to be inlined, and so become vector
/// code.
pub(super) trait Sink {
    fn put(&mut self, row: usize, product: f64);
    /// The worst of what came of them; 0 where nobody looks.
    #[inline(always)]
    fn worst(&self) -> Worst {
        0
    }
}

pub(super) struct Keep<'a, const W: usize> {
    pub(super) out: &'a mut [f64; W],
}

impl<const W: usize> Sink for Keep<'_, W> {
    #[inline(always)]
    fn put(&mut self, row: usize, product: f64) {
        self.out[row] = product;
    }
}

pub(super) struct KeepFinite<'a, const W: usize> {
    pub(super) out: &'a mut [f64; W],
    pub(super) worst: Worst,
}

impl<const W: usize> Sink for KeepFinite<'_, W> {
    #[inline(always)]
    fn put(&mut self, row: usize, product: f64) {
        self.out[row] = product;
        self.worst = self.worst.max(size(product));
    }
    #[inline(always)]
    fn worst(&self) -> Worst {
        self.worst
    }
}

pub(super) struct StartSum<'a, const W: usize> {
    pub(super) sum: &'a mut [f64; W],
}

impl<const W: usize> Sink for StartSum<'_, W> {
    #[inline(always)]
    fn put(&mut self, row: usize, product: f64) {
        self.sum[row] = product * product;
    }
}

pub(super) struct AddToSum<'a, const W: usize> {
    pub(super) sum: &'a mut [f64; W],
}

impl<const W: usize> Sink for AddToSum<'_, W> {
    #[inline(always)]
    fn put(&mut self, row: usize, product: f64) {
        self.sum[row] += product * product;
    }
}

pub(super) struct RootOfSquare<'a, const W: usize> {
    pub(super) out: &'a mut [f64; W],
    pub(super) worst: Worst,
}

impl<const W: usize> Sink for RootOfSquare<'_, W> {
    #[inline(always)]
    fn put(&mut self, row: usize, product: f64) {
        let root = (product * product).sqrt();
        self.out[row] = root;
        self.worst = self.worst.max(size_above_zero(root));
    }
    #[inline(always)]
    fn worst(&self) -> Worst {
        self.worst
    }
}

pub(super) struct RootOfSum<'a, const W: usize> {
    pub(super) sum: &'a [f64; W],
    pub(super) out: &'a mut [f64; W],
    pub(super) worst: Worst,
}

impl<const W: usize> Sink for RootOfSum<'_, W> {
    #[inline(always)]
    fn put(&mut self, row: usize, product: f64) {
        let root = (self.sum[row] + product * product).sqrt();
        self.out[row] = root;
        self.worst = self.worst.max(size_above_zero(root));
    }
    #[inline(always)]
    fn worst(&self) -> Worst {
        self.worst
    }
}

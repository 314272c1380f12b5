//! Operations over a tile, written down short.

use super::operation::{Chain, End, Look, MOST};

/// One operation over a tile.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pass {
    /// What is done, one of [`code`].
    pub(super) code: u8,
    /// A register.
    pub(super) out: u8,
    /// The number of a result.
    pub(super) result: u8,
    /// Lanes that are added.
    pub(super) plus: u8,
    /// How many lanes are multiplied, and how many for a second product.
    pub(super) count: u8,
    pub(super) second_count: u8,
    pub(super) lanes: [u8; MOST],
    pub(super) second: [u8; MOST],
    pub(super) power: i32,
}

impl Pass {
    pub(super) fn of(code: u8, lanes: [u8; MOST]) -> Pass {
        Pass {
            code,
            out: 0,
            result: 0,
            plus: 0,
            count: 0,
            second_count: 0,
            lanes,
            second: [0; MOST],
            power: 0,
        }
    }
}

/// What passes do, as numbers without gaps: one jump finds the loop.
pub(super) mod code {
    use super::{Chain, End, Look};

    /// How a product is made and what is done with it.
    #[derive(Clone, Copy, PartialEq, Eq)]
    pub(in crate::formula::fused) struct Shape {
        pub(in crate::formula::fused) is_over: bool,
        pub(in crate::formula::fused) is_squared: bool,
        pub(in crate::formula::fused) has_plus: bool,
        pub(in crate::formula::fused) has_second: bool,
        pub(in crate::formula::fused) look: Look,
        pub(in crate::formula::fused) is_kept: bool,
        pub(in crate::formula::fused) has_root: bool,
    }

    const PRODUCT: Shape = Shape {
        is_over: false,
        is_squared: false,
        has_plus: false,
        has_second: false,
        look: Look::No,
        is_kept: true,
        has_root: false,
    };
    const QUOTIENT: Shape = Shape {
        is_over: true,
        ..PRODUCT
    };
    const SQUARE: Shape = Shape {
        is_squared: true,
        ..PRODUCT
    };
    const SUM: Shape = Shape {
        has_plus: true,
        ..PRODUCT
    };
    const SQUARE_SUM: Shape = Shape {
        is_squared: true,
        ..SUM
    };
    const PRODUCT_AND_SQUARE: Shape = Shape {
        has_second: true,
        ..PRODUCT
    };
    const TWO_SQUARES: Shape = Shape {
        has_second: true,
        ..SQUARE
    };

    const fn finite(shape: Shape, is_kept: bool) -> Shape {
        Shape {
            look: Look::Finite,
            is_kept,
            ..shape
        }
    }

    const fn carried(shape: Shape) -> Shape {
        Shape {
            look: Look::Carried,
            ..shape
        }
    }

    const fn root(shape: Shape, is_kept: bool) -> Shape {
        Shape {
            has_root: true,
            is_kept,
            ..shape
        }
    }

    /// What there are loops for.
    const SHAPES: [Shape; 29] = [
        PRODUCT,
        finite(PRODUCT, true),
        finite(PRODUCT, false),
        QUOTIENT,
        finite(QUOTIENT, true),
        finite(QUOTIENT, false),
        SQUARE,
        SUM,
        SQUARE_SUM,
        PRODUCT_AND_SQUARE,
        TWO_SQUARES,
        carried(PRODUCT),
        carried(SQUARE),
        carried(SUM),
        carried(SQUARE_SUM),
        carried(PRODUCT_AND_SQUARE),
        carried(TWO_SQUARES),
        root(PRODUCT, false),
        root(PRODUCT, true),
        root(SQUARE, false),
        root(SQUARE, true),
        root(SUM, false),
        root(SUM, true),
        root(SQUARE_SUM, false),
        root(SQUARE_SUM, true),
        root(PRODUCT_AND_SQUARE, false),
        root(PRODUCT_AND_SQUARE, true),
        root(TWO_SQUARES, false),
        root(TWO_SQUARES, true),
    ];

    /// The number for a chain of products; `None` where there is no loop for it.
    pub(in crate::formula::fused) fn of_chain(chain: &Chain, end: &End) -> Option<u8> {
        let wanted = Shape {
            is_over: chain.is_over,
            is_squared: end.is_squared,
            has_plus: end.plus.is_some(),
            has_second: end.second.is_some(),
            look: end.look,
            is_kept: end.keep.is_some(),
            has_root: end.root.is_some(),
        };
        let shape = SHAPES.iter().position(|shape| *shape == wanted)?;
        shape.try_into().ok()
    }

    pub(in crate::formula::fused) const fn shape(code: u8) -> Shape {
        SHAPES[code as usize]
    }

    macro_rules! numbered {
        ($($name:ident = $number:literal),*) => {
            $(pub(in crate::formula::fused) const $name: u8 = $number;)*
        };
    }

    numbered! {
        LOOK_FINITE = 29, LOOK_CARRIED = 30, ROOT_OF = 31, ROOT = 32, ABSOLUTE = 33,
        AT_LEAST_ZERO = 34, POWER = 35, ADD = 36, SUBTRACT = 37, SETTLED = 38
    }
    const _: () = assert!(LOOK_FINITE as usize == SHAPES.len());
}

//! Operations over a tile, written down short.

use super::operation::{Chain, Goal, MOST};

/// One operation over a tile.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pass {
    /// What is done, one of [`code`].
    pub(super) code: u8,
    /// A register, or the number of a result.
    pub(super) out: u8,
    /// Registers, or the number of what is supplied.
    pub(super) lanes: [u8; MOST],
    pub(super) first: f64,
    pub(super) last: f64,
}

impl Pass {
    pub(super) fn of(code: u8, lanes: [u8; MOST], out: u8) -> Pass {
        Pass {
            code,
            out,
            lanes,
            first: 1.0,
            last: 1.0,
        }
    }
}

/// What passes do, as numbers without gaps: one jump finds the loop.
pub(super) mod code {
    use super::{Chain, Goal, MOST};

    /// What is done with a product; none of them but `KEEP` has a quotient.
    pub(in crate::formula::fused) const KEEP: u8 = 0;
    pub(in crate::formula::fused) const ADD_SQUARE: u8 = 1;
    pub(in crate::formula::fused) const ROOT_OF_SUM: u8 = 2;
    pub(in crate::formula::fused) const KEEP_OVER: u8 = 3;

    /// The number for a chain of products, whose code is below [`CHAINS`].
    pub(in crate::formula::fused) fn of_chain(chain: &Chain, goal: Goal) -> u8 {
        let end = match (goal, chain.over) {
            (Goal::Made(_) | Goal::Checked(_), None) => KEEP,
            (Goal::Made(_) | Goal::Checked(_), Some(_)) => KEEP_OVER,
            (Goal::Square(_) | Goal::AddSquare(_), _) => ADD_SQUARE,
            (Goal::RootOfSquare(_) | Goal::RootOfSum(..), _) => ROOT_OF_SUM,
        };
        let first = u8::from(chain.first.is_some());
        let last = u8::from(chain.last.is_some());
        let shape = match end {
            KEEP_OVER => 0,
            _ => first + 2 * last,
        };
        (end * 4 + shape) * MOST as u8 + chain.count as u8 - 1
    }

    /// The parts of such a number.
    pub(in crate::formula::fused) struct Shape {
        pub(in crate::formula::fused) count: u8,
        pub(in crate::formula::fused) has_first: bool,
        pub(in crate::formula::fused) has_last: bool,
        pub(in crate::formula::fused) end: u8,
    }

    pub(in crate::formula::fused) const fn shape(code: u8) -> Shape {
        let factors = code / MOST as u8 % 4;
        Shape {
            count: code % MOST as u8 + 1,
            has_first: factors & 1 != 0,
            has_last: factors & 2 != 0,
            end: code / (4 * MOST as u8),
        }
    }

    macro_rules! numbered {
        ($($name:ident = $number:literal),*) => {
            $(pub(in crate::formula::fused) const $name: u8 = $number;)*
        };
    }

    numbered! {
        TAKE = 52, CHECK = 53, KEEP_SUM = 54, RAISE = 55, ROOT_OF = 56, ROOT = 57, ABSOLUTE = 58,
        AT_LEAST_ZERO = 59, POWER = 60, ADD_NUMBER = 61, TAKEN_FROM = 62, OVER = 63, UNDER = 64,
        ADD = 65, SUBTRACT = 66, DIVIDE = 67, SETTLED = 68
    }
}

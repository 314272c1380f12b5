//! Operations over blocks of plain rows.

/// Lanes that an operation reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Place {
    /// What the caller supplies.
    Supplied(u32),
    /// What an earlier operation made.
    Made(u32),
    /// A sum that operations add to where it stands.
    Sum(u32),
}

/// Most lanes in one chain of products.
pub(super) const MOST: usize = 4;

/// first · lanes\[0\] · lanes\[1\] · … · last or / over, from the left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Chain {
    pub(super) first: Option<f64>,
    pub(super) lanes: [Place; MOST],
    pub(super) count: usize,
    pub(super) last: Option<f64>,
    pub(super) over: Option<f64>,
}

impl Chain {
    pub(super) fn of(lanes: Place) -> Chain {
        Chain {
            first: None,
            lanes: [lanes; MOST],
            count: 1,
            last: None,
            over: None,
        }
    }

    pub(super) fn times(mut self, lanes: Place) -> Chain {
        self.lanes[self.count] = lanes;
        self.count += 1;
        self
    }
}

/// Where the result of an operation goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Goal {
    /// A register.
    Made(u32),
    /// A register; and each number must be finite.
    Checked(u32),
    /// The square starts a sum.
    Square(u32),
    /// The square is added to a sum.
    AddSquare(u32),
    /// The root of the square is a result.
    RootOfSquare(u32),
    /// The root of the sum with the square is a result.
    RootOfSum(u32, u32),
}

/// Operations of one argument.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum One {
    Root,
    Absolute,
    AtLeastZero,
    Power(i32),
    /// a + k.
    Add(f64),
    /// k − a.
    TakenFrom(f64),
    /// a / k.
    Over(f64),
    /// k / a.
    Under(f64),
}

/// Operations of two arguments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Two {
    Add,
    Subtract,
    Divide,
    Settled,
}

/// One operation over a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Operation {
    Chain(Chain, Goal),
    One(One, Place, u32),
    Two(Two, Place, Place, u32),
    /// A sum starts at a number.
    Start(f64, u32),
    /// A number is added to a sum.
    Raise(f64, u32),
    /// A result that is the root of lanes.
    RootOf(Place, u32),
    /// Each number must be finite.
    Check(Place),
}

/// Operations ready to run over blocks of plain rows.
#[derive(Clone, Debug)]
pub(crate) struct Fused {
    pub(super) operations: Vec<Operation>,
    pub(super) made: usize,
    pub(super) sums: usize,
}

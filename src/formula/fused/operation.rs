//! Operations over blocks of plain rows.

/// Lanes that an operation reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
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

impl Operation {
    /// Calls `each` with what it reads, but for the sum that it adds to.
    pub(super) fn reads(&self, mut each: impl FnMut(Place)) {
        match *self {
            Operation::Chain(chain, _) => chain.lanes[..chain.count].iter().copied().for_each(each),
            Operation::One(_, a, _) | Operation::RootOf(a, _) | Operation::Check(a) => each(a),
            Operation::Two(_, a, b, _) => [a, b].into_iter().for_each(each),
            Operation::Start(..) | Operation::Raise(..) => {}
        }
    }

    /// The register that it makes.
    pub(super) fn makes(&self) -> Option<u32> {
        match *self {
            Operation::Chain(_, Goal::Made(out) | Goal::Checked(out))
            | Operation::One(_, _, out)
            | Operation::Two(_, _, _, out) => Some(out),
            _ => None,
        }
    }

    /// Whether it needs the place where a sum grows, of which there is one.
    pub(super) fn squares(&self) -> bool {
        matches!(self, Operation::Chain(_, Goal::RootOfSquare(_))) || self.sum().is_some()
    }

    /// The sum that it starts, adds to, or takes the root of.
    pub(super) fn sum(&self) -> Option<u32> {
        match *self {
            Operation::Chain(
                _,
                Goal::Square(sum) | Goal::AddSquare(sum) | Goal::RootOfSum(sum, _),
            )
            | Operation::Start(_, sum)
            | Operation::Raise(_, sum) => Some(sum),
            _ => None,
        }
    }
}

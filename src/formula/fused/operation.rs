//! Operations over blocks of plain rows.

/// Lanes that an operation reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Place {
    /// What the caller supplies.
    Supplied(u32),
    /// The same number in every row, by its bits.
    Number(u64),
    /// What an earlier operation made.
    Made(u32),
}

/// Most lanes in one chain of products.
pub(super) const MOST: usize = 5;

/// lanes\[0\] · lanes\[1\] · …, from the left; or over the last of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Chain {
    pub(super) lanes: [Place; MOST],
    pub(super) count: usize,
    pub(super) is_over: bool,
}

impl Chain {
    pub(super) fn of(lanes: Place) -> Chain {
        Chain {
            lanes: [lanes; MOST],
            count: 1,
            is_over: false,
        }
    }

    pub(super) fn times(mut self, lanes: Place) -> Chain {
        self.lanes[self.count] = lanes;
        self.count += 1;
        self
    }

    pub(super) fn over(self, lanes: Place) -> Chain {
        Chain {
            is_over: true,
            ..self.times(lanes)
        }
    }
}

/// What numbers are looked at for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Look {
    No,
    /// Each must be finite.
    Finite,
    /// Each must be a variance that can be carried on.
    Carried,
}

/// What is done with a product.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct End {
    /// Whether its square is taken.
    pub(super) is_squared: bool,
    /// What is added then.
    pub(super) plus: Option<Place>,
    pub(super) look: Look,
    /// The register that takes it.
    pub(super) keep: Option<u32>,
    /// The result that is its root.
    pub(super) root: Option<u32>,
    /// A product whose square is added last.
    pub(super) second: Option<Chain>,
}

impl End {
    /// A product as it is, in a register.
    pub(super) fn kept(register: u32) -> End {
        End {
            is_squared: false,
            plus: None,
            look: Look::No,
            keep: Some(register),
            root: None,
            second: None,
        }
    }
}

/// Operations of one argument.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum One {
    Root,
    Absolute,
    AtLeastZero,
    Power(i32),
}

/// Operations of two arguments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Two {
    Add,
    Subtract,
    Settled,
}

/// One operation over a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Operation {
    Chain(Chain, End),
    One(One, Place, u32),
    Two(Two, Place, Place, u32),
    /// A result that is the root of lanes.
    RootOf(Place, u32),
    /// Numbers are looked at.
    Look(Look, Place),
}

impl Operation {
    /// Calls `each` with what it reads.
    pub(super) fn reads(&self, mut each: impl FnMut(Place)) {
        match *self {
            Operation::Chain(chain, end) => {
                let lanes = chain.lanes[..chain.count].iter().copied();
                lanes.chain(end.plus).for_each(&mut each);
                if let Some(second) = end.second {
                    second.lanes[..second.count].iter().copied().for_each(each);
                }
            }
            Operation::One(_, a, _) | Operation::RootOf(a, _) | Operation::Look(_, a) => each(a),
            Operation::Two(_, a, b, _) => [a, b].into_iter().for_each(each),
        }
    }

    /// The register that it makes.
    pub(super) fn makes(&self) -> Option<u32> {
        match *self {
            Operation::Chain(_, end) => end.keep,
            Operation::One(_, _, out) | Operation::Two(_, _, _, out) => Some(out),
            Operation::RootOf(..) | Operation::Look(..) => None,
        }
    }
}

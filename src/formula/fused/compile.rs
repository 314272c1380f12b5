//! From a graph to a short list of operations over blocks.
//!
//! Each operation goes through the cache once, so products in a row become one operation, with
//! the square, the sum or the root that takes them. No product changes its place: the numbers are
//! those of the operations one by one.

use super::bounds::PlainBounds;
use super::graph::{Graph, Node, NodeId};
use super::operation::{Chain, End, Look, MOST, One, Operation, Place, Two};
use super::order::in_order;
use super::place::placed;
use super::run::Fused;
use crate::formula::slope_lanes::LEAST_STANDARD;

impl Graph {
    /// The operations whose results are the roots of `squares`, in order, from numbers within
    /// `bounds` for each that is supplied. `None` where something is needed that there is no fused
    /// operation for.
    pub(crate) fn fuse(&self, squares: &[NodeId], bounds: &[PlainBounds]) -> Option<Fused> {
        let uses = self.uses(squares);
        let mut maker = Maker {
            graph: self,
            uses,
            chains: vec![None; self.nodes.len()],
            places: vec![None; self.nodes.len()],
            operations: Vec::new(),
            made: 0,
        };
        for at in 0..self.nodes.len() {
            if maker.uses[at] > 0 {
                maker.node(NodeId(at as u32))?;
            }
        }
        for (result, square) in squares.iter().enumerate() {
            maker.root(*square, result as u32)?;
        }
        for node in self.to_carry(squares) {
            maker.look(node, Look::Carried)?;
        }
        for node in self.to_check(squares, &maker.uses) {
            maker.look(node, Look::Finite)?;
        }
        let placed = placed(&in_order(&maker.operations)?, bounds)?;
        Some(Fused::new(placed))
    }

    /// How often each number is used on the way to some.
    fn uses(&self, wanted: &[NodeId]) -> Vec<u32> {
        let mut uses = vec![0; self.nodes.len()];
        for node in wanted.iter().chain(&self.finite) {
            uses[node.0 as usize] += 1;
        }
        for at in (0..self.nodes.len()).rev() {
            if uses[at] > 0 {
                operands(self.nodes[at], |operand| uses[operand.0 as usize] += 1);
            }
        }
        uses
    }
}

fn operands(node: Node, mut each: impl FnMut(NodeId)) {
    match node {
        Node::Number(_) | Node::Supplied(_) => {}
        Node::Root(a)
        | Node::Absolute(a)
        | Node::AtLeastZero(a)
        | Node::Power(a, _)
        | Node::Square(a) => each(a),
        Node::Multiply(a, b)
        | Node::Add(a, b)
        | Node::Subtract(a, b)
        | Node::Divide(a, b)
        | Node::Settled(a, b)
        | Node::AddSquare(a, b) => [a, b].into_iter().for_each(each),
        Node::Stretch(a, b) => [a, b, b].into_iter().for_each(each),
        Node::AddStretch(a, b, c) => [a, b, c, c].into_iter().for_each(each),
    }
}

struct Maker<'g> {
    graph: &'g Graph,
    uses: Vec<u32>,
    /// Products that were not carried out yet.
    chains: Vec<Option<Chain>>,
    /// Where numbers stand that were.
    places: Vec<Option<Place>>,
    operations: Vec<Operation>,
    made: u32,
}

impl Maker<'_> {
    fn put(&mut self, node: NodeId, operation: impl Fn(u32) -> Operation) {
        let register = self.made;
        self.made += 1;
        self.operations.push(operation(register));
        self.places[node.0 as usize] = Some(Place::Made(register));
    }

    /// Where a number stands; a product is carried out now, if it was not yet.
    fn lanes(&mut self, node: NodeId) -> Option<Place> {
        let at = node.0 as usize;
        if self.places[at].is_none()
            && let Some(chain) = self.chains[at]
        {
            self.put(node, |out| Operation::Chain(chain, End::kept(out)));
        }
        self.places[at]
    }

    fn node(&mut self, node: NodeId) -> Option<()> {
        let at = node.0 as usize;
        match self.graph.nodes[at] {
            Node::Number(k) => self.places[at] = Some(Place::Number(k.to_bits())),
            Node::Supplied(number) => self.places[at] = Some(Place::Supplied(number)),
            Node::Multiply(a, b) => self.chains[at] = Some(self.product(a, b)?),
            Node::Divide(a, b) => {
                let over = self.lanes(b)?;
                let chain = match self.open_chain(a, 1) {
                    Some(chain) => chain,
                    None => Chain::of(self.lanes(a)?),
                };
                self.chains[at] = Some(chain.over(over));
            }
            Node::Root(a) => self.one(node, One::Root, a)?,
            Node::Absolute(a) => self.one(node, One::Absolute, a)?,
            Node::AtLeastZero(a) => self.one(node, One::AtLeastZero, a)?,
            Node::Power(a, n) => self.one(node, One::Power(n), a)?,
            Node::Add(a, b) => match (self.open_chain(a, 0), self.open_chain(b, 0)) {
                (_, Some(chain)) => self.sum(node, a, chain, false)?,
                (Some(chain), _) => self.sum(node, b, chain, false)?,
                _ => self.two(node, Two::Add, a, b)?,
            },
            Node::Subtract(a, b) => self.two(node, Two::Subtract, a, b)?,
            Node::Settled(a, b) => self.two(node, Two::Settled, a, b)?,
            Node::Square(a) => {
                let chain = self.factor(a)?;
                let squared = |out| End {
                    is_squared: true,
                    ..End::kept(out)
                };
                self.put(node, |out| Operation::Chain(chain, squared(out)));
            }
            Node::AddSquare(sum, a) => {
                let chain = self.factor(a)?;
                self.sum(node, sum, chain, true)?;
            }
            Node::Stretch(variance, slope) => {
                self.chains[at] = Some(self.stretch(variance, slope)?)
            }
            Node::AddStretch(sum, variance, slope) => {
                let chain = self.stretch(variance, slope)?;
                self.sum(node, sum, chain, false)?;
            }
        }
        Some(())
    }

    fn one(&mut self, node: NodeId, one: One, a: NodeId) -> Option<()> {
        let a = self.lanes(a)?;
        self.put(node, |out| Operation::One(one, a, out));
        Some(())
    }

    fn two(&mut self, node: NodeId, two: Two, a: NodeId, b: NodeId) -> Option<()> {
        let (a, b) = (self.lanes(a)?, self.lanes(b)?);
        self.put(node, |out| Operation::Two(two, a, b, out));
        Some(())
    }

    /// A sum with a product, or with the square of one; in one operation with what it is added to,
    /// where that is one product or its square and nothing else reads it.
    fn sum(&mut self, node: NodeId, sum: NodeId, chain: Chain, is_squared: bool) -> Option<()> {
        if let Some((first, end)) = self.first(sum, is_squared) {
            // Of two, what is not a square comes first; so is what is added, whose order is no matter.
            let (first, second, is_squared) = match is_squared {
                true => (first, chain, end.is_squared),
                false => (chain, first, false),
            };
            let end = End {
                is_squared,
                second: Some(second),
                ..end
            };
            self.put(node, |out| {
                let keep = Some(out);
                Operation::Chain(first, End { keep, ..end })
            });
            return Some(());
        }
        let end = End {
            is_squared,
            plus: Some(self.lanes(sum)?),
            ..End::kept(0)
        };
        self.put(node, |out| {
            let keep = Some(out);
            Operation::Chain(chain, End { keep, ..end })
        });
        Some(())
    }

    /// The one product or square that a sum consists of so far, taken back from where it was made;
    /// `None` where it is something else, or is read elsewhere.
    fn first(&mut self, sum: NodeId, has_square: bool) -> Option<(Chain, End)> {
        if self.uses[sum.0 as usize] != 1 {
            return None;
        }
        if let Some(chain) = self.open_chain(sum, 0).filter(|_| has_square) {
            return Some((chain, End::kept(0)));
        }
        let Some(Place::Made(made)) = self.places[sum.0 as usize] else {
            return None;
        };
        let is_it = |operation: &Operation| {
            matches!(operation,
            Operation::Chain(chain, end) if end.keep == Some(made) && !chain.is_over
                && end.plus.is_none() && end.second.is_none() && (has_square || end.is_squared))
        };
        let at = self.operations.iter().position(is_it)?;
        match self.operations.remove(at) {
            Operation::Chain(chain, end) => Some((chain, end)),
            _ => None,
        }
    }

    fn stretch(&mut self, variance: NodeId, slope: NodeId) -> Option<Chain> {
        let (variance, slope) = (self.lanes(variance)?, self.lanes(slope)?);
        Some(Chain::of(variance).times(slope).times(slope))
    }

    /// The end of the chain that made lanes.
    fn end_of(&mut self, lanes: Place) -> Option<&mut End> {
        let makers = self.operations.iter_mut();
        let mut ends = makers.filter_map(|operation| match operation {
            Operation::Chain(chain, end) if !chain.is_over => Some(end),
            _ => None,
        });
        ends.find(|end| end.keep.is_some_and(|made| Place::Made(made) == lanes))
    }

    /// The root of a variance as a result, taken where the variance is made.
    fn root(&mut self, variance: NodeId, result: u32) -> Option<()> {
        let is_alone = self.uses[variance.0 as usize] == 1;
        let lanes = self.lanes(variance)?;
        match self.end_of(lanes).filter(|end| end.root.is_none()) {
            Some(end) => {
                end.root = Some(result);
                if is_alone {
                    end.keep = None;
                }
            }
            None => self.operations.push(Operation::RootOf(lanes, result)),
        }
        Some(())
    }

    /// A look at numbers, where they are made if the loop for that has one.
    fn look(&mut self, node: NodeId, look: Look) -> Option<()> {
        if let Some(k) = self.graph.known_number(node) {
            let is_above_zero = look == Look::Finite || k >= LEAST_STANDARD;
            return (k.is_finite() && is_above_zero).then_some(());
        }
        let at = node.0 as usize;
        if let (None, Some(chain)) = (self.places[at], self.chains[at]) {
            // Nothing else reads it.
            let keep = None;
            self.put(node, |out| {
                let end = End::kept(out);
                Operation::Chain(chain, End { keep, look, ..end })
            });
            return Some(());
        }
        let lanes = self.lanes(node)?;
        let makers = self.operations.iter_mut();
        let mut ends = makers.filter_map(|operation| match operation {
            Operation::Chain(_, end) => Some(end),
            _ => None,
        });
        let made = ends.find(|end| end.keep.is_some_and(|made| Place::Made(made) == lanes));
        let is_free = |end: &&mut End| {
            let is_product = !end.is_squared && end.plus.is_none() && end.second.is_none();
            end.look == Look::No && end.root.is_none() && (look == Look::Carried || is_product)
        };
        match made.filter(is_free) {
            Some(end) => end.look = look,
            None => self.operations.push(Operation::Look(look, lanes)),
        }
        Some(())
    }

    /// The product of two numbers, at the end of a chain where there is one.
    fn product(&mut self, a: NodeId, b: NodeId) -> Option<Chain> {
        if let Some(chain) = self.open_chain(a, 1) {
            return Some(chain.times(self.lanes(b)?));
        }
        let chain = self.factor(b)?;
        if chain.count < MOST {
            return Some(chain.times(self.lanes(a)?));
        }
        Some(Chain::of(self.lanes(a)?).times(self.lanes(b)?))
    }

    /// A number as a chain, of itself where nothing else is open.
    fn factor(&mut self, a: NodeId) -> Option<Chain> {
        match self.open_chain(a, 0) {
            Some(chain) => Some(chain),
            None => Some(Chain::of(self.lanes(a)?)),
        }
    }

    /// A product that was not carried out yet and may be where it is used, with room for more lanes.
    fn open_chain(&self, node: NodeId, more: usize) -> Option<Chain> {
        let at = node.0 as usize;
        let chain = self.chains[at].filter(|_| self.places[at].is_none())?;
        let is_short = chain.count + more <= MOST && !chain.is_over;
        // What is used twice is carried out twice, if that costs no more than to keep it.
        let is_cheap = self.uses[at] == 1 || (self.uses[at] == 2 && chain.count == 2);
        (is_short && is_cheap).then_some(chain)
    }
}

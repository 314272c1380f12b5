//! Place a graph to a short list of operations over blocks.
//!
//! Each operation goes through the cache once, so products in a row become one operation, with
//! the square, the sum or the root that takes them. No product changes its place: the numbers are
//! those of the operations one by one.

use super::bounds::PlainBounds;
use super::graph::{Graph, Node, NodeId};
use super::operation::{Chain, Goal, MOST, One, Operation, Place, Two};
use super::order::in_order;
use super::place::placed;
use super::run::Fused;

impl Graph {
    /// The operations whose results are the roots of `squares`, in order, from numbers within
    /// `bounds` for each that is supplied. `None` where something is needed that there is no fused
    /// operation for.
    pub(crate) fn fuse(&self, squares: &[NodeId], bounds: &[PlainBounds]) -> Option<Fused> {
        let uses = self.uses(squares);
        let mut maker = Maker {
            graph: self,
            to_check: self.to_check(squares, &uses),
            uses,
            chains: vec![None; self.nodes.len()],
            places: vec![None; self.nodes.len()],
            operations: Vec::new(),
            made: 0,
            sums: 0,
        };
        for at in 0..self.nodes.len() {
            let node = NodeId(at as u32);
            if maker.uses[at] > 0 {
                maker.node(node)?;
            }
            for (result, square) in squares.iter().enumerate() {
                if *square == node {
                    maker.root(node, result as u32)?;
                }
            }
        }
        for node in maker.to_check.clone() {
            maker.check(node)?;
        }
        Some(Fused {
            passes: placed(&in_order(&maker.operations)?, bounds)?,
        })
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
        Node::Root(a) | Node::Absolute(a) | Node::AtLeastZero(a) | Node::Power(a, _) => each(a),
        Node::Multiply(a, b)
        | Node::Add(a, b)
        | Node::Subtract(a, b)
        | Node::Divide(a, b)
        | Node::Settled(a, b)
        | Node::Square(a, b) => [a, b].into_iter().for_each(each),
        Node::AddSquare(a, b, c) => [a, b, c].into_iter().for_each(each),
    }
}

struct Maker<'g> {
    graph: &'g Graph,
    uses: Vec<u32>,
    /// What must be finite and does not show where it is not.
    to_check: Vec<NodeId>,
    /// Products that were not carried out yet.
    chains: Vec<Option<Chain>>,
    /// Where numbers stand that were.
    places: Vec<Option<Place>>,
    operations: Vec<Operation>,
    made: u32,
    sums: u32,
}

impl Maker<'_> {
    fn register(&mut self) -> u32 {
        self.made += 1;
        self.made - 1
    }

    fn put(&mut self, node: NodeId, operation: impl Fn(u32) -> Operation) {
        let register = self.register();
        self.operations.push(operation(register));
        self.places[node.0 as usize] = Some(Place::Made(register));
    }

    /// Where a number stands; a product is carried out now, if it was not yet.
    fn lanes(&mut self, node: NodeId) -> Option<Place> {
        let at = node.0 as usize;
        if self.places[at].is_none()
            && let Some(chain) = self.chains[at]
        {
            let goal = match self.to_check.contains(&node) {
                true => Goal::Checked,
                false => Goal::Made,
            };
            self.put(node, |out| Operation::Chain(chain, goal(out)));
        }
        self.places[at]
    }

    fn node(&mut self, node: NodeId) -> Option<()> {
        let at = node.0 as usize;
        match self.graph.nodes[at] {
            Node::Number(_) => {}
            Node::Supplied(number) => self.places[at] = Some(Place::Supplied(number)),
            Node::Multiply(a, b) => self.chains[at] = Some(self.product(a, b)?),
            Node::Root(a) => self.one(node, One::Root, a)?,
            Node::Absolute(a) => self.one(node, One::Absolute, a)?,
            Node::AtLeastZero(a) => self.one(node, One::AtLeastZero, a)?,
            Node::Power(a, n) => self.one(node, One::Power(n), a)?,
            Node::Add(a, b) => match (self.graph.known_number(a), self.graph.known_number(b)) {
                (Some(k), _) => self.one(node, One::Add(k), b)?,
                (_, Some(k)) => self.one(node, One::Add(k), a)?,
                _ => self.two(node, Two::Add, a, b)?,
            },
            Node::Subtract(a, b) => {
                match (self.graph.known_number(a), self.graph.known_number(b)) {
                    (Some(k), _) => self.one(node, One::TakenFrom(k), b)?,
                    (_, Some(k)) => self.one(node, One::Add(-k), a)?,
                    _ => self.two(node, Two::Subtract, a, b)?,
                }
            }
            Node::Divide(a, b) => match (self.graph.known_number(a), self.graph.known_number(b)) {
                (Some(k), _) => self.one(node, One::Under(k), b)?,
                (_, Some(k)) => match self.open_chain(a, 0).filter(|chain| chain.first.is_none()) {
                    Some(chain) => {
                        let over = Some(k);
                        self.chains[at] = Some(Chain { over, ..chain });
                    }
                    None => self.one(node, One::Over(k), a)?,
                },
                _ => self.two(node, Two::Divide, a, b)?,
            },
            Node::Settled(a, b) => self.two(node, Two::Settled, a, b)?,
            Node::Square(a, b) => {
                let chain = self.product(a, b)?;
                let sum = self.new_sum();
                self.square(node, Operation::Chain(chain, Goal::Square(sum)), sum);
            }
            Node::AddSquare(sum, a, b) => {
                let sum = self.sum(sum)?;
                let operation = match self.graph.known_number(a).zip(self.graph.known_number(b)) {
                    Some((a, b)) => Operation::Raise((a * b) * (a * b), sum),
                    None => Operation::Chain(self.product(a, b)?, Goal::AddSquare(sum)),
                };
                self.square(node, operation, sum);
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

    fn new_sum(&mut self) -> u32 {
        self.sums += 1;
        self.sums - 1
    }

    /// The sum that may be added to where it stands.
    fn sum(&mut self, node: NodeId) -> Option<u32> {
        if let Some(k) = self.graph.known_number(node) {
            let sum = self.new_sum();
            self.operations.push(Operation::Start(k, sum));
            return Some(sum);
        }
        match self.places[node.0 as usize] {
            Some(Place::Sum(at)) if self.uses[node.0 as usize] == 1 => Some(at),
            _ => None,
        }
    }

    fn square(&mut self, node: NodeId, operation: Operation, sum: u32) {
        self.operations.push(operation);
        self.places[node.0 as usize] = Some(Place::Sum(sum));
    }

    /// The root of a variance as a result; with the square added last in one operation.
    fn root(&mut self, variance: NodeId, result: u32) -> Option<()> {
        let at = variance.0 as usize;
        if self.uses[at] == 1
            && let Some(Operation::Chain(_, goal)) = self.operations.last_mut()
            && let Some(Place::Sum(sum)) = self.places[at]
        {
            match *goal {
                Goal::Square(to) if to == sum => {
                    *goal = Goal::RootOfSquare(result);
                    return Some(());
                }
                Goal::AddSquare(to) if to == sum => {
                    *goal = Goal::RootOfSum(sum, result);
                    return Some(());
                }
                _ => {}
            }
        }
        let lanes = self.lanes(variance)?;
        self.operations.push(Operation::RootOf(lanes, result));
        Some(())
    }

    /// A look at whether all numbers are finite, where the operation that made them had none.
    fn check(&mut self, node: NodeId) -> Option<()> {
        if let Some(k) = self.graph.known_number(node) {
            return k.is_finite().then_some(());
        }
        let lanes = self.lanes(node)?;
        let is_checked = |operation: &Operation| match (operation, lanes) {
            (Operation::Chain(_, Goal::Checked(out)), Place::Made(made)) => *out == made,
            _ => false,
        };
        if !self.operations.iter().any(is_checked) {
            self.operations.push(Operation::Check(lanes));
        }
        Some(())
    }

    /// The product of two numbers, at the end of a chain where there is one. No sum is part of
    /// one: it may still grow.
    fn product(&mut self, a: NodeId, b: NodeId) -> Option<Chain> {
        let chain = self.any_product(a, b)?;
        let is_sum = |lanes: &Place| matches!(lanes, Place::Sum(_));
        (!chain.lanes.iter().any(is_sum)).then_some(chain)
    }

    fn any_product(&mut self, a: NodeId, b: NodeId) -> Option<Chain> {
        match (self.graph.known_number(a), self.graph.known_number(b)) {
            (Some(_), Some(_)) => None,
            (Some(k), None) => self.scaled(b, k),
            (None, Some(k)) => self.scaled(a, k),
            (None, None) => {
                if let Some(chain) = self.open_chain(a, 1) {
                    return Some(chain.times(self.lanes(b)?));
                }
                if let Some(chain) = self.open_chain(b, 1) {
                    return Some(chain.times(self.lanes(a)?));
                }
                Some(Chain::of(self.lanes(a)?).times(self.lanes(b)?))
            }
        }
    }

    fn scaled(&mut self, a: NodeId, k: f64) -> Option<Chain> {
        // What is multiplied by 1 is the same number.
        let k = (k != 1.0).then_some(k);
        if let Some(chain) = self.open_chain(a, 0) {
            return Some(Chain { last: k, ..chain });
        }
        Some(Chain {
            first: k,
            ..Chain::of(self.lanes(a)?)
        })
    }

    /// A product that was not carried out yet and may be where it is used, with room for more lanes.
    fn open_chain(&self, node: NodeId, more: usize) -> Option<Chain> {
        let at = node.0 as usize;
        let chain = self.chains[at].filter(|_| self.places[at].is_none())?;
        let is_short = chain.count + more <= MOST && chain.last.is_none() && chain.over.is_none();
        // What is used twice is carried out twice, if that costs no more than to keep it.
        let is_cheap =
            self.uses[at] == 1 || (self.uses[at] == 2 && chain.count == 2 && chain.first.is_none());
        (is_short && is_cheap).then_some(chain)
    }
}

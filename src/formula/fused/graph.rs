//! What is computed over plain rows, as a graph of arithmetic.
//!
//! A plain row has a known number wherever something is supplied. So no state needs to be carried
//! along: a number that is not finite stays so up to the result, or up to a step that could hide
//! it, and what such a step takes is noted, to be looked at.

use std::collections::HashMap;

use crate::formula::lanes::whole_power;
use crate::formula::tape::{Reg, Step, Tape};

/// A number in every row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct NodeId(pub(super) u32);

/// How a number comes about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Node {
    /// The same in every row.
    Number(f64),
    /// Supplied by the caller, by its number.
    Supplied(u32),
    /// a · b.
    Multiply(NodeId, NodeId),
    /// a + b.
    Add(NodeId, NodeId),
    /// a − b.
    Subtract(NodeId, NodeId),
    /// a / b.
    Divide(NodeId, NodeId),
    /// √a.
    Root(NodeId),
    /// |a|.
    Absolute(NodeId),
    /// a, or 0 below it.
    AtLeastZero(NodeId),
    /// aⁿ.
    Power(NodeId, i32),
    /// A slope and its size, with what cancelled taken out.
    Settled(NodeId, NodeId),
    /// a².
    Square(NodeId),
    /// a + b².
    AddSquare(NodeId, NodeId),
    /// a · b · b.
    Stretch(NodeId, NodeId),
    /// a + b · c · c.
    AddStretch(NodeId, NodeId, NodeId),
}

/// A product, whose factors may change places.
fn in_order(a: NodeId, b: NodeId) -> Node {
    Node::Multiply(a.min(b), a.max(b))
}

/// What two nodes have in common that are the same.
fn key(node: Node) -> [u64; 4] {
    let two = |kind: u64, a: NodeId, b: NodeId| [kind, a.0.into(), b.0.into(), 0];
    match node {
        Node::Number(k) => [0, k.to_bits(), 0, 0],
        Node::Supplied(at) => [1, at.into(), 0, 0],
        Node::Multiply(a, b) => two(2, a, b),
        Node::Add(a, b) => two(3, a, b),
        Node::Subtract(a, b) => two(4, a, b),
        Node::Divide(a, b) => two(5, a, b),
        Node::Root(a) => two(6, a, a),
        Node::Absolute(a) => two(7, a, a),
        Node::AtLeastZero(a) => two(8, a, a),
        Node::Power(a, n) => [9, a.0.into(), n as u64, 0],
        Node::Settled(a, b) => two(10, a, b),
        Node::Square(a) => two(11, a, a),
        Node::AddSquare(a, b) => two(12, a, b),
        Node::Stretch(a, b) => two(13, a, b),
        Node::AddStretch(a, b, c) => [14, a.0.into(), b.0.into(), c.0.into()],
    }
}

/// Numbers, each made from earlier ones.
#[derive(Clone, Debug, Default)]
pub(crate) struct Graph {
    pub(super) nodes: Vec<Node>,
    known: HashMap<[u64; 4], NodeId>,
    /// What must be finite for a row to be plain.
    pub(super) finite: Vec<NodeId>,
    /// What must be a variance that can be carried on.
    pub(super) carried: Vec<NodeId>,
}

impl Graph {
    /// Adds a number, unless there is the same already. What is known beforehand is settled here,
    /// and nothing that changes a bit of a finite number.
    pub(crate) fn put(&mut self, node: Node) -> NodeId {
        let node = self.folded(node).map_or(node, Node::Number);
        match node {
            // What is multiplied by 1 is the same number.
            Node::Multiply(a, b) if self.known_number(a) == Some(1.0) => b,
            Node::Multiply(a, b) if self.known_number(b) == Some(1.0) => a,
            // The size of a product is the product of the sizes.
            Node::Multiply(a, b) => match (self.inside_size(a), self.inside_size(b)) {
                (Some(a), Some(b)) => self.size_of(in_order(a, b)),
                _ => self.keep(in_order(a, b)),
            },
            // Twice a number is exact.
            Node::Add(a, b) if a == b => {
                let two = self.number(2.0);
                match self.node(a) {
                    Node::Absolute(a) => self.size_of(in_order(a, two)),
                    _ => self.keep(in_order(a, two)),
                }
            }
            Node::Add(a, b) => self.keep(Node::Add(a.min(b), a.max(b))),
            // Nothing cancelled.
            Node::Settled(slope, size) if self.node(size) == Node::Absolute(slope) => slope,
            node => self.keep(node),
        }
    }

    fn size_of(&mut self, node: Node) -> NodeId {
        let inner = self.keep(node);
        self.keep(Node::Absolute(inner))
    }

    fn keep(&mut self, node: Node) -> NodeId {
        let next = NodeId(self.nodes.len() as u32);
        let id = *self.known.entry(key(node)).or_insert(next);
        if id == next {
            self.nodes.push(node);
        }
        id
    }

    fn node(&self, at: NodeId) -> Node {
        self.nodes[at.0 as usize]
    }

    pub(super) fn known_number(&self, at: NodeId) -> Option<f64> {
        match self.node(at) {
            Node::Number(k) => Some(k),
            _ => None,
        }
    }

    /// What is the same in every row, worked out.
    fn folded(&self, node: Node) -> Option<f64> {
        let number = |at: NodeId| self.known_number(at);
        let both = |a, b| number(a).zip(number(b));
        match node {
            Node::Multiply(a, b) => both(a, b).map(|(a, b)| a * b),
            Node::Add(a, b) => both(a, b).map(|(a, b)| a + b),
            Node::Subtract(a, b) => both(a, b).map(|(a, b)| a - b),
            Node::Divide(a, b) => both(a, b).map(|(a, b)| a / b),
            Node::Root(a) => number(a).map(f64::sqrt),
            Node::Absolute(a) => number(a).map(f64::abs),
            Node::Power(a, n) => number(a).map(|a| whole_power(a, n)),
            Node::Square(a) => number(a).map(|a| a * a),
            Node::Number(_)
            | Node::Supplied(_)
            | Node::AtLeastZero(_)
            | Node::Settled(..)
            | Node::AddSquare(..)
            | Node::Stretch(..)
            | Node::AddStretch(..) => None,
        }
    }

    /// The number that this is the size of: of a number that is not negative, itself.
    fn inside_size(&self, at: NodeId) -> Option<NodeId> {
        match self.node(at) {
            Node::Absolute(a) => Some(a),
            Node::Number(k) => (k >= 0.0).then_some(at),
            _ => None,
        }
    }

    /// A number that is the same in every row.
    pub(crate) fn number(&mut self, k: f64) -> NodeId {
        self.put(Node::Number(k))
    }

    /// −a.
    pub(crate) fn negate(&mut self, a: NodeId) -> NodeId {
        let minus = self.number(-1.0);
        self.put(Node::Multiply(a, minus))
    }

    /// Without the sign that does not matter in a square.
    fn unsigned(&mut self, a: NodeId) -> NodeId {
        let is_minus = |graph: &Graph, b: NodeId| graph.node(b) == Node::Number(-1.0);
        match self.node(a) {
            Node::Multiply(a, b) if is_minus(self, b) => self.unsigned(a),
            Node::Multiply(a, b) if is_minus(self, a) => self.unsigned(b),
            Node::Multiply(a, b) => {
                let (a, b) = (self.unsigned(a), self.unsigned(b));
                self.put(Node::Multiply(a, b))
            }
            _ => a,
        }
    }

    /// a², on top of a sum where there is one.
    pub(crate) fn add_square(&mut self, sum: Option<NodeId>, a: NodeId) -> NodeId {
        let a = self.unsigned(a);
        self.put(match sum {
            Some(sum) => Node::AddSquare(sum, a),
            None => Node::Square(a),
        })
    }

    /// variance · slope², on top of a sum where there is one. Notes that a row is not plain where
    /// the variance cannot be carried on, but for one that `is_zero`.
    pub(crate) fn add_variance(
        &mut self,
        sum: Option<NodeId>,
        variance: NodeId,
        slope: NodeId,
        is_zero: bool,
    ) -> NodeId {
        if !is_zero && !self.carried.contains(&variance) {
            self.carried.push(variance);
        }
        let slope = self.unsigned(slope);
        self.put(match sum {
            Some(sum) => Node::AddStretch(sum, variance, slope),
            None => Node::Stretch(variance, slope),
        })
    }

    /// Notes that a row is not plain where this is not finite.
    pub(crate) fn must_be_finite(&mut self, a: NodeId) {
        if !self.finite.contains(&a) {
            self.finite.push(a);
        }
    }

    /// Adds the steps of a formula over its inputs; what all registers hold. `None` where a step
    /// is none of plain arithmetic.
    pub(crate) fn follow(&mut self, tape: &Tape, inputs: &[NodeId]) -> Option<Vec<NodeId>> {
        let mut registers = inputs.to_vec();
        for step in &tape.steps {
            let made = self.step(*step, &registers)?;
            registers.push(made);
        }
        Some(registers)
    }

    fn step(&mut self, step: Step, registers: &[NodeId]) -> Option<NodeId> {
        let at = |reg: Reg| registers[usize::from(reg)];
        Some(match step {
            Step::Constant(k) => self.number(k),
            Step::Negate(a) => self.negate(at(a)),
            Step::Sqrt(a) => self.put(Node::Root(at(a))),
            Step::Abs(a) => self.put(Node::Absolute(at(a))),
            Step::Add(a, b) => self.put(Node::Add(at(a), at(b))),
            Step::AddNumber(a, k) => {
                let k = self.number(k);
                self.put(Node::Add(at(a), k))
            }
            Step::Subtract(a, b) => self.put(Node::Subtract(at(a), at(b))),
            Step::Multiply(a, b) => self.put(Node::Multiply(at(a), at(b))),
            Step::Times(a, k) => {
                let k = self.number(k);
                self.put(Node::Multiply(at(a), k))
            }
            Step::Divide(a, b) => {
                self.must_be_finite(at(b));
                self.put(Node::Divide(at(a), at(b)))
            }
            Step::Over(a, k) => {
                let k = self.number(k);
                self.put(Node::Divide(at(a), k))
            }
            Step::WholePower(a, n) => {
                self.must_be_finite(at(a));
                match n {
                    2 => self.put(Node::Multiply(at(a), at(a))),
                    _ => self.put(Node::Power(at(a), n)),
                }
            }
            // Long functions, and what looks at states, branches or words.
            Step::Exp(_)
            | Step::Ln(_)
            | Step::Cos(_)
            | Step::Power(..)
            | Step::Min(..)
            | Step::Max(..)
            | Step::Clamp(..)
            | Step::Select(..)
            | Step::Else(..)
            | Step::Compare(..)
            | Step::And(..)
            | Step::Or(..)
            | Step::Not(_)
            | Step::IsWord(..)
            | Step::IsState(..)
            | Step::Differs(..)
            | Step::Withheld
            | Step::Marked(..) => return None,
        })
    }
}

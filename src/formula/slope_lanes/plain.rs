//! The same operations for plain rows, where nothing need be guarded.

use super::carried::Stretch;
use super::{Code, Make, Source};
use crate::formula::fused::{Graph, Node, NodeId};

impl Code {
    /// Adds the operations to a graph; `given` tells where given lanes are in it. For each
    /// operation where its result is, or `None` where it is none of plain arithmetic.
    pub(crate) fn plain(&self, graph: &mut Graph, given: &[Option<NodeId>]) -> Plain {
        let mut plain = Plain {
            given: given.to_vec(),
            made: Vec::with_capacity(self.makes.len()),
        };
        for make in &self.makes {
            let made = plain.make(*make, graph);
            plain.made.push(made);
        }
        plain
    }

    /// What an operation made by [`Code::root`] takes the root of.
    pub(crate) fn under_root(&self, root: usize) -> Option<Source> {
        match self.makes[root] {
            Make::Root(a) => Some(a),
            _ => None,
        }
    }
}

/// Where lanes are in a graph.
pub(crate) struct Plain {
    given: Vec<Option<NodeId>>,
    made: Vec<Option<NodeId>>,
}

impl Plain {
    /// Where lanes are.
    pub(crate) fn at(&self, source: Source) -> Option<NodeId> {
        match source {
            Source::Given(at) => self.given[at as usize],
            Source::Made(at) => self.made[at as usize],
        }
    }

    fn make(&self, make: Make, graph: &mut Graph) -> Option<NodeId> {
        let at = |source: Source| self.at(source);
        // Not there, or there and known where it is.
        let maybe = |sum: Option<Source>| match sum {
            Some(sum) => at(sum).map(Some),
            None => Some(None),
        };
        Some(match make {
            Make::Number(k) => graph.number(k),
            Make::Negate(a) => graph.negate(at(a)?),
            Make::Absolute(a) => graph.put(Node::Absolute(at(a)?)),
            Make::Root(a) => graph.put(Node::Root(at(a)?)),
            Make::Reciprocal(a) => {
                let one = graph.number(1.0);
                graph.put(Node::Divide(one, at(a)?))
            }
            Make::HalfOver(a) => {
                let half = graph.number(0.5);
                graph.put(Node::Divide(half, at(a)?))
            }
            Make::WholePower(a, n) => {
                let power = match n {
                    2 => at(a)?,
                    3 => graph.put(Node::Multiply(at(a)?, at(a)?)),
                    _ => graph.put(Node::Power(at(a)?, n - 1)),
                };
                let n = graph.number(f64::from(n));
                graph.put(Node::Multiply(power, n))
            }
            Make::MinusOver(out, per) => {
                let minus = graph.negate(at(out)?);
                graph.put(Node::Multiply(minus, at(per)?))
            }
            Make::Add(a, b) => graph.put(Node::Add(at(a)?, at(b)?)),
            Make::Subtract(a, b) => graph.put(Node::Subtract(at(a)?, at(b)?)),
            Make::Times(a, k) => {
                let k = graph.number(k);
                graph.put(Node::Multiply(at(a)?, k))
            }
            Make::Multiply(a, b) | Make::Product(_, a, b) | Make::Link(_, _, a, b) => {
                graph.put(Node::Multiply(at(a)?, at(b)?))
            }
            Make::Settled(slope, size) => graph.put(Node::Settled(at(slope)?, at(size)?)),
            Make::AtLeastZero(a) => graph.put(Node::AtLeastZero(at(a)?)),
            Make::AddSquare(sum, a, b) => {
                let part = graph.put(Node::Multiply(at(a)?, at(b)?));
                graph.add_square(Some(at(sum)?), part)
            }
            Make::Square(a, b) => {
                let part = graph.put(Node::Multiply(at(a)?, at(b)?));
                graph.add_square(None, part)
            }
            Make::Part(sum, part) => graph.add_square(maybe(sum)?, at(part)?),
            Make::StretchedPart(Stretch { sum, slope, of, .. }) => {
                let part = graph.put(Node::Multiply(at(slope)?, at(of)?));
                graph.add_square(maybe(sum)?, part)
            }
            Make::Variance(Stretch { sum, slope, of, .. }, is_zero) => {
                graph.add_variance(maybe(sum)?, at(of)?, at(slope)?, is_zero)
            }
            // A plain row has a number wherever one is supplied.
            Make::WhereKnown(_, known, _) => at(known)?,
            Make::MinusSine(_)
            | Make::Sign(_)
            | Make::Base(..)
            | Make::Exponent(..)
            | Make::If(_) => return None,
        })
    }
}

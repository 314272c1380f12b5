//! Which numbers must be looked at, for a row to be plain.

use super::graph::{Graph, Node, NodeId};

impl Graph {
    /// What must be finite, but for that which shows in what is made of it: in the variances
    /// `squares`, whose roots are looked at, or in another number that must be finite. `uses` tells
    /// which numbers are made at all.
    pub(super) fn to_check(&self, squares: &[NodeId], uses: &[u32]) -> Vec<NodeId> {
        let mut shows = vec![false; self.nodes.len()];
        for square in squares {
            shows[square.0 as usize] = true;
        }
        for at in (0..self.nodes.len()).rev().filter(|at| uses[*at] > 0) {
            if shows[at] || self.finite.contains(&NodeId(at as u32)) {
                not_hidden(self.nodes[at], |operand| shows[operand.0 as usize] = true);
            }
        }
        let finite = self.finite.iter().copied();
        finite.filter(|node| !shows[node.0 as usize]).collect()
    }

    /// The variances that must be looked at for being carried on: the roots of the others are.
    pub(super) fn to_carry(&self, squares: &[NodeId]) -> Vec<NodeId> {
        let carried = self.carried.iter().copied();
        carried.filter(|node| !squares.contains(node)).collect()
    }
}

/// The operands that, where they are not finite, leave nothing finite.
fn not_hidden(node: Node, mut each: impl FnMut(NodeId)) {
    match node {
        Node::Number(_) | Node::Supplied(_) => {}
        Node::Root(a) | Node::Absolute(a) | Node::Square(a) => each(a),
        // Something over what is infinite is 0.
        Node::Divide(a, _) => each(a),
        Node::Power(a, n) if n > 0 => each(a),
        // Nor does the second show what is minus infinite.
        Node::Power(..) | Node::AtLeastZero(_) => {}
        Node::Settled(slope, _) => each(slope),
        Node::Multiply(a, b)
        | Node::Add(a, b)
        | Node::Subtract(a, b)
        | Node::AddSquare(a, b)
        | Node::Stretch(a, b) => [a, b].into_iter().for_each(each),
        Node::AddStretch(a, b, c) => [a, b, c].into_iter().for_each(each),
    }
}

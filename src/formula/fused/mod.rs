//! Arithmetic over blocks of plain rows, in few operations that each go through the cache once.
//!
//! A row is plain where everything supplied is known and finite, and nothing on the way becomes a
//! fault. Such rows are by far the most, and need neither states nor guards. The numbers are those
//! of the evaluator and of its derivatives, to the bit: products keep their order, and nothing is
//! contracted. Whoever runs this falls back on them for a block with a row that is not plain.

mod bounds;
mod compile;
mod finite;
mod graph;
mod kernels;
mod operation;
mod order;
mod pass;
mod place;
mod run;

pub(crate) use bounds::PlainBounds;
pub(crate) use graph::{Graph, Node, NodeId};
pub(crate) use run::{Fused, FusedRoom};

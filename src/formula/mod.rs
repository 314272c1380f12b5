//! Formulas as data, and the readers of them.
//!
//! A [`Formula`] is a list of [`Op`]s. One file per reader: `dimensions` checks units and kinds
//! and resolves the formula into steps, `lanes` evaluates the steps, `derivative` gives exact
//! partials, `typeset` gives LaTeX, `notation` text, and `judge` is the slow evaluation that
//! gives reasons and that all others are tested against.
//!
//! ```
//! use semilunar::formula::{Lane, OperandFacts, Target, evaluate_one, notation, resolve};
//! use semilunar::quantity::Unit;
//!
//! let parsed = notation::formula("pi/4 * d^2 * vti", 0).unwrap();
//! let cm = OperandFacts::plain(Unit::parse("cm").unwrap());
//! let target = Target { unit: Some(Unit::parse("mL").unwrap()), ..Target::default() };
//! let resolved = resolve(&parsed.formula, &[cm.clone(), cm], &["d", "vti"], target).unwrap();
//! let volume = evaluate_one(&resolved.tape, &[Lane::measured(2.0), Lane::measured(20.0)]);
//! assert!((volume.value - 62.83185307179586).abs() < 1e-12);
//! ```

mod bends;
mod derivative;
mod dimensions;
mod fused;
mod handle;
mod judge;
mod lanes;
#[cfg(test)]
mod laws;
mod leans;
pub mod math;
pub mod notation;
mod op;
mod script;
pub(crate) mod simd;
mod slope_lanes;
mod status;
mod tape;
pub mod typed;
mod typeset;

pub(crate) use bends::{Decisions, decisions, may_decide};
pub(crate) use derivative::sized_slopes;
pub use derivative::{Gradient, gradient, used_inputs};
pub(crate) use dimensions::{BRACKETS_HINT, kind_refuses};
pub use dimensions::{Misfit, OperandFacts, Resolved, Target, resolve};
pub(crate) use fused::{Fused, FusedRoom, Graph, Node as FusedNode, NodeId, PlainBounds};
pub use handle::CellId;
pub use judge::{Because, Given, Trouble, Verdict, branches_taken, judge};
pub use lanes::{
    COMPARISON_TOLERANCE, Lane, Lanes, Scratch, View, ViewMut, evaluate, evaluate_one,
};
pub(crate) use lanes::{Single, lone_step, run_alone};
pub(crate) use leans::leans;
pub use op::{At, Binary, Comparison, Exact, Facet, Formula, Many, Op, Unary};
pub use script::{PRELUDE, Stop, script};
pub(crate) use slope_lanes::{
    Carrying, Code, LEAST_STANDARD, Numbers, Settled, Slope, Source, Supply, Term, guarded,
    settled, square, stretched,
};
pub use status::Status;
pub use tape::{Order, Reg, StateTest, Step, Tape};
pub use typeset::{Shown, typeset};

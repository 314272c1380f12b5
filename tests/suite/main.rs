//! What the library does, seen from outside.
#![allow(clippy::unwrap_used)]

mod formula_catalogue;
mod formula_notation;
mod formula_typeset;

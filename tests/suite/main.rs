//! What the library does, seen from outside.
#![allow(clippy::unwrap_used)]
mod uncertainty;

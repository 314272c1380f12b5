//! Placeholder until the module lands.

pub mod invented;

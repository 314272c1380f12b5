//! What runs notebooks for front ends.

#[cfg(feature = "rust-cells")]
pub mod rust;

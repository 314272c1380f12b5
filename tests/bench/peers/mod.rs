//! What the sheet is measured against.

pub mod arena;

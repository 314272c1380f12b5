//! Notebook documents, what their cells show, and the pages made of them.
pub mod document;
pub mod markdown;

pub mod mathml;
pub mod output;
pub mod page;

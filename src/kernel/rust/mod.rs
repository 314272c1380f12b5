//! Rust in the cells of notebooks: compiled and run in a process apart.
//!
//! [`hook`] is the first call of a program that has Rust cells: the same program is started again
//! as the process that compiles cells and as the one that runs them. [`RustProcess`] is what a
//! session holds.
//!
//! | file | what it does |
//! |---|---|
//! | `process.rs` | the program's side: starts, asks, stops, reports |
//! | `outcome.rs` | how a cell went, as a notebook takes it |
//! | `worker.rs` | the process that compiles cells and starts the one that runs them |
//! | `refusals.rs` | what the compiler says, with places in the cell |
//! | `compose.rs` | the text that is compiled for a cell, and the way back from its places |
//! | `kept.rs` | the folder kept between sessions |
//! | `core_source.rs` | the library's source, carried by the program |
//! | `in_cell.rs`, `quantity_in_cell.rs`, `shown_in_cell.rs` | what Rust in a cell has in scope; compiled with the library there |
//! | `around_cell.rs` | what the text around a cell calls, there too |
//!
//! A cell is a program and can do what its user can do. Who opens a notebook from elsewhere has to
//! say that it may run: see [`Session::run_rust_with`](crate::notebook::Session::run_rust_with).

#[doc(hidden)]
pub mod around_cell;
mod compose;
mod core_source;
pub mod in_cell;
mod kept;
mod outcome;
mod process;
mod quantity_in_cell;
mod refusals;
mod shown_in_cell;
mod wire;
mod worker;

pub use kept::{KEPT, usual_folder};
pub use process::{RustProcess, Stopper};

/// Has to be the first call in `main`: does not return in the processes of Rust cells.
pub fn hook() {
    evcxr::runtime_hook();
    if let Some(folder) = std::env::var_os(worker::WORKER) {
        worker::serve(std::path::Path::new(&folder));
    }
}

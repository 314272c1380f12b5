//! The kernel as a process, spoken to over its sockets.

mod client;
mod robust;
#[cfg(feature = "rust-cells")]
mod rust;
mod scripts;

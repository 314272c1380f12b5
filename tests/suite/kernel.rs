//! The kernel as a process, spoken to over its sockets.

mod client;
mod robust;
mod scripts;

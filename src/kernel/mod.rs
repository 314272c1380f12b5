//! The Jupyter kernel: notebook sessions, live, in any front end that speaks the protocol.
//!
//! [`install`] makes the kernel known to front ends, which then start [`serve`]. Everything about
//! cells is the business of [`Session`](crate::notebook::Session); here it is put on the wire, and
//! outputs that another cell's change touched are replaced where they stand.
//!
//! ```
//! use semilunar::kernel::{Place, install, remove};
//!
//! let folder = std::env::temp_dir().join(format!("semilunar-kernel-{}", std::process::id()));
//! let place = Place::Prefix(folder.clone());
//! let made = install(&place, std::path::Path::new("/usr/bin/semilunar"))?;
//! assert!(made.join("kernel.json").is_file());
//! remove(&place)?;
//! assert!(!made.exists());
//! # std::fs::remove_dir_all(folder).ok();
//! # Ok::<(), semilunar::kernel::KernelError>(())
//! ```
//!
//! | file | what it knows |
//! |---|---|
//! | `zmtp.rs` | bytes: greeting, frames, commands |
//! | `outbox.rs`, `socket.rs` | connections, and that no peer waits for another |
//! | `message.rs`, `connection.rs` | signed messages; where to listen |
//! | `serve.rs` | the five sockets and their threads |
//! | `shell.rs` | one answer for each request |
//! | `work.rs` | the session, and what interrupts it |
//! | `displays.rs` | which output is where, and what has changed |
//! | `widgets.rs` | sliders, and outputs that follow them |
//! | `commands.rs` | lines that speak to the kernel and not to the sheet |
//! | `rust/` | Rust in cells, compiled and run in processes of their own (feature `rust-cells`) |
//! | `spec.rs` | the kernelspec and its folder |
//!
//! Not here: transports other than TCP, requests for input, a debugger.

mod clock;
mod commands;
mod connection;
mod displays;
mod history;
mod message;
mod outbox;
#[cfg(feature = "rust-cells")]
pub mod rust;
mod serve;
mod shell;
mod socket;
mod spec;
mod widgets;
mod wire;
mod work;
mod zmtp;

use std::io::Write;
use std::path::PathBuf;

pub use serve::serve;
pub use spec::{Place, install, remove};

/// Why the kernel cannot be installed, removed or started.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum KernelError {
    /// A file or folder.
    #[error("{}: {source}", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// A connection file that cannot be served.
    #[error("{}: {what}; a front end writes this file and starts the kernel with it", path.display())]
    Connection {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        what: String,
    },
    /// A port that cannot be listened on.
    #[error("the {socket} socket cannot listen on {address}: {source}")]
    Listen {
        /// Which of the five.
        socket: &'static str,
        /// The address.
        address: std::net::SocketAddr,
        /// What the system says.
        source: std::io::Error,
    },
    /// No folder for kernelspecs is known on this machine.
    #[error("no home folder is known: name a folder with --prefix DIR")]
    NoHome,
    /// There is no kernelspec to remove.
    #[error("{}: no kernel is installed here", .0.display())]
    NotInstalled(PathBuf),
    /// The folder holds the kernelspec of something else.
    #[error("{}: this is not the kernelspec of semilunar, and stays as it is", .0.display())]
    NotOurs(PathBuf),
}

/// Tells whoever reads the kernel's own output, which front ends keep in their log.
fn log(words: &str) {
    // If nobody reads it any more, there is nobody to tell.
    let _ = writeln!(std::io::stderr(), "semilunar kernel: {words}");
}

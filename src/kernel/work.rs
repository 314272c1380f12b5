//! The session that a kernel serves, and what interrupts its work.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::notebook::Session;

/// What interrupts the work of a session from another thread.
#[derive(Clone)]
pub(super) struct Interrupt {
    stop: Arc<AtomicBool>,
    #[cfg(feature = "rust-cells")]
    rust: Option<super::rust::Stopper>,
}

impl Interrupt {
    /// Interrupts the cell that is being carried out, in whatever language it is.
    pub(super) fn ring(&self) {
        self.stop.store(true, Ordering::Relaxed);
        #[cfg(feature = "rust-cells")]
        if let Some(rust) = &self.rust {
            rust.stop();
        }
    }

    /// Forgets an interrupt that came while nothing was at work.
    pub(super) fn forget(&self) {
        self.stop.store(false, Ordering::Relaxed);
    }

    /// Whether the work was interrupted.
    pub(super) fn is_rung(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// A session as a front end works with it: whoever types a Rust cell means it to run.
pub(super) fn session() -> (Session, Interrupt) {
    #[cfg_attr(not(feature = "rust-cells"), expect(unused_mut))]
    let mut session = Session::new("");
    let stop = session.stop_flag();
    #[cfg(feature = "rust-cells")]
    let rust = match super::rust::RustProcess::new(super::log) {
        Ok(process) => {
            let stopper = process.stopper();
            session.run_rust_with(Box::new(process));
            Some(stopper)
        }
        Err(e) => {
            super::log(&format!("Rust cells cannot run: {e}"));
            None
        }
    };
    let interrupt = Interrupt {
        stop,
        #[cfg(feature = "rust-cells")]
        rust,
    };
    (session, interrupt)
}

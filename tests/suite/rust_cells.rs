//! Rust cells as they are compiled and run. The library for them is built once into the folder for
//! tests of the target folder and kept there.

mod calls;
mod ends;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use semilunar::kernel::rust::{RustProcess, Stopper};
use semilunar::notebook::{RustCells, RustOutcome, RustTask, Session};

/// The folder that is kept.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join("rust_cells")
}

/// A process of its own.
pub fn process() -> RustProcess {
    let program = PathBuf::from(env!("CARGO_BIN_EXE_semilunar"));
    RustProcess::with(program, Some(folder()), |words| {
        let _ = writeln!(std::io::stderr(), "{words}");
    })
}

/// A process that tests share, one after the other, since a start takes its time.
#[derive(Clone)]
struct Shared(Arc<Mutex<RustProcess>>);

impl RustCells for Shared {
    fn run(&mut self, task: &RustTask<'_>) -> RustOutcome {
        let mut process = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        process.run(task)
    }
}

struct Notebook {
    session: Session,
    stopper: Stopper,
    _turn: MutexGuard<'static, ()>,
}

/// 2 cm and 20 cm: an area of 3.14 cm² and a stroke volume of 62.8 mL, by hand.
const EXAM: &str = "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm\nheart_rate = 70 /min";

/// A notebook with an exam as its cell `exam`.
fn notebook() -> Notebook {
    static PROCESS: OnceLock<Shared> = OnceLock::new();
    static TURN: Mutex<()> = Mutex::new(());
    let turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
    let shared = PROCESS.get_or_init(|| Shared(Arc::new(Mutex::new(process()))));
    let stopper = shared
        .0
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .stopper();
    let mut session = Session::new(std::env::temp_dir());
    session.run_rust_with(Box::new(shared.clone()));
    session.submit("exam", EXAM);
    Notebook {
        session,
        stopper,
        _turn: turn,
    }
}

impl Notebook {
    /// Submits a Rust cell and gives what it shows as plain text.
    fn rust(&mut self, key: &str, code: &str) -> String {
        self.submit(key, &format!("in Rust\n{code}"))
    }

    fn submit(&mut self, key: &str, text: &str) -> String {
        self.session.submit(key, text);
        self.shown(key)
    }

    fn shown(&self, key: &str) -> String {
        let outputs = self.session.outputs(key);
        let texts: Vec<&str> = outputs.iter().map(|o| o.text.as_str()).collect();
        texts.join("\n").replace('\u{a0}', " ")
    }
}

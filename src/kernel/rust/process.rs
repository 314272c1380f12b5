//! The program's side of Rust cells: starts the process that compiles them, asks it, stops it.

use std::io::{BufRead, BufReader, Lines, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::in_cell::Task;
use super::kept::{Place, of_this_version, usual_folder};
use super::outcome::outcome;
use super::wire::{End, Ran, Reply, Request};
use super::worker::{BASE, WORKER};
use crate::notebook::{RustCells, RustOutcome, RustProblem, RustTask};

/// Tells a person what a cell waits for.
type Say = Box<dyn Fn(&str) + Send + Sync>;

/// Runs Rust cells in a process of their own.
pub struct RustProcess {
    program: PathBuf,
    kept: Option<PathBuf>,
    say: Arc<Say>,
    worker: Option<Worker>,
    control: Arc<Control>,
    /// How many cells have run.
    runs: u32,
    /// The variables that cells have left.
    variables: Vec<String>,
}

/// What stops a cell from another thread.
#[derive(Clone)]
pub struct Stopper(Arc<Control>);

#[derive(Default)]
struct Control {
    stopped: AtomicBool,
    running: Mutex<Running>,
}

/// The process as one that is to be stopped.
#[derive(Default)]
enum Running {
    #[default]
    Nothing,
    /// It is being made ready: stopping it ends it.
    Starting(u32),
    /// It runs a cell: it stops the cell itself.
    Cell(Arc<Mutex<ChildStdin>>),
}

struct Worker {
    child: Child,
    stdin: Arc<Mutex<ChildStdin>>,
    replies: Lines<BufReader<ChildStdout>>,
    _place: Place,
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Stopper {
    /// Stops the Rust cell that runs, or the build that it waits for; its cell says so. Does
    /// nothing when none runs.
    pub fn stop(&self) {
        match &*locked(&self.0.running) {
            Running::Nothing => {}
            Running::Starting(process) => {
                self.0.stopped.store(true, Ordering::SeqCst);
                end_group(*process);
            }
            Running::Cell(stdin) => {
                self.0.stopped.store(true, Ordering::SeqCst);
                let _ = ask(stdin, &Request::Stop);
            }
        }
    }
}

/// Ends a process and those that it started, the compiler among them.
fn end_group(process: u32) {
    if process == 0 {
        return;
    }
    let mut command = if cfg!(windows) {
        let mut command = Command::new("taskkill");
        command.args(["/T", "/F", "/PID", &process.to_string()]);
        command
    } else {
        let mut command = Command::new("kill");
        command.args(["-KILL", "--", &format!("-{process}")]);
        command
    };
    let quiet = command.stdout(Stdio::null()).stderr(Stdio::null());
    // A process that has ended already needs no ending.
    let _ = quiet.status();
}

fn ask(stdin: &Mutex<ChildStdin>, request: &Request) -> std::io::Result<()> {
    let mut line = serde_json::to_string(request)?;
    line.push('\n');
    let mut stdin = locked(stdin);
    stdin.write_all(line.as_bytes())?;
    stdin.flush()
}

impl RustProcess {
    /// Runs cells with this program, which calls [`hook`](super::hook) first, and the usual kept
    /// folder. `say` is told what a cell waits for.
    ///
    /// # Errors
    /// The system does not say which program this is.
    pub fn new(say: impl Fn(&str) + Send + Sync + 'static) -> std::io::Result<RustProcess> {
        Ok(RustProcess::with(
            std::env::current_exe()?,
            usual_folder(),
            say,
        ))
    }

    /// Runs cells with a program that calls [`hook`](super::hook) first, and a folder to keep.
    pub fn with(
        program: PathBuf,
        kept: Option<PathBuf>,
        say: impl Fn(&str) + Send + Sync + 'static,
    ) -> RustProcess {
        RustProcess {
            program,
            kept,
            say: Arc::new(Box::new(say)),
            worker: None,
            control: Arc::default(),
            runs: 0,
            variables: Vec::new(),
        }
    }

    /// What stops a cell from another thread.
    pub fn stopper(&self) -> Stopper {
        Stopper(Arc::clone(&self.control))
    }

    fn start(&self, base: &Path) -> Result<Worker, String> {
        let Some(kept) = &self.kept else {
            return Err(
                "the system names no folder for caches: name one by the environment \
                        variable SEMILUNAR_RUST_FOLDER"
                    .into(),
            );
        };
        let is_there = |tool: &str| {
            let mut command = Command::new(tool);
            command
                .arg("--version")
                .stdout(Stdio::null())
                .stderr(Stdio::null());
            command.status().is_ok_and(|status| status.success())
        };
        if !is_there("cargo") || !is_there("rustc") {
            return Err(
                "Rust cells are compiled here, and no `cargo` is found: install Rust \
                        (https://rustup.rs) and see that `cargo` is on the PATH"
                    .into(),
            );
        }
        let version = of_this_version(kept);
        let place = Place::take(&version).map_err(|e| e.to_string())?;
        let builder = match place.is_built() {
            true => None,
            false => self.take_turn_to_build(&version, &place)?,
        };
        let worker = match self.spawn(place, base) {
            // What was built can be gone from the registry's folder: then the network is asked.
            Err((_, Some(place))) if place.is_built() && !self.is_stopped() => {
                place.set_built(false).map_err(|e| e.to_string())?;
                self.spawn(place, base).map_err(|(why, _)| why)?
            }
            started => started.map_err(|(why, _)| why)?,
        };
        worker._place.set_built(true).map_err(|e| e.to_string())?;
        drop(builder);
        Ok(worker)
    }

    fn is_stopped(&self) -> bool {
        self.control.stopped.load(Ordering::SeqCst)
    }

    /// Waits until nobody else builds; then copies what is built, or holds the turn to build.
    fn take_turn_to_build(
        &self,
        version: &Path,
        place: &Place,
    ) -> Result<Option<std::fs::File>, String> {
        let path = version.join("build.lock");
        let lock = std::fs::File::create(&path).map_err(|e| format!("{}: {e}", path.display()))?;
        *locked(&self.control.running) = Running::Starting(0);
        let mut has_said = false;
        while lock.try_lock().is_err() {
            if !has_said {
                (self.say)("another notebook builds the library for Rust cells; waiting for it");
                has_said = true;
            }
            if self.is_stopped() {
                return Err("stopped while it waited for another notebook's build".into());
            }
            std::thread::sleep(Duration::from_millis(200));
        }
        if place.copy_built(version).map_err(|e| e.to_string())? {
            return Ok(None);
        }
        (self.say)("building the library for Rust cells: once, about a minute");
        Ok(Some(lock))
    }

    fn spawn(&self, place: Place, base: &Path) -> Result<Worker, (String, Option<Place>)> {
        // An empty path is the folder in which the program was started.
        let base = std::path::absolute(Path::new(".").join(base)).unwrap_or_else(|_| base.into());
        let mut command = Command::new(&self.program);
        command
            .current_dir(&place.folder)
            .env(WORKER, &place.folder)
            .env(BASE, base)
            .env("RUST_SRC_PATH", place.no_std_source())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        // Settings of a build around this program are not for the cells.
        for setting in [
            "CARGO_ENCODED_RUSTFLAGS",
            "CARGO_BUILD_TARGET",
            "RUSTC_WRAPPER",
        ] {
            command.env_remove(setting);
        }
        // A group of its own: an interrupt at the terminal is for the program to pass on.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = match command.spawn() {
            Ok(child) => child,
            Err(e) => return Err((format!("{}: {e}", self.program.display()), Some(place))),
        };
        let pipes = (child.stdin.take(), child.stdout.take(), child.stderr.take());
        let (Some(stdin), Some(stdout), Some(stderr)) = pipes else {
            return Err(("the process of Rust cells has no pipes".into(), Some(place)));
        };
        *locked(&self.control.running) = Running::Starting(child.id());
        let heard = pass_on(BufReader::new(stderr), Arc::clone(&self.say));
        let mut worker = Worker {
            child,
            stdin: Arc::new(Mutex::new(stdin)),
            replies: BufReader::new(stdout).lines(),
            _place: place,
        };
        match worker.reply() {
            Some(Reply::Ready) => Ok(worker),
            answer => {
                let why = match answer {
                    Some(Reply::Unfit(why)) => why,
                    _ if self.is_stopped() => "stopped while the library was built".into(),
                    _ => locked(&heard).join("\n"),
                };
                Err((why, Some(worker.end())))
            }
        }
    }

    fn run_in(&mut self, task: &RustTask<'_>) -> Result<Ran, String> {
        if self.worker.is_none() {
            self.worker = Some(self.start(task.base)?);
        }
        let Some(worker) = &mut self.worker else {
            return Err("no process runs Rust cells".into());
        };
        self.runs += 1;
        let request = Request::Run {
            code: task.code.to_owned(),
            task: Task {
                run: self.runs,
                sheet: task.sheet.to_owned(),
                absent: task.absent.to_vec(),
            },
        };
        *locked(&self.control.running) = Running::Cell(Arc::clone(&worker.stdin));
        let _ = ask(&worker.stdin, &request);
        match worker.reply() {
            Some(Reply::Ran(ran)) => Ok(ran),
            _ => {
                if let Some(worker) = self.worker.take() {
                    worker.end();
                }
                Ok(Ran {
                    end: match self.is_stopped() {
                        true => End::Stopped,
                        false => End::Died("the process that compiles cells ended".into()),
                    },
                    lost: std::mem::take(&mut self.variables),
                    ..Ran::default()
                })
            }
        }
    }
}

/// Tells of the crates that are built; keeps the last lines, for when it fails.
fn pass_on(lines: impl BufRead + Send + 'static, say: Arc<Say>) -> Arc<Mutex<Vec<String>>> {
    let heard = Arc::new(Mutex::new(Vec::new()));
    let keep = Arc::clone(&heard);
    std::thread::spawn(move || {
        for line in lines.lines().map_while(Result::ok) {
            if let Some(what) = line.trim_start().strip_prefix("Compiling ") {
                let what = what.split(" (").next().unwrap_or(what);
                say(&format!("building the library for Rust cells: {what}"));
            }
            let mut heard = locked(&keep);
            if heard.len() == 20 {
                heard.remove(0);
            }
            heard.push(line);
        }
    });
    heard
}

impl Worker {
    /// The next reply; none when the process has ended.
    fn reply(&mut self) -> Option<Reply> {
        // Other lines come from what the process starts and are not for us.
        loop {
            let line = self.replies.next()?.ok()?;
            if let Ok(reply) = serde_json::from_str(&line) {
                return Some(reply);
            }
        }
    }

    fn end(mut self) -> Place {
        end_group(self.child.id());
        let _ = self.child.kill();
        let _ = self.child.wait();
        self._place
    }
}

impl Drop for RustProcess {
    fn drop(&mut self) {
        if let Some(worker) = self.worker.take() {
            worker.end();
        }
    }
}

impl RustCells for RustProcess {
    fn run(&mut self, task: &RustTask<'_>) -> RustOutcome {
        self.control.stopped.store(false, Ordering::SeqCst);
        let result = self.run_in(task);
        *locked(&self.control.running) = Running::Nothing;
        match result {
            Ok(ran) => {
                self.variables.clone_from(&ran.variables);
                outcome(ran)
            }
            Err(why) => RustOutcome {
                problems: vec![RustProblem::without_place(why)],
                ..RustOutcome::default()
            },
        }
    }
}

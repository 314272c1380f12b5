//! The process that compiles cells, and starts another one in which they run.
//!
//! Everything that a cell can do to a process, and everything that the compiler's helpers can,
//! happens here or in that other process, not in the program that holds the notebook.

use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use evcxr::{CompilationError, Error, EvalContext, EvalContextOutputs};

use super::compose::{Composed, compose};
use super::in_cell::{EVENTS_FILE, Event, FOLDER, TASK_FILE, Task};
use super::refusals::refusals;
use super::wire::{End, Ran, Refusal, Reply, Request};

/// The environment variable that makes the program this process, and names its folder.
pub(super) const WORKER: &str = "SEMILUNAR_RUST_WORKER";
/// The environment variable with the folder in which cells run.
pub(super) const BASE: &str = "SEMILUNAR_RUST_BASE";
/// The folder of compiled cells inside that of the process.
pub(super) const CELLS: &str = "cells";

/// What is in scope in every cell. The line with `?` lets cells use it without being compiled
/// twice, the first time to find out.
const PRELUDE: &str = "\
#[allow(unused_imports)] use semilunar::in_cell::{add_formula, cell, quantity, set, sheet, show, word};
#[allow(unused_imports)] use semilunar::in_cell::{CellError, Html, Quantity, Show, Svg, Table};
#[allow(unused_imports)] use semilunar::formula::typed::*;
#[allow(unused_imports)] use semilunar::formula::typed::exponents::*;
#[allow(unused_imports)] use semilunar::sheet::Sheet;
Ok::<(), std::fmt::Error>(())?;
";

/// A cell that prints more lines than this prints them to nobody.
const MOST_LINES: usize = 2000;

/// A cell can also return without a word, so the wait for one has an end.
const LONGEST_WAY: Duration = Duration::from_secs(3);

/// Serves until the program goes away. Does not return.
pub(super) fn serve(folder: &Path) -> ! {
    let requests = match Worker::start(folder) {
        Ok(worker) => worker.serve(),
        Err(why) => reply(&Reply::Unfit(why)),
    };
    std::process::exit(i32::from(!requests))
}

/// Whether the program is still there to hear it.
fn reply(reply: &Reply) -> bool {
    let Ok(mut line) = serde_json::to_string(reply) else {
        return false;
    };
    line.push('\n');
    let mut out = std::io::stdout().lock();
    out.write_all(line.as_bytes())
        .and_then(|()| out.flush())
        .is_ok()
}

struct Worker {
    folder: PathBuf,
    context: EvalContext,
    printed: Arc<Mutex<Vec<String>>>,
    complained: Arc<Mutex<Vec<String>>>,
    requests: Receiver<Request>,
    is_stopped: Arc<AtomicBool>,
    is_running: Arc<AtomicBool>,
}

/// Tells a process that loads cells where the standard library stands that they share. Cells name its place as it is seen from
/// where they are built, and are loaded from another folder: by that it is found from some folders only.
fn find_standard_library(command: &mut Command) -> Result<(), String> {
    let variable = match std::env::consts::OS {
        "macos" => "DYLD_LIBRARY_PATH",
        "windows" => "PATH",
        _ => "LD_LIBRARY_PATH",
    };
    let asked = Command::new("rustc")
        .args(["--print", "target-libdir"])
        .output()
        .map_err(|e| format!("rustc: {e}"))?;
    if !asked.status.success() {
        let complained = String::from_utf8_lossy(&asked.stderr);
        return Err(format!("rustc --print target-libdir: {complained}"));
    }
    let folder = PathBuf::from(String::from_utf8_lossy(&asked.stdout).trim());
    let before = std::env::var_os(variable);
    let before = before.iter().flat_map(std::env::split_paths);
    let folders = std::env::join_paths(std::iter::once(folder).chain(before));
    command.env(variable, folders.map_err(|e| e.to_string())?);
    Ok(())
}

impl Worker {
    fn start(folder: &Path) -> Result<Worker, String> {
        let runner = Arc::new(OnceLock::new());
        let is_running = Arc::new(AtomicBool::new(false));
        let is_stopped = Arc::new(AtomicBool::new(false));
        // Before anything takes time: a program that goes away meanwhile is noticed.
        let requests = listen(
            Arc::clone(&runner),
            Arc::clone(&is_running),
            Arc::clone(&is_stopped),
        );
        let program = std::env::current_exe().map_err(|e| e.to_string())?;
        let mut command = Command::new(program);
        command.env(FOLDER, folder);
        if let Some(base) = std::env::var_os(BASE) {
            command.current_dir(base);
        }
        find_standard_library(&mut command)?;
        let (mut context, outputs) =
            EvalContext::with_subprocess_command(command).map_err(|e| e.to_string())?;
        let mut state = context.state();
        let core = folder.join("core").display().to_string();
        state
            .add_dep(
                "semilunar",
                &format!("{{ path = {core:?}, features = [\"charts\"] }}"),
            )
            .map_err(|e| e.to_string())?;
        context
            .eval_with_state(PRELUDE, state)
            .map_err(|e| whole(&e))?;
        let EvalContextOutputs { stdout, stderr } = outputs;
        let _ = runner.set(context.process_handle());
        Ok(Worker {
            folder: folder.to_owned(),
            context,
            printed: collect(stdout.into_iter()),
            complained: collect(stderr.into_iter()),
            requests,
            is_stopped,
            is_running,
        })
    }

    fn serve(mut self) -> bool {
        let mut is_heard = reply(&Reply::Ready);
        while is_heard {
            is_heard = match self.requests.recv() {
                Ok(Request::Run { code, task }) => {
                    let ran = self.run(&code, &task);
                    reply(&Reply::Ran(ran))
                }
                Ok(Request::Stop) => true,
                Err(_) => false,
            };
        }
        is_heard
    }

    fn run(&mut self, code: &str, task: &Task) -> Ran {
        let events = self.folder.join(EVENTS_FILE);
        let _ = std::fs::remove_file(&events);
        let told = serde_json::to_vec(task).map_err(std::io::Error::from);
        if let Err(error) = told.and_then(|t| std::fs::write(self.folder.join(TASK_FILE), t)) {
            return Ran {
                end: End::Died(error.to_string()),
                ..Ran::default()
            };
        }
        let composed = compose(code);
        let before = self.variables();
        take(&self.printed);
        take(&self.complained);
        self.is_stopped.store(false, Ordering::SeqCst);
        self.is_running.store(true, Ordering::SeqCst);
        let result = self.context.eval(&composed.text);
        self.is_running.store(false, Ordering::SeqCst);
        let events = read_events(&events);
        let has_said = |e: &Event| matches!(e, Event::Done | Event::Panic(..));
        let complained = match result.is_ok() && !events.iter().any(has_said) {
            true => self.complaint(),
            false => take(&self.complained),
        };
        let end = match result {
            Ok(_) if composed.ungrammatical.is_empty() && events.contains(&Event::Done) => {
                End::Done
            }
            Ok(_) => self.early(&composed, &events, &complained),
            Err(_) if self.is_stopped.load(Ordering::SeqCst) => End::Stopped,
            Err(Error::CompilationErrors(errors)) => {
                End::Refused(refusals(&composed, code, &errors))
            }
            Err(Error::SubprocessTerminated(why)) => {
                let said = complained.iter().find(|line| !line.trim().is_empty());
                End::Died(said.map_or(last_line(&why), |said| {
                    format!("{}: {said}", last_line(&why))
                }))
            }
            Err(error) => End::Refused(vec![Refusal {
                message: error.to_string(),
                ..Refusal::default()
            }]),
        };
        let variables = self.variables();
        let mut printed = take(&self.printed);
        if end == End::Done {
            printed.extend(complained);
        }
        let mut lost: Vec<String> = before
            .into_iter()
            .filter(|name| !variables.contains(name))
            .collect();
        if matches!(end, End::Early { .. } | End::Died(_) | End::Stopped) {
            let own = composed.kept.iter().filter(|k| !variables.contains(k));
            lost.extend(own.cloned());
        }
        lost.sort();
        lost.dedup();
        Ran {
            events,
            printed: printed.join("\n"),
            end,
            lost,
            variables,
        }
    }

    fn variables(&self) -> Vec<String> {
        let names = self.context.variables_and_types();
        let mut names: Vec<String> = names.map(|(name, _)| name.to_owned()).collect();
        names.sort();
        names
    }

    /// What a cell said that returned by `?`. It has written it, but the way from there to here
    /// goes through other threads.
    fn complaint(&self) -> Vec<String> {
        let start = Instant::now();
        let mut complained = take(&self.complained);
        while complained.is_empty() && start.elapsed() < LONGEST_WAY {
            std::thread::sleep(Duration::from_millis(10));
            complained = take(&self.complained);
        }
        // Further lines of the same message are on their way with the first.
        std::thread::sleep(Duration::from_millis(10));
        complained.extend(take(&self.complained));
        complained
    }

    /// Why a cell that was compiled did not come to its end.
    fn early(&self, composed: &Composed, events: &[Event], complained: &[String]) -> End {
        let panic = events.iter().find_map(|event| match event {
            Event::Panic(message, line, column) => Some((message, *line, *column)),
            _ => None,
        });
        if let Some((message, line, column)) = panic {
            let compiled = self.context.last_source_line(line);
            let place = compiled.and_then(|l| composed.line_in_cell(&l, column as usize));
            return End::Early {
                why: format!("this cell panicked: {message}"),
                place,
            };
        }
        if let Some((message, place)) = composed.ungrammatical.first() {
            return End::Refused(vec![Refusal {
                message: message.clone(),
                place: Some(place.clone()),
                ..Refusal::default()
            }]);
        }
        let said: Vec<&str> = complained.iter().map(String::as_str).collect();
        End::Early {
            why: match said.join("\n").trim() {
                "" => "this cell returned before its end".into(),
                said => said.to_owned(),
            },
            place: None,
        }
    }
}

/// The text of the last compiled library, by line.
trait LastSource {
    fn last_source_line(&self, line: u32) -> Option<String>;
}

impl LastSource for EvalContext {
    fn last_source_line(&self, line: u32) -> Option<String> {
        let text = self.last_source().ok()?;
        let line = (line as usize).checked_sub(1)?;
        text.lines().nth(line).map(str::to_owned)
    }
}

/// Everything that an error says.
fn whole(error: &Error) -> String {
    match error {
        Error::CompilationErrors(errors) => {
            let said: Vec<String> = errors.iter().map(CompilationError::rendered).collect();
            said.join("\n")
        }
        other => other.to_string(),
    }
}

fn last_line(text: &str) -> String {
    text.trim().lines().last().unwrap_or_default().to_owned()
}

fn take(lines: &Mutex<Vec<String>>) -> Vec<String> {
    std::mem::take(&mut *lines.lock().unwrap_or_else(PoisonError::into_inner))
}

/// Gathers lines in the background, the first ones of many.
fn collect(lines: impl Iterator<Item = String> + Send + 'static) -> Arc<Mutex<Vec<String>>> {
    let gathered = Arc::new(Mutex::new(Vec::new()));
    let into = Arc::clone(&gathered);
    std::thread::spawn(move || {
        for line in lines {
            let mut gathered = into.lock().unwrap_or_else(PoisonError::into_inner);
            if gathered.len() < MOST_LINES {
                gathered.push(line);
            } else if gathered.len() == MOST_LINES {
                gathered.push(format!("… only the first {MOST_LINES} lines are kept"));
            }
        }
    });
    gathered
}

fn read_events(path: &Path) -> Vec<Event> {
    let text = std::fs::read_to_string(path).unwrap_or_default();
    let events = text.lines().map(serde_json::from_str);
    events.filter_map(Result::ok).collect()
}

/// Reads requests in the background. A request to stop is carried out here, since the other
/// thread waits for the cell; when the program goes away, so do the cell and this process.
fn listen(
    runner: Arc<OnceLock<Arc<Mutex<Child>>>>,
    is_running: Arc<AtomicBool>,
    is_stopped: Arc<AtomicBool>,
) -> Receiver<Request> {
    let (sender, requests) = channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines().map_while(Result::ok) {
            match serde_json::from_str(&line) {
                Ok(Request::Stop) => {
                    // Once is enough, also while the cell is being compiled: there is nothing left
                    // then to run it, and a new process comes in its place.
                    if is_running.load(Ordering::SeqCst) {
                        is_stopped.store(true, Ordering::SeqCst);
                        kill(&runner);
                    }
                }
                Ok(request) => {
                    if sender.send(request).is_err() {
                        break;
                    }
                }
                Err(_) => {}
            }
        }
        kill(&runner);
        std::process::exit(0);
    });
    requests
}

fn kill(runner: &OnceLock<Arc<Mutex<Child>>>) {
    let Some(runner) = runner.get() else { return };
    let mut runner = runner.lock().unwrap_or_else(PoisonError::into_inner);
    let _ = runner.kill();
}

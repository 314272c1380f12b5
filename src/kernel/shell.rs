//! One answer for each request.

use std::collections::{BTreeSet, VecDeque};
use std::sync::Arc;
use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};

use serde_json::{Map, Value, json};

use super::commands::{Command, HELP, command};
use super::displays::{Displays, Line, Movable};
use super::history::History;
use super::log;
use super::message::PROTOCOL;
use super::serve::shut_down;
use super::widgets::Asks;
use super::wire::{Asked, Wire};
use super::work::{Interrupt, session};
use crate::formula::notation;
use crate::notebook::assist::{Completeness, completeness};
use crate::notebook::{Output, Session};

/// After an error, requests that front ends sent together with the failed one are still on their
/// way. The reply waits until none has come for so long: whatever came before it was sent without
/// knowledge of the error.
const QUIET: Duration = Duration::from_millis(20);

/// The longest that the reply waits for that.
const PATIENCE: Duration = Duration::from_millis(400);

/// Requests in their order, and the session that they are about.
pub(super) struct Shell {
    wire: Arc<Wire>,
    session: Session,
    interrupt: Interrupt,
    displays: Displays,
    history: History,
    /// Number of the last execution.
    count: u64,
    waiting: VecDeque<Asked>,
}

/// What an execution gives.
struct Done {
    error: Option<Value>,
    payload: Vec<Value>,
    /// What an answer said, for the history.
    said: Option<String>,
}

impl Done {
    fn well() -> Done {
        Done {
            error: None,
            payload: Vec::new(),
            said: None,
        }
    }
}

/// What an `execute_request` asks for.
struct Execution<'r> {
    code: &'r str,
    key: String,
    /// Whether the front end named the cell.
    is_named: bool,
    is_silent: bool,
}

impl Shell {
    pub(super) fn new(wire: Arc<Wire>) -> Shell {
        let (session, interrupt) = session();
        Shell {
            wire,
            session,
            interrupt,
            displays: Displays::default(),
            history: History::default(),
            count: 0,
            waiting: VecDeque::new(),
        }
    }

    /// By which a cell that is being carried out is stopped.
    pub(super) fn interrupt(&self) -> Interrupt {
        self.interrupt.clone()
    }

    /// Answers requests until one asks for the end.
    pub(super) fn work(&mut self, requests: &Receiver<Asked>) {
        loop {
            let asked = match self.waiting.pop_front() {
                Some(asked) => asked,
                None => match requests.recv() {
                    Ok(asked) => asked,
                    Err(_) => return,
                },
            };
            let parent = &asked.request.parent;
            self.wire.status("busy", parent);
            let is_end = asked.request.kind == "shutdown_request";
            self.answer(&asked, requests);
            self.wire.status("idle", parent);
            if is_end {
                return;
            }
        }
    }

    fn answer(&mut self, asked: &Asked, requests: &Receiver<Asked>) {
        let content = &asked.request.content;
        let (kind, reply) = match asked.request.kind.as_str() {
            "execute_request" => return self.execute(asked, requests),
            "kernel_info_request" => ("kernel_info_reply", kernel_info()),
            "is_complete_request" => ("is_complete_reply", is_complete(asked.request.text("code"))),
            "complete_request" => ("complete_reply", self.complete(asked)),
            "inspect_request" => ("inspect_reply", self.inspect(asked)),
            "history_request" => ("history_reply", self.history.answer(content)),
            "comm_info_request" => ("comm_info_reply", self.comm_info(asked)),
            "comm_open" => return self.open_comm(asked),
            "comm_msg" => return self.take_comm(asked),
            "comm_close" => {
                return self.displays.widgets.closed(asked.request.text("comm_id"));
            }
            "shutdown_request" => return shut_down(&self.wire, asked),
            other => return log(&format!("`{other}` is not understood")),
        };
        self.wire.reply(asked, kind, &reply);
    }

    fn comm_info(&self, asked: &Asked) -> Value {
        let target = asked.request.content["target_name"].as_str();
        json!({"status": "ok", "comms": self.displays.widgets.list(target)})
    }

    /// A comm to something that is not here is closed at once, as the protocol says.
    fn open_comm(&mut self, asked: &Asked) {
        let (target, comm) = (
            asked.request.text("target_name"),
            asked.request.text("comm_id"),
        );
        if !self.displays.widgets.opened(target, comm) {
            let content = json!({"comm_id": comm, "data": {}});
            self.wire
                .publish("comm_close", &asked.request.parent, &content);
        }
    }

    fn take_comm(&mut self, asked: &Asked) {
        let line = Line {
            wire: &self.wire,
            parent: &asked.request.parent,
        };
        let (comm, data) = (
            asked.request.text("comm_id"),
            &asked.request.content["data"],
        );
        let widgets = &mut self.displays.widgets;
        if let Asks::Move { output, value } = widgets.take(line.wire, line.parent, comm, data) {
            let changed = match self.session.move_reading(&output, value) {
                Ok(update) => update.changed,
                Err(why) => {
                    log(&format!("a reading was not moved: {why}"));
                    Vec::new()
                }
            };
            self.displays.follow(line, &self.session, &output, &changed);
        }
    }

    fn execute(&mut self, asked: &Asked, requests: &Receiver<Asked>) {
        let request = &asked.request;
        let is_silent = request.flag("silent", false);
        let is_stored = request.flag("store_history", !is_silent) && !is_silent;
        self.count += u64::from(is_stored);
        let named = request.metadata["cellId"]
            .as_str()
            .filter(|k| !k.is_empty());
        let execution = Execution {
            code: request.text("code"),
            key: match named {
                Some(key) => key.to_owned(),
                None => format!("execution {}", self.wire.writer.identifier()),
            },
            is_named: named.is_some(),
            is_silent,
        };
        if !is_silent {
            let content = json!({"code": execution.code, "execution_count": self.count});
            self.wire
                .publish("execute_input", &request.parent, &content);
        }
        // An interrupt that came while nothing was at work interrupts nothing.
        self.interrupt.forget();
        let mut done = self.carry_out(asked, &execution);
        if self.interrupt.is_rung() {
            self.interrupt.forget();
            let words = "interrupted: outputs that are missing follow with the next cell";
            done = self.fail(asked, &Output::error(words, ""));
        }
        if is_stored && !execution.code.trim().is_empty() {
            self.history.add(self.count, execution.code, done.said);
        }
        let Some(error) = done.error else {
            let reply = json!({
                "status": "ok",
                "execution_count": self.count,
                "user_expressions": self.expressions(&request.content["user_expressions"]),
                "payload": done.payload,
            });
            return self.wire.reply(asked, "execute_reply", &reply);
        };
        let mut reply = json!({"status": "error", "execution_count": self.count});
        merge(&mut reply, error);
        if request.flag("stop_on_error", true) {
            self.wait_for_more(requests);
            self.wire.reply(asked, "execute_reply", &reply);
            self.abort();
        } else {
            self.wire.reply(asked, "execute_reply", &reply);
        }
    }

    fn carry_out(&mut self, asked: &Asked, execution: &Execution<'_>) -> Done {
        let wire = Arc::clone(&self.wire);
        let line = Line {
            wire: &wire,
            parent: &asked.request.parent,
        };
        let mut touched = BTreeSet::new();
        for key in asked.request.metadata["deletedCells"]
            .as_array()
            .into_iter()
            .flatten()
        {
            if let Some(key) = key.as_str() {
                touched.extend(self.session.forget(key).changed);
                self.displays.forget(line, key);
            }
        }
        let done = match command(execution.code) {
            Some(command) => {
                touched.extend(self.session.forget(&execution.key).changed);
                self.displays.forget(line, &execution.key);
                self.obey(asked, &command, &mut touched)
            }
            None => self.submit(line, execution, &mut touched),
        };
        let movable = Movable::of(&self.session);
        self.displays
            .replace(line, &self.session, &touched, &movable, &execution.key);
        done
    }

    fn submit(
        &mut self,
        line: Line<'_>,
        execution: &Execution<'_>,
        touched: &mut BTreeSet<String>,
    ) -> Done {
        let (key, code) = (execution.key.as_str(), execution.code);
        let update = match execution.is_named {
            true => self.session.submit(key, code),
            false => self.session.submit_latest(key, code),
        };
        touched.extend(update.changed);
        let outputs = self.session.outputs(key);
        if !execution.is_silent {
            let movable = Movable::of(&self.session);
            let place = self.session.place_of_mark(key);
            let shown = place.as_ref().map_or(&*outputs, std::slice::from_ref);
            self.displays.show(line, key, shown, &movable);
        }
        Done {
            error: outputs.iter().find_map(Output::as_error),
            ..Done::well()
        }
    }

    fn obey(
        &mut self,
        asked: &Asked,
        command: &Command<'_>,
        touched: &mut BTreeSet<String>,
    ) -> Done {
        let parent = &asked.request.parent;
        match command {
            Command::Value(formula) => {
                let answer = self.session.value_now(formula);
                if answer.is_error() {
                    return self.fail(asked, &answer);
                }
                let content = json!({
                    "execution_count": self.count,
                    "data": answer.mime_bundle(),
                    "metadata": {},
                });
                self.wire.publish("execute_result", parent, &content);
                Done {
                    said: Some(answer.text),
                    ..Done::well()
                }
            }
            Command::Sheet => {
                let (text, left_out) = self.session.text();
                self.stream(asked, "stdout", &text);
                if !left_out.is_empty() {
                    let words = format!(
                        "left out, since they have errors: {}\n",
                        left_out.join(", ")
                    );
                    self.stream(asked, "stderr", &words);
                }
                Done::well()
            }
            Command::Forget => {
                self.wire
                    .publish("clear_output", parent, &json!({"wait": false}));
                touched.extend(self.session.forget_all().changed);
                Done::well()
            }
            Command::Help => {
                let text = format!("{HELP}\n{}", notation::PAGE);
                let page = json!({"source": "page", "data": {"text/plain": text}, "start": 0});
                Done {
                    payload: vec![page],
                    ..Done::well()
                }
            }
            Command::Unknown(line) => {
                let words = format!("`:{line}` is no command of the kernel; `:help` lists them");
                self.fail(asked, &Output::error(words, ""))
            }
        }
    }

    fn fail(&self, asked: &Asked, output: &Output) -> Done {
        let error = output.as_error();
        if let Some(error) = &error {
            self.wire.publish("error", &asked.request.parent, error);
        }
        Done {
            error,
            ..Done::well()
        }
    }

    fn stream(&self, asked: &Asked, name: &str, text: &str) {
        let content = json!({"name": name, "text": text});
        self.wire.publish("stream", &asked.request.parent, &content);
    }

    fn expressions(&mut self, asked: &Value) -> Map<String, Value> {
        let mut answers = Map::new();
        for (name, formula) in asked.as_object().into_iter().flatten() {
            let output = self.session.value_now(formula.as_str().unwrap_or(""));
            let answer = match output.as_error() {
                None => json!({
                    "status": "ok",
                    "data": output.mime_bundle(),
                    "metadata": {},
                }),
                Some(error) => {
                    let mut answer = json!({"status": "error"});
                    merge(&mut answer, error);
                    answer
                }
            };
            answers.insert(name.clone(), answer);
        }
        answers
    }

    fn wait_for_more(&mut self, requests: &Receiver<Asked>) {
        let end = Instant::now() + PATIENCE;
        while Instant::now() < end
            && let Ok(asked) = requests.recv_timeout(QUIET)
        {
            self.waiting.push_back(asked);
        }
    }

    /// Replies to the executions that wait that they are not carried out.
    fn abort(&mut self) {
        let (executions, others): (VecDeque<Asked>, VecDeque<Asked>) =
            std::mem::take(&mut self.waiting)
                .into_iter()
                .partition(|asked| asked.request.kind == "execute_request");
        self.waiting = others;
        for asked in executions {
            let parent = &asked.request.parent;
            self.wire.status("busy", parent);
            let reply = json!({"status": "aborted", "execution_count": self.count});
            self.wire.reply(&asked, "execute_reply", &reply);
            self.wire.status("idle", parent);
        }
    }

    fn complete(&self, asked: &Asked) -> Value {
        let code = asked.request.text("code");
        let found = self.session.complete(code, cursor(asked, code));
        let detail: Vec<Value> = found
            .suggestions
            .iter()
            .map(|s| {
                json!({
                    "start": found.start,
                    "end": found.end,
                    "text": s.text,
                    "type": s.kind,
                    "signature": s.note,
                })
            })
            .collect();
        let matches: Vec<&str> = found.suggestions.iter().map(|s| s.text.as_str()).collect();
        json!({
            "status": "ok",
            "matches": matches,
            "cursor_start": found.start,
            "cursor_end": found.end,
            "metadata": {"_jupyter_types_experimental": detail},
        })
    }

    fn inspect(&self, asked: &Asked) -> Value {
        let code = asked.request.text("code");
        let found = self.session.inspect(code, cursor(asked, code));
        json!({
            "status": "ok",
            "found": found.is_some(),
            "data": found.map_or_else(Map::new, |output| output.mime_bundle()),
            "metadata": {},
        })
    }
}

/// Where the cursor stands, in code points; at the end if the front end does not say.
fn cursor(asked: &Asked, code: &str) -> usize {
    let said = asked.request.content["cursor_pos"].as_u64();
    let length = code.chars().count();
    said.and_then(|at| usize::try_from(at).ok())
        .map_or(length, |at| at.min(length))
}

fn is_complete(code: &str) -> Value {
    if command(code).is_some() {
        return json!({"status": "complete"});
    }
    match completeness(code) {
        Completeness::Complete => json!({"status": "complete"}),
        Completeness::Incomplete => json!({"status": "incomplete", "indent": "    "}),
        Completeness::Invalid => json!({"status": "invalid"}),
    }
}

fn merge(into: &mut Value, from: Value) {
    if let (Some(into), Value::Object(from)) = (into.as_object_mut(), from) {
        into.extend(from);
    }
}

/// What the kernel says of itself.
pub(super) fn kernel_info() -> Value {
    let version = env!("CARGO_PKG_VERSION");
    json!({
        "status": "ok",
        "protocol_version": PROTOCOL,
        "implementation": "semilunar",
        "implementation_version": version,
        "language_info": {
            "name": "semilunar",
            "version": version,
            "mimetype": "text/x-semilunar",
            "file_extension": ".sheet",
            // No highlighter knows the notation.
            "pygments_lexer": "text",
        },
        "banner": format!(
            "semilunar {version}: blood flow by bedside echocardiography, in cells that recompute.\n\
             For education, audit and research. Not a medical device: a licensed clinician and \
             local protocols decide.\n:help shows the notation."
        ),
        "debugger": false,
        "supported_features": [],
        "help_links": [],
    })
}

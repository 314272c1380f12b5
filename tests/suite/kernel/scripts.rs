//! Recorded conversations: what a front end sends, and every message that comes back.
//!
//! The scripts stand in `tests/cases/kernel/`. A line `request TYPE {…}` is sent, with the indented
//! lines below it as its code and `cell=…`, `deleted=…` as its metadata; all other lines are what
//! came. With `SEMILUNAR_BLESS=1` they are written again, to be read as a difference.

use std::collections::HashMap;
use std::fmt::Write;

use serde_json::{Map, Value, json};

use super::client::{FrontEnd, Message};
use crate::project::{files, text};

struct Request {
    line: String,
    kind: String,
    content: Value,
    metadata: Value,
}

/// The requests of a script.
fn requests(script: &str) -> Vec<Request> {
    let mut requests: Vec<Request> = Vec::new();
    let mut is_code = false;
    for line in script.lines() {
        if let Some(rest) = line.strip_prefix("request ") {
            is_code = true;
            requests.push(request(line, rest));
        } else if let (true, Some(code)) = (is_code, line.strip_prefix("    ")) {
            let content = &mut requests.last_mut().unwrap().content;
            let before = content["code"].as_str().unwrap_or("").to_owned();
            let joined = match before.is_empty() {
                true => code.to_owned(),
                false => format!("{before}\n{code}"),
            };
            content["code"] = joined.into();
        } else {
            is_code = false;
        }
    }
    requests
}

fn request(line: &str, rest: &str) -> Request {
    let (words, content) = match rest.split_once('{') {
        Some((words, json)) => (words, serde_json::from_str(&format!("{{{json}")).unwrap()),
        None => (rest, json!({})),
    };
    let mut words = words.split_whitespace();
    let kind = words.next().unwrap().to_owned();
    let mut metadata = Map::new();
    for word in words {
        match word.split_once('=').unwrap() {
            ("cell", id) => metadata.insert("cellId".into(), id.into()),
            (_, ids) => {
                let ids: Vec<&str> = ids.split(',').collect();
                metadata.insert("deletedCells".into(), ids.into())
            }
        };
    }
    Request {
        line: line.to_owned(),
        kind,
        content,
        metadata: metadata.into(),
    }
}

/// Writes messages down, with displays numbered in the order of their first appearance.
#[derive(Default)]
struct Record {
    text: String,
    displays: HashMap<String, usize>,
}

impl Record {
    fn note(&mut self, channel: &str, message: &Message) {
        let content = &message.content;
        let mut line = format!("{channel} {}", message.kind);
        for field in ["status", "execution_state", "name", "subscription"] {
            if let Some(word) = content[field].as_str() {
                write!(line, " {word}").unwrap();
            }
        }
        if let Some(count) = content["execution_count"].as_u64() {
            write!(line, " [{count}]").unwrap();
        }
        if let Some(id) = content["transient"]["display_id"].as_str() {
            let next = self.displays.len() + 1;
            let number = *self.displays.entry(id.to_owned()).or_insert(next);
            write!(line, " display-{number}").unwrap();
        }
        let said = match message.kind.as_str() {
            "display_data" | "update_display_data" | "execute_result" => {
                let data = content["data"].as_object().unwrap();
                let forms: Vec<&str> = data.keys().map(String::as_str).collect();
                write!(line, " {}", forms.join(" ")).unwrap();
                data["text/plain"].as_str().unwrap().to_owned()
            }
            "error" => lines(&content["traceback"]),
            "stream" => content["text"].as_str().unwrap().to_owned(),
            "execute_reply" => others(content, &["user_expressions", "payload", "ename"]),
            "execute_input" | "status" => String::new(),
            _ => {
                let mut shown = content.clone();
                shown.as_object_mut().unwrap().remove("status");
                match shown.as_object().unwrap().is_empty() {
                    true => String::new(),
                    false => shown.to_string(),
                }
            }
        };
        self.text.push_str(&line);
        self.text.push('\n');
        for line in said.lines() {
            self.text.push_str(format!("    {line}").trim_end());
            self.text.push('\n');
        }
    }
}

fn lines(value: &Value) -> String {
    let lines = value.as_array().unwrap().iter();
    lines
        .map(|l| format!("{}\n", l.as_str().unwrap()))
        .collect()
}

/// Those of some fields that say something.
fn others(content: &Value, fields: &[&str]) -> String {
    let is_empty = |v: &Value| {
        v.is_null()
            || v.as_array().is_some_and(Vec::is_empty)
            || v.as_object().is_some_and(Map::is_empty)
    };
    let said = fields.iter().filter(|f| !is_empty(&content[**f]));
    said.map(|f| format!("{f}: {}\n", content[*f])).collect()
}

/// Plays a script to a new kernel.
fn play(script: &str) -> String {
    let mut front_end = FrontEnd::start();
    let mut record = Record::default();
    for line in script.lines().take_while(|line| line.starts_with('#')) {
        writeln!(record.text, "{line}").unwrap();
    }
    for request in requests(script) {
        let code = request.content["code"].as_str().unwrap_or("").to_owned();
        writeln!(record.text, "\n{}", request.line).unwrap();
        if !request.line.contains("\"code\"") {
            for line in code.lines() {
                writeln!(record.text, "{}", format!("    {line}").trim_end()).unwrap();
            }
        }
        let id = front_end.send(&request.kind, &request.content, &request.metadata);
        for message in front_end.iopub.until_idle(&id) {
            record.note("iopub", &message);
        }
        let is_answered = request.kind.ends_with("_request") && request.kind != "odd_request";
        if is_answered {
            record.note("shell", &front_end.shell.message());
        }
    }
    record.text
}

#[test]
fn conversations_go_as_they_were_recorded() {
    let mut played = 0;
    for file in files("tests/cases/kernel") {
        let name = file.file_name().unwrap().to_str().unwrap();
        let path = format!("tests/cases/kernel/{name}");
        let script = text(&path);
        let came = play(&script);
        if std::env::var_os("SEMILUNAR_BLESS").is_some() {
            std::fs::write(&file, &came).unwrap();
        } else {
            assert_eq!(came, script, "{path}");
        }
        played += 1;
    }
    assert!(played >= 5);
}

//! Recorded conversations: what a front end sends, and every message that comes back.
//!
//! The scripts stand in `tests/cases/kernel/`. A line `request TYPE {…}` is sent, with the indented
//! lines below it as its code and `cell=…`, `deleted=…` as its metadata; all other lines are what
//! came. Comms are called `model-1` and so on, in the order in which they are opened. With `SEMILUNAR_BLESS=1` they are written again, to be read as a difference.

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
    models: Vec<String>,
}

impl Record {
    /// With the names of comms in the place of their identifiers.
    fn named(&self, content: &Value) -> Value {
        let mut text = content.to_string();
        for (at, id) in self.models.iter().enumerate() {
            text = text.replace(&format!("\"{id}\""), &format!("\"model-{}\"", at + 1));
            let inside = format!("IPY_MODEL_model-{}", at + 1);
            text = text.replace(&format!("IPY_MODEL_{id}"), &inside);
        }
        serde_json::from_str(&text).unwrap()
    }

    /// With the identifiers of comms in the place of their names.
    fn identified(&self, content: &Value) -> Value {
        let mut text = content.to_string();
        for (at, id) in self.models.iter().enumerate() {
            text = text.replace(&format!("\"model-{}\"", at + 1), &format!("\"{id}\""));
        }
        serde_json::from_str(&text).unwrap()
    }

    fn note(&mut self, channel: &str, message: &Message) {
        if message.kind == "comm_open" {
            let id = message.content["comm_id"].as_str().unwrap();
            self.models.push(id.to_owned());
        }
        let content = &self.named(&message.content);
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
                let view = &data.get("application/vnd.jupyter.widget-view+json");
                if let Some(model) = view.and_then(|view| view["model_id"].as_str()) {
                    write!(line, " {model}").unwrap();
                }
                data["text/plain"].as_str().unwrap().to_owned()
            }
            // What only says which model this is, and how long its pictures are, is left out.
            "comm_open" => {
                let state = content["data"]["state"].as_object().unwrap();
                write!(line, " {} {}", content["comm_id"], state["_model_name"]).unwrap();
                let own = state.iter().filter(|(name, _)| !name.starts_with('_'));
                let own: Map<String, Value> = own.map(|(n, v)| (n.clone(), brief(v))).collect();
                Value::from(own).to_string()
            }
            "comm_msg" => {
                write!(
                    line,
                    " {} {}",
                    content["comm_id"], content["data"]["method"]
                )
                .unwrap();
                let data = &content["data"];
                let state = data.get("states").unwrap_or(&data["state"]);
                brief(state).to_string()
            }
            "comm_close" => content["comm_id"].to_string(),
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

/// Long texts by their beginning, and the states of models by their number.
fn brief(value: &Value) -> Value {
    match value {
        Value::String(text) => match text.char_indices().nth(200) {
            Some((end, _)) => format!("{}…", &text[..end]).into(),
            None => text.as_str().into(),
        },
        Value::Object(fields) => {
            let own = fields.iter().filter(|(name, _)| !name.starts_with('_'));
            let own: Map<String, Value> = own.map(|(n, v)| (n.clone(), brief(v))).collect();
            own.into()
        }
        other => other.clone(),
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
        let content = record.identified(&request.content);
        let id = front_end.send(&request.kind, &content, &request.metadata);
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

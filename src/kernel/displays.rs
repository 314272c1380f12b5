//! Which output stands where in the front end, and what has to be replaced.
//!
//! Each output that is shown gets a display id of its own, never used again. When another cell
//! changes it, only what differs from what the front end has is sent, each once.

use std::collections::HashMap;

use serde_json::{Map, Value, json};

use super::message::Parent;
use super::wire::Wire;
use crate::notebook::Output;

/// The outputs that front ends have, by the key of their cell.
#[derive(Default)]
pub(super) struct Displays {
    cells: HashMap<String, Vec<Slot>>,
}

/// A place in the front end that can be filled anew.
struct Slot {
    display: String,
    output: String,
    sent: Map<String, Value>,
}

impl Displays {
    /// Shows the outputs of a cell that was just carried out. What it showed before is gone from
    /// the front end.
    pub(super) fn show(&mut self, wire: &Wire, parent: &Parent, key: &str, outputs: &[Output]) {
        let mut slots = Vec::new();
        for output in outputs {
            if let Some(error) = output.as_error() {
                // A front end offers no way to replace these.
                wire.publish("error", parent, &error);
                continue;
            }
            let slot = Slot {
                display: wire.writer.identifier(),
                output: output.id.clone(),
                sent: output.mime_bundle(),
            };
            wire.publish("display_data", parent, &slot.content());
            slots.push(slot);
        }
        self.cells.insert(key.to_owned(), slots);
    }

    /// Replaces what has changed of a cell that was carried out earlier.
    pub(super) fn replace(&mut self, wire: &Wire, parent: &Parent, key: &str, outputs: &[Output]) {
        let Some(slots) = self.cells.get_mut(key) else {
            return;
        };
        let mut fillings = vec![Vec::new(); slots.len()];
        let mut at = 0;
        for output in outputs {
            at = slots
                .iter()
                .position(|slot| slot.output == output.id)
                .unwrap_or(at);
            if let Some(filling) = fillings.get_mut(at) {
                filling.push(output);
            }
        }
        for (slot, filling) in slots.iter_mut().zip(fillings) {
            let bundle = together(&filling);
            if bundle != slot.sent {
                slot.sent = bundle;
                wire.publish("update_display_data", parent, &slot.content());
            }
        }
    }

    /// Takes a cell out that the front end has deleted.
    pub(super) fn forget(&mut self, key: &str) {
        self.cells.remove(key);
    }
}

impl Slot {
    fn content(&self) -> Value {
        json!({
            "data": self.sent,
            "metadata": {},
            "transient": {"display_id": self.display},
        })
    }
}

/// What a slot holds: mostly one output, none where its cell shows an error elsewhere, several where
/// a cell shows more than it had places for.
fn together(filling: &[&Output]) -> Map<String, Value> {
    match filling {
        [output] => output.mime_bundle(),
        [] => Output::new("", "", "").mime_bundle(),
        several => {
            let text: Vec<&str> = several.iter().map(|o| o.text.as_str()).collect();
            let html: String = several.iter().map(|o| o.html.as_str()).collect();
            Output::new("", text.join("\n"), html).mime_bundle()
        }
    }
}

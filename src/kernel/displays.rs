//! Which output stands where in the front end, and what has to be replaced.
//!
//! Each output that is shown gets a display id of its own, never used again. When another cell
//! changes it, only what differs from what the front end has is sent, each once. Where a reading
//! can be moved, the outputs that follow it are shown by models (`widgets.rs`): unlike display ids,
//! these outlive a page that is loaded again. A move goes to the models alone; the stored forms,
//! which are read where there are no widgets, follow with the next execution.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde_json::{Map, Value, json};

use super::message::Parent;
use super::widgets::{Widgets, with_view};
use super::wire::Wire;
use crate::notebook::{Output, Session, Slider};

/// The outputs that front ends have, by the key of their cell.
#[derive(Default)]
pub(super) struct Displays {
    cells: BTreeMap<String, Vec<Slot>>,
    pub(super) widgets: Widgets,
}

/// A place in the front end that can be filled anew.
struct Slot {
    display: String,
    output: String,
    sent: Map<String, Value>,
    /// The model that shows it.
    model: Option<String>,
}

/// Where messages go, and as answers to what.
#[derive(Clone, Copy)]
pub(super) struct Line<'w> {
    pub(super) wire: &'w Wire,
    pub(super) parent: &'w Parent,
}

/// What in a session can be moved, and what follows.
pub(super) struct Movable {
    sliders: HashMap<String, Slider>,
    followers: BTreeSet<String>,
}

impl Movable {
    pub(super) fn of(session: &Session) -> Movable {
        let sliders = session.sliders();
        let followers = match sliders.is_empty() {
            true => BTreeSet::new(),
            false => session.followers(),
        };
        let by_output = |slider: Slider| (slider.output.clone(), slider);
        Movable {
            sliders: sliders.into_iter().map(by_output).collect(),
            followers,
        }
    }
}

impl Displays {
    /// Shows the outputs of a cell that was just carried out. What it showed before is gone from
    /// the front end.
    pub(super) fn show(
        &mut self,
        line: Line<'_>,
        key: &str,
        outputs: &[Output],
        movable: &Movable,
    ) {
        self.forget(line, key);
        let mut slots = Vec::new();
        for output in outputs {
            if let Some(error) = output.as_error() {
                // A front end offers no way to replace these.
                line.wire.publish("error", line.parent, &error);
                continue;
            }
            let model = self.model(line, output, movable);
            let slot = Slot {
                display: line.wire.writer.identifier(),
                output: output.id.clone(),
                sent: with_view(output.mime_bundle(), model.as_ref()),
                model,
            };
            slot.send(line, "display_data");
            slots.push(slot);
        }
        self.cells.insert(key.to_owned(), slots);
    }

    fn model(&mut self, line: Line<'_>, output: &Output, movable: &Movable) -> Option<String> {
        let Line { wire, parent } = line;
        if let Some(slider) = movable.sliders.get(&output.id) {
            return Some(self.widgets.open_slider(wire, parent, slider));
        }
        let follows = movable.followers.contains(&output.id);
        follows.then(|| self.widgets.open_output(wire, parent, output))
    }

    /// Replaces what has changed of the cells that were carried out earlier, the one named last
    /// excepted.
    pub(super) fn replace(
        &mut self,
        line: Line<'_>,
        session: &Session,
        touched: &BTreeSet<String>,
        movable: &Movable,
        except: &str,
    ) {
        let needs_model = |slot: &Slot| {
            slot.model.is_none()
                && (movable.followers.contains(&slot.output)
                    || movable.sliders.contains_key(&slot.output))
        };
        let keys: Vec<String> = self
            .cells
            .iter()
            .filter(|(key, slots)| {
                *key != except && (touched.contains(*key) || slots.iter().any(needs_model))
            })
            .map(|(key, _)| key.clone())
            .collect();
        for key in keys {
            let Some(mut slots) = self.cells.remove(&key) else {
                continue;
            };
            let fillings = filled(&slots, &session.outputs(&key));
            for (slot, filling) in slots.iter_mut().zip(fillings) {
                self.refill(line, slot, &filling, movable);
            }
            self.cells.insert(key, slots);
        }
    }

    fn refill(&mut self, line: Line<'_>, slot: &mut Slot, output: &Output, movable: &Movable) {
        let Line { wire, parent } = line;
        match (&slot.model, movable.sliders.get(&slot.output)) {
            (None, _) => {
                let named = output.clone().with_id(&slot.output);
                slot.model = self.model(line, &named, movable);
            }
            (Some(comm), Some(slider)) => self.widgets.set_slider(wire, parent, comm, slider),
            (Some(comm), None) if output.html.is_empty() || self.widgets.is_slider(comm) => {
                self.widgets.close(wire, parent, comm);
                slot.model = None;
            }
            (Some(comm), None) => self.widgets.set_output(wire, parent, comm, &output.html),
        }
        let bundle = with_view(output.mime_bundle(), slot.model.as_ref());
        if bundle != slot.sent {
            slot.sent = bundle;
            slot.send(line, "update_display_data");
        }
    }

    /// Brings the slider of an output, and what follows it, to where they are now.
    pub(super) fn follow(
        &mut self,
        line: Line<'_>,
        session: &Session,
        moved: &str,
        touched: &[String],
    ) {
        let Line { wire, parent } = line;
        let sliders = session.sliders();
        let slots = self.cells.values().flatten();
        for slot in slots.filter(|slot| slot.output == moved) {
            let slider = sliders.iter().find(|s| s.output == moved);
            if let (Some(comm), Some(slider)) = (&slot.model, slider) {
                self.widgets.set_slider(wire, parent, comm, slider);
            }
        }
        for key in touched {
            let Some(slots) = self.cells.get_mut(key) else {
                continue;
            };
            let fillings = filled(slots, &session.outputs(key));
            for (slot, output) in slots.iter_mut().zip(fillings) {
                let slider = sliders.iter().find(|s| s.output == slot.output);
                match (&slot.model, slider) {
                    (Some(comm), Some(slider)) => {
                        self.widgets.set_slider(wire, parent, comm, slider);
                    }
                    (Some(comm), None) if !self.widgets.is_slider(comm) => {
                        self.widgets.set_output(wire, parent, comm, &output.html);
                    }
                    _ => {
                        let bundle = with_view(output.mime_bundle(), slot.model.as_ref());
                        if bundle != slot.sent {
                            slot.sent = bundle;
                            slot.send(line, "update_display_data");
                        }
                    }
                }
            }
        }
    }

    /// Takes a cell out that the front end shows no more.
    pub(super) fn forget(&mut self, line: Line<'_>, key: &str) {
        for slot in self.cells.remove(key).unwrap_or_default() {
            if let Some(comm) = slot.model {
                self.widgets.close(line.wire, line.parent, &comm);
            }
        }
    }
}

impl Slot {
    fn send(&self, line: Line<'_>, kind: &str) {
        let content = json!({
            "data": self.sent,
            "metadata": {},
            "transient": {"display_id": self.display},
        });
        line.wire.publish(kind, line.parent, &content);
    }
}

/// What each slot of a cell holds now.
fn filled(slots: &[Slot], outputs: &[Output]) -> Vec<Output> {
    let mut fillings = vec![Vec::new(); slots.len()];
    let mut at = 0;
    for output in outputs {
        let own = slots.iter().position(|slot| slot.output == output.id);
        at = own.unwrap_or(at);
        if let Some(filling) = fillings.get_mut(at) {
            filling.push(output);
        }
    }
    fillings.into_iter().map(|f| together(&f)).collect()
}

/// What a slot holds: mostly one output, none where its cell shows an error elsewhere, several where
/// a cell shows more than it had places for.
fn together(filling: &[&Output]) -> Output {
    match filling {
        [output] => (*output).clone(),
        [] => Output::new("", "", ""),
        several => {
            let text: Vec<&str> = several.iter().map(|o| o.text.as_str()).collect();
            let html: String = several.iter().map(|o| o.html.as_str()).collect();
            Output::new("", text.join("\n"), html)
        }
    }
}

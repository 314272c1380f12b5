//! Sliders and outputs that follow them, as models of the widgets protocol.
//!
//! "Jupyter widgets messaging protocol" 2.1.0 (jupyter-widgets, packages/schema/messages.md and
//! jupyterwidgetmodels.latest.md): models are opened by the kernel over comms; the front end's are
//! the views. After a page was loaded again, the front end asks for all states.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::message::Parent;
use super::wire::Wire;
use crate::notebook::{Output, Slider};

/// The target that models are opened at.
pub(super) const TARGET: &str = "jupyter.widget";

/// The target at which front ends ask for all states.
pub(super) const CONTROL_TARGET: &str = "jupyter.widget.control";

/// The media type of a view.
const VIEW: &str = "application/vnd.jupyter.widget-view+json";

/// The models that are open, by their comm.
#[derive(Default)]
pub(super) struct Widgets {
    models: BTreeMap<String, Model>,
    /// Comms at which front ends ask for states.
    controls: Vec<String>,
}

struct Model {
    state: Value,
    /// Models that this one brings along.
    parts: Vec<String>,
    /// The output whose reading it moves.
    moves: Option<String>,
}

/// What a message on a comm asks for.
pub(super) enum Asks {
    /// To move the reading of an output.
    Move {
        /// The output.
        output: String,
        /// To where.
        value: f64,
    },
    /// Nothing that is left to do.
    Nothing,
}

impl Widgets {
    /// Opens a slider and gives its model.
    pub(super) fn open_slider(&mut self, wire: &Wire, parent: &Parent, slider: &Slider) -> String {
        let layout = self.open(wire, parent, layout(json!({"width": "32em"})), None);
        let style = json!({"description_width": "initial"});
        let style = self.open(wire, parent, part("SliderStyleModel", style), None);
        let mut state = view("FloatSlider", &layout, &style);
        merge(&mut state, place(slider));
        let parts = vec![layout, style];
        self.open_with(wire, parent, state, Some(slider.output.clone()), parts)
    }

    /// Opens a model that shows an output, and gives it.
    pub(super) fn open_output(&mut self, wire: &Wire, parent: &Parent, output: &Output) -> String {
        let layout = self.open(wire, parent, layout(json!({})), None);
        let style = self.open(wire, parent, part("HTMLStyleModel", json!({})), None);
        let mut state = view("HTML", &layout, &style);
        state["value"] = output.html.as_str().into();
        self.open_with(wire, parent, state, None, vec![layout, style])
    }

    fn open(
        &mut self,
        wire: &Wire,
        parent: &Parent,
        state: Value,
        moves: Option<String>,
    ) -> String {
        self.open_with(wire, parent, state, moves, Vec::new())
    }

    fn open_with(
        &mut self,
        wire: &Wire,
        parent: &Parent,
        state: Value,
        moves: Option<String>,
        parts: Vec<String>,
    ) -> String {
        let comm = wire.writer.identifier();
        let content = json!({
            "comm_id": comm,
            "target_name": TARGET,
            "data": {"state": state, "buffer_paths": []},
        });
        let metadata = json!({"version": "2.1.0"});
        wire.publish_with("comm_open", parent, &metadata, &content);
        let model = Model {
            state,
            parts,
            moves,
        };
        self.models.insert(comm.clone(), model);
        comm
    }

    /// Closes a model that no output shows any more.
    pub(super) fn close(&mut self, wire: &Wire, parent: &Parent, comm: &str) {
        let Some(model) = self.models.remove(comm) else {
            return;
        };
        for part in model.parts {
            self.close(wire, parent, &part);
        }
        wire.publish("comm_close", parent, &json!({"comm_id": comm, "data": {}}));
    }

    /// Brings a slider to where its reading is, if it is elsewhere.
    pub(super) fn set_slider(&mut self, wire: &Wire, parent: &Parent, comm: &str, slider: &Slider) {
        let mut place = place(slider);
        let shown = self
            .models
            .get(comm)
            .and_then(|m| m.state["value"].as_f64());
        // A front end adds up steps in binary. Setting it right in the last digit would throw it
        // back while a hand is moving on.
        if let Some(shown) = shown.filter(|s| (s - slider.now).abs() < slider.by * 1e-6) {
            place["value"] = shown.into();
        }
        self.update(wire, parent, comm, place);
    }

    /// Brings a model to what its output shows now.
    pub(super) fn set_output(&mut self, wire: &Wire, parent: &Parent, comm: &str, html: &str) {
        self.update(wire, parent, comm, json!({"value": html}));
    }

    /// Whether a model moves a reading.
    pub(super) fn is_slider(&self, comm: &str) -> bool {
        let model = self.models.get(comm);
        model.is_some_and(|model| model.moves.is_some())
    }

    /// Sends what differs from the state that front ends have.
    fn update(&mut self, wire: &Wire, parent: &Parent, comm: &str, new: Value) {
        let Some(model) = self.models.get_mut(comm) else {
            return;
        };
        let mut changed = Map::new();
        for (name, value) in new.as_object().into_iter().flatten() {
            if model.state[name] != *value {
                model.state[name] = value.clone();
                changed.insert(name.clone(), value.clone());
            }
        }
        if !changed.is_empty() {
            say(wire, parent, comm, "update", &changed.into());
        }
    }

    /// What the front end opened, if it is understood.
    pub(super) fn opened(&mut self, target: &str, comm: &str) -> bool {
        let is_control = target == CONTROL_TARGET;
        if is_control && !self.controls.iter().any(|c| c == comm) {
            self.controls.push(comm.to_owned());
        }
        is_control
    }

    /// The front end closed a comm.
    pub(super) fn closed(&mut self, comm: &str) {
        self.controls.retain(|control| control != comm);
    }

    /// Takes a message on a comm.
    pub(super) fn take(&mut self, wire: &Wire, parent: &Parent, comm: &str, data: &Value) -> Asks {
        let method = data["method"].as_str().unwrap_or("");
        if method == "request_states" && self.controls.iter().any(|c| c == comm) {
            self.tell_states(wire, parent, comm);
            return Asks::Nothing;
        }
        let Some(model) = self.models.get_mut(comm) else {
            return Asks::Nothing;
        };
        match method {
            "request_state" => say(wire, parent, comm, "update", &model.state),
            "update" => {
                say(wire, parent, comm, "echo_update", &data["state"]);
                if let (Some(value), Some(output)) = (data["state"]["value"].as_f64(), &model.moves)
                {
                    let output = output.clone();
                    model.state["value"] = value.into();
                    return Asks::Move { output, value };
                }
            }
            _ => {}
        }
        Asks::Nothing
    }

    fn tell_states(&self, wire: &Wire, parent: &Parent, control: &str) {
        let mut states = Map::new();
        for (comm, model) in &self.models {
            let state = &model.state;
            let told = json!({
                "model_name": state["_model_name"],
                "model_module": state["_model_module"],
                "model_module_version": state["_model_module_version"],
                "state": state,
            });
            states.insert(comm.clone(), told);
        }
        let data = json!({"method": "update_states", "states": states, "buffer_paths": []});
        let content = json!({"comm_id": control, "data": data});
        wire.publish("comm_msg", parent, &content);
    }

    /// The open comms, as `comm_info_reply` lists them.
    pub(super) fn list(&self, target: Option<&str>) -> Value {
        let models = self.models.keys().map(|comm| (comm, TARGET));
        let controls = self.controls.iter().map(|comm| (comm, CONTROL_TARGET));
        let all = models.chain(controls);
        let wanted = all.filter(|(_, name)| target.is_none_or(|t| t == *name));
        let comms: Map<String, Value> = wanted
            .map(|(comm, name)| (comm.clone(), json!({"target_name": name})))
            .collect();
        comms.into()
    }
}

/// The forms of an output with its view, which front ends without widgets pass over.
pub(super) fn with_view(
    mut bundle: Map<String, Value>,
    comm: Option<&String>,
) -> Map<String, Value> {
    if let Some(comm) = comm {
        let view = json!({"version_major": 2, "version_minor": 0, "model_id": comm});
        bundle.insert(VIEW.into(), view);
    }
    bundle
}

fn say(wire: &Wire, parent: &Parent, comm: &str, method: &str, state: &Value) {
    let data = json!({"method": method, "state": state, "buffer_paths": []});
    wire.publish("comm_msg", parent, &json!({"comm_id": comm, "data": data}));
}

fn layout(state: Value) -> Value {
    let base = "@jupyter-widgets/base";
    let mut all = json!({
        "_model_module": base,
        "_model_module_version": "2.0.0",
        "_model_name": "LayoutModel",
        "_view_module": base,
        "_view_module_version": "2.0.0",
        "_view_name": "LayoutView",
    });
    merge(&mut all, state);
    all
}

fn part(model: &str, state: Value) -> Value {
    let mut all = json!({
        "_model_module": "@jupyter-widgets/controls",
        "_model_module_version": "2.0.0",
        "_model_name": model,
        "_view_module": "@jupyter-widgets/base",
        "_view_module_version": "2.0.0",
        "_view_name": "StyleView",
    });
    merge(&mut all, state);
    all
}

fn view(name: &str, layout: &str, style: &str) -> Value {
    let controls = "@jupyter-widgets/controls";
    json!({
        "_model_module": controls,
        "_model_module_version": "2.0.0",
        "_model_name": format!("{name}Model"),
        "_view_module": controls,
        "_view_module_version": "2.0.0",
        "_view_name": format!("{name}View"),
        "layout": format!("IPY_MODEL_{layout}"),
        "style": format!("IPY_MODEL_{style}"),
    })
}

/// Where a slider is and can go.
fn place(slider: &Slider) -> Value {
    let unit = match slider.unit.as_str() {
        "" => String::new(),
        unit => format!(" [{unit}]"),
    };
    json!({
        "description": format!("{}{unit}", slider.label),
        "min": slider.from,
        "max": slider.to,
        "step": slider.by,
        "value": slider.now,
        "readout_format": format!(".{}f", slider.decimals),
        "continuous_update": true,
    })
}

fn merge(into: &mut Value, from: Value) {
    if let (Some(into), Value::Object(from)) = (into.as_object_mut(), from) {
        into.extend(from);
    }
}

//! Pages that recompute: the cells that a page shows as script, and what redraws them.
//!
//! A page gets a script only where a statement `adjust` makes a reading movable. The script holds
//! the formulas of the cells that the page shows, and of nothing else; it asks for nothing from
//! anywhere. Parts that cannot follow, such as explanations, say so once something is moved.

pub(super) mod adjust;
mod cells;
mod charts;
pub(super) mod describe;
pub(super) mod serial;

use std::collections::HashMap;

use serde_json::{Value, json};

use self::adjust::Adjustable;
use self::describe::Paragraph;
use super::output::Output;
use super::page::InlineScript;
use super::render::Rendering;
use super::session::Session;
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Display};
use crate::sheet::{Outline, Sheet};

const FIGURE: &str = include_str!("page/figure.js");
const RUNTIME: &str = include_str!("page/live.js");

/// What makes a page recompute.
pub(super) struct Live {
    pub script: InlineScript,
    redrawn: HashMap<String, Output>,
}

impl Live {
    /// Of a session with readings that can be moved; `None` where there are none.
    pub fn of(session: &Session) -> Option<Live> {
        let renderings = session.renderings();
        let mut adjustables = Vec::new();
        let mut ids = Vec::new();
        for (rendering, display) in &renderings {
            if let Display::Adjust(adjust) = display
                && let Ok(found) = Adjustable::of(rendering, adjust)
                && !adjustables
                    .iter()
                    .any(|a: &Adjustable| a.cell == found.cell)
            {
                ids.push(rendering.id.clone());
                adjustables.push(found);
            }
        }
        if adjustables.is_empty() {
            return None;
        }
        let mut parts = Parts::new(session.sheet(), &adjustables, &renderings);
        for (rendering, display) in &renderings {
            // What a statement shows stands already; where it cannot move, it stays and says so.
            if parts.add(rendering, display).is_err() {
                parts.fixed.push(rendering.id.clone());
            }
        }
        let script = InlineScript::new(parts.script(&adjustables, &ids)).ok()?;
        Some(Live {
            script,
            redrawn: parts.redrawn,
        })
    }

    /// The output that the page shows in place of one.
    pub fn output(&self, output: Output) -> Output {
        self.redrawn.get(&output.id).cloned().unwrap_or(output)
    }
}

/// What the script gets.
struct Parts<'s> {
    sheet: &'s Sheet,
    outline: Outline,
    corners: Vec<Sheet>,
    moved: Vec<CellId>,
    show: Vec<Value>,
    describe: Vec<Value>,
    curves: Vec<Value>,
    effects: Vec<Value>,
    serial: Vec<Value>,
    budgets: Vec<Value>,
    fixed: Vec<String>,
    redrawn: HashMap<String, Output>,
}

/// The cells that a statement shows and that can follow.
fn shown_cells(rendering: &Rendering<'_>, display: &Display) -> Vec<CellId> {
    let sheet = rendering.sheet;
    match display {
        Display::Show { names, over: None } if names.is_empty() => sheet.cells_worth_showing(),
        Display::Show { names, over: None } => {
            names.iter().filter_map(|n| sheet.cell(&n.text)).collect()
        }
        Display::Describe(exam) => {
            Paragraph::of(sheet, &exam.text).map_or_else(Vec::new, |p| p.cells)
        }
        Display::Curve { .. }
        | Display::Effects { .. }
        | Display::Serial { .. }
        | Display::Budget(_) => charts::needs(rendering, display),
        Display::Adjust(adjust) => sheet.cell(&adjust.name.text).into_iter().collect(),
        Display::Show { .. }
        | Display::Explain(_)
        | Display::Cohort { .. }
        | Display::Scatter { .. }
        | Display::Coupling(..)
        | Display::Probability { .. }
        | Display::Simulate(_)
        | Display::Analysis(_) => Vec::new(),
    }
}

impl<'s> Parts<'s> {
    fn new(
        sheet: &'s Sheet,
        adjustables: &[Adjustable],
        renderings: &[(Rendering<'_>, &Display)],
    ) -> Self {
        let cells: Vec<CellId> = renderings
            .iter()
            .flat_map(|(rendering, display)| shown_cells(rendering, display))
            .collect();
        Parts {
            sheet,
            outline: sheet.outline(&cells),
            corners: charts::corners(sheet, adjustables),
            moved: adjustables.iter().map(|a| a.cell).collect(),
            show: Vec::new(),
            describe: Vec::new(),
            curves: Vec::new(),
            effects: Vec::new(),
            serial: Vec::new(),
            budgets: Vec::new(),
            fixed: Vec::new(),
            redrawn: HashMap::new(),
        }
    }

    /// Whether any of these cells can change.
    fn follows(&self, cells: &[CellId]) -> bool {
        cells.iter().any(|cell| {
            let leans_on = self.sheet.leans_on(*cell);
            self.moved.iter().any(|moved| leans_on.contains(moved))
        })
    }

    fn places(&self, cells: &[CellId]) -> Vec<usize> {
        cells
            .iter()
            .filter_map(|c| self.outline.place(*c))
            .collect()
    }

    fn add(&mut self, rendering: &Rendering<'_>, display: &Display) -> Result<(), Vec<Diagnostic>> {
        let cells = shown_cells(rendering, display);
        let follows = self.follows(&cells);
        match display {
            Display::Show { over: None, .. } if follows => {
                let places = self.places(&cells);
                self.show
                    .push(json!({ "id": rendering.id, "cells": places }));
            }
            Display::Describe(exam) if follows => {
                if let Some(paragraph) = Paragraph::of(self.sheet, &exam.text) {
                    let sentences = paragraph.data(&self.outline);
                    self.describe
                        .push(json!({ "id": rendering.id, "s": sentences }));
                }
            }
            Display::Curve { .. } if follows => {
                let moving = charts::curves(rendering, display, &self.corners, &self.outline)?;
                self.redraw(rendering, moving, |parts| &mut parts.curves);
            }
            Display::Effects { .. } if follows => {
                let moving = charts::effects(rendering, display, &self.corners, &self.outline)?;
                self.redraw(rendering, moving, |parts| &mut parts.effects);
            }
            Display::Explain(name)
            | Display::Probability { name, .. }
            | Display::Simulate(name) => {
                let cells: Vec<CellId> = self.sheet.cell(&name.text).into_iter().collect();
                self.stays(rendering, &cells);
            }
            Display::Coupling(first, second) => {
                let names = [first, second];
                let cells = names.iter().filter_map(|n| self.sheet.cell(&n.text));
                self.stays(rendering, &cells.collect::<Vec<CellId>>());
            }
            Display::Budget(_) if follows => {
                let moving = charts::budget(rendering, display, &self.corners, &self.outline)?;
                self.redraw(rendering, moving, |parts| &mut parts.budgets);
            }
            Display::Serial { .. } if follows => {
                let moving = charts::serial(rendering, display, &self.corners, &self.outline)?;
                self.redraw(rendering, moving, |parts| &mut parts.serial);
            }
            // Rows of a table take readings of the sheet where no column is bound.
            Display::Show { over: Some(_), .. }
            | Display::Scatter { .. }
            | Display::Analysis(_) => {
                self.fixed.push(rendering.id.clone());
            }
            Display::Show { .. }
            | Display::Describe(_)
            | Display::Curve { .. }
            | Display::Effects { .. }
            | Display::Serial { .. }
            | Display::Budget(_)
            | Display::Cohort { .. }
            | Display::Adjust(_) => {}
        }
        Ok(())
    }

    fn stays(&mut self, rendering: &Rendering<'_>, cells: &[CellId]) {
        if self.follows(cells) {
            self.fixed.push(rendering.id.clone());
        }
    }

    fn redraw(
        &mut self,
        rendering: &Rendering<'_>,
        moving: Option<charts::Moving>,
        list: impl Fn(&mut Self) -> &mut Vec<Value>,
    ) {
        match moving {
            Some(charts::Moving { output, data }) => {
                list(self).push(data);
                self.redrawn.insert(rendering.id.clone(), output);
            }
            None => self.fixed.push(rendering.id.clone()),
        }
    }

    fn script(&self, adjustables: &[Adjustable], ids: &[String]) -> String {
        let mut functions = cells::Functions::default();
        let moved: Vec<Value> = adjustables
            .iter()
            .zip(ids)
            .filter_map(|(one, id)| {
                Some(json!({
                    "id": id, "c": self.outline.place(one.cell)?, "from": one.from, "by": one.by,
                    "n": one.count, "d": one.decimals,
                }))
            })
            .collect();
        let data = json!({
            "cells": cells::cells(self.sheet, &self.outline, &mut functions),
            "rules": cells::rules(&self.outline, &mut functions),
            "trouble": cells::troubles(),
            "settings": cells::settings(self.sheet, &self.outline),
            "adjust": moved,
            "show": self.show,
            "describe": self.describe,
            "curves": self.curves,
            "effects": self.effects,
            "serial": self.serial,
            "budgets": self.budgets,
            "fixed": self.fixed,
        });
        // HTML reads no markup from inside, and no line end that scripts take for one.
        let data = data
            .to_string()
            .replace('<', "\\u003c")
            .replace('\u{2028}', "\\u2028")
            .replace('\u{2029}', "\\u2029");
        let functions = functions.text();
        format!(
            "\"use strict\";\n(() => {{\nconst P = {data};\n{functions}{FIGURE}{RUNTIME}}})();\n"
        )
    }
}

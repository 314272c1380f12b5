//! Changing the graph: other formulas, cells removed, cells renamed.

use std::collections::HashMap;

use super::build::check_count;
use super::cell::{About, NONE, REMOVED, THIS_SHEET};
use super::error::EditError;
use super::facets::FACETS;
use super::sheet::{Asked, Edit, Sheet};
use crate::formula::{CellId, Formula, Status, Target};

impl Sheet {
    /// Gives a cell another formula, and recomputes.
    ///
    /// # Errors
    /// [`EditError::Cycle`] with its path, [`EditError::Misfits`], [`EditError::OperandCount`],
    /// [`EditError::NumberForFinding`]; the sheet is then as it was. The result must have the
    /// cell's unit and kind.
    pub fn redefine(
        &mut self,
        cell: CellId,
        formula: Formula,
        operands: &[Asked],
    ) -> Result<&Edit, EditError> {
        let index = self.index_of(cell)?;
        check_count(&formula, operands.len())?;
        if let Some(about) = self.about[index].as_ref().filter(|a| !a.words.is_empty()) {
            return Err(EditError::NumberForFinding {
                cell: about.name.clone(),
                words: about.words.join(", "),
            });
        }
        for asked in operands {
            // What is asked of a reading counts too, so that a sheet can always be written down.
            if let Some(operand) = asked.cell
                && let Some(path) = self.path(self.index_of(operand)?, index)
            {
                let mut path: Vec<String> = path
                    .iter()
                    .map(|i| self.display_name(*i).to_owned())
                    .collect();
                path.insert(0, self.display_name(index as u32).to_owned());
                return Err(EditError::Cycle { path });
            }
        }
        let form = self.forms[index];
        let target = Target {
            unit: Some(form.unit),
            kind: form.kind,
            condition: false,
        };
        let number = self.formula_number(formula);
        let (tape, positions) = self.fit(index as u32, number, operands, target)?;
        self.detach(index as u32);
        self.attach(index as u32, number, tape.number, &positions);
        self.forget_former(index as u32);
        self.reorder();
        self.edit.clear();
        self.refresh_reading(index);
        self.mark(index as u32);
        self.settle();
        Ok(&self.edit)
    }

    /// What was said of the former formula does not hold for the new one, and a cell with a
    /// formula of its own no longer falls back on the cell that all exams share.
    fn forget_former(&mut self, index: u32) {
        if let Some(about) = &mut self.about[index as usize] {
            about.source = THIS_SHEET.into();
            about.assumptions.clear();
            about.model_uncertainty = None;
        }
        if self.shared.remove(&index).is_some() {
            for companion in self.companions_of(index) {
                self.detach(companion);
            }
            self.put_facets(index);
        }
    }

    /// The hidden cells that answer for a cell's reading.
    fn companions_of(&self, index: u32) -> Vec<u32> {
        FACETS
            .iter()
            .filter_map(|facet| self.companions.get(&(index, *facet)).copied())
            .collect()
    }

    /// Removes a cell that no other uses.
    ///
    /// # Errors
    /// [`EditError::InUse`] with the cells that use it.
    pub fn remove(&mut self, cell: CellId) -> Result<(), EditError> {
        let index = self.index_of(cell)?;
        let companions = self.companions_of(index as u32);
        let mut users: Vec<u32> = Vec::new();
        for asked in companions.iter().copied().chain([index as u32]) {
            let speak = |user: &u32| self.speaks_of.get(user).copied().unwrap_or(*user);
            users.extend(self.dependents[asked as usize].iter().map(speak));
            users.extend(self.rules_that_ask(asked));
        }
        users.retain(|user| *user != index as u32);
        if !users.is_empty() {
            users.sort_unstable();
            users.dedup();
            let name = self.display_name(index as u32).to_owned();
            let dependents = users
                .iter()
                .map(|u| self.display_name(*u).to_owned())
                .collect();
            return Err(EditError::InUse { name, dependents });
        }
        self.detach(index as u32);
        for companion in companions {
            self.detach(companion);
        }
        self.hot[index].flags |= REMOVED;
        self.hot[index].status = Status::MISSING;
        self.readings[index] = None;
        self.shared.remove(&(index as u32));
        self.rules.remove(&(index as u32));
        self.required.retain(|r| *r != index as u32);
        if let Some(about) = self.about[index].take() {
            self.names.remove(&about.name);
            self.listing.retain(|shown| *shown != index as u32);
        }
        Ok(())
    }

    /// Gives a cell another name; formulas that use it say the new name.
    ///
    /// # Errors
    /// [`EditError::NameTaken`], [`EditError::BadName`].
    pub fn rename(&mut self, cell: CellId, name: &str) -> Result<(), EditError> {
        let index = self.index_of(cell)?;
        self.check_new_name(name)?;
        let mut about = match self.about[index].take() {
            Some(about) => about,
            None => Box::new(About::named(name)),
        };
        self.names.remove(&about.name);
        // Words and symbol that only spell the name change with it.
        let (spelled, renamed) = (About::named(&about.name), About::named(name));
        if about.label == spelled.label {
            about.label = renamed.label;
        }
        if about.symbol == spelled.symbol {
            about.symbol = renamed.symbol;
        }
        about.name = name.to_owned();
        if self.names.insert(name.to_owned(), index as u32).is_none()
            && !self.listing.contains(&(index as u32))
        {
            self.listing.push(index as u32);
        }
        self.about[index] = Some(about);
        Ok(())
    }

    /// The cells on a way from `from` down to its operands that ends at `to`, if there is one.
    fn path(&self, from: usize, to: usize) -> Option<Vec<u32>> {
        let mut came_from: HashMap<u32, u32> = HashMap::new();
        let mut stack = vec![from as u32];
        came_from.insert(from as u32, NONE);
        while let Some(at) = stack.pop() {
            if at as usize == to {
                let mut path = vec![at];
                let mut step = came_from[&at];
                while step != NONE {
                    path.push(step);
                    step = came_from[&step];
                }
                path.reverse();
                return Some(path);
            }
            for operand in self.operands_of(at as usize) {
                let operand = self.speaks_of.get(operand).copied().unwrap_or(*operand);
                came_from.entry(operand).or_insert_with(|| {
                    stack.push(operand);
                    at
                });
            }
        }
        None
    }

    /// Puts the cells into an order in which operands come first. There is no cycle.
    fn reorder(&mut self) {
        let count = self.hot.len();
        let mut waiting: Vec<u32> = (0..count)
            .map(|i| {
                // An operand that is named twice still frees its user once.
                let mut distinct = self.operands_of(i).to_vec();
                distinct.sort_unstable();
                distinct.dedup();
                distinct.len() as u32
            })
            .collect();
        let mut ready: std::collections::BinaryHeap<std::cmp::Reverse<u32>> = (0..count as u32)
            .filter(|i| waiting[*i as usize] == 0)
            .map(std::cmp::Reverse)
            .collect();
        let mut order = Vec::with_capacity(count);
        while let Some(std::cmp::Reverse(index)) = ready.pop() {
            order.push(index);
            let mut users = self.dependents[index as usize].to_vec();
            users.sort_unstable();
            users.dedup();
            for user in users {
                waiting[user as usize] -= 1;
                if waiting[user as usize] == 0 {
                    ready.push(std::cmp::Reverse(user));
                }
            }
        }
        self.order.replace(order);
    }
}

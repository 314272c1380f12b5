//! Standard uncertainty of a cell from the readings that state one, to first order (JCGM 100:2008,
//! 5.1.2): exact partials, one sweep back over all cells.

use std::collections::BTreeMap;

use crate::formula::{CellId, Lane, gradient};
use crate::quantity::Unit;
use crate::sheet::{Outline, Sheet, State, figure, join_unit};

/// What a cell's uncertainty is made of.
#[derive(Clone, Debug, Default)]
pub(in crate::notebook) struct Spread {
    /// Signed contributions in the cell's unit; the flag tells a formula's own from a reading's.
    parts: BTreeMap<(CellId, bool), f64>,
    /// Readings that matter and state nothing.
    pub unstated: Vec<CellId>,
}

impl Spread {
    /// Of a known cell.
    pub fn of(sheet: &Sheet, cell: CellId) -> Spread {
        let outline = sheet.outline(&[cell]);
        let mut spread = Spread::default();
        let Some(place) = outline.place(cell) else {
            return spread;
        };
        let mut adjoint = vec![0.0; outline.cells.len()];
        adjoint[place] = 1.0;
        for at in (0..=place).rev() {
            if adjoint[at] != 0.0 {
                spread.step_back(sheet, &outline, at, &mut adjoint);
            }
        }
        spread.unstated.reverse();
        spread
    }

    fn step_back(&mut self, sheet: &Sheet, outline: &Outline, at: usize, adjoint: &mut [f64]) {
        let here = &outline.cells[at];
        let slope = adjoint[at];
        let formula = match &here.formula {
            Some(formula) if here.reading.is_none() || formula.guarded => formula,
            // How many beats there were, and the like, carries no uncertainty.
            _ if here.speaks_of.is_some() => return,
            _ => return self.reading(sheet, here.cell, slope),
        };
        let mut inputs: Vec<Lane> = formula
            .operands
            .iter()
            .map(|operand| outline.cells[*operand].now)
            .collect();
        if formula.tape.uses_reading() {
            inputs.push(here.reading.unwrap_or(Lane::MISSING));
        }
        let partials = gradient(&formula.tape, &inputs).partials;
        for (operand, partial) in formula.operands.iter().zip(&partials) {
            adjoint[*operand] += slope * partial;
        }
        if let Some(partial) = partials.get(formula.operands.len()) {
            self.reading(sheet, here.cell, slope * partial);
        }
        if let Some(model) = model(sheet, here.cell) {
            *self.parts.entry((here.cell, true)).or_default() += slope * model;
        }
    }

    fn reading(&mut self, sheet: &Sheet, cell: CellId, slope: f64) {
        if slope == 0.0 {
            return;
        }
        let unit = sheet.unit(cell).unwrap_or(Unit::ONE);
        let stated = sheet
            .reading(cell)
            .and_then(|r| r.standard_uncertainty(unit));
        match stated {
            Some(u) => *self.parts.entry((cell, false)).or_default() += slope * u,
            None => self.unstated.push(cell),
        }
    }

    /// The standard uncertainty; a lower bound while readings state nothing.
    pub fn standard(&self) -> f64 {
        self.parts
            .values()
            .map(|part| part * part)
            .sum::<f64>()
            .sqrt()
    }

    /// Of the difference of two cells: an error that both share counts once.
    pub fn minus(&self, other: &Spread) -> Spread {
        let mut difference = self.clone();
        for (key, part) in &other.parts {
            *difference.parts.entry(*key).or_default() -= part;
        }
        for cell in &other.unstated {
            // A reading that both share with the same slope cancels; that cannot be told here, so
            // it stays listed.
            if !difference.unstated.contains(cell) {
                difference.unstated.push(*cell);
            }
        }
        difference
    }
}

/// The uncertainty of a cell's own formula, in the cell's unit.
pub(super) fn model(sheet: &Sheet, cell: CellId) -> Option<f64> {
    let about = sheet.about(cell)?;
    let model = about.model_uncertainty?;
    about.stated_in.convert(model.standard, sheet.unit(cell)?)
}

/// What a table says of a computed cell's uncertainty.
pub(in crate::notebook) fn remark(sheet: &Sheet, cell: CellId) -> Option<String> {
    let computed = sheet.state(cell) == Some(State::Known)
        && sheet.reading(cell).is_none()
        && sheet.words(cell).is_empty();
    if !computed {
        return None;
    }
    let spread = Spread::of(sheet, cell);
    let names: Vec<String> = spread.unstated.iter().map(|c| sheet.label(*c)).collect();
    let names = names.join(", ");
    let u = spread.standard();
    if !u.is_finite() {
        return Some("uncertainty not known: the formula has no finite slope here".to_owned());
    }
    let said = join_unit(&figure(u), sheet.unit(cell)?);
    match (u == 0.0, names.is_empty()) {
        (true, true) => None,
        (true, false) => Some(format!("uncertainty not known: none stated for {names}")),
        (false, true) => Some(format!("standard uncertainty {said}")),
        (false, false) => Some(format!(
            "standard uncertainty at least {said}; none stated for {names}"
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// u(SV) and u(CO) of D 2.0 (u 0.1), VTI 20 (u 1), HR 70 (u 2): the Python packages
    /// uncertainties 3.2.3 and GTC 1.5.1 agree on these figures.
    #[test]
    fn agrees_with_two_general_libraries() {
        let text = "use hemodynamics\nlvot_diameter = 2 cm (u = 1 mm)\nlvot_vti = 20 cm (u = 1 cm)\n\
                    heart_rate = 70 /min (u = 2 /min)\n";
        let sheet = Sheet::read(text).unwrap().sheet;
        let u = |name: &str| Spread::of(&sheet, sheet.cell(name).unwrap()).standard();
        assert!((u("stroke_volume") / 7.024814731040727 - 1.0).abs() < 1e-12);
        assert!((u("cardiac_output") / 0.5075398258939219 - 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_states_nothing_is_listed_and_never_zero() {
        let text = "use hemodynamics\nlvot_diameter = 2 cm (u = 1 mm)\nlvot_vti = 20 cm\n";
        let sheet = Sheet::read(text).unwrap().sheet;
        let said = remark(&sheet, sheet.cell("stroke_volume").unwrap()).unwrap();
        assert_eq!(
            said,
            "standard uncertainty at least 6.28 mL; none stated for LVOT velocity-time integral"
        );
    }
}

//! The sheet from Rust, with dimensions in the types.

use super::cell::About;
use super::error::EditError;
use super::sheet::{Asked, Edit, Sheet};
use crate::formula::typed::{Dimensioned, Handle, LiteralError, Term, unit_of};
use crate::formula::{Facet, Target};
use crate::quantity::{Kind, Reading};

/// Why a typed definition was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DefineError {
    /// The unit is none, or of another dimension than the type.
    #[error(transparent)]
    Unit(#[from] LiteralError),
    /// The sheet refused it.
    #[error(transparent)]
    Edit(#[from] EditError),
    /// The reading cannot be made.
    #[error(transparent)]
    Reading(#[from] crate::quantity::ReadingError),
}

impl Sheet {
    /// Adds an input without a name, shown in `unit`.
    ///
    /// # Errors
    /// [`DefineError::Unit`].
    pub fn input<D: Dimensioned>(&mut self, unit: &str) -> Result<Handle<D>, DefineError> {
        let unit = unit_of::<D>(unit)?;
        Ok(Handle::new(self.add_input(unit, Kind::Plain)))
    }

    /// Adds an input with a name, shown in `unit`.
    ///
    /// # Errors
    /// [`DefineError::Unit`]; [`DefineError::Edit`] for a name that is taken or none.
    pub fn named_input<D: Dimensioned>(
        &mut self,
        name: &str,
        unit: &str,
    ) -> Result<Handle<D>, DefineError> {
        let unit = unit_of::<D>(unit)?;
        let cell = self.add_named_input(About::named(name), unit, Kind::Plain)?;
        Ok(Handle::new(cell))
    }

    /// Adds a derived cell without a name, shown in `unit`.
    ///
    /// # Errors
    /// [`DefineError::Unit`]; [`DefineError::Edit`] for a handle of another sheet.
    pub fn define<D: Dimensioned>(
        &mut self,
        term: impl Term<Dimension = D>,
        unit: &str,
    ) -> Result<Handle<D>, DefineError> {
        let unit = unit_of::<D>(unit)?;
        let (formula, operands) = term.expr().into_parts();
        let cell = self.add_formula(formula, &operands, Some(unit))?;
        Ok(Handle::new(cell))
    }

    /// Adds a derived cell with a name, shown in `unit`.
    ///
    /// # Errors
    /// As [`Sheet::define`], and for a name that is taken or none.
    pub fn define_named<D: Dimensioned>(
        &mut self,
        name: &str,
        term: impl Term<Dimension = D>,
        unit: &str,
    ) -> Result<Handle<D>, DefineError> {
        let target = Target {
            unit: Some(unit_of::<D>(unit)?),
            ..Target::default()
        };
        let (formula, operands) = term.expr().into_parts();
        let asked: Vec<Asked> = operands
            .into_iter()
            .map(|cell| Asked {
                cell: Some(cell),
                facet: Facet::Value,
            })
            .collect();
        let cell = self.add_named_formula(About::named(name), formula, &asked, target)?;
        Ok(Handle::new(cell))
    }

    /// The handle of a named cell, if its dimension is `D`.
    pub fn handle<D: Dimensioned>(&self, name: &str) -> Option<Handle<D>> {
        let cell = self.cell(name)?;
        let fits = self.unit(cell)?.dimension() == D::DIMENSION;
        fits.then(|| Handle::new(cell))
    }

    /// Puts a measured number into an input and recomputes.
    ///
    /// # Errors
    /// [`DefineError::Unit`], [`DefineError::Reading`], [`DefineError::Edit`].
    pub fn put<D: Dimensioned>(
        &mut self,
        handle: Handle<D>,
        value: f64,
        unit: &str,
    ) -> Result<&Edit, DefineError> {
        let reading = Reading::of(value, unit_of::<D>(unit)?)?;
        Ok(self.set(handle.id(), reading)?)
    }

    /// The value of a typed cell in `unit`; `None` unless known.
    ///
    /// # Errors
    /// [`DefineError::Unit`].
    pub fn value_in<D: Dimensioned>(
        &self,
        handle: Handle<D>,
        unit: &str,
    ) -> Result<Option<f64>, DefineError> {
        let unit = unit_of::<D>(unit)?;
        let own = self.unit(handle.id()).ok_or(EditError::ForeignHandle)?;
        Ok(self
            .value(handle.id())
            .and_then(|value| own.convert(value, unit)))
    }
}

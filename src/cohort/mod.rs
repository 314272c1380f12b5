//! Cohorts: a table that a sheet is applied to.
//!
//! [`apply_to_file`] takes a file of comma-separated values through a sheet into another;
//! [`Cohort`] keeps the results in memory for tables and charts. Columns are bound to cells by
//! their headings ([`Binding`]). Rows read = rows used + rows set aside, always.
//!
//! ```
//! use semilunar::cohort::{Cohort, TableReader};
//! use semilunar::sheet::Sheet;
//!
//! let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
//! let table = "lvot_diameter [cm],lvot_vti [cm]\n2.0,20\n2.1,\nwide,18\n";
//! let reader = TableReader::new(Box::new(table.as_bytes()), "table.csv".as_ref()).unwrap();
//! let cohort = Cohort::from_reader(&sheet, reader).unwrap();
//! assert_eq!((cohort.counts.read, cohort.counts.used, cohort.counts.set_aside), (3, 2, 1));
//! assert_eq!(cohort.set_aside[0].reason, "lvot_diameter [cm]: `wide` is not a number");
//! ```

mod apply;
mod binding;
mod binding_file;
mod error;
mod files;
pub mod invented;
mod memory;
mod pseudonym;
mod remarks;
mod row;
mod table;

pub use apply::{Counts, Runner, Sink, UsedRow};
pub use binding::{Binding, BoundColumn, Part, result_heading};
pub use binding_file::{BindingFile, ColumnEntry};
pub use error::CohortError;
pub use files::{Options, Summary, apply_to_file, apply_to_file_with, set_aside_path};
pub use memory::{Cohort, RowValue, SetAside};
pub use pseudonym::{Key, SHORTEST_KEY};
pub use remarks::remarks;
pub use row::{NOTHING, RowReadings, is_nothing};
pub use table::{RawRow, TableReader, TableWriter, write_whole};

#[cfg(test)]
mod tests;

//! Cohorts: a table that a sheet is applied to.
//!
//! [`apply_to_file`] takes a file of delimited text, a spreadsheet or Parquet through a sheet into
//! another, piece by piece, so that tables larger than memory pass (a spreadsheet is held whole); [`Cohort`] keeps the results
//! in memory for tables and charts. Columns are bound to cells by their headings, or by a file
//! ([`Binding`]), which [`draft_binding`] drafts for somebody else's table. Rows read = rows used +
//! rows set aside, always. Rows are checked, not trusted: [`Check`] says for what.
//!
//! ```
//! use semilunar::cohort::{Cohort, Options, Table};
//! use semilunar::sheet::Sheet;
//!
//! let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
//! let table = "lvot_diameter [cm],lvot_vti [cm]\n2.0,20\n2.1,\nwide,18\n";
//! let table = Table::from_csv(Box::new(table.as_bytes()), "table.csv".as_ref()).unwrap();
//! let cohort = Cohort::of(&sheet, table, &Options::default()).unwrap();
//! assert_eq!((cohort.counts.read, cohort.counts.used, cohort.counts.set_aside), (3, 2, 1));
//! assert_eq!(cohort.set_aside[0].reason, "lvot_diameter [cm]: `wide` is not a number");
//! ```
//!
//! Results have standard uncertainties where they are asked for ([`Options::uncertainty`]): those
//! that [`propagate`](crate::uncertainty::propagate) gives for each row, which readings stated none,
//! and the [`bends`](crate::uncertainty::bends()) within reach where they do not hold.
//!
//! ```
//! use semilunar::cohort::{Cohort, Options, Table};
//! use semilunar::sheet::Sheet;
//!
//! let sheet = Sheet::read("use hemodynamics\nlvot_diameter = 2 cm (u = 1 mm)").unwrap().sheet;
//! let table = "lvot_vti [cm],lvot_vti (u) [cm]\n20,1\n20,\n";
//! let table = Table::from_csv(Box::new(table.as_bytes()), "table.csv".as_ref()).unwrap();
//! let options = Options { uncertainty: vec!["stroke_volume".into()], ..Options::default() };
//! let cohort = Cohort::of(&sheet, table, &options).unwrap();
//! let found = cohort.uncertainty("stroke_volume").unwrap();
//! let first = found[0].as_ref().unwrap();
//! assert!((first.standard.unwrap() - 7.0248).abs() < 1e-4);
//! let second = found[1].as_ref().unwrap();
//! assert_eq!(second.unstated[0], "lvot_vti");
//! assert!(second.bends.is_empty());
//! ```

mod advice_held;
mod alike;
mod apply;
mod aside;
mod aside_file;
mod binding;
mod binding_file;
mod binding_page;
mod checks;
mod csv_pieces;
mod csv_results;
mod dates;
mod decoded;
mod dialect;
mod draft;
mod draft_brackets;
mod draft_checks;
mod draft_column;
mod draft_match;
mod draft_names;
mod draft_pair;
mod draft_persons;
mod draft_sample;
mod draft_values;
mod error;
mod field_unit;
mod file_entry;
mod files;
mod forms;
mod frame_results;
mod frame_rows;
mod hidden;
mod in_order;
mod intake;
pub mod invented;
mod leave;
mod marks;
mod marks_shown;
mod memory;
mod moments;
mod pair;
mod pair_columns;
mod pair_entry;
mod parquet_dictionary;
mod parquet_file;
mod parquet_numbers;
mod parquet_pages;
mod parquet_pieces;
mod plain_number;
mod pseudonym;
mod quotes;
mod remarks;
mod renamed;
mod rewritten;
mod row;
mod rows;
mod sheet_layout;
mod shift;
mod short_text;
mod sniffed;
mod spreadsheet;
mod spreadsheet_size;
mod stood;
mod table;
mod text_rows;
mod title_rows;
mod trade_units;
mod uncertain;
mod whole;
mod whom;
mod withheld;
mod without_cell;
mod zones;

pub use apply::Counts;
#[cfg(feature = "notebook")]
pub(crate) use apply::counted;
pub use aside_file::set_aside_path;
pub use binding::{Binding, BoundColumn, Part, Shift, result_heading};
pub use binding_file::{BindingFile, ColumnEntry, ShiftEntry};
pub use binding_page::BINDING_PAGE;
pub use checks::{Check, Checked, Checks, ChecksEntry, Why};
pub use draft::{Draft, draft_binding};
pub use error::CohortError;
pub use file_entry::FileEntry;
pub use files::{Options, Summary, apply_to_file, apply_to_file_with};
pub use hidden::{Identifiers, Private};
pub use memory::{Cohort, CohortReadings, RowUncertainty, RowValue, SetAside};
pub use moments::{date_of_days, moment_of_days, needs_date_order};
pub use pair::Exams;
pub use pair_entry::PairEntry;
pub use pseudonym::{Key, SHORTEST_KEY};
pub use row::{NOTHING, RowReadings, is_nothing};
pub use shift::WIDEST_SHIFT;
pub use table::Table;
pub use uncertain::{UncertaintyCounts, uncertainty_heading};
pub use whole::write_whole;
pub use without_cell::WithoutCell;

#[cfg(test)]
mod bent_tests;
#[cfg(test)]
mod date_tests;
#[cfg(test)]
mod dialect_tests;
#[cfg(test)]
mod draft_tests;
#[cfg(test)]
mod file_tests;
#[cfg(test)]
mod hospital_tests;
#[cfg(test)]
mod pair_tests;
#[cfg(test)]
mod rewritten_tests;
#[cfg(test)]
mod test_support;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod uncertain_tests;

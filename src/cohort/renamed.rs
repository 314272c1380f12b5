//! Other headings for columns that supply nothing: `[headings]` of a binding file.
//!
//! A column that supplies a cell keeps its heading, which says in what unit it is; a column that is carried along can leave, and be
//! asked for, under a name that is easier to say, or that another table has for the same thing.

use super::binding::{Binding, HeadingParts, check_distinct};
use super::binding_file::BindingFile;
use super::error::CohortError;
use crate::sheet::Sheet;

impl Binding {
    /// Gives columns the headings that a binding file has for them.
    ///
    /// # Errors
    /// A heading that the table does not have, one of a column that supplies a cell, and a new one that is blank, a cell's or another
    /// column's.
    pub(super) fn rename(&mut self, sheet: &Sheet, file: &BindingFile) -> Result<(), CohortError> {
        let mut renamed = self.headings.clone();
        for (heading, other) in &file.headings {
            let column = self.column_headed(file, "headings", heading)?;
            let wrong = |message: String| file.wrong(format!("headings.\"{heading}\": {message}"));
            let other = other.trim();
            if other.is_empty() {
                return Err(wrong("the other heading is blank: write one".into()));
            }
            if let Some(bound) = self.bound(column) {
                return Err(wrong(format!(
                    "this column supplies `{}` and keeps its heading: only columns that supply nothing get another",
                    sheet.name(bound.cell)
                )));
            }
            let name = HeadingParts::of(other).name;
            if sheet.cell(name).is_some() {
                return Err(wrong(format!(
                    "`{name}` is a cell: choose another heading, or, if the column supplies it, write `[columns.\"{heading}\"]` with \
                     `cell = \"{name}\"`"
                )));
            }
            renamed[column] = other.to_owned();
            self.passed_over
                .retain(|over| over.trim() != heading.trim());
        }
        check_distinct(&renamed)?;
        self.headings = renamed;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use polars::prelude::DataFrame;

    use crate::cohort::test_support::{bound_with_key as options, read_parquet, write_parquet};
    use crate::cohort::{Cohort, CohortError, apply_to_file, apply_to_file_with, set_aside_path};
    use crate::sheet::Sheet;

    const TABLE: &str = "Pat-Nr.,Unters.,stroke_volume [mL],lvot_vti [cm]\n\
        7001,Ada,50,20\n7001,Bo,51,21\n7002,Bo,52,far\n";

    const BINDING: &str = "identifiers = [\"Pat-Nr.\"]\n[headings]\n\
        \"Pat-Nr.\" = \"patient\"\n\"Unters.\" = \"operator\"\n\"stroke_volume [mL]\" = \"SV of the machine\"\n";

    const LEAVES: &str = "patient,operator,SV of the machine,lvot_vti [cm]";

    fn sheet() -> Sheet {
        let text = "use hemodynamics\nlvot_diameter = 2 cm";
        Sheet::read(text).unwrap().sheet
    }

    fn applied(table: &Path, out: &Path, binding: &str) -> Result<(), CohortError> {
        let options = options(binding);
        apply_to_file_with(&sheet(), table, out, &options, &mut |_| {}).map(|_| ())
    }

    fn first_line(path: &Path) -> String {
        let text = std::fs::read_to_string(path).unwrap();
        text.lines().next().unwrap().to_owned()
    }

    #[test]
    fn columns_that_supply_nothing_leave_under_other_headings() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("t.csv"), TABLE).unwrap();
        // A result has that heading, so that the way out is to give the table's own another.
        let refused = applied(&at("t.csv"), &at("r.csv"), "").unwrap_err();
        assert!(refused.to_string().contains("`[headings]`"), "{refused}");
        applied(&at("t.csv"), &at("r.csv"), BINDING).unwrap();
        assert!(first_line(&at("r.csv")).starts_with(&format!("{LEAVES},")));
        let aside = set_aside_path(&at("r.csv"));
        assert!(first_line(&aside).ends_with(LEAVES));
        let text = std::fs::read_to_string(at("r.csv")).unwrap();
        assert!(
            text.contains(",Bo,51,21,") && !text.contains("7001"),
            "{text}"
        );
    }

    #[test]
    fn columns_with_types_keep_them_under_other_headings() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let frame: DataFrame = polars::df!(
            "Pat-Nr." => [7001_i64, 7002], "Bett" => [3_i64, 4], "lvot_vti [cm]" => [20.0, 21.0]
        )
        .unwrap();
        write_parquet(&at("t.parquet"), frame);
        let binding = "identifiers = [\"Pat-Nr.\"]\n[headings]\n\"Pat-Nr.\" = \"patient\"\n\"Bett\" = \"bed\"\n";
        applied(&at("t.parquet"), &at("r.parquet"), binding).unwrap();
        let results = read_parquet(&at("r.parquet"));
        let beds = results.column("bed").unwrap().i64().unwrap();
        assert_eq!(beds.iter().collect::<Vec<_>>(), [Some(3), Some(4)]);
        assert!(results.column("patient").unwrap().str().is_ok());
        assert!(results.column("Bett").is_err());
    }

    #[test]
    fn a_cohort_in_memory_has_them_and_reads_its_rows_again() {
        let folder = tempfile::tempdir().unwrap();
        let table = folder.path().join("t.csv");
        std::fs::write(&table, TABLE).unwrap();
        let (sheet, options) = (sheet(), options(BINDING));
        let cohort = Cohort::of(&sheet, options.open(&table).unwrap(), &options).unwrap();
        assert_eq!(cohort.fields("operator").unwrap(), ["Ada", "Bo"]);
        assert_eq!(cohort.fields("Unters."), None);
        assert_eq!(cohort.table_headings()[2], "SV of the machine");
        assert_eq!(
            cohort
                .readings(&sheet)
                .unwrap()
                .row(1)
                .unwrap()
                .readings()
                .len(),
            1
        );
    }

    #[test]
    fn of_paired_exams_both_have_them() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let table = "Nr,wann,Unters.,lvot_vti\n7,pre,Ada,20\n7,post,Bo,21\n";
        std::fs::write(at("t.csv"), table).unwrap();
        let binding = "[pair]\nof = \"Nr\"\nphase = \"wann\"\n[headings]\n\"Nr\" = \"patient\"\n\"Unters.\" = \"operator\"\n\
            [columns.lvot_vti]\ncell = \"lvot_vti\"\n";
        let pairs = "use hemodynamics as before\nuse hemodynamics as after\nlvot_diameter = 2 cm";
        let sheet = Sheet::read(pairs).unwrap().sheet;
        let options = options(binding);
        let opened = options.open(&at("t.csv")).unwrap();
        let cohort = Cohort::of(&sheet, opened, &options).unwrap();
        assert_eq!(cohort.fields("patient").unwrap(), ["7"]);
        assert_eq!(cohort.fields("before.operator").unwrap(), ["Ada"]);
        assert_eq!(cohort.fields("after.operator").unwrap(), ["Bo"]);
    }

    #[test]
    fn what_cannot_be_is_refused_with_the_way_out() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("t.csv"), TABLE.replace("stroke_volume [mL]", "SV")).unwrap();
        let refused = |line: &str| {
            let binding = format!("[headings]\n{line}\n");
            let refused = applied(&at("t.csv"), &at("r.csv"), &binding).unwrap_err();
            assert!(!at("r.csv").exists());
            refused.to_string()
        };
        for (line, words) in [
            (
                "\"MRN\" = \"patient\"",
                "headings: the table has no column `MRN`",
            ),
            ("\"Unters.\" = \" \"", "the other heading is blank"),
            (
                "\"Unters.\" = \"SV\"",
                "columns 2 and 3 are both headed `SV`",
            ),
            (
                "\"lvot_vti [cm]\" = \"VTI\"",
                "this column supplies `lvot_vti`",
            ),
            (
                "\"Unters.\" = \"height [cm]\"",
                "write `[columns.\"Unters.\"]` with `cell = \"height\"`",
            ),
            ("\"Unters.\" = \"remarks\"", "`remarks` already"),
        ] {
            let said = refused(line);
            assert!(said.contains(words), "{line}: {said}");
        }
        // Two columns can change places.
        let swapped = "[headings]\n\"Unters.\" = \"SV\"\n\"SV\" = \"Unters.\"\n";
        applied(&at("t.csv"), &at("r.csv"), swapped).unwrap();
        assert!(first_line(&at("r.csv")).starts_with("Pat-Nr.,SV,Unters.,"));
        let plain = at("plain.csv");
        apply_to_file(&sheet(), &at("t.csv"), &plain, &mut |_| {}).unwrap();
        assert!(first_line(&plain).starts_with("Pat-Nr.,Unters.,SV,"));
    }
}

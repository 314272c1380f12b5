//! Exams in long form, as a table shows them: a `[pair]` proposed for a person to decide on.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::draft::{Drafting, one_line, quoted, quoted_list};
use super::draft_match::{Match, Words};
use super::draft_names::{AFTER_BESIDE, EXAMS, INTERVENTIONS, exam_words};
use super::row::is_nothing;
use super::whom::Whom;

/// Different texts up to which a column may tell phases.
const MOST_PHASES: usize = 12;

/// Readings of a person, which an exam need not repeat.
const OF_THE_PERSON: [&str; 3] = ["height", "weight", "sex"];

/// The columns by which exams could be paired.
struct Proposed {
    of: usize,
    told: Told,
    time: Option<usize>,
    shared: Vec<usize>,
}

/// What tells before from after.
enum Told {
    Phase(Phase),
    Intervention(usize),
}

/// A column whose words tell it.
struct Phase {
    column: usize,
    before: Vec<String>,
    after: Vec<String>,
    /// Words that tell neither.
    neither: Vec<String>,
}

impl Drafting<'_> {
    /// Writes a `[pair]`, commented out, where the table seems to hold exams in long form.
    pub(super) fn write_pair(
        &mut self,
        text: &mut String,
        matches: &[Option<Match>],
        (identifiers, dates): (&[String], &[usize]),
    ) {
        let Some(proposed) = self.proposed(matches, identifiers, dates) else {
            self.write_exams_missed(text, matches);
            return;
        };
        self.unsure += 1;
        let heading = |column: usize| self.headings[column].as_str();
        let told = match &proposed.told {
            Told::Phase(phase) => format!("`{}` says before and after", heading(phase.column)),
            Told::Intervention(column) => {
                format!("`{}` says when something was done", heading(*column))
            }
        };
        let doubt = format!(
            "unsure: `{}` repeats and {told}, so these may be exams in long form. Without its marks, this pairs the last exam before with \
             the first after; the sheet then needs both: `use hemodynamics as before` and `use hemodynamics as after`.",
            heading(proposed.of)
        );
        _ = writeln!(text, "\n# {}", one_line(&doubt));
        let mut lines = vec![
            "[pair]".to_owned(),
            format!("of = {}", quoted(heading(proposed.of))),
        ];
        match &proposed.told {
            Told::Phase(phase) => {
                lines.push(format!("phase = {}", quoted(heading(phase.column))));
                lines.push(format!("before = [{}]", quoted_list(&phase.before)));
                lines.push(format!("after = [{}]", quoted_list(&phase.after)));
                if !phase.neither.is_empty() {
                    lines.push(format!("# neither: {}", quoted_list(&phase.neither)));
                }
            }
            Told::Intervention(column) => {
                lines.push(format!("intervention = {}", quoted(heading(*column))));
            }
        }
        if let Some(time) = proposed.time {
            lines.push(format!("time = {}", quoted(heading(time))));
        }
        if !proposed.shared.is_empty() {
            let shared = proposed.shared.iter().map(|c| heading(*c));
            lines.push(format!("shared = [{}]", quoted_list(shared)));
        }
        for line in lines {
            _ = writeln!(text, "# {line}");
        }
    }

    /// Says so where a sheet of several exams meets a table that seems to have one a row, or one of one exam headings of two.
    fn write_exams_missed(&mut self, text: &mut String, matches: &[Option<Match>]) {
        let bound = || matches.iter().flatten();
        let exams = self.exams_read();
        let doubt = if exams.is_empty() {
            let columns = || (0..matches.len()).filter(|column| matches[*column].is_some());
            let of_exam = |exam: &str| columns().find(|c| self.says(*c, exam_words(exam)));
            let [first, second] = ["before", "after"].map(of_exam);
            let (Some(first), Some(second)) = (first, second) else {
                return;
            };
            format!(
                "unsure: `{}` and `{}` seem to be of two exams, and the sheet has one: with `use hemodynamics as before` and `use \
                 hemodynamics as after` it takes both.",
                self.headings[first], self.headings[second]
            )
        } else {
            if bound().count() == 0 || bound().any(|found| self.is_of_an_exam(found)) {
                return;
            }
            let exams: Vec<String> = exams.iter().map(|exam| format!("`{exam}`")).collect();
            format!(
                "unsure: the sheet has the exams {}, and no heading says of which one it is. Where a row is one exam, write `[pair]` with `of`, \
                 whose exams they are, and `phase`, which column says before or after.",
                exams.join(" and ")
            )
        };
        self.unsure += 1;
        _ = writeln!(text, "\n# {}", one_line(&doubt));
    }

    /// The exams of the sheet that take readings, in its order.
    fn exams_read(&self) -> Vec<String> {
        let mut exams: Vec<String> = Vec::new();
        for cell in self
            .sheet
            .cells()
            .filter(|cell| !self.sheet.is_derived(*cell))
        {
            let name = self.sheet.name(cell);
            if let Some((exam, _)) = name.split_once('.')
                && self.exams.contains(exam)
                && !exams.iter().any(|own| own == exam)
            {
                exams.push(exam.to_owned());
            }
        }
        exams
    }

    fn proposed(
        &self,
        matches: &[Option<Match>],
        identifiers: &[String],
        dates: &[usize],
    ) -> Option<Proposed> {
        let mut bound = matches.iter().flatten();
        if bound.any(|found| self.is_of_an_exam(found)) {
            // Both exams stand in one row.
            return None;
        }
        let of = self.repeated(identifiers)?;
        let intervention = dates.iter().copied().find(|c| self.says(*c, INTERVENTIONS));
        let is_free = |column: &usize| {
            let heading = &self.headings[*column];
            *column != of && !dates.contains(column) && !identifiers.contains(heading)
        };
        let mut columns = (0..self.headings.len()).filter(is_free);
        let phase = columns.find_map(|column| self.phase(column));
        let time = dates.iter().copied().find(|c| Some(*c) != intervention);
        let told = match (phase, intervention) {
            (Some(phase), _) => Told::Phase(phase),
            // When an exam was has to be known too.
            (None, Some(column)) => time.map(|_| Told::Intervention(column))?,
            (None, None) => return None,
        };
        let is_shared = |column: &usize| {
            let cell = matches[*column].as_ref().map(|m| self.sheet.name(m.cell));
            cell.is_some_and(|name| OF_THE_PERSON.contains(&&*name))
                && self.is_constant(of, *column)
        };
        Some(Proposed {
            of,
            told,
            time,
            shared: (0..self.headings.len()).filter(is_shared).collect(),
        })
    }

    /// Whether a heading names a cell of one of several exams.
    fn is_of_an_exam(&self, found: &Match) -> bool {
        self.sheet.name(found.cell).contains('.')
    }

    /// Whether one of these words stands in the heading of a column.
    pub(super) fn says(&self, column: usize, words: &[&str]) -> bool {
        let said = Words::of(&self.headings[column]).words;
        said.iter().any(|word| words.contains(&&**word))
    }

    /// The first identifier of patients, of which most texts stand in several rows.
    pub(super) fn repeated(&self, identifiers: &[String]) -> Option<usize> {
        let mut columns = (0..self.headings.len()).filter(|column| {
            let heading = &self.headings[*column];
            identifiers.contains(heading) && Whom::could_be_patients(heading)
        });
        columns.find(|column| {
            let fields = self.rows.iter().map(|row| row[*column].trim());
            let fields: Vec<&str> = fields.filter(|field| !field.is_empty()).collect();
            let distinct: BTreeSet<&&str> = fields.iter().collect();
            fields.len() >= 2 && 3 * distinct.len() <= 2 * fields.len()
        })
    }

    /// The words of a column, if they tell before from after in most rows.
    fn phase(&self, column: usize) -> Option<Phase> {
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        for row in &self.rows {
            let field = row[column].trim();
            if !is_nothing(field) {
                *counts.entry(field).or_default() += 1;
            }
        }
        if counts.len() > MOST_PHASES {
            return None;
        }
        let mut found = Phase {
            column,
            before: Vec::new(),
            after: Vec::new(),
            neither: Vec::new(),
        };
        let (mut all, mut told) = (0, 0);
        let fields: Vec<&str> = counts.keys().copied().collect();
        for (field, count) in counts {
            all += count;
            let side = side(field).or_else(|| side_beside(field, &fields));
            let words = match side {
                Some("before") => &mut found.before,
                Some(_) => &mut found.after,
                None => &mut found.neither,
            };
            words.push(field.to_owned());
            told += if side.is_some() { count } else { 0 };
        }
        let tells = !found.before.is_empty() && !found.after.is_empty() && 2 * told > all;
        tells.then_some(found)
    }

    /// Whether a column says one thing only of each person.
    fn is_constant(&self, of: usize, column: usize) -> bool {
        let mut said: BTreeMap<&str, &str> = BTreeMap::new();
        self.rows.iter().all(|row| {
            let field = row[column].trim();
            field.is_empty() || *said.entry(row[of].trim()).or_insert(field) == field
        })
    }
}

/// The side that a text of a phase names.
fn side(field: &str) -> Option<&'static str> {
    let said = field.to_lowercase();
    let words: Vec<&str> = said.split(|c: char| !c.is_alphanumeric()).collect();
    let mut sides = EXAMS
        .iter()
        .filter(|(_, names)| names.iter().any(|n| words.contains(n)));
    let first = sides.next().map(|(side, _)| *side);
    // A text that names both tells neither.
    first.filter(|_| sides.next().is_none())
}

/// The second exam, where a word for it stands beside the one for the first.
fn side_beside(field: &str, fields: &[&str]) -> Option<&'static str> {
    let said = field.to_lowercase();
    let is_said = |word: &str| fields.iter().any(|field| field.to_lowercase() == word);
    let mut pairs = AFTER_BESIDE.iter();
    let found = pairs.find(|(after, before)| said == *after && is_said(before));
    found.map(|_| "after")
}

#[cfg(test)]
mod tests {
    use crate::cohort::test_support::bound_by;
    use crate::cohort::{Options, apply_to_file_with, draft_binding};
    use crate::sheet::Sheet;

    const SHEET: &str = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics";

    fn drafted(table: &str) -> String {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("t.csv");
        std::fs::write(&path, table).unwrap();
        let sheet = Sheet::read(SHEET).unwrap().sheet;
        draft_binding(&sheet, &path).unwrap().text
    }

    const LONG: &str = "MRN,Exam time,Phase,Height (cm),LVOT diam (cm),VTI (cm),Sonographer\n\
        1,2031-05-17 07:30,Pre bolus,170,2.0,18.1,A\n\
        1,2031-05-17 08:10,10 min post,170,2.0,20.2,B\n\
        2,2031-05-18 09:00,Pre bolus,181,2.2,17.3,A\n\
        2,2031-05-18 09:40,10 min post,181,2.2,17.9,A\n\
        2,2031-05-18 09:50,during,181,2.2,17.5,A\n";

    #[test]
    fn exams_in_long_form_are_proposed_for_pairing() {
        let text = drafted(LONG);
        let expected = "# [pair]\n# of = \"MRN\"\n# phase = \"Phase\"\n# before = [\"Pre bolus\"]\n# after = [\"10 min post\"]\n\
                        # # neither: \"during\"\n# time = \"Exam time\"\n# shared = [\"Height (cm)\"]\n";
        assert!(text.contains(expected), "{text}");
        assert!(text.contains("# unsure: `MRN` repeats and `Phase` says before and after"));
    }

    /// The draft with the marks taken off its `[pair]` is a binding that pairs.
    #[test]
    fn the_proposal_pairs_once_its_marks_are_taken_off() {
        let text = drafted(LONG);
        let (before, rest) = text.split_once("# [pair]\n").unwrap();
        let lines = rest.lines();
        let taken = lines.clone().take_while(|line| line.starts_with('#'));
        let count = taken.clone().count();
        let open: Vec<&str> = taken.map(|line| line.trim_start_matches("# ")).collect();
        let open = open
            .iter()
            .filter(|line| !line.starts_with("neither"))
            .copied();
        let after: Vec<&str> = lines.skip(count).collect();
        let pair: Vec<&str> = open.collect();
        let binding = format!(
            "{before}[pair]\n{}\n{}\n",
            pair.join("\n"),
            after.join("\n")
        );
        let folder = tempfile::tempdir().unwrap();
        let (table, out) = (folder.path().join("t.csv"), folder.path().join("r.csv"));
        std::fs::write(&table, LONG).unwrap();
        let options = Options {
            keep_identifiers: true,
            ..bound_by(&binding)
        };
        let sheet = Sheet::read(SHEET).unwrap().sheet;
        let summary = apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap();
        let exams = summary.exams.unwrap();
        assert_eq!((exams.read, exams.pairs, exams.unpaired), (5, 2, 1));
        assert!(
            summary
                .results
                .iter()
                .any(|name| name.starts_with("after.stroke_volume"))
        );
    }

    #[test]
    fn the_time_of_an_intervention_tells_before_from_after_too() {
        let text = drafted(
            "Patient,Exam,Fluid start,VTI (cm)\n\
             A,2031-05-17 07:30,2031-05-17 08:00,18.1\nA,2031-05-17 08:30,2031-05-17 08:00,20.2\n",
        );
        let expected =
            "# [pair]\n# of = \"Patient\"\n# intervention = \"Fluid start\"\n# time = \"Exam\"\n";
        assert!(text.contains(expected), "{text}");
    }

    #[test]
    fn other_tables_are_not_proposed_for_it() {
        for table in [
            // Both exams in a row.
            "MRN,pre VTI (cm),post VTI (cm),Phase\n1,18,20,pre\n1,19,21,post\n",
            // One exam of each person.
            "MRN,Phase,VTI (cm)\n1,pre,18\n2,post,20\n3,pre,19\n",
            // Exams that follow each other, and nothing between.
            "MRN,Exam time,VTI (cm)\n1,2031-05-17,18\n1,2031-05-18,20\n",
            // Only those who examined repeat.
            "Sonographer,Phase,VTI (cm)\nA,pre,18\nA,post,20\n",
        ] {
            assert!(!drafted(table).contains("# [pair]\n"), "{}", drafted(table));
        }
    }
}

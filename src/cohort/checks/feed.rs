//! Pieces of a table on their way to threads, each with its turn to be compared with the pieces before it.

use std::sync::Arc;

use super::across::{Across, Comparison};
use super::seen::Lens;
use super::turns::{Ticket, Turns};
use super::verdict::{Verdict, joined};
use crate::cohort::binding::Binding;
use crate::cohort::error::CohortError;
use crate::cohort::forms::Forms;
use crate::cohort::rows::Taken;
use crate::cohort::table::{Piece, Table};

/// The pieces of a table, in order.
pub(in crate::cohort) struct Feed<'t> {
    table: &'t mut Table,
    checking: Option<Checking<'t>>,
}

/// What a binding asks of rows.
struct Checking<'t> {
    lens: Arc<Lens<'t>>,
    /// Rows are compared where it is known whose they are.
    turns: Option<Turns<Across>>,
}

/// A piece of a table for a thread to work on, as it came.
pub(in crate::cohort) struct Fed<'t> {
    piece: Piece,
    check: Option<CheckOf<'t>>,
}

/// What is to be done about the rows of one piece.
struct CheckOf<'t> {
    lens: Arc<Lens<'t>>,
    turn: Option<Ticket<Across>>,
}

impl<'t> Feed<'t> {
    pub(in crate::cohort) fn new(table: &'t mut Table, binding: &'t Binding) -> Feed<'t> {
        Feed {
            table,
            checking: Checking::of(binding),
        }
    }

    /// The next piece, if there is any.
    ///
    /// # Errors
    /// A file that cannot be read on.
    pub(in crate::cohort) fn next(&mut self) -> Result<Option<Fed<'t>>, CohortError> {
        let piece = self.table.next_piece()?;
        Ok(piece.map(|piece| Fed {
            piece,
            check: self.checking.as_mut().map(Checking::next),
        }))
    }
}

impl<'t> Checking<'t> {
    fn of(binding: &'t Binding) -> Option<Checking<'t>> {
        let checks = binding.checks.as_ref()?;
        let patient = checks.patient.as_ref();
        Some(Checking {
            lens: Arc::new(Lens::new(checks, binding)),
            turns: patient.map(|_| Turns::new(Across::default())),
        })
    }

    fn next(&mut self) -> CheckOf<'t> {
        CheckOf {
            lens: self.lens.clone(),
            turn: self.turns.as_mut().map(Turns::ticket),
        }
    }
}

impl Fed<'_> {
    /// Takes the piece apart: its rows, with what was found in them. Waits for its turn where rows are compared; a piece that is
    /// not opened, or cannot be, keeps nobody waiting.
    ///
    /// # Errors
    /// A column that cannot be shown as text.
    pub(in crate::cohort) fn open(
        self,
        width: usize,
        forms: &Forms,
    ) -> Result<(Taken, Vec<Verdict>), CohortError> {
        let taken = self.piece.take_apart(width, forms)?;
        let verdicts = self.check.map(|check| check.verdicts(&taken));
        Ok((taken, verdicts.unwrap_or_default()))
    }
}

impl CheckOf<'_> {
    /// What is found in the rows of a piece. Whatever does not take the rows before is done outside of its turn.
    fn verdicts(self, taken: &Taken) -> Vec<Verdict> {
        let Lens {
            checks, binding, ..
        } = *self.lens;
        let looked = self.lens.look(&taken.rows);
        let alike = self.turn.map(|turn| {
            let for_what = Comparison { checks, binding };
            turn.take(|across| across.compare(for_what, taken, &looked))
        });
        let alike = alike.unwrap_or_default();
        joined(checks, binding, self.lens.take_verdicts(looked), &alike)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cohort::dialect::Dialect;
    use crate::cohort::in_order::Line;
    use crate::cohort::test_support::bound_by;
    use crate::sheet::Sheet;

    const WIDTH: usize = 5;

    /// Rows in which everything is found that there is to find, across pieces wherever they are cut.
    fn rows() -> Vec<String> {
        let row = |n: usize| {
            let (patient, day) = (n * n % 37, n / 50);
            let began = match n % 11 {
                0 => "soon".to_owned(),
                hour => format!("2031-05-{:02} {:02}:30", 1 + day, hour),
            };
            let ended = format!("2031-05-{:02} {:02}:10", 1 + day, n * 7 % 12);
            let whose = ["p", " p", ""]
                [usize::from(n.is_multiple_of(5)) + usize::from(n.is_multiple_of(35))];
            let whose = match whose {
                "" => String::new(),
                some => format!("{some}{patient}"),
            };
            match n % 23 {
                // Not as many fields as headings.
                7 => "p1,2031-05-01\n".to_owned(),
                _ => format!(
                    "{whose},{began},{ended},2.{},{}\n",
                    patient % 3,
                    12 + n * 3 % 8
                ),
            }
        };
        let first: Vec<String> = (0..300).map(row).collect();
        // Some once more as they were, and some of them with another length.
        let changed: Vec<String> = first[40..90]
            .iter()
            .map(|row| row.replace('\n', ".5\n"))
            .collect();
        [&first[..], &first[60..90], &changed].concat()
    }

    fn bound(run: impl FnOnce(&Binding, &Forms)) {
        let headings = b"patient,began,ended,lvot_diameter [cm],lvot_vti [cm]\n";
        let entry =
            "[checks]\npatient = \"patient\"\ntimes = [\"began\", \"ended\"]\norder = \"mark\"\n";
        let options = bound_by(entry);
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        let mut table = Table::from_csv(Box::new(&headings[..]), "t.csv".as_ref()).unwrap();
        let (binding, forms) = options.settle(&sheet, &mut table).unwrap();
        run(&binding, &forms);
    }

    /// Verdicts of pieces of so many rows each, with the rows numbered through the table; a piece may fail.
    fn verdicts(
        (binding, forms): (&Binding, &Forms),
        (rows, size): (&[String], usize),
        threads: usize,
        fail_at: Option<usize>,
    ) -> Result<Vec<(usize, Verdict)>, String> {
        let mut checking = Checking::of(binding);
        let mut pieces = rows.chunks(size).enumerate();
        let (mut all, mut before) = (Vec::new(), 0);
        let line = Line {
            next: || {
                Ok(pieces.next().map(|(number, rows)| {
                    let piece = Piece::Text {
                        bytes: rows.concat().into_bytes(),
                        dialect: Dialect::by(b','),
                    };
                    let check = checking.as_mut().map(Checking::next);
                    (number, Fed { piece, check })
                }))
            },
            make: || {
                |(number, fed): (usize, Fed<'_>)| {
                    if number % 3 == 0 {
                        std::thread::sleep(std::time::Duration::from_micros(100));
                    }
                    match fail_at == Some(number) {
                        true => Err(format!("piece {number} is torn")),
                        false => fed.open(WIDTH, forms).map_err(|e| e.to_string()),
                    }
                }
            },
            take: |made: Result<(Taken, Vec<Verdict>), String>| {
                let (taken, verdicts) = made?;
                for verdict in verdicts {
                    let number = before + taken.rows.number(verdict.row);
                    all.push((number, Verdict { row: 0, ..verdict }));
                }
                before += taken.count;
                Ok(())
            },
        };
        line.run(threads).map(|()| all)
    }

    #[test]
    fn pieces_of_any_size_on_any_number_of_threads_have_the_verdicts_of_the_whole() {
        let rows = rows();
        bound(|binding, forms| {
            let bound = (binding, forms);
            let whole = verdicts(bound, (&rows, rows.len()), 1, None).unwrap();
            for check in super::super::ALL {
                let is_it = |verdict: &Verdict| {
                    let marks = verdict.marks.iter().chain(&verdict.aside);
                    marks.into_iter().any(|finding| finding.check == check)
                };
                let is_found = whole.iter().any(|(_, verdict)| is_it(verdict));
                // Lengths are looked at where they are read.
                assert_eq!(
                    is_found,
                    check != super::super::Check::FactorTen,
                    "{check:?}"
                );
            }
            for size in [1, 2, 7] {
                for threads in [1, 2, 5] {
                    let cut = verdicts(bound, (&rows, size), threads, None).unwrap();
                    assert_eq!(cut, whole, "{size} {threads}");
                }
            }
        });
    }

    #[test]
    fn a_piece_that_fails_ends_the_work_without_anybody_waiting_for_it() {
        let rows = rows();
        bound(|binding, forms| {
            for threads in [1, 2, 5] {
                for fail_at in [0, 1, 60, 174] {
                    let ended = verdicts((binding, forms), (&rows, 2), threads, Some(fail_at));
                    assert_eq!(ended, Err(format!("piece {fail_at} is torn")), "{threads}");
                }
            }
        });
    }
}

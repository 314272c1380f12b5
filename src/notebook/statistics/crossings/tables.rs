//! Tables of rows that change side.

use super::{Crossed, Found};
use crate::notebook::statistics::page::{Table, percent};
use crate::notebook::statistics::rows::Rows;
use crate::uncertainty::Chances;

/// A chance from here on is told: the row's side is open (common practice, no source).
const LIKELY: f64 = 0.05;

/// Most rows told by their number in one field.
const MOST_TOLD: usize = 15;

/// The same error in every row.
pub(super) fn shared(found: &[Found]) -> Table {
    let mut table = Table::new(
        "The same error in every row (systematic)",
        &[
            "Error",
            "Rows compared",
            "Above as read",
            "Then above",
            "Come above",
            "Fall below",
        ],
    );
    for one in found {
        let ways = [
            ("too low", &one.crossed.too_low),
            ("too high", &one.crossed.too_high),
        ];
        for (way, crossings) in ways {
            let (up, down) = (crossings.upward.len(), crossings.downward.len());
            let of = crossings.compared;
            let then = crossings.above + up - down;
            table.row([
                format!("{} {} {way}, at {}", one.label, one.by, one.threshold),
                of.to_string(),
                with_share(crossings.above, of),
                with_share(then, of),
                with_share(up, of),
                with_share(down, of),
            ]);
        }
    }
    table
}

/// An error of its own in every row.
pub(super) fn own(found: &[Found]) -> Table {
    let mut table = Table::new(
        "An error of its own in every row (independent, normal)",
        &[
            "Standard deviation",
            "Rows",
            "Change side on average",
            "Rows with a chance of 5 % or more",
            "Greatest chance",
        ],
    );
    for one in found {
        let chances: Vec<f64> = one.crossed.own.of_row.iter().flatten().copied().collect();
        let open = chances.iter().filter(|c| **c >= LIKELY).count();
        let greatest = chances.iter().copied().fold(0.0, f64::max);
        let expected = one.crossed.own.expected;
        let share = expected / chances.len().max(1) as f64;
        table.row([
            format!("{} {}, at {}", one.label, one.by, one.threshold),
            chances.len().to_string(),
            format!("{expected:.1} ({})", percent(share)).replace(' ', "\u{a0}"),
            with_share(open, chances.len()),
            percent(greatest).replace(' ', "\u{a0}"),
        ]);
    }
    table
}

/// Which rows change side, by their number in the table; nothing where none does.
pub(super) fn which(rows: &Rows<'_>, found: &[Found]) -> Option<Table> {
    let number = |at: usize| -> Option<usize> {
        let row = rows.kept.get(at)?;
        rows.cohort.rows().get(*row).copied()
    };
    let told = |crossed: &[usize]| {
        let shown = crossed.iter().take(MOST_TOLD).filter_map(|at| number(*at));
        let shown: Vec<String> = shown.map(|row| row.to_string()).collect();
        match crossed.len() {
            0 => "none".to_owned(),
            count if count > MOST_TOLD => {
                format!("{} and {} more", shown.join(", "), count - MOST_TOLD)
            }
            _ => shown.join(", "),
        }
    };
    let open = |chances: &Chances| {
        let mut likely: Vec<(usize, f64)> = chances
            .of_row
            .iter()
            .enumerate()
            .filter_map(|(at, chance)| Some((at, (*chance).filter(|c| *c >= LIKELY)?)))
            .collect();
        likely.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        told(&likely.into_iter().map(|(at, _)| at).collect::<Vec<_>>())
    };
    let mut table = Table::new(
        "Which rows, by their number in the table",
        &[
            "Error",
            "Come above",
            "Fall below",
            "With a chance of 5 % or more of their own, the greatest first",
        ],
    );
    for one in found.iter().filter(|one| one.crossed.is_moved()) {
        let Crossed {
            too_low,
            too_high,
            own,
        } = &one.crossed;
        for (way, crossings) in [("too low", too_low), ("too high", too_high)] {
            table.row([
                format!("{} {} {way}, at {}", one.label, one.by, one.threshold),
                told(&crossings.upward),
                told(&crossings.downward),
                String::new(),
            ]);
        }
        table.row([
            format!("{} {} in each row, at {}", one.label, one.by, one.threshold),
            String::new(),
            String::new(),
            open(own),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

fn with_share(count: usize, of: usize) -> String {
    match of {
        0 => "0".to_owned(),
        // Kept together in a narrow column.
        of => format!("{count} ({})", percent(count as f64 / of as f64)).replace(' ', "\u{a0}"),
    }
}

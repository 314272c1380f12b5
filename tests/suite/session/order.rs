//! The order of cells, and the way by which they came, play no part.

use proptest::prelude::*;
use semilunar::notebook::Session;

/// Cells that lean on each other in all ways, none of them naming its place.
const CELLS: [(&str, &str); 12] = [
    ("before", "use hemodynamics as before"),
    ("after", "use hemodynamics as after\nuse hemodynamics"),
    ("compare", "compare before, after"),
    ("shared", "lvot_diameter = 2 cm\nheight = 178 cm"),
    ("one", "before.lvot_vti = beats(17.8, 18.4, 18.1) cm"),
    ("two", "after.lvot_vti = 20 cm\nafter.heart_rate = 80 /min"),
    ("own", "ratio = after.lvot_vti / before.lvot_vti"),
    ("more", "use hemodynamics\npercent [%] = ratio - 1"),
    (
        "show",
        "show ratio, percent, change.stroke_volume, after.cardiac_output",
    ),
    ("all", "show"),
    ("explain", "explain change.stroke_volume"),
    (
        "draw",
        "draw after.stroke_volume when lvot_diameter is off by 1 mm",
    ),
];

/// What the cells show, in the order of [`CELLS`].
fn outputs(session: &Session) -> Vec<String> {
    let of_cell = |(key, _): &(&str, &str)| {
        let outputs = session.outputs(key);
        outputs
            .iter()
            .map(|o| format!("{}\n{}\n", o.text, o.html))
            .collect()
    };
    CELLS.iter().map(of_cell).collect()
}

fn one_by_one(order: &[usize]) -> Session {
    let mut session = Session::new(".");
    for at in order {
        session.submit(CELLS[*at].0, CELLS[*at].1);
    }
    session
}

#[test]
fn submitting_at_once_is_submitting_one_by_one() {
    let mut at_once = Session::new(".");
    at_once.submit_all(&CELLS);
    assert!(!at_once.has_errors());
    let order: Vec<usize> = (0..CELLS.len()).collect();
    assert_eq!(outputs(&at_once), outputs(&one_by_one(&order)));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_order_gives_the_same_outputs(order in Just((0..CELLS.len()).collect::<Vec<_>>()).prop_shuffle()) {
        let mut as_written = Session::new(".");
        as_written.submit_all(&CELLS);
        // The list of all cells stands in the order of the notebook.
        let without_list = |session: &Session| -> Vec<String> {
            let mut outputs = outputs(session);
            outputs.remove(9);
            outputs
        };
        let shuffled = one_by_one(&order);
        prop_assert!(!shuffled.has_errors());
        prop_assert_eq!(without_list(&shuffled), without_list(&as_written));
    }

    /// Whatever was there before, a session shows what its present cells say.
    #[test]
    fn the_past_leaves_no_trace(
        steps in prop::collection::vec((0..CELLS.len(), 0..4usize), 0..12)
    ) {
        let broken = ["lvot_diameter = 3 cm", "ratio = )", "use hemodynamics as before\nx = y", ""];
        let mut session = Session::new(".");
        session.submit_all(&CELLS);
        for (cell, way) in steps {
            session.submit(CELLS[cell].0, broken[way]);
        }
        session.submit_all(&CELLS);
        let mut fresh = Session::new(".");
        fresh.submit_all(&CELLS);
        prop_assert_eq!(outputs(&session), outputs(&fresh));
    }

    /// Which cells are in error does not depend on their order either.
    #[test]
    fn the_same_cells_are_in_error_in_any_order(
        order in Just((0..8usize).collect::<Vec<_>>()).prop_shuffle()
    ) {
        let cells = [
            ("use", "use hemodynamics"),
            ("twice a", "lvot_vti = 20 cm"),
            ("twice b", "lvot_vti = 21 cm"),
            ("bad", "lvot_diameter = 2 kg"),
            ("good", "heart_rate = 70 /min\nshow heart_rate"),
            ("on bad", "show lvot_area"),
            ("circle a", "one = two + 1"),
            ("circle b", "two = one + 1"),
        ];
        let mut session = Session::new(".");
        for at in order {
            session.submit(cells[at].0, cells[at].1);
        }
        let in_error: Vec<&str> = cells
            .iter()
            .map(|(key, _)| *key)
            .filter(|key| super::has_error(&session, key))
            .collect();
        prop_assert_eq!(in_error, ["twice a", "twice b", "bad", "on bad", "circle a", "circle b"]);
    }
}

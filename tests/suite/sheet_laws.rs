//! Laws of recomputation: after any edits a sheet is what it would be if it were built anew, and
//! no cell was evaluated without need.

use proptest::prelude::*;

use crate::sheet_pair::{Pair, Raw};

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn after_any_edits_a_sheet_is_what_it_would_be_built_anew(
        shape in prop::collection::vec(any::<Raw>(), 1..10),
        edits in prop::collection::vec(any::<Raw>(), 1..25),
    ) {
        let mut pair = Pair::new(&shape);
        pair.is_as_built_anew();
        for raw in edits {
            pair.edit(raw);
        }
    }
}

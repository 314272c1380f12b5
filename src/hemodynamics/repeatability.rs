//! Published repeatability, by name: taken in by a sheet that asks for it, never silently.
//!
//! ```
//! use semilunar::hemodynamics::{Component, repeatability};
//!
//! let set = repeatability("robson_1988").unwrap();
//! assert!((set.share_of("before.lvot_vti").unwrap() - 0.064).abs() < 1e-12);
//! assert_eq!(set.component, Component::Repeated);
//! ```

/// Which scatter a published set describes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Component {
    /// Measurements repeated, as published: what scatters within and between acquisitions is not
    /// told apart.
    Repeated,
    /// Exams by one operator, each the mean of its beats: within and between acquisitions together.
    ExamsOfOneOperator,
    /// Exams by two operators, each the mean of its beats.
    ExamsOfTwoOperators,
}

impl Component {
    /// The component in words.
    pub fn words(self) -> &'static str {
        match self {
            Component::Repeated => {
                "repeated measurements; within and between acquisitions not told apart"
            }
            Component::ExamsOfOneOperator => "exams by one operator, each the mean of its beats",
            Component::ExamsOfTwoOperators => "exams by two operators, each the mean of its beats",
        }
    }
}

/// In which form a set was published.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Published {
    /// Coefficients of variation.
    Variation,
    /// Least significant changes between two exams: 2 · √2 times the relative standard uncertainty
    /// of one (Monnet 2011 Crit Care 15:R204).
    LeastSignificantChange,
}

/// One published set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeatability {
    /// The name in the notation: `repeatability robson_1988`.
    pub name: &'static str,
    /// Where it was published.
    pub source: &'static str,
    /// Which scatter it describes.
    pub component: Component,
    /// Source and component, as results name them.
    pub cited: &'static str,
    /// In which form it was published.
    pub published: Published,
    /// Cells of the catalogue and what was published of them, in per cent of the value.
    pub per_cent: &'static [(&'static str, f64)],
}

/// All published sets.
pub const REPEATABILITIES: &[Repeatability] = &[
    Repeatability {
        name: "robson_1988",
        source: "Robson 1988 Br Heart J 59:680-4",
        component: Component::Repeated,
        cited: "Robson 1988 Br Heart J 59:680-4 (repeated measurements; within and between acquisitions not told apart)",
        published: Published::Variation,
        // That of the output is smaller than the 11.5 % that those of its factors give in
        // quadrature. It counts where an output is read, not where it is computed.
        per_cent: &[
            ("lvot_diameter", 4.1),
            ("lvot_vti", 6.4),
            ("heart_rate", 5.0),
            ("cardiac_output", 8.8),
        ],
    },
    Repeatability {
        name: "jozwiak_2019_one_operator",
        source: "Jozwiak 2019 Crit Care 23:116",
        component: Component::ExamsOfOneOperator,
        cited: "Jozwiak 2019 Crit Care 23:116 (exams by one operator, each the mean of its beats)",
        published: Published::LeastSignificantChange,
        per_cent: &[("lvot_vti", 11.0)],
    },
    Repeatability {
        name: "jozwiak_2019_two_operators",
        source: "Jozwiak 2019 Crit Care 23:116",
        component: Component::ExamsOfTwoOperators,
        cited: "Jozwiak 2019 Crit Care 23:116 (exams by two operators, each the mean of its beats)",
        published: Published::LeastSignificantChange,
        per_cent: &[("lvot_vti", 14.0)],
    },
];

/// The set of that name.
pub fn repeatability(name: &str) -> Option<&'static Repeatability> {
    REPEATABILITIES.iter().find(|set| set.name == name)
}

impl Repeatability {
    /// The relative standard uncertainty of a cell, as a share; the exam it belongs to is left
    /// aside.
    pub fn share_of(&self, cell: &str) -> Option<f64> {
        let bare = cell.rsplit('.').next().unwrap_or(cell);
        let found = self.per_cent.iter().find(|(name, _)| *name == bare);
        let share = found.map(|(_, per_cent)| per_cent / 100.0)?;
        Some(match self.published {
            Published::Variation => share,
            Published::LeastSignificantChange => share / (2.0 * std::f64::consts::SQRT_2),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_name_source_and_component() {
        for set in REPEATABILITIES {
            let cited = format!("{} ({})", set.source, set.component.words());
            assert_eq!(set.cited, cited);
        }
    }

    /// Coefficients of variation of Robson 1988 (see `source`): of diameter, velocity-time
    /// integral, rate and output. The first three give 11.5 % in quadrature, not 8.8.
    #[test]
    fn coefficients_of_variation_are_those_published() {
        let set = repeatability("robson_1988").unwrap();
        let shares = ["lvot_diameter", "lvot_vti", "heart_rate", "cardiac_output"]
            .map(|cell| set.share_of(cell).unwrap());
        for (share, per_cent) in shares.iter().zip([4.1, 6.4, 5.0, 8.8]) {
            assert!((100.0 * share - per_cent).abs() < 1e-12);
        }
        let [d, vti, rate, output] = shares;
        let together = (4.0 * d * d + vti * vti + rate * rate).sqrt();
        assert!((together - 0.115).abs() < 0.0005 && together > output);
    }

    /// Jozwiak 2019 (see `source`): a change of the integral between two exams counts beyond 11 %
    /// with one operator, 14 % with two.
    #[test]
    fn least_significant_changes_come_back_as_published() {
        for (name, least) in [
            ("jozwiak_2019_one_operator", 11.0),
            ("jozwiak_2019_two_operators", 14.0),
        ] {
            let set = repeatability(name).unwrap();
            let share = set.share_of("after.lvot_vti").unwrap();
            // Two exams differ by √2 of the uncertainty of one; twice that is the change.
            let change = 2.0 * (2.0 * share * share).sqrt();
            assert!((100.0 * change - least).abs() < 1e-12);
            assert_eq!(set.share_of("lvot_diameter"), None);
        }
    }

    #[test]
    fn every_set_is_sourced_and_names_cells_of_the_catalogue() {
        for set in REPEATABILITIES {
            assert!(!set.source.is_empty() && !set.component.words().is_empty());
            for (cell, per_cent) in set.per_cent {
                assert!(*per_cent > 0.0);
                assert!(crate::hemodynamics::entry(cell).is_some(), "{cell}");
            }
        }
    }
}

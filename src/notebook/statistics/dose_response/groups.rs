//! Which doses are looked at together: a dose of zero is a group of its own, since nothing was given.

use crate::notebook::statistics::rows::Column;
use crate::sheet::figure_as_given;

/// Most distinct doses whose medians are told one by one; more make groups of about equal size.
const MOST_DOSES: usize = 8;
/// Groups where doses are too many, zero aside.
const GROUPS: usize = 5;

/// Doses that are looked at together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DoseGroup {
    /// Their median.
    pub(super) dose: f64,
    pub(super) smallest: f64,
    pub(super) largest: f64,
    /// Which of the doses, by position.
    pub(super) members: Vec<usize>,
}

impl DoseGroup {
    fn of(x: &[f64], members: Vec<usize>) -> Option<DoseGroup> {
        let mut doses: Vec<f64> = members.iter().map(|at| x[*at]).collect();
        doses.sort_unstable_by(f64::total_cmp);
        Some(DoseGroup {
            dose: *doses.get(doses.len() / 2)?,
            smallest: *doses.first()?,
            largest: *doses.last()?,
            members,
        })
    }

    /// Whether it is one dose.
    pub(super) fn is_one(&self) -> bool {
        self.smallest == self.largest
    }

    /// `500 mL`, or `5 to 12 mL`.
    pub(super) fn words(&self, dose: &Column) -> String {
        let largest = dose.with_unit(&figure_as_given(self.largest));
        match self.is_one() {
            true => largest,
            false => format!("{} to {largest}", figure_as_given(self.smallest)),
        }
    }
}

/// The doses one by one where they are few, else in groups of about equal size.
pub(super) fn groups(x: &[f64]) -> Vec<DoseGroup> {
    let (none, given): (Vec<usize>, Vec<usize>) = (0..x.len()).partition(|at| x[*at] == 0.0);
    let mut sorted: Vec<f64> = given.iter().map(|at| x[*at]).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let alike: Vec<&[f64]> = sorted.chunk_by(|a, b| a == b).collect();
    let alone = alike.iter().any(|doses| doses.len() < 2);
    let starts: Vec<f64> = match alike.len() <= MOST_DOSES && !alone {
        true => alike.iter().map(|doses| doses[0]).collect(),
        false => (0..GROUPS)
            .map(|group| sorted[group * sorted.len() / GROUPS])
            .collect(),
    };
    let mut groups = vec![none];
    groups.extend(starts.iter().map(|_| Vec::new()));
    for at in given {
        // The first group starts at the smallest dose; of equal starts the last one takes them all.
        let group = starts.iter().filter(|start| x[at] >= **start).count();
        groups[group].push(at);
    }
    let found = groups.into_iter();
    found
        .filter_map(|members| DoseGroup::of(x, members))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(x: &[f64]) -> Vec<(f64, f64, f64, usize)> {
        let found = groups(x).into_iter();
        found
            .map(|g| (g.smallest, g.dose, g.largest, g.members.len()))
            .collect()
    }

    #[test]
    fn few_doses_stay_and_many_make_groups_with_their_median() {
        let few = [250.0, 250.0, 500.0, 500.0];
        assert_eq!(
            told(&few),
            [(250.0, 250.0, 250.0, 2), (500.0, 500.0, 500.0, 2)]
        );
        let many: Vec<f64> = (1..=50).map(f64::from).collect();
        let found = told(&many);
        assert_eq!(found.len(), 5);
        assert_eq!(
            (found[0], found[1]),
            ((1.0, 6.0, 10.0, 10), (11.0, 16.0, 20.0, 10))
        );
    }

    #[test]
    fn zero_is_a_group_of_its_own_also_among_small_doses() {
        // 20 rows without fluid, and 30 with ten doses, the smallest six times.
        let mut x = vec![0.0; 20];
        x.extend([50.0; 6]);
        x.extend((0..24).map(|i| 100.0 + 50.0 * f64::from(i % 9)));
        let found = told(&x);
        assert_eq!(found[0], (0.0, 0.0, 0.0, 20));
        assert_eq!(found[1].0, 50.0);
        assert_eq!(found.iter().map(|g| g.3).sum::<usize>(), 50);
        assert_eq!(told(&[0.0, 5.0, 5.0])[0], (0.0, 0.0, 0.0, 1));
    }
}

//! Which observations belong to one patient.

use super::descriptive::compensated_sum;
use super::error::{Result, StatisticsError, check_pairs};

/// Observations grouped by patient, or by any other unit whose members are not independent.
///
/// Groups are numbered in the order of their first observation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Clusters {
    group_of: Vec<u32>,
    starts: Vec<usize>,
    members: Vec<u32>,
}

impl Clusters {
    /// Groups observations by their identifier.
    ///
    /// # Errors
    /// [`StatisticsError::TooFew`] without observations, or with more than `u32` can count.
    pub fn new<T: Ord>(identifiers: &[T]) -> Result<Self> {
        let length = identifiers.len();
        if length == 0 {
            return Err(StatisticsError::TooFew {
                what: "patient identifiers",
                found: 0,
                needed: 1,
            });
        }
        if u32::try_from(length).is_err() {
            return Err(StatisticsError::OutOfRange {
                what: "number of observations",
                value: length as f64,
                allowed: "at most 4294967295",
            });
        }
        let mut order: Vec<usize> = (0..length).collect();
        order.sort_by(|a, b| identifiers[*a].cmp(&identifiers[*b]));
        let mut first_of_each: Vec<(usize, Vec<u32>)> = Vec::new();
        for (place, index) in order.iter().enumerate() {
            let same = place > 0 && identifiers[order[place - 1]] == identifiers[*index];
            match first_of_each.last_mut() {
                Some((_, members)) if same => members.push(*index as u32),
                _ => first_of_each.push((*index, vec![*index as u32])),
            }
        }
        first_of_each.sort_by_key(|(first, _)| *first);
        Ok(Self::from_groups(
            length,
            first_of_each.into_iter().map(|(_, members)| members),
        ))
    }

    fn from_groups(length: usize, groups: impl Iterator<Item = Vec<u32>>) -> Self {
        let mut group_of = vec![0; length];
        let mut starts = vec![0];
        let mut members = Vec::with_capacity(length);
        for (number, group) in groups.enumerate() {
            for member in &group {
                group_of[*member as usize] = number as u32;
            }
            members.extend(group);
            starts.push(members.len());
        }
        Self {
            group_of,
            starts,
            members,
        }
    }

    /// How many groups there are.
    pub fn count(&self) -> usize {
        self.starts.len() - 1
    }

    /// How many observations there are.
    pub fn observations(&self) -> usize {
        self.group_of.len()
    }

    /// The group of an observation.
    pub(crate) fn group_of(&self, observation: usize) -> usize {
        self.group_of[observation] as usize
    }

    /// Standard error of the mean of values whose mean is `mean`: `sqrt(G / (G - 1) sum_g (sum of (x - mean) in g)^2) / n` over G
    /// groups, the cluster-robust one.
    ///
    /// # Errors
    /// Another number of values than observations, or fewer than two groups.
    pub(super) fn error_of_mean(&self, values: &[f64], mean: f64) -> Result<f64> {
        check_pairs(
            "values",
            values.len(),
            "patient identifiers",
            self.observations(),
        )?;
        self.check_two()?;
        let squares = (0..self.count()).map(|group| {
            let members = self.members(group).iter();
            let sum = compensated_sum(members.map(|m| values[*m as usize] - mean));
            sum * sum
        });
        let groups = self.count() as f64;
        let inflated = groups / (groups - 1.0) * compensated_sum(squares);
        Ok(inflated.sqrt() / values.len() as f64)
    }

    /// Whether any group has several observations.
    pub fn repeat(&self) -> bool {
        self.count() < self.observations()
    }

    /// Refuses a single group, which tells nothing of others.
    pub(super) fn check_two(&self) -> Result<()> {
        match self.count() {
            0 | 1 => Err(StatisticsError::TooFew {
                what: "patients",
                found: self.count(),
                needed: 2,
            }),
            _ => Ok(()),
        }
    }

    /// The observations of a group, ascending.
    pub(crate) fn members(&self, group: usize) -> &[u32] {
        &self.members[self.starts[group]..self.starts[group + 1]]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_keep_the_order_of_first_sight() {
        let clusters = Clusters::new(&["b", "a", "b", "c", "a"]).unwrap();
        assert_eq!(clusters.count(), 3);
        assert_eq!(clusters.members(0), [0, 2]);
        assert_eq!(clusters.members(1), [1, 4]);
        assert_eq!(clusters.members(2), [3]);
        assert_eq!(
            (0..5).map(|i| clusters.group_of(i)).collect::<Vec<_>>(),
            [0, 1, 0, 2, 1]
        );
    }

    #[test]
    fn no_observations_are_refused() {
        assert!(Clusters::new::<u32>(&[]).is_err());
    }
}

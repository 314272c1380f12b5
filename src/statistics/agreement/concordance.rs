//! Do two methods see a change in the same direction?

use crate::statistics::error::{Result, StatisticsError, check_finite, check_pairs, check_values};
use crate::statistics::proportion::{Proportion, proportion};
use crate::statistics::warning::{Warning, warn_few};

/// Which pairs of changes lie in the zone of noise that is left out. A change at the zone's edge is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exclusion {
    /// Both changes are smaller than the zone: a square around the origin.
    BothSmall,
    /// The second method's change, the reference, is smaller than the zone: a vertical band.
    ReferenceSmall,
    /// The mean of the two magnitudes is smaller than the zone: a diamond.
    MeanSmall,
}

/// Concordance of changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Concordance {
    /// Pairs of changes in the same direction, of those outside the zone. No change against a change does not agree.
    pub agreeing: Proportion,
    /// Pairs inside the zone, left out.
    pub excluded: usize,
    /// Half width of the zone.
    pub zone: f64,
    /// Shape of the zone.
    pub exclusion: Exclusion,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Share of pairs of changes whose directions agree, outside a zone of exclusion (four-quadrant analysis).
///
/// The zone is in the unit of the changes; 15 % of cardiac output and at least 92 % of agreement are customary (Critchley, Lee & Ho 2010
/// Anesth Analg 111:1180-92, memory). The intervals treat pairs as independent.
///
/// # Errors
/// [`StatisticsError`] for no pairs, unequal lengths, a value that is not finite, a zone that is negative, or
/// no pair outside the zone.
pub fn concordance(
    changes: &[f64],
    reference_changes: &[f64],
    zone: f64,
    exclusion: Exclusion,
    level: f64,
) -> Result<Concordance> {
    check_values("changes", changes, 1)?;
    check_values("reference changes", reference_changes, 1)?;
    check_pairs(
        "changes",
        changes.len(),
        "reference changes",
        reference_changes.len(),
    )?;
    check_finite("zone", zone)?;
    if zone < 0.0 {
        return Err(StatisticsError::OutOfRange {
            what: "zone",
            value: zone,
            allowed: "zero or more",
        });
    }
    let kept = || {
        let pairs = changes.iter().zip(reference_changes);
        pairs.filter(move |(a, b)| !is_small(a.abs(), b.abs(), zone, exclusion))
    };
    let outside = kept().count();
    if outside == 0 {
        return Err(StatisticsError::TooFew {
            what: "pairs of changes outside the zone of exclusion",
            found: 0,
            needed: 1,
        });
    }
    let same = kept().filter(|(a, b)| (**a > 0.0 && **b > 0.0) || (**a < 0.0 && **b < 0.0));
    let excluded = changes.len() - outside;
    let mut warnings = Vec::new();
    warn_few(
        &mut warnings,
        "pairs of changes outside the zone",
        outside,
        30,
    );
    if excluded > 0 {
        warnings.push(Warning::Excluded {
            excluded,
            of: changes.len(),
        });
    }
    Ok(Concordance {
        agreeing: proportion(same.count(), outside, level)?,
        excluded,
        zone,
        exclusion,
        warnings,
    })
}

fn is_small(a: f64, b: f64, zone: f64, exclusion: Exclusion) -> bool {
    match exclusion {
        Exclusion::BothSmall => a < zone && b < zone,
        Exclusion::ReferenceSmall => b < zone,
        Exclusion::MeanSmall => 0.5 * (a + b) < zone,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHANGES: [f64; 6] = [20.0, 5.0, -18.0, 16.0, 0.0, -12.0];
    const REFERENCE: [f64; 6] = [25.0, -4.0, -20.0, -3.0, 30.0, 17.0];

    fn by(exclusion: Exclusion) -> (usize, usize, usize) {
        let found = concordance(&CHANGES, &REFERENCE, 15.0, exclusion, 0.95).unwrap();
        (found.agreeing.count, found.agreeing.of, found.excluded)
    }

    #[test]
    fn counted_by_hand() {
        // Outside the square: all but the second. Agree: 20/25 and -18/-20; not: 16/-3, 0/30, -12/17.
        assert_eq!(by(Exclusion::BothSmall), (2, 5, 1));
        // Reference at least 15: 25, -20, 30, 17.
        assert_eq!(by(Exclusion::ReferenceSmall), (2, 4, 2));
        // Mean magnitudes 22.5, 4.5, 19, 9.5, 15, 14.5.
        assert_eq!(by(Exclusion::MeanSmall), (2, 3, 3));
    }

    #[test]
    fn a_method_agrees_with_itself() {
        let found = concordance(&CHANGES, &CHANGES, 1.0, Exclusion::BothSmall, 0.95).unwrap();
        assert_eq!((found.agreeing.value, found.excluded), (1.0, 1));
    }

    #[test]
    fn a_zone_that_swallows_all_is_refused() {
        let found = concordance(&CHANGES, &REFERENCE, 100.0, Exclusion::BothSmall, 0.95);
        assert!(matches!(found, Err(StatisticsError::TooFew { .. })));
        assert!(concordance(&CHANGES, &REFERENCE, -1.0, Exclusion::BothSmall, 0.95).is_err());
    }
}

//! The gate through which plain numbers reach a cell, settled once for many rows.

use super::columns::Absent;
use super::sheet::Sheet;
use crate::formula::simd::{Job, widest};
use crate::formula::{CellId, Lanes, PlainBounds, Status};
use crate::quantity::{Scale, Unit};

/// How numbers in one unit become magnitudes of a cell, and which are possible there.
#[derive(Clone, Copy, Debug)]
pub struct Gate {
    into_cell: Scale,
    /// From the cell's unit to the one in which its bounds are stated.
    into_stated: Scale,
    low: f64,
    high: f64,
}

impl Gate {
    /// The magnitude in the cell's unit; `None` for a number that the cell refuses, and
    /// [`Sheet::fits`] says why.
    ///
    /// ```
    /// use semilunar::quantity::Unit;
    /// use semilunar::sheet::Sheet;
    ///
    /// let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    /// let diameter = sheet.cell("lvot_diameter").unwrap();
    /// let gate = sheet.gate(diameter, Unit::parse("mm").unwrap()).unwrap();
    /// assert_eq!(gate.admit(20.5), Some(2.05));
    /// assert_eq!(gate.admit(-1.0), None);
    /// assert_eq!(gate.admit(f64::NAN), None);
    /// ```
    #[inline]
    pub fn admit(&self, number: f64) -> Option<f64> {
        let value = self.into_cell.apply(number);
        let stated = self.into_stated.apply(value);
        (number.is_finite() && value.is_finite() && self.low <= stated && stated <= self.high)
            .then_some(value)
    }

    /// The same gate for numbers from `low` to `high` only, in the unit in which the cell's bounds
    /// are stated.
    #[must_use]
    pub fn within(self, low: f64, high: f64) -> Gate {
        Gate {
            low: self.low.max(low),
            high: self.high.min(high),
            ..self
        }
    }

    /// Bounds within which numbers come through as they are; `None` where they are converted, or
    /// the bounds are.
    pub(crate) fn plain_bounds(&self) -> Option<PlainBounds> {
        let is_same = (self.into_cell, self.into_stated) == (Scale::Same, Scale::Same);
        is_same.then(|| PlainBounds::between(self.low, self.high))
    }

    /// Admits numbers into lanes; bits say which of them are there, or all of them are. What is not
    /// there, or refused, gets a number that does no harm.
    pub(super) fn admit_all<const W: usize>(
        &self,
        numbers: &[f64],
        known: Option<&[u8]>,
        lanes: &mut Lanes<W>,
    ) {
        widest(Admitting {
            gate: *self,
            numbers,
            known,
            lanes,
        });
    }
}

struct Admitting<'a, const W: usize> {
    gate: Gate,
    numbers: &'a [f64],
    known: Option<&'a [u8]>,
    lanes: &'a mut Lanes<W>,
}

impl<const W: usize> Job for Admitting<'_, W> {
    #[inline(always)]
    fn run(self) {
        let Admitting {
            gate,
            numbers,
            known,
            lanes,
        } = self;
        lanes.states = [Status::MEASURED.0; W];
        if let Some(known) = known {
            let states = &mut lanes.states;
            Absent { known, states }.run();
        }
        if let (Some(bounds), Some(whole)) = (gate.plain_bounds(), numbers.as_array())
            && admit_plain(bounds, whole, lanes)
        {
            return;
        }
        match (gate.into_cell, gate.into_stated) {
            (Scale::Same, Scale::Same) => {
                // As `admit` says; scales that do nothing are left out.
                admit_all(numbers, lanes, |number| {
                    let is_within = (gate.low <= number) & (number <= gate.high);
                    (number, number.is_finite() & is_within)
                });
            }
            _ => admit_all(numbers, lanes, |number| match gate.admit(number) {
                Some(value) => (value, true),
                None => (1.0, false),
            }),
        }
    }
}

/// Plain bounds as they are asked for most quickly, by bits where these are in the order of the numbers.
#[derive(Clone, Copy)]
enum Range {
    /// All finite numbers.
    Finite,
    /// Numbers whose bits are at most so far above those of the least, which is not negative. A zero with a sign counts as none.
    Within { least: u64, above: u64 },
    /// All others.
    Between(f64, f64),
}

impl Range {
    fn of(bounds: PlainBounds) -> Range {
        let PlainBounds { low, high } = bounds;
        if low == -f64::MAX && high == f64::MAX {
            return Range::Finite;
        }
        if low >= 0.0 && high >= low {
            let least = low.abs().to_bits();
            let above = high.to_bits() - least;
            return Range::Within { least, above };
        }
        Range::Between(low, high)
    }
}

/// Admits the numbers that are there as they are; whether none of them may have to be refused.
#[inline(always)]
fn admit_plain<const W: usize>(
    bounds: PlainBounds,
    numbers: &[f64; W],
    lanes: &mut Lanes<W>,
) -> bool {
    match Range::of(bounds) {
        Range::Finite => {
            admit_any(numbers, lanes, |number| number.abs().to_bits()) < f64::INFINITY.to_bits()
        }
        Range::Within { least, above } => {
            admit_any(numbers, lanes, |n| n.to_bits().wrapping_sub(least)) <= above
        }
        Range::Between(low, high) => {
            let is_out = |n| u64::from(!((low <= n) & (n <= high)));
            admit_any(numbers, lanes, is_out) == 0
        }
    }
}

/// Admits all numbers that are there, and tells how far the farthest of them is.
#[inline(always)]
fn admit_any<const W: usize>(
    numbers: &[f64; W],
    lanes: &mut Lanes<W>,
    how_far: impl Fn(f64) -> u64,
) -> u64 {
    let mut farthest = 0;
    let Lanes { values, states } = lanes;
    for ((value, state), number) in values.iter_mut().zip(&*states).zip(numbers) {
        // By masks: of choices a compiler makes branches.
        let gone = u64::from(*state != Status::MEASURED.0).wrapping_neg();
        farthest = farthest.max(how_far(*number) & !gone);
        let stands_in = 1.0_f64.to_bits() & gone;
        *value = f64::from_bits((number.to_bits() & !gone) | stands_in);
    }
    farthest
}

#[inline(always)]
fn admit_all<const W: usize>(
    numbers: &[f64],
    lanes: &mut Lanes<W>,
    admit: impl Fn(f64) -> (f64, bool),
) {
    let width = numbers.len().min(W);
    let (values, states) = (&mut lanes.values[..width], &mut lanes.states[..width]);
    let mut refused = 0_u64;
    for i in 0..width {
        let (value, is_admitted) = admit(numbers[i]);
        let is_there = states[i] == Status::MEASURED.0;
        values[i] = if is_there & is_admitted { value } else { 1.0 };
        refused += u64::from(is_there & !is_admitted);
    }
    // Hardly ever.
    if refused > 0 {
        for i in 0..width {
            let (_, is_admitted) = admit(numbers[i]);
            if states[i] == Status::MEASURED.0 && !is_admitted {
                states[i] = Status::FAULTY.0;
            }
        }
    }
}

impl Sheet {
    /// The gate of a cell for numbers in `unit`; `None` where the cell takes words, or the unit
    /// does not measure it.
    pub fn gate(&self, cell: CellId, unit: Unit) -> Option<Gate> {
        let index = self.index_of(cell).ok()?;
        // Zero has every unit: what is refused here is the unit.
        self.fitted_unit(index, 0.0, unit).ok()?;
        let own = self.forms[index].unit;
        let about = self.about[index].as_deref();
        let domain = about.and_then(|about| Some((about.domain?, own.scale_to(about.stated_in)?)));
        let (low, high, into_stated) = match domain {
            Some((domain, scale)) => (domain.low, domain.high, scale),
            None => (f64::NEG_INFINITY, f64::INFINITY, Scale::Same),
        };
        Some(Gate {
            into_cell: unit.scale_to(own)?,
            into_stated,
            low,
            high,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever the bounds, and with anything among the numbers: as one by one.
    #[test]
    fn many_numbers_are_admitted_as_one_is() {
        const W: usize = 64;
        let sheet = Sheet::read("free = 1").unwrap().sheet;
        let free = sheet.cell("free").unwrap();
        let gate = sheet.gate(free, sheet.unit(free).unwrap()).unwrap();
        let odd = [f64::NAN, f64::INFINITY, -f64::INFINITY, 1e300, -1e300, -0.0];
        let known: Vec<u8> = (0..W / 8).map(|byte| !(byte as u8 * 5)).collect();
        for gate in [gate, gate.within(0.0, 60.0), gate.within(-5.0, 60.0)] {
            // One odd number at each of some places, and none.
            for (place, odd) in (0..W).step_by(5).zip(odd.iter().cycle()) {
                for odd in [None, Some(*odd)] {
                    let mut numbers: Vec<f64> = (0..W).map(|i| i as f64).collect();
                    numbers[place] = odd.unwrap_or(numbers[place]);
                    let mut lanes = Lanes::<W>::MISSING;
                    gate.admit_all(&numbers, Some(&known), &mut lanes);
                    for (i, number) in numbers.iter().enumerate() {
                        let is_there = known[i / 8] & (1 << (i % 8)) != 0;
                        let (value, status) = match (is_there, gate.admit(*number)) {
                            (false, _) => (1.0, Status::MISSING),
                            (true, Some(value)) => (value, Status::MEASURED),
                            (true, None) => (1.0, Status::FAULTY),
                        };
                        let lane = lanes.lane(i);
                        assert_eq!(
                            (lane.value.to_bits(), lane.status),
                            (value.to_bits(), status),
                            "{number} at {i}"
                        );
                    }
                }
            }
        }
    }
}

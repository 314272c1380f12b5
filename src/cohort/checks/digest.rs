//! Short digests that texts and times are recognized by.

use std::hash::{BuildHasher, Hash, Hasher};
use std::num::NonZeroU64;

use foldhash::quality::{FixedState, FoldHasher};

use super::moment::Moment;
use crate::cohort::short_text::ShortText;

/// Digests are the same in every run.
const STATES: [FixedState; 2] = [
    FixedState::with_seed(0x243F_6A88_85A3_08D3),
    FixedState::with_seed(0x1319_8A2E_0370_7344),
];

/// A digest of 64 bits, taken of what is added to it. Other texts have another one but for one pair in 10^19; that is no protection
/// from somebody who seeks such pairs, and enough among the rows of one patient.
pub(super) struct Digest(FoldHasher<'static>);

impl Digest {
    #[inline]
    pub(super) fn new() -> Digest {
        Digest::by(&STATES[0])
    }

    #[inline]
    fn by(state: &FixedState) -> Digest {
        Digest(state.build_hasher())
    }

    /// Adds a text.
    #[inline]
    pub(super) fn text(&mut self, text: &str) {
        self.0.write(text.as_bytes());
        self.0.write_usize(text.len());
    }

    /// Adds what a field is known by.
    #[inline]
    pub(super) fn field(&mut self, known_by: NonZeroU64) {
        self.0.write_u64(known_by.get());
    }

    /// Adds a time: the same for the same time, however it was written.
    #[inline]
    pub(super) fn moment(&mut self, moment: Option<Moment>) {
        let parts = moment.map_or([0; 2], Moment::parts);
        parts.iter().for_each(|part| self.0.write_u64(*part));
    }

    #[inline]
    pub(super) fn finish(&self) -> u64 {
        self.0.finish()
    }

    /// The digest of something, where nothing is kept as 0.
    #[inline]
    pub(super) fn finish_not_none(&self) -> NonZeroU64 {
        NonZeroU64::new(self.finish()).unwrap_or(NonZeroU64::MIN)
    }
}

/// What a field is known by among those of its column: a short one by itself, as numbers are written; a longer one by its digest.
#[inline]
pub(super) fn of_field(text: &str) -> NonZeroU64 {
    /// Set in digests, and in no short text.
    const IS_LONG: u64 = 1 << 63;
    if let Some(short) = ShortText::of(text) {
        return short.bits();
    }
    let mut digest = Digest::new();
    digest.text(text);
    digest.finish_not_none() | IS_LONG
}

/// A digest of one text in 128 bits: enough among all patients of all tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TextDigest([u64; 2]);

impl TextDigest {
    #[inline]
    pub(super) fn of(text: &str) -> TextDigest {
        TextDigest(STATES.map(|state| {
            let mut digest = Digest::by(&state);
            digest.text(text);
            digest.finish()
        }))
    }
}

impl Hash for TextDigest {
    /// Half of it is spread enough to find the whole by.
    fn hash<H: Hasher>(&self, state: &mut H) {
        state.write_u64(self.0[0]);
    }
}

#[cfg(test)]
mod tests {
    use super::super::moment::Calendar;
    use super::*;

    fn of(texts: &[&str]) -> u64 {
        let mut digest = Digest::new();
        texts.iter().for_each(|text| digest.text(text));
        digest.finish()
    }

    #[test]
    fn texts_are_told_apart_and_their_neighbors_too() {
        assert_eq!(of(&["7", "2.05"]), of(&["7", "2.05"]));
        for other in [
            of(&["72", ".05"]),
            of(&["7", "2.05", ""]),
            of(&["", "7", "2.05"]),
            of(&["2.05", "7"]),
            of(&["72.05"]),
            of(&[]),
        ] {
            assert_ne!(of(&["7", "2.05"]), other);
        }
        let TextDigest([a, b]) = TextDigest::of("7");
        assert_ne!(a, b);
    }

    #[test]
    fn fields_are_known_by_all_that_they_say() {
        let mut fields = vec![
            "", "0", "00", "0000000", "00000000", "\0", "\0\0", "é", "2.05", "2.050", "12345678",
            "12345679",
        ];
        let mut known: Vec<NonZeroU64> = fields.drain(..).map(of_field).collect();
        let count = known.len();
        known.sort_unstable();
        known.dedup();
        assert_eq!(known.len(), count);
        assert_eq!(of_field("2.05"), of_field("2.05"));
    }

    #[test]
    fn a_million_neighboring_numbers_have_a_million_digests() {
        let mut digests: Vec<u64> = (0..1_000_000).map(|n| of(&[&n.to_string()])).collect();
        digests.sort_unstable();
        digests.dedup();
        // By the birthday bound two of 10^6 digests of 64 bits are the same once in 37 million such lists.
        assert_eq!(digests.len(), 1_000_000);
    }

    #[test]
    fn times_are_recognized_however_they_are_written() {
        let of = |text: &str| {
            let mut digest = Digest::new();
            digest.moment(Calendar::default().moment(text));
            digest.finish()
        };
        assert_eq!(of("2031-05-17 07:30"), of("2031-05-17T07:30:00.000"));
        assert_eq!(
            of("1985-04-12T23:20:50.52Z"),
            of("1985-04-13T00:20:50.52+01:00")
        );
        let mut digests = [
            "2031-05-17 07:30",
            "2031-05-17T07:30:00Z",
            "2031-05-17",
            "2031-05-17 00:00",
            "7",
            "7.5",
            "no time",
        ]
        .map(of);
        digests.sort_unstable();
        assert!(digests.windows(2).all(|pair| pair[0] != pair[1]));
    }
}

//! Identifiers leave as keyed pseudonyms.
//!
//! A pseudonym is the start of HMAC-SHA256 (RFC 2104, FIPS 180-4) of the identifier under a key
//! that the user keeps: the same person keeps one pseudonym over files, and who lacks the key
//! cannot try names. There is no default key.

use std::path::Path;

use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

use super::error::CohortError;
use super::whole::file_error;

/// Fewest bytes of a key.
pub const SHORTEST_KEY: usize = 16;

/// Bytes of the digest that a pseudonym shows: two among 10⁹ identifiers agree by chance once in
/// about 10²⁰.
const SHOWN: usize = 16;

/// The secret that makes pseudonyms. It is never printed.
#[derive(Clone, PartialEq, Eq)]
pub struct Key(Vec<u8>);

impl std::fmt::Debug for Key {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Key(..)")
    }
}

impl Key {
    /// Reads a key from a file; a line's end after it is no part of it.
    ///
    /// # Errors
    /// A file that cannot be read, or a key shorter than [`SHORTEST_KEY`] bytes.
    pub fn read(path: &Path) -> Result<Key, CohortError> {
        let mut bytes = std::fs::read(path).map_err(|e| file_error(path, e))?;
        while matches!(bytes.last(), Some(b'\n' | b'\r')) {
            bytes.pop();
        }
        if bytes.len() < SHORTEST_KEY {
            return Err(CohortError::ShortKey {
                path: path.to_owned(),
                bytes: bytes.len(),
            });
        }
        Ok(Key(bytes))
    }

    /// A key for tests, of any length.
    #[cfg(test)]
    pub(super) fn from_bytes(bytes: &[u8]) -> Key {
        Key(bytes.to_vec())
    }

    /// By how many days the dates of a patient are shifted: from 1 to `within` days forward or
    /// back.
    pub(super) fn days(&self, whose: &str, within: u32) -> i64 {
        // Another message than a pseudonym's: one does not tell the other.
        let message = format!("days of {}", whose.trim());
        let digest = digest(&self.0, message.as_bytes());
        let mut drawn = [0; 8];
        drawn.copy_from_slice(&digest[..8]);
        // 2^64 is so much more than the days that none is favored by more than 1 in 10^15.
        let drawn = u64::from_be_bytes(drawn);
        let days = (drawn >> 1) % u64::from(within.max(1)) + 1;
        let days = i64::try_from(days).unwrap_or(1);
        if drawn & 1 == 0 { days } else { -days }
    }

    /// The pseudonym of an identifier, 32 hexadecimal digits; a blank stays blank. Blanks around
    /// an identifier are no part of it.
    pub fn pseudonym(&self, identifier: &str) -> String {
        let identifier = identifier.trim();
        if identifier.is_empty() {
            return String::new();
        }
        digest(&self.0, identifier.as_bytes())[..SHOWN]
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect()
    }
}

fn digest(key: &[u8], message: &[u8]) -> [u8; 32] {
    let mut mac =
        Hmac::<Sha256>::new_from_slice(key).expect("HMAC takes a key of any length (RFC 2104)");
    mac.update(message);
    mac.finalize().into_bytes().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4231, test case 2 (from memory).
    #[test]
    fn the_digest_is_hmac_sha256() {
        let digest = digest(b"Jefe", b"what do ya want for nothing?");
        let hex: String = digest.iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(
            hex,
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
        );
    }

    #[test]
    fn a_key_is_needed_and_is_not_shown() {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), "short\n").unwrap();
        assert!(matches!(
            Key::read(file.path()),
            Err(CohortError::ShortKey { bytes: 5, .. })
        ));
        std::fs::write(file.path(), "0123456789abcdef\r\n").unwrap();
        let key = Key::read(file.path()).unwrap();
        assert_eq!(format!("{key:?}"), "Key(..)");
        assert_eq!(key.pseudonym(" P0001 "), key.pseudonym("P0001"));
        assert_ne!(key.pseudonym("P0001"), key.pseudonym("P0002"));
        assert_eq!(key.pseudonym(" "), "");
    }
}

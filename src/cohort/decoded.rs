//! Text of other encodings as UTF-8, piece by piece.

use std::io::{Error, ErrorKind, Read};

use encoding_rs::{CoderResult, Decoder, Encoding};

/// Bytes read at once.
const CHUNK: usize = 1 << 16;

/// A source that gives UTF-8, whatever the encoding of what it reads.
pub(super) struct Decoded<R> {
    source: R,
    decoder: Decoder,
    encoding: &'static Encoding,
    /// Read, and not decoded yet.
    raw: Vec<u8>,
    taken: usize,
    /// Decoded, and not handed out yet.
    text: Vec<u8>,
    given: usize,
    is_at_end: bool,
    is_done: bool,
}

impl<R: Read> Decoded<R> {
    pub(super) fn new(source: R, encoding: &'static Encoding) -> Decoded<R> {
        Decoded {
            source,
            decoder: encoding.new_decoder(),
            encoding,
            raw: Vec::new(),
            taken: 0,
            text: Vec::new(),
            given: 0,
            is_at_end: false,
            is_done: false,
        }
    }

    /// Decodes on until there is some text, or no more.
    ///
    /// # Errors
    /// What the system says, and bytes that the encoding does not have.
    fn decode(&mut self) -> std::io::Result<()> {
        self.text.clear();
        self.given = 0;
        while self.text.is_empty() && !self.is_done {
            if self.taken == self.raw.len() && !self.is_at_end {
                self.raw.resize(CHUNK, 0);
                let read = self.source.read(&mut self.raw)?;
                self.raw.truncate(read);
                self.taken = 0;
                self.is_at_end = read == 0;
            }
            let mut into = vec![0; 2 * CHUNK];
            let rest = &self.raw[self.taken..];
            let (result, read, wrote, is_damaged) =
                self.decoder.decode_to_utf8(rest, &mut into, self.is_at_end);
            if is_damaged {
                let words = format!(
                    "the file holds bytes that are no text in {}: state another encoding in the binding, as `[file] encoding`",
                    self.encoding.name()
                );
                return Err(Error::new(ErrorKind::InvalidData, words));
            }
            self.taken += read;
            into.truncate(wrote);
            self.text = into;
            self.is_done = self.is_at_end && result == CoderResult::InputEmpty;
        }
        Ok(())
    }
}

impl<R: Read> Read for Decoded<R> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        if self.given == self.text.len() {
            self.decode()?;
        }
        let rest = &self.text[self.given..];
        let count = rest.len().min(into.len());
        into[..count].copy_from_slice(&rest[..count]);
        self.given += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decoded(bytes: &[u8], encoding: &'static Encoding) -> std::io::Result<String> {
        let mut text = String::new();
        Decoded::new(bytes, encoding).read_to_string(&mut text)?;
        Ok(text)
    }

    /// Windows-1252 by the mapping of the Unicode Consortium
    /// (MAPPINGS/VENDORS/MICSFT/WINDOWS/CP1252.TXT, from memory): 80 is the euro sign, B5 the micro
    /// sign, E4 a with diaeresis.
    #[test]
    fn other_encodings_come_as_utf_8() {
        let text = decoded(b"\x80 \xb5 M\xe4rz", encoding_rs::WINDOWS_1252).unwrap();
        assert_eq!(text, "\u{20ac} \u{b5} M\u{e4}rz");
        let words = "a;\u{e4}\n".repeat(50_000);
        let (bytes, _, _) = encoding_rs::WINDOWS_1252.encode(&words);
        assert_eq!(decoded(&bytes, encoding_rs::WINDOWS_1252).unwrap(), words);
        let wide: Vec<u8> = "\u{feff}a;\u{e4}"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        assert_eq!(decoded(&wide, encoding_rs::UTF_16LE).unwrap(), "a;\u{e4}");
    }

    #[test]
    fn what_is_no_text_is_an_error() {
        let refused = decoded(b"a\xff", encoding_rs::UTF_8).unwrap_err();
        assert!(refused.to_string().contains("UTF-8"), "{refused}");
        assert!(decoded(b"\xff\xfea", encoding_rs::UTF_16LE).is_err());
    }
}

//! Messages of the Jupyter protocol: signed, with header, parent, metadata and content.
//!
//! "Messaging in Jupyter", version 5.5 (jupyter-client.readthedocs.io/en/stable/messaging.html).
//! The content is read as plain JSON: a field of another type than the protocol says is as good as
//! absent, so that one odd field costs no answer.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::SystemTime;

use hmac::{Hmac, KeyInit, Mac};
use serde_json::{Value, json};
use sha2::Sha256;

use super::clock;
use super::zmtp;

/// The version of the protocol that is spoken.
pub(super) const PROTOCOL: &str = "5.5";

/// What stands between the identities of a message and its signature.
const DELIMITER: &[u8] = b"<IDS|MSG>";

/// A message from a front end.
pub(super) struct Request {
    /// Identities to send back with a reply.
    pub(super) identities: Vec<Vec<u8>>,
    /// Type of the message, such as `execute_request`.
    pub(super) kind: String,
    /// The header as it came, which replies carry as their parent's.
    pub(super) parent: Parent,
    /// Metadata of the message.
    pub(super) metadata: Value,
    /// What it says.
    pub(super) content: Value,
}

/// The header of the message that another one answers, as it came.
#[derive(Clone, Default)]
pub(super) struct Parent(Vec<u8>);

/// Why a message is dropped.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
pub(super) enum BadMessage {
    #[error("it has no delimiter")]
    NoDelimiter,
    #[error("it has {0} parts after the delimiter and not 5 or more")]
    TooFewParts(usize),
    #[error("its signature is wrong")]
    Signature,
    #[error("its {0} is no JSON object")]
    NoObject(&'static str),
    #[error("its header names no message type")]
    NoType,
}

/// Signs messages with the key of the session, and checks those that come.
pub(super) struct Signer {
    /// None where the front end asks for no signatures, by an empty key.
    mac: Option<Hmac<Sha256>>,
}

impl Signer {
    pub(super) fn new(key: &str) -> Signer {
        let mac = match key.is_empty() {
            true => None,
            false => Hmac::<Sha256>::new_from_slice(key.as_bytes()).ok(),
        };
        Signer { mac }
    }

    fn sign(&self, parts: &[&[u8]]) -> Vec<u8> {
        let Some(mac) = &self.mac else {
            return Vec::new();
        };
        let mut mac = mac.clone();
        for part in parts {
            mac.update(part);
        }
        hex(&mac.finalize().into_bytes())
    }

    /// Compares without telling by its duration where signatures part.
    fn is_right(&self, signature: &[u8], parts: &[Vec<u8>]) -> bool {
        let Some(mac) = &self.mac else {
            return true;
        };
        let mut mac = mac.clone();
        for part in parts {
            mac.update(part);
        }
        unhex(signature).is_some_and(|bytes| mac.verify_slice(&bytes).is_ok())
    }
}

fn hex(bytes: &[u8]) -> Vec<u8> {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digits = |b: &u8| [b >> 4, b & 15].map(|d| DIGITS[usize::from(d)]);
    bytes.iter().flat_map(digits).collect()
}

fn unhex(text: &[u8]) -> Option<Vec<u8>> {
    let digit = |c: u8| (c as char).to_digit(16).map(|d| d as u8);
    let (pairs, rest) = text.as_chunks::<2>();
    let bytes = pairs
        .iter()
        .map(|[a, b]| Some(digit(*a)? << 4 | digit(*b)?));
    rest.is_empty().then(|| bytes.collect()).flatten()
}

impl Request {
    /// Reads a message from its frames.
    pub(super) fn read(signer: &Signer, mut frames: Vec<Vec<u8>>) -> Result<Request, BadMessage> {
        let at = frames.iter().position(|frame| frame == DELIMITER);
        let at = at.ok_or(BadMessage::NoDelimiter)?;
        let parts = frames.split_off(at + 1);
        frames.truncate(at);
        let [signature, signed @ ..] = parts.as_slice() else {
            return Err(BadMessage::TooFewParts(0));
        };
        // Buffers may follow the four; no message that is understood here has any.
        let Some(signed) = signed.get(..4) else {
            return Err(BadMessage::TooFewParts(parts.len()));
        };
        if !signer.is_right(signature, signed) {
            return Err(BadMessage::Signature);
        }
        let [header, _parent, metadata, content] = signed else {
            return Err(BadMessage::TooFewParts(parts.len()));
        };
        let fields = object(header, "header")?;
        let kind = fields["msg_type"].as_str().ok_or(BadMessage::NoType)?;
        Ok(Request {
            kind: kind.to_owned(),
            metadata: object(metadata, "metadata")?,
            content: object(content, "content")?,
            parent: Parent(header.clone()),
            identities: frames,
        })
    }

    /// A text of the content; empty if there is none.
    pub(super) fn text(&self, field: &str) -> &str {
        self.content[field].as_str().unwrap_or("")
    }

    /// A flag of the content.
    pub(super) fn flag(&self, field: &str, otherwise: bool) -> bool {
        self.content[field].as_bool().unwrap_or(otherwise)
    }
}

fn object(bytes: &[u8], what: &'static str) -> Result<Value, BadMessage> {
    match serde_json::from_slice::<Value>(bytes) {
        Ok(value) if value.is_object() => Ok(value),
        _ => Err(BadMessage::NoObject(what)),
    }
}

/// Writes messages: the name of this session, and the count that makes identifiers unique.
pub(super) struct Writer {
    pub(super) signer: Signer,
    session: String,
    count: AtomicU64,
}

impl Writer {
    pub(super) fn new(signer: Signer) -> Writer {
        Writer {
            signer,
            session: unique(),
            count: AtomicU64::new(0),
        }
    }

    /// An identifier that no other call gives, here or in another session.
    pub(super) fn identifier(&self) -> String {
        let count = self.count.fetch_add(1, Ordering::Relaxed);
        format!("{}-{count}", self.session)
    }

    /// The bytes of a message on the wire. `routing` stands before the delimiter: the identities of
    /// a reply, the topic of a broadcast.
    pub(super) fn write(
        &self,
        routing: &[&[u8]],
        kind: &str,
        parent: &Parent,
        metadata: &Value,
        content: &Value,
    ) -> Vec<u8> {
        let header = json!({
            "msg_id": self.identifier(),
            "session": self.session,
            "username": "semilunar",
            "date": clock::utc(SystemTime::now()),
            "msg_type": kind,
            "version": PROTOCOL,
        })
        .to_string();
        let parent: &[u8] = match parent.0.is_empty() {
            true => b"{}",
            false => &parent.0,
        };
        let (metadata, content) = (metadata.to_string(), content.to_string());
        let parts = [
            header.as_bytes(),
            parent,
            metadata.as_bytes(),
            content.as_bytes(),
        ];
        let signature = self.signer.sign(&parts);
        let frames = routing
            .iter()
            .copied()
            .chain([DELIMITER, &signature])
            .chain(parts);
        zmtp::message(frames)
    }
}

/// 128 bits that differ from session to session. They name the session and guard nothing; the
/// standard library's keys for hashing are drawn by the system.
fn unique() -> String {
    use std::hash::{BuildHasher, RandomState};
    let draw = || RandomState::new().hash_one((std::process::id(), SystemTime::now()));
    format!("{:016x}{:016x}", draw(), draw())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frames(bytes: Vec<u8>) -> Vec<Vec<u8>> {
        match zmtp::receive(&mut &bytes[..]) {
            Ok(zmtp::Received::Message(frames)) => frames,
            _ => panic!("a message"),
        }
    }

    fn sample(writer: &Writer) -> Vec<Vec<u8>> {
        let content = json!({"code": "show x"});
        frames(writer.write(
            &[b"id"],
            "execute_request",
            &Parent::default(),
            &json!({}),
            &content,
        ))
    }

    /// RFC 4231, test case 2: the key "Jefe".
    #[test]
    fn signatures_are_those_of_the_rfc() {
        let signature = Signer::new("Jefe").sign(&[b"what do ya want ", b"for nothing?"]);
        let expected = b"5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843";
        assert_eq!(signature, expected);
        assert_eq!(hex(&unhex(expected).unwrap()), expected);
        assert_eq!(unhex(b"0g"), None);
        assert_eq!(unhex(b"0"), None);
    }

    #[test]
    fn what_is_written_reads_back() {
        let writer = Writer::new(Signer::new("key"));
        let request = Request::read(&writer.signer, sample(&writer)).unwrap();
        assert_eq!(request.kind, "execute_request");
        assert_eq!(request.text("code"), "show x");
        assert_eq!(request.identities, [b"id".to_vec()]);
        assert!(request.flag("store_history", true));
    }

    #[test]
    fn a_part_that_was_changed_or_cut_is_noticed() {
        let writer = Writer::new(Signer::new("key"));
        let refused = |frames| Request::read(&writer.signer, frames).err().unwrap();
        let whole = sample(&writer);
        for part in 3..whole.len() {
            let mut changed = whole.clone();
            changed[part].push(b' ');
            assert_eq!(refused(changed), BadMessage::Signature);
        }
        let mut unsigned = whole.clone();
        unsigned[2].clear();
        assert_eq!(refused(unsigned), BadMessage::Signature);
        for length in 2..whole.len() {
            let cut = refused(whole[..length].to_vec());
            assert!(matches!(cut, BadMessage::TooFewParts(_)), "{cut}");
        }
        assert_eq!(refused(vec![]), BadMessage::NoDelimiter);
    }

    #[test]
    fn without_a_key_nothing_is_signed_and_json_is_still_asked_for() {
        let writer = Writer::new(Signer::new(""));
        let mut message = sample(&writer);
        assert!(message[2].is_empty());
        message[6] = b"[1".to_vec();
        let refused = Request::read(&writer.signer, message).err().unwrap();
        assert_eq!(refused, BadMessage::NoObject("content"));
    }
}

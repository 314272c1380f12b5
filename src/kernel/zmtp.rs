//! ZMTP, the ZeroMQ Message Transport Protocol, as a listening peer speaks it.
//!
//! ZeroMQ RFC 37 (ZMTP 3.1) with the mechanism NULL; peers that announce 3.0 (RFC 23) are met too.
//! Nothing here trusts a peer: lengths are not believed before the bytes have come.

use std::io::{self, Read};

/// Longest message that is taken, all its frames together, in bytes.
const LONGEST: u64 = 256 << 20;

/// Most frames of one message.
const MOST_FRAMES: usize = 4096;

/// Longest command that is taken, in bytes.
const LONGEST_COMMAND: u64 = 1 << 16;

const MORE: u8 = 1;
const LONG: u8 = 2;
const COMMAND: u8 = 4;

/// Why a connection is closed.
#[derive(Debug, thiserror::Error)]
pub(super) enum WireError {
    /// The connection ended or failed.
    #[error("the connection ended: {0}")]
    Ended(#[from] io::Error),
    /// The first bytes are not those of the protocol.
    #[error("the peer does not speak ZMTP 3")]
    NotZmtp,
    /// Another security mechanism than NULL.
    #[error("the peer asks for the mechanism {0:?}, and only NULL is spoken here")]
    Mechanism(String),
    /// The peer's socket type does not go with ours.
    #[error("the peer's socket type {0:?} does not go with this socket")]
    SocketType(String),
    /// Bytes that no frame starts with, or a command without a name.
    #[error("the peer sent bytes that are no frame")]
    NoFrame,
    /// A message beyond the limits.
    #[error("the peer sent a message of more than {LONGEST} bytes or {MOST_FRAMES} frames")]
    TooLong,
}

/// What a peer sends after the handshake.
pub(super) enum Received {
    /// A message of one or more frames.
    Message(Vec<Vec<u8>>),
    /// A subscription to topics that start so.
    Subscribe(Vec<u8>),
    /// The end of one.
    Cancel(Vec<u8>),
    /// A ping, with the context to send back.
    Ping(Vec<u8>),
    /// A command that needs no answer.
    Nothing,
}

/// The greeting: signature, version 3.1, mechanism NULL, not a server of security.
pub(super) fn greeting() -> [u8; 64] {
    let mut bytes = [0; 64];
    bytes[0] = 0xff;
    bytes[8] = 1;
    bytes[9] = 0x7f;
    bytes[10] = 3;
    bytes[11] = 1;
    bytes[12..16].copy_from_slice(b"NULL");
    bytes
}

/// Reads the peer's greeting.
pub(super) fn read_greeting(input: &mut impl Read) -> Result<(), WireError> {
    let mut signature = [0; 10];
    input.read_exact(&mut signature)?;
    if signature[0] != 0xff || signature[9] != 0x7f {
        return Err(WireError::NotZmtp);
    }
    let mut rest = [0; 54];
    input.read_exact(&mut rest)?;
    if rest[0] < 3 {
        return Err(WireError::NotZmtp);
    }
    let mechanism = &rest[2..22];
    let end = mechanism.iter().position(|b| *b == 0).unwrap_or(20);
    match &mechanism[..end] {
        b"NULL" => Ok(()),
        other => Err(WireError::Mechanism(
            String::from_utf8_lossy(other).into_owned(),
        )),
    }
}

/// The command READY of a socket of this type.
pub(super) fn ready(socket_type: &str) -> Vec<u8> {
    let mut body = b"\x05READY\x0bSocket-Type".to_vec();
    body.extend((socket_type.len() as u32).to_be_bytes());
    body.extend(socket_type.as_bytes());
    let mut out = Vec::new();
    push_frame(&mut out, COMMAND, &body);
    out
}

/// Reads the peer's READY and gives its socket type.
pub(super) fn read_ready(input: &mut impl Read) -> Result<String, WireError> {
    let frame = read_frame(input, LONGEST_COMMAND)?;
    let properties = match frame.body.strip_prefix(b"\x05READY") {
        Some(properties) if frame.flags & COMMAND != 0 => properties,
        _ => return Err(WireError::NoFrame),
    };
    let mut rest = properties;
    while let Some((name, value, after)) = property(rest) {
        if name.eq_ignore_ascii_case(b"Socket-Type") {
            return Ok(String::from_utf8_lossy(value).into_owned());
        }
        rest = after;
    }
    Err(WireError::NoFrame)
}

/// A property of a command: name, value, and what follows.
fn property(bytes: &[u8]) -> Option<(&[u8], &[u8], &[u8])> {
    let (length, rest) = bytes.split_first()?;
    let (name, rest) = rest.split_at_checked(usize::from(*length))?;
    let (length, rest) = rest.split_first_chunk::<4>()?;
    let (value, rest) = rest.split_at_checked(u32::from_be_bytes(*length) as usize)?;
    Some((name, value, rest))
}

/// Reads the next message or command.
pub(super) fn receive(input: &mut impl Read) -> Result<Received, WireError> {
    let mut frames = Vec::new();
    let mut left = LONGEST;
    loop {
        let frame = read_frame(input, left)?;
        if frame.flags & COMMAND != 0 {
            return match frames.is_empty() {
                true => command(&frame.body),
                false => Err(WireError::NoFrame),
            };
        }
        left -= frame.body.len() as u64;
        frames.push(frame.body);
        if frame.flags & MORE == 0 {
            return Ok(Received::Message(frames));
        }
        if frames.len() == MOST_FRAMES {
            return Err(WireError::TooLong);
        }
    }
}

fn command(body: &[u8]) -> Result<Received, WireError> {
    let named = |name: &[u8]| {
        let rest = body.strip_prefix(&[name.len() as u8])?;
        rest.strip_prefix(name).map(<[u8]>::to_vec)
    };
    if let Some(topic) = named(b"SUBSCRIBE") {
        return Ok(Received::Subscribe(topic));
    }
    if let Some(topic) = named(b"CANCEL") {
        return Ok(Received::Cancel(topic));
    }
    match named(b"PING") {
        // Two bytes say how long the peer will wait; the rest comes back to it.
        Some(ping) if ping.len() >= 2 => Ok(Received::Ping(ping[2..].to_vec())),
        Some(_) => Err(WireError::NoFrame),
        None => Ok(Received::Nothing),
    }
}

/// The answer to a ping.
pub(super) fn pong(context: &[u8]) -> Vec<u8> {
    let mut body = b"\x04PONG".to_vec();
    body.extend(context);
    let mut out = Vec::new();
    push_frame(&mut out, COMMAND, &body);
    out
}

struct Frame {
    flags: u8,
    body: Vec<u8>,
}

fn read_frame(input: &mut impl Read, longest: u64) -> Result<Frame, WireError> {
    let mut flags = [0];
    input.read_exact(&mut flags)?;
    let flags = flags[0];
    if flags & !(MORE | LONG | COMMAND) != 0 || flags & (MORE | COMMAND) == MORE | COMMAND {
        return Err(WireError::NoFrame);
    }
    let length = if flags & LONG != 0 {
        let mut length = [0; 8];
        input.read_exact(&mut length)?;
        u64::from_be_bytes(length)
    } else {
        let mut length = [0];
        input.read_exact(&mut length)?;
        u64::from(length[0])
    };
    let is_command = flags & COMMAND != 0;
    if length > longest || is_command && length > LONGEST_COMMAND {
        return Err(WireError::TooLong);
    }
    // Grows with the bytes that come, whatever the length says.
    let mut body = Vec::with_capacity(length.min(1 << 16) as usize);
    input.by_ref().take(length).read_to_end(&mut body)?;
    if body.len() as u64 != length {
        return Err(io::Error::from(io::ErrorKind::UnexpectedEof).into());
    }
    Ok(Frame { flags, body })
}

fn push_frame(out: &mut Vec<u8>, flags: u8, body: &[u8]) {
    match u8::try_from(body.len()) {
        Ok(length) => out.extend([flags, length]),
        Err(_) => {
            out.push(flags | LONG);
            out.extend((body.len() as u64).to_be_bytes());
        }
    }
    out.extend(body);
}

/// The bytes of a message.
pub(super) fn message<'f>(frames: impl IntoIterator<Item = &'f [u8]>) -> Vec<u8> {
    let mut out = Vec::new();
    let mut frames = frames.into_iter().peekable();
    while let Some(frame) = frames.next() {
        let flags = if frames.peek().is_some() { MORE } else { 0 };
        push_frame(&mut out, flags, frame);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example greeting of RFC 37, "Version negotiation": signature, then 3, 1, NULL.
    #[test]
    fn our_greeting_reads_and_has_the_form_of_the_rfc() {
        let bytes = greeting();
        assert_eq!((bytes[0], bytes[9]), (0xff, 0x7f));
        assert_eq!(&bytes[10..17], b"\x03\x01NULL\0");
        assert!(read_greeting(&mut &bytes[..]).is_ok());
        assert_eq!(read_ready(&mut &ready("ROUTER")[..]).unwrap(), "ROUTER");
    }

    #[test]
    fn a_message_comes_back_with_short_and_long_frames() {
        let long = vec![7; 70_000];
        let bytes = message([&b"a"[..], b"", &long]);
        let Received::Message(frames) = receive(&mut &bytes[..]).unwrap() else {
            panic!("a message");
        };
        assert_eq!(frames, [b"a".to_vec(), Vec::new(), long]);
    }

    #[test]
    fn subscriptions_and_pings_are_commands() {
        let command = |body: &[u8]| {
            let mut out = Vec::new();
            push_frame(&mut out, COMMAND, body);
            receive(&mut &out[..])
        };
        let subscribe = command(b"\x09SUBSCRIBEkernel");
        assert!(matches!(subscribe, Ok(Received::Subscribe(topic)) if topic == b"kernel"));
        let cancel = command(b"\x06CANCEL");
        assert!(matches!(cancel, Ok(Received::Cancel(topic)) if topic.is_empty()));
        let ping = command(b"\x04PING\x00\x0aabc");
        assert!(matches!(ping, Ok(Received::Ping(context)) if context == b"abc"));
        assert!(command(b"\x04PING\x00").is_err());
        assert!(matches!(command(b"\x07unknown"), Ok(Received::Nothing)));
    }

    #[test]
    fn lengths_are_not_believed() {
        let mut bytes = vec![LONG];
        bytes.extend(u64::MAX.to_be_bytes());
        assert!(matches!(receive(&mut &bytes[..]), Err(WireError::TooLong)));
        let mut bytes = vec![LONG];
        bytes.extend((200u64 << 20).to_be_bytes());
        bytes.extend([0; 100]);
        assert!(matches!(receive(&mut &bytes[..]), Err(WireError::Ended(_))));
        let endless = [MORE, 0].repeat(MOST_FRAMES + 1);
        assert!(matches!(
            receive(&mut &endless[..]),
            Err(WireError::TooLong)
        ));
    }

    #[test]
    fn garbage_is_told_from_greetings_and_frames() {
        let web = b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n".repeat(4);
        assert!(matches!(
            read_greeting(&mut &web[..]),
            Err(WireError::NotZmtp)
        ));
        let mut curve = greeting();
        curve[12..17].copy_from_slice(b"CURVE");
        assert!(matches!(
            read_greeting(&mut &curve[..]),
            Err(WireError::Mechanism(name)) if name == "CURVE"
        ));
        assert!(matches!(
            receive(&mut &[0xf8, 1, 0][..]),
            Err(WireError::NoFrame)
        ));
        assert!(matches!(
            read_ready(&mut &message([&b"READY"[..]])[..]),
            Err(WireError::NoFrame)
        ));
    }
}

//! Listening sockets: connections, their threads, and what the peers send.
//!
//! Each connection has a thread that reads and one that writes, so that no peer waits for another.
//! A peer that breaks the protocol loses its connection and nothing else.

use std::io::{BufReader, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::log;
use super::outbox::{Bytes, Outbox, Put};
use super::zmtp::{self, Received, WireError};

/// How long a peer may take to introduce itself.
const INTRODUCTION: Duration = Duration::from_secs(10);

/// Most connections at a time of one socket.
const MOST_CONNECTIONS: usize = 256;

/// What a socket is for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Requests and replies.
    Router,
    /// Broadcasts to subscribers.
    Publisher,
}

impl Kind {
    fn socket_type(self) -> &'static str {
        match self {
            Kind::Router => "ROUTER",
            Kind::Publisher => "XPUB",
        }
    }

    /// Peers that the sockets' RFC (ZeroMQ RFC 28) lets connect to each.
    fn goes_with(self, peer: &str) -> bool {
        match self {
            Kind::Router => ["DEALER", "REQ", "ROUTER"].contains(&peer),
            Kind::Publisher => ["SUB", "XSUB"].contains(&peer),
        }
    }
}

/// One peer of a socket.
pub(super) struct Peer {
    outbox: Outbox,
    topics: Mutex<Vec<Vec<u8>>>,
}

impl Peer {
    /// Sends a message; never waits.
    pub(super) fn send(&self, message: Bytes) {
        if self.outbox.put(message) == Put::MissedFirst {
            log("a peer does not read: it misses messages until it does");
        }
    }

    fn wants(&self, topic: &[u8]) -> bool {
        lock(&self.topics).iter().any(|t| topic.starts_with(t))
    }
}

/// What happens on a socket.
pub(super) enum Event {
    /// A message came.
    Message(Vec<Vec<u8>>),
    /// A peer asked for topics that start so.
    Subscribed(Vec<u8>),
}

/// A listening socket with its peers.
pub(super) struct Socket {
    peers: Mutex<Vec<Arc<Peer>>>,
}

impl Socket {
    /// Listens, and calls `met` for whatever happens, on the peer's own thread.
    ///
    /// # Errors
    /// What the system says.
    pub(super) fn listen(
        address: SocketAddr,
        kind: Kind,
        met: impl Fn(&Arc<Peer>, Event) + Send + Sync + 'static,
    ) -> std::io::Result<Arc<Socket>> {
        let listener = TcpListener::bind(address)?;
        let socket = Arc::new(Socket {
            peers: Mutex::new(Vec::new()),
        });
        let accepting = Accepting {
            socket: Arc::clone(&socket),
            kind,
            met: Arc::new(met),
            open: Arc::new(AtomicUsize::new(0)),
        };
        thread::Builder::new().spawn(move || accepting.run(&listener))?;
        Ok(socket)
    }

    /// Sends a message to every peer that subscribed to its topic.
    pub(super) fn publish(&self, topic: &[u8], message: Vec<u8>) {
        let message: Bytes = message.into();
        for peer in lock(&self.peers).iter() {
            if peer.wants(topic) {
                peer.send(Arc::clone(&message));
            }
        }
    }

    /// Waits until what was sent has left, at most so long.
    pub(super) fn drain(&self, until: Instant) {
        let peers: Vec<Arc<Peer>> = lock(&self.peers).clone();
        for peer in peers {
            peer.outbox.drain(until);
        }
    }
}

type Met = dyn Fn(&Arc<Peer>, Event) + Send + Sync;

struct Accepting {
    socket: Arc<Socket>,
    kind: Kind,
    met: Arc<Met>,
    open: Arc<AtomicUsize>,
}

impl Accepting {
    fn run(&self, listener: &TcpListener) {
        loop {
            match listener.accept() {
                Ok((stream, _)) => self.take(stream),
                Err(error) => {
                    log(&format!("a connection could not be taken: {error}"));
                    thread::sleep(Duration::from_millis(50));
                }
            }
        }
    }

    fn take(&self, stream: TcpStream) {
        if self.open.fetch_add(1, Ordering::Relaxed) >= MOST_CONNECTIONS {
            self.open.fetch_sub(1, Ordering::Relaxed);
            log("there are too many connections: one is refused");
            return;
        }
        let (socket, kind) = (Arc::clone(&self.socket), self.kind);
        let (met, open) = (Arc::clone(&self.met), Arc::clone(&self.open));
        let started = thread::Builder::new().spawn(move || {
            if let Err(error) = serve(&socket, kind, &*met, stream)
                && !matches!(error, WireError::Ended(_))
            {
                log(&format!("a connection was closed: {error}"));
            }
            open.fetch_sub(1, Ordering::Relaxed);
        });
        if let Err(error) = started {
            self.open.fetch_sub(1, Ordering::Relaxed);
            log(&format!("no thread for a connection: {error}"));
        }
    }
}

/// Serves one connection until it ends.
fn serve(socket: &Socket, kind: Kind, met: &Met, mut stream: TcpStream) -> Result<(), WireError> {
    stream.set_nodelay(true)?;
    stream.set_read_timeout(Some(INTRODUCTION))?;
    stream.set_write_timeout(Some(INTRODUCTION))?;
    stream.write_all(&zmtp::greeting())?;
    let mut input = BufReader::with_capacity(1 << 16, stream.try_clone()?);
    zmtp::read_greeting(&mut input)?;
    stream.write_all(&zmtp::ready(kind.socket_type()))?;
    let peer_type = zmtp::read_ready(&mut input)?;
    if !kind.goes_with(&peer_type) {
        return Err(WireError::SocketType(peer_type));
    }
    stream.set_read_timeout(None)?;
    stream.set_write_timeout(None)?;
    let peer = Arc::new(Peer {
        outbox: Outbox::default(),
        topics: Mutex::new(Vec::new()),
    });
    let (writer, output) = (Arc::clone(&peer), stream.try_clone()?);
    thread::Builder::new().spawn(move || write(&writer, output))?;
    lock(&socket.peers).push(Arc::clone(&peer));
    let ended = read(kind, met, &peer, &mut input);
    lock(&socket.peers).retain(|other| !Arc::ptr_eq(other, &peer));
    peer.outbox.close();
    // A writer that is held by a peer which does not read is let go.
    let _ = stream.shutdown(std::net::Shutdown::Both);
    ended
}

fn read(
    kind: Kind,
    met: &Met,
    peer: &Arc<Peer>,
    input: &mut BufReader<TcpStream>,
) -> Result<(), WireError> {
    loop {
        match zmtp::receive(input)? {
            Received::Message(frames) if kind == Kind::Router => met(peer, Event::Message(frames)),
            // Before ZMTP 3.1, subscriptions are messages that start with a byte 1 or 0.
            Received::Message(frames) => match frames.first().and_then(|f| f.split_first()) {
                Some((1, topic)) => subscribe(met, peer, topic.to_vec()),
                Some((0, topic)) => cancel(peer, topic),
                _ => {}
            },
            Received::Subscribe(topic) if kind == Kind::Publisher => subscribe(met, peer, topic),
            Received::Cancel(topic) => cancel(peer, &topic),
            Received::Ping(context) => peer.send(zmtp::pong(&context).into()),
            Received::Subscribe(_) | Received::Nothing => {}
        }
    }
}

/// Most topics that one peer may ask for.
const MOST_TOPICS: usize = 1024;

fn subscribe(met: &Met, peer: &Arc<Peer>, topic: Vec<u8>) {
    {
        let mut topics = lock(&peer.topics);
        if topics.len() >= MOST_TOPICS {
            return;
        }
        topics.push(topic.clone());
    }
    met(peer, Event::Subscribed(topic));
}

fn cancel(peer: &Peer, topic: &[u8]) {
    let mut topics = lock(&peer.topics);
    if let Some(at) = topics.iter().position(|t| t == topic) {
        topics.remove(at);
    }
}

/// Writes what waits, several small messages in one go.
fn write(peer: &Peer, mut output: TcpStream) {
    let mut buffer = Vec::new();
    while let Some(messages) = peer.outbox.take() {
        buffer.clear();
        for message in &messages {
            buffer.extend_from_slice(message);
        }
        if output.write_all(&buffer).is_err() {
            peer.outbox.close();
            return;
        }
        buffer.shrink_to(1 << 20);
    }
}

fn lock<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

//! What waits to be sent to one peer.
//!
//! A sender never waits for a peer: it puts bytes here, and the peer's own thread writes them. A peer
//! that does not read fills its outbox and then misses messages, as subscribers of ZeroMQ do; nobody
//! else notices.

use std::collections::VecDeque;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How much may wait for one peer, in bytes.
pub(super) const MOST_WAITING: usize = 64 << 20;

/// The bytes of a whole message; several peers share one copy.
pub(super) type Bytes = Arc<[u8]>;

/// What waits for one peer.
#[derive(Default)]
pub(super) struct Outbox {
    waiting: Mutex<Waiting>,
    changed: Condvar,
}

#[derive(Default)]
struct Waiting {
    messages: VecDeque<Bytes>,
    bytes: usize,
    /// Being written right now.
    is_writing: bool,
    is_closed: bool,
    missed: u64,
}

/// What became of a message.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Put {
    /// It will be sent.
    Waits,
    /// The peer does not read: this is the first that it misses.
    MissedFirst,
    /// The peer misses this one too.
    Missed,
    /// The peer is gone.
    Gone,
}

impl Outbox {
    /// Puts a message in; never waits for the peer.
    pub(super) fn put(&self, message: Bytes) -> Put {
        let mut waiting = self.lock();
        if waiting.is_closed {
            return Put::Gone;
        }
        if waiting.bytes + message.len() > MOST_WAITING && waiting.bytes > 0 {
            waiting.missed += 1;
            return match waiting.missed {
                1 => Put::MissedFirst,
                _ => Put::Missed,
            };
        }
        waiting.bytes += message.len();
        waiting.messages.push_back(message);
        drop(waiting);
        self.changed.notify_all();
        Put::Waits
    }

    /// All that waits, as soon as something does; nothing once it is closed.
    pub(super) fn take(&self) -> Option<VecDeque<Bytes>> {
        let mut waiting = self.lock();
        waiting.is_writing = false;
        self.changed.notify_all();
        while waiting.messages.is_empty() {
            if waiting.is_closed {
                return None;
            }
            waiting = self
                .changed
                .wait(waiting)
                .unwrap_or_else(PoisonError::into_inner);
        }
        waiting.bytes = 0;
        waiting.missed = 0;
        waiting.is_writing = true;
        Some(std::mem::take(&mut waiting.messages))
    }

    /// Takes nothing more in; what waits may still be sent.
    pub(super) fn close(&self) {
        self.lock().is_closed = true;
        self.changed.notify_all();
    }

    /// Waits until all is sent, at most so long.
    pub(super) fn drain(&self, until: Instant) {
        let mut waiting = self.lock();
        while !waiting.messages.is_empty() || waiting.is_writing {
            let left = until.saturating_duration_since(Instant::now());
            if left == Duration::ZERO {
                return;
            }
            let woken = self.changed.wait_timeout(waiting, left);
            waiting = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    /// The state is whole between any two statements that change it.
    fn lock(&self) -> MutexGuard<'_, Waiting> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_peer_that_does_not_read_misses_messages_and_holds_nobody() {
        let outbox = Outbox::default();
        let large: Bytes = vec![0; MOST_WAITING / 2].into();
        assert_eq!(outbox.put(large.clone()), Put::Waits);
        assert_eq!(outbox.put(large.clone()), Put::Waits);
        assert_eq!(outbox.put(large.clone()), Put::MissedFirst);
        assert_eq!(outbox.put(large.clone()), Put::Missed);
        assert_eq!(outbox.take().unwrap().len(), 2);
        assert_eq!(outbox.put(large), Put::Waits);
    }

    #[test]
    fn one_message_larger_than_the_bound_is_still_sent() {
        let outbox = Outbox::default();
        let large: Bytes = vec![0; MOST_WAITING + 1].into();
        assert_eq!(outbox.put(large), Put::Waits);
    }

    #[test]
    fn what_waits_is_sent_after_closing_and_nothing_more_is_taken() {
        let outbox = Outbox::default();
        outbox.put(vec![1].into());
        outbox.close();
        assert_eq!(outbox.put(vec![2].into()), Put::Gone);
        assert_eq!(outbox.take().unwrap().len(), 1);
        assert!(outbox.take().is_none());
        outbox.drain(Instant::now());
    }
}

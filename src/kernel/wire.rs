//! Sending: broadcasts to subscribers, replies to whoever asked.

use std::sync::{Arc, OnceLock};

use serde_json::{Value, json};

use super::message::{Parent, Request, Signer, Writer};
use super::socket::{Peer, Socket};

/// What all sockets share.
pub(super) struct Wire {
    pub(super) writer: Writer,
    iopub: OnceLock<Arc<Socket>>,
}

/// A request with the peer that waits for the reply.
pub(super) struct Asked {
    pub(super) peer: Arc<Peer>,
    pub(super) request: Request,
}

impl Wire {
    pub(super) fn new(key: &str) -> Wire {
        Wire {
            writer: Writer::new(Signer::new(key)),
            iopub: OnceLock::new(),
        }
    }

    /// The socket of broadcasts, once it listens.
    pub(super) fn broadcast_on(&self, iopub: Arc<Socket>) {
        // It is set once, at the start.
        let _ = self.iopub.set(iopub);
    }

    /// Broadcasts a message.
    pub(super) fn publish(&self, kind: &str, parent: &Parent, content: &Value) {
        self.publish_with(kind, parent, &json!({}), content);
    }

    /// Broadcasts a message with metadata of its own.
    pub(super) fn publish_with(
        &self,
        kind: &str,
        parent: &Parent,
        metadata: &Value,
        content: &Value,
    ) {
        if let Some(iopub) = self.iopub.get() {
            let topic = kind.as_bytes();
            let message = self.writer.write(&[topic], kind, parent, metadata, content);
            iopub.publish(topic, message);
        }
    }

    /// Broadcasts whether the kernel is busy with a request.
    pub(super) fn status(&self, state: &str, parent: &Parent) {
        self.publish("status", parent, &json!({"execution_state": state}));
    }

    /// Tells a new subscriber that from here on it misses nothing (Jupyter enhancement proposal 65).
    pub(super) fn welcome(&self, peer: &Peer, topic: &[u8]) {
        let content = json!({"subscription": String::from_utf8_lossy(topic)});
        let parent = Parent::default();
        let message = self
            .writer
            .write(&[topic], "iopub_welcome", &parent, &json!({}), &content);
        peer.send(message.into());
    }

    /// Replies to a request.
    pub(super) fn reply(&self, asked: &Asked, kind: &str, content: &Value) {
        let identities: Vec<&[u8]> = asked.request.identities.iter().map(Vec::as_slice).collect();
        let parent = &asked.request.parent;
        let message = self
            .writer
            .write(&identities, kind, parent, &json!({}), content);
        asked.peer.send(message.into());
    }
}

//! The five sockets of a kernel and their threads.

use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

use serde_json::json;

use super::connection::Connection;
use super::message::{Parent, Request};
use super::shell::{Shell, kernel_info};
use super::socket::{Event, Kind, Peer, Socket};
use super::wire::{Asked, Wire};
use super::work::Interrupt;
use super::{KernelError, log, zmtp};

/// How long what was sent may take to leave at the end.
const FAREWELL: Duration = Duration::from_secs(1);

/// How often the front end's process is looked for.
const WATCH: Duration = Duration::from_millis(500);

/// Serves a front end until it asks for the end, or is gone. Files are looked for from the folder
/// that the process is in.
///
/// When this returns, threads may still be at work on a cell: the process is meant to end then.
///
/// # Errors
/// [`KernelError::File`] or [`KernelError::Connection`] for the connection file,
/// [`KernelError::Listen`] for a port that is taken.
pub fn serve(connection_file: &Path) -> Result<(), KernelError> {
    let front_end = front_end();
    let connection = Connection::read(connection_file)?;
    let wire = Arc::new(Wire::new(&connection.key));
    let (end, ended) = channel();

    let greeter = Arc::clone(&wire);
    let iopub = listen(
        "iopub",
        connection.iopub,
        Kind::Publisher,
        move |peer, e| {
            if let Event::Subscribed(topic) = e {
                greeter.welcome(peer, &topic);
            }
        },
    )?;
    wire.broadcast_on(Arc::clone(&iopub));
    listen("heartbeat", connection.heartbeat, Kind::Router, echo)?;
    // Nothing is ever asked for, so that nothing can be answered here.
    listen("stdin", connection.stdin, Kind::Router, |_, _| {
        log("a message on stdin, where nothing was asked for, is dropped");
    })?;
    let (shell, requests) = queue("shell", connection.shell, &wire)?;
    let (control, orders) = queue("control", connection.control, &wire)?;
    wire.status("starting", &Parent::default());

    let mut worker = Shell::new(Arc::clone(&wire));
    let interrupt = worker.interrupt();
    let end_of_shell = end.clone();
    start("shell", move || {
        worker.work(&requests);
        let _ = end_of_shell.send(());
    });
    let master = Control { wire, interrupt };
    let end_of_control = end.clone();
    start("control", move || {
        master.work(&orders);
        let _ = end_of_control.send(());
    });
    if let Some(front_end) = front_end {
        watch(front_end, end);
    }
    // An error would mean that no thread is left, which is an end too.
    let _ = ended.recv();
    let until = Instant::now() + FAREWELL;
    for socket in [&shell, &control, &iopub] {
        socket.drain(until);
    }
    Ok(())
}

fn listen(
    name: &'static str,
    address: SocketAddr,
    kind: Kind,
    met: impl Fn(&Arc<Peer>, Event) + Send + Sync + 'static,
) -> Result<Arc<Socket>, KernelError> {
    Socket::listen(address, kind, met).map_err(|source| KernelError::Listen {
        socket: name,
        address,
        source,
    })
}

/// The heartbeat gives back what it gets.
fn echo(peer: &Arc<Peer>, event: Event) {
    if let Event::Message(frames) = event {
        peer.send(zmtp::message(frames.iter().map(Vec::as_slice)).into());
    }
}

/// A socket whose messages wait in a queue.
fn queue(
    name: &'static str,
    address: SocketAddr,
    wire: &Arc<Wire>,
) -> Result<(Arc<Socket>, Receiver<Asked>), KernelError> {
    let (sender, waiting) = channel();
    let reader = Arc::clone(wire);
    let socket = listen(name, address, Kind::Router, move |peer, event| {
        if let Event::Message(frames) = event {
            pass_on(&reader, peer, frames, &sender);
        }
    })?;
    Ok((socket, waiting))
}

fn pass_on(wire: &Wire, peer: &Arc<Peer>, frames: Vec<Vec<u8>>, queue: &Sender<Asked>) {
    match Request::read(&wire.writer.signer, frames) {
        Ok(request) => {
            let peer = Arc::clone(peer);
            // The queue has no end before the process has one.
            let _ = queue.send(Asked { peer, request });
        }
        Err(why) => log(&format!("a message is dropped: {why}")),
    }
}

fn start(name: &'static str, work: impl FnOnce() + Send + 'static) {
    if let Err(error) = thread::Builder::new().name(name.to_owned()).spawn(work) {
        log(&format!("no thread for {name}: {error}"));
    }
}

/// Orders that are obeyed while a cell is being carried out.
struct Control {
    wire: Arc<Wire>,
    interrupt: Interrupt,
}

impl Control {
    /// Obeys until the order to end.
    fn work(&self, orders: &Receiver<Asked>) {
        while let Ok(asked) = orders.recv() {
            let (wire, parent) = (&self.wire, &asked.request.parent);
            wire.status("busy", parent);
            let mut is_end = false;
            match asked.request.kind.as_str() {
                "kernel_info_request" => wire.reply(&asked, "kernel_info_reply", &kernel_info()),
                "interrupt_request" => {
                    self.interrupt.ring();
                    wire.reply(&asked, "interrupt_reply", &json!({"status": "ok"}));
                }
                "shutdown_request" => {
                    shut_down(wire, &asked);
                    is_end = true;
                }
                other => log(&format!("`{other}` on control is not understood")),
            }
            wire.status("idle", parent);
            if is_end {
                return;
            }
        }
    }
}

/// Says farewell, to whoever asked and to all who listen.
pub(super) fn shut_down(wire: &Wire, asked: &Asked) {
    let restart = asked.request.flag("restart", false);
    let content = json!({"status": "ok", "restart": restart});
    wire.publish("shutdown_reply", &asked.request.parent, &content);
    wire.reply(asked, "shutdown_reply", &content);
}

/// The process of the front end, if one says by a variable that it started the kernel. It is asked
/// for before anything else: later it could be gone, and another in its place.
fn front_end() -> Option<u32> {
    std::env::var_os("JPY_PARENT_PID").and_then(|_| parent_id())
}

#[cfg(unix)]
fn parent_id() -> Option<u32> {
    Some(std::os::unix::process::parent_id())
}

#[cfg(not(unix))]
fn parent_id() -> Option<u32> {
    None
}

/// Ends the kernel when its front end has ended, so that no orphan stays.
fn watch(front_end: u32, end: Sender<()>) {
    start("parent", move || {
        while parent_id() == Some(front_end) {
            thread::sleep(WATCH);
        }
        log("the front end has ended, and so do I");
        let _ = end.send(());
    });
}

//! A front end for tests: starts the kernel and speaks ZMTP 3.0 (ZeroMQ RFC 23) to it, byte by byte,
//! so that it can also break the protocol. That the kernel speaks to real front ends is checked by
//! `tests/jupyter/check`.

use std::io::{BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use hmac::{Hmac, KeyInit, Mac};
use serde_json::{Value, json};
use sha2::Sha256;
use tempfile::TempDir;

const KEY: &str = "a key for tests";

/// How long anything may take before a test fails.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// A kernel with its process and its folder.
pub struct Kernel {
    pub process: Child,
    folder: TempDir,
    ports: [u16; 5],
}

/// A message that came.
#[derive(Clone, Debug)]
pub struct Message {
    pub kind: String,
    pub parent: Value,
    pub content: Value,
}

/// One connection.
pub struct Peer {
    input: BufReader<TcpStream>,
    output: TcpStream,
}

pub const SHELL: usize = 0;
pub const IOPUB: usize = 1;
pub const CONTROL: usize = 2;
pub const HEARTBEAT: usize = 3;
pub const STDIN: usize = 4;

impl Kernel {
    /// Starts a kernel in a folder of its own.
    pub fn start() -> Kernel {
        let folder = tempfile::tempdir().unwrap();
        // Another process may take a port between here and the kernel's start.
        for _ in 0..5 {
            let ports = free_ports();
            let mut process = spawn(folder.path(), ports, None);
            if is_listening(ports, &mut process) {
                return Kernel {
                    process,
                    folder,
                    ports,
                };
            }
        }
        panic!("the kernel does not start");
    }

    /// Connects to a socket as a peer of this type.
    pub fn connect(&self, socket: usize, socket_type: &str) -> Peer {
        Peer::connect(self.ports[socket], socket_type)
    }

    /// A bare connection, on which nothing has been said.
    pub fn raw(&self, socket: usize) -> TcpStream {
        TcpStream::connect(("127.0.0.1", self.ports[socket])).unwrap()
    }

    /// Waits for the end of the process; false if it goes on.
    pub fn ends_within(&mut self, time: Duration) -> bool {
        let start = Instant::now();
        while start.elapsed() < time {
            if self.process.try_wait().unwrap().is_some() {
                return true;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        false
    }

    /// The folder that the kernel looks for files in.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }
}

impl Drop for Kernel {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Five ports that were free a moment ago.
pub fn free_ports() -> [u16; 5] {
    let listeners = [(); 5].map(|()| TcpListener::bind("127.0.0.1:0").unwrap());
    listeners.map(|listener| listener.local_addr().unwrap().port())
}

fn rust_folder() -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join("rust_cells")
}

/// Writes a connection file and starts the kernel's process with it, under a parent if one is given.
pub fn spawn(folder: &Path, ports: [u16; 5], under: Option<&str>) -> Child {
    let connection = json!({
        "transport": "tcp", "ip": "127.0.0.1", "key": KEY, "signature_scheme": "hmac-sha256",
        "shell_port": ports[SHELL], "iopub_port": ports[IOPUB], "control_port": ports[CONTROL],
        "hb_port": ports[HEARTBEAT], "stdin_port": ports[STDIN],
    });
    let file = folder.join("connection.json");
    std::fs::write(&file, connection.to_string()).unwrap();
    let program = env!("CARGO_BIN_EXE_semilunar");
    let mut command = match under {
        None => Command::new(program),
        Some(script) => {
            let mut shell = Command::new("sh");
            shell
                .args(["-c", script, program])
                .env("JPY_PARENT_PID", "1");
            shell
        }
    };
    command
        .args(["kernel", "start"])
        .arg(&file)
        .current_dir(folder)
        // Where Rust cells are compiled, if there are any: not among the files of the user.
        .env("SEMILUNAR_RUST_FOLDER", rust_folder())
        // Cargo names folders of libraries to tests that users' programs are not told of.
        .env_remove("LD_LIBRARY_PATH")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Whether all ports are listened on before the process ends.
pub fn is_listening(ports: [u16; 5], process: &mut Child) -> bool {
    let start = Instant::now();
    let is_open = |port: &u16| TcpStream::connect(("127.0.0.1", *port)).is_ok();
    while start.elapsed() < PATIENCE {
        if ports.iter().all(is_open) {
            return true;
        }
        if process.try_wait().unwrap().is_some() {
            return false;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    false
}

impl Peer {
    pub fn connect(port: u16, socket_type: &str) -> Peer {
        let mut output = TcpStream::connect(("127.0.0.1", port)).unwrap();
        output.set_nodelay(true).unwrap();
        output.set_read_timeout(Some(PATIENCE)).unwrap();
        let mut greeting = [0_u8; 64];
        greeting[0] = 0xff;
        greeting[9] = 0x7f;
        greeting[10] = 3;
        greeting[12..16].copy_from_slice(b"NULL");
        output.write_all(&greeting).unwrap();
        let mut ready = b"\x05READY\x0bSocket-Type".to_vec();
        ready.extend((socket_type.len() as u32).to_be_bytes());
        ready.extend(socket_type.as_bytes());
        let mut frame = vec![4, ready.len() as u8];
        frame.extend(ready);
        output.write_all(&frame).unwrap();
        let mut input = BufReader::new(output.try_clone().unwrap());
        input.read_exact(&mut greeting).unwrap();
        assert_eq!(&greeting[10..16], b"\x03\x01NULL");
        let mut peer = Peer { input, output };
        let (flags, body) = peer.frame();
        assert_eq!(flags, 4);
        assert!(body.starts_with(b"\x05READY"));
        peer
    }

    /// Has more patience than usual.
    #[cfg(feature = "rust-cells")]
    pub fn wait_for(&self, time: Duration) {
        self.output.set_read_timeout(Some(time)).unwrap();
    }

    fn frame(&mut self) -> (u8, Vec<u8>) {
        let mut flags = [0];
        self.input.read_exact(&mut flags).unwrap();
        let length = match flags[0] & 2 {
            0 => {
                let mut length = [0];
                self.input.read_exact(&mut length).unwrap();
                u64::from(length[0])
            }
            _ => {
                let mut length = [0; 8];
                self.input.read_exact(&mut length).unwrap();
                u64::from_be_bytes(length)
            }
        };
        let mut body = vec![0; usize::try_from(length).unwrap()];
        self.input.read_exact(&mut body).unwrap();
        (flags[0], body)
    }

    /// The frames of the next message.
    pub fn frames(&mut self) -> Vec<Vec<u8>> {
        let mut frames = Vec::new();
        loop {
            let (flags, body) = self.frame();
            frames.push(body);
            if flags & 1 == 0 {
                return frames;
            }
        }
    }

    pub fn send_frames(&mut self, frames: &[&[u8]]) {
        let mut bytes = Vec::new();
        for (at, frame) in frames.iter().enumerate() {
            let more = u8::from(at + 1 < frames.len());
            match u8::try_from(frame.len()) {
                Ok(length) => bytes.extend([more, length]),
                Err(_) => {
                    bytes.push(more | 2);
                    bytes.extend((frame.len() as u64).to_be_bytes());
                }
            }
            bytes.extend(*frame);
        }
        self.output.write_all(&bytes).unwrap();
    }

    pub fn send_raw(&mut self, bytes: &[u8]) {
        self.output.write_all(bytes).unwrap();
    }

    /// Sends a request under an identifier.
    pub fn request(&mut self, id: &str, kind: &str, content: &Value, metadata: &Value) {
        let header = json!({
            "msg_id": id, "session": "tests", "username": "tester", "msg_type": kind,
            "version": "5.4", "date": "2026-01-01T00:00:00.000000Z",
        });
        let parts = [&header, &json!({}), metadata, content].map(Value::to_string);
        let signature = sign(&parts);
        let frames: Vec<&[u8]> = [b"<IDS|MSG>".as_slice(), signature.as_bytes()]
            .into_iter()
            .chain(parts.iter().map(String::as_bytes))
            .collect();
        self.send_frames(&frames);
    }

    /// The next message, whose signature is checked.
    pub fn message(&mut self) -> Message {
        let frames = self.frames();
        let at = frames.iter().position(|f| f == b"<IDS|MSG>").unwrap();
        let parts: Vec<String> = frames[at + 2..]
            .iter()
            .map(|part| String::from_utf8(part.clone()).unwrap())
            .collect();
        let [header, parent, metadata, content] = <[String; 4]>::try_from(parts).unwrap();
        let signed = [&header, &parent, &metadata, &content].map(String::clone);
        assert_eq!(frames[at + 1], sign(&signed).as_bytes());
        let read = |text: &str| serde_json::from_str::<Value>(text).unwrap();
        let header = read(&header);
        assert_eq!(header["version"], "5.5");
        Message {
            kind: header["msg_type"].as_str().unwrap().to_owned(),
            parent: read(&parent),
            content: read(&content),
        }
    }

    /// The messages that answer a request, up to and with `idle`.
    pub fn until_idle(&mut self, id: &str) -> Vec<Message> {
        let mut messages = Vec::new();
        loop {
            let message = self.message();
            if message.parent["msg_id"] != id {
                continue;
            }
            let is_idle = message.content["execution_state"] == "idle";
            messages.push(message);
            if is_idle {
                return messages;
            }
        }
    }
}

fn sign(parts: &[String; 4]) -> String {
    let mut mac = Hmac::<Sha256>::new_from_slice(KEY.as_bytes()).unwrap();
    for part in parts {
        mac.update(part.as_bytes());
    }
    let bytes = mac.finalize().into_bytes();
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A front end with the connections that it needs.
pub struct FrontEnd {
    pub kernel: Kernel,
    pub shell: Peer,
    pub iopub: Peer,
    count: u64,
}

impl FrontEnd {
    pub fn start() -> FrontEnd {
        let kernel = Kernel::start();
        let iopub = subscriber(&kernel);
        FrontEnd {
            shell: kernel.connect(SHELL, "DEALER"),
            iopub,
            kernel,
            count: 0,
        }
    }

    pub fn send(&mut self, kind: &str, content: &Value, metadata: &Value) -> String {
        self.count += 1;
        let id = format!("request-{}", self.count);
        self.shell.request(&id, kind, content, metadata);
        id
    }

    /// Executes a cell and gives the reply and the broadcasts.
    pub fn execute(&mut self, cell: &str, code: &str) -> (Message, Vec<Message>) {
        let id = self.send(
            "execute_request",
            &json!({"code": code}),
            &json!({"cellId": cell}),
        );
        (self.shell.message(), self.iopub.until_idle(&id))
    }
}

/// A subscriber to everything, who has been welcomed.
pub fn subscriber(kernel: &Kernel) -> Peer {
    let mut iopub = kernel.connect(IOPUB, "SUB");
    iopub.send_frames(&[b"\x01"]);
    let welcome = iopub.message();
    assert_eq!(welcome.kind, "iopub_welcome");
    assert_eq!(welcome.content, json!({"subscription": ""}));
    iopub
}

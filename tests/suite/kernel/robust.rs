//! What goes wrong on a wire, and a kernel that goes on.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use serde_json::json;

use super::client::{
    CONTROL, FrontEnd, HEARTBEAT, IOPUB, Kernel, Message, PATIENCE, SHELL, STDIN, free_ports,
    is_listening, spawn, subscriber,
};

fn status(message: &Message) -> &str {
    message.content["status"].as_str().unwrap()
}

#[test]
fn bytes_that_are_no_frames_cost_the_connection_and_nothing_else() {
    let mut front_end = FrontEnd::start();
    let web: &[u8] =
        b"GET / HTTP/1.1\r\nHost: localhost\r\nAccept: everything that there is\r\n\r\n";
    for socket in [SHELL, IOPUB, CONTROL, HEARTBEAT, STDIN] {
        // Something else than a greeting, half a greeting, nothing at all.
        for bytes in [web, &[0xff, 0, 0, 0], &[]] {
            front_end.kernel.raw(socket).write_all(bytes).unwrap();
        }
        let of = if socket == IOPUB { "SUB" } else { "DEALER" };
        for bytes in [
            &[0xff; 300][..],
            // A frame said to be longer than any memory.
            &[2, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff],
            // A command without a name, and messages of too many frames.
            &[4, 1, 200],
            &[1, 0].repeat(10_000),
        ] {
            let mut peer = front_end.kernel.connect(socket, of);
            peer.send_raw(bytes);
        }
    }
    let (reply, _) = front_end.execute("a", "x = 1 cm");
    assert_eq!(status(&reply), "ok");
}

#[test]
fn a_socket_type_that_does_not_fit_is_refused() {
    let kernel = Kernel::start();
    let mut peer = kernel.connect(SHELL, "PUB");
    peer.send_frames(&[b"anything"]);
    let mut left = kernel.raw(IOPUB);
    left.write_all(&[0; 100]).unwrap();
    left.set_read_timeout(Some(PATIENCE)).unwrap();
    let mut all = Vec::new();
    // The kernel closes: what is left to read ends, or the connection is reset.
    let _ = left.read_to_end(&mut all);
    assert!(all.len() <= 64);
}

#[test]
fn messages_that_are_not_signed_with_the_key_are_dropped() {
    let mut front_end = FrontEnd::start();
    let header = br#"{"msg_id":"x","session":"s","msg_type":"shutdown_request"}"#;
    let wrong = "0".repeat(64);
    let empty: &[u8] = b"{}";
    for signature in [wrong.as_bytes(), b"", b"not even hexadecimal"] {
        let frames = [b"<IDS|MSG>", signature, header, empty, empty, empty];
        front_end.shell.send_frames(&frames);
    }
    for cut in 0..5 {
        let frames = [&b"<IDS|MSG>"[..], b"", header, empty, empty];
        front_end.shell.send_frames(&frames[..cut.max(1)]);
    }
    front_end.shell.send_frames(&[b"no delimiter"]);
    let (reply, _) = front_end.execute("a", "x = 1 cm");
    assert_eq!(status(&reply), "ok");
    assert!(!front_end.kernel.ends_within(Duration::from_millis(100)));
}

#[test]
fn a_subscriber_that_never_reads_holds_nobody() {
    let mut front_end = FrontEnd::start();
    let _stuck = subscriber(&front_end.kernel);
    let megabyte = "x".repeat(1 << 20);
    front_end.execute("a", &format!("# {megabyte}"));
    // More than sockets and the kernel keep for one peer.
    for round in 0..80 {
        let (reply, came) = front_end.execute("b", ":sheet");
        assert_eq!(status(&reply), "ok", "{round}");
        let text = came.iter().find(|m| m.kind == "stream").unwrap();
        assert!(text.content["text"].as_str().unwrap().len() > megabyte.len());
    }
}

#[test]
fn ten_thousand_executions_are_answered_in_order() {
    const COUNT: u64 = 10_000;
    let mut front_end = FrontEnd::start();
    let mut output = front_end.kernel.connect(SHELL, "DEALER");
    let requests = std::thread::spawn(move || {
        for n in 0..COUNT {
            // One half named and one half not; the session grows by neither.
            let metadata = match n % 2 {
                0 => json!({"cellId": "a"}),
                _ => json!({}),
            };
            let name = if n % 2 == 0 { "x" } else { "y" };
            let content = json!({"code": format!("{name} = {n} cm")});
            output.request(&n.to_string(), "execute_request", &content, &metadata);
        }
        (0..COUNT)
            .map(|_| output.message())
            .collect::<Vec<Message>>()
    });
    let mut idle = 0;
    while idle < COUNT {
        idle += u64::from(front_end.iopub.message().content["execution_state"] == "idle");
    }
    for (n, reply) in requests.join().unwrap().iter().enumerate() {
        assert_eq!(reply.parent["msg_id"], n.to_string());
        assert_eq!(status(reply), "ok");
        assert_eq!(reply.content["execution_count"], n + 1);
    }
    let (_, came) = front_end.execute("b", ":value x + y");
    let result = came.iter().find(|m| m.kind == "execute_result").unwrap();
    assert_eq!(
        result.content["data"]["text/plain"],
        "19997 cm (no uncertainty stated)"
    );
}

#[test]
fn the_heartbeat_gives_back_what_it_gets_and_stdin_is_silent() {
    let mut front_end = FrontEnd::start();
    let mut heart = front_end.kernel.connect(HEARTBEAT, "REQ");
    for beat in [&b"ping"[..], b"", &[0, 255, 7], &[1; 100_000]] {
        heart.send_frames(&[b"", beat]);
        assert_eq!(heart.frames(), [b"".to_vec(), beat.to_vec()]);
    }
    let mut stdin = front_end.kernel.connect(STDIN, "DEALER");
    stdin.request("1", "input_reply", &json!({"value": "yes"}), &json!({}));
    assert_eq!(status(&front_end.execute("a", "x = 1 cm").0), "ok");
}

#[test]
fn a_front_end_ends_the_kernel_by_control() {
    let mut kernel = Kernel::start();
    let mut iopub = subscriber(&kernel);
    let mut control = kernel.connect(CONTROL, "DEALER");
    control.request("1", "kernel_info_request", &json!({}), &json!({}));
    assert_eq!(control.message().content["protocol_version"], "5.5");
    iopub.until_idle("1");
    let restart = json!({"restart": true});
    control.request("2", "shutdown_request", &restart, &json!({}));
    let reply = control.message();
    assert_eq!(reply.kind, "shutdown_reply");
    assert_eq!(reply.content, json!({"status": "ok", "restart": true}));
    let said = iopub.until_idle("2");
    assert!(said.iter().any(|m| m.kind == "shutdown_reply"));
    assert!(kernel.ends_within(PATIENCE));
    assert!(kernel.folder().exists());
}

#[cfg(unix)]
#[test]
fn no_orphan_stays_when_the_front_end_dies() {
    let folder = tempfile::tempdir().unwrap();
    let ports = free_ports();
    // A front end that starts its kernel and then waits.
    let mut front_end = spawn(folder.path(), ports, Some("\"$0\" \"$@\" & wait"));
    assert!(is_listening(ports, &mut front_end));
    front_end.kill().unwrap();
    front_end.wait().unwrap();
    let start = Instant::now();
    while TcpStream::connect(("127.0.0.1", ports[SHELL])).is_ok() {
        assert!(start.elapsed() < PATIENCE, "the kernel lives on");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn replies_go_to_whoever_asked() {
    let mut front_end = FrontEnd::start();
    let mut others: Vec<_> = (0..20)
        .map(|_| front_end.kernel.connect(SHELL, "DEALER"))
        .collect();
    for (n, peer) in others.iter_mut().enumerate() {
        let content = json!({"code": format!("a_{n} = 1 cm")});
        peer.request(
            &format!("of {n}"),
            "is_complete_request",
            &content,
            &json!({}),
        );
    }
    for (n, peer) in others.iter_mut().enumerate() {
        assert_eq!(peer.message().parent["msg_id"], format!("of {n}"));
    }
    assert_eq!(status(&front_end.execute("a", "x = 1 cm").0), "ok");
}

/// A table that takes long, and an interrupt on control while it is read.
#[test]
fn a_long_cell_can_be_interrupted() {
    let mut front_end = FrontEnd::start();
    // Pieces of a table are finished when they were begun: many bytes in few rows.
    let rows = format!("20,{}\n", "-".repeat(200)).repeat(300_000);
    let table = front_end.kernel.folder().join("long.csv");
    std::fs::write(table, format!("lvot_vti [cm],padding\n{rows}")).unwrap();
    let code = "use hemodynamics\nlvot_diameter = 2 cm\ncohort long from \"long.csv\"";
    let content = json!({"code": code, "stop_on_error": true});
    let id = front_end.send("execute_request", &content, &json!({"cellId": "a"}));
    let queued = json!({"code": "x = 1 cm"});
    front_end.send("execute_request", &queued, &json!({"cellId": "b"}));
    let mut control = front_end.kernel.connect(CONTROL, "DEALER");
    std::thread::sleep(Duration::from_millis(300));
    let start = Instant::now();
    control.request("stop", "interrupt_request", &json!({}), &json!({}));
    let answer = control.message();
    assert_eq!(
        (answer.kind.as_str(), status(&answer)),
        ("interrupt_reply", "ok")
    );
    let reply = front_end.shell.message();
    assert_eq!(reply.parent["msg_id"], *id);
    assert_eq!(status(&reply), "error");
    // Reading to the end takes longer where this is built without optimization.
    assert!(
        start.elapsed() < Duration::from_secs(5),
        "{:?}",
        start.elapsed()
    );
    assert!(
        reply.content["evalue"]
            .as_str()
            .unwrap()
            .contains("interrupted")
    );
    assert_eq!(status(&front_end.shell.message()), "aborted");
    let (reply, _) = front_end.execute("a", "use hemodynamics\nlvot_diameter = 2 cm");
    assert_eq!(status(&reply), "ok");
    // An interrupt while nothing is at work interrupts nothing that comes later.
    control.request("stop again", "interrupt_request", &json!({}), &json!({}));
    control.message();
    assert_eq!(status(&front_end.execute("c", "y = 1 cm").0), "ok");
}

//! Rust cells in the kernel, as a front end meets them.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use serde_json::json;

use super::client::{CONTROL, FrontEnd, Message};

/// The library for the cells is built before the first one runs.
const BUILD: Duration = Duration::from_secs(600);

/// 2 cm and 20 cm: an area of 3.14 cm² and a stroke volume of 62.8 mL, by hand.
const EXAM: &str = "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm";

fn front_end() -> FrontEnd {
    let front_end = FrontEnd::start();
    front_end.shell.wait_for(BUILD);
    front_end.iopub.wait_for(BUILD);
    front_end
}

/// What a cell that ended well shows as plain text.
fn shown(front_end: &mut FrontEnd, cell: &str, code: &str) -> String {
    let (reply, messages) = front_end.execute(cell, code);
    assert_eq!(reply.content["status"], "ok", "{}", reply.content);
    texts(&messages, "display_data")
}

/// Why a cell failed, and what was shown of the failure.
fn failed(front_end: &mut FrontEnd, cell: &str, code: &str) -> String {
    let (reply, messages) = front_end.execute(cell, code);
    assert_eq!(reply.content["status"], "error", "{}", reply.content);
    let errors = messages.iter().filter(|m| m.kind == "error");
    let lines = errors.flat_map(|m| m.content["traceback"].as_array().unwrap());
    let lines: Vec<&str> = lines.map(|line| line.as_str().unwrap()).collect();
    lines.join("\n")
}

fn texts(messages: &[Message], kind: &str) -> String {
    let of_kind = messages.iter().filter(|m| m.kind == kind);
    let texts = of_kind.map(|m| m.content["data"]["text/plain"].as_str().unwrap());
    let texts: Vec<String> = texts.map(|t| t.replace('\u{a0}', " ")).collect();
    texts.join("\n")
}

#[test]
fn a_rust_cell_adds_shows_fails_and_is_stopped_and_the_sheet_goes_on() {
    let mut front_end = front_end();
    shown(&mut front_end, "exam", EXAM);
    let text = shown(
        &mut front_end,
        "r",
        "in Rust\n\
         let diameter = cell::<Length>(\"lvot_diameter\")?;\n\
         let distance = cell::<Length>(\"lvot_vti\")?;\n\
         add_formula(\"annular_volume\", PI / 4.0 * diameter * diameter * distance, \"mL\")?;\n\
         set(\"half\", quantity::<Length>(\"lvot_vti\")? / 2.0, \"cm\")?;\n\
         let before_stop: i32 = 1;\n\
         show(Html(\"<b>bold</b>\".into()));\n\
         println!(\"printed\");",
    );
    assert_eq!(text, "printed\nbold");
    let text = shown(&mut front_end, "v", "show annular_volume, half");
    assert!(text.contains("annular_volume: 62.8 mL"), "{text}");
    assert!(text.contains("half: 10 cm"), "{text}");

    let quarter = "in Rust\nset(\"quarter\", quantity::<Length>(\"lvot_vti\")? / 4.0, \"cm\")?;";
    assert_eq!(shown(&mut front_end, "silent", quarter), "");

    // The formula follows its cells by itself; what was read once is out of date, and says so.
    let exam = EXAM.replace("lvot_vti = 20", "lvot_vti = 10");
    let (reply, messages) = front_end.execute("exam", &exam);
    assert_eq!(reply.content["status"], "ok");
    let text = texts(&messages, "update_display_data");
    assert!(text.contains("annular_volume: 31.4 mL"), "{text}");
    assert!(text.contains("half: 10 cm"), "{text}");
    let mark = "Out of date: `lvot_vti` was 20 cm when it ran and is 10 cm now";
    // Of the cell that shows something, and of the one that shows nothing.
    assert_eq!(text.matches(mark).count(), 2, "{text}");

    // An area plus a length: the compiler points into the cell, with words of the library.
    let text = failed(
        &mut front_end,
        "wrong",
        "in Rust\n\
         let area = cell::<Area>(\"lvot_area\")?;\n\
         let vti = cell::<Length>(\"lvot_vti\")?;\n\
         add_formula(\"nonsense\", area + vti, \"cm2\")?;",
    );
    for words in [
        "quantities of unlike dimensions are not added",
        "area + vti",
        ":4:30",
        "only like quantities add",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }

    let text = failed(
        &mut front_end,
        "panics",
        "in Rust\nlet of_panic: i32 = 2;\npanic!(\"no good\");",
    );
    assert!(text.contains("this cell panicked: no good"), "{text}");
    assert!(text.contains("variables lost: `of_panic`"), "{text}");
    assert_eq!(shown(&mut front_end, "kept", "in Rust\nbefore_stop"), "1");

    let text = stopped(&mut front_end, "in Rust\nloop { std::hint::spin_loop(); }");
    assert!(text.contains("this cell was stopped"), "{text}");
    assert!(text.contains("`before_stop`"), "{text}");

    // The sheet is as it was, and the next Rust cell has a process.
    let text = shown(&mut front_end, "v", "show annular_volume, stroke_volume");
    assert!(text.contains("annular_volume: 31.4 mL"), "{text}");
    assert!(text.contains("stroke_volume: 31.4 mL"), "{text}");
    assert_eq!(shown(&mut front_end, "next", "in Rust\n40 + 2"), "42");
}

/// Executes a cell and interrupts it, again and again: the first time it may not have begun.
fn stopped(front_end: &mut FrontEnd, code: &str) -> String {
    let mut control = front_end.kernel.connect(CONTROL, "DEALER");
    let is_over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut count = 0;
            while !is_over.load(Ordering::SeqCst) {
                std::thread::sleep(Duration::from_secs(1));
                count += 1;
                let id = format!("stop-{count}");
                control.request(&id, "interrupt_request", &json!({}), &json!({}));
                assert_eq!(control.message().kind, "interrupt_reply");
            }
        });
        let text = failed(front_end, "endless", code);
        is_over.store(true, Ordering::SeqCst);
        text
    })
}

#[test]
fn two_kernels_share_the_kept_folder() {
    let (mut one, mut other) = (front_end(), front_end());
    assert_eq!(
        shown(&mut one, "a", "in Rust\nlet kept: i32 = 1;\nkept"),
        "1"
    );
    assert_eq!(
        shown(&mut other, "a", "in Rust\nlet kept: i32 = 20;\nkept"),
        "20"
    );
    assert_eq!(shown(&mut one, "b", "in Rust\nkept + 1"), "2");
    assert_eq!(shown(&mut other, "b", "in Rust\nkept + 1"), "21");
}

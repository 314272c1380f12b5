//! How Rust cells end: refused by the compiler, early, with their process, stopped.

use std::time::Duration;

use super::notebook;

#[test]
fn the_compiler_points_into_the_cell_and_its_help_is_kept() {
    let mut notebook = notebook();
    let text = notebook.rust(
        "r",
        "let area = cell::<Area>(\"lvot_area\")?;\n\
         let vti = cell::<Length>(\"lvot_vti\")?;\n\
         add_formula(\"nonsense\", area + vti, \"cm2\")?;",
    );
    assert!(
        text.contains("quantities of unlike dimensions are not added"),
        "{text}"
    );
    assert!(
        text.contains("cell 2:4:30") && text.contains("area + vti"),
        "{text}"
    );
    assert!(text.contains("only like quantities add"), "{text}");
    let text = notebook.rust("r", "let lenght = 1;\nlength + 1");
    assert!(text.contains("cell 2:3:1"), "{text}");
    assert!(
        text.contains("similar name exists") || text.contains("lenght"),
        "{text}"
    );
    let text = notebook.rust("r", "use semilunar::sheet::Sheat;");
    assert!(
        text.contains("unresolved import") && text.contains("cell 2:2:1"),
        "{text}"
    );
    let text = notebook.rust("r", "let a = (1;\n2");
    assert!(
        text.starts_with("error: ") && text.contains("cell 2:"),
        "{text}"
    );
}

#[test]
fn what_a_cell_asks_wrongly_is_answered_in_words_and_takes_no_effect() {
    let mut notebook = notebook();
    let text = notebook.rust("r", "set(\"x\", Quantity::<Length>::of(1.0, \"cm\")?, \"cm\")?;\ncell::<Length>(\"lvot_diametre\")?;");
    assert!(text.contains("did you mean `lvot_diameter`?"), "{text}");
    let text = notebook.rust("s", "cell::<Length>(\"lvot_area\")?;");
    assert!(
        text.contains("`lvot_area` is in cm² which does not measure")
            || text.contains("`lvot_area` is in"),
        "{text}"
    );
    let text = notebook.rust("t", "quantity::<Pressure>(\"mean_pressure\")?;");
    assert!(text.contains("`mean_pressure` has no value"), "{text}");
    let text = notebook.submit("v", "show x");
    assert!(text.contains("`x` is not a cell"), "{text}");
}

#[test]
fn a_panic_has_its_place_and_costs_the_variables_of_its_cell_only() {
    let mut notebook = notebook();
    notebook.rust("a", "let before_panic: i32 = 1;");
    let text = notebook.rust(
        "b",
        "let of_panic: i32 = 2;\nshow(\"shown\");\npanic!(\"no {}\", \"good\");",
    );
    assert!(text.contains("this cell panicked: no good"), "{text}");
    assert!(
        text.contains("cell 3:4:1") && text.contains("variables lost: `of_panic`"),
        "{text}"
    );
    assert!(text.ends_with("shown"), "{text}");
    assert_eq!(notebook.rust("c", "before_panic"), "1");
    let text = notebook.submit("v", "show stroke_volume");
    assert!(text.starts_with("stroke_volume: 62.8 mL"), "{text}");
}

#[test]
fn an_abort_costs_its_process_and_names_the_variables_that_go_with_it() {
    let mut notebook = notebook();
    notebook.rust(
        "a",
        "let before_abort: i32 = 1;\nfn after_all() -> i32 { 5 }",
    );
    let text = notebook.rust("b", "std::process::abort();");
    assert!(text.contains("this cell ended its process"), "{text}");
    assert!(text.contains("`before_abort`"), "{text}");
    assert_eq!(notebook.rust("c", "after_all()"), "5");
    let text = notebook.submit("v", "show stroke_volume");
    assert!(text.starts_with("stroke_volume: 62.8 mL"), "{text}");
}

#[test]
fn an_endless_loop_can_be_stopped() {
    let mut notebook = notebook();
    notebook.rust("a", "let before_stop: i32 = 1;");
    let stopper = notebook.stopper.clone();
    let is_over = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
    let over = std::sync::Arc::clone(&is_over);
    // Again and again: the first time it may not have begun.
    let thread = std::thread::spawn(move || {
        while !over.load(std::sync::atomic::Ordering::SeqCst) {
            std::thread::sleep(Duration::from_millis(500));
            stopper.stop();
        }
    });
    let text = notebook.rust("b", "loop { std::hint::spin_loop(); }");
    is_over.store(true, std::sync::atomic::Ordering::SeqCst);
    thread.join().unwrap();
    assert!(
        text.contains("this cell was stopped") && text.contains("`before_stop`"),
        "{text}"
    );
    assert_eq!(notebook.rust("c", "40 + 2"), "42");
}

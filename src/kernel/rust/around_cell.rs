//! What the text around a cell calls; not for cells themselves.

use std::any::Any;
use std::cell::RefCell;
use std::collections::HashMap;
use std::fmt::Debug;

use super::in_cell::{Event, Show, show, tell};

thread_local! {
    static KEPT: RefCell<HashMap<String, Box<dyn Any>>> = RefCell::new(HashMap::new());
}

/// Before the cell: a panic is told to the notebook with its place.
pub fn begin() {
    std::panic::set_hook(Box::new(|panic| {
        let payload = panic.payload();
        let message = payload
            .downcast_ref::<&str>()
            .map(|m| (*m).to_owned())
            .or_else(|| payload.downcast_ref::<String>().cloned())
            .unwrap_or_else(|| "a panic without words".into());
        let (line, column) = panic
            .location()
            .map_or((0, 0), |at| (at.line(), at.column()));
        tell(&Event::Panic(message, line, column));
    }));
}

/// After the cell: what it set and added may take effect.
pub fn done() {
    tell(&Event::Done);
}

/// Takes a variable out of the cell's block, to outlive the cell.
pub fn keep<T: 'static>(name: &str, value: T) {
    KEPT.with_borrow_mut(|kept| kept.insert(name.to_owned(), Box::new(value)));
}

/// Gives it back after the block.
pub fn kept<T: 'static>(name: &str) -> T {
    let value = KEPT.with_borrow_mut(|kept| kept.remove(name));
    let value = value.and_then(|value| value.downcast::<T>().ok());
    *value.expect("the text around a cell keeps each variable before it takes it back")
}

/// The last expression of a cell, which is shown when it can be: methods are looked for with
/// fewer and fewer references, so that the first of the three traits that fits is taken.
pub struct Last<'v, T>(pub &'v T);

/// For what can be shown.
pub trait LastShown {
    /// Shows it.
    fn show_last(&self);
}
impl<T: Show> LastShown for &&Last<'_, T> {
    fn show_last(&self) {
        show(self.0);
    }
}

/// For what can be printed for a developer.
pub trait LastPrinted {
    /// Shows it.
    fn show_last(&self);
}
impl<T: Debug> LastPrinted for &Last<'_, T> {
    fn show_last(&self) {
        let text = format!("{:?}", self.0);
        // `()` is the last value of a cell that has none.
        if text != "()" {
            show(text);
        }
    }
}

/// For everything else.
pub trait LastHidden {
    /// Shows nothing.
    fn show_last(&self) {}
}
impl<T> LastHidden for Last<'_, T> {}

//! The notation: formulas, readings and statements as plain text, and diagnostics that point
//! into it.
//!
//! Text becomes [`Statement`]s by [`statements`], a single formula by [`formula`], a single
//! reading by [`reading`]; [`write_formula`] and [`write_reading`] go back. The whole notation
//! stands on one page, [`PAGE`].
//!
//! ```
//! use semilunar::formula::notation::{formula, write_formula};
//!
//! let parsed = formula("pi/4 * lvot_diameter^2", 0).unwrap();
//! let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
//! assert_eq!(write_formula(&parsed.formula, &names), "pi / 4 * lvot_diameter^2");
//!
//! let bad = formula("pi/4 * ", 0).unwrap_err();
//! assert_eq!(bad.message(), "the text ends where I expect a number, a name or a parenthesis");
//! ```

mod analysis;
mod cursor;
mod diagnostic;
mod display;
mod expression;
mod extent;
mod literal;
mod near;
mod print;
mod statement;

pub use analysis::{Analysis, Condition, ErrorOf, Question, Subject, Test, Whose};
pub use diagnostic::{Diagnostic, Place, Severity, Sources};
pub use expression::{OWN_READING, Parsed};
pub use extent::{end_of_statements, is_reserved};
#[cfg(feature = "notebook")]
pub(crate) use near::likeliest;
pub(crate) use print::write_figures;
pub use print::{is_name, number, quantity, write_formula, write_op, write_reading};
pub use statement::{
    Adjust, Display, Name, Statement, VERSION_LINE, What, formula, reading, statements,
};

/// The whole notation on one page, in Markdown.
pub const PAGE: &str = include_str!("notation.md");

#[cfg(test)]
mod tests {
    use super::*;

    /// Every statement on the page reads without a diagnostic.
    #[test]
    fn the_page_reads() {
        let examples: Vec<&str> = PAGE
            .lines()
            .filter_map(|line| line.strip_prefix("    "))
            .filter(|line| !line.contains('…') && !line.starts_with("before.lvot_vti [cm],"))
            .collect();
        assert!(examples.len() > 30);
        for line in examples {
            let (statements, found) = statements(line, 0);
            assert_eq!((statements.len(), found), (1, Vec::new()), "{line}");
        }
    }
}

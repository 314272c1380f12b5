//! Lines that speak to the kernel and not to the sheet.
//!
//! A cell that starts with `:` holds one of them. They define nothing, and their answers do not
//! follow later changes.

/// What a cell asks of the kernel.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Command<'t> {
    /// `:value FORMULA`: the value now.
    Value(&'t str),
    /// `:sheet`: the text of all cells, as a file.
    Sheet,
    /// `:forget`: all cells define nothing any more.
    Forget,
    /// `:help`: these commands and the notation.
    Help,
    /// None of these.
    Unknown(&'t str),
}

/// What `:help` says before the notation.
pub(super) const HELP: &str = "\
A cell holds lines of the notation, below. A cell that starts with a colon speaks to the kernel:

  :value FORMULA   the value of a cell or a formula, now; `[UNIT] FORMULA` in a unit
  :sheet           the text of all cells together, to keep as a sheet file
  :forget          forget what all cells define, and clear this cell's output
  :help            this text

For education, audit and research. Not a medical device: a licensed clinician and local protocols
decide.
";

/// The command that a cell holds, if it holds one.
pub(super) fn command(text: &str) -> Option<Command<'_>> {
    let line = text.trim().strip_prefix(':')?;
    let (word, rest) = match line.split_once(char::is_whitespace) {
        Some((word, rest)) => (word, rest.trim()),
        None => (line, ""),
    };
    Some(match (word, rest) {
        ("value", formula) if !formula.is_empty() => Command::Value(formula),
        ("sheet", "") => Command::Sheet,
        ("forget", "") => Command::Forget,
        ("help", "") => Command::Help,
        _ => Command::Unknown(line),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_are_told_from_the_notation() {
        assert_eq!(command("lvot_vti = 20 cm"), None);
        assert_eq!(command("\n:value 2 cm\n"), Some(Command::Value("2 cm")));
        assert_eq!(command(":sheet"), Some(Command::Sheet));
        assert_eq!(command(":value"), Some(Command::Unknown("value")));
        assert_eq!(command(":sheet now"), Some(Command::Unknown("sheet now")));
        assert_eq!(command(":"), Some(Command::Unknown("")));
    }

    #[test]
    fn every_command_stands_in_the_help() {
        for word in [":value", ":sheet", ":forget", ":help"] {
            assert!(HELP.contains(&format!("  {word}")));
        }
    }
}

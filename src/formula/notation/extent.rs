//! Questions about texts that are still being written.

use super::cursor::RESERVED;

/// The byte at which the last statement of a text ends, spaces and comments after it left out.
pub fn end_of_statements(text: &str) -> usize {
    let mut end = 0;
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let said = without_comment(line).trim_end();
        if !said.trim_start_matches('\u{feff}').is_empty() {
            end = start + said.len();
        }
        start += line.len();
    }
    end
}

fn without_comment(line: &str) -> &str {
    let mut is_quoted = false;
    for (at, c) in line.char_indices() {
        match c {
            '"' => is_quoted = !is_quoted,
            '#' if !is_quoted => return &line[..at],
            _ => {}
        }
    }
    line
}

/// Whether a word belongs to the notation, so that it can name no cell.
pub fn is_reserved(word: &str) -> bool {
    RESERVED.contains(&word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_spaces_at_the_end_are_no_part_of_a_statement() {
        assert_eq!(end_of_statements("a = 1 cm   # x\n\n# y\n"), 8);
        assert_eq!(end_of_statements("cohort c from \"a#b\"  "), 19);
        assert_eq!(end_of_statements("# only\n"), 0);
        assert_eq!(end_of_statements(""), 0);
    }
}

//! The page that says to people what a binding file can say.

/// What a binding file can say, and how to make a key, on one page in Markdown.
pub const BINDING_PAGE: &str = include_str!("binding_page.md");

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cohort::{Binding, BindingFile, Key, NOTHING, SHORTEST_KEY, WIDEST_SHIFT};
    use crate::sheet::Sheet;

    fn examples() -> Vec<&'static str> {
        let blocks = BINDING_PAGE.split("```toml\n").skip(1);
        blocks
            .map(|rest| rest.split("```").next().unwrap())
            .collect()
    }

    #[test]
    fn its_example_binds_a_table() {
        let [whole] = examples()[..] else {
            panic!("one example");
        };
        let file = BindingFile::parse("page.toml".as_ref(), whole).unwrap();
        let headings = [
            "MRN",
            "Name",
            "Exam date",
            "LVOT D",
            "VTI",
            "Rhythm",
            "Remark",
        ];
        let headings = headings.map(str::to_owned);
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        let binding = Binding::by_file(&sheet, &headings, &file).unwrap();
        assert_eq!((binding.columns.len(), binding.identifiers.len()), (3, 2));
        assert_eq!(binding.shift.unwrap().dates, [2]);
    }

    #[test]
    fn its_limits_are_those_that_hold() {
        let pseudonym = Key::from_bytes(b"0123456789abcdef").pseudonym("7001");
        let mut limits = vec![
            format!("at least {SHORTEST_KEY} random bytes"),
            format!("from 1 to {WIDEST_SHIFT}."),
            format!("pseudonyms of {} digits", pseudonym.len()),
        ];
        limits.extend(NOTHING.iter().map(|text| format!("`{text}`")));
        for limit in limits {
            assert!(BINDING_PAGE.contains(&limit), "{limit}");
        }
    }

    /// Every word that a binding file knows stands on the page: the reader of TOML lists those that it knows.
    #[test]
    fn every_word_of_a_binding_file_is_on_it() {
        for place in [
            "",
            "[file]\n",
            "[shift]\n",
            "[pair]\n",
            "[checks]\n",
            "[columns.x]\n",
        ] {
            let text = format!("{place}no_such_word = 1\n");
            let refused = BindingFile::parse("b.toml".as_ref(), &text).unwrap_err();
            let said = refused.to_string();
            let (_, known) = said
                .split_once("expected one of ")
                .or_else(|| said.split_once("expected "))
                .unwrap();
            let known: Vec<&str> = known.split('`').skip(1).step_by(2).collect();
            assert!(known.len() > 2, "{said}");
            for word in known {
                let is_there = [
                    format!("`{word}`"),
                    format!("`[{word}"),
                    format!("{word} ="),
                ];
                assert!(
                    is_there.iter().any(|w| BINDING_PAGE.contains(w)),
                    "{place}{word}"
                );
            }
        }
    }
}

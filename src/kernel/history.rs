//! What was executed in this session. It is kept in memory and ends with the session.

use serde_json::{Value, json};

/// Inputs, and the results that were answers.
#[derive(Default)]
pub(super) struct History {
    entries: Vec<Entry>,
}

struct Entry {
    line: u64,
    input: String,
    output: Option<String>,
}

/// Most entries of one answer.
const MOST: usize = 10_000;

impl History {
    pub(super) fn add(&mut self, line: u64, input: &str, output: Option<String>) {
        self.entries.push(Entry {
            line,
            input: input.to_owned(),
            output,
        });
    }

    /// The answer to a request: the last entries, a range of lines, or those that fit a pattern.
    pub(super) fn answer(&self, content: &Value) -> Value {
        let most = content["n"].as_u64().and_then(|n| usize::try_from(n).ok());
        let most = most.unwrap_or(MOST).min(MOST);
        let mut found: Vec<&Entry> = match content["hist_access_type"].as_str() {
            Some("range") => self.range(content),
            Some("search") => self.search(content),
            _ => self.entries.iter().collect(),
        };
        found.drain(..found.len().saturating_sub(most));
        let wants_output = content["output"].as_bool().unwrap_or(false);
        let entries: Vec<Value> = found
            .into_iter()
            .map(|entry| match wants_output {
                true => json!([1, entry.line, [entry.input, entry.output]]),
                false => json!([1, entry.line, entry.input]),
            })
            .collect();
        json!({"status": "ok", "history": entries})
    }

    /// Lines from `start` to before `stop`, of this session: 0 names it, as 1 does.
    fn range(&self, content: &Value) -> Vec<&Entry> {
        let session = content["session"].as_i64().unwrap_or(0);
        let start = content["start"].as_u64().unwrap_or(0);
        let stop = content["stop"].as_u64().unwrap_or(u64::MAX);
        let is_this = session == 0 || session == 1;
        let inside = |entry: &&Entry| is_this && entry.line >= start && entry.line < stop;
        self.entries.iter().filter(inside).collect()
    }

    fn search(&self, content: &Value) -> Vec<&Entry> {
        let pattern: Vec<char> = content["pattern"].as_str().unwrap_or("*").chars().collect();
        let is_unique = content["unique"].as_bool().unwrap_or(false);
        let fits = |entry: &&Entry| fits(&pattern, &entry.input);
        let mut found: Vec<&Entry> = self.entries.iter().filter(fits).collect();
        if is_unique {
            let mut met = std::collections::HashSet::new();
            found.reverse();
            found.retain(|entry| met.insert(entry.input.as_str()));
            found.reverse();
        }
        found
    }
}

/// Whether a text fits a pattern with `*` for any characters and `?` for one.
fn fits(pattern: &[char], text: &str) -> bool {
    let text: Vec<char> = text.chars().collect();
    let (mut p, mut t) = (0, 0);
    // Where the last star stood, and how much of the text it has taken.
    let mut star: Option<(usize, usize)> = None;
    while t < text.len() {
        match pattern.get(p) {
            Some('*') => {
                star = Some((p, t));
                p += 1;
            }
            Some(c) if *c == '?' || *c == text[t] => {
                p += 1;
                t += 1;
            }
            _ => match star {
                Some((at, taken)) => {
                    star = Some((at, taken + 1));
                    p = at + 1;
                    t = taken + 1;
                }
                None => return false,
            },
        }
    }
    pattern[p..].iter().all(|c| *c == '*')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn history() -> History {
        let mut history = History::default();
        for (line, input) in [(1, "a = 1 cm"), (2, "show a"), (3, "show a"), (4, "b = 2")] {
            history.add(line, input, None);
        }
        history
    }

    fn lines(content: &Value) -> Vec<u64> {
        let answer = history().answer(content);
        let entries = answer["history"].as_array().unwrap();
        entries.iter().map(|e| e[1].as_u64().unwrap()).collect()
    }

    #[test]
    fn tail_range_and_search_give_their_lines() {
        let tail = json!({"hist_access_type": "tail", "n": 2});
        assert_eq!(lines(&tail), [3, 4]);
        let range = json!({"hist_access_type": "range", "session": 0, "start": 2, "stop": 4});
        assert_eq!(lines(&range), [2, 3]);
        // Without `n` and `unique`, which the protocol says are optional.
        let search = json!({"hist_access_type": "search", "pattern": "show*"});
        assert_eq!(lines(&search), [2, 3]);
        let unique = json!({"hist_access_type": "search", "pattern": "*a*", "unique": true});
        assert_eq!(lines(&unique), [1, 3]);
        let other = json!({"hist_access_type": "range", "session": 7});
        assert!(lines(&other).is_empty());
    }

    #[test]
    fn patterns_are_those_of_a_shell_and_take_no_time_to_fail() {
        let fits = |pattern: &str, text| fits(&pattern.chars().collect::<Vec<_>>(), text);
        assert!(fits("a?c*", "abcd") && fits("*", "") && fits("**x", "aax"));
        assert!(!fits("a?", "a") && !fits("", "a"));
        assert!(!fits(&"*a".repeat(50), &"b".repeat(10_000)));
    }

    #[test]
    fn outputs_come_on_demand() {
        let mut history = History::default();
        history.add(1, ":value 1", Some("1".into()));
        let answer = history.answer(&json!({"hist_access_type": "tail", "output": true}));
        assert_eq!(answer["history"], json!([[1, 1, [":value 1", "1"]]]));
    }
}

//! The reader that writes a browser function: values, states, partials and what was used.
//!
//! [`script`] turns a [`Tape`] into one arrow function of ECMAScript 2017 that needs nothing but
//! [`PRELUDE`]. It keeps the states and the fault rules of the evaluator. The four operations and
//! the root are those of IEEE 754 and give the same bits; exponential, logarithm, cosine and power
//! are the browser's, for which ECMA-262 (21.3.2) asks for no accuracy: results agree with the
//! library's to 1e-12 relative, not to the last bit. In Chromium the functions themselves came
//! within 1e-15, and the tests hold them to that (`tests/browser/`).
//!
//! ```
//! use semilunar::formula::{OperandFacts, Target, notation, resolve, script};
//! use semilunar::quantity::Unit;
//!
//! let parsed = notation::formula("d * d", 0).unwrap();
//! let cm = OperandFacts::plain(Unit::parse("cm").unwrap());
//! let tape = resolve(&parsed.formula, &[cm], &["d"], Target::default()).unwrap().tape;
//! let text = script(&tape);
//! assert!(text.starts_with("(v,s,m)=>{let a0=v[0],t0=s[0],"), "{text}");
//! ```
//!
//! # The function
//!
//! `(v, s, m)` takes the values and states of the operands, then of the cell's own reading where
//! the formula uses it. It returns an array: value, state, and
//!
//! - for `m` = 1 the partials with respect to every operand, as [`super::gradient`] gives them, then
//!   for each the sum of the sizes of what it was added up from, which tells what cancelled;
//! - for `m` = 2 for each operand 1 or 3 where the result used it, as [`super::used_inputs`] says, and
//!   3 where it stands in the way of a result; then the operations that stand in the way by
//!   themselves: pairs of the operation's index in the formula and a [`Stop`] as a number.

use std::fmt::Write;

use super::judge::Trouble;
use super::status::origin_bits;
use super::tape::{Order, Reg, StateTest, Step, Tape};

/// What every function of [`script`] calls; stands once before them.
pub const PRELUDE: &str = include_str!("script/prelude.js");

/// Why a way ends at an operation, as the function numbers it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// The value is withheld.
    Withheld,
    /// The operation failed.
    Fault(Trouble),
}

impl Stop {
    /// Every reason, in the order of its number.
    pub const ALL: [Stop; 7] = [
        Stop::Withheld,
        Stop::Fault(Trouble::DividesByZero),
        Stop::Fault(Trouble::RootOfNegative),
        Stop::Fault(Trouble::LogOfNonPositive),
        Stop::Fault(Trouble::PowerWithoutValue),
        Stop::Fault(Trouble::BoundsCross),
        Stop::Fault(Trouble::TooLarge),
    ];

    /// The number in the function's answer.
    pub fn number(self) -> usize {
        match self {
            Stop::Withheld => 0,
            Stop::Fault(Trouble::DividesByZero) => 1,
            Stop::Fault(Trouble::RootOfNegative) => 2,
            Stop::Fault(Trouble::LogOfNonPositive) => 3,
            Stop::Fault(Trouble::PowerWithoutValue) => 4,
            Stop::Fault(Trouble::BoundsCross) => 5,
            Stop::Fault(Trouble::TooLarge) => 6,
        }
    }
}

/// How one step reads in the script.
struct Spelling {
    value: String,
    state: String,
    /// Argument, slope, and the condition under which the result depends on it.
    slopes: Vec<(Reg, String, Option<String>)>,
    /// Argument, and the condition under which the result used it.
    used: Vec<(Reg, Option<String>)>,
    /// The number of the [`Stop`] if the step fails by itself.
    trouble: Option<String>,
    withheld: bool,
}

/// Writes the browser function of a formula.
pub fn script(tape: &Tape) -> String {
    let inputs = tape.inputs();
    let spellings: Vec<Spelling> = tape.steps.iter().enumerate().map(spell).collect();
    let mut text = String::from("(v,s,m)=>{let ");
    let mut made: Vec<String> = Vec::new();
    for i in 0..inputs {
        made.push(format!("a{i}=v[{i}],t{i}=s[{i}]"));
    }
    for (i, spelling) in spellings.iter().enumerate() {
        let at = inputs + i;
        let (value, state) = (&spelling.value, &spelling.state);
        let fill = |text: &str| text.replace('@', &at.to_string());
        made.push(format!("a{at}={},t{at}={}", fill(value), fill(state)));
    }
    made.push(format!("r=[a{},{}]", tape.result, result_state(tape)));
    text.push_str(&made.join(","));
    text.push(';');
    partials(&mut text, tape, &spellings);
    used(&mut text, tape, &spellings);
    text.push_str("return r}");
    text
}

/// The state of the result; of a straight formula that of all inputs counts first, as in the
/// evaluator.
fn result_state(tape: &Tape) -> String {
    let settled = format!("Z(t{})", tape.result);
    if !tape.is_straight || tape.inputs() == 0 {
        return settled;
    }
    let all: Vec<String> = (0..tape.inputs()).map(|i| format!("t{i}")).collect();
    let all = all.join("|");
    format!("({all})&12?Z({all}):{settled}")
}

fn registers(letter: char, tape: &Tape) -> String {
    let at_result = if letter == 'u' { 3 } else { 1 };
    let set = |i: usize| {
        format!(
            "{letter}{i}={}",
            if i == tape.result() { at_result } else { 0 }
        )
    };
    let all: Vec<String> = (0..tape.registers()).map(set).collect();
    all.join(",")
}

fn answer(letter: char, tape: &Tape) -> String {
    let all: Vec<String> = (0..tape.inputs()).map(|i| format!("{letter}{i}")).collect();
    format!("[{}]", all.join(","))
}

/// The sweep back for `m` = 1.
fn partials(text: &mut String, tape: &Tape, spellings: &[Spelling]) {
    if tape.registers() == 0 {
        return;
    }
    let (slopes, sizes) = (registers('d', tape), registers('e', tape));
    let _ = write!(text, "if(m===1){{let p,{slopes},{sizes};if(!(r[1]&12)){{");
    for (i, spelling) in spellings.iter().enumerate().rev() {
        let at = tape.inputs() + i;
        if spelling.slopes.is_empty() {
            continue;
        }
        let _ = write!(text, "if(e{at}!==0){{");
        for (a, slope, condition) in &spelling.slopes {
            let slope = slope.replace('@', &at.to_string());
            let add = match slope.as_str() {
                "1" => format!("d{a}+=d{at},e{a}+=e{at};"),
                "-1" => format!("d{a}-=d{at},e{a}+=e{at};"),
                _ => format!("p={slope},d{a}+=d{at}*p,e{a}+=e{at}*Math.abs(p);"),
            };
            let _ = match condition {
                Some(condition) => write!(text, "if({condition}){add}"),
                None => write!(text, "{add}"),
            };
        }
        text.push('}');
    }
    let (slopes, sizes) = (answer('d', tape), answer('e', tape));
    let _ = write!(text, "}}r.push({slopes},{sizes})}}");
}

/// The sweep back for `m` = 2.
fn used(text: &mut String, tape: &Tape, spellings: &[Spelling]) {
    if tape.registers() == 0 {
        return;
    }
    text.push_str("if(m===2){let w=[],");
    text.push_str(&registers('u', tape));
    text.push(';');
    for (i, spelling) in spellings.iter().enumerate().rev() {
        let at = tape.inputs() + i;
        let source = tape.source.get(i).copied().unwrap_or(0);
        if spelling.used.is_empty() && !spelling.withheld {
            continue;
        }
        let _ = write!(text, "if(u{at}){{");
        if spelling.withheld {
            let _ = write!(text, "if(u{at}&2)w.push([{source},0]);");
        }
        if let Some(trouble) = &spelling.trouble {
            let trouble = trouble.replace('@', &at.to_string());
            let sound: Vec<String> = spelling.used.iter().map(|(a, _)| format!("t{a}")).collect();
            let _ = write!(
                text,
                "if(u{at}&2&&t{at}&8&&!(({})&8))w.push([{source},{trouble}]);",
                sound.join("|")
            );
        }
        for (a, condition) in &spelling.used {
            let mark = format!("u{a}|=U(u{at},t{at},t{a});");
            let _ = match condition {
                Some(condition) => write!(text, "if({condition}){mark}"),
                None => write!(text, "{mark}"),
            };
        }
        text.push('}');
    }
    let _ = write!(text, "r.push({},w)}}", answer('u', tape));
}

/// A number as the script reads it back: the shortest text that gives the same bits.
fn number(value: f64) -> String {
    let text = if value.is_nan() {
        "NaN".to_owned()
    } else if value.is_infinite() {
        if value > 0.0 { "Infinity" } else { "-Infinity" }.to_owned()
    } else {
        format!("{value:?}")
    };
    match text.starts_with('-') {
        true => format!("({text})"),
        false => text,
    }
}

/// A step that computes from the values of its arguments; the new register is `@`.
fn plain(value: String, arguments: &[Reg]) -> Spelling {
    let mut met: Vec<Reg> = Vec::new();
    for a in arguments {
        if !met.contains(a) {
            met.push(*a);
        }
    }
    let joined: Vec<String> = met.iter().map(|a| format!("t{a}")).collect();
    Spelling {
        value,
        state: format!("K(a@,{})", joined.join("|")),
        slopes: Vec::new(),
        used: met.iter().map(|a| (*a, None)).collect(),
        trouble: Some(Stop::Fault(Trouble::TooLarge).number().to_string()),
        withheld: false,
    }
}

impl Spelling {
    fn slope(mut self, a: Reg, slope: impl Into<String>) -> Self {
        self.slopes.push((a, slope.into(), None));
        self
    }

    fn slope_if(mut self, condition: String, a: Reg, slope: impl Into<String>) -> Self {
        self.slopes.push((a, slope.into(), Some(condition)));
        self
    }

    /// The step fails with this trouble where the condition holds, else for its size.
    fn fails(mut self, condition: String, trouble: Trouble) -> Self {
        let (own, large) = (
            Stop::Fault(trouble).number(),
            Stop::Fault(Trouble::TooLarge).number(),
        );
        self.trouble = Some(format!("{condition}?{own}:{large}"));
        self
    }

    fn state(mut self, state: impl Into<String>) -> Self {
        self.state = state.into();
        self
    }

    /// The step only passes states on or asks for them.
    fn sound(mut self) -> Self {
        self.trouble = None;
        self
    }
}

fn fixed(value: String, state: &str, withheld: bool) -> Spelling {
    Spelling {
        value,
        state: state.into(),
        slopes: Vec::new(),
        used: Vec::new(),
        trouble: None,
        withheld,
    }
}

/// A test of findings: false, not missing, where one is not stated.
fn truth(holds: &str, arguments: &[Reg]) -> Spelling {
    let joined: Vec<String> = arguments.iter().map(|a| format!("t{a}")).collect();
    let joined = joined.join("|");
    plain(format!("({joined})&12?0:+({holds})"), arguments)
        .state(format!("({joined})&8?8:({joined})&4?0:{joined}"))
        .sound()
}

fn spell((_, step): (usize, &Step)) -> Spelling {
    match *step {
        Step::Constant(k) => fixed(number(k), "0", false),
        Step::Negate(a) => plain(format!("-a{a}"), &[a]).slope(a, "-1"),
        Step::Sqrt(a) => plain(format!("Math.sqrt(a{a})"), &[a])
            .slope(a, "0.5/a@")
            .fails(format!("a{a}<0"), Trouble::RootOfNegative),
        Step::Exp(a) => plain(format!("Math.exp(a{a})"), &[a]).slope(a, "a@"),
        Step::Ln(a) => plain(format!("Math.log(a{a})"), &[a])
            .slope(a, format!("1/a{a}"))
            .fails(format!("a{a}<=0"), Trouble::LogOfNonPositive),
        Step::Cos(a) => plain(format!("Math.cos(a{a})"), &[a]).slope(a, format!("-Math.sin(a{a})")),
        Step::Abs(a) => plain(format!("Math.abs(a{a})"), &[a]).slope(a, format!("a{a}<0?-1:1")),
        Step::Add(a, b) => plain(format!("a{a}+a{b}"), &[a, b])
            .slope(a, "1")
            .slope(b, "1"),
        Step::AddNumber(a, k) => plain(format!("a{a}+{}", number(k)), &[a]).slope(a, "1"),
        Step::Subtract(a, b) => plain(format!("a{a}-a{b}"), &[a, b])
            .slope(a, "1")
            .slope(b, "-1"),
        Step::Multiply(a, b) => plain(format!("a{a}*a{b}"), &[a, b])
            .slope(a, format!("a{b}"))
            .slope(b, format!("a{a}")),
        Step::Times(a, k) => plain(format!("a{a}*{}", number(k)), &[a]).slope(a, number(k)),
        Step::Divide(a, b) => plain(format!("a{a}/a{b}"), &[a, b])
            .slope(a, format!("1/a{b}"))
            .slope(b, format!("-a@/a{b}"))
            .fails(format!("a{b}===0"), Trouble::DividesByZero),
        Step::Over(a, k) => {
            plain(format!("a{a}/{}", number(k)), &[a]).slope(a, format!("1/{}", number(k)))
        }
        Step::Power(a, b) => plain(format!("Math.pow(a{a},a{b})"), &[a, b])
            // x⁰ is flat, even at 0 where x⁻¹ has no value.
            .slope_if(
                format!("a{b}!==0"),
                a,
                format!("a{b}*Math.pow(a{a},a{b}-1)"),
            )
            // The slope in the exponent exists for a positive base only.
            .slope_if(format!("a{a}>0"), b, format!("a@*Math.log(a{a})"))
            .fails(
                format!("Number.isNaN(a@)||a{a}===0&&a{b}<0"),
                Trouble::PowerWithoutValue,
            ),
        Step::WholePower(a, 0) => plain(format!("W(a{a},0)"), &[a]),
        Step::WholePower(a, n) => plain(format!("W(a{a},{n})"), &[a])
            .slope(a, format!("{}*W(a{a},{})", number(f64::from(n)), n - 1))
            .fails(format!("a{a}===0"), Trouble::PowerWithoutValue),
        Step::Min(a, b) => plain(format!("a{b}<a{a}?a{b}:a{a}"), &[a, b])
            .slope_if(format!("!(a{b}<a{a})"), a, "1")
            .slope_if(format!("a{b}<a{a}"), b, "1"),
        Step::Max(a, b) => plain(format!("a{b}>a{a}?a{b}:a{a}"), &[a, b])
            .slope_if(format!("!(a{b}>a{a})"), a, "1")
            .slope_if(format!("a{b}>a{a}"), b, "1"),
        Step::Clamp(a, low, high) => plain(format!("C(a{a},a{low},a{high})"), &[a, low, high])
            .slope_if(format!("a{a}<a{low}"), low, "1")
            .slope_if(format!("!(a{a}<a{low})&&a{a}>a{high}"), high, "1")
            .slope_if(format!("!(a{a}<a{low}||a{a}>a{high})"), a, "1")
            .fails(format!("a{low}>a{high}"), Trouble::BoundsCross),
        Step::Compare(order, a, b) => {
            let name = match order {
                Order::Less => "LT",
                Order::LessEqual => "LE",
            };
            plain(format!("{name}(a{a},a{b})"), &[a, b])
        }
        Step::Not(a) => plain(format!("1-a{a}"), &[a]),
        Step::Select(c, a, b) => select(c, a, b),
        Step::Else(a, b) => otherwise(a, b),
        Step::And(a, b) => decided(a, b, 0),
        Step::Or(a, b) => decided(a, b, 1),
        Step::IsWord(a, word) => truth(&format!("a{a}==={word}"), &[a]),
        Step::Differs(a, b) => truth(&format!("a{a}!==a{b}"), &[a, b]),
        Step::IsState(a, test) => {
            let holds = match test {
                StateTest::Known => format!("!(t{a}&12)"),
                StateTest::Missing => format!("(t{a}&12)===4"),
                StateTest::Origin(origin) => format!("Z(t{a})==={}", origin_bits(origin)),
            };
            plain(format!("+({holds})"), &[a]).state("0").sound()
        }
        Step::Withheld => fixed("1".into(), "4", true),
        Step::Marked(origin, a) => plain(format!("a{a}"), &[a])
            .state(format!("t{a}|{}", origin_bits(origin)))
            .slope(a, "1")
            .sound(),
    }
}

fn select(c: Reg, a: Reg, b: Reg) -> Spelling {
    let known = format!("!(t{c}&12)");
    let (yes, no) = (format!("a{c}!==0"), format!("a{c}===0"));
    Spelling {
        value: format!("{known}?{yes}?a{a}:a{b}:a{c}"),
        state: format!("{known}?(({yes}?t{a}:t{b})|t{c}):t{c}"),
        slopes: vec![
            (a, "1".into(), Some(yes.clone())),
            (b, "1".into(), Some(no.clone())),
        ],
        used: vec![
            (c, None),
            (a, Some(format!("{known}&&{yes}"))),
            (b, Some(format!("{known}&&{no}"))),
        ],
        trouble: None,
        withheld: false,
    }
}

fn otherwise(a: Reg, b: Reg) -> Spelling {
    let missing = format!("(t{a}&12)===4");
    let there = format!("(t{a}&12)!==4");
    Spelling {
        value: format!("{missing}?a{b}:a{a}"),
        state: format!("{missing}?t{b}:t{a}"),
        slopes: vec![
            (a, "1".into(), Some(there.clone())),
            (b, "1".into(), Some(missing.clone())),
        ],
        used: vec![
            (b, Some(missing)),
            // A value that is missing on both sides waits for either.
            (a, Some(format!("{there}||(t{b}&12)===4"))),
        ],
        trouble: None,
        withheld: false,
    }
}

fn decided(a: Reg, b: Reg, decisive: u8) -> Spelling {
    let by = |x: Reg| format!("D(a{x},t{x},{decisive})");
    let (first, second) = (by(a), by(b));
    plain(
        format!("{first}?a{a}:{second}?a{b}:{}", 1 - decisive),
        &[a, b],
    )
    .state(format!("{first}?t{a}:{second}?t{b}:t{a}|t{b}"))
    .sound()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::{OperandFacts, Target, notation, resolve};

    fn text_of(formula: &str) -> String {
        let parsed = notation::formula(formula, 0).unwrap();
        let facts = vec![OperandFacts::plain(crate::quantity::Unit::ONE); parsed.names.len()];
        let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
        let resolved = resolve(&parsed.formula, &facts, &names, Target::default()).unwrap();
        script(&resolved.tape)
    }

    #[test]
    fn a_straight_formula_joins_all_inputs_first() {
        let text = text_of("a / b");
        assert!(
            text.contains("a2=a0/a1,t2=K(a2,t0|t1),r=[a2,(t0|t1)&12?Z(t0|t1):Z(t2)]"),
            "{text}"
        );
        assert!(
            text.contains(
                "if(e2!==0){p=1/a1,d0+=d2*p,e0+=e2*Math.abs(p);p=-a2/a1,d1+=d2*p,e1+=e2*Math.abs(p);}"
            ),
            "{text}"
        );
        assert!(text.contains("w.push([2,a1===0?1:6])"), "{text}");
    }

    #[test]
    fn stops_are_numbered_by_their_place() {
        for (number, stop) in Stop::ALL.into_iter().enumerate() {
            assert_eq!(stop.number(), number);
        }
    }

    #[test]
    fn numbers_keep_their_bits() {
        // ECMAScript reads decimal literals to the nearest double (ECMA-262, 12.9.3), as Rust does.
        for value in [0.1, 133.322, 1e-9, 1e21, f64::MIN_POSITIVE, 2.0] {
            let text = number(value);
            assert_eq!(text.parse::<f64>().unwrap().to_bits(), value.to_bits());
        }
        assert_eq!(number(-0.5), "(-0.5)");
    }
}

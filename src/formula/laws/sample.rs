//! Random formulas: text that makes sense in units, and operands in every state.

use std::sync::Arc;

use proptest::prelude::*;

use crate::formula::notation::{self, Parsed};
use crate::formula::{Facet, Given, Lane, OperandFacts, Resolved, Status, Target, resolve};
use crate::quantity::{Kind, Origin, Unit};

/// Exponents of length, time, mass and angle.
pub(super) type Exponents = [i8; 4];

const NONE: Exponents = [0, 0, 0, 0];
const ANGLE: Exponents = [0, 0, 0, 1];

/// Operands by name, with their dimension and the units they may be kept in.
const OPERANDS: &[(&str, Exponents, &[&str])] = &[
    ("lvot_diameter", [1, 0, 0, 0], &["cm", "mm", "m", "[in_i]"]),
    ("lvot_vti", [1, 0, 0, 0], &["cm", "m", "mm"]),
    ("before.time", [0, 1, 0, 0], &["s", "min", "ms"]),
    ("rate", [0, -1, 0, 0], &["/min", "/s", "Hz"]),
    ("volume", [3, 0, 0, 0], &["mL", "L", "cm3"]),
    ("pressure", [-1, -2, 1, 0], &["mm[Hg]", "kPa", "cm[H2O]"]),
    ("weight", [0, 0, 1, 0], &["kg", "g", "[lb_av]"]),
    ("share", NONE, &["1", "%"]),
    ("count", NONE, &["1"]),
    ("angle", ANGLE, &["deg", "rad"]),
];

const FINDINGS: &[&str] = &["rhythm", "after.rhythm"];
const WORDS: &[&str] = &["regular", "irregular", "paced"];

/// Targets a formula may have, one unit for each dimension.
const TARGETS: &[(&str, Exponents)] = &[
    ("1", NONE),
    ("cm", [1, 0, 0, 0]),
    ("mL", [3, 0, 0, 0]),
    ("/min", [0, -1, 0, 0]),
    ("mm[Hg]", [-1, -2, 1, 0]),
    ("L/min", [3, -1, 0, 0]),
    ("deg", ANGLE),
];

/// Numbers drawn from one case; 0 for ever when they run out, which makes leaves.
pub(super) struct Choices {
    numbers: Vec<u16>,
    next: usize,
}

impl Choices {
    pub(super) fn new(numbers: Vec<u16>) -> Self {
        Choices { numbers, next: 0 }
    }

    pub(super) fn below(&mut self, bound: usize) -> usize {
        let number = self.numbers.get(self.next).copied().unwrap_or(0);
        self.next += 1;
        usize::from(number) % bound
    }

    fn of<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.below(list.len())]
    }
}

/// The cases of a law.
pub(super) fn choices() -> impl Strategy<Value = Vec<u16>> {
    prop::collection::vec(any::<u16>(), 4..160)
}

/// A formula with all that its readers need.
#[derive(Debug)]
pub(super) struct Sample {
    pub(super) text: String,
    pub(super) parsed: Parsed,
    pub(super) facts: Vec<OperandFacts>,
    pub(super) target: Target,
}

impl Sample {
    pub(super) fn draw(choices: &mut Choices) -> Sample {
        let is_condition = choices.below(6) == 5;
        let (unit, exponents) = *choices.of(TARGETS);
        let mut writer = Writer {
            choices,
            own: if is_condition { NONE } else { exponents },
        };
        let text = match is_condition {
            true => writer.condition(4),
            false => writer.quantity(exponents, 5),
        };
        let target = Target {
            unit: (!is_condition).then(|| Unit::parse(unit).unwrap()),
            kind: Kind::Plain,
            condition: is_condition,
        };
        let parsed = notation::formula(&text, 0).unwrap_or_else(|e| panic!("{text}: {e:?}"));
        let facts = facts(&parsed, choices);
        Sample {
            text,
            parsed,
            facts,
            target,
        }
    }

    pub(super) fn names(&self) -> Vec<&str> {
        self.parsed.names.iter().map(String::as_str).collect()
    }

    pub(super) fn resolved(&self) -> Resolved {
        resolve(
            &self.parsed.formula,
            &self.facts,
            &self.names(),
            self.target,
        )
        .unwrap_or_else(|misfits| panic!("{}: {misfits:?}", self.text))
    }

    pub(super) fn uses_reading(&self) -> bool {
        self.parsed.formula.uses_reading()
    }

    /// The unit of each input: the operands, then the own reading.
    pub(super) fn input_units(&self) -> Vec<Unit> {
        let own = self.target.unit.unwrap_or(Unit::ONE);
        let units = self.facts.iter().map(|f| f.unit);
        units.chain(self.uses_reading().then_some(own)).collect()
    }

    /// One state and value for each input.
    pub(super) fn draw_inputs(&self, choices: &mut Choices) -> Vec<Lane> {
        let mut inputs: Vec<Lane> = Vec::new();
        for (k, facts) in self.facts.iter().enumerate() {
            inputs.push(match self.parsed.formula.operands()[k] {
                Facet::Beats => Lane::measured(1.0 + choices.below(9) as f64),
                Facet::Largest | Facet::Unobtainable | Facet::Given => {
                    Lane::measured(choices.below(2) as f64)
                }
                Facet::Value if !facts.words.is_empty() => {
                    let word = choices.below(facts.words.len()) as f64;
                    stated(word, choices)
                }
                Facet::Value => {
                    let value = magnitude(choices);
                    stated(value, choices)
                }
            });
        }
        if self.uses_reading() {
            let value = magnitude(choices);
            inputs.push(stated(value, choices));
        }
        inputs
    }

    /// The same inputs as the judge takes them, in coherent units.
    pub(super) fn given(&self, inputs: &[Lane]) -> Vec<Given> {
        let units = self.input_units();
        inputs
            .iter()
            .zip(units)
            .map(|(lane, unit)| {
                if lane.status.is_faulty() {
                    Given::Faulty
                } else if lane.status.is_missing() {
                    Given::Missing
                } else {
                    Given::Known {
                        value: lane.value * unit.factor(),
                        origin: lane.status.origin(),
                    }
                }
            })
            .collect()
    }

    pub(super) fn word_of(&self, operand: u32, word: &str) -> Option<u16> {
        let words = &self.facts[operand as usize].words;
        words.iter().position(|w| **w == *word).map(|w| w as u16)
    }
}

/// What each operand is; `choices` settle its unit.
pub(super) fn facts(parsed: &Parsed, choices: &mut Choices) -> Vec<OperandFacts> {
    let one = |(name, facet): (&String, &Facet)| {
        if *facet != Facet::Value {
            return OperandFacts::plain(Unit::ONE);
        }
        match OPERANDS.iter().find(|(n, ..)| n == name) {
            Some((_, _, units)) => {
                OperandFacts::plain(Unit::parse(choices.of::<&str>(units)).unwrap())
            }
            None => OperandFacts {
                words: WORDS.iter().map(|w| Arc::from(*w)).collect(),
                ..OperandFacts::plain(Unit::ONE)
            },
        }
    };
    let facets = parsed.formula.operands();
    parsed.names.iter().zip(facets).map(one).collect()
}

fn stated(value: f64, choices: &mut Choices) -> Lane {
    let status = match choices.below(12) {
        0..7 => Status::MEASURED,
        7 => Status::known(Origin::Estimated),
        8 => Status::known(Origin::Assumed),
        9 | 10 => return Lane::MISSING,
        _ => Status::FAULTY,
    };
    let value = if status.is_faulty() { f64::NAN } else { value };
    Lane { value, status }
}

fn magnitude(choices: &mut Choices) -> f64 {
    let sizes = [1.0, 0.0, 2.5, 17.8, 96.0, 1e-3, 1e-12, 1e12, 1e-150, 1e150];
    let size = *choices.of(&sizes);
    let value = size * (1.0 + choices.below(1000) as f64 / 999.0);
    if choices.below(4) == 3 { -value } else { value }
}

struct Writer<'a> {
    choices: &'a mut Choices,
    /// The dimension of the own reading.
    own: Exponents,
}

fn plus(a: Exponents, b: Exponents) -> Exponents {
    std::array::from_fn(|i| a[i] + b[i])
}

fn minus(a: Exponents, b: Exponents) -> Exponents {
    std::array::from_fn(|i| a[i] - b[i])
}

impl Writer<'_> {
    /// A text in parentheses of a quantity of this dimension.
    fn quantity(&mut self, e: Exponents, depth: usize) -> String {
        let is_wide = e.iter().any(|x| x.abs() > 6);
        if depth == 0 || is_wide {
            return self.leaf(e);
        }
        let d = depth - 1;
        match self.choices.below(24) {
            0 => self.leaf(e),
            1 | 2 => self.two(e, "+", e, d),
            3 | 4 => self.two(e, "-", e, d),
            5 | 6 => {
                let first = self.some_dimension();
                self.two(first, "*", minus(e, first), d)
            }
            7 | 8 => {
                let second = self.some_dimension();
                self.two(plus(e, second), "/", second, d)
            }
            9 => self.power(e, d),
            10 => match plus(e, e) {
                double if double.iter().all(|x| x.abs() <= 6) => {
                    format!("sqrt({})", self.quantity(double, d))
                }
                _ => self.leaf(e),
            },
            11 => format!("(-{})", self.quantity(e, d)),
            12 => format!("abs({})", self.quantity(e, d)),
            13 | 14 => {
                let name = *self.choices.of(&["min", "max", "mean"]);
                let count = 1 + self.choices.below(3);
                let args: Vec<String> = (0..count).map(|_| self.quantity(e, d)).collect();
                format!("{name}({})", args.join(", "))
            }
            15 => {
                let [a, b, c] = [(); 3].map(|()| self.quantity(e, d));
                format!("clamp({a}, {b}, {c})")
            }
            16 | 17 => {
                let c = self.condition(d);
                let [a, b] = [(); 2].map(|()| self.quantity(e, d));
                format!("(if {c} then {a} else {b})")
            }
            18 | 19 => self.two(e, "else", e, d),
            20 => {
                let word = *self.choices.of(&["estimated", "assumed"]);
                format!("{word}({})", self.quantity(e, d))
            }
            21 => format!("({} else withheld \"not today\")", self.quantity(e, d)),
            22 if e == self.own => "reading".into(),
            22 | 23 if e == NONE => match self.choices.below(4) {
                0 => format!("exp({})", self.quantity(NONE, d)),
                1 => format!("ln({})", self.quantity(NONE, d)),
                2 => format!("cos({})", self.quantity(ANGLE, d)),
                _ => "beat_count(lvot_vti)".into(),
            },
            _ => self.leaf(e),
        }
    }

    fn two(&mut self, a: Exponents, sign: &str, b: Exponents, depth: usize) -> String {
        let a = self.quantity(a, depth);
        format!("({a} {sign} {})", self.quantity(b, depth))
    }

    fn power(&mut self, e: Exponents, depth: usize) -> String {
        if e == NONE {
            let base = self.quantity(NONE, depth);
            let exponent = match self.choices.below(6) {
                0 => "0.425".into(),
                1 => "(-0.5)".into(),
                2 => "0".into(),
                3 => "3".into(),
                4 => "(-2)".into(),
                _ => self.quantity(NONE, depth),
            };
            return format!("({base}^{exponent})");
        }
        for n in [3, 2] {
            if e.iter().all(|x| x % n == 0) {
                let root = e.map(|x| x / n);
                let sign = self.choices.below(3) == 2;
                let base = if sign { root.map(|x| -x) } else { root };
                let exponent = if sign {
                    format!("(-{n})")
                } else {
                    n.to_string()
                };
                return format!("({}^{exponent})", self.quantity(base, depth));
            }
        }
        format!("({}^1)", self.quantity(e, depth))
    }

    fn some_dimension(&mut self) -> Exponents {
        match self.choices.below(3) {
            0 => NONE,
            _ => self.choices.of(OPERANDS).1,
        }
    }

    fn leaf(&mut self, e: Exponents) -> String {
        let fitting: Vec<&str> = OPERANDS
            .iter()
            .filter(|(_, exponents, _)| *exponents == e)
            .map(|(name, ..)| *name)
            .collect();
        if !fitting.is_empty() && self.choices.below(3) != 2 {
            return (*self.choices.of(&fitting)).into();
        }
        if e == NONE && self.choices.below(8) == 7 {
            return "pi".into();
        }
        let numbers = ["2", "0", "1", "0.5", "152.4", "1e-9", "2.5e7", "0.007184"];
        let number = *self.choices.of(&numbers);
        match self.unit(e) {
            unit if unit.is_empty() => number.into(),
            unit => format!("({number} {unit})"),
        }
    }

    fn unit(&mut self, e: Exponents) -> String {
        let atoms: [&[&str]; 4] = [
            &["cm", "m", "mm"],
            &["s", "min", "ms"],
            &["g", "kg"],
            &["deg", "rad"],
        ];
        let mut parts: Vec<String> = Vec::new();
        for (exponent, atoms) in e.into_iter().zip(atoms) {
            let atom = *self.choices.of(atoms);
            match exponent {
                0 => {}
                1 => parts.push(atom.into()),
                n => parts.push(format!("{atom}{n}")),
            }
        }
        if parts.is_empty() && self.choices.below(4) == 3 {
            return "%".into();
        }
        parts.join(".")
    }

    fn condition(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        let kinds = if depth == 0 { 6 } else { 12 };
        match self.choices.below(kinds) {
            0 => {
                let word = *self.choices.of(WORDS);
                let is = *self.choices.of(&["is", "is not"]);
                format!("{} {is} {word}", self.choices.of(FINDINGS))
            }
            1 => {
                let (name, ..) = self.choices.of(OPERANDS);
                let words = ["known", "missing", "measured", "estimated", "assumed"];
                format!("{name} is {}", self.choices.of(&words))
            }
            2 => {
                let (name, ..) = self.choices.of(OPERANDS);
                format!(
                    "{name} is {}",
                    self.choices.of(&["largest", "unobtainable"])
                )
            }
            3 => format!("reading is {}", self.choices.of(&["known", "unobtainable"])),
            4 => format!("differs({}, {})", FINDINGS[0], FINDINGS[1]),
            5 | 6 => {
                let e = self.some_dimension();
                let sign = *self.choices.of(&["<", "<=", ">", ">="]);
                self.two(e, sign, e, d)
            }
            7 | 8 => format!("({} and {})", self.condition(d), self.condition(d)),
            9 | 10 => format!("({} or {})", self.condition(d), self.condition(d)),
            _ => format!("(not {})", self.condition(d)),
        }
    }
}

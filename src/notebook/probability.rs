//! `show probability of …`: by the linear answer, and by draws where that is another.
//! [`simulated`](super::simulated) counts draws where that is asked for.

use super::charts_of::in_unit_of;
use super::render::{Rendered, Rendering};
use super::trust::{but, paragraph, propagated};
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Name};
use crate::quantity::Reading;
use crate::sheet::Sheet;
use crate::uncertainty::{
    Settings, Simulation, decide, limit_words, limits_of, names_of, published_sentence, simulate,
};

/// A threshold, and the side of it that is asked of a cell.
pub(super) struct Beyond {
    pub(super) cell: CellId,
    /// In the cell's unit.
    pub(super) limit: f64,
    pub(super) is_above: bool,
    limit_words: String,
}

impl Beyond {
    /// What `NAME > 15 %` asks.
    pub(super) fn of(
        rendering: &Rendering<'_>,
        name: &Name,
        is_above: bool,
        threshold: &Reading,
    ) -> Result<Beyond, Vec<Diagnostic>> {
        let cell = rendering.number_cell(name)?;
        let (limit, limit_words) = in_unit_of(rendering, (name, cell), threshold)?;
        Ok(Beyond {
            cell,
            limit,
            is_above,
            limit_words,
        })
    }

    /// The value, and the opening of what is said of the probability.
    pub(super) fn opening(&self, sheet: &Sheet) -> String {
        format!(
            "{}: {}; the probability that the true value is {} {} is",
            sheet.label(self.cell),
            sheet.shown(self.cell),
            if self.is_above { "above" } else { "below" },
            self.limit_words
        )
    }

    /// The probability of this side, from that of lying above.
    fn side_of(&self, above: f64) -> f64 {
        match self.is_above {
            true => above,
            false => 1.0 - above,
        }
    }
}

/// `show probability of NAME > 15 %`.
pub(super) fn probability(
    rendering: &Rendering<'_>,
    name: &Name,
    above: bool,
    threshold: &Reading,
) -> Rendered {
    let sheet = rendering.sheet;
    let beyond = Beyond::of(rendering, name, above, threshold)?;
    let Beyond { cell, limit, .. } = beyond;
    let found = propagated(rendering, cell, name).map_err(|errors| {
        let limits = limit_words(sheet, cell);
        let hint =
            limits.map(|_| "with `by simulation` behind it the statement counts draws".into());
        let all = errors.into_iter().map(|e| e.hint_if(hint.clone()));
        all.collect::<Vec<_>>()
    })?;
    let Some(over) = decide::probability_above(&found, limit) else {
        let message = "no uncertainty is left in it, so there is no probability: what is stated \
                       cancels, or is zero";
        return Err(rendering.error(message));
    };
    let mut words = format!(
        "{} {}, {}.",
        beyond.opening(sheet),
        probability_words(beyond.side_of(over)),
        decide::distribution_words(&found),
    );
    words.push_str(&but(limits_of(sheet, cell, &found)));
    if let Some(drawn) = Drawn::of(sheet, cell, limit).filter(|drawn| drawn.is_other(over)) {
        words.push_str(&format!(
            " The linear uncertainty is not good enough here: by {} random draws it is {} (`simulate {}`).",
            drawn.draws,
            probability_words(beyond.side_of(drawn.above)),
            name.text,
        ));
    }
    words.push_str(&published_sentence(sheet, &found.budget));
    if !found.unstated.is_empty() {
        words.push_str(&format!(
            " No uncertainty is stated for {}: with it, the probability would lie nearer to 50 %.",
            names_of(sheet, &found.unstated)
        ));
    }
    Ok(paragraph(rendering, words))
}

/// A probability by draws.
struct Drawn {
    above: f64,
    draws: usize,
}

impl Drawn {
    /// `None` where nothing can be drawn.
    fn of(sheet: &Sheet, cell: CellId, limit: f64) -> Option<Drawn> {
        let found = simulate(sheet, cell, &Settings::of(sheet), Simulation::default()).ok()?;
        Some(Drawn {
            above: found.probability_above(limit).probability(),
            draws: found.draws,
        })
    }

    /// Whether it is another than the linear one: by more than chance brings (three standard
    /// deviations of so many draws), and by more than 0.2 %, which nobody would mind.
    fn is_other(&self, linear: f64) -> bool {
        let chance = (self.above * (1.0 - self.above) / self.draws as f64).sqrt();
        (self.above - linear).abs() > (3.0 * chance).max(0.002)
    }
}

/// A probability in per cent, to no more digits than it deserves.
fn probability_words(probability: f64) -> String {
    match probability {
        p if p < 0.001 => "under 0.1 %".to_owned(),
        p if p > 0.999 => "over 99.9 %".to_owned(),
        p => format!("{:.1} %", 100.0 * p),
    }
}

#[cfg(test)]
mod tests {
    fn said(readings: &str, question: &str) -> String {
        crate::notebook::said::said(&format!("{readings}\nshow probability of {question}"))
    }

    /// Three beats leave two degrees of freedom: `scipy.stats.t.sf(-5.196152, 2)` = 0.98245, where a
    /// normal distribution would give 1 − 1e-7.
    #[test]
    fn few_beats_make_a_probability_less_sure() {
        let said = said("vti = beats(17.8, 18.4, 18.1) cm", "vti > 17.2 cm");
        let words = "above 17.2 cm is 98.2 %, by Student's t with 2 degrees of freedom.";
        assert!(said.ends_with(words), "{said}");
    }

    /// exp(p) > 60 where p > 4.094 does, which is 1.216 standard uncertainties away:
    /// `scipy.stats.norm.sf((log(60) - 3) / 0.9)` = 0.1120.
    #[test]
    fn where_the_linear_answer_is_another_draws_are_asked() {
        let said = said("p = 3.0 (u = 0.9)\ngrowth = exp(p)", "growth > 60");
        assert!(
            said.contains("above 60 is 1.4 %, by a normal distribution."),
            "{said}"
        );
        assert!(
            said.contains(" random draws it is 11.2 % (`simulate growth`)."),
            "{said}"
        );
    }

    #[test]
    fn what_is_straight_says_no_more_than_its_probability() {
        let said = said("s = 7 cm (u = 1 mm)", "s < 7.2 cm");
        assert_eq!(
            said,
            "s: 7 cm; the probability that the true value is below 7.2 cm is 97.7 %, by a normal \
             distribution."
        );
    }

    /// 5 standard uncertainties: 2.9e-7 on the far side.
    #[test]
    fn what_is_all_but_certain_is_told_without_digits() {
        let of = |question| said("s = 7 cm (u = 1 mm)", question);
        assert!(of("s > 6.5 cm").contains("is over 99.9 %,"));
        assert!(of("s < 6.5 cm").contains("is under 0.1 %,"));
    }

    #[test]
    fn an_unstated_reading_draws_it_to_the_middle() {
        let said = said("a = 3 cm\nb = 4 cm (u = 1 mm)\ns = a + b", "s < 7.2 cm");
        let words =
            "No uncertainty is stated for a: with it, the probability would lie nearer to 50 %.";
        assert!(said.ends_with(words), "{said}");
        assert!(!said.contains("ower bound"), "{said}");
    }
}

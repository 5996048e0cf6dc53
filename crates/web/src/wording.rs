//! Words that stand in more than one place.

use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
use stillwell_study::{DeterminationResult, Shown};

use crate::view::View;

/// What must be read with every result.
pub(crate) const CAUTIONS: [&str; 4] = [
    "A result supports a decision; by itself it is neither a legal statement of compliance nor medical advice.",
    "Only the named analyte was measured. Reports to an authority follow the local code and an accredited procedure.",
    "Water high in nitrate is a hazard above all to bottle-fed infants.",
    "Handle standards and reagents as their safety data sheets say.",
];

/// `17.6 ± 1.9`, `not detected, < 3.2`, `above 97`, `refused`.
pub(crate) fn number(result: &DeterminationResult) -> String {
    let Some(numbers) = &result.numbers else { return "refused".to_owned() };
    match (result.outcome.as_str(), numbers.expanded_u()) {
        ("quantified", Some(expanded_u)) => {
            let rounded = round_to_uncertainty(numbers.value, expanded_u);
            format!("{} ± {}", rounded.value, rounded.expanded_u)
        }
        ("above-range", _) => format!("above {}", round_down(numbers.value, 2)),
        ("below-quantification", _) => format!("detected, < {}", round_up(numbers.value, 2)),
        ("not-detected", _) => format!("not detected, < {}", round_up(numbers.value, 2)),
        (other, _) => other.to_owned(),
    }
}

/// The sample, and its role where it is not simply that.
pub(crate) fn sample(result: &DeterminationResult) -> String {
    if result.role == "sample" {
        result.sample.clone()
    } else {
        format!("{} ({})", result.sample, result.role)
    }
}

/// What may be said against one limit today.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Said {
    /// No number: the sample counts as unknown.
    Refused,
    /// Above the limit.
    Above,
    /// There is a number, but no verdict may be drawn from it.
    Withheld,
    /// The limit lies within the interval.
    TooClose,
    /// Not decidable from what was measured.
    Undecided,
    /// Below the limit.
    Below,
    /// Nothing was asked, or the result no longer counts.
    Nothing,
}

impl Said {
    /// Against a limit.
    pub(crate) fn of(shown: &Shown, limit: &str) -> Self {
        let act = &shown.one.act;
        if !shown.one.standing.counts() {
            return Self::Nothing;
        }
        if act.result.numbers.is_none() {
            return Self::Refused;
        }
        if shown.is_withheld() {
            return Self::Withheld;
        }
        match act.verdicts().iter().find(|one| one.limit == limit).map(|one| one.code.as_str()) {
            Some("below") => Self::Below,
            Some("above") => Self::Above,
            Some("too-close-to-call") => Self::TooClose,
            Some(_) => Self::Undecided,
            None => Self::Nothing,
        }
    }

    /// The class in the style sheet: one letter, since it stands in every cell.
    pub(crate) fn class(self) -> &'static str {
        match self {
            Self::Below => "b",
            Self::Above => "a",
            Self::TooClose => "t",
            Self::Withheld | Self::Undecided | Self::Refused => "u",
            Self::Nothing => "o",
        }
    }

    /// The word.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Refused => "unknown (refused)",
            Self::Above => "above",
            Self::Withheld => "withheld",
            Self::TooClose => "too close to call",
            Self::Undecided => "unknown",
            Self::Below => "below",
            Self::Nothing => "–",
        }
    }
}

/// The unit of the study's results.
pub(crate) fn unit_of(view: &View) -> String {
    view.overview.method.analyte.reported_as.to_string()
}

/// `2026-05-12 08:30`, UTC.
pub(crate) fn moment(at_utc: &str) -> String {
    at_utc.get(..16).unwrap_or(at_utc).replace('T', " ")
}

/// `1 scan`, `12 scans`.
pub(crate) fn counted(n: usize, word: &str) -> String {
    if n == 1 { format!("1 {word}") } else { format!("{n} {word}s") }
}

//! Results in words: number, sample, what may be said against a limit.

use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
use stillwell_study::{DeterminationResult, Shown};

/// `17.6 ± 1.9`, `not detected, < 3.2`, `above 97`, `refused`.
pub fn number(result: &DeterminationResult) -> String {
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

/// The number with its unit.
pub fn quantity(result: &DeterminationResult) -> String {
    format!("{} {}", number(result), result.unit).trim_end().to_owned()
}

/// The sample, and its role where it is not simply that.
pub fn sample(result: &DeterminationResult) -> String {
    if result.role == "sample" {
        result.sample.clone()
    } else {
        format!("{} ({})", result.sample, result.role)
    }
}

/// What may be said against one limit today.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Said {
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
    /// Against the limit of that identity, of a result as it stands today.
    pub fn of(shown: &Shown, limit: &str) -> Self {
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
    pub fn class(self) -> &'static str {
        match self {
            Self::Below => "b",
            Self::Above => "a",
            Self::TooClose => "t",
            Self::Withheld | Self::Undecided | Self::Refused => "u",
            Self::Nothing => "o",
        }
    }

    /// The word.
    pub fn word(self) -> &'static str {
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

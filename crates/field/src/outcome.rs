//! What an operator is given at the end of a run: one number with its basis and one verdict, or nothing but "unknown".

use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
use stillwell_study::{DeterminationAct, Digest, Study};

use crate::campaign::{Campaign, Well, Whom};
use crate::error::FieldError;
use crate::run::{End, Why};

/// The end of a run as it may be shown today.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// A result.
    Known(Box<Result>),
    /// The water must be treated as unknown.
    Unknown(Why),
    /// It was known, and its verdict is withheld by now.
    NoLonger,
}

/// A result.
#[derive(Debug, Clone, PartialEq)]
pub struct Result {
    /// The well.
    pub well: Well,
    /// The number.
    pub reading: Reading,
    /// What it counts.
    pub basis: Basis,
    /// The verdict.
    pub verdict: Verdict,
    /// The limit's value in the same unit, rounded.
    pub limit: String,
    /// The result's identity: the first digits of its record's hash.
    pub id: String,
    /// Record of the determination.
    pub record: Digest,
    /// Strips behind it, as they are named on the boxes.
    pub strips: Vec<String>,
    /// Last day of the calibration, where one was stated.
    pub calibration_last_day: Option<String>,
    /// Whom to call.
    pub whom: Whom,
}

/// A number, rounded as it may be shown, with a decimal point.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reading {
    /// Value and expanded uncertainty.
    Number {
        /// The value.
        value: String,
        /// What it may be off by.
        expanded_u: String,
    },
    /// Something is there, and less than so much.
    LessThan(String),
    /// More than so much.
    MoreThan(String),
    /// Nothing was detected; there may be less than so much. A control lived.
    NotDetected {
        /// The bound.
        less_than: String,
        /// The control, as the chain names it.
        control: String,
    },
}

/// What a number counts: nitrate is 4.4 times its nitrogen, and the two must not be confused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Basis {
    /// `mg/L as NO₃⁻`.
    pub unit: String,
    /// The word in the key of its text: `nitrate`, `nitrogen`, or `other`.
    pub word: &'static str,
}

/// The verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Below the limit.
    Below,
    /// Above the limit.
    Above,
    /// Too close to it.
    TooClose,
}

impl Verdict {
    /// All.
    pub const ALL: [Self; 3] = [Self::Below, Self::Above, Self::TooClose];

    /// The word in the key of its text.
    pub fn word(self) -> &'static str {
        match self {
            Self::Below => "below",
            Self::Above => "above",
            Self::TooClose => "too-close",
        }
    }
}

impl Basis {
    /// The basis of a unit such as `mg/L as NO3-`.
    ///
    /// # Example
    /// ```
    /// let basis = stillwell_field::Basis::of("mg/L as NO3-");
    /// assert_eq!((basis.unit.as_str(), basis.word), ("mg/L as NO₃⁻", "nitrate"));
    /// assert_eq!(stillwell_field::Basis::of("mg/L as N").word, "nitrogen");
    /// ```
    pub fn of(unit: &str) -> Self {
        let (unit, form) = unit.split_once(" as ").unwrap_or((unit, ""));
        let word = match form {
            "NO3-" | "NO₃⁻" => "nitrate",
            "N" => "nitrogen",
            _ => "other",
        };
        let form: String = form.chars().map(raised_or_lowered).collect();
        let apart = if form.is_empty() { "" } else { " as " };
        Self { unit: format!("{unit}{apart}{form}"), word }
    }
}

fn raised_or_lowered(c: char) -> char {
    match c {
        '-' => '⁻',
        '+' => '⁺',
        '0'..='9' => char::from_u32(u32::from(c) - u32::from('0') + u32::from('₀')).unwrap_or(c),
        c => c,
    }
}

/// Number and verdict of a determination, if they may be shown: else which check stands in the way, and what it found.
pub(crate) fn shown(
    campaign: &Campaign,
    act: &DeterminationAct,
) -> std::result::Result<(Reading, Verdict), (String, String)> {
    if let Some(why) = act.withheld.first() {
        return Err((why.check().id().to_owned(), why.found()));
    }
    let in_the_way = act.result.findings.iter().find(|finding| {
        matches!(finding.effect.as_str(), "refused" | "withheld") && finding.overridden.is_none()
    });
    if let Some(finding) = in_the_way {
        return Err((finding.check.clone(), finding.found.clone()));
    }
    let nothing = |found: &str| ("no-verdict".to_owned(), found.to_owned());
    let reading = reading(act).ok_or_else(|| nothing("no number that may be shown"))?;
    let decision = act.verdicts().iter().find(|decision| decision.limit == campaign.limit);
    let verdict = match decision.map(|decision| decision.code.as_str()) {
        Some("below") => Verdict::Below,
        Some("above") => Verdict::Above,
        Some("too-close-to-call") => Verdict::TooClose,
        _ => return Err(nothing("no verdict against the campaign's limit")),
    };
    Ok((reading, verdict))
}

fn reading(act: &DeterminationAct) -> Option<Reading> {
    let numbers = act.result.numbers.as_ref()?;
    match act.result.outcome.as_str() {
        "quantified" => {
            let rounded = round_to_uncertainty(numbers.value, numbers.expanded_u()?);
            Some(Reading::Number { value: rounded.value, expanded_u: rounded.expanded_u })
        }
        "above-range" => Some(Reading::MoreThan(round_down(numbers.value, 2))),
        "below-quantification" => Some(Reading::LessThan(round_up(numbers.value, 2))),
        // Without the living control that the chain names, nothing was not detected: it is unknown.
        "not-detected" => {
            let proof = act
                .result
                .findings
                .iter()
                .find(|finding| finding.check == "electrode-control" && finding.effect == "note")?;
            let (less_than, control) = (round_up(numbers.value, 2), proof.found.clone());
            Some(Reading::NotDetected { less_than, control })
        }
        _ => None,
    }
}

impl Outcome {
    /// What may be shown of an end today; none where the run goes on.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn of(study: &Study, campaign: &Campaign, end: &End) -> std::result::Result<Self, FieldError> {
        let (well, strips, record) = match end {
            End::Result { well, strips, determination, .. } => (well, strips, determination),
            End::Unknown(why) => return Ok(Self::Unknown(why.clone())),
            End::Abandoned(reason) => return Ok(Self::Unknown(Why::Abandoned(*reason))),
            End::Overdue => return Ok(Self::Unknown(Why::Overdue)),
        };
        let one = study.determination(&record.to_string())?;
        let today = study.withheld_today([&one.act])?;
        if !one.standing.counts() || today.iter().any(|why| !why.is_empty()) {
            return Ok(Self::NoLonger);
        }
        let (reading, verdict) = match shown(campaign, &one.act) {
            Ok(shown) => shown,
            Err((check, _)) => return Ok(Self::Unknown(Why::NoVerdict { check })),
        };
        let calibration_last_day =
            one.act.calibration.map(|calibration| study.calibration_last_day(&calibration)).transpose()?;
        Ok(Self::Known(Box::new(Result {
            well: well.get().clone(),
            reading,
            basis: Basis::of(&one.act.result.unit),
            verdict,
            limit: limit_words(campaign.limit_value),
            id: record.short(),
            record: *record,
            strips: strips.iter().map(|strip| strip.strip().code()).collect(),
            calibration_last_day: calibration_last_day.flatten(),
            whom: campaign.whom.clone(),
        })))
    }
}

/// At most one decimal: 50, 44.3.
fn limit_words(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

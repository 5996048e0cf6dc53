//! The guarded three-way decision on one limit.

use stillwell_evaluate::{VerdictCode, verdict};
use stillwell_quantity::{Analyte, Concentration, ExpressedAs, QuantityKind, Species};

use crate::estimate::Found;
use crate::wording::{self, Because};
use crate::{AssureError, Estimate, NamedLimit};

/// What was decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DecisionCode {
    /// The whole interval lies at or below the limit.
    Below,
    /// The whole interval lies above the limit.
    Above,
    /// The interval holds the limit.
    TooCloseToCall,
    /// What was found cannot decide: to be treated as unknown.
    NotDecidable,
}

impl DecisionCode {
    /// The code in machine output.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Below => "below",
            Self::Above => "above",
            Self::TooCloseToCall => "too-close-to-call",
            Self::NotDecidable => "not-decidable",
        }
    }

    /// Whether someone has to act: everything but [`Self::Below`].
    pub const fn needs_attention(self) -> bool {
        !matches!(self, Self::Below)
    }
}

impl From<VerdictCode> for DecisionCode {
    fn from(code: VerdictCode) -> Self {
        match code {
            VerdictCode::Below => Self::Below,
            VerdictCode::Above => Self::Above,
            VerdictCode::TooCloseToCall => Self::TooCloseToCall,
            VerdictCode::NotDecidable => Self::NotDecidable,
        }
    }
}

/// A decision with everything that a reader needs to believe it, question it or act on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// What was decided.
    pub code: DecisionCode,
    /// Id of the limit.
    pub limit_id: String,
    /// Name of the limit.
    pub limit_name: String,
    /// Document and clause of the limit.
    pub limit_source: String,
    /// Name of the rule: [`crate::RULE_NAME`].
    pub rule: &'static str,
    /// The largest probability that a decision below or above is wrong, as far as the interval holds; none where
    /// nothing was decided.
    pub risk: Option<f64>,
    /// Value over limit; none where no value was found.
    pub ratio: Option<f64>,
    /// Distance from the limit to the end of the interval that decided, in the limit's unit (sum rule: as a ratio);
    /// none where nothing was decided.
    pub margin: Option<f64>,
    /// Probability that the truth lies at or below the limit, by the normal distribution that fits the half of the
    /// interval facing the limit; none without an interval of some width.
    pub conformance_probability: Option<f64>,
    /// The verdict in one sentence.
    pub words: String,
    /// Why, with the numbers.
    pub reason: String,
    /// What to keep in mind, the most pressing first.
    pub cautions: Vec<&'static str>,
    /// What to do next; empty below the limit.
    pub advice: Vec<&'static str>,
}

impl Decision {
    /// The rule in one sentence, with its risk where something was decided.
    pub fn rule_words(&self) -> String {
        wording::rule(self.risk)
    }
}

/// Judges an estimate against a limit by the guarded three-way decision: below only when the whole interval lies at
/// or below the limit, above only when it lies wholly above, otherwise too close to call. The risk of a wrong "below"
/// or "above" is at most (1 − coverage)/2.
///
/// A bound decides on its own side only. A refused determination decides nothing. A signal that includes nitrite is
/// judged as nitrate + nitrite; against a limit on nitrite it can show "below" only, and nitrate alone against a
/// limit on both can show "above" only.
///
/// # Units
/// Any unit and form of the limit's analyte; the comparison is made in the limit's own.
///
/// # Errors
/// An analyte that the limit is not about, or a conversion without a molar mass.
///
/// # Source
/// Guarded acceptance and guarded rejection with w = U: JCGM 106:2012, clause 8.3, and ILAC-G8:09/2019, clause 4.2
/// (clause numbers from memory).
///
/// # Example
/// ```
/// use stillwell_assure::{DecisionCode, Estimate, decide, find_limit};
/// let limit = find_limit("who-nitrate")?;
/// let estimate = Estimate::interval(limit.kind().clone(), 41.2, 43.5, 45.8, 0.95)?;
/// let decision = decide(&estimate, &limit)?;
/// assert_eq!(decision.code, DecisionCode::Below);
/// assert_eq!(decision.words, "nitrate below 50 mg/L as NO₃⁻ (other hazards not tested)");
/// # Ok::<(), stillwell_assure::AssureError>(())
/// ```
pub fn decide(estimate: &Estimate, limit: &NamedLimit) -> Result<Decision, AssureError> {
    let measured = estimate.kind().species.analyte();
    let relation = Relation::of(measured, limit)?;
    let kind = comparison_kind(measured, limit)?;
    let limit_value = limit_in_comparison_form(limit, &kind)?;
    let found = estimate.in_kind(&kind)?;
    let (code, because) = relation.narrow(judge(found, limit_value));
    let per_limit_unit = limit.value() / limit_value;
    let subject = measured.name();
    Ok(Decision {
        code,
        limit_id: limit.id().to_owned(),
        limit_name: limit.name().to_owned(),
        limit_source: source(limit.document(), limit.clause()),
        rule: wording::RULE_NAME,
        risk: risk(code, found),
        ratio: ratio(found, limit_value),
        margin: margin(code, found, limit_value).map(|margin| margin * per_limit_unit),
        conformance_probability: crate::conformance::of_interval(found, limit_value),
        words: wording::verdict_words(code, subject, limit),
        reason: wording::reason(&because, &kind.to_string(), limit_value),
        cautions: wording::cautions(code, is_oxidised_nitrogen(measured)),
        advice: wording::advice(code, &because),
    })
}

/// How the analyte that was measured relates to the one the limit is about.
#[derive(Clone, Copy)]
enum Relation {
    Same,
    /// Nitrate + nitrite for a limit on nitrate: judged together, which can only err upwards.
    TogetherForNitrate,
    /// Nitrate + nitrite for a limit on nitrite.
    TogetherForNitrite,
    /// Nitrate or nitrite for a limit on both.
    Part(Because),
}

impl Relation {
    fn of(measured: &Analyte, limit: &NamedLimit) -> Result<Self, AssureError> {
        let about = limit.kind().species.analyte();
        Ok(match (measured, about) {
            (Analyte::NitratePlusNitrite, Analyte::Nitrate) => Self::TogetherForNitrate,
            (Analyte::NitratePlusNitrite, Analyte::Nitrite) => Self::TogetherForNitrite,
            (Analyte::Nitrate, Analyte::NitratePlusNitrite) => Self::Part(Because::NitratePartOnly),
            (Analyte::Nitrite, Analyte::NitratePlusNitrite) => Self::Part(Because::NitritePartOnly),
            (measured, about) if measured.name() == about.name() => Self::Same,
            (measured, about) => {
                return Err(AssureError::AnalyteNotInLimit {
                    limit: limit.id().to_owned(),
                    analyte: measured.name().to_owned(),
                    accepted: about.name().to_owned(),
                });
            }
        })
    }

    /// Takes back what this relation cannot show.
    fn narrow(self, judged: (DecisionCode, Because)) -> (DecisionCode, Because) {
        match (self, judged.0) {
            (_, DecisionCode::NotDecidable)
            | (Self::Same | Self::TogetherForNitrate, _)
            | (Self::TogetherForNitrite, DecisionCode::Below)
            | (Self::Part(_), DecisionCode::Above) => judged,
            (Self::TogetherForNitrite, _) => (DecisionCode::NotDecidable, Because::NitriteNotApart),
            (Self::Part(part), _) => (DecisionCode::NotDecidable, part),
        }
    }
}

/// Whether a count of readings above a limit says something: the same substance, or nitrate and nitrite read together for a limit on
/// nitrate, and then the flag is set.
pub(crate) fn counts_together(measured: &Analyte, limit: &NamedLimit) -> Result<bool, AssureError> {
    match Relation::of(measured, limit)? {
        Relation::Same => Ok(false),
        Relation::TogetherForNitrate => Ok(true),
        Relation::TogetherForNitrite | Relation::Part(_) => Err(AssureError::AnalyteNotInLimit {
            limit: limit.id().to_owned(),
            analyte: measured.name().to_owned(),
            accepted: limit.kind().species.analyte().name().to_owned(),
        }),
    }
}

/// The limit's unit, with the analyte that was measured; as N where the ions of the two differ.
fn comparison_kind(measured: &Analyte, limit: &NamedLimit) -> Result<QuantityKind, AssureError> {
    let about = &limit.kind().species;
    if let Analyte::Named(_) = measured {
        return Ok(limit.kind().clone());
    }
    let ions_differ = (*measured == Analyte::Nitrite) != (*about.analyte() == Analyte::Nitrite);
    let form = if ions_differ { ExpressedAs::Nitrogen } else { about.expressed_as() };
    Ok(QuantityKind { unit: limit.kind().unit, species: Species::new(measured.clone(), form)? })
}

fn limit_in_comparison_form(limit: &NamedLimit, kind: &QuantityKind) -> Result<f64, AssureError> {
    let about = &limit.kind().species;
    if about.expressed_as() == kind.species.expressed_as() {
        return Ok(limit.value());
    }
    let as_n = Species::new(about.analyte().clone(), ExpressedAs::Nitrogen)?;
    Ok(Concentration::of_kind(limit.value(), limit.kind().clone())?.to(kind.unit, &as_n)?.value())
}

/// The limit in the unit and form of what was measured, where the two can be compared.
pub(crate) fn limit_in_kind(limit: &NamedLimit, kind: &QuantityKind) -> Result<f64, AssureError> {
    let measured = kind.species.analyte();
    Relation::of(measured, limit)?;
    let compared = comparison_kind(measured, limit)?;
    let value = limit_in_comparison_form(limit, &compared)?;
    Ok(Concentration::of_kind(value, compared)?.to_kind(kind)?.value())
}

/// The rule itself, on numbers of one unit.
pub(crate) fn judge(found: Found, limit: f64) -> (DecisionCode, Because) {
    match found {
        Found::Interval { low, high, .. } => {
            let code = DecisionCode::from(verdict(low, high, limit));
            (code, Because::Interval { low, high, code })
        }
        Found::Above { bound, .. } if bound > limit => (DecisionCode::Above, Because::BoundAbove { bound }),
        Found::Above { bound, .. } => (DecisionCode::NotDecidable, Because::AboveRange { bound }),
        Found::LessThan { bound, .. } if bound <= limit => {
            (DecisionCode::Below, Because::BoundBelow { bound })
        }
        Found::LessThan { bound, .. } => (DecisionCode::NotDecidable, Because::CannotSeeLow { bound }),
        Found::Refused => (DecisionCode::NotDecidable, Because::Refused),
    }
}

pub(crate) fn risk(code: DecisionCode, found: Found) -> Option<f64> {
    match (code, found) {
        (DecisionCode::TooCloseToCall | DecisionCode::NotDecidable, _) | (_, Found::Refused) => None,
        (_, Found::Interval { risk, .. } | Found::Above { risk, .. } | Found::LessThan { risk, .. }) => {
            Some(risk)
        }
    }
}

pub(crate) fn ratio(found: Found, limit: f64) -> Option<f64> {
    match found {
        Found::Interval { value, .. } => Some(value / limit),
        _ => None,
    }
}

pub(crate) fn margin(code: DecisionCode, found: Found, limit: f64) -> Option<f64> {
    match (code, found) {
        (DecisionCode::Below, Found::Interval { high: end, .. } | Found::LessThan { bound: end, .. }) => {
            Some(limit - end)
        }
        (DecisionCode::Above, Found::Interval { low: end, .. } | Found::Above { bound: end, .. }) => {
            Some(end - limit)
        }
        _ => None,
    }
}

pub(crate) fn source(document: &str, clause: &str) -> String {
    match clause.chars().next() {
        None => document.to_owned(),
        Some('(') => format!("{document}{clause}"),
        Some(_) => format!("{document}, {clause}"),
    }
}

pub(crate) const fn is_oxidised_nitrogen(analyte: &Analyte) -> bool {
    matches!(analyte, Analyte::Nitrate | Analyte::Nitrite | Analyte::NitratePlusNitrite)
}

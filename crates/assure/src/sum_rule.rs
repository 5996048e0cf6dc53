//! The decision on nitrate and nitrite together.

use stillwell_quantity::{Analyte, Concentration, ExpressedAs, QuantityKind, Species, Unit};

use crate::decide::{self, Decision, DecisionCode};
use crate::estimate::Found;
use crate::wording::{self, Because};
use crate::{AssureError, Estimate, SumLimit};

/// Judges nitrate and nitrite together by the sum of their ratios and the guarded three-way decision.
///
/// `parts` holds nitrate, nitrite or both, or one determination of nitrate + nitrite. A part that was not measured,
/// or was refused, may be anything from zero upwards: then the rule can show "above" only. Nitrate + nitrite is
/// judged between "all nitrate" and "all nitrite".
///
/// Two intervals of the same coverage are combined as independent results: the distances of their ends from their
/// values are added in quadrature. Otherwise the ends are added and so are the risks.
///
/// # Units
/// Any unit and form of the parts; ratio, margin and reason are ratios.
///
/// # Errors
/// An analyte that the rule does not hold, or one given twice.
///
/// # Source
/// Rule: the document of `limit`. Combination of independent results: JCGM 100:2008, 5.1.2.
///
/// # Example
/// ```
/// use stillwell_assure::{DecisionCode, Estimate, decide_sum, find_limit, find_sum};
/// let nitrate = find_limit("who-nitrate")?;
/// let part = Estimate::interval(nitrate.kind().clone(), 29.0, 31.0, 33.0, 0.95)?;
/// let decision = decide_sum(&[part], &find_sum("who-sum")?)?;
/// assert_eq!(decision.code, DecisionCode::NotDecidable);
/// assert!(decision.words.contains("nitrate part only, nitrite not measured"));
/// # Ok::<(), stillwell_assure::AssureError>(())
/// ```
pub fn decide_sum(parts: &[Estimate], limit: &SumLimit) -> Result<Decision, AssureError> {
    let ratios = Ratios::of(parts, limit)?;
    let (sum, single) = ratios.sum();
    let (code, because) = single.map_or_else(
        || decide::judge(sum, 1.0),
        |because| match decide::judge(sum, 1.0) {
            above @ (DecisionCode::Above, _) => above,
            below @ (DecisionCode::Below, _) => below,
            _ => (DecisionCode::NotDecidable, because),
        },
    );
    Ok(Decision {
        code,
        limit_id: limit.id().to_owned(),
        limit_name: limit.name().to_owned(),
        limit_source: decide::source(limit.document(), limit.clause()),
        rule: wording::RULE_NAME,
        risk: decide::risk(code, sum),
        ratio: ratios.value(),
        margin: decide::margin(code, sum, 1.0),
        conformance_probability: ratios
            .independent()
            .and_then(|sum| crate::conformance::of_interval(sum, 1.0)),
        words: wording::sum_words(code, &because, limit, ratios.shown()),
        reason: wording::sum_reason(&because, limit),
        cautions: wording::cautions(code, true),
        advice: wording::advice(code, &because),
    })
}

/// What was found, as ratios.
struct Ratios {
    nitrate: Option<Found>,
    nitrite: Option<Found>,
    /// Nitrate + nitrite if all of it were nitrate, and if all of it were nitrite.
    together: Option<(Found, Found)>,
}

impl Ratios {
    fn of(parts: &[Estimate], limit: &SumLimit) -> Result<Self, AssureError> {
        let mut ratios = Self { nitrate: None, nitrite: None, together: None };
        for part in parts {
            let analyte = part.kind().species.analyte();
            let taken = match analyte {
                Analyte::Nitrate => ratios
                    .nitrate
                    .replace(ratio_of(part, limit.nitrate(), limit.nitrate_mg_per_l())?)
                    .is_some(),
                Analyte::Nitrite => ratios
                    .nitrite
                    .replace(ratio_of(part, limit.nitrite(), limit.nitrite_mg_per_l())?)
                    .is_some(),
                Analyte::NitratePlusNitrite => ratios.together.replace(together(part, limit)?).is_some(),
                other => {
                    return Err(AssureError::AnalyteNotInLimit {
                        limit: limit.id().to_owned(),
                        analyte: other.name().to_owned(),
                        accepted: "nitrate, nitrite, nitrate + nitrite".to_owned(),
                    });
                }
            };
            if taken {
                return Err(AssureError::PartTwice { analyte: analyte.name().to_owned() });
            }
        }
        if ratios.together.is_some() && (ratios.nitrate.is_some() || ratios.nitrite.is_some()) {
            return Err(AssureError::PartTwice {
                analyte: "nitrate + nitrite beside one of its parts".to_owned(),
            });
        }
        Ok(ratios)
    }

    /// The sum, and why it cannot be complete where it is not.
    fn sum(&self) -> (Found, Option<Because>) {
        match (self.together, self.nitrate, self.nitrite) {
            (Some((all_nitrate, all_nitrite)), _, _) => {
                (spread(all_nitrate, all_nitrite), Some(Because::NitriteNotApart))
            }
            (None, Some(nitrate), Some(nitrite)) => match add(nitrate, nitrite) {
                open @ (Found::Above { .. } | Found::Refused) => (open, Some(Because::PartOpen)),
                sum => (sum, None),
            },
            (None, Some(nitrate), None) => (at_least(nitrate), Some(Because::NitratePartOnly)),
            (None, None, Some(nitrite)) => (at_least(nitrite), Some(Because::NitritePartOnly)),
            (None, None, None) => (Found::Refused, Some(Because::Refused)),
        }
    }

    /// The sum of two independent intervals of the same coverage; no other sum has a probability of its own.
    fn independent(&self) -> Option<Found> {
        add_independent(self.nitrate?, self.nitrite?)
    }

    /// The ratio of the values, where the parts that were measured have values.
    fn value(&self) -> Option<f64> {
        match (self.nitrate, self.nitrite) {
            (Some(nitrate), Some(nitrite)) => {
                Some(decide::ratio(nitrate, 1.0)? + decide::ratio(nitrite, 1.0)?)
            }
            (Some(part), None) | (None, Some(part)) => decide::ratio(part, 1.0),
            (None, None) => None,
        }
    }

    /// What is shown as "the ratio": the sum, or the part that was measured.
    fn shown(&self) -> Found {
        match (self.together, self.nitrate, self.nitrite) {
            (Some((all_nitrate, all_nitrite)), _, _) => spread(all_nitrate, all_nitrite),
            (None, Some(nitrate), Some(nitrite)) => add(nitrate, nitrite),
            (None, Some(part), None) | (None, None, Some(part)) => part,
            (None, None, None) => Found::Refused,
        }
    }
}

fn ratio_of(part: &Estimate, form: &Species, full_mg_per_l: f64) -> Result<Found, AssureError> {
    let kind = QuantityKind { unit: Unit::MilligramPerLitre, species: form.clone() };
    Ok(part.in_kind(&kind)?.divided_by(full_mg_per_l))
}

fn together(part: &Estimate, limit: &SumLimit) -> Result<(Found, Found), AssureError> {
    let as_n = |analyte: Analyte| Species::new(analyte, ExpressedAs::Nitrogen);
    let full_as_n = |form: &Species, full: f64| -> Result<f64, AssureError> {
        let full = Concentration::new(full, Unit::MilligramPerLitre, form.clone())?;
        Ok(full.to(Unit::MilligramPerLitre, &as_n(form.analyte().clone())?)?.value())
    };
    let kind = QuantityKind { unit: Unit::MilligramPerLitre, species: as_n(Analyte::NitratePlusNitrite)? };
    let found = part.in_kind(&kind)?;
    let all_nitrate = found.divided_by(full_as_n(limit.nitrate(), limit.nitrate_mg_per_l())?);
    Ok((all_nitrate, found.divided_by(full_as_n(limit.nitrite(), limit.nitrite_mg_per_l())?)))
}

/// From the lower of two readings of one finding to the higher.
fn spread(all_nitrate: Found, all_nitrite: Found) -> Found {
    match (all_nitrate, all_nitrite) {
        (
            Found::Interval { low, value, high, risk },
            Found::Interval { low: other_low, high: other_high, .. },
        ) => Found::Interval { low: low.min(other_low), value, high: high.max(other_high), risk },
        (Found::Above { bound, risk }, Found::Above { bound: other, .. }) => {
            Found::Above { bound: bound.min(other), risk }
        }
        (Found::LessThan { bound, risk }, Found::LessThan { bound: other, .. }) => {
            Found::LessThan { bound: bound.max(other), risk }
        }
        _ => Found::Refused,
    }
}

/// A part alone: the other may be anything from zero upwards.
fn at_least(part: Found) -> Found {
    match part {
        Found::Interval { low, risk, .. } => Found::Above { bound: low, risk },
        Found::Above { .. } => part,
        Found::LessThan { .. } | Found::Refused => Found::Refused,
    }
}

fn add(a: Found, b: Found) -> Found {
    add_independent(a, b).unwrap_or_else(|| add_ends(a, b))
}

fn add_independent(a: Found, b: Found) -> Option<Found> {
    let (
        Found::Interval { low: l1, value: v1, high: h1, risk },
        Found::Interval { low: l2, value: v2, high: h2, risk: risk_b },
    ) = (a, b)
    else {
        return None;
    };
    let quadrature = |a: f64, b: f64| (a * a + b * b).sqrt();
    let value = v1 + v2;
    let (low, high) = (value - quadrature(v1 - l1, v2 - l2), value + quadrature(h1 - v1, h2 - v2));
    (risk.to_bits() == risk_b.to_bits()).then_some(Found::Interval { low, value, high, risk })
}

/// Ends added, risks added; a concentration is not below zero.
fn add_ends(a: Found, b: Found) -> Found {
    let (low_a, high_a, risk_a) = ends(a);
    let (low_b, high_b, risk_b) = ends(b);
    let (low, risk) = (low_a + low_b, risk_a + risk_b);
    match (high_a, high_b) {
        (Some(high_a), Some(high_b)) => {
            Found::Interval { low, value: f64::midpoint(low, high_a + high_b), high: high_a + high_b, risk }
        }
        _ if low > 0.0 => Found::Above { bound: low, risk },
        _ => Found::Refused,
    }
}

fn ends(found: Found) -> (f64, Option<f64>, f64) {
    match found {
        Found::Interval { low, high, risk, .. } => (low.max(0.0), Some(high.max(0.0)), risk),
        Found::Above { bound, risk } => (bound.max(0.0), None, risk),
        Found::LessThan { bound, risk } => (0.0, Some(bound.max(0.0)), risk),
        Found::Refused => (0.0, None, 0.0),
    }
}

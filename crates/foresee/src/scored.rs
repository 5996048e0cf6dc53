//! A determination held against its truth.

use stillwell_assure::DecisionCode;
use stillwell_method::{Determination, Effect, LimitPlan, Method, Outcome};
use stillwell_quantity::Concentration;

/// What became of a sample whose truth is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Came {
    /// No number.
    Refused,
    /// A number with no verdict drawn from it, or with a warning beside it, right or wrong.
    Flagged,
    /// A number or bound that holds the truth.
    Right,
    /// A number or bound that does not, with nothing said.
    Wrong,
}

/// One determination with its truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Scored {
    /// In the method's reporting unit.
    pub truth: f64,
    /// What became of it.
    pub came: Came,
    /// Value and expanded uncertainty, where a number was issued.
    pub estimate: Option<(f64, f64)>,
    /// Whether the number or bound holds the truth; `None` where refused.
    pub holds: Option<bool>,
    /// Whether a verdict was drawn.
    pub has_verdict: bool,
    /// The truth lies above a limit of the method, and the verdict says below.
    pub is_falsely_below: bool,
    /// The truth does not lie above a limit of the method, and the verdict says above.
    pub is_falsely_above: bool,
}

/// A method's single limits in its reporting unit.
pub(crate) fn limits(method: &Method) -> Vec<(String, f64)> {
    let kind = &method.analyte.reported_as;
    let in_kind = |limit: &stillwell_assure::NamedLimit| {
        let value = Concentration::of_kind(limit.value(), limit.kind().clone()).ok()?.to_kind(kind).ok()?;
        Some((limit.id().to_owned(), value.value()))
    };
    let single = method.limits.iter().filter_map(|plan| match plan {
        LimitPlan::Single(limit) => in_kind(limit),
        LimitPlan::Sum(_) => None,
    });
    single.collect()
}

/// Holds a determination against its truth.
///
/// # Units
/// The method's reporting unit.
///
/// # Source
/// Definition.
pub fn scored(method: &Method, determination: &Determination, truth: f64) -> Scored {
    let is_withheld = determination.withheld().next().is_some();
    let is_warned = determination.findings.iter().any(|finding| finding.is_in_force(Effect::Warned));
    let (estimate, holds) = match &determination.outcome {
        Outcome::Refused => (None, None),
        Outcome::Quantified(estimate) => (
            Some((estimate.value.value(), estimate.expanded_u())),
            Some(estimate.low <= truth && truth <= estimate.high),
        ),
        Outcome::AboveRange(above) => (None, Some(truth >= above.at_least.value())),
        Outcome::BelowQuantification(less) | Outcome::NotDetected(less) => {
            (None, Some(truth <= less.less_than.value()))
        }
    };
    let came = match holds {
        None => Came::Refused,
        Some(_) if is_withheld || is_warned => Came::Flagged,
        Some(true) => Came::Right,
        Some(false) => Came::Wrong,
    };
    let has_verdict = holds.is_some() && !is_withheld;
    let limits = limits(method);
    let says = |code: DecisionCode, is_wrong: &dyn Fn(f64) -> bool| {
        has_verdict
            && determination.decisions.iter().any(|decision| {
                let limit = limits.iter().find(|(id, _)| *id == decision.limit_id);
                decision.code == code && limit.is_some_and(|(_, value)| is_wrong(*value))
            })
    };
    Scored {
        truth,
        came,
        estimate,
        holds,
        has_verdict,
        is_falsely_below: says(DecisionCode::Below, &|limit| truth > limit),
        is_falsely_above: says(DecisionCode::Above, &|limit| truth <= limit),
    }
}

//! Every sentence that this room tells people, side by side, so that tone and advice can be reviewed at a glance.
//!
//! Rules: plain words; the number and its form always together; other hazards always named where a result lies
//! below a limit; never a word that calls water fit to drink.

use stillwell_quantity::{round_down, round_up};

use crate::estimate::Found;
use crate::{DecisionCode, NamedLimit, SumLimit};

/// The name of the rule behind every decision of this room.
pub const RULE_NAME: &str = "guarded three-way decision";

/// The rule in one sentence.
pub(crate) fn rule(risk: Option<f64>) -> String {
    let rule = "Below only when the whole interval lies at or below the limit, above only when it lies wholly above, otherwise too close to call.";
    risk.map_or_else(
        || rule.to_owned(),
        |risk| {
            let percent = round_up(risk * 100.0, 2);
            format!("{rule} Such a call is wrong with a probability of at most {percent} %, as far as the interval holds.")
        },
    )
}

/// Cautions that stand beside every result.
pub const GENERAL_CAUTIONS: [&str; 2] = [
    "This result supports a decision. It is not by itself a legal compliance statement or medical advice.",
    "Reporting for regulation follows the local code and an accredited procedure.",
];

/// The caution wherever standards and reagents are handled.
pub const REAGENT_CAUTION: &str = "Handle standards and reagents as their safety data sheets say.";

const LOCAL_FIRST: &str = "First of all follow the local code and ask the local health authority.";
const UNKNOWN: &str = "Until this is settled, act as if the water were above the limit.";
const INFANTS: &str = "Do not give this water to infants and do not prepare their bottles with it: high-nitrate water is a hazard above all to bottle-fed infants.";
const BOILING: &str = "Do not boil the water to get rid of nitrate: boiling concentrates it.";

/// What a decision rests on, with its numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Because {
    Interval { low: f64, high: f64, code: DecisionCode },
    BoundAbove { bound: f64 },
    BoundBelow { bound: f64 },
    AboveRange { bound: f64 },
    CannotSeeLow { bound: f64 },
    NitratePartOnly,
    NitritePartOnly,
    NitriteNotApart,
    PartOpen,
    Refused,
}

/// The verdict in one sentence.
pub(crate) fn verdict_words(code: DecisionCode, subject: &str, limit: &NamedLimit) -> String {
    match code {
        DecisionCode::Below => format!("{subject} below {limit} (other hazards not tested)"),
        DecisionCode::Above => format!("{subject} above {limit}"),
        DecisionCode::TooCloseToCall => format!("{subject} too close to {limit} to call"),
        DecisionCode::NotDecidable => format!("{subject} not decided against {limit}: treat as unknown"),
    }
}

/// The verdict on a sum rule in one sentence, with the ratio.
pub(crate) fn sum_words(code: DecisionCode, because: &Because, limit: &SumLimit, ratio: Found) -> String {
    let ratio = ratio_words(ratio);
    let name = limit.name();
    match (code, because) {
        (DecisionCode::Below, _) => {
            format!("nitrate and nitrite together below the {name}: {ratio} (other hazards not tested)")
        }
        (DecisionCode::Above, _) => format!("nitrate and nitrite together above the {name}: {ratio}"),
        (DecisionCode::TooCloseToCall, _) => {
            format!("nitrate and nitrite together too close to the {name} to call: {ratio}")
        }
        (_, Because::NitratePartOnly) => {
            format!("{name} not decided: nitrate part only, nitrite not measured, {ratio}")
        }
        (_, Because::NitritePartOnly) => {
            format!("{name} not decided: nitrite part only, nitrate not measured, {ratio}")
        }
        _ => format!("{name} not decided: treat as unknown, {ratio}"),
    }
}

fn ratio_words(ratio: Found) -> String {
    match ratio {
        Found::Interval { low, high, .. } => {
            format!("ratio {} to {} of 1", round_down(low, 3), round_up(high, 3))
        }
        Found::Above { bound, .. } => format!("ratio above {} of 1", round_down(bound, 3)),
        Found::LessThan { bound, .. } => format!("ratio less than {} of 1", round_up(bound, 3)),
        Found::Refused => "ratio not known".to_owned(),
    }
}

/// Why, with the numbers, in the unit of the limit.
pub(crate) fn reason(because: &Because, unit: &str, limit: f64) -> String {
    let limit = format!("the limit {} {unit}", plain(limit));
    match *because {
        Because::Interval { low, high, code } => {
            let interval = format!("the interval {} to {} {unit}", round_down(low, 4), round_up(high, 4));
            match code {
                DecisionCode::Below => format!("{interval} lies wholly at or below {limit}"),
                DecisionCode::Above => format!("{interval} lies wholly above {limit}"),
                _ => format!("{interval} holds {limit}"),
            }
        }
        Because::BoundAbove { bound } => {
            format!("the result is above {} {unit}, and that is above {limit}", round_down(bound, 4))
        }
        Because::BoundBelow { bound } => {
            format!("the result is less than {} {unit}, and that is not above {limit}", round_up(bound, 4))
        }
        Because::AboveRange { bound } => {
            format!(
                "the result is above the method's range: it is above {} {unit}, which leaves open on which side of {limit} it lies",
                round_down(bound, 4)
            )
        }
        Because::CannotSeeLow { bound } => {
            format!(
                "the result is less than {} {unit}, but the method cannot see as low as {limit}",
                round_up(bound, 4)
            )
        }
        Because::NitratePartOnly => {
            format!("nitrate part only, nitrite not measured; {limit} is about both together")
        }
        Because::NitritePartOnly => {
            format!("nitrite part only, nitrate not measured; {limit} is about both together")
        }
        Because::NitriteNotApart => format!(
            "the signal shows nitrate and nitrite together; {limit} is about nitrite, which was not measured apart"
        ),
        Because::PartOpen => format!("one part has no upper end; {limit} needs both"),
        Because::Refused => {
            "the determination was refused, so nothing is known about this water; a refusal is never a pass"
                .to_owned()
        }
    }
}

/// Why a sum rule was decided as it was.
pub(crate) fn sum_reason(because: &Because, limit: &SumLimit) -> String {
    let rule = limit.formula();
    match *because {
        Because::Interval { code: DecisionCode::Below, .. } | Because::BoundBelow { .. } => {
            format!("the whole interval of the ratio meets {rule}")
        }
        Because::Interval { code: DecisionCode::Above, .. } | Because::BoundAbove { .. } => {
            format!("the whole interval of the ratio exceeds {rule}")
        }
        Because::Interval { .. } => format!("the interval of the ratio holds 1; the rule is {rule}"),
        Because::NitratePartOnly => {
            format!("nitrate part only, nitrite not measured; the rule {rule} needs both")
        }
        Because::NitritePartOnly => {
            format!("nitrite part only, nitrate not measured; the rule {rule} needs both")
        }
        Because::NitriteNotApart => format!(
            "the signal shows nitrate and nitrite together; the rule {rule} weighs them differently and needs each apart"
        ),
        Because::AboveRange { .. } | Because::PartOpen => {
            format!("one part lies above its method's range or was refused; the rule {rule} needs both")
        }
        Because::CannotSeeLow { .. } => format!("the methods cannot see low enough for the rule {rule}"),
        Because::Refused => format!("nothing was determined; the rule {rule} needs nitrate and nitrite"),
    }
}

/// What to keep in mind, the most pressing first.
pub(crate) fn cautions(code: DecisionCode, is_oxidised_nitrogen: bool) -> Vec<&'static str> {
    let mut cautions = Vec::new();
    if code.needs_attention() {
        cautions.push(LOCAL_FIRST);
        if code != DecisionCode::Above {
            cautions.push(UNKNOWN);
        }
        if is_oxidised_nitrogen {
            cautions.extend([INFANTS, BOILING]);
        }
    }
    cautions.extend(GENERAL_CAUTIONS);
    cautions
}

const CONFIRM: &str = "Have the result confirmed by an accredited laboratory.";
const RETEST: &str = "Take a fresh sample and measure it with several new strips, decided on beforehand: more strips narrow the interval.";
const KEEP_ALL: &str =
    "Use all results together. Measuring again and again until one result passes proves nothing.";
const LABORATORY: &str = "Or send a sample to an accredited laboratory.";
const DILUTE: &str =
    "Dilute the sample into the method's range and measure again, so that there is a number to judge.";
const SEE_LOWER: &str =
    "Use a method that can see as low as the limit, or send a sample to an accredited laboratory.";
const FOLLOW_REMEDY: &str = "Do what the refusal says, then measure a fresh sample with a new strip.";
const MEASURE_NITRITE: &str = "Have nitrite measured as well.";
const MEASURE_NITRATE: &str = "Have nitrate measured as well.";
const MEASURE_BOTH: &str = "Have nitrate and nitrite measured each for itself.";

/// What to do next.
pub(crate) fn advice(code: DecisionCode, because: &Because) -> Vec<&'static str> {
    match (code, because) {
        (DecisionCode::Below, _) => Vec::new(),
        (DecisionCode::Above, _) => vec![CONFIRM],
        (DecisionCode::TooCloseToCall, _) => vec![RETEST, LABORATORY, KEEP_ALL],
        (_, Because::NitratePartOnly) => vec![MEASURE_NITRITE],
        (_, Because::NitritePartOnly) => vec![MEASURE_NITRATE],
        (_, Because::NitriteNotApart) => vec![MEASURE_BOTH],
        (_, Because::AboveRange { .. }) => vec![DILUTE, LABORATORY],
        (_, Because::CannotSeeLow { .. }) => vec![SEE_LOWER],
        (_, Because::PartOpen) => vec![DILUTE, FOLLOW_REMEDY, LABORATORY],
        (
            _,
            Because::Interval { .. }
            | Because::BoundAbove { .. }
            | Because::BoundBelow { .. }
            | Because::Refused,
        ) => {
            vec![FOLLOW_REMEDY, LABORATORY]
        }
    }
}

/// A limit as its document prints it; a converted one with four digits.
fn plain(limit: f64) -> String {
    let exact = limit.to_string();
    if exact.len() <= 6 { exact } else { round_down(limit, 4) }
}

//! Every sentence about lots, side by side. Rules as in the room's `wording.rs`.

use stillwell_quantity::round_up;
use stillwell_stats::components::{Component, ComponentEstimate};

use super::components::LotScatter;
use super::equivalence::{Equivalence, LotVerdict, MoreStrips, PartVerdict};
use super::one_point::{AdjustmentRefused, OnePointAdjustment};

/// The verdict on a lot.
pub(super) fn lot(verdict: &LotVerdict) -> String {
    let LotVerdict { lot, unit, .. } = verdict;
    let head = match verdict.verdict {
        PartVerdict::Equivalent => {
            format!("lot {lot} is equivalent to the approved calibration and may be read off it")
        }
        PartVerdict::NotEquivalent => {
            format!("lot {lot} is not equivalent to the approved calibration and may not be read off it")
        }
        PartVerdict::CannotSay(_) => {
            format!(
                "lot {lot}: cannot say yet whether it is equivalent; until then it may not be read off the approved calibration"
            )
        }
    };
    let mut parts = vec![head, part("sensitivity", &verdict.sensitivity, "%")];
    parts.extend(verdict.zero.as_ref().map(|zero| part("zero", zero, unit)));
    if verdict.lacks_zeros {
        parts.push("fewer than two strips of this lot measured a zero".to_owned());
    }
    parts.push(next(verdict));
    parts.join("; ")
}

fn part(name: &str, found: &Equivalence, unit: &str) -> String {
    let [low, high] = found.interval.map(signed);
    format!(
        "{name}: {} {unit} from {} strips, interval {low} to {high} {unit}, margin ±{} {unit}",
        signed(found.difference),
        found.n,
        found.margin
    )
}

/// With its sign, but no sign before a zero.
fn signed(value: f64) -> String {
    let text = format!("{value:+.2}");
    if text == "-0.00" || text == "+0.00" { "0.00".to_owned() } else { text }
}

fn next(verdict: &LotVerdict) -> String {
    match verdict.verdict {
        PartVerdict::Equivalent => "keep a check standard in every batch".to_owned(),
        PartVerdict::NotEquivalent => {
            "calibrate this lot, or adjust its sensitivity where that is allowed".to_owned()
        }
        PartVerdict::CannotSay(MoreStrips::NoNumber) => {
            "more strips will hardly show equivalence: the difference or the calibration's own uncertainty is as large as the margin; calibrate this lot".to_owned()
        }
        PartVerdict::CannotSay(MoreStrips::Needed(_)) if verdict.lacks_zeros
            && verdict.sensitivity.verdict == PartVerdict::Equivalent =>
        {
            "measure a zero on two strips of this lot".to_owned()
        }
        PartVerdict::CannotSay(MoreStrips::Needed(n)) => {
            format!("measure {n} more strips of this lot: with them equivalence would show in four cases of five or more, if the lot is as it looks now")
        }
    }
}

/// An adjustment and its cost.
pub(super) fn adjusted(adjustment: &OnePointAdjustment, before: f64, unit: &str) -> String {
    let after = libm::sqrt(before * before + adjustment.relative_u * adjustment.relative_u);
    format!(
        "readings of this lot are divided by {:.4}, found with {} strips at {} {unit}; that adds a standard uncertainty of {} % to every result: {} % in all where it was {} %",
        adjustment.ratio,
        adjustment.n,
        adjustment.level,
        round_up(100.0 * adjustment.relative_u, 2),
        round_up(100.0 * after, 2),
        round_up(100.0 * before, 2)
    )
}

/// Why there is no adjustment.
pub(super) fn refused(why: &AdjustmentRefused, unit: &str) -> String {
    match why {
        AdjustmentRefused::NotNeeded => {
            "no adjustment: the lot is equivalent as it is, and an adjustment would only add uncertainty".to_owned()
        }
        AdjustmentRefused::TooFewStrips { found, needed } => {
            format!("no adjustment: {found} strips at that level, {needed} needed; measure {} more", needed - found)
        }
        AdjustmentRefused::LevelTooLow { level, lowest } => format!(
            "no adjustment: the level {level} {unit} lies too low in the range, where the zero's doubt turns the line; use {lowest} {unit} or more"
        ),
        AdjustmentRefused::TooFar { difference_percent, largest_percent } => format!(
            "no adjustment: the sensitivity differs by {difference_percent:+.1} %, more than the {largest_percent} % that may be adjusted; it may be another kind of strip: check the label, and calibrate this lot"
        ),
        AdjustmentRefused::ZeroDiffers { found, margin } => format!(
            "no adjustment: zeros read {found:+.2} {unit}, not shown to lie within ±{margin} {unit}; one factor cannot mend that: calibrate this lot"
        ),
        AdjustmentRefused::ZeroNotShown => {
            "no adjustment: no zero was measured on this lot, so it is not known whether one factor is enough; measure zeros on two strips or more".to_owned()
        }
        AdjustmentRefused::LevelsDisagree { level, ratio, allowed } => format!(
            "no adjustment: after it, strips at {level} {unit} would read {:+.1} % off, more than the ±{:.1} % of chance; one factor is not enough: calibrate this lot",
            100.0 * (ratio - 1.0),
            100.0 * allowed
        ),
        AdjustmentRefused::ScattersMore { found, approved, p_value } => format!(
            "no adjustment: strips of this lot scatter by {:.1} %, those of the approved one by {:.1} % (p = {p_value:.3}); a factor does not mend scatter: calibrate this lot, or return it",
            100.0 * found,
            100.0 * approved
        ),
    }
}

/// Each component of scatter, in % of the mean.
pub(super) fn scatter(found: &LotScatter) -> Vec<String> {
    let components = &found.components;
    let percent = |variance: f64| 100.0 * libm::sqrt(f64::max(0.0, variance)) / components.mean;
    let stated = |name: &str, estimate: &ComponentEstimate| {
        format!(
            "{name}: {:.2} % ({:.0} % interval {:.2} to {:.2} %)",
            percent(estimate.variance),
            100.0 * found.coverage,
            percent(estimate.interval.low),
            percent(estimate.interval.high)
        )
    };
    let of = |name: &str, component: &Component| match component {
        Component::Estimated(estimate) => stated(name, estimate),
        Component::TooFew { found, needed } => format!(
            "{name}: not estimable from {found} lots; {needed} are needed: measure strips of {} more lots with the same known solution",
            needed.saturating_sub(*found)
        ),
    };
    vec![
        of("lot to lot", &components.between_classes),
        stated("electrode to electrode", &components.between_groups),
        stated("scan to scan", &components.within_groups),
        of("a single scan of an unknown strip of an unknown lot", &components.total),
    ]
}

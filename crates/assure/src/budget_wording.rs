//! Every sentence about uncertainty, replicates and performance, side by side.
//!
//! Rules as in `wording.rs`: plain words, numbers with their unit, and never less said than found.

use stillwell_quantity::{round_down, round_up};

use crate::performance::PerformanceCheck;
use crate::retest::Look;
use crate::top_down::SideBySide;
use crate::validation::Validation;
use crate::{Component, DecisionCode};

impl Component {
    /// The component's name in a budget.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Calibration => "calibration",
            Self::Blank => "blank",
            Self::StandardsPreparation => "standards' preparation",
            Self::Repeatability => "repeatability",
            Self::BetweenElectrodes => "electrode to electrode",
            Self::BetweenLots => "lot to lot",
            Self::Temperature => "temperature",
            Self::Drift => "drift",
            Self::Recovery => "recovery",
            Self::Dilution => "dilution",
            Self::Other => "other",
        }
    }
}

/// What makes a component smaller.
pub(crate) const fn how_to_shrink(component: Component) -> &'static str {
    match component {
        Component::Calibration => {
            "More electrodes for the standards, above all near the level that is decided on and at the ends of the range."
        }
        Component::Blank => "More blanks, on electrodes of the same lot and on the same day.",
        Component::StandardsPreparation => {
            "A stock of better known purity, larger weighings, glassware of a better class, fewer dilution steps."
        }
        Component::Repeatability => {
            "More scans an electrode, as far as the spread between electrodes does not already dominate."
        }
        Component::BetweenElectrodes => {
            "More electrodes a sample: more scans of the same electrode do not help."
        }
        Component::BetweenLots => {
            "A calibration for each lot, or electrodes of several lots: more electrodes of one lot do not help."
        }
        Component::Temperature => {
            "Measure at the temperature of the calibration, or determine the temperature coefficient better."
        }
        Component::Drift => "Check standards closer to the sample, or a new calibration.",
        Component::Recovery => "More reference materials or spikes, with a better known content.",
        Component::Dilution => "A smaller dilution, larger volumes, glassware of a better class.",
        Component::Other => "Find out what it consists of.",
    }
}

/// Beside two intervals that agree.
pub(crate) const USE_REPORTED: &str = "use the reported interval";
/// Beside two that do not.
pub(crate) const USE_WIDER: &str =
    "use the wider of them for anything that hangs on it; the verdict above rests on the reported one";

/// Whether the law of propagation stands alone, or both intervals are reported.
pub(crate) fn validation(found: &Validation, unit: &str) -> String {
    let interval = |[low, high]: [f64; 2]| format!("{} to {} {unit}", round_down(low, 4), round_up(high, 4));
    let (budget, draws) = (interval(found.budget_interval), interval(found.monte_carlo_interval));
    // 99.73, not 99.72999999999999.
    let percent = libm::round(1e6 * found.expanded.coverage) / 1e4;
    if found.agrees() {
        return format!(
            "The {percent} % interval of the budget is {budget}; Monte Carlo gives {draws} and confirms it."
        );
    }
    let size = round_up(found.ratio, 3);
    format!(
        "Two {percent} % intervals are reported, since they disagree: {budget} by the law of propagation, {draws} by Monte Carlo, whose standard uncertainty is {size} times that of the budget. Where they differ, Monte Carlo's holds for the model and distributions as stated."
    )
}

/// Budget and top-down uncertainty side by side.
pub(crate) fn side_by_side(found: &SideBySide) -> String {
    let (budget, seen) = (round_up(found.bottom_up.percent, 2), round_up(found.top_down.percent, 2));
    let both = format!(
        "The budget gives a relative standard uncertainty of {budget} %, check standards and recoveries show {seen} %"
    );
    let said = if found.agrees() {
        format!(
            "{both}: no more apart than their degrees of freedom allow. The larger one is the one to defend."
        )
    } else if found.ratio > 1.0 {
        format!("{both}: something is missing from the budget. Report the larger one until it is found.")
    } else {
        format!(
            "{both}: the budget counts something twice, or the check standards do not see all that a sample goes through. Report the larger one until that is settled."
        )
    };
    if found.has_few_findings {
        return format!(
            "{said} Fewer than six comparisons stand behind the bias, so the second number is weak."
        );
    }
    said
}

/// One look of a retest.
pub(crate) fn look(look: &Look, unit: &str) -> String {
    let n = look.n_results;
    let mean = format!("the mean of all {n} results is {} {unit}", round_up(look.mean, 4));
    let band = format!(
        "{} to {} {unit}",
        round_down(look.guard.accept_up_to, 4),
        round_up(look.guard.reject_above, 4)
    );
    match (look.code, look.is_final) {
        (DecisionCode::Below, _) => {
            format!("Below the limit: {mean}, and nothing is called between {band}.")
        }
        (DecisionCode::Above, _) => {
            format!("Above the limit: {mean}, and nothing is called between {band}.")
        }
        (_, false) => format!(
            "Still open: {mean}, inside {band}. Measure the further replicates of the rule; the results so far count with them."
        ),
        (_, true) => format!(
            "Too close to call, and the rule fixed beforehand ends here: {mean}, inside {band}. Treat the water as if it were above the limit; measuring on until a result passes proves nothing."
        ),
    }
}

/// A method held against a requirement.
pub(crate) fn performance(check: &PerformanceCheck) -> String {
    let asked = &check.requirement;
    let part = |met: bool, name: &str, found: f64, most: f64| {
        let verdict = if met { "met" } else { "NOT met" };
        format!("{name} {} % of the limit, at most {most} %: {verdict}", round_up(found, 3))
    };
    let uncertainty = part(
        check.uncertainty_is_met(),
        "expanded uncertainty (k = 2)",
        check.uncertainty_percent,
        asked.max_uncertainty_percent,
    );
    let quantification = part(
        check.quantification_is_met(),
        "quantification limit",
        check.quantification_percent,
        asked.max_quantification_percent,
    );
    let caution = "A method that meets this is good enough to be used for the limit; the uncertainty is no extra allowance on top of the limit.";
    format!("{} against {}: {uncertainty}; {quantification}. {caution}", asked.limit, asked.source)
}

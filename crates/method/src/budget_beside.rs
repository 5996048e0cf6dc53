//! What stands beside the budget of one determination: drift and errors of the check standards, the top-down way, what a
//! directive asks, what measuring again could do.

use stillwell_assure::{
    BiasEvidence, BiasFinding, Budget, Component, DecisionCode, Estimate as Judged, GuardedLimits,
    PerformanceCheck, ReplicateUncertainty, SideBySide, TopDown, guarded_limits, performance_requirement,
    top_down, within_laboratory,
};
use stillwell_calibrate::{ElectrodeSignals, concentration};
use stillwell_evaluate::signal_at;
use stillwell_quantity::{Concentration, QuantityKind};
use stillwell_stats::distributions::student_t_quantile;

use crate::budget::DeterminationBudget;
use crate::budget_text;
use crate::check_history::{CheckHistory, CheckedLevel};
use crate::determination::{Determination, Outcome, Report};
use crate::file::{LimitPlan, Method};
use crate::input::Input;
use crate::link::CalibrationLink;
use crate::sample::decided;

/// Fewest results of check standards that usually stand for reproducibility: common practice, no source.
const USUAL_RESULTS: usize = 8;
/// Fewest comparisons that may stand for the bias: Nordtest TR 537, section 5.
const USUAL_COMPARISONS: usize = 6;
/// More further determinations than this nobody makes.
const MOST_FURTHER: u32 = 30;

/// What check standards of the sample's batch show.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchChecks {
    /// The check standards, in the order of the work.
    pub checks: Vec<CheckedLevel>,
    /// Last less first, in % of the level, where there are two.
    pub drift_percent: Option<f64>,
    /// Half width of its interval, from the electrodes of both: the calibration is the same.
    pub drift_half_width_percent: Option<f64>,
    /// Root mean square of their errors, in %.
    pub rms_error_percent: f64,
    /// What of that the budget's own parts would make, in %.
    pub explained_percent: f64,
    /// What is left, in %; 0 where nothing is.
    pub unexplained_percent: f64,
    /// The expanded uncertainty of the determination with what is left in it, in the reporting unit; the interval as it is holds none of it.
    pub expanded_with: f64,
    /// Limits that would be too close to call with it, although they are decided now.
    pub undecided_with: Vec<String>,
}

impl BatchChecks {
    /// Whether the last check standard differs from the first by more than chance.
    pub fn has_drifted(&self) -> bool {
        let (drift, half) = (self.drift_percent, self.drift_half_width_percent);
        drift.zip(half).is_some_and(|(drift, half)| drift.abs() > half)
    }
}

/// Check standards and spikes beside the budget.
#[derive(Debug, Clone, PartialEq)]
pub struct TopDownSide {
    /// The uncertainty the top-down way.
    pub found: TopDown,
    /// Both side by side.
    pub beside: SideBySide,
    /// Expanded uncertainty, in % of the value.
    pub expanded_percent: f64,
}

/// What a second, last look decided beforehand would take.
#[derive(Debug, Clone, PartialEq)]
pub struct RetestOutlook {
    /// The limit that this is about.
    pub limit_id: String,
    /// The limit in the reporting unit.
    pub limit: f64,
    /// Share of the variance that all replicates have in common.
    pub shared_share: f64,
    /// The two parts.
    pub uncertainty: ReplicateUncertainty,
    /// Risk of a wrong call for each side, over both looks.
    pub risk: f64,
    /// Where a mean of very many would have to lie to be called: shared components leave these guarded limits.
    pub at_best: Option<GuardedLimits>,
    /// Further determinations after which a mean that stays where it is would be called, and the guarded limits then.
    pub enough: Option<(u32, GuardedLimits)>,
}

/// Everything beside one budget.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// Check standards of the sample's batch; `None` where it has none.
    pub batch_checks: Option<BatchChecks>,
    /// All check standards and spikes of the folder.
    pub history: CheckHistory,
    /// The top-down way; `None` where the folder has too little for it.
    pub top_down: Option<TopDownSide>,
    /// What is missing for the top-down way, or makes it weak.
    pub top_down_lacks: Vec<String>,
    /// The method against what a directive asks of it.
    pub performance: Vec<PerformanceCheck>,
    /// Why there is no such check although there is a limit.
    pub performance_lacks: Option<String>,
    /// One for each limit that is too close to call.
    pub retests: Vec<RetestOutlook>,
}

/// Puts beside a budget what the same folder shows otherwise. Nothing of it changes the interval.
///
/// # Units
/// The method's reporting unit; `determination` is the one that the budget is of.
///
/// # Source
/// [`stillwell_assure::top_down`], [`stillwell_assure::performance_requirement`], [`stillwell_assure::RetestRule`]. What check
/// standards show beyond the budget, `√(mean error² − mean u²)`: from the definition of the two.
pub fn beside(
    input: &Input,
    report: &Report,
    determination: &Determination,
    of: &DeterminationBudget,
) -> Beside {
    let history = crate::check_history::check_history(input, report);
    let calibration = determination.calibration.and_then(|place| report.calibrations.get(place));
    let level_u = input.method.calibration.level_relative_u;
    let planned = input.method.sample.electrodes;
    let (top_down, top_down_lacks) =
        top_down_side(&history, &of.budget, level_u, planned, coverage_of(determination));
    let (performance, performance_lacks) = performance(&input.method, calibration);
    Beside {
        batch_checks: calibration
            .and_then(|link| batch_checks(&input.method, &history, determination, link, &of.budget)),
        top_down,
        top_down_lacks,
        performance,
        performance_lacks,
        retests: retests(&input.method, determination, &of.budget),
        history,
    }
}

fn coverage_of(determination: &Determination) -> f64 {
    match &determination.outcome {
        Outcome::Quantified(estimate) => estimate.coverage,
        _ => 0.95,
    }
}

fn batch_checks(
    method: &Method,
    history: &CheckHistory,
    determination: &Determination,
    calibration: &CalibrationLink,
    budget: &Budget,
) -> Option<BatchChecks> {
    let level_relative_u = method.calibration.level_relative_u;
    let is_of_batch =
        |check: &&CheckedLevel| check.batch == determination.batch && check.key == calibration.key;
    let checks: Vec<CheckedLevel> = history.checks.iter().filter(is_of_batch).cloned().collect();
    let first = checks.first()?;
    let coverage = coverage_of(determination);
    let last = checks.last().filter(|last| last.first_scan != first.first_scan);
    let n = checks.len() as f64;
    let mean_square =
        |of: &dyn Fn(&CheckedLevel) -> f64| checks.iter().map(|check| of(check) * of(check)).sum::<f64>() / n;
    let seen = mean_square(&CheckedLevel::error_percent);
    let explained = mean_square(&|check| check.u_percent(level_relative_u));
    let unexplained_percent = libm::sqrt((seen - explained).max(0.0));
    let added = budget.value * unexplained_percent / 100.0;
    let u = libm::sqrt(budget.standard_uncertainty * budget.standard_uncertainty + added * added);
    let factor = budget.expanded(coverage).ok()?.coverage_factor;
    Some(BatchChecks {
        drift_percent: last.map(|last| last.error_percent() - first.error_percent()),
        drift_half_width_percent: last.map(|last| drift_half_width_percent(first, last, coverage)),
        rms_error_percent: libm::sqrt(seen),
        explained_percent: libm::sqrt(explained),
        unexplained_percent,
        expanded_with: factor * u,
        undecided_with: undecided_with(method, determination, budget.value, factor * u),
        checks,
    })
}

/// The calibration is the same for both: only their electrodes count.
fn drift_half_width_percent(first: &CheckedLevel, last: &CheckedLevel, coverage: f64) -> f64 {
    let t = student_t_quantile(0.5 + 0.5 * coverage, first.degrees_of_freedom);
    let relative = |check: &CheckedLevel| check.u_of_electrodes / check.level;
    let (a, b) = (relative(first), relative(last));
    100.0 * t * libm::sqrt(a * a + b * b)
}

/// Limits that are decided as reported and would not be with a wider interval.
fn undecided_with(
    method: &Method,
    determination: &Determination,
    value: f64,
    half_width: f64,
) -> Vec<String> {
    let kind = method.analyte.reported_as.clone();
    let coverage = coverage_of(determination);
    let Ok(judged) = Judged::interval(kind, value - half_width, value, value + half_width, coverage) else {
        return Vec::new();
    };
    let is_decided = |code| matches!(code, DecisionCode::Below | DecisionCode::Above);
    let wider = decided(method, &judged);
    let pairs = determination.decisions.iter().zip(&wider);
    pairs
        .filter(|(now, wider)| is_decided(now.code) && !is_decided(wider.code))
        .map(|(now, _)| now.limit_id.clone())
        .collect()
}

fn top_down_side(
    history: &CheckHistory,
    budget: &Budget,
    level_relative_u: f64,
    planned: u32,
    coverage: f64,
) -> (Option<TopDownSide>, Vec<String>) {
    let (n_checks, n_batches, n_spikes) = (history.checks.len(), history.n_batches(), history.spikes.len());
    let mut lacks = Vec::new();
    if n_batches < 2 {
        lacks.push(budget_text::one_batch(n_checks, n_batches));
        return (None, lacks);
    }
    if let Some(fewest) = history.checks.iter().map(|check| check.n_electrodes).min().filter(|n| *n < planned)
    {
        lacks.push(budget_text::fewer_electrodes(fewest, planned));
    }
    if n_checks < USUAL_RESULTS {
        lacks.push(budget_text::few_checks(n_checks, n_batches, USUAL_RESULTS));
    }
    let reference_u_percent = 100.0 * level_relative_u;
    if level_relative_u <= 0.0 {
        lacks.push(budget_text::REFERENCES_WITHOUT_U.to_owned());
    }
    let results: Vec<f64> = history.checks.iter().map(|check| 100.0 + check.error_percent()).collect();
    let mean_error = results.iter().sum::<f64>() / n_checks as f64 - 100.0;
    let mut findings = vec![BiasFinding { bias_percent: mean_error, reference_u_percent }];
    let of_spike = |spike: &crate::check_history::RecoveredSpike| BiasFinding {
        bias_percent: spike.recovery_percent - 100.0,
        reference_u_percent,
    };
    findings.extend(history.spikes.iter().map(of_spike));
    if findings.len() < USUAL_COMPARISONS {
        lacks.push(budget_text::few_comparisons(n_spikes, USUAL_COMPARISONS));
    }
    lacks.push(budget_text::SAME_STOCK.to_owned());
    let side = within_laboratory(&results)
        .and_then(|within| top_down(within, &BiasEvidence::Several(findings)))
        .and_then(|found| {
            let beside = found.beside(budget)?;
            let expanded_percent = found.combined.expanded(coverage)?.half_width;
            Ok(TopDownSide { found, beside, expanded_percent })
        });
    match side {
        Ok(side) => (Some(side), lacks),
        Err(error) => {
            lacks.insert(0, error.to_string());
            (None, lacks)
        }
    }
}

/// A value of one kind in another.
fn in_kind(value: f64, from: &QuantityKind, to: &QuantityKind) -> Option<f64> {
    let value = Concentration::of_kind(value, from.clone()).ok()?.to_kind(to).ok()?;
    Some(value.value())
}

fn performance(
    method: &Method,
    calibration: Option<&CalibrationLink>,
) -> (Vec<PerformanceCheck>, Option<String>) {
    let kind = &method.analyte.reported_as;
    let asked = ["eu-nitrate", "eu-nitrite"].into_iter().filter_map(|id| performance_requirement(id).ok());
    let about_this = asked.filter_map(|asked| {
        let level = in_kind(asked.limit.value(), asked.limit.kind(), kind)?;
        Some((asked, level))
    });
    let mut lacks = None;
    let mut checks = Vec::new();
    for (asked, level) in about_this.filter(|_| !method.limits.is_empty()) {
        let limit_kind = asked.limit.kind().clone();
        let found = calibration.and_then(|link| {
            let quantification = link.detection.as_ref()?.quantification_limit.value();
            let u = in_kind(uncertainty_at(method, link, level)?, kind, &limit_kind)?;
            asked.clone().check(u, in_kind(quantification, kind, &limit_kind)?).ok()
        });
        match found {
            Some(check) => checks.push(check),
            None => lacks = Some(budget_text::no_performance(&asked.limit.to_string())),
        }
    }
    (checks, lacks)
}

/// Standard uncertainty of a sample that reads just this level on as many electrodes as the method asks for, at the calibration's
/// temperature, not diluted.
fn uncertainty_at(method: &Method, link: &CalibrationLink, level: f64) -> Option<f64> {
    let made = link.calibration.as_ref()?;
    let signal_a = signal_at(&made.curve, level);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a mean number of scans is small and positive"
    )]
    let n_scans = libm::round(made.components.scans_per_electrode).max(1.0) as usize;
    let electrodes: Vec<ElectrodeSignals> = (0..method.sample.electrodes)
        .map(|n| ElectrodeSignals { electrode: n.to_string(), signals_a: vec![signal_a; n_scans] })
        .collect();
    let read = concentration(made, &electrodes).ok()?;
    let (value, combined) = (read.value()?, read.uncertainty?.combined);
    let of_levels = value * method.calibration.level_relative_u;
    Some(libm::sqrt(combined * combined + of_levels * of_levels))
}

fn retests(method: &Method, determination: &Determination, budget: &Budget) -> Vec<RetestOutlook> {
    let open = determination.decisions.iter().filter(|d| d.code == DecisionCode::TooCloseToCall);
    let limits = limits_in_reporting_unit(method);
    let risk = (1.0 - method.calibration.coverage) / 2.0;
    open.filter_map(|decision| {
        let (_, level) = limits.iter().find(|(id, _)| *id == decision.limit_id)?;
        let uncertainty =
            budget.for_replicates(&[Component::BetweenElectrodes, Component::Repeatability]).ok()?;
        let shared = uncertainty.shared().standard_uncertainty / budget.standard_uncertainty;
        Some(RetestOutlook {
            limit_id: decision.limit_id.clone(),
            limit: *level,
            shared_share: shared * shared,
            at_best: at_best(*level, &uncertainty, risk),
            enough: enough(*level, budget.value, &uncertainty, risk),
            uncertainty,
            risk,
        })
    })
    .collect()
}

/// The shared part counts as exactly known here, so that the true band is wider rather than narrower.
fn at_best(limit: f64, uncertainty: &ReplicateUncertainty, risk: f64) -> Option<GuardedLimits> {
    guarded_limits(limit, uncertainty.shared().standard_uncertainty, f64::INFINITY, risk / 2.0).ok()
}

/// Half of the risk for the second look, as [`stillwell_assure::RetestRule`] has it; the determination at hand is the first.
fn enough(
    limit: f64,
    value: f64,
    uncertainty: &ReplicateUncertainty,
    risk: f64,
) -> Option<(u32, GuardedLimits)> {
    (1..=MOST_FURTHER).find_map(|further| {
        let of_mean = uncertainty.of_mean(1 + further).ok()?;
        let (u, df) = (of_mean.standard_uncertainty, of_mean.degrees_of_freedom);
        let guard = guarded_limits(limit, u, df, risk / 2.0).ok()?;
        (guard.call(value) != DecisionCode::TooCloseToCall).then_some((further, guard))
    })
}

/// The method's limits on its analyte alone, by identity, in the reporting unit.
pub fn limits_in_reporting_unit(method: &Method) -> Vec<(String, f64)> {
    let kind = &method.analyte.reported_as;
    let single = method.limits.iter().filter_map(|limit| match limit {
        LimitPlan::Single(limit) => Some(limit),
        LimitPlan::Sum(_) => None,
    });
    single
        .filter_map(|limit| Some((limit.id().to_owned(), in_kind(limit.value(), limit.kind(), kind)?)))
        .collect()
}

/// The determination whose budget is asked for first: too close to its limit to call, else nearest to a limit for its
/// uncertainty, else the first with a number.
pub fn most_in_need(method: &Method, report: &Report) -> Option<usize> {
    let limits = limits_in_reporting_unit(method);
    let mut best: Option<(usize, (u8, f64))> = None;
    for (at, determination) in report.determinations.iter().enumerate() {
        let Outcome::Quantified(estimate) = &determination.outcome else { continue };
        let is_open = determination.decisions.iter().any(|d| d.code == DecisionCode::TooCloseToCall);
        let away =
            limits.iter().map(|(_, level)| (level - estimate.value.value()).abs() / estimate.expanded_u());
        let rank = (u8::from(!is_open), away.fold(f64::INFINITY, f64::min));
        if best.is_none_or(|(_, known)| rank < known) {
            best = Some((at, rank));
        }
    }
    best.map(|(at, _)| at)
}

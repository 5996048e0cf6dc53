//! One function a criterion: evidence and requirement to a row.

use stillwell_stats::comparison::{Spreads, mean_difference};
use stillwell_stats::components::{
    Component, ComponentEstimate, ComponentSettings, OneWayComponents, USUAL_LEAST_MEMBERS,
    one_way_components,
};
use stillwell_stats::distributions::student_t_quantile;
use stillwell_stats::outliers::{Suspect, grubbs_test};
use stillwell_stats::{cochran_test, mean, standard_deviation};

use super::evidence::{
    Interference, ReferenceCheck, Requirement, ValidationEvidence, ValidationRequirements,
};
use super::table::{Criterion, RowVerdict, ValidationRow};
use super::wording::{self, Lacking};

/// Significance of the advice on outliers: 1 % as in ISO 5725-2.
const OUTLIER_ALPHA: f64 = 0.01;

/// Fewest results without and with an interferent: common practice, no source.
const FEWEST_EACH_SIDE: usize = 3;

/// A row without evidence yet.
fn row(criterion: Criterion, unit: &str) -> ValidationRow {
    ValidationRow {
        criterion,
        subject: String::new(),
        found: None,
        interval: None,
        unit: unit.to_owned(),
        n: 0,
        requirement: None,
        verdict: not_shown(criterion, Lacking::Evidence),
        advice: Vec::new(),
    }
}

fn not_shown(criterion: Criterion, lacking: Lacking) -> RowVerdict {
    RowVerdict::NotShown { would_show: wording::would_show(criterion, lacking) }
}

/// An interval against what is allowed: within, beyond, or neither.
fn judged(row: &mut ValidationRow, found: f64, interval: [f64; 2], allowed: Option<([f64; 2], String)>) {
    row.found = Some(found);
    row.interval = (interval[1] > interval[0]).then_some(interval);
    row.verdict = match &allowed {
        None => not_shown(row.criterion, Lacking::Requirement),
        Some(([low, high], _)) if interval[0] >= *low && interval[1] <= *high => RowVerdict::Met,
        Some(([low, high], _)) if interval[1] < *low || interval[0] > *high => RowVerdict::NotMet,
        Some(_) => not_shown(row.criterion, Lacking::Determinations),
    };
    row.requirement = allowed;
}

fn at_most(asked: Option<&Requirement<f64>>) -> Option<([f64; 2], String)> {
    asked.map(|asked| ([0.0, asked.value], asked.source.clone()))
}

fn within(asked: Option<&Requirement<f64>>) -> Option<([f64; 2], String)> {
    asked.map(|asked| ([-asked.value, asked.value], asked.source.clone()))
}

pub(super) fn working_range(
    evidence: &ValidationEvidence,
    asked: &ValidationRequirements,
    unit: &str,
) -> ValidationRow {
    let mut row = row(Criterion::WorkingRange, unit);
    row.requirement = asked.range.as_ref().map(|asked| (asked.value, asked.source.clone()));
    let Some(covered) = evidence.calibrated_range else { return row };
    row.interval = Some(covered);
    row.n = 2;
    row.verdict = match &row.requirement {
        None => not_shown(Criterion::WorkingRange, Lacking::Requirement),
        Some(([low, high], _)) if covered[0] <= *low && covered[1] >= *high => RowVerdict::Met,
        Some(_) => RowVerdict::NotMet,
    };
    row
}

pub(super) fn linearity(evidence: &ValidationEvidence, asked: &ValidationRequirements) -> ValidationRow {
    let mut row = row(Criterion::Linearity, "%");
    row.requirement = at_most(asked.deviation_percent.as_ref());
    let Some(found) = evidence.linearity else { return row };
    row.n = found.n_levels;
    let largest = found.largest_deviation_percent;
    judged(&mut row, largest, [largest; 2], at_most(asked.deviation_percent.as_ref()));
    match found.lack_of_fit_p {
        Some(p) if p < OUTLIER_ALPHA => row.advice.push(wording::lack_of_fit(p)),
        Some(_) => {}
        None => row.advice.push(wording::LACK_OF_FIT_UNTESTED.to_owned()),
    }
    row
}

pub(super) fn limit(
    criterion: Criterion,
    found: Option<f64>,
    asked: Option<&Requirement<f64>>,
    unit: &str,
) -> ValidationRow {
    let mut row = row(criterion, unit);
    row.requirement = at_most(asked);
    if let Some(found) = found {
        row.n = 1;
        judged(&mut row, found, [found; 2], at_most(asked));
    }
    row
}

pub(super) fn precision(evidence: &ValidationEvidence, asked: &ValidationRequirements) -> Vec<ValidationRow> {
    let [mut within_day, mut between] =
        [Criterion::Repeatability, Criterion::IntermediatePrecision].map(|criterion| row(criterion, "%"));
    within_day.requirement = at_most(asked.repeatability_percent.as_ref());
    between.requirement = at_most(asked.intermediate_percent.as_ref());
    let settings = ComponentSettings { coverage: 0.95, least_members: USUAL_LEAST_MEMBERS };
    let components = one_way_components(&evidence.days, settings).ok().filter(|found| found.mean > 0.0);
    if let Some(found) = components {
        within_day.n = evidence.days.iter().map(Vec::len).sum();
        between.n = found.n_groups;
        spread(&mut within_day, &found, found.within, asked.repeatability_percent.as_ref());
        match found.total {
            Component::Estimated(total) => {
                spread(&mut between, &found, total, asked.intermediate_percent.as_ref());
            }
            Component::TooFew { found, needed } => {
                between.verdict =
                    not_shown(Criterion::IntermediatePrecision, Lacking::Days { found, needed });
            }
        }
        within_day.advice = odd_days(&evidence.days);
    }
    vec![within_day, between]
}

/// A component as relative standard deviation with its interval.
fn spread(
    row: &mut ValidationRow,
    all: &OneWayComponents,
    component: ComponentEstimate,
    asked: Option<&Requirement<f64>>,
) {
    let percent = |variance: f64| 100.0 * libm::sqrt(f64::max(0.0, variance)) / all.mean;
    let interval = [percent(component.interval.low), percent(component.interval.high)];
    judged(row, percent(component.variance), interval, at_most(asked));
}

/// Cochran on the days' spreads, Grubbs on their means: advice, and nothing is left out.
fn odd_days(days: &[Vec<f64>]) -> Vec<String> {
    let mut advice = Vec::new();
    if let Ok(test) = cochran_test(days, OUTLIER_ALPHA)
        && test.statistic > test.critical
    {
        advice.push(wording::odd_spread(test.largest_group + 1, test.p_value));
    }
    let means: Vec<f64> = days.iter().filter_map(|day| mean(day).ok()).collect();
    if let Ok(test) = grubbs_test(&means, Suspect::Farthest, OUTLIER_ALPHA)
        && test.is_beyond
    {
        advice
            .extend(test.suspects.iter().filter_map(|at| Some(wording::odd_mean(at + 1, *means.get(*at)?))));
    }
    advice
}

pub(super) fn trueness(evidence: &ValidationEvidence, asked: &ValidationRequirements) -> Vec<ValidationRow> {
    let rows: Vec<ValidationRow> = evidence.references.iter().map(|check| against(check, asked)).collect();
    if rows.is_empty() {
        let mut row = row(Criterion::Trueness, "%");
        row.requirement = within(asked.bias_percent.as_ref());
        return vec![row];
    }
    rows
}

fn against(check: &ReferenceCheck, asked: &ValidationRequirements) -> ValidationRow {
    let mut row = row(Criterion::Trueness, "%");
    row.subject.clone_from(&check.name);
    row.requirement = within(asked.bias_percent.as_ref());
    row.n = check.found.len();
    let (Ok(found), Ok(sd)) = (mean(&check.found), standard_deviation(&check.found)) else {
        row.verdict = not_shown(Criterion::Trueness, Lacking::Determinations);
        return row;
    };
    let n = check.found.len() as f64;
    let percent = |value: f64| 100.0 * value / check.reference;
    if check.reference > 0.0 && check.reference_u >= 0.0 {
        let own = sd * sd / n;
        let all = own + check.reference_u * check.reference_u;
        let df = if own > 0.0 { (all / own) * (all / own) * (n - 1.0) } else { 1e6 };
        let half = student_t_quantile(0.975, f64::min(df, 1e6)) * percent(libm::sqrt(all));
        let bias = percent(found - check.reference);
        judged(&mut row, bias, [bias - half, bias + half], within(asked.bias_percent.as_ref()));
    }
    row
}

pub(super) fn recovery(evidence: &ValidationEvidence, asked: &ValidationRequirements) -> ValidationRow {
    let mut row = row(Criterion::Recovery, "%");
    let allowed = asked.recovery_percent.as_ref().map(|asked| (asked.value, asked.source.clone()));
    row.requirement.clone_from(&allowed);
    row.n = evidence.recoveries_percent.len();
    if row.n > 0 {
        row.verdict = not_shown(Criterion::Recovery, Lacking::Determinations);
    }
    let found = (mean(&evidence.recoveries_percent), standard_deviation(&evidence.recoveries_percent));
    if let (Ok(mean), Ok(sd)) = found {
        let n = row.n as f64;
        let half = student_t_quantile(0.975, n - 1.0) * sd / libm::sqrt(n);
        judged(&mut row, mean, [mean - half, mean + half], allowed);
    }
    row
}

pub(super) fn selectivity(
    evidence: &ValidationEvidence,
    asked: &ValidationRequirements,
) -> Vec<ValidationRow> {
    let rows: Vec<ValidationRow> =
        evidence.interferences.iter().map(|tried| interference(tried, asked)).collect();
    if rows.is_empty() {
        let mut row = row(Criterion::Selectivity, "%");
        row.requirement = within(asked.interference_percent.as_ref());
        return vec![row];
    }
    rows
}

fn interference(tried: &Interference, asked: &ValidationRequirements) -> ValidationRow {
    let mut row = row(Criterion::Selectivity, "%");
    row.subject.clone_from(&tried.name);
    row.n = tried.with.len();
    row.requirement = within(asked.interference_percent.as_ref());
    row.verdict = not_shown(Criterion::Selectivity, Lacking::Determinations);
    if tried.n_refused > 0 {
        row.advice.push(wording::refused_beside(tried.n_refused));
    }
    let has_enough = |results: &[f64]| results.len() >= FEWEST_EACH_SIDE;
    let change = mean_difference(&tried.without, &tried.with, Spreads::Separate, 0.95);
    if let Ok(found) = change
        && tried.level > 0.0
        && has_enough(&tried.without)
        && has_enough(&tried.with)
    {
        let percent = |value: f64| 100.0 * value / tried.level;
        let interval = [percent(found.interval.low), percent(found.interval.high)];
        judged(&mut row, percent(found.difference), interval, within(asked.interference_percent.as_ref()));
    }
    row
}

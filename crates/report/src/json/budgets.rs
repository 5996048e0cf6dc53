//! `budget --format json`.

use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_assure::{BudgetLine, Evaluation, PerformanceCheck};
use stillwell_method::{
    BatchChecks, Beside, Determination, DeterminationBudget, Method, NoBudget, Report, RetestOutlook,
    TopDownSide, why_not_counted,
};

use super::determinations::{DeterminationJson, determination};
use super::{MethodJson, in_unit};

/// One determination with its budget, or why it has none, and what stands beside it.
pub struct Page<'a> {
    /// The method.
    pub method: &'a Method,
    /// The report that holds the determination.
    pub report: &'a Report,
    /// The folder or study.
    pub folder: &'a Path,
    /// The determination.
    pub determination: &'a Determination,
    /// Whether the user named it.
    pub is_named: bool,
    /// Its budget and what stands beside it.
    pub found: Result<(DeterminationBudget, Beside), NoBudget>,
    /// Of the Monte Carlo propagation.
    pub seed: u64,
}

/// One determination taken apart.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    determination: DeterminationJson,
    /// Why there is no budget, where there is none.
    no_budget: Option<String>,
    budget: Option<BudgetJson>,
    monte_carlo: Option<MonteCarloJson>,
    check_standards: Option<CheckStandardsJson>,
    top_down: Option<TopDownJson>,
    top_down_lacks: Vec<String>,
    performance: Vec<PerformanceJson>,
    retests: Vec<RetestJson>,
}

/// `budget --format json`.
pub fn of(page: &Page<'_>) -> Document {
    let unit = page.report.method.reported_as.suffix();
    let found = page.found.as_ref().ok();
    let beside: Option<&Beside> = found.map(|(_, beside)| beside);
    Document {
        method: MethodJson::from(&page.report.method),
        determination: determination(page.report, page.determination),
        no_budget: page.found.as_ref().err().map(ToString::to_string),
        budget: found.map(|(of, _)| budget(of, &unit)),
        monte_carlo: found.map(|(of, _)| monte_carlo(page, of, &unit)),
        check_standards: beside
            .and_then(|beside| beside.batch_checks.as_ref())
            .map(|checks| check_standards(page, checks, &unit)),
        top_down: beside.and_then(|b| b.top_down.as_ref().map(|side| top_down(b, side))),
        top_down_lacks: beside.map(|beside| beside.top_down_lacks.clone()).unwrap_or_default(),
        performance: beside.iter().flat_map(|b| &b.performance).map(performance).collect(),
        retests: beside.iter().flat_map(|b| &b.retests).map(|found| retest(found, &unit)).collect(),
    }
}

/// A number of degrees of freedom; `null` where infinite.
fn finite(number: f64) -> Option<f64> {
    number.is_finite().then_some(number)
}

#[derive(Serialize, JsonSchema)]
struct BudgetJson {
    coverage: f64,
    coverage_factor: f64,
    effective_degrees_of_freedom: Option<f64>,
    #[serde(flatten)]
    numbers: Map<String, Value>,
    parts: Vec<PartJson>,
    not_counted: Vec<NotCountedJson>,
}

#[derive(Serialize, JsonSchema)]
struct PartJson {
    name: String,
    component: &'static str,
    share_of_variance: f64,
    /// `A` or `B`.
    evaluation: &'static str,
    degrees_of_freedom: Option<f64>,
    source: String,
    how_to_shrink: String,
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

#[derive(Serialize, JsonSchema)]
struct NotCountedJson {
    component: &'static str,
    why: &'static str,
}

fn budget(of: &DeterminationBudget, unit: &str) -> BudgetJson {
    let expanded = &of.validation.expanded;
    let [low, high] = of.validation.budget_interval;
    let numbers = [
        ("concentration", Some(of.budget.value)),
        ("standard_u", Some(of.budget.standard_uncertainty)),
        ("expanded_u", Some(expanded.half_width)),
        ("low", Some(low)),
        ("high", Some(high)),
    ];
    BudgetJson {
        coverage: expanded.coverage,
        coverage_factor: expanded.coverage_factor,
        effective_degrees_of_freedom: finite(of.budget.degrees_of_freedom),
        numbers: in_unit(unit, numbers),
        parts: of.budget.lines.iter().map(|line| part(line, unit)).collect(),
        not_counted: of
            .not_counted
            .iter()
            .map(|component| NotCountedJson { component: component.name(), why: why_not_counted(*component) })
            .collect(),
    }
}

fn part(line: &BudgetLine, unit: &str) -> PartJson {
    PartJson {
        name: line.name.clone(),
        component: line.component.name(),
        share_of_variance: line.share,
        evaluation: if line.evaluation == Evaluation::TypeA { "A" } else { "B" },
        degrees_of_freedom: finite(line.degrees_of_freedom.number()),
        source: line.source.clone(),
        how_to_shrink: line.how_to_shrink.clone(),
        numbers: in_unit(
            unit,
            [
                ("standard_u", Some(line.contribution.abs())),
                ("standard_u_without", Some(line.combined_without)),
            ],
        ),
    }
}

#[derive(Serialize, JsonSchema)]
struct MonteCarloJson {
    draws: u64,
    seed: u64,
    agrees: bool,
    words: String,
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

fn monte_carlo(page: &Page<'_>, of: &DeterminationBudget, unit: &str) -> MonteCarloJson {
    let [low, high] = of.validation.monte_carlo_interval;
    let numbers = [
        ("mean", Some(of.monte_carlo.mean)),
        ("standard_u", Some(of.monte_carlo.standard_uncertainty)),
        ("low", Some(low)),
        ("high", Some(high)),
    ];
    MonteCarloJson {
        draws: of.monte_carlo.n_trials,
        seed: page.seed,
        agrees: of.validation.agrees(),
        words: of.validation.words(&page.method.analyte.reported_as.to_string()),
        numbers: in_unit(unit, numbers),
    }
}

#[derive(Serialize, JsonSchema)]
struct CheckStandardsJson {
    checks: Vec<CheckJson>,
    drift_percent: Option<f64>,
    drift_half_width_percent: Option<f64>,
    has_drifted: bool,
    rms_error_percent: f64,
    explained_percent: f64,
    unexplained_percent: f64,
    undecided_with_unexplained: Vec<String>,
    words: Vec<String>,
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

#[derive(Serialize, JsonSchema)]
struct CheckJson {
    file: String,
    error_percent: f64,
    electrodes: u32,
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

fn check_standards(page: &Page<'_>, found: &BatchChecks, unit: &str) -> CheckStandardsJson {
    let checks = found.checks.iter().map(|check| CheckJson {
        file: check.file.clone(),
        error_percent: check.error_percent(),
        electrodes: check.n_electrodes,
        numbers: in_unit(unit, [("level", Some(check.level)), ("found", Some(check.found))]),
    });
    CheckStandardsJson {
        checks: checks.collect(),
        drift_percent: found.drift_percent,
        drift_half_width_percent: found.drift_half_width_percent,
        has_drifted: found.has_drifted(),
        rms_error_percent: found.rms_error_percent,
        explained_percent: found.explained_percent,
        unexplained_percent: found.unexplained_percent,
        undecided_with_unexplained: found.undecided_with.clone(),
        words: found.words(&page.method.analyte.reported_as),
        numbers: in_unit(unit, [("expanded_u_with_unexplained", Some(found.expanded_with))]),
    }
}

#[derive(Serialize, JsonSchema)]
struct TopDownJson {
    within_laboratory_u_percent: f64,
    bias_u_percent: f64,
    combined_u_percent: f64,
    expanded_u_percent: f64,
    degrees_of_freedom: Option<f64>,
    from_budget_u_percent: f64,
    ratio: f64,
    agrees: bool,
    check_standards: usize,
    batches: usize,
    spike_recoveries_percent: Vec<f64>,
    words: String,
}

fn top_down(beside: &Beside, side: &TopDownSide) -> TopDownJson {
    TopDownJson {
        within_laboratory_u_percent: side.found.within_laboratory.percent,
        bias_u_percent: side.found.bias.percent,
        combined_u_percent: side.found.combined.percent,
        expanded_u_percent: side.expanded_percent,
        degrees_of_freedom: finite(side.found.combined.degrees_of_freedom),
        from_budget_u_percent: side.beside.bottom_up.percent,
        ratio: side.beside.ratio,
        agrees: side.beside.agrees(),
        check_standards: beside.history.checks.len(),
        batches: beside.history.n_batches(),
        spike_recoveries_percent: beside.history.spikes.iter().map(|s| s.recovery_percent).collect(),
        words: side.beside.words(),
    }
}

#[derive(Serialize, JsonSchema)]
struct PerformanceJson {
    limit: String,
    source: &'static str,
    expanded_u_percent_of_limit: f64,
    expanded_u_percent_allowed: f64,
    quantification_percent_of_limit: f64,
    quantification_percent_allowed: f64,
    is_met: bool,
    words: String,
}

fn performance(check: &PerformanceCheck) -> PerformanceJson {
    PerformanceJson {
        limit: check.requirement.limit.id().to_owned(),
        source: check.requirement.source,
        expanded_u_percent_of_limit: check.uncertainty_percent,
        expanded_u_percent_allowed: check.requirement.max_uncertainty_percent,
        quantification_percent_of_limit: check.quantification_percent,
        quantification_percent_allowed: check.requirement.max_quantification_percent,
        is_met: check.is_met(),
        words: check.words(),
    }
}

#[derive(Serialize, JsonSchema)]
struct RetestJson {
    limit: String,
    shared_share_of_variance: f64,
    risk_each_side: f64,
    further_determinations: Option<u32>,
    #[serde(flatten)]
    numbers: Map<String, Value>,
}

fn retest(found: &RetestOutlook, unit: &str) -> RetestJson {
    RetestJson {
        limit: found.limit_id.clone(),
        shared_share_of_variance: found.shared_share,
        risk_each_side: found.risk,
        further_determinations: found.enough.map(|(further, _)| further),
        numbers: in_unit(
            unit,
            [
                ("limit", Some(found.limit)),
                ("shared_standard_u", Some(found.uncertainty.shared().standard_uncertainty)),
                ("independent_standard_u", Some(found.uncertainty.independent().standard_uncertainty)),
                ("accept_up_to", found.enough.map(|(_, guard)| guard.accept_up_to)),
                ("reject_above", found.enough.map(|(_, guard)| guard.reject_above)),
            ],
        ),
    }
}

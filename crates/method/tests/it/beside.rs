//! What stands beside a budget: it must follow what the check standards of the folder show, and change nothing.

use std::ops::Range;

use stillwell_assure::{Component, DecisionCode, FirstLook, MonteCarloPlan, NamedLimit, RetestRule, Trials};
use stillwell_method::{
    Beside, DeterminationBudget, Input, LimitPlan, Outcome, Role, beside, budget, check_history, determine,
    most_in_need,
};
use stillwell_quantity::Concentration;

use crate::alder_vale::Study;

fn in_order(numbers: Range<u64>, block: &(dyn Fn(u64) -> Vec<f64> + Sync)) -> Vec<Vec<f64>> {
    numbers.map(block).collect()
}

fn of(input: &Input, sample: &str) -> (DeterminationBudget, Beside) {
    let report = determine(input);
    let plan = MonteCarloPlan { seed: 1, coverage: 0.95, trials: Trials::Fixed(10_000) };
    let found = report.determinations.iter().find(|found| found.sample == sample).expect("the sample");
    let budget = budget(input, &report, found, &plan, &in_order).expect("a budget");
    let beside = beside(input, &report, found, &budget);
    (budget, beside)
}

/// The scenario with the levels of some check standards stated otherwise: as if they read too high by as much.
fn with_levels(file: &str, level: f64) -> Input {
    let mut input = Study::input();
    let rows = input.run_sheet.rows.iter_mut();
    for row in rows.filter(|row| row.role == Role::CheckStandard && row.file.starts_with(file)) {
        let kind = row.level.as_ref().expect("a level").kind().clone();
        row.level = Some(Concentration::of_kind(level, kind).expect("a level"));
    }
    input
}

#[test]
fn a_closing_check_standard_that_reads_otherwise_is_drift() {
    let (_, quiet) = of(&Study::input(), "AV-07");
    let quiet = quiet.batch_checks.expect("check standards");
    assert!(!quiet.has_drifted(), "{quiet:?}");
    let drifted_input = with_levels("closing-checks-B3", 46.0);
    let (budget, drifted) = of(&drifted_input, "AV-07");
    let drifted = drifted.batch_checks.expect("check standards");
    assert!(drifted.has_drifted(), "{drifted:?}");
    let rise = drifted.drift_percent.expect("two") - quiet.drift_percent.expect("two");
    assert!((rise - 100.0 * 4.0 / 46.0).abs() < 0.5, "{rise}");
    // Nothing of it is in the interval, and the page says how wide it would be.
    let expanded = budget.validation.expanded.half_width;
    assert!(drifted.expanded_with > 1.2 * expanded, "{} beside {expanded}", drifted.expanded_with);
    let share = drifted.unexplained_percent / 100.0
        * budget.budget.value
        * budget.validation.expanded.coverage_factor;
    let both = (expanded * expanded + share * share).sqrt();
    assert!((drifted.expanded_with - both).abs() < 1e-9);
    let words = drifted.words(&drifted_input.method.analyte.reported_as).join(" ");
    assert!(words.contains("DRIFTED") && words.contains("not in the interval"), "{words}");
}

#[test]
fn a_verdict_that_would_not_hold_with_what_check_standards_show_is_named() {
    let mut input = with_levels("opening-checks-B3", 45.0);
    // AV-07 reads 62.4 ± 2.3.
    let kind = input.method.analyte.reported_as.clone();
    let limit = NamedLimit::new("alert", "alert level", 66.0, kind, "invented", "").expect("a limit");
    input.method.limits = vec![LimitPlan::Single(limit)];
    let (_, beside) = of(&input, "AV-07");
    let checks = beside.batch_checks.expect("check standards");
    assert_eq!(checks.undecided_with, ["alert"]);
}

#[test]
fn the_top_down_way_is_made_of_the_check_standards_and_spikes_of_the_folder() {
    let input = Study::input();
    let report = determine(&input);
    let history = check_history(&input, &report);
    assert_eq!((history.checks.len(), history.n_batches(), history.spikes.len()), (6, 3, 1));
    let errors: Vec<f64> = history.checks.iter().map(stillwell_method::CheckedLevel::error_percent).collect();
    let mean = errors.iter().sum::<f64>() / 6.0;
    let variance = errors.iter().map(|error| (error - mean) * (error - mean)).sum::<f64>() / 5.0;
    let within = 100.0 * variance.sqrt() / (100.0 + mean);
    let bias = history.spikes[0].recovery_percent - 100.0;
    let rms = f64::midpoint(mean * mean, bias * bias).sqrt();
    let (_, beside) = of(&input, "AV-02");
    let found = beside.top_down.expect("enough for it").found;
    assert!((found.within_laboratory.percent - within).abs() < 1e-9);
    assert!((found.rms_bias_percent - rms).abs() < 1e-9);
    // The spike's truth is 25 in 42.6: it is found again within its own scatter.
    assert!(bias.abs() < 12.0, "{bias}");
}

#[test]
fn a_folder_of_one_batch_has_no_top_down_number() {
    let mut input = Study::input();
    for row in &mut input.run_sheet.rows {
        if row.role == Role::CheckStandard && row.batch != "B2" {
            row.exclude = Some("not this batch".to_owned());
        }
    }
    let (_, beside) = of(&input, "AV-02");
    assert!(beside.top_down.is_none());
    assert!(beside.top_down_lacks[0].contains("show no reproducibility from day to day"));
}

/// AV-02 lies near the limit, so its own uncertainty is that at the limit, but for the bit of temperature and the disagreement.
#[test]
fn the_performance_check_takes_the_uncertainty_at_the_limit() {
    let (budget, beside) = of(&Study::input(), "AV-02");
    let [check] = beside.performance.as_slice() else { panic!("one check: {:?}", beside.performance) };
    assert_eq!(check.requirement.limit.id(), "eu-nitrate");
    let own = 100.0 * 2.0 * budget.budget.standard_uncertainty / 50.0;
    assert!(
        (check.uncertainty_percent / own - 1.0).abs() < 0.05,
        "{} beside {own}",
        check.uncertainty_percent
    );
    assert!(check.is_met());
}

/// The number of further determinations is the smallest that the rule itself would end with.
#[test]
fn the_retest_asks_for_as_many_as_the_rule_needs() {
    let mut input = Study::input();
    let kind = input.method.analyte.reported_as.clone();
    let limit = NamedLimit::new("alert", "alert level", 52.2, kind, "invented", "").expect("a limit");
    input.method.limits = vec![LimitPlan::Single(limit)];
    let (budget, beside) = of(&input, "AV-02");
    let [retest] = beside.retests.as_slice() else { panic!("one limit: {:?}", beside.retests) };
    let (enough, _) = retest.enough.expect("a number");
    let value = budget.budget.value;
    let last = |further: u32| {
        let uncertainty = retest.uncertainty;
        let rule =
            RetestRule { limit: retest.limit, uncertainty, n_first: 1, n_more: further, risk: retest.risk };
        let FirstLook::Open(_, second) = rule.first_look(&[value]).expect("one result") else {
            panic!("decided at the first look")
        };
        second.take(&vec![value; further as usize]).expect("as many as agreed").code
    };
    assert_eq!(last(enough), DecisionCode::Below);
    assert!(enough == 1 || last(enough - 1) == DecisionCode::TooCloseToCall, "{enough}");
    let parts = budget.budget.for_replicates(&[Component::BetweenElectrodes, Component::Repeatability]);
    assert_eq!(parts.expect("two parts"), retest.uncertainty);
}

#[test]
fn the_one_most_in_need_is_too_close_to_call() {
    let input = Study::input();
    let report = determine(&input);
    let at = most_in_need(&input.method, &report).expect("a number");
    assert_eq!(report.determinations[at].sample, "AV-02");
    // Without limits, the first number.
    let mut free = Study::input();
    free.method.limits.clear();
    let report = determine(&free);
    let at = most_in_need(&free.method, &report).expect("a number");
    let first = report.determinations.iter().position(|d| matches!(d.outcome, Outcome::Quantified(_)));
    assert_eq!(Some(at), first);
}

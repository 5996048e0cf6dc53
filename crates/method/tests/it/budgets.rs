//! Budgets of the invented scenario's determinations: they must add up to what the chain reported.

use std::ops::Range;

use stillwell_assure::{Component, DegreesOfFreedom, MonteCarloPlan, Trials};
use stillwell_calibrate::{Calibration, ElectrodeSignals, concentration};
use stillwell_method::{
    Determination, DeterminationBudget, Estimate, Input, NoBudget, Outcome, Report, budget, determine,
};

use crate::alder_vale::Study;

const PLAN: MonteCarloPlan = MonteCarloPlan { seed: 1, coverage: 0.95, trials: Trials::Fixed(100_000) };

fn in_order(numbers: Range<u64>, block: &(dyn Fn(u64) -> Vec<f64> + Sync)) -> Vec<Vec<f64>> {
    numbers.map(block).collect()
}

fn budgets(input: &Input, report: &Report) -> Vec<(usize, DeterminationBudget)> {
    let all = report.determinations.iter().enumerate();
    let quantified = all.filter(|(_, found)| matches!(found.outcome, Outcome::Quantified(_)));
    quantified
        .map(|(at, found)| (at, budget(input, report, found, &PLAN, &in_order).expect("a budget")))
        .collect()
}

fn estimate_of(found: &Determination) -> &Estimate {
    match &found.outcome {
        Outcome::Quantified(estimate) => Some(estimate),
        _ => None,
    }
    .expect("a value")
}

fn calibration_of<'r>(report: &'r Report, found: &Determination) -> &'r Calibration {
    found.calibration.and_then(|at| report.calibrations[at].calibration.as_ref()).expect("a calibration")
}

/// The chain's combined standard uncertainty, straight from the calibration and the parts of the reported interval.
fn of_the_chain(report: &Report, at: usize) -> f64 {
    let found = &report.determinations[at];
    let made = calibration_of(report, found);
    let estimate = estimate_of(found);
    let t = made.curve.t_quantile;
    // Parts beyond the calibration are t u wide; the calibration's own, Fieller's, comes from the room that made it.
    let others: f64 = estimate
        .parts
        .iter()
        .filter(|part| part.name != "calibration and electrodes")
        .map(|part| part.above / t * (part.above / t))
        .sum();
    let dilution = report.scans[found.scans[0]].row.dilution.map_or(1.0, |dilution| dilution.factor);
    let measured = level_uncertainty(report, at) * dilution;
    (measured * measured + others).sqrt()
}

/// Only for determinations whose scans need no temperature correction, as here.
fn level_uncertainty(report: &Report, at: usize) -> f64 {
    let found = &report.determinations[at];
    let made = calibration_of(report, found);
    let scans = found.scans.iter().map(|index| &report.scans[*index]);
    let signals: Vec<ElectrodeSignals> = scans
        .filter(|scan| scan.counts())
        .filter_map(|scan| scan.signal.as_ref().map(|signal| (scan, signal.signal)))
        .map(|(scan, signal)| ElectrodeSignals {
            electrode: scan.row.electrode.clone(),
            signals_a: vec![signal],
        })
        .collect();
    concentration(made, &signals).ok().and_then(|read| read.uncertainty).expect("a level").combined
}

#[test]
fn parts_make_the_uncertainty_that_the_chain_reported() {
    // As it is, and without a rule on temperature: then no signal is corrected, and the room below can be asked directly.
    let mut uncorrected = Study::input();
    uncorrected.method.sample.temperature = None;
    let n_compared = compared(&Study::input()) + compared(&uncorrected);
    assert!(n_compared > 5, "{n_compared} compared with the chain's own parts");
}

/// How many budgets could be compared with the chain's own parts to the last digits; all are compared with the interval.
fn compared(input: &Input) -> usize {
    let report = determine(input);
    let all = budgets(input, &report);
    assert!(all.len() > 3, "{} budgets", all.len());
    let mut n_compared = 0;
    for (at, found) in &all {
        let estimate = estimate_of(&report.determinations[*at]);
        let u = found.budget.standard_uncertainty;
        assert!((found.budget.value / estimate.value.value() - 1.0).abs() < 1e-9, "{}", found.sample);
        let is_corrected = estimate.parts.iter().any(|part| part.name == "temperature");
        if !is_corrected {
            let chain = of_the_chain(&report, *at);
            assert!((u / chain - 1.0).abs() < 1e-7, "{}: {u} against {chain}", found.sample);
            n_compared += 1;
        }
        // Fieller's interval is t u wide, up to the curvature of a ratio.
        let made = calibration_of(&report, &report.determinations[*at]);
        let half = 0.5 * (estimate.high - estimate.low) / made.curve.t_quantile;
        assert!((half / u - 1.0).abs() < 0.03, "{}: {half} against {u}", found.sample);
    }
    n_compared
}

#[test]
fn a_budget_is_ranked_names_its_sources_and_says_what_it_leaves_out() {
    let input = Study::input();
    let report = determine(&input);
    let (_, found) = budgets(&input, &report).remove(0);
    for line in &found.budget.lines {
        println!(
            "{:5.1} % {:28} {:24} {}",
            100.0 * line.share,
            line.name,
            line.component.name(),
            line.source
        );
    }
    println!("not counted: {:?}", found.not_counted);
    println!("{}", found.validation.words("mg/L"));
    let shares: Vec<f64> = found.budget.lines.iter().map(|line| line.share).collect();
    assert!(shares.is_sorted_by(|a, b| a >= b) && (shares.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    assert!(found.budget.lines.iter().all(|line| !line.source.is_empty() && !line.how_to_shrink.is_empty()));
    let is_pooled = |df: &DegreesOfFreedom| matches!(df, DegreesOfFreedom::Pooled { .. });
    assert!(found.budget.lines.iter().any(|line| is_pooled(&line.degrees_of_freedom)));
    assert!(
        found.not_counted.contains(&Component::Drift) && found.not_counted.contains(&Component::Recovery)
    );
    let ratio = found.monte_carlo.standard_uncertainty / found.budget.standard_uncertainty;
    assert!(ratio > 0.98 && ratio < 1.4, "{ratio}");
}

#[test]
fn a_result_without_a_value_has_no_budget() {
    let input = Study::input();
    let report = determine(&input);
    let mut refused = report.determinations[0].clone();
    refused.outcome = Outcome::Refused;
    let error = budget(&input, &report, &refused, &PLAN, &in_order).expect_err("no budget");
    assert!(matches!(error, NoBudget::NotQuantified { outcome: "refused", .. }), "{error}");
    assert!(error.to_string().contains("only a quantified result has a budget"));
}

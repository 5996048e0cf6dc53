//! What holds for every budget, and what a calibration's budget says.

use proptest::prelude::*;
use stillwell_assure::{
    BudgetError, Component, DegreesOfFreedom, Distribution, InputQuantity, IntervalKind, LineChain,
    Measurand as _, MeasurementModel, Validation, coverage_intervals,
};

use crate::gum_examples::normal;
use crate::monte_carlo_examples::million;

fn product(x: &[f64]) -> f64 {
    x.iter().product()
}

proptest! {
    #[test]
    fn shares_make_one_and_the_order_of_inputs_does_not_matter(
        values in prop::collection::vec((1.0..10.0_f64, 0.01..0.3_f64), 2..6), r in -0.9..0.9_f64,
    ) {
        let named: Vec<InputQuantity> = values
            .iter()
            .enumerate()
            .map(|(k, (mean, relative))| normal(&format!("x{k}"), *mean, mean * relative))
            .collect();
        let mut turned = named.clone();
        turned.reverse();
        let of = |inputs: Vec<InputQuantity>| {
            MeasurementModel::new(inputs, &product).unwrap().correlated("x0", "x1", r).unwrap().propagate().unwrap()
        };
        let (one, other) = (of(named), of(turned));
        let total = one.lines.iter().map(|line| line.share).sum::<f64>() + one.pairs[0].share;
        prop_assert!((total - 1.0).abs() < 1e-9);
        prop_assert!((one.standard_uncertainty / other.standard_uncertainty - 1.0).abs() < 1e-9);
        let names = |budget: &stillwell_assure::Budget| budget.lines.iter().map(|l| l.name.clone()).collect::<Vec<_>>();
        prop_assert_eq!(names(&one), names(&other));
        let exact: f64 = values.iter().map(|(_, relative)| relative * relative).sum::<f64>()
            + 2.0 * r * values[0].1 * values[1].1;
        prop_assert!((one.relative_standard_uncertainty().unwrap() / exact.sqrt() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn intervals_hold_what_they_say(draws in prop::collection::vec(-1e3..1e3_f64, 40..400), coverage in 0.05..0.99_f64) {
        let mut sorted = draws.clone();
        let found = coverage_intervals(&mut sorted, coverage).unwrap();
        // The whole number of draws nearest to the coverage asked for.
        let n = draws.len();
        let q = (0..n).filter(|q| *q as f64 <= coverage * n as f64 + 0.5).max().unwrap().clamp(1, n - 1);
        for [low, high] in [found.symmetric, found.shortest] {
            prop_assert!(draws.iter().filter(|d| (low..=high).contains(*d)).count() > q);
        }
        prop_assert!(found.shortest[1] - found.shortest[0] <= found.symmetric[1] - found.symmetric[0]);
        sorted.sort_unstable_by(f64::total_cmp);
        let shortest = (0..draws.len() - q).map(|r| sorted[r + q] - sorted[r]).fold(f64::INFINITY, f64::min);
        prop_assert!((found.shortest[1] - found.shortest[0] - shortest).abs() == 0.0);
    }
}

const LEVELS: [f64; 5] = [0.0, 25.0, 50.0, 75.0, 100.0];

/// Fifteen standards, a residual spread with 13 degrees of freedom, and what else a determination has.
fn calibration_inputs() -> Vec<InputQuantity> {
    let make = |name: &str, component, distribution| {
        InputQuantity::new(name, component, distribution, "invented").unwrap()
    };
    let gaussian = |mean, standard_uncertainty| Distribution::Normal { mean, standard_uncertainty };
    let pooled = || DegreesOfFreedom::Pooled { spread: "residuals".into(), degrees_of_freedom: 13.0 };
    let mut all = Vec::new();
    for k in 0..15 {
        let signal = gaussian(3.0 + 2.0 * LEVELS[k / 3], 3.0);
        all.push(make(&format!("standard {k}"), Component::Calibration, signal).observed(pooled()).unwrap());
    }
    all.push(make("stock", Component::StandardsPreparation, Distribution::triangular_about(1.0, 0.01)));
    for level in LEVELS {
        let own = Distribution::rectangular_about(1.0, 0.006);
        all.push(make(&format!("level {level}"), Component::StandardsPreparation, own));
    }
    all.push(make("sample", Component::BetweenElectrodes, gaussian(93.0, 1.7)).observed(pooled()).unwrap());
    all.push(make("blank", Component::Blank, gaussian(0.0, 0.3)));
    all.push(make("temperature", Component::Temperature, Distribution::rectangular_about(1.0, 0.01)));
    all.push(make("dilution", Component::Dilution, Distribution::triangular_about(2.0, 0.01)));
    all
}

fn chain() -> LineChain {
    let level_of_standard: Vec<usize> = (0..15).map(|standard| standard / 3).collect();
    LineChain::new(&LEVELS, &[1.0; 5], &level_of_standard).unwrap()
}

#[test]
fn a_calibration_s_budget_ranks_its_components_and_monte_carlo_confirms_it() {
    let chain = chain();
    let model = MeasurementModel::new(calibration_inputs(), &chain).unwrap();
    let budget = model.propagate().unwrap();
    println!(
        "{} ± {}, {} degrees of freedom",
        budget.value, budget.standard_uncertainty, budget.degrees_of_freedom
    );
    for share in budget.by_component() {
        println!("{:24} {:5.1} %", share.component.name(), 100.0 * share.share);
    }
    assert!((budget.value - 90.0).abs() < 1e-9);
    assert_eq!(budget.by_component()[0].component, Component::BetweenElectrodes);
    let total: f64 = budget.by_component().iter().map(|share| share.share).sum();
    assert!((total - 1.0).abs() < 1e-9);
    // The classical formula s/b √(1/m + 1/n + (x − x̄)²/Sxx) for what the spread alone gives.
    let of_spread: f64 = budget
        .lines
        .iter()
        .filter(|line| matches!(line.degrees_of_freedom, DegreesOfFreedom::Pooled { .. }))
        .map(|line| line.contribution * line.contribution)
        .sum();
    // The slope is 2 and so is the dilution.
    let classical: f64 = libm::sqrt(1.7 * 1.7 + 9.0 * (1.0 / 15.0 + 25.0 / (3.0 * 6250.0)));
    assert!((of_spread.sqrt() / classical - 1.0).abs() < 1e-7, "{} {classical}", of_spread.sqrt());
    // Fifteen signals and the sample share one spread: hardly more degrees of freedom than it has.
    assert!(budget.degrees_of_freedom > 13.0 && budget.degrees_of_freedom < 20.0);
    let drawn = model.monte_carlo(&million(0.95)).unwrap();
    let validation = budget.against(&drawn, IntervalKind::Symmetric, 1).unwrap();
    println!("{}", validation.words("mg/L"));
    assert!(validation.agrees() && validation.words("mg/L").contains("confirms it"));
}

#[test]
fn replicates_shrink_the_electrodes_part_only() {
    let chain = chain();
    let budget = MeasurementModel::new(calibration_inputs(), &chain).unwrap().propagate().unwrap();
    let u = budget.for_replicates(&[Component::BetweenElectrodes, Component::Repeatability]).unwrap();
    assert!((u.of_mean(1).unwrap().standard_uncertainty / budget.standard_uncertainty - 1.0).abs() < 1e-12);
    let floor = u.of_mean(u32::MAX).unwrap().standard_uncertainty;
    let error = u.replicates_for(0.9 * floor).unwrap_err();
    println!("{error}");
    assert!(error.to_string().starts_with("no number of replicates reaches"));
}

#[test]
fn the_chain_by_columns_is_the_chain_by_rows() {
    let chain = chain();
    let n = chain.n_inputs();
    let mut random = stillwell_stats::random::RandomStream::new(4, 4);
    let means: Vec<f64> = calibration_inputs().iter().map(InputQuantity::estimate).collect();
    let columns: Vec<Vec<f64>> =
        means.iter().map(|mean| (0..37).map(|_| mean * (1.0 + 0.01 * random.normal())).collect()).collect();
    let mut by_columns = vec![0.0; 37];
    chain.values(&columns, &mut by_columns);
    for (trial, value) in by_columns.iter().enumerate() {
        let row: Vec<f64> = columns.iter().map(|column| column[trial]).collect();
        assert_eq!(row.len(), n);
        assert_eq!(chain.value(&row).to_bits(), value.to_bits());
    }
    assert!(LineChain::new(&[5.0, 5.0], &[1.0; 2], &[0, 1]).is_err());
    assert!(LineChain::new(&LEVELS, &[1.0; 5], &[0, 1, 2, 3]).is_err());
    assert!(LineChain::new(&LEVELS, &[0.0; 5], &[0, 1, 2, 3, 4]).is_err());
    assert!(LineChain::new(&LEVELS, &[1.0; 5], &[0, 1, 2, 3, 4, 5]).is_err());
}

#[test]
fn one_end_apart_is_enough_to_report_both_intervals() {
    let input = vec![normal("a", 10.0, 1.0)];
    let model = MeasurementModel::new(input, &product).unwrap();
    let budget = model.propagate().unwrap();
    let drawn = model.monte_carlo(&million(0.95)).unwrap();
    let both = budget.against(&drawn, IntervalKind::Symmetric, 2).unwrap();
    assert!(both.agrees());
    for apart in [[0.0, 2.0 * both.tolerance], [2.0 * both.tolerance, 0.0]] {
        let one = Validation { apart, ..both };
        assert!(!one.agrees() && one.words("mg/L").starts_with("Two 95 % intervals are reported"));
    }
}

#[test]
fn contradictions_are_refused() {
    let two = || vec![normal("a", 1.0, 0.1), normal("b", 2.0, 0.2)];
    let model = || MeasurementModel::new(two(), &product).unwrap();
    assert!(matches!(MeasurementModel::new(Vec::new(), &product), Err(BudgetError::NoInput)));
    let twice = MeasurementModel::new(vec![normal("a", 1.0, 0.1), normal("a", 1.0, 0.1)], &product);
    assert!(matches!(twice, Err(BudgetError::NameTwice { .. })));
    assert!(model().correlated("a", "c", 0.5).is_err());
    assert!(model().correlated("a", "a", 0.5).is_err());
    assert!(model().correlated("a", "b", 1.5).is_err());
    assert!(model().correlated("a", "b", 0.5).unwrap().correlated("b", "a", 0.5).is_err());
    let pool = |df| DegreesOfFreedom::Pooled { spread: "s".into(), degrees_of_freedom: df };
    let [a, b] = [3.0, 4.0].map(pool);
    let [first, second] =
        [normal("a", 1.0, 0.1).observed(a).unwrap(), normal("b", 1.0, 0.1).observed(b).unwrap()];
    assert!(matches!(
        MeasurementModel::new(vec![first, second], &product),
        Err(BudgetError::PoolAtOdds { .. })
    ));
    assert!(normal("a", 1.0, 0.1).observed(DegreesOfFreedom::Own(0.0)).is_err());
    let few = vec![normal("a", 1.0, 0.1).observed(DegreesOfFreedom::Own(0.5)).unwrap()];
    let few = MeasurementModel::new(few, &product).unwrap().propagate().unwrap();
    assert!(few.expanded(0.95).unwrap_err().to_string().contains("support no interval"));
    let error = model().correlated("a", "b", 0.5).unwrap().second_order().unwrap_err();
    assert_eq!(error, BudgetError::SecondOrderCorrelated);
}

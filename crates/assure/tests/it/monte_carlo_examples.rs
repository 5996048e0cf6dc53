//! JCGM 101:2008, clause 9, and what Monte Carlo must do everywhere.

use stillwell_assure::{
    BudgetError, Component, DegreesOfFreedom, Distribution, InputQuantity, IntervalKind, MeasurementModel,
    MonteCarlo, MonteCarloPlan, Trials,
};
use stillwell_stats::distributions::student_t_quantile;

use crate::gum_examples::{input, normal};
use crate::published::{Case, GUM};

pub(crate) fn million(coverage: f64) -> MonteCarloPlan {
    MonteCarloPlan { seed: 20_260_101, coverage, trials: Trials::Fixed(1_000_000) }
}

fn with_unit_sd(name: &str) -> InputQuantity {
    input(name, Distribution::rectangular_about(0.0, 3.0_f64.sqrt()))
}

fn sum(x: &[f64]) -> f64 {
    x.iter().sum()
}

fn near(name: &str, found: f64, exact: f64, tolerance: f64) {
    println!("{name:24} found {found:<24} exact {exact:<24} apart {:.1e}", (found - exact).abs());
    assert!((found - exact).abs() <= tolerance, "{name}: {found} against {exact}");
}

/// Four standard errors of an end of a 95 % interval of a normal distribution at 10⁶ trials are 0.0105 standard deviations.
const END: f64 = 0.0105;

fn ends_near(found: &MonteCarlo, low: f64, high: f64, tolerance: f64) {
    near("low", found.intervals.symmetric[0], low, tolerance);
    near("high", found.intervals.symmetric[1], high, tolerance);
}

#[test]
fn clause_9_2_sums_of_normal_and_rectangular_quantities() {
    let names = ["a", "b", "c", "d"];
    let normals = names.map(|name| normal(name, 0.0, 1.0)).to_vec();
    let rectangles = names.map(with_unit_sd).to_vec();
    let mut dominated = names.map(with_unit_sd).to_vec();
    dominated[3] = input("d", Distribution::rectangular_about(0.0, 300.0_f64.sqrt()));
    for (id, inputs, low, high, u) in [
        ("jcgm101_9_2_2", normals, "low_95", "high_95", "u"),
        ("jcgm101_9_2_3", rectangles, "low_95", "high_95", "u"),
        ("jcgm101_9_2_4", dominated, "mcm_low_95", "mcm_high_95", "u"),
    ] {
        println!("{id}");
        let case = Case::of(GUM, id);
        let model = MeasurementModel::new(inputs, &sum).unwrap();
        let found = model.monte_carlo(&million(0.95)).unwrap();
        near("u", found.standard_uncertainty, case.value(u), 0.003 * case.value(u));
        ends_near(&found, case.value(low), case.value(high), END * case.value(u));
        let budget = model.propagate().unwrap();
        case.agree("u", budget.standard_uncertainty, 9.0);
        let validation = budget.against(&found, IntervalKind::Symmetric, 2).unwrap();
        // The dominated sum is the example in which the law of propagation is too wide.
        assert_eq!(validation.agrees(), id == "jcgm101_9_2_2" || id == "jcgm101_9_2_3");
        let says_both = validation.words("mg/L").starts_with("Two 95 % intervals are reported");
        assert_eq!(says_both, !validation.agrees());
        if id == "jcgm101_9_2_4" {
            case.agree("guf_high_95", validation.budget_interval[1], 9.0);
        }
    }
}

#[test]
fn clause_9_3_mass_where_the_first_order_misses_a_product() {
    let case = Case::of(GUM, "jcgm101_9_3_mass");
    let rectangle = |name: &str, key: &str| {
        let [low, high] = case.inputs(key)[..] else { panic!("two limits") };
        input(name, Distribution::Rectangular { low, high })
    };
    let inputs = vec![
        normal("m", case.input("m_Rc_mg"), case.input("u_m_Rc_mg")),
        normal("dm", case.input("dm_Rc_mg"), case.input("u_dm_Rc_mg")),
        rectangle("air", "rho_a_rectangular"),
        rectangle("W", "rho_W_rectangular"),
        rectangle("R", "rho_R_rectangular"),
    ];
    let nominal = case.input("m_nom_mg");
    let mass = |x: &[f64]| (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - nominal;
    let model = MeasurementModel::new(inputs, &mass).unwrap();
    let budget = model.propagate().unwrap();
    case.agree("guf_first_order_u_mg", budget.standard_uncertainty, 6.0);
    // The terms are those of normal inputs and of wide differences.
    let second = model.second_order().unwrap();
    case.agree("guf_second_order_u_mg", second.standard_uncertainty, 3.0);
    assert!(second.matters());
    let found = model.monte_carlo(&million(0.95)).unwrap();
    let u = case.value("mcm_u_mg");
    near("u", found.standard_uncertainty, u, 0.003 * u);
    ends_near(&found, case.value("mcm_low_95_mg"), case.value("mcm_high_95_mg"), END * u);
    assert!(!budget.against(&found, IntervalKind::Symmetric, 1).unwrap().agrees());
}

#[test]
fn clause_9_4_loss_near_zero_where_only_the_shortest_interval_is_possible() {
    let case = Case::of(GUM, "jcgm101_9_4_loss");
    let loss = |x: &[f64]| x[0] * x[0] + x[1] * x[1];
    for x1 in ["0.000", "0.010", "0.050"] {
        let at: f64 = x1.parse().unwrap();
        let inputs = vec![normal("x1", at, case.input("u_x1")), normal("x2", 0.0, case.input("u_x2"))];
        let model = MeasurementModel::new(inputs, &loss).unwrap();
        let found = model.monte_carlo(&million(0.95)).unwrap();
        let u = case.value(&format!("mcm_u_x1_{x1}"));
        near("u", found.standard_uncertainty, u, 0.01 * u);
        let [low, high] = found.intervals.shortest;
        // The place of the shortest interval is flat: its ends wander more than those of the symmetric one.
        near("shortest low", low, case.value(&format!("mcm_shortest_low_95_x1_{x1}")), 0.04 * u);
        near("shortest high", high, case.value(&format!("mcm_shortest_high_95_x1_{x1}")), 0.04 * u);
        case.near_print(&format!("mcm_shortest_high_95_x1_{x1}"), high);
        case.agree(
            &format!("guf_second_order_u_x1_{x1}"),
            model.second_order().unwrap().standard_uncertainty,
            9.0,
        );
        match model.propagate() {
            Ok(budget) => {
                case.agree(&format!("guf_first_order_u_x1_{x1}"), budget.standard_uncertainty, 9.0);
            }
            Err(error) => assert!(at == 0.0 && error == BudgetError::NoFirstOrderSpread, "{error}"),
        }
    }
}

fn gauge(case: &Case) -> Vec<InputQuantity> {
    let t = |name: &str, mean: f64, scale: f64, df: f64| {
        normal(name, mean, scale).observed(DegreesOfFreedom::Own(df)).unwrap()
    };
    let limits = |key: &str| case.inputs(key);
    let inexact = |name: &str, key: &str| {
        let l = limits(key);
        input(name, Distribution::InexactLimits { low: l[0], high: l[1], inexactness: l[2] })
    };
    let (alpha, theta, delta) =
        (limits("alpha_s_rectangular"), limits("theta0_normal"), limits("Delta_arcsine"));
    vec![
        t("Ls", 50_000_623.0, 25.0, 18.0),
        t("D", 215.0, 6.0, 24.0),
        t("d1", 0.0, 4.0, 5.0),
        t("d2", 0.0, 7.0, 8.0),
        input("alpha", Distribution::Rectangular { low: alpha[0], high: alpha[1] }),
        normal("theta", theta[0], theta[1]),
        input("cycle", Distribution::ArcSine { low: delta[0], high: delta[1] }),
        inexact("dalpha", "dalpha_ctrapezoid"),
        inexact("dtheta", "dtheta_ctrapezoid"),
    ]
}

#[test]
fn clause_9_5_gauge_block_with_t_arc_sine_and_inexact_limits() {
    let case = Case::of(GUM, "jcgm101_9_5_gauge");
    let length =
        |x: &[f64]| x[0] + x[1] + x[2] + x[3] - x[0] * (x[7] * (x[5] + x[6]) + x[4] * x[8]) - 50_000_000.0;
    let model = MeasurementModel::new(gauge(&case), &length).unwrap();
    let found = model.monte_carlo(&million(0.99)).unwrap();
    println!("mean {} u {}", found.mean, found.standard_uncertainty);
    case.near_print("mcm_u_nm", found.standard_uncertainty);
    near("mean", found.mean, case.value("mean_nm"), 0.5);
    case.near_print("mcm_low_99_nm", found.intervals.symmetric[0]);
    case.near_print("mcm_high_99_nm", found.intervals.symmetric[1]);
    near("first-order u", model.propagate().unwrap().standard_uncertainty, case.value("guf_u_nm"), 0.5);
}

#[test]
fn the_bits_do_not_depend_on_who_does_the_blocks() {
    let model = MeasurementModel::new(vec![normal("a", 1.0, 0.1), with_unit_sd("b")], &sum).unwrap();
    let backwards = |numbers: std::ops::Range<u64>, block: &(dyn Fn(u64) -> Vec<f64> + Sync)| {
        let mut blocks: Vec<Vec<f64>> = numbers.rev().map(block).collect();
        blocks.reverse();
        blocks
    };
    let adaptive = Trials::Adaptive { digits: 2, interval: IntervalKind::Symmetric, at_most: 2_000_000 };
    for trials in [Trials::Fixed(123_457), adaptive] {
        let plan = MonteCarloPlan { seed: 7, coverage: 0.95, trials };
        let one = model.monte_carlo(&plan).unwrap();
        assert_eq!(one, model.monte_carlo_by(&plan, &backwards).unwrap());
        assert_ne!(one, model.monte_carlo(&MonteCarloPlan { seed: 8, ..plan }).unwrap());
    }
}

#[test]
fn an_adaptive_run_stops_once_its_digits_stand_and_says_when_they_do_not() {
    let model = MeasurementModel::new(vec![normal("a", 0.0, 0.72), normal("b", 0.0, 0.54)], &sum).unwrap();
    let run = |digits, at_most| {
        let trials = Trials::Adaptive { digits, interval: IntervalKind::Symmetric, at_most };
        model.monte_carlo(&MonteCarloPlan { seed: 3, coverage: 0.95, trials }).unwrap()
    };
    let (rough, fine, cut) = (run(1, 10_000_000), run(2, 10_000_000), run(2, 20_000));
    println!("{} trials for one digit, {} for two", rough.n_trials, fine.n_trials);
    assert!(rough.n_trials < fine.n_trials && fine.settled.unwrap().is_reached());
    assert!(fine.n_trials < 10_000_000 && cut.n_trials == 20_000 && !cut.settled.unwrap().is_reached());
    near("u", fine.standard_uncertainty, 0.9, 0.005);
}

#[test]
fn a_shared_spread_is_doubted_once_and_gives_student_t() {
    let pooled = || DegreesOfFreedom::Pooled { spread: "residuals".into(), degrees_of_freedom: 4.0 };
    let quantity = |name: &str, u: f64| normal(name, 0.0, u).observed(pooled()).unwrap();
    let inputs = vec![quantity("a", 3.0), quantity("b", 4.0)];
    let model = MeasurementModel::new(inputs, &sum).unwrap();
    let budget = model.propagate().unwrap();
    near("degrees of freedom", budget.degrees_of_freedom, 4.0, 1e-9);
    let found = model.monte_carlo(&million(0.95)).unwrap();
    let end = 5.0 * student_t_quantile(0.975, 4.0);
    // Four standard errors of the end of a t distribution with 4 degrees of freedom: √(p(1 − p)/n)/density.
    ends_near(&found, -end, end, 0.12);
    assert!(budget.against(&found, IntervalKind::Symmetric, 1).unwrap().agrees());
    // With degrees of freedom of their own the Welch–Satterthwaite formula sees more of them than Monte Carlo grants.
    let apart: Vec<InputQuantity> = [("a", 3.0), ("b", 4.0)]
        .map(|(name, u)| normal(name, 0.0, u).observed(DegreesOfFreedom::Own(4.0)).unwrap())
        .to_vec();
    let apart = MeasurementModel::new(apart, &sum).unwrap();
    let budget = apart.propagate().unwrap();
    near("degrees of freedom", budget.degrees_of_freedom, 625.0 / (81.0 + 256.0) * 4.0, 1e-9);
    let drawn = apart.monte_carlo(&million(0.95)).unwrap();
    let validation = budget.against(&drawn, IntervalKind::Symmetric, 2).unwrap();
    assert!(!validation.agrees() && validation.budget_interval[1] < drawn.intervals.symmetric[1]);
}

#[test]
fn correlated_quantities_are_drawn_together() {
    let inputs = vec![normal("a", 10.0, 1.0), normal("b", 20.0, 2.0), normal("c", 0.0, 0.5)];
    let difference = |x: &[f64]| 2.0 * x[0] - x[1] + x[2];
    let model = MeasurementModel::new(inputs, &difference)
        .unwrap()
        .correlated("a", "b", 0.9)
        .unwrap()
        .correlated("b", "c", -0.3)
        .unwrap();
    let budget = model.propagate().unwrap();
    let found = model.monte_carlo(&million(0.95)).unwrap();
    near("u", found.standard_uncertainty, budget.standard_uncertainty, 0.004 * budget.standard_uncertainty);
    assert!(budget.pairs[0].share < 0.0, "errors cancel");
    assert!(budget.lines[0].share > 1.0 && budget.lines[0].combined_without > budget.standard_uncertainty);
}

#[test]
fn lognormal_and_triangular_quantities_have_the_moments_they_claim() {
    let identity = |x: &[f64]| x[0];
    for distribution in [
        Distribution::LogNormal { mean: 2.0, standard_uncertainty: 0.6 },
        Distribution::Triangular { low: -1.0, high: 4.0 },
        Distribution::ArcSine { low: -1.0, high: 4.0 },
        Distribution::InexactLimits { low: -1.0, high: 1.0, inexactness: 0.5 },
    ] {
        let model = MeasurementModel::new(vec![input("x", distribution)], &identity).unwrap();
        let found = model.monte_carlo(&million(0.95)).unwrap();
        let u = distribution.standard_uncertainty();
        near("mean", found.mean, distribution.mean(), 0.004 * u);
        near("u", found.standard_uncertainty, u, 0.006 * u);
    }
}

#[test]
fn what_cannot_be_drawn_is_refused_in_words() {
    let root = |x: &[f64]| x[0].sqrt();
    let model = MeasurementModel::new(vec![normal("x", 1.0, 0.6)], &root).unwrap();
    let error = model.monte_carlo(&million(0.95)).unwrap_err();
    assert!(matches!(error, BudgetError::TrialsWithoutNumber { without: 40_000..=55_000, .. }), "{error}");
    let edge = MeasurementModel::new(vec![normal("x", 0.01, 0.6)], &root).unwrap().propagate().unwrap_err();
    assert!(edge.to_string().contains("when \"x\" moves within its uncertainty"), "{edge}");
    let pair = |r: [f64; 3]| {
        let inputs = vec![normal("a", 0.0, 1.0), normal("b", 0.0, 1.0), normal("c", 0.0, 1.0)];
        let model = MeasurementModel::new(inputs, &sum).unwrap();
        let model = model.correlated("a", "b", r[0]).unwrap().correlated("b", "c", r[1]).unwrap();
        model.correlated("a", "c", r[2]).unwrap().monte_carlo(&million(0.95))
    };
    assert_eq!(pair([0.9, 0.9, -0.9]).unwrap_err(), BudgetError::CorrelationsImpossible);
    let together = pair([1.0, 1.0, 1.0]).unwrap();
    near("u of three that are one", together.standard_uncertainty, 3.0, 0.01);
    let inputs = vec![with_unit_sd("a"), normal("b", 0.0, 1.0)];
    let model = MeasurementModel::new(inputs, &sum).unwrap().correlated("a", "b", 0.5).unwrap();
    assert!(matches!(model.monte_carlo(&million(0.95)), Err(BudgetError::CorrelatedNotNormal { .. })));
    let few = MonteCarloPlan { seed: 1, coverage: 0.95, trials: Trials::Fixed(10) };
    assert!(model.monte_carlo(&few).is_err());
}

#[test]
fn inputs_without_spread_or_source_are_refused() {
    let make = |distribution, source: &str| InputQuantity::new("x", Component::Blank, distribution, source);
    let flat = Distribution::Normal { mean: 1.0, standard_uncertainty: 0.0 };
    let error = make(flat, "certificate").unwrap_err();
    assert!(error.to_string().contains("a constant of the model"), "{error}");
    assert!(make(Distribution::Rectangular { low: 2.0, high: 1.0 }, "certificate").is_err());
    assert!(make(Distribution::Rectangular { low: f64::NAN, high: 1.0 }, "certificate").is_err());
    assert!(make(Distribution::LogNormal { mean: -1.0, standard_uncertainty: 1.0 }, "certificate").is_err());
    assert!(make(Distribution::rectangular_about(1.0, 0.1), " ").is_err());
}

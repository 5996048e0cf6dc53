//! Published constants, worked examples, run rules and run lengths of control charts.

use stillwell_assure::QualityError;
use stillwell_assure::control::{
    ChartLimits, CusumSettings, EwmaSettings, EwmaWidth, LimitBasis, RunRule, SpreadFrom, chart_constants,
    cusum, cusum_average_run_length, ewma, limits_from_ranges, limits_from_standard_deviations,
    limits_prespecified, run_findings,
};

use crate::published::{CONTROL_CHARTS, Case};

fn all(values: &[f64]) -> Vec<Option<f64>> {
    values.iter().copied().map(Some).collect()
}

#[test]
fn constants_are_those_of_the_standard() {
    let case = Case::of(CONTROL_CHARTS, "constants");
    let mut n_compared = 0;
    for row in case.rows() {
        let n = usize::try_from(row["n"].as_integer().unwrap()).unwrap();
        let name = row["name"].as_str().unwrap();
        let constants = chart_constants(n).unwrap();
        let found = match name.split('_').next().unwrap() {
            "d2" => constants.d2,
            "d3" => constants.d3,
            "c4" => constants.c4,
            "A2" => constants.a2(),
            "A3" => constants.a3(),
            "B3" => constants.b3_b4()[0],
            "B4" => constants.b3_b4()[1],
            "D3" => constants.d3_d4()[0],
            "D4" => constants.d3_d4()[1],
            "E2" => constants.e2(),
            other => panic!("{other}"),
        };
        case.agree(name, found, 10.0);
        n_compared += 1;
    }
    assert!(n_compared > 100, "{n_compared}");
    assert!(matches!(chart_constants(1), Err(QualityError::Unusable { .. })));
    assert!(matches!(chart_constants(26), Err(QualityError::Unusable { .. })));
}

#[test]
fn individuals_and_subgroups_of_invented_data() {
    let case = Case::of(CONTROL_CHARTS, "xbar_r");
    // Means and ranges of the six subgroups of three that the case lists.
    let subgroups = [
        [50.1, 49.8, 50.3],
        [49.9, 50.4, 50.0],
        [50.2, 50.1, 49.7],
        [50.5, 49.9, 50.2],
        [49.6, 50.0, 50.1],
        [50.3, 50.2, 49.9],
    ];
    let means = subgroups.map(|s| s.iter().sum::<f64>() / 3.0);
    let ranges = subgroups.map(|s| {
        s.iter().copied().fold(f64::NEG_INFINITY, f64::max) - s.iter().copied().fold(f64::INFINITY, f64::min)
    });
    let found = limits_from_ranges(&means, &ranges, 3).unwrap();
    case.agree("grand_mean", found.of_means.centre, 12.0);
    case.agree("mean_range", found.of_spreads.centre, 12.0);
    case.agree("ucl_xbar", found.of_means.high, 11.0);
    case.agree("lcl_xbar", found.of_means.low, 11.0);
    case.agree("ucl_r", found.of_spreads.high, 11.0);
    case.agree("sigma_within", found.sigma_within, 11.0);
}

#[test]
fn the_standards_means_and_ranges() {
    let case = Case::of(CONTROL_CHARTS, "iso7870_2_xbar_r");
    let (means, ranges) = (case.inputs("xbar"), case.inputs("range"));
    let found = limits_from_ranges(&means, &ranges, 5).unwrap();
    case.agree("grand_mean", found.of_means.centre, 12.0);
    case.agree("mean_range", found.of_spreads.centre, 12.0);
    case.agree("ucl_xbar", found.of_means.high, 11.0);
    case.agree("lcl_xbar", found.of_means.low, 11.0);
    case.agree("ucl_r", found.of_spreads.high, 11.0);
    let outside = means.iter().position(|m| *m < found.of_means.low || *m > found.of_means.high).unwrap();
    case.agree("first_out_of_control_index", outside as f64, 15.0);
    let without = |values: &[f64]| {
        values.iter().enumerate().filter(|(at, _)| *at != outside).map(|(_, v)| *v).collect::<Vec<f64>>()
    };
    let revised = limits_from_ranges(&without(&means), &without(&ranges), 5).unwrap();
    case.agree("revised_grand_mean", revised.of_means.centre, 12.0);
    case.agree("revised_mean_range", revised.of_spreads.centre, 12.0);
    case.agree("revised_ucl_xbar", revised.of_means.high, 11.0);
    case.agree("revised_lcl_xbar", revised.of_means.low, 11.0);
    case.agree("revised_ucl_r", revised.of_spreads.high, 11.0);
}

#[test]
fn the_standards_prespecified_values() {
    let case = Case::of(CONTROL_CHARTS, "iso7870_2_prespecified");
    let found = limits_prespecified(case.input("mu0"), case.input("sigma0"), 5).unwrap();
    case.agree("centre_xbar", found.of_means.centre, 15.0);
    case.agree("ucl_xbar", found.of_means.high, 12.0);
    case.agree("lcl_xbar", found.of_means.low, 12.0);
    case.agree("centre_s", found.of_spreads.centre, 12.0);
    case.agree("ucl_s", found.of_spreads.high, 12.0);
    case.agree("lcl_s", found.of_spreads.low, 15.0);
    let is_outside = |m: &f64| *m < found.of_means.low || *m > found.of_means.high;
    case.agree("points_outside", case.inputs("xbar").iter().filter(|m| is_outside(m)).count() as f64, 15.0);
    // From the data themselves the limits come out much alike.
    let trained = limits_from_standard_deviations(&case.inputs("xbar"), &case.inputs("s"), 5).unwrap();
    assert!((trained.of_means.high - found.of_means.high).abs() < 0.03, "{trained:?}");
}

/// The names of the check file.
const NAMES: [(&str, RunRule); 14] = [
    ("1_2s", RunRule::BeyondWarning),
    ("1_3s", RunRule::BeyondAction),
    ("2_2s", RunRule::TwoInRowBeyondWarning),
    ("R_4s", RunRule::OppositeWarnings),
    ("4_1s", RunRule::FourInRowBeyondOneThird),
    ("10_x", RunRule::TenOneSide),
    ("nine_one_side", RunRule::NineOneSide),
    ("seven_one_side", RunRule::SevenOneSide),
    ("six_steady", RunRule::SixSteady),
    ("fourteen_alternating", RunRule::FourteenAlternating),
    ("two_of_three_beyond_2s", RunRule::TwoOfThreeBeyondWarning),
    ("four_of_five_beyond_1s", RunRule::FourOfFiveBeyondOneThird),
    ("fifteen_within_1s", RunRule::FifteenWithinOneThird),
    ("eight_beyond_1s_both_sides", RunRule::EightOutsideOneThird),
];

#[test]
fn every_run_rule_fires_where_it_should_and_nowhere_else() {
    let case = Case::of(CONTROL_CHARTS, "run_rules");
    let limits = ChartLimits::stated(0.0, 1.0).unwrap();
    let mut n_fired = 0;
    for row in case.rows() {
        let sequence = row["name"].as_str().unwrap();
        let values = all(&case.inputs(sequence));
        let expected = row["first"].as_inline_table().unwrap();
        assert!(expected.iter().all(|(name, _)| NAMES.iter().any(|(known, _)| *known == name)));
        for (name, rule) in NAMES {
            let found = run_findings(&values, &limits, &[rule])
                .first()
                .map(|finding| i64::try_from(finding.fired_at).unwrap());
            let expected = expected.get(name).and_then(toml_edit::Value::as_integer);
            assert_eq!(found, expected, "{sequence}: {name}");
            n_fired += usize::from(found.is_some());
        }
    }
    assert_eq!(n_fired, 19);
}

#[test]
fn a_point_that_cannot_be_judged_ends_a_run() {
    let limits = ChartLimits::stated(0.0, 1.0).unwrap();
    let mut values = vec![Some(0.5); 9];
    assert_eq!(run_findings(&values, &limits, &[RunRule::NineOneSide]).len(), 1);
    values[4] = None;
    assert_eq!(run_findings(&values, &limits, &[RunRule::NineOneSide]), []);
}

#[test]
fn a_run_that_goes_on_is_one_finding() {
    let limits = ChartLimits::stated(0.0, 1.0).unwrap();
    let found = run_findings(&vec![Some(-0.5); 14], &limits, &[RunRule::NineOneSide]);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].since, found[0].fired_at, found[0].until, found[0].n_points()), (0, 8, 13, 14));
}

#[test]
fn sums_and_averages_of_nickel_in_a_well() {
    let case = Case::of(CONTROL_CHARTS, "cusum_nickel");
    let baseline = case.inputs("baseline");
    let trained =
        ChartLimits::from_training(&baseline, SpreadFrom::StandardDeviation, LimitBasis::ThreeSigma).unwrap();
    case.agree("baseline_mean", trained.centre, 14.0);
    // The guidance standardises with s itself, not with s/c4.
    let sd = stillwell_stats::standard_deviation(&baseline).unwrap();
    case.agree("baseline_sd", sd, 14.0);
    let limits = ChartLimits::stated(trained.centre, sd).unwrap();
    let values = all(&case.inputs("compliance"));
    for (name, reference) in [("cusum_k1", 1.0), ("cusum_k0_5", 0.5)] {
        let settings = CusumSettings { reference, decision: 5.0 };
        let found = cusum(&values, &limits, settings).unwrap();
        for (point, expected) in found.iter().zip(case.values(name)) {
            assert!((point.high - expected).abs() < 1e-12, "{name}: {point:?} against {expected}");
            assert!(!point.is_beyond(&settings), "{name}");
        }
        assert_eq!(found.len(), 8);
    }
    let settings = EwmaSettings { lambda: 0.2, width: EwmaWidth::Sigmas(3.0) };
    let found = ewma(&values, &limits, settings).unwrap();
    for (point, expected) in found.iter().zip(case.values("ewma_lambda_0_2")) {
        assert!(
            ((point.value - trained.centre) / sd - expected).abs() < 1e-12,
            "{point:?} against {expected}"
        );
    }
    assert_eq!(found.len(), 8);
}

#[test]
fn run_lengths_of_the_sum() {
    for row in Case::of(CONTROL_CHARTS, "cusum_run_lengths").rows() {
        let number = |key: &str| row[key].as_float().unwrap();
        let settings = CusumSettings { reference: 0.5, decision: number("h") };
        let found = cusum_average_run_length(settings, number("shift")).unwrap();
        println!("h {} shift {}: {found} against {}", number("h"), number("shift"), number("value"));
        assert!((found / number("value") - 1.0).abs() < 1e-5);
        let printed: f64 = row["printed"].as_str().unwrap().parse().unwrap();
        assert!((found - printed).abs() <= number("tol_abs"));
    }
}

#[test]
fn moving_ranges_give_the_same_sigma_as_the_constant() {
    let case = Case::of(CONTROL_CHARTS, "individuals");
    let found =
        ChartLimits::from_training(&case.inputs("x"), SpreadFrom::MovingRange, LimitBasis::ThreeSigma)
            .unwrap();
    println!("{found:?}");
    case.agree("mean", found.centre, 12.0);
    case.agree("sigma_mr", found.sigma, 10.0);
    case.agree("ucl_x", found.action()[1], 10.0);
    case.agree("lcl_x", found.action()[0], 10.0);
}

#[test]
fn unusable_training_is_refused_with_numbers() {
    let trained = |values: &[f64]| {
        ChartLimits::from_training(values, SpreadFrom::StandardDeviation, LimitBasis::ThreeSigma)
    };
    assert_eq!(
        trained(&[1.0, 2.0]),
        Err(QualityError::TooFew { what: "points of the training period", found: 2, needed: 8 })
    );
    assert_eq!(trained(&[0.1; 9]), Err(QualityError::NoSpread { what: "the points of the training period" }));
    let mut values = vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
    values[2] = f64::NAN;
    assert_eq!(trained(&values), Err(QualityError::NotFinite { what: "the training period", place: 3 }));
    assert!(ChartLimits::stated(0.0, 0.0).is_err() && ChartLimits::stated(f64::NAN, 1.0).is_err());
}

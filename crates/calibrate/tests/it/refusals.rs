//! Refusals, cautions and acceptance: each situation is told apart and says what to do.

use crate::standards::{
    fluorescein, line, one_electrode_each, sample, settings, standard, three_strips_of_four_scans,
};
use stillwell_calibrate::{
    Acceptance, CalibrateError, Calibration, CalibrationSettings, Check, ConcentrationError, EstimatedLevel,
    LevelDeviation, Model, Outcome, Role, StandardSignal, Weights, calibrate, check_standard_recovery,
    concentration,
};

fn plain() -> CalibrationSettings {
    settings(Model::Line, Weights::None, 0.95)
}

fn refusal(standards: &[StandardSignal], settings: &CalibrationSettings) -> CalibrateError {
    calibrate(standards, settings).expect_err("refused")
}

fn finding(calibration: &Calibration, check: Check) -> &stillwell_calibrate::Finding {
    calibration.findings.iter().find(|f| f.check == check).unwrap_or_else(|| panic!("no {}", check.id()))
}

fn is_silent_about(calibration: &Calibration, check: Check) -> bool {
    calibration.findings.iter().all(|f| f.check != check)
}

#[test]
fn refuses_one_level_and_too_few_levels() {
    let standards = one_electrode_each(&[5.0, 5.0, 5.0], &[1.0, 1.1, 0.9]);
    assert_eq!(refusal(&standards, &plain()), CalibrateError::OneLevelOnly { level: 5.0, needed: 3 });
    let standards = one_electrode_each(&[0.0, 0.0, 5.0, 5.0], &[1.0, 1.1, 9.0, 9.2]);
    let model = Model::Line;
    assert_eq!(refusal(&standards, &plain()), CalibrateError::TooFewLevels { found: 2, needed: 3, model });
    let standards = one_electrode_each(&[0.0, 1.0, 2.0, 2.0, 2.0], &[0.0, 1.1, 2.0, 2.1, 1.9]);
    let quadratic = settings(Model::Quadratic, Weights::None, 0.95);
    let model = Model::Quadratic;
    assert_eq!(refusal(&standards, &quadratic), CalibrateError::TooFewLevels { found: 3, needed: 4, model });
    assert!(matches!(refusal(&[], &plain()), CalibrateError::TooFewLevels { found: 0, .. }));
}

#[test]
fn refuses_numbers_that_are_none() {
    let (levels, signals) = fluorescein();
    let with = |change: fn(&mut StandardSignal)| {
        let mut standards = one_electrode_each(&levels, &signals);
        change(&mut standards[3]);
        refusal(&standards, &plain())
    };
    assert!(matches!(with(|s| s.level = -0.1), CalibrateError::LevelNegative { found, .. } if found == -0.1));
    assert!(matches!(with(|s| s.level = f64::NAN), CalibrateError::LevelNotFinite { .. }));
    assert!(matches!(with(|s| s.signal_a = f64::INFINITY), CalibrateError::SignalNotFinite { .. }));
    let unnamed = with(|s| s.electrode = "  ".into());
    assert_eq!(unnamed, CalibrateError::ElectrodeNotNamed { label: "strip 3#0".into() });
    assert!(unnamed.to_string().starts_with("strip 3#0:"), "the message names the scan: {unnamed}");
}

#[test]
fn minus_zero_is_the_blank_level() {
    let mut standards = one_electrode_each(&[0.0, 0.0, 5.0, 10.0], &[1.0, 1.1, 9.0, 17.2]);
    standards[0].level = -0.0;
    assert_eq!(calibrate(&standards, &plain()).unwrap().statistics.n_levels, 3);
}

#[test]
fn exclusions_need_a_reason_are_listed_and_limited() {
    let (levels, signals) = fluorescein();
    let mut standards = one_electrode_each(&levels, &signals);
    standards[2].excluded = Some(" ".into());
    assert!(matches!(refusal(&standards, &plain()), CalibrateError::ExclusionWithoutReason { .. }));
    standards[2].excluded = Some("bubble under the strip".into());
    standards[2].signal_a = f64::NAN;
    let calibration = calibrate(&standards, &plain()).unwrap();
    assert_eq!(calibration.excluded.len(), 1);
    assert_eq!(calibration.excluded[0].reason, "bubble under the strip");
    assert_eq!(finding(&calibration, Check::ExcludedStandards).found, Some(1.0));
    assert_eq!(calibration.statistics.n_points, 6);
    standards[4].excluded = Some("bubble".into());
    let refused = refusal(&standards, &plain());
    assert_eq!(refused, CalibrateError::TooManyExcluded { excluded: 2, total: 7, allowed: 0.2 });
}

#[test]
fn weights_without_a_value_at_zero_are_refused_with_the_cure() {
    let (levels, signals) = fluorescein();
    let standards = one_electrode_each(&levels, &signals);
    for weights in [Weights::InverseLevel, Weights::InverseSquaredLevel] {
        let refused = refusal(&standards, &settings(Model::Line, weights.clone(), 0.95));
        assert!(
            matches!(&refused, CalibrateError::WeightUnboundedAtZero { label, .. } if label == "strip 0#0")
        );
        assert!(refused.to_string().contains("variance function"));
        calibrate(&standards[1..], &settings(Model::Line, weights, 0.95)).unwrap();
    }
}

#[test]
fn variance_function_needs_replicate_electrodes() {
    let (levels, signals) = fluorescein();
    let by_function = settings(Model::Line, Weights::VarianceFunction, 0.95);
    assert!(matches!(
        refusal(&one_electrode_each(&levels, &signals), &by_function),
        CalibrateError::VarianceFunctionNeedsMoreData { found_levels: 0, found_df: 0, .. }
    ));
    let calibration = calibrate(&three_strips_of_four_scans(), &by_function).unwrap();
    let function = calibration.variance_function.unwrap();
    assert_eq!(function.degrees_of_freedom, 12);
    assert!((0.0..=0.99).contains(&function.growing_share));
    let weights: f64 = calibration.points.iter().map(|p| p.weight).sum();
    assert!((weights - 18.0).abs() < 1e-12);
}

#[test]
fn named_weights_equal_stated_deviations_of_the_same_shape() {
    let (levels, signals) = fluorescein();
    let standards = one_electrode_each(&levels[1..], &signals[1..]);
    for (named, shape) in [
        (Weights::InverseLevel, f64::sqrt as fn(f64) -> f64),
        (Weights::InverseSquaredLevel, std::convert::identity as fn(f64) -> f64),
    ] {
        let stated = levels[1..]
            .iter()
            .map(|&level| LevelDeviation { level, standard_deviation_a: 0.3 * shape(level) });
        let stated = settings(Model::Line, Weights::StandardDeviations(stated.collect()), 0.95);
        let stated = calibrate(&standards, &stated).unwrap().statistics;
        let named = calibrate(&standards, &settings(Model::Line, named, 0.95)).unwrap();
        for i in 0..2 {
            assert!((named.statistics.coefficients[i] - stated.coefficients[i]).abs() < 1e-12);
            assert!((named.statistics.standard_errors[i] - stated.standard_errors[i]).abs() < 1e-12);
        }
        // s² v(x) is the variance that the weights of the standards stand for.
        let [v0, v1, v2] = named.curve.relative_variance;
        for point in &named.points {
            let x = point.level;
            assert!(((v0 + x * (v1 + x * v2)) * point.weight - 1.0).abs() < 1e-12);
        }
    }
}

#[test]
fn a_level_that_steers_the_curve_alone_is_pointed_out() {
    let spaced = line(&[0.0, 1.0, 2.0, 3.0, 4.0, 100.0], &[1.0, 2.1, 2.9, 4.2, 4.9, 101.0], 0.95);
    let caution = finding(&spaced, Check::HighLeverage);
    assert!(!caution.passed() && caution.subject.as_deref() == Some("level 100"));
    let (levels, signals) = fluorescein();
    assert!(finding(&line(&levels, &signals, 0.95), Check::HighLeverage).passed());
}

#[test]
fn stated_deviations_must_fit_the_levels() {
    let (levels, signals) = fluorescein();
    let standards = one_electrode_each(&levels, &signals);
    let stated = |pairs: &[(f64, f64)]| {
        let deviations =
            pairs.iter().map(|&(level, standard_deviation_a)| LevelDeviation { level, standard_deviation_a });
        settings(Model::Line, Weights::StandardDeviations(deviations.collect()), 0.95)
    };
    let all: Vec<_> = levels.iter().map(|&x| (x, 0.1 + 0.02 * x)).collect();
    calibrate(&standards, &stated(&all)).unwrap();
    let missing = refusal(&standards, &stated(&all[1..]));
    assert_eq!(missing, CalibrateError::LevelWithoutDeviation { level: 0.0 });
    let extra: Vec<_> = all.iter().copied().chain([(13.0, 1.0)]).collect();
    assert_eq!(refusal(&standards, &stated(&extra)), CalibrateError::DeviationWithoutLevel { level: 13.0 });
    let twice: Vec<_> = all.iter().copied().chain([(12.0, 1.0)]).collect();
    assert_eq!(refusal(&standards, &stated(&twice)), CalibrateError::DeviationWithoutLevel { level: 12.0 });
    let mut zero = all.clone();
    zero[2].1 = 0.0;
    assert_eq!(
        refusal(&standards, &stated(&zero)),
        CalibrateError::DeviationNotPositive { level: 4.0, found: 0.0 }
    );
}

#[test]
fn refuses_a_quadratic_that_turns_a_flat_line_and_computed_signals() {
    let quadratic = settings(Model::Quadratic, Weights::None, 0.95);
    let turning = one_electrode_each(&[0.0, 2.0, 4.0, 6.0, 8.0, 10.0], &[0.1, 3.3, 4.8, 4.7, 3.4, 0.0]);
    let refused = refusal(&turning, &quadratic);
    assert!(
        matches!(refused, CalibrateError::NotMonotonic { turning_level, .. } if (4.5..5.5).contains(&turning_level))
    );
    let flat = one_electrode_each(&[0.0, 2.0, 4.0, 6.0], &[1.0, 1.2, 0.9, 1.1]);
    assert!(matches!(refusal(&flat, &plain()), CalibrateError::SlopeNotSignificant { .. }));
    let computed = one_electrode_each(&[0.0, 2.0, 4.0, 6.0], &[1.0, 3.0, 5.0, 7.0]);
    assert!(matches!(refusal(&computed, &plain()), CalibrateError::NoScatter { .. }));
}

#[test]
fn levels_beyond_what_a_float_can_square_are_refused() {
    let (levels, signals) = fluorescein();
    let huge: Vec<f64> = levels.iter().map(|x| x * 1e180).collect();
    let refused = refusal(&one_electrode_each(&huge, &signals), &plain());
    assert_eq!(refused, CalibrateError::OutOfRange);
}

#[test]
fn refuses_settings_that_are_none() {
    let (levels, signals) = fluorescein();
    let standards = one_electrode_each(&levels, &signals);
    for coverage in [0.0, 95.0, f64::NAN, 1.0] {
        let refused = refusal(&standards, &settings(Model::Line, Weights::None, coverage));
        assert!(matches!(refused, CalibrateError::CoverageNotUsable { .. }));
    }
    let mut settings = plain();
    settings.acceptance.lack_of_fit_alpha = Some(5.0);
    assert!(matches!(refusal(&standards, &settings), CalibrateError::SettingNotUsable { .. }));
    settings.acceptance = Acceptance { max_back_calculated_percent: Some(-1.0), ..Acceptance::default() };
    assert!(matches!(refusal(&standards, &settings), CalibrateError::SettingNotUsable { .. }));
}

#[test]
fn r_squared_alone_accepts_nothing() {
    let (levels, signals) = fluorescein();
    let mut settings = plain();
    settings.acceptance = Acceptance::default();
    let calibration = calibrate(&one_electrode_each(&levels, &signals), &settings).unwrap();
    assert!(calibration.statistics.r_squared > 0.997);
    assert!(!calibration.is_accepted());
    assert!(!finding(&calibration, Check::AcceptanceStated).passed());
}

#[test]
fn bent_curve_with_high_r_squared_fails_lack_of_fit_and_linearity() {
    let mut standards = Vec::new();
    for (i, level) in [0.0, 20.0, 40.0, 60.0, 80.0, 100.0].into_iter().enumerate() {
        for (strip, noise) in [-0.3, 0.1, 0.25].into_iter().enumerate() {
            let signal = 1.0 + level - 0.001 * level * level + noise;
            standards.push(standard(level, &format!("{i}.{strip}"), 0, signal));
        }
    }
    let mut settings = plain();
    settings.acceptance = Acceptance {
        lack_of_fit_alpha: Some(0.01),
        linearity_alpha: Some(0.01),
        homogeneity_alpha: Some(0.01),
        max_back_calculated_percent: Some(20.0),
        ..Acceptance::default()
    };
    let bent = calibrate(&standards, &settings).unwrap();
    assert!(bent.statistics.r_squared > 0.998);
    assert!(!finding(&bent, Check::LackOfFit).passed() && !finding(&bent, Check::Linearity).passed());
    assert!(finding(&bent, Check::SpreadAcrossLevels).passed());
    assert!(!bent.is_accepted());
    settings.model = Model::Quadratic;
    let followed = calibrate(&standards, &settings).unwrap();
    assert!(is_silent_about(&followed, Check::Linearity));
    assert!(followed.is_accepted(), "{:#?}", followed.findings);
}

#[test]
fn weighted_lack_of_fit_splits_the_weighted_residuals() {
    let stated = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0]
        .map(|level| LevelDeviation { level, standard_deviation_a: 0.5 + 0.02 * level });
    let weighted = settings(Model::Line, Weights::StandardDeviations(stated.to_vec()), 0.95);
    let calibration = calibrate(&three_strips_of_four_scans(), &weighted).unwrap();
    let (mut lack, mut pure) = (0.0, 0.0);
    for level in calibration.points.chunks(3) {
        let mean = level.iter().map(|p| p.mean_signal_a).sum::<f64>() / 3.0;
        for point in level {
            lack += point.weight * (mean - point.fitted_signal_a) * (mean - point.fitted_signal_a);
            pure += point.weight * (point.mean_signal_a - mean) * (point.mean_signal_a - mean);
        }
    }
    let test = calibration.tests.lack_of_fit.unwrap();
    assert!((test.f - (lack / 4.0) / (pure / 12.0)).abs() < 1e-9);
    assert_eq!((test.numerator_df, test.denominator_df), (4.0, 12.0));
    assert!((calibration.components.electrode_mean_variance_a2 - pure / 12.0).abs() < 1e-9);
}

#[test]
fn criterion_that_cannot_be_tested_is_not_passed() {
    let (levels, signals) = fluorescein();
    let mut settings = plain();
    settings.acceptance = Acceptance {
        lack_of_fit_alpha: Some(0.05),
        residual_trend_alpha: Some(0.01),
        ..Acceptance::default()
    };
    let mut standards = one_electrode_each(&levels, &signals);
    for standard in &mut standards {
        standard.scan_number = None;
    }
    let calibration = calibrate(&standards, &settings).unwrap();
    assert_eq!(finding(&calibration, Check::LackOfFit).outcome, Outcome::NotTestable);
    assert_eq!(finding(&calibration, Check::ScanTrendBetween).outcome, Outcome::NotTestable);
    assert!(!calibration.is_accepted());
    assert!(!finding(&calibration, Check::NoReplicateElectrodes).passed());
}

#[test]
fn spread_that_rises_with_level_is_found_and_weights_answer_it() {
    let mut standards = Vec::new();
    for (i, level) in [0.0, 20.0, 40.0, 60.0, 80.0, 100.0].into_iter().enumerate() {
        for (strip, noise) in [-1.0, 0.3, 1.2, -0.6].into_iter().enumerate() {
            let signal = 5.0 + level + noise * (0.1 + 0.05 * level);
            standards.push(standard(level, &format!("{i}.{strip}"), 0, signal));
        }
    }
    let mut settings = plain();
    settings.acceptance = Acceptance { homogeneity_alpha: Some(0.01), ..Acceptance::default() };
    let plain = calibrate(&standards, &settings).unwrap();
    assert!(!finding(&plain, Check::SpreadAtRangeEnds).passed());
    settings.weights = Weights::VarianceFunction;
    let weighted = calibrate(&standards, &settings).unwrap();
    assert!(finding(&weighted, Check::SpreadAtRangeEnds).passed(), "{:#?}", weighted.findings);
    assert!(weighted.variance_function.unwrap().p_constant.unwrap() < 0.01);
    let low = |c: &Calibration| concentration(c, &sample(&[&[8.0]])).unwrap();
    assert!(low(&weighted).high() - low(&weighted).low() < 0.5 * (low(&plain).high() - low(&plain).low()));
}

#[test]
fn tiring_electrodes_show_as_a_trend_within() {
    let mut settings = plain();
    settings.acceptance = Acceptance { residual_trend_alpha: Some(0.01), ..Acceptance::default() };
    let steady = three_strips_of_four_scans();
    let calibration = calibrate(&steady, &settings).unwrap();
    assert!(finding(&calibration, Check::ScanTrendWithin).passed());
    let tiring: Vec<_> = steady
        .iter()
        .map(|s| StandardSignal {
            signal_a: s.signal_a - 0.4 * f64::from(s.scan_number.unwrap()),
            ..s.clone()
        })
        .collect();
    let calibration = calibrate(&tiring, &settings).unwrap();
    assert!(!finding(&calibration, Check::ScanTrendWithin).passed());
    let trend = calibration.tests.scan_trend_within.unwrap();
    assert!((trend.slope_a_per_scan + 0.4).abs() < 0.1 && trend.degrees_of_freedom == 53);
}

#[test]
fn ageing_of_one_electrode_shows_as_a_trend_between() {
    let levels = [50.0, 0.0, 100.0, 10.0, 75.0, 25.0, 0.0, 100.0];
    let noise = [0.1, -0.2, 0.15, 0.0, -0.1, 0.2, -0.05, 0.1];
    let mut settings = plain();
    settings.acceptance = Acceptance { residual_trend_alpha: Some(0.01), ..Acceptance::default() };
    let run = |drift: f64| -> Calibration {
        let scans = levels.iter().zip(noise).zip(0_u32..);
        let standards: Vec<_> = scans
            .map(|((&level, noise), scan)| StandardSignal {
                electrode: "the one".into(),
                ..standard(level, "e", scan, 3.0 + level + noise - drift * f64::from(scan))
            })
            .collect();
        calibrate(&standards, &settings).unwrap()
    };
    assert!(!finding(&run(0.5), Check::ScanTrendBetween).passed());
    assert!(finding(&run(0.0), Check::ScanTrendBetween).passed());
    let one = run(0.0);
    assert!(!finding(&one, Check::OneElectrode).passed());
    assert_eq!(finding(&one, Check::ElectrodeServesSeveralLevels).found, Some(6.0));
    assert_eq!(finding(&one, Check::ElectrodeServesSeveralLevels).role, Role::Caution);
}

#[test]
fn forced_origin_always_leaves_a_caution() {
    let (levels, signals) = fluorescein();
    let standards = one_electrode_each(&levels, &signals);
    let calibration =
        calibrate(&standards, &settings(Model::LineThroughOrigin, Weights::None, 0.95)).unwrap();
    assert_eq!(calibration.curve.n_coefficients, 1);
    let caution = finding(&calibration, Check::ForcedOrigin);
    // 1.5179 / 0.2949, Miller & Miller.
    assert!((caution.found.unwrap() - 5.1465).abs() < 1e-3 && caution.outcome == Outcome::Failed);
}

#[test]
fn sample_refusals_name_the_electrode() {
    let (levels, signals) = fluorescein();
    let calibration = line(&levels, &signals, 0.95);
    assert_eq!(concentration(&calibration, &[]), Err(ConcentrationError::NoElectrode));
    let empty = concentration(&calibration, &sample(&[&[3.0], &[]]));
    assert_eq!(empty, Err(ConcentrationError::ElectrodeWithoutSignal { electrode: "sample strip 1".into() }));
    let infinite = concentration(&calibration, &sample(&[&[f64::INFINITY]]));
    assert!(matches!(infinite, Err(ConcentrationError::SignalNotFinite { .. })));
}

#[test]
fn outside_the_range_nothing_is_extrapolated_upwards_and_nothing_censored_below() {
    let (levels, signals) = fluorescein();
    let calibration = line(&levels, &signals, 0.95);
    let above = concentration(&calibration, &sample(&[&[40.0]])).unwrap();
    assert_eq!(above.level, EstimatedLevel::Above { low: 12.0 });
    assert_eq!((above.value(), above.high(), above.uncertainty), (None, f64::INFINITY, None));
    let below = concentration(&calibration, &sample(&[&[0.5]])).unwrap();
    assert!(matches!(below.level, EstimatedLevel::Below { value, .. } if value < 0.0));
}

#[test]
fn fewer_scans_widen_and_more_scans_never_narrow() {
    let calibration = calibrate(&three_strips_of_four_scans(), &plain()).unwrap();
    let width = |signals: &[f64]| {
        let estimate = concentration(&calibration, &sample(&[signals])).unwrap();
        (estimate.high() - estimate.low(), estimate.uncertainty.unwrap().of_fewer_scans)
    };
    let (four, none) = width(&[63.0; 4]);
    let (one, some) = width(&[63.0]);
    let (eight, still_none) = width(&[63.0; 8]);
    assert!(one > four && some > 0.0 && none == 0.0 && still_none == 0.0);
    assert_eq!(eight.to_bits(), four.to_bits());
}

#[test]
fn disagreeing_sample_electrodes_widen_and_agreeing_ones_do_not_narrow() {
    let calibration = calibrate(&three_strips_of_four_scans(), &plain()).unwrap();
    let of = |signals: [f64; 3]| {
        let four = signals.map(|s| [s; 4]);
        concentration(&calibration, &sample(&[&four[0], &four[1], &four[2]])).unwrap()
    };
    let (alike, usual, apart) = (of([63.0; 3]), of([62.0, 63.0, 64.0]), of([48.0, 63.0, 78.0]));
    let width = |e: &stillwell_calibrate::ConcentrationEstimate| e.high() - e.low();
    assert!((width(&alike) - width(&usual)).abs() < 1e-9 * width(&usual));
    assert!(width(&apart) > 3.0 * width(&usual));
    assert!(usual.findings[0].passed() && !apart.findings[0].passed());
    assert_eq!(apart.findings[0].id(), "sample-electrodes-disagree");
    assert!(apart.uncertainty.unwrap().of_disagreement > 0.0);
}

#[test]
fn check_standard_is_judged_by_recovery() {
    let (levels, signals) = fluorescein();
    let mut settings = plain();
    settings.acceptance.check_standard_percent = Some(10.0);
    let calibration = calibrate(&one_electrode_each(&levels, &signals), &settings).unwrap();
    let judge = |signal: f64| {
        let estimate = concentration(&calibration, &sample(&[&[signal]])).unwrap();
        check_standard_recovery(&calibration, 6.0, &estimate).unwrap()
    };
    assert!(judge(13.0).passed());
    let low = judge(10.0);
    assert!(!low.passed() && low.found.is_some_and(|percent| (percent - 26.76).abs() < 0.01));
    assert!(!judge(50.0).passed(), "above the range is no recovery");
    let silent = line(&levels, &signals, 0.95);
    let estimate = concentration(&silent, &sample(&[&[13.0]])).unwrap();
    assert_eq!(check_standard_recovery(&silent, 6.0, &estimate), None);
}

#[test]
fn every_check_has_its_texts_and_a_name_of_its_own() {
    let mut ids: Vec<&str> = Check::ALL.iter().map(|c| c.id()).collect();
    assert!(Check::ALL.iter().all(|c| !c.looks_at().is_empty() && c.remedy().ends_with('.')));
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), Check::ALL.len());
}

//! Detection limits: their conditions, what they say about themselves, and the nested spread against its oracle.

use crate::standards::{fluorescein, line, one_electrode_each, sample, settings, three_strips_of_four_scans};
use stillwell_calibrate::{
    DatedResult, LimitError, LimitNote, LimitSettings, LimitSpread, Model, Procedure, ShorthandSpread,
    Weights, calibrate, concentration, detection_limits_din_32645_blank,
    detection_limits_din_32645_calibration, detection_limits_iso_11843, detection_limits_shorthand,
    method_detection_limit,
};
use stillwell_stats::random::RandomStream;

fn usual(n_electrodes: u32) -> LimitSettings {
    LimitSettings { alpha: 0.05, beta: 0.05, n_electrodes, quantification_factor: 3.0 }
}

const BLANKS_A: [f64; 10] = [1.1, -0.4, 0.7, 0.2, -0.9, 0.5, 0.1, -0.2, 0.8, 0.3];

#[test]
fn working_calibration_gives_no_limit_by_the_din_calibration_way() {
    // Test data of DIN 32645, see checks/detection_limits.toml.
    let levels: Vec<f64> = (1..=10).map(|i| 0.05 * f64::from(i)).collect();
    let signals = [3060.0, 3522.0, 3707.0, 4280.0, 5058.0, 5510.0, 5703.0, 6205.0, 7156.0, 7178.0];
    let low_level = line(&levels, &signals, 0.95);
    let limits = detection_limits_din_32645_calibration(&low_level, &usual(1)).unwrap();
    assert_eq!(limits.procedure, Procedure::Din32645Calibration);
    assert_eq!(limits.spread, LimitSpread::Residual);
    // Twenty times the range with the same scatter.
    let wide: Vec<f64> = levels.iter().map(|x| 20.0 * x).collect();
    let high: Vec<f64> = levels.iter().zip(&signals).map(|(x, y)| y + 19.0 * 9661.9 * x).collect();
    let working = line(&wide, &high, 0.95);
    let refused = detection_limits_din_32645_calibration(&working, &usual(1)).unwrap_err();
    assert!(
        matches!(refused, LimitError::CalibrationTooHigh { ratio, allowed, .. } if ratio > allowed),
        "{refused}"
    );
    // More electrodes make a smaller limit, not a lower-level calibration.
    assert!(detection_limits_din_32645_calibration(&low_level, &usual(20)).is_ok());
    detection_limits_din_32645_blank(&working, &BLANKS_A, &usual(1)).unwrap();
}

#[test]
fn alpha_and_beta_keep_their_places() {
    let (levels, signals) = fluorescein();
    // Scatter enough for the calibration way.
    let signals: Vec<f64> =
        signals.iter().zip([0.4, -0.5, 0.6, -0.4, 0.2, 0.1, -0.3]).map(|(y, e)| y + e).collect();
    let calibration = line(&levels, &signals, 0.95);
    let settings = LimitSettings { alpha: 0.01, beta: 0.1, ..usual(1) };
    let t = stillwell_stats::distributions::student_t_quantile;
    let ratio = (t(0.99, 5.0) + t(0.9, 5.0)) / t(0.99, 5.0);
    let by_calibration = detection_limits_din_32645_calibration(&calibration, &settings).unwrap();
    assert!((by_calibration.detection.unwrap() / by_calibration.decision.unwrap() - ratio).abs() < 1e-12);
    let by_blanks = detection_limits_din_32645_blank(&calibration, &BLANKS_A, &settings).unwrap();
    let ratio = (t(0.99, 9.0) + t(0.9, 9.0)) / t(0.99, 9.0);
    assert!((by_blanks.detection.unwrap() / by_blanks.decision.unwrap() - ratio).abs() < 1e-12);
    let iso = detection_limits_iso_11843(&calibration, &settings).unwrap();
    let delta = stillwell_stats::distributions::noncentrality_delta(5.0, 0.01, 0.1);
    assert!((iso.detection.unwrap() / iso.decision.unwrap() - delta / t(0.99, 5.0)).abs() < 1e-12);
}

#[test]
fn limits_are_refused_where_their_standard_does_not_reach() {
    let (levels, signals) = fluorescein();
    let standards = one_electrode_each(&levels, &signals);
    let quadratic = calibrate(&standards, &settings(Model::Quadratic, Weights::None, 0.95)).unwrap();
    let refused = detection_limits_iso_11843(&quadratic, &usual(1)).unwrap_err();
    assert!(matches!(refused, LimitError::NeedsLine { model: Model::Quadratic, .. }));
    let weighted = calibrate(&standards[1..], &settings(Model::Line, Weights::InverseLevel, 0.95)).unwrap();
    let refused = detection_limits_din_32645_calibration(&weighted, &usual(1)).unwrap_err();
    assert!(matches!(refused, LimitError::NeedsEqualSpread { .. }));
    let limits = detection_limits_iso_11843(&weighted, &usual(1)).unwrap();
    assert!(limits.notes.contains(&LimitNote::NoStandardAtZero));
    let calibration = line(&levels, &signals, 0.95);
    let ask = |change: fn(&mut LimitSettings)| {
        let mut settings = usual(1);
        change(&mut settings);
        detection_limits_iso_11843(&calibration, &settings).unwrap_err()
    };
    assert!(matches!(ask(|s| s.alpha = 5.0), LimitError::ProbabilityNotUsable { name: "alpha", .. }));
    assert!(matches!(ask(|s| s.beta = f64::NAN), LimitError::ProbabilityNotUsable { name: "beta", .. }));
    assert_eq!(ask(|s| s.n_electrodes = 0), LimitError::NoElectrode);
    assert!(matches!(ask(|s| s.quantification_factor = 0.5), LimitError::FactorNotUsable { .. }));
}

#[test]
fn blanks_must_be_enough_and_show_their_spread() {
    let (levels, signals) = fluorescein();
    let calibration = line(&levels, &signals, 0.95);
    let ask = |blanks: &[f64]| detection_limits_din_32645_blank(&calibration, blanks, &usual(1));
    assert!(matches!(ask(&BLANKS_A[..5]), Err(LimitError::TooFewBlanks { found: 5, needed: 6, .. })));
    assert!(matches!(ask(&[0.0; 10]), Err(LimitError::NoSpread { .. })));
    assert!(ask(&BLANKS_A[..8]).unwrap().notes.contains(&LimitNote::FewBlanks));
    let limits = ask(&BLANKS_A).unwrap();
    assert_eq!((limits.spread, limits.degrees_of_freedom), (LimitSpread::Blanks, 9.0));
    // s = 0.601480, t(0.95; 9) = 1.833113, √(1 + 1/10), slope 1.93036, recomputed by hand.
    assert!((limits.decision.unwrap() - 0.601480 * 1.833113 * 1.048809 / 1.930357).abs() < 1e-5);
    assert!((limits.detection.unwrap() - 2.0 * limits.decision.unwrap()).abs() < 1e-12);
}

#[test]
fn shorthand_names_its_s() {
    let (levels, signals) = fluorescein();
    let calibration = line(&levels, &signals, 0.95);
    let s = calibration.statistics;
    let residual = detection_limits_shorthand(&calibration, ShorthandSpread::Residual).unwrap();
    assert_eq!(residual.detection, Some(3.3 * s.process_sd));
    assert_eq!(residual.quantification.unwrap().level, 10.0 * s.process_sd);
    let intercept = detection_limits_shorthand(&calibration, ShorthandSpread::Intercept).unwrap();
    assert_eq!(intercept.spread, LimitSpread::Intercept);
    assert!((intercept.detection.unwrap() - 3.3 * s.standard_errors[0] / s.coefficients[1]).abs() < 1e-12);
    let blanks = detection_limits_shorthand(&calibration, ShorthandSpread::Blanks(&BLANKS_A)).unwrap();
    assert_eq!((blanks.spread, blanks.alpha, blanks.decision), (LimitSpread::Blanks, None, None));
}

#[test]
fn weighted_detection_limit_solves_its_own_equation() {
    let by_function = settings(Model::Line, Weights::VarianceFunction, 0.95);
    let calibration = calibrate(&three_strips_of_four_scans(), &by_function).unwrap();
    let limits = detection_limits_iso_11843(&calibration, &usual(2)).unwrap();
    let (curve, x) = (&calibration.curve, limits.detection.unwrap());
    let [v0, _, v2] = curve.relative_variance;
    let delta = stillwell_stats::distributions::noncentrality_delta(16.0, 0.05, 0.05);
    let spread =
        limits.standard_deviation * (0.5 * (v0 + v2 * x * x) + curve.unscaled_covariance[0][0]).sqrt();
    assert!((x - delta * spread).abs() < 1e-12 * x);
}

/// Above the decision limit with a true level of zero at most as often as α says, below it at the detection limit as β says.
#[test]
fn decision_and_detection_limits_keep_their_errors() {
    let levels: Vec<f64> = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0].iter().flat_map(|&x| [x; 3]).collect();
    let delta = stillwell_stats::distributions::noncentrality_delta(16.0, 0.05, 0.05);
    let (mut alarms, mut misses) = (0_u32, 0_u32);
    let studies = 4000;
    for index in 0..studies {
        let mut random = RandomStream::new(7, index);
        let signals: Vec<f64> = levels.iter().map(|x| 1.0 + x + 0.5 * random.normal()).collect();
        let calibration = line(&levels, &signals, 0.95);
        let limits = detection_limits_iso_11843(&calibration, &usual(1)).unwrap();
        // What ISO 11843-2 promises at x_D, for this design and the true spread.
        let at_detection = delta * 0.5 * (1.0_f64 + 1.0 / 18.0 + 25.0 / 210.0).sqrt();
        let mut level_of = |truth: f64| {
            let signal = 1.0 + truth + 0.5 * random.normal();
            concentration(&calibration, &sample(&[&[signal]])).unwrap().value().unwrap()
        };
        alarms += u32::from(level_of(0.0) > limits.decision.unwrap());
        misses += u32::from(level_of(at_detection) <= limits.decision.unwrap());
    }
    let (alarm_rate, miss_rate) = (f64::from(alarms) / 4000.0, f64::from(misses) / 4000.0);
    println!("false alarms {alarm_rate:.4}, misses {miss_rate:.4}, 0.05 meant");
    // Four binomial standard errors.
    assert!((alarm_rate - 0.05).abs() < 0.0138 && (miss_rate - 0.05).abs() < 0.0138);
}

fn dated(n: usize, days: usize, level: impl Fn(usize) -> Option<f64>) -> Vec<DatedResult> {
    (0..n).map(|i| DatedResult { level: level(i), date: format!("2026-03-{:02}", i % days + 1) }).collect()
}

#[test]
fn method_detection_limit_keeps_its_conditions() {
    let spikes = dated(7, 3, |i| Some(1.0 + 0.05 * (i as f64 - 3.0)));
    let blanks = dated(7, 3, |i| Some(0.01 * (i as f64 - 2.0)));
    assert!(matches!(
        method_detection_limit(&spikes[..6], &blanks, 1.0),
        Err(LimitError::TooFewSpikes { found: 6, needed: 7, .. })
    ));
    assert!(matches!(
        method_detection_limit(&spikes, &blanks[..6], 1.0),
        Err(LimitError::TooFewBlanks { found: 6, needed: 7, .. })
    ));
    let two_days = dated(7, 2, |i| Some(0.01 * i as f64));
    assert!(matches!(
        method_detection_limit(&spikes, &two_days, 1.0),
        Err(LimitError::TooFewDates { what: "blanks", found: 2, needed: 3, .. })
    ));
    let mut lost = spikes.clone();
    lost[4].level = None;
    assert!(matches!(
        method_detection_limit(&lost, &blanks, 1.0),
        Err(LimitError::SpikeNotPositive { index: 5, .. })
    ));
}

#[test]
fn method_detection_limit_takes_blanks_as_they_come() {
    let spikes = dated(7, 3, |i| Some(1.0 + 0.05 * (i as f64 - 3.0)));
    let none = method_detection_limit(&spikes, &dated(7, 3, |_| None), 1.0).unwrap();
    assert_eq!(none.from_blanks, None);
    assert!(none.limits.notes.contains(&LimitNote::NoNumericalBlank));
    assert_eq!(none.limits.spread, LimitSpread::Spikes);
    let some = method_detection_limit(&spikes, &dated(8, 3, |i| (i == 3).then_some(0.9)), 1.0).unwrap();
    assert_eq!((some.from_blanks, some.limits.decision), (Some(0.9), Some(0.9)));
    assert_eq!(some.limits.spread, LimitSpread::Blanks);
    let negative =
        method_detection_limit(&spikes, &dated(7, 3, |i| Some(-0.5 - 0.001 * i as f64)), 1.0).unwrap();
    assert!(negative.limits.notes.contains(&LimitNote::NegativeMeanBlank));
    assert!(negative.from_blanks.unwrap() > 0.0);
    let far = method_detection_limit(&spikes, &dated(7, 3, |i| Some(0.01 * i as f64)), 50.0).unwrap();
    assert!(far.limits.notes.contains(&LimitNote::SpikeLevelOutside2To10));
}

#[test]
fn components_agree_with_nested_analysis_of_variance() {
    let standards = three_strips_of_four_scans();
    let calibration = calibrate(&standards, &settings(Model::Line, Weights::None, 0.95)).unwrap();
    let classes: Vec<Vec<Vec<f64>>> = standards
        .chunks(12)
        .map(|level| level.chunks(4).map(|strip| strip.iter().map(|s| s.signal_a).collect()).collect())
        .collect();
    let oracle = stillwell_stats::nested_analysis_of_variance(&classes).unwrap();
    let means = classes
        .iter()
        .map(|level| level.iter().map(|strip| stillwell_stats::mean(strip).unwrap()).collect::<Vec<_>>());
    let cochran = stillwell_stats::cochran_test(&means.collect::<Vec<_>>(), 0.05).unwrap();
    let spread = calibration.tests.spread_across_levels.unwrap();
    assert!(
        (spread.cochran_c - cochran.statistic).abs() < 1e-12 && (spread.p - cochran.p_value).abs() < 1e-9
    );
    let found = calibration.components;
    assert!((found.scan_variance_a2 - oracle.within_variance).abs() < 1e-10);
    assert!((found.electrode_variance_a2 - oracle.between_variance).abs() < 1e-10);
    assert_eq!(found.scans_per_electrode, 4.0);
    let one_strip = found.standard_deviation_of_mean_a(1, 4);
    assert!((one_strip * one_strip - found.electrode_mean_variance_a2).abs() < 1e-10);
}

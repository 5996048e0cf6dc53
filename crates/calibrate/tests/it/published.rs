//! Published and recomputed values of `checks/calibration.toml` and `checks/detection_limits.toml`, with digits.

use crate::checks::{Row, compare, load, numbers, table, tables, text};
use crate::standards::{line, one_electrode_each, sample, settings};
use stillwell_calibrate::{
    Calibration, Check, DatedResult, DetectionLimits, LevelDeviation, LimitSettings, Model, Weights,
    calibrate, concentration, detection_limits_din_32645_calibration, detection_limits_iso_11843,
    detection_limits_prediction_band, method_detection_limit,
};
use stillwell_evaluate::signal_at;
use stillwell_stats::distributions::{noncentrality_delta, student_t_quantile};
use toml_edit::Table;

/// The sample as `electrodes` electrodes that all gave `signal`.
fn interval(calibration: &Calibration, row: &Row<'_>) -> (f64, f64, f64) {
    let signals = [row.number("signal")];
    let electrodes = vec![&signals[..]; row.electrodes() as usize];
    let estimate = concentration(calibration, &sample(&electrodes)).unwrap();
    (estimate.value().unwrap(), estimate.low(), estimate.high())
}

fn first_order_standard_error(calibration: &Calibration, row: &Row<'_>) -> f64 {
    let signals = [row.number("signal")];
    let electrodes = vec![&signals[..]; row.electrodes() as usize];
    concentration(calibration, &sample(&electrodes)).unwrap().uncertainty.unwrap().combined
}

/// Limits of the band whose two sides leave out what the coverage does.
fn band(calibration: &Calibration) -> DetectionLimits {
    let one_sided = 0.5 * (1.0 - calibration.settings.coverage);
    let settings =
        LimitSettings { alpha: one_sided, beta: one_sided, n_electrodes: 1, quantification_factor: 3.0 };
    detection_limits_prediction_band(calibration, &settings).unwrap()
}

fn prediction_limit_at_zero(calibration: &Calibration) -> f64 {
    band(calibration).decision_signal_a.unwrap()
}

fn level_clear_of_zero(calibration: &Calibration) -> f64 {
    band(calibration).detection.unwrap()
}

/// What belongs to the line, its tests and its inverse.
fn of_line(line: &Calibration, row: &Row<'_>) -> Option<f64> {
    let s = &line.statistics;
    let t = line.curve.t_quantile;
    let df = line.curve.degrees_of_freedom;
    let residual_squares = s.residual_sd_a * s.residual_sd_a * f64::from(df);
    let regression_squares = s.sensitivity_a_per_level * s.sensitivity_a_per_level * s.level_sum_of_squares;
    Some(match row.quantity() {
        "slope" => s.coefficients[1],
        "intercept" => s.coefficients[0],
        "correlation" => s.r_squared.sqrt(),
        "residual_sd" => s.residual_sd_a,
        "slope_standard_error" => s.standard_errors[1],
        "intercept_standard_error" => s.standard_errors[0],
        "slope_half_width" => t * s.standard_errors[1],
        "intercept_half_width" => t * s.standard_errors[0],
        "mean_level" => s.mean_level,
        "mean_signal" => s.mean_signal_a,
        "process_sd" => s.process_sd,
        "three_process_sd" => 3.0 * s.process_sd,
        "process_sd_percent" => s.process_sd_percent,
        "regression_sum_of_squares" => regression_squares,
        "residual_sum_of_squares" => residual_squares,
        "regression_f" => regression_squares / (s.residual_sd_a * s.residual_sd_a),
        "lack_of_fit_f" => line.tests.lack_of_fit.unwrap().f,
        "lack_of_fit_p" => line.tests.lack_of_fit.unwrap().p,
        "linearity_gain" => line.tests.linearity.unwrap().gain_a2,
        "linearity_f" => line.tests.linearity.unwrap().test.f,
        "linearity_critical" => line.tests.linearity.unwrap().test.critical(row.number("alpha")),
        "linearity_passed" => {
            let finding = line.findings.iter().find(|f| f.check == Check::Linearity).unwrap();
            assert_eq!(finding.limit, Some(row.number("alpha")));
            f64::from(u8::from(finding.passed()))
        }
        "estimate" => interval(line, row).0,
        "low" => interval(line, row).1,
        "high" => interval(line, row).2,
        "first_order_standard_error" => first_order_standard_error(line, row),
        "first_order_half_width" => t * first_order_standard_error(line, row),
        "prediction_limit_at_zero" => prediction_limit_at_zero(line),
        "level_clear_of_zero" => level_clear_of_zero(line),
        "signal_clear_of_zero" => signal_at(&line.curve, level_clear_of_zero(line)),
        _ => return None,
    })
}

fn of_quadratic(quadratic: &Calibration, line: &Calibration, row: &Row<'_>) -> Option<f64> {
    let s = &quadratic.statistics;
    Some(match row.quantity() {
        "quadratic_c0" => s.coefficients[0],
        "quadratic_c1" => s.coefficients[1],
        "quadratic_c2" => s.coefficients[2],
        "quadratic_residual_sd" => {
            let by_test = line.tests.linearity.unwrap().residual_sd_quadratic_a;
            assert!((by_test - s.residual_sd_a).abs() <= 1e-12 * by_test);
            s.residual_sd_a
        }
        "quadratic_sensitivity" => s.sensitivity_a_per_level,
        "quadratic_process_sd" => s.process_sd,
        "quadratic_process_sd_percent" => s.process_sd_percent,
        _ => return None,
    })
}

fn of_limits(line: &Calibration, row: &Row<'_>) -> f64 {
    let alpha = row.number("alpha");
    let n_electrodes = row.electrodes();
    let settings = LimitSettings { alpha, beta: alpha, n_electrodes, quantification_factor: 3.0 };
    let quantity = row.quantity();
    let limits = if quantity.starts_with("din_") {
        detection_limits_din_32645_calibration(line, &settings).unwrap()
    } else {
        detection_limits_iso_11843(line, &settings).unwrap()
    };
    match quantity {
        "din_decision" | "iso_decision" => limits.decision.unwrap(),
        "din_decision_signal" => limits.decision_signal_a.unwrap(),
        "din_detection" | "iso_detection" => limits.detection.unwrap(),
        "din_quantification" | "iso_quantification" => limits.quantification.unwrap().level,
        other => panic!("nothing computes {other}"),
    }
}

/// One case: the line at the row's coverage (0.95 where it states none), the quadratic where a row asks for it.
fn found(case: &Table, row: &Row<'_>) -> f64 {
    let (levels, signals) = (numbers(case, "level"), numbers(case, "signal"));
    let line = line(&levels, &signals, row.optional("coverage").unwrap_or(0.95));
    if let Some(found) = of_line(&line, row) {
        return found;
    }
    if row.quantity().starts_with("quadratic_") {
        let standards = one_electrode_each(&levels, &signals);
        let quadratic = calibrate(&standards, &settings(Model::Quadratic, Weights::None, 0.95)).unwrap();
        return of_quadratic(&quadratic, &line, row)
            .unwrap_or_else(|| panic!("nothing computes {}", row.quantity()));
    }
    of_limits(&line, row)
}

#[test]
fn published_calibrations_and_their_inverse_reach_their_digits() {
    let document = load("calibration.toml");
    let mut misses = Vec::new();
    for case in tables(&document, "case") {
        misses.extend(compare(&document, case, text(case, "name"), |row| found(case, row)));
    }
    assert!(misses.is_empty(), "{misses:#?}");
}

#[test]
fn published_weighted_calibrations_reach_their_digits() {
    let document = load("calibration.toml");
    let mut misses = Vec::new();
    for case in tables(&document, "weighted") {
        let (levels, signals) = (numbers(case, "level"), numbers(case, "signal"));
        let deviations = numbers(case, "standard_deviation");
        let stated = levels.iter().zip(&deviations);
        let stated =
            stated.map(|(&level, &standard_deviation_a)| LevelDeviation { level, standard_deviation_a });
        let weights = Weights::StandardDeviations(stated.collect());
        let standards = one_electrode_each(&levels, &signals);
        let weighted = calibrate(&standards, &settings(Model::Line, weights, 0.95)).unwrap();
        let unweighted = line(&levels, &signals, 0.95);
        // Raw weight 1/sd² times this gives the weights that sum to n.
        let scale = weighted.points[0].weight * deviations[0] * deviations[0];
        misses.extend(compare(&document, case, text(case, "name"), |row| {
            let s = weighted.statistics;
            match row.quantity() {
                "unweighted_slope" => unweighted.statistics.coefficients[1],
                "unweighted_intercept" => unweighted.statistics.coefficients[0],
                "unweighted_estimate" => interval(&unweighted, row).0,
                "unweighted_first_order_half_width" => {
                    unweighted.curve.t_quantile * first_order_standard_error(&unweighted, row)
                }
                "residual_sd_at_raw_weight" => s.residual_sd_a / scale.sqrt(),
                "first_order_standard_error" | "first_order_half_width" => {
                    of_line(&with_stated_unknown(&weighted, row, scale), row).unwrap()
                }
                weight if weight.starts_with("weight_") => {
                    weighted.points[weight["weight_".len()..].parse::<usize>().unwrap()].weight
                }
                _ => of_line(&weighted, row).unwrap_or_else(|| panic!("nothing computes {}", row.quantity())),
            }
        }));
    }
    assert!(misses.is_empty(), "{misses:#?}");
}

/// The books state the unknown's spread apart; the kernel takes it from the curve's variance function.
fn with_stated_unknown(weighted: &Calibration, row: &Row<'_>, scale: f64) -> Calibration {
    let mut calibration = weighted.clone();
    let raw_weight = row.optional("raw_weight_of_unknown").unwrap_or_else(|| {
        let deviation = row.number("standard_deviation_of_unknown");
        1.0 / (deviation * deviation)
    });
    let relative = 1.0 / (raw_weight * scale);
    calibration.curve.relative_variance = [relative, 0.0, 0.0];
    calibration
}

#[test]
fn published_detection_limits_reach_their_digits() {
    let document = load("detection_limits.toml");
    let mut misses = Vec::new();
    for case in tables(&document, "case") {
        misses.extend(compare(&document, case, text(case, "name"), |row| found(case, row)));
    }
    let delta = table(&document, "noncentral_delta");
    let (alpha, beta) = (delta["alpha"].as_float().unwrap(), delta["beta"].as_float().unwrap());
    misses.extend(compare(&document, delta, "noncentral delta", |row| {
        noncentrality_delta(row.number("degrees_of_freedom"), alpha, beta)
    }));
    let t = table(&document, "method_detection_limit_t");
    misses.extend(compare(&document, t, "t of the method detection limit", |row| {
        student_t_quantile(0.99, row.number("replicates") - 1.0)
    }));
    assert!(misses.is_empty(), "{misses:#?}");
}

fn dated(levels: &[f64]) -> Vec<DatedResult> {
    let days = ["2026-03-02", "2026-03-03", "2026-03-09"];
    levels
        .iter()
        .zip(days.iter().cycle())
        .map(|(&level, day)| DatedResult { level: Some(level), date: (*day).into() })
        .collect()
}

#[test]
fn method_detection_limit_matches_its_example() {
    let document = load("detection_limits.toml");
    let case = table(&document, "method_detection_limit");
    let spikes = dated(&numbers(case, "spikes"));
    let spike_level = case["spike_level"].as_float().unwrap();
    let of = |key| method_detection_limit(&spikes, &dated(&numbers(case, key)), spike_level).unwrap();
    let misses = compare(&document, case, "method detection limit", |row| match row.quantity() {
        "sd_of_spikes" => of("blanks").limits.standard_deviation,
        "from_spikes" => of("blanks").from_spikes,
        "from_blanks" => of("blanks").from_blanks.unwrap(),
        "decision" => of("blanks").limits.decision.unwrap(),
        "from_negative_blanks" => of("blanks_negative").from_blanks.unwrap(),
        other => panic!("nothing computes {other}"),
    });
    assert!(misses.is_empty(), "{misses:#?}");
}

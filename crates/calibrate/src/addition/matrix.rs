//! The slope in the sample against that of the external calibration: does the matrix matter?

use super::AdditionEstimate;
use super::error::AdditionError;
use super::fieller::Ratio;
use crate::calibration::Calibration;
use crate::standard::Model;
use stillwell_stats::distributions::{student_t_quantile, student_t_sf};

/// What the comparison of slopes must show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MatrixDemands {
    /// Largest relative difference of slopes that does not matter, such as 0.10.
    pub bound: f64,
    /// Significance level, such as 0.05: of the difference (two-sided), and of each of the two one-sided tests of equivalence.
    pub alpha: f64,
    /// Relative standard uncertainty of the ratio that neither slope's scatter holds: a temperature correction, additions from another
    /// stock than the standards.
    pub ratio_relative_u: f64,
}

/// What the slopes show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MatrixEffect {
    /// They differ, and it is not shown that the difference stays within the bound.
    Differs,
    /// The difference is shown to stay within the bound, whether or not there is one.
    WithinBound,
    /// Neither is shown: too few electrodes, or too much spread.
    CannotTell,
}

/// The external calibration's signal at level zero: standard addition takes such a signal for analyte.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BackgroundTest {
    /// Intercept of the external calibration.
    pub signal_a: f64,
    /// Its standard error.
    pub standard_error_a: f64,
    /// Two-sided probability of such an intercept if the true one were zero.
    pub p: f64,
    /// What such a signal would add to the result of the standard addition, in level units.
    pub shift: f64,
}

/// Slope in the sample against slope of the external calibration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MatrixComparison {
    /// Slope in the sample.
    pub sample_slope_a_per_level: f64,
    /// Slope of the external calibration.
    pub external_slope_a_per_level: f64,
    /// Slope in the sample over that of the external calibration.
    pub ratio: f64,
    /// Interval of the ratio at coverage `1 − alpha`.
    pub ratio_interval: [f64; 2],
    /// Interval of the ratio at coverage `1 − 2 alpha`, which decides on equivalence.
    pub equivalence_interval: [f64; 2],
    /// Difference of the slopes over its standard error.
    pub t: f64,
    /// Degrees of freedom after Welch, on electrodes.
    pub degrees_of_freedom: f64,
    /// Two-sided probability of such a difference if there were none.
    pub p: f64,
    /// Smallest relative difference that these data rule out with confidence `1 − alpha`.
    pub ruled_out: f64,
    /// What was demanded.
    pub demands: MatrixDemands,
    /// What is shown.
    pub effect: MatrixEffect,
    /// What the external calibration would have read for the sample's own signal.
    pub external_reading: f64,
    /// The signal at level zero.
    pub background: BackgroundTest,
}

/// Compares the slope in the sample with that of an external calibration.
///
/// `t = (k − k_ext)/√(u² + u_ext²)` with Welch's degrees of freedom from those of both slopes, which rest on electrodes, not on
/// scans; the intervals of `k/k_ext` are Fieller's with the same degrees of freedom, so the interval holds 1 exactly
/// where the test finds no difference. Equivalence is two one-sided tests at `alpha`: shown where the interval
/// at coverage `1 − 2 alpha` lies within `1 ± bound`. A difference that is not found is not equivalence.
///
/// # Units
/// Both slopes in A per level unit, levels and additions in the same unit, at the same temperature.
///
/// # Errors
/// [`AdditionError::SettingNotUsable`] for a bound or level that is none; [`AdditionError::ExternalNotALine`];
/// [`AdditionError::Unbounded`] where the external slope cannot be told from zero at these degrees of freedom.
///
/// # Source
/// Welch 1947, Biometrika 34, 28 (degrees of freedom); Schuirmann 1987, J. Pharmacokinet. Biopharm. 15, 657 (two
/// one-sided tests); Fieller 1954. A bound of 10 % is common practice, no source.
///
/// # Example
/// ```
/// use stillwell_calibrate::{Acceptance, AdditionScan, AdditionSettings, AdditionWeights, CalibrationSettings, MatrixDemands,
///     MatrixEffect, Model, StandardSignal, Weights, calibrate, matrix_comparison, standard_addition};
/// let noise = [0.10, -0.12, 0.05, -0.08, 0.11, -0.04, 0.07];
/// let standards: Vec<StandardSignal> = noise.iter().enumerate().map(|(i, e)| StandardSignal {
///     level: 10.0 * i as f64, signal_a: 20.0 * i as f64 + e, electrode: format!("strip {i}"), label: format!("scan {i}"),
///     scan_number: None, excluded: None,
/// }).collect();
/// let external = calibrate(&standards, &CalibrationSettings { model: Model::Line, weights: Weights::None, coverage: 0.95,
///     max_excluded_fraction: 0.1, acceptance: Acceptance::default() })?;
/// let scans: Vec<AdditionScan> = noise.iter().enumerate().map(|(i, e)| AdditionScan {
///     added: 5.0 * i as f64, sample_fraction: 1.0, signal_a: 1.5 * (20.0 + 5.0 * i as f64) + e, electrode: format!("fresh {i}"),
///     label: format!("addition {i}"), excluded: None,
/// }).collect();
/// let sample = standard_addition(&scans, &AdditionSettings { weights: AdditionWeights::None, coverage: 0.95,
///     max_excluded_fraction: 0.1 })?;
/// let matrix = matrix_comparison(&sample, &external, MatrixDemands { bound: 0.10, alpha: 0.05, ratio_relative_u: 0.0 })?;
/// assert_eq!(matrix.effect, MatrixEffect::Differs);
/// assert!((matrix.ratio - 0.75).abs() < 0.01 && (sample.value - 20.0).abs() < 0.3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn matrix_comparison(
    sample: &AdditionEstimate,
    external: &Calibration,
    demands: MatrixDemands,
) -> Result<MatrixComparison, AdditionError> {
    check(demands)?;
    if external.settings.model != Model::Line {
        return Err(AdditionError::ExternalNotALine { model: external.settings.model });
    }
    let [intercept, external_slope, _] = external.statistics.coefficients;
    let [intercept_error, external_error, _] = external.statistics.standard_errors;
    let external_df = external.statistics.degrees_of_freedom as f64;
    let (slope, error) = (sample.slope_a_per_level, sample.slope_standard_error_a);
    let own_df = sample.degrees_of_freedom as f64;
    let further = demands.ratio_relative_u * slope;
    let numerator_variance = error * error + further * further;
    let degrees_of_freedom = welch([(error, own_df), (external_error, external_df)], further);
    let t = (slope - external_slope) / libm::sqrt(numerator_variance + external_error * external_error);
    let p = 2.0 * student_t_sf(t.abs(), degrees_of_freedom);
    let ratio = Ratio {
        numerator: slope,
        denominator: external_slope,
        numerator_variance,
        denominator_variance: external_error * external_error,
        covariance: 0.0,
    };
    let interval_at = |coverage: f64| {
        let t_needed = student_t_quantile(0.5 + 0.5 * coverage, degrees_of_freedom);
        ratio.interval(t_needed).ok_or(AdditionError::Unbounded {
            slope_a_per_level: external_slope,
            t: external_slope / external_error,
            t_needed,
        })
    };
    let ratio_interval = interval_at(1.0 - demands.alpha)?;
    let equivalence_interval = interval_at(1.0 - 2.0 * demands.alpha)?;
    let [low, high] = equivalence_interval;
    let ruled_out = (1.0 - low).max(high - 1.0);
    Ok(MatrixComparison {
        sample_slope_a_per_level: slope,
        external_slope_a_per_level: external_slope,
        ratio: ratio.value(),
        ratio_interval,
        equivalence_interval,
        t,
        degrees_of_freedom,
        p,
        ruled_out,
        demands,
        effect: if ruled_out <= demands.bound {
            MatrixEffect::WithinBound
        } else if p < demands.alpha {
            MatrixEffect::Differs
        } else {
            MatrixEffect::CannotTell
        },
        external_reading: (sample.sample_signal_a - intercept) / external_slope,
        background: BackgroundTest {
            signal_a: intercept,
            standard_error_a: intercept_error,
            p: 2.0 * student_t_sf((intercept / intercept_error).abs(), external_df),
            shift: intercept / slope,
        },
    })
}

fn check(demands: MatrixDemands) -> Result<(), AdditionError> {
    let refused =
        |setting, found, accepted| Err(AdditionError::SettingNotUsable { setting, found, accepted });
    if !(demands.bound > 0.0 && demands.bound < 1.0) {
        return refused(
            "the bound of equivalence",
            demands.bound,
            "a fraction above 0 and below 1, usually 0.1",
        );
    }
    if !(demands.alpha > 0.0 && demands.alpha <= 0.25) {
        return refused("alpha", demands.alpha, "a probability above 0, at most 0.25, usually 0.05");
    }
    if !(demands.ratio_relative_u >= 0.0 && demands.ratio_relative_u < 1.0) {
        return refused(
            "the further uncertainty of the ratio",
            demands.ratio_relative_u,
            "a fraction of 0 or more",
        );
    }
    Ok(())
}

/// Degrees of freedom of a difference of two independent estimates, with a further standard uncertainty that has infinitely many.
fn welch(errors: [(f64, f64); 2], further: f64) -> f64 {
    let whole = errors.iter().fold(further * further, |sum, (error, _)| sum + error * error);
    1.0 / errors
        .iter()
        .map(|(error, df)| {
            let share = error * error / whole;
            share * share / df
        })
        .sum::<f64>()
}

//! The walk from standards to a calibration: means, weights, fit, refusals, statistics, findings.

use crate::acceptance;
use crate::back_calculation::{LevelCheck, StandardPoint, level_checks, standard_points};
use crate::check::{Finding, Outcome, Role};
use crate::curve_tests::{self, CurveTests};
use crate::electrode::{ElectrodeComponents, ElectrodeTable, ExcludedStandard};
use crate::error::CalibrateError;
use crate::standard::{CalibrationSettings, Model, StandardSignal};
use crate::weights::{ResolvedWeights, VarianceFunction};
use stillwell_evaluate::{Curve, StandardSpread, exact_mean};
use stillwell_stats::distributions::{f_quantile, student_t_quantile};
use stillwell_stats::{Fit, polynomial_least_squares};

/// A calibration: the kernel's constants and everything that tells whether to believe them.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// The frozen constants that a device repeats.
    pub curve: Curve,
    /// How it was asked for.
    pub settings: CalibrationSettings,
    /// Figures of the fit.
    pub statistics: Statistics,
    /// Spread between electrodes and between scans.
    pub components: ElectrodeComponents,
    /// The variance function behind the weights, where there is one.
    pub variance_function: Option<VarianceFunction>,
    /// Every electrode mean with its residual, leverage and level read back.
    pub points: Vec<StandardPoint>,
    /// Every level read back from the mean of its electrodes.
    pub levels: Vec<LevelCheck>,
    /// What was left out.
    pub excluded: Vec<ExcludedStandard>,
    /// Tests of the curve, as far as the data allow.
    pub tests: CurveTests,
    /// Acceptance criteria and cautions, in a fixed order.
    pub findings: Vec<Finding>,
}

impl Calibration {
    /// Whether every acceptance criterion passed, and there was at least one.
    ///
    /// A criterion that the data could not test counts as not passed. Cautions do not count, but must be shown.
    pub fn is_accepted(&self) -> bool {
        self.findings
            .iter()
            .filter(|finding| finding.role == Role::Acceptance)
            .all(|finding| finding.outcome == Outcome::Passed)
    }

    /// How electrodes scatter, with the spread about the curve where no level has two of them.
    pub fn standard_spread(&self) -> StandardSpread {
        let components = &self.components;
        StandardSpread {
            scans_per_electrode: components.scans_per_electrode,
            scan_variance_a2: components.scan_variance_a2,
            electrode_variance_a2: if components.electrode_degrees_of_freedom > 0 {
                components.electrode_mean_variance_a2
            } else {
                self.curve.residual_sd * self.curve.residual_sd
            },
        }
    }

    /// How many times the calibration's variance that of `electrodes` electrodes of one sample may be before they are said to
    /// disagree; 0 for a single one, which agrees with itself.
    ///
    /// # Source
    /// F test at 1 %: common practice, no source.
    pub fn disagreement_limit(&self, electrodes: u32) -> f64 {
        if electrodes < 2 {
            return 0.0;
        }
        let of_means = self.components.electrode_degrees_of_freedom;
        let df = if of_means > 0 { of_means } else { self.statistics.degrees_of_freedom };
        f_quantile(1.0 - DISAGREEMENT_ALPHA, f64::from(electrodes) - 1.0, df as f64)
    }
}

/// Significance at which the sample's electrodes are said to disagree: common practice, no source.
const DISAGREEMENT_ALPHA: f64 = 0.01;

/// Figures of the fit, on electrode means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statistics {
    /// `c0, c1, c2` of `signal = c0 + c1 x + c2 x²`; zero where the model has none.
    pub coefficients: [f64; 3],
    /// Their standard errors.
    pub standard_errors: [f64; 3],
    /// Scans taken in.
    pub n_scans: usize,
    /// Electrode means fitted.
    pub n_points: usize,
    /// Different levels.
    pub n_levels: usize,
    /// Residual standard deviation of an electrode mean at unit weight.
    pub residual_sd_a: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Coefficient of determination. Never enough by itself: it is near 1 for bent and for noisy curves alike.
    pub r_squared: f64,
    /// Weighted mean of the levels.
    pub mean_level: f64,
    /// Weighted mean of the electrode means.
    pub mean_signal_a: f64,
    /// `Σ w (level − mean level)²`.
    pub level_sum_of_squares: f64,
    /// Slope of the curve at the mean level.
    pub sensitivity_a_per_level: f64,
    /// Process standard deviation `s / |sensitivity|`, in level units (ISO 8466-1 and -2: `s_x0`).
    pub process_sd: f64,
    /// Process standard deviation in % of the mean level (ISO 8466-1: `V_x0`).
    pub process_sd_percent: f64,
}

/// Fits the curve to the electrode means of the standards and judges it.
///
/// Scans of one electrode at one level are averaged first and count once, since they share that electrode. The fit is
/// weighted least squares of the means on their levels; the spread `s` that intervals rest on is that of electrode means.
///
/// # Units
/// Levels in any one unit, signals in A; results in the same.
///
/// # Errors
/// A [`CalibrateError`] for unusable numbers, fewer than 3 levels (quadratic: 4), no degree of freedom, one level only,
/// too many exclusions or one without a reason, weights without a value at level zero, too little data for a variance
/// function, a quadratic that turns back, a slope that cannot be told from zero, signals without scatter.
///
/// # Source
/// ISO 8466-1:1990 (line), ISO 8466-2:2001 (quadratic), Draper & Smith, Applied Regression Analysis (weights, lack of fit).
/// Fitting electrode means rather than scans: the unit that repeats is the electrode; see the coverage test.
///
/// # Example
/// ```
/// use stillwell_calibrate::{Acceptance, CalibrationSettings, Model, StandardSignal, Weights, calibrate};
/// let standards: Vec<StandardSignal> = [(0.0, 2.1), (2.0, 5.0), (4.0, 9.0), (6.0, 12.6), (8.0, 17.3), (10.0, 21.0), (12.0, 24.7)]
///     .iter()
///     .enumerate()
///     .map(|(i, &(level, signal_a))| StandardSignal {
///         level, signal_a, electrode: format!("strip {i}"), label: format!("scan {i}"), scan_number: None, excluded: None,
///     })
///     .collect();
/// let settings = CalibrationSettings {
///     model: Model::Line, weights: Weights::None, coverage: 0.95, max_excluded_fraction: 0.1,
///     acceptance: Acceptance { linearity_alpha: Some(0.01), ..Acceptance::default() },
/// };
/// let calibration = calibrate(&standards, &settings)?;
/// assert!((calibration.statistics.coefficients[1] - 1.9304).abs() < 5e-5);
/// assert!(calibration.is_accepted());
/// # Ok::<(), stillwell_calibrate::CalibrateError>(())
/// ```
pub fn calibrate(
    standards: &[StandardSignal],
    settings: &CalibrationSettings,
) -> Result<Calibration, CalibrateError> {
    acceptance::check_settings(settings)?;
    let table = ElectrodeTable::from_standards(standards, settings)?;
    check_levels(&table, settings.model)?;
    let weights = ResolvedWeights::resolve(&settings.weights, &table)?;
    let levels: Vec<f64> = table.means.iter().map(|m| m.level).collect();
    let signals: Vec<f64> = table.means.iter().map(|m| m.mean_signal_a).collect();
    let exponents = settings.model.exponents();
    let fit = polynomial_least_squares(&levels, &signals, exponents, Some(&weights.of_means))?;
    let curve = curve_of(&fit, &weights, settings, &levels);
    refuse_out_of_range(&curve, settings.model)?;
    refuse_without_scatter(&fit, &signals)?;
    refuse_turning(&curve)?;
    refuse_flat(&curve)?;
    let components = ElectrodeComponents::from_table(&table, &weights.of_means);
    let tests = CurveTests {
        lack_of_fit: curve_tests::lack_of_fit(&table, &weights.of_means, &fit),
        linearity: curve_tests::linearity(&levels, &signals, &weights.of_means, settings.model, &fit),
        spread_at_range_ends: curve_tests::spread_at_range_ends(&table, &weights.of_means),
        spread_across_levels: curve_tests::spread_across_levels(&table, &weights.of_means),
        scan_trend_within: curve_tests::scan_trend_within(&table, &weights.of_means),
        scan_trend_between: curve_tests::scan_trend_between(&table, &weights.of_means, exponents),
    };
    let mut calibration = Calibration {
        curve,
        settings: settings.clone(),
        statistics: statistics(&curve, &fit, &weights, &table, settings.model),
        components,
        variance_function: weights.function,
        points: standard_points(&table, &fit, &weights.of_means, &curve),
        levels: level_checks(&table, &curve),
        excluded: table.excluded.clone(),
        tests,
        findings: Vec::new(),
    };
    calibration.findings = acceptance::findings(&calibration);
    Ok(calibration)
}

fn check_levels(table: &ElectrodeTable, model: Model) -> Result<(), CalibrateError> {
    let (found, needed) = (table.n_levels(), model.levels_needed());
    match table.means.first() {
        Some(only) if found == 1 => Err(CalibrateError::OneLevelOnly { level: only.level, needed }),
        _ if found < needed => Err(CalibrateError::TooFewLevels { found, needed, model }),
        _ => Ok(()),
    }
}

/// Spreads the fitted coefficients over the kernel's three places.
fn curve_of(fit: &Fit, weights: &ResolvedWeights, settings: &CalibrationSettings, levels: &[f64]) -> Curve {
    let places = settings.model.exponents();
    let mut coefficients = [0.0; 3];
    let mut unscaled_covariance = [[0.0; 3]; 3];
    for (&row, (coefficient, covariances)) in
        places.iter().zip(fit.coefficients.iter().zip(&fit.unscaled_covariance))
    {
        coefficients[row as usize] = *coefficient;
        for (&column, covariance) in places.iter().zip(covariances) {
            unscaled_covariance[row as usize][column as usize] = *covariance;
        }
    }
    let degrees_of_freedom = u32::try_from(fit.degrees_of_freedom).unwrap_or(u32::MAX);
    Curve {
        coefficients,
        n_coefficients: if places.len() == 1 {
            1
        } else if places.len() == 2 {
            2
        } else {
            3
        },
        unscaled_covariance,
        residual_sd: fit.residual_sd,
        degrees_of_freedom,
        t_quantile: student_t_quantile(0.5 + 0.5 * settings.coverage, f64::from(degrees_of_freedom)),
        relative_variance: weights.relative_variance,
        level_min: levels.first().copied().unwrap_or(0.0),
        level_max: levels.last().copied().unwrap_or(0.0),
    }
}

/// A variance that vanished in rounding would claim a coefficient without uncertainty.
fn refuse_out_of_range(curve: &Curve, model: Model) -> Result<(), CalibrateError> {
    let has_variance = |place: &u32| {
        let at = *place as usize;
        curve.unscaled_covariance[at][at] >= f64::MIN_POSITIVE
    };
    if curve.is_usable() && model.exponents().iter().all(has_variance) {
        Ok(())
    } else {
        Err(CalibrateError::OutOfRange)
    }
}

/// Below this the residuals are the rounding of the signals themselves.
const SMALLEST_RELATIVE_SCATTER: f64 = 1e-12;

fn refuse_without_scatter(fit: &Fit, signals: &[f64]) -> Result<(), CalibrateError> {
    let largest_signal_a = signals.iter().fold(0.0_f64, |largest, s| largest.max(s.abs()));
    if fit.residual_sd > SMALLEST_RELATIVE_SCATTER * largest_signal_a {
        Ok(())
    } else {
        Err(CalibrateError::NoScatter { residual_sd_a: fit.residual_sd, largest_signal_a })
    }
}

fn refuse_turning(curve: &Curve) -> Result<(), CalibrateError> {
    let [_, c1, c2] = curve.coefficients;
    let (at_min, at_max) = (curve.slope_at(curve.level_min), curve.slope_at(curve.level_max));
    if c2 == 0.0 || at_min * at_max > 0.0 {
        return Ok(());
    }
    Err(CalibrateError::NotMonotonic {
        turning_level: -0.5 * c1 / c2,
        level_min: curve.level_min,
        level_max: curve.level_max,
    })
}

/// The slope at the lowest standard must differ from zero at the coverage asked for (for lines there is only one slope).
fn refuse_flat(curve: &Curve) -> Result<(), CalibrateError> {
    let x = curve.level_min;
    let c = &curve.unscaled_covariance;
    let slope = curve.slope_at(x);
    let unscaled = c[1][1] + 4.0 * x * (c[1][2] + x * c[2][2]);
    let t = slope.abs() / (curve.residual_sd * libm::sqrt(unscaled));
    if t > curve.t_quantile {
        return Ok(());
    }
    Err(CalibrateError::SlopeNotSignificant { slope_a_per_level: slope, t, t_needed: curve.t_quantile })
}

fn statistics(
    curve: &Curve,
    fit: &Fit,
    weights: &ResolvedWeights,
    table: &ElectrodeTable,
    model: Model,
) -> Statistics {
    let weighted: Vec<(f64, f64, f64)> = table
        .means
        .iter()
        .zip(&weights.of_means)
        .map(|(mean, weight)| (*weight, mean.level, mean.mean_signal_a))
        .collect();
    // The weights sum to their number, so that a weighted mean is the mean of the products.
    let mean_level = exact_mean(&weighted.iter().map(|(w, x, _)| w * x).collect::<Vec<_>>());
    let mean_signal_a = exact_mean(&weighted.iter().map(|(w, _, y)| w * y).collect::<Vec<_>>());
    let sensitivity_a_per_level = curve.slope_at(mean_level);
    let process_sd = fit.residual_sd / sensitivity_a_per_level.abs();
    let mut standard_errors = [0.0; 3];
    for (&place, error) in model.exponents().iter().zip(&fit.standard_errors) {
        standard_errors[place as usize] = *error;
    }
    Statistics {
        coefficients: curve.coefficients,
        standard_errors,
        n_scans: table.means.iter().map(|m| m.scans.len()).sum(),
        n_points: table.means.len(),
        n_levels: table.n_levels(),
        residual_sd_a: fit.residual_sd,
        degrees_of_freedom: fit.degrees_of_freedom,
        r_squared: fit.r_squared,
        mean_level,
        mean_signal_a,
        level_sum_of_squares: weighted.iter().map(|(w, x, _)| w * (x - mean_level) * (x - mean_level)).sum(),
        sensitivity_a_per_level,
        process_sd,
        process_sd_percent: 100.0 * process_sd / mean_level,
    }
}

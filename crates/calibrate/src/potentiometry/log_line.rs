//! The straight line of potential against log activity, and the way back from a potential.

use super::{
    IntervalEstimate, IonReading, PotentiometryError, require_coverage, require_different_activities,
    require_scatter, require_usable, two_sided_t,
};
use stillwell_evaluate::{Curve, Inverse, inverse};
use stillwell_stats::polynomial_least_squares;

/// `E = E° + S log₁₀ a` of one electrode.
#[derive(Debug, Clone, PartialEq)]
pub struct LogLine {
    /// `E°`: the potential at an activity of 1 mol/L, extrapolated, V.
    pub standard_potential_v: IntervalEstimate,
    /// `S`, V a decade.
    pub slope_v_per_decade: IntervalEstimate,
    /// Standard deviation of a potential about the line, V.
    pub residual_sd_v: f64,
    /// Readings minus two.
    pub degrees_of_freedom: usize,
    /// Two-sided coverage of all its intervals.
    pub coverage: f64,
    /// Lowest activity of the line, mol/L.
    pub activity_min: f64,
    /// Highest activity of the line, mol/L.
    pub activity_max: f64,
    /// The line as the kernel inverts it; its levels are log₁₀ of activity.
    curve: Curve,
}

/// Different activities that a line needs: two fix it, the third shows its scatter.
const ACTIVITIES_NEEDED: usize = 3;

/// Fits the line by least squares, each reading counting once.
///
/// Use it for the straight part only: [`super::low_level_bend`] takes the bend at low levels in.
///
/// # Units
/// Activities in mol/L, potentials in V.
///
/// # Errors
/// [`PotentiometryError`] for unusable readings, fewer than three activities, a slope that is not significant, or potentials
/// without scatter.
///
/// # Source
/// IUPAC 1994 (Pure Appl. Chem. 66, 2527), calibration curve; least squares with normal errors of the potential.
///
/// # Example
/// ```
/// use stillwell_calibrate::{IonReading, log_line};
/// let readings: Vec<IonReading> = [(1e-4, 0.3315), (1e-3, 0.2740), (1e-2, 0.2163), (1e-1, 0.1589)].iter()
///     .map(|&(activity, potential_v)| IonReading { label: format!("{activity} mol/L"), activity, interferents: vec![], potential_v })
///     .collect();
/// let line = log_line(&readings, 0.95)?;
/// assert!((line.slope_v_per_decade.value + 0.05755).abs() < 1e-9);
/// # Ok::<(), stillwell_calibrate::PotentiometryError>(())
/// ```
pub fn log_line(readings: &[IonReading], coverage: f64) -> Result<LogLine, PotentiometryError> {
    require_coverage(coverage)?;
    require_usable(readings, 0)?;
    require_different_activities(readings, ACTIVITIES_NEEDED)?;
    let logs: Vec<f64> = readings.iter().map(|r| libm::log10(r.activity)).collect();
    let potentials: Vec<f64> = readings.iter().map(|r| r.potential_v).collect();
    let fit = polynomial_least_squares(&logs, &potentials, &[0, 1], None)?;
    require_scatter(fit.residual_sd)?;
    let t_quantile = two_sided_t(coverage, fit.degrees_of_freedom as f64);
    let [standard_potential_v, slope_v_per_decade] =
        [0, 1].map(|i| IntervalEstimate::of(fit.coefficients[i], fit.standard_errors[i], t_quantile));
    let t = (slope_v_per_decade.value / slope_v_per_decade.standard_error).abs();
    if t.is_nan() || t <= t_quantile {
        let slope_v_per_decade = slope_v_per_decade.value;
        return Err(PotentiometryError::SlopeNotSignificant { slope_v_per_decade, t, t_needed: t_quantile });
    }
    let c = &fit.unscaled_covariance;
    let level_min = logs.iter().copied().fold(f64::INFINITY, f64::min);
    let level_max = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Ok(LogLine {
        standard_potential_v,
        slope_v_per_decade,
        residual_sd_v: fit.residual_sd,
        degrees_of_freedom: fit.degrees_of_freedom,
        coverage,
        activity_min: libm::pow(10.0, level_min),
        activity_max: libm::pow(10.0, level_max),
        curve: Curve {
            coefficients: [fit.coefficients[0], fit.coefficients[1], 0.0],
            n_coefficients: 2,
            unscaled_covariance: [[c[0][0], c[0][1], 0.0], [c[1][0], c[1][1], 0.0], [0.0; 3]],
            residual_sd: fit.residual_sd,
            degrees_of_freedom: u32::try_from(fit.degrees_of_freedom).unwrap_or(u32::MAX),
            t_quantile,
            relative_variance: [1.0, 0.0, 0.0],
            level_min,
            level_max,
        },
    })
}

/// What a potential says about the activity, mol/L.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum IonActivity {
    /// Between the lowest and the highest standard.
    Within {
        /// The estimate.
        value: f64,
        /// Lower end of the interval.
        low: f64,
        /// Upper end of the interval.
        high: f64,
    },
    /// Below the lowest standard, where the line may bend: only the upper end is stated.
    Below {
        /// At most this; not below the lowest standard.
        high: f64,
    },
    /// Above the highest standard.
    Above {
        /// At least this; not above the highest standard.
        low: f64,
    },
}

impl LogLine {
    /// The activity that belongs to the mean of `n_readings` potentials of the same electrode, each settled anew.
    ///
    /// The interval is Fieller's on the logarithm, hence unequal-sided on the activity.
    ///
    /// # Units
    /// `potential_v` in V; activities in mol/L.
    ///
    /// # Errors
    /// [`PotentiometryError::Unresolved`] when the line cannot bound the activity, or for no reading.
    ///
    /// # Source
    /// Fieller 1954, J. R. Stat. Soc. B 16, 175.
    ///
    /// # Example
    /// See [`log_line`]; a potential of 0.2451 V there belongs to about 3.2e-3 mol/L.
    pub fn activity(&self, potential_v: f64, n_readings: u32) -> Result<IonActivity, PotentiometryError> {
        let plain = |log: f64| libm::pow(10.0, log);
        match inverse(&self.curve, potential_v, n_readings, 0.0) {
            Inverse::Within { value, low, high } => {
                Ok(IonActivity::Within { value: plain(value), low: plain(low), high: plain(high) })
            }
            Inverse::Below { high, .. } => {
                Ok(IonActivity::Below { high: plain(high).max(self.activity_min) })
            }
            Inverse::Above { low } => Ok(IonActivity::Above { low: plain(low) }),
            Inverse::Unresolved(fault) => Err(PotentiometryError::Unresolved { potential_v, fault }),
        }
    }

    /// Where the line, extrapolated, meets the mean of `n_readings` potentials: log₁₀ of activity with its interval.
    pub(super) fn extrapolated_log(
        &self,
        potential_v: f64,
        n_readings: u32,
    ) -> Result<[f64; 3], PotentiometryError> {
        match inverse(&self.curve, potential_v, n_readings, 0.0) {
            Inverse::Within { value, low, high } | Inverse::Below { value, low, high } => {
                Ok([value, low, high])
            }
            Inverse::Above { low } => {
                let line_from = self.activity_min;
                Err(PotentiometryError::NoBend { limit: libm::pow(10.0, low), line_from })
            }
            Inverse::Unresolved(fault) => Err(PotentiometryError::Unresolved { potential_v, fault }),
        }
    }
}

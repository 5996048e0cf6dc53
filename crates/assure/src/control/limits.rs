//! Limits of a chart of single values: from a stated training period, about a stated centre, or about zero.

use stillwell_stats::censored::{Observation, Shape, order_regression};
use stillwell_stats::distributions::student_t_quantile;

use super::constants::c4;
use crate::QualityError;
use crate::quality_error::{must_be_finite, must_have, must_lie_between};

/// Fewest points of a training period.
///
/// Common practice, no source; below it the limits are so wide that little is found.
pub const FEWEST_TRAINING_POINTS: usize = 8;

/// From this many points on, limits are hardly wider than those of a known spread: common practice, no source.
pub const GOOD_TRAINING_POINTS: usize = 20;

/// Plotting constant of Blom for normal scores.
const BLOM: f64 = 0.375;

/// Probability that a sound point of known spread lies beyond 2 σ on either side.
const RISK_OF_TWO_SIGMA: f64 = 0.045500263896358;

/// Probability that a sound point of known spread lies beyond 3 σ on either side.
pub const RISK_OF_THREE_SIGMA: f64 = 0.002699796063260;

/// What the spread of the training period is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpreadFrom {
    /// The standard deviation of its points: all that goes up and down from run to run.
    StandardDeviation,
    /// The mean difference of neighbouring points: a slow rise within the training period does not widen the limits.
    MovingRange,
}

/// How far out the limits lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LimitBasis {
    /// 2 σ and 3 σ with σ as estimated: as printed in the standard. With few training points more sound points lie beyond.
    ThreeSigma,
    /// As far out as needed for this risk that a sound point lies beyond the action limits, whatever the number of
    /// training points.
    KeepRisk(f64),
}

/// The limits of a chart of single values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChartLimits {
    /// Centre line.
    pub centre: f64,
    /// Estimated or stated standard deviation of a single point.
    pub sigma: f64,
    /// Half of the distance between the warning limits.
    pub warning_half_width: f64,
    /// Half of the distance between the action limits.
    pub action_half_width: f64,
    /// Numbers of the training period; none where the limits were stated.
    pub n_training: Option<usize>,
    /// Bounds such as "less than" of the training period, beside its numbers.
    pub n_training_bounds: usize,
    /// How well `sigma` is known; infinite where it was stated.
    pub degrees_of_freedom: f64,
    /// Variance of the centre over the variance of a point: 1/n, 0 where the centre is known.
    pub centre_variance: f64,
}

impl ChartLimits {
    /// Limits about a stated centre: warning at 2 σ, action at 3 σ.
    ///
    /// # Units
    /// Those of the charted quantity.
    ///
    /// # Errors
    /// [`QualityError::Unusable`] for a σ that is not above zero or a centre that is no number.
    ///
    /// # Source
    /// ISO 7870-2:2013, charts with prespecified values.
    pub fn stated(centre: f64, sigma: f64) -> Result<Self, QualityError> {
        must_be_finite("the centre line", &[centre])?;
        must_lie_between("the standard deviation", sigma, (0.0, f64::INFINITY), "a number above zero")?;
        Ok(Self {
            centre,
            sigma,
            warning_half_width: 2.0 * sigma,
            action_half_width: 3.0 * sigma,
            n_training: None,
            n_training_bounds: 0,
            degrees_of_freedom: f64::INFINITY,
            centre_variance: 0.0,
        })
    }

    /// Limits from the points of a training period.
    ///
    /// # Units
    /// Those of the charted quantity.
    ///
    /// # Errors
    /// [`QualityError::TooFew`] below [`FEWEST_TRAINING_POINTS`], [`QualityError::NotFinite`], [`QualityError::NoSpread`],
    /// [`QualityError::Unusable`] for a risk outside 1e-6 to 0.1.
    ///
    /// # Source
    /// [`LimitBasis::ThreeSigma`]: ISO 7870-2:2013, individuals (σ = mean moving range / 1.128, or s/c₄).
    /// [`LimitBasis::KeepRisk`]: prediction interval of one further value, `t(1 − risk/2; ν) s √(1 + 1/n)` (Hahn & Meeker 1991,
    /// 4.7); for moving ranges s and ν by matching the first two moments of the mean range to a scaled χ (after Patnaik 1950).
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::control::{ChartLimits, LimitBasis, SpreadFrom};
    /// let training = [99.2, 101.0, 100.4, 98.8, 100.9, 99.6, 100.2, 99.9, 100.8, 99.1];
    /// let limits = ChartLimits::from_training(&training, SpreadFrom::StandardDeviation, LimitBasis::KeepRisk(0.0027))?;
    /// assert!(limits.action()[0] < 96.6 && limits.action()[1] > 103.3);
    /// # Ok::<(), stillwell_assure::QualityError>(())
    /// ```
    pub fn from_training(
        training: &[f64],
        spread: SpreadFrom,
        basis: LimitBasis,
    ) -> Result<Self, QualityError> {
        must_have("points of the training period", training.len(), FEWEST_TRAINING_POINTS)?;
        must_be_finite("the training period", training)?;
        let n = training.len() as f64;
        let (sd, degrees_of_freedom) = match spread {
            SpreadFrom::StandardDeviation => (stillwell_stats::standard_deviation(training)?, n - 1.0),
            SpreadFrom::MovingRange => spread_from_moving_ranges(training)?,
        };
        let centre = stillwell_stats::mean(training)?;
        Self::about(Spread { centre, sd, degrees_of_freedom, n_training: training.len() }, 1.0 / n, basis)
    }

    /// Limits from a training period of which some points are only known as "less than" something. Those count as what they are,
    /// never as zero or a half: centre and spread come from a line through the normal scores of the numbers.
    ///
    /// The limits lie as far out as those of the numbers alone would: what a bound says of the spread is not counted as a
    /// degree of freedom.
    ///
    /// # Units
    /// Those of the charted quantity.
    ///
    /// # Errors
    /// As [`Self::from_training`] for the numbers; [`QualityError::MostlyBounds`] where more points are bounds than numbers, and what
    /// the regression refuses, such as a "more than".
    ///
    /// # Source
    /// [`order_regression`], normal shape, plotting constant of Blom; prediction interval as [`Self::from_training`]. That half of the
    /// points must be numbers: common practice, no source; the rate of false alarms is measured in this room's tests.
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::control::{ChartLimits, LimitBasis};
    /// use stillwell_stats::censored::Observation::{Below, Found};
    /// let numbers = [0.42, 0.55, 0.38, 0.61, 0.47, 0.35, 0.52, 0.44].map(Found);
    /// let mut training = numbers.to_vec();
    /// training.extend([Below(0.3); 3]);
    /// let limits = ChartLimits::from_censored_training(&training, LimitBasis::KeepRisk(0.0027))?;
    /// assert!(limits.centre > 0.3 && limits.centre < 0.44);
    /// training.extend([Below(0.3); 6]);
    /// assert!(ChartLimits::from_censored_training(&training, LimitBasis::KeepRisk(0.0027)).is_err());
    /// # Ok::<(), stillwell_assure::QualityError>(())
    /// ```
    pub fn from_censored_training(training: &[Observation], basis: LimitBasis) -> Result<Self, QualityError> {
        let n = training.iter().filter(|point| matches!(point, Observation::Found(_))).count();
        let n_bounds = training.len() - n;
        must_have("numbers of the training period", n, FEWEST_TRAINING_POINTS)?;
        if n_bounds > n {
            return Err(QualityError::MostlyBounds {
                what: "the training period",
                found: n,
                bounds: n_bounds,
            });
        }
        let line = order_regression(training, Shape::Normal, BLOM)?;
        let spread = Spread {
            centre: line.line_mean,
            sd: line.line_sd,
            degrees_of_freedom: n as f64 - 1.0,
            n_training: n,
        };
        let limits = Self::about(spread, 1.0 / n as f64, basis)?;
        Ok(Self { n_training_bounds: n_bounds, ..limits })
    }

    /// Limits about zero from differences whose mean is known to be zero: those of duplicates.
    ///
    /// # Units
    /// Those of the differences.
    ///
    /// # Errors
    /// As [`Self::from_training`].
    ///
    /// # Source
    /// As [`Self::from_training`], with `s = √(Σ d²/n)` and n degrees of freedom, for the centre costs none.
    pub fn about_zero(differences: &[f64], basis: LimitBasis) -> Result<Self, QualityError> {
        must_have("pairs of the training period", differences.len(), FEWEST_TRAINING_POINTS)?;
        must_be_finite("the training period", differences)?;
        let n = differences.len() as f64;
        let sd = libm::sqrt(differences.iter().map(|d| d * d).sum::<f64>() / n);
        let spread = Spread { centre: 0.0, sd, degrees_of_freedom: n, n_training: differences.len() };
        Self::about(spread, 0.0, basis)
    }

    fn about(spread: Spread, centre_variance: f64, basis: LimitBasis) -> Result<Self, QualityError> {
        let Spread { centre, sd, degrees_of_freedom, n_training } = spread;
        // Rounding of equal values is no spread.
        if sd <= 1e-12 * centre.abs() {
            return Err(QualityError::NoSpread { what: "the points of the training period" });
        }
        // s/c4 has the mean σ; the t quantile wants s itself.
        let sigma = sd / c4(degrees_of_freedom + 1.0);
        let (warning_half_width, action_half_width) = match basis {
            LimitBasis::ThreeSigma => (2.0 * sigma, 3.0 * sigma),
            LimitBasis::KeepRisk(risk) => {
                must_lie_between("the risk", risk, (1e-6, 0.1), "a number from 1e-6 to 0.1")?;
                let half = |risk: f64| {
                    student_t_quantile(1.0 - 0.5 * risk, degrees_of_freedom)
                        * sd
                        * libm::sqrt(1.0 + centre_variance)
                };
                (half(f64::max(RISK_OF_TWO_SIGMA, risk)), half(risk))
            }
        };
        Ok(Self {
            centre,
            sigma,
            warning_half_width,
            action_half_width,
            n_training: Some(n_training),
            n_training_bounds: 0,
            degrees_of_freedom,
            centre_variance,
        })
    }

    /// Lower and upper warning limit.
    pub fn warning(&self) -> [f64; 2] {
        [self.centre - self.warning_half_width, self.centre + self.warning_half_width]
    }

    /// Lower and upper action limit.
    pub fn action(&self) -> [f64; 2] {
        [self.centre - self.action_half_width, self.centre + self.action_half_width]
    }
}

#[derive(Clone, Copy)]
struct Spread {
    centre: f64,
    sd: f64,
    degrees_of_freedom: f64,
    n_training: usize,
}

/// Standard deviation and its degrees of freedom from the mean moving range of two.
///
/// The relative variance of the mean of n − 1 overlapping ranges is `(0.8265 n − 1.0822)/(n − 1)²`: π/2 − 1 for each range and
/// twice 0.1278 for each pair of neighbours, from the moments of two normal differences with correlation −1/2.
fn spread_from_moving_ranges(values: &[f64]) -> Result<(f64, f64), QualityError> {
    const OF_RANGE: f64 = core::f64::consts::FRAC_PI_2 - 1.0;
    const OF_NEIGHBOURS: f64 = 0.127_824_791_6;
    let ranges: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    let mean = stillwell_stats::mean(&ranges)?;
    let n = ranges.len() as f64;
    let relative_variance = (n * OF_RANGE + 2.0 * (n - 1.0) * OF_NEIGHBOURS) / (n * n);
    let degrees_of_freedom = 0.5 / relative_variance;
    // c4 of those degrees of freedom turns the unbiased estimate into the s that the t quantile belongs to.
    Ok((mean * 0.5 * libm::sqrt(core::f64::consts::PI) * c4(degrees_of_freedom + 1.0), degrees_of_freedom))
}

//! Regression on order statistics: a line through the normal scores of what was found fills in what was not.

use crate::censored::{Observation, Shape};
use crate::distributions::normal_quantile;
use crate::error::{StatsError, require_in_range};
use crate::least_squares::polynomial_least_squares;
use crate::robust::equal_runs;
use crate::spread::{mean, standard_deviation};

/// Mean and spread by regression on order statistics.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderRegression {
    /// Mean of the fitted normal distribution: the line at score 0, on the scale of [`Shape`] (logarithms if log-normal).
    pub line_mean: f64,
    /// Its standard deviation: the slope of the line, on the same scale.
    pub line_sd: f64,
    /// Mean of found and filled-in values, on the scale of the observations.
    pub mean: f64,
    /// Standard deviation of found and filled-in values, on the scale of the observations.
    pub sd: f64,
    /// Share of the scores' spread that the line explains: far below 1 means that the shape is wrong.
    pub r_squared: f64,
    /// Values filled in for those below limits, rising with their limits. They stand for the group; none belongs to one
    /// sample.
    pub filled: Vec<f64>,
}

/// Mean and spread of values of which some lie below limits (one or several).
///
/// # Units
/// Observations in one unit; `plotting_constant` between 0 (Weibull) and 0.5, usually 0.375 (Blom).
///
/// # Errors
/// [`StatsError::TooFewValues`] below three found values, [`StatsError::NotFinite`], [`StatsError::NotPositive`],
/// [`StatsError::CensoredAbove`], [`StatsError::SettingOutside`] for the constant, [`StatsError::NoVariation`].
///
/// # Source
/// Hirsch & Stedinger 1987, Water Resour. Res. 23, 715 (plotting positions); Helsel & Cohn 1988, Water Resour. Res. 24,
/// 1997 (robust form: the mean of found and filled-in values).
///
/// # Example
/// ```
/// use stillwell_stats::censored::{Observation::{Below, Found}, Shape, order_regression};
/// let values = [Below(2.0), Below(5.0), Found(3.3), Found(5.3), Found(7.7), Found(8.4), Found(12.1)];
/// let found = order_regression(&values, Shape::LogNormal, 0.375)?;
/// assert!(found.mean > 5.5 && found.mean < 6.5 && found.filled.len() == 2);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn order_regression(
    observations: &[Observation],
    shape: Shape,
    plotting_constant: f64,
) -> Result<OrderRegression, StatsError> {
    if !(0.0..=0.5).contains(&plotting_constant) {
        return Err(StatsError::SettingOutside {
            what: "the plotting constant",
            value: plotting_constant,
            least: 0.0,
            most: 0.5,
        });
    }
    Observation::require_none_above(observations, "regression on order statistics")?;
    let scaled = Observation::on_scale(observations, shape)?;
    let mut found = Observation::found(&scaled);
    if found.len() < 3 {
        return Err(StatsError::TooFewValues { what: "the values found", found: found.len(), needed: 3 });
    }
    found.sort_by(f64::total_cmp);
    if found.first() == found.last() {
        return Err(StatsError::NoVariation {
            what: "the values found",
            statistic: "regression on order statistics",
        });
    }
    let mut limits: Vec<f64> =
        scaled.iter().filter(|o| matches!(o, Observation::Below(_))).map(Observation::number).collect();
    limits.sort_by(f64::total_cmp);
    let positions = Positions::new(&found, &limits, plotting_constant);
    let scores: Vec<f64> = positions.of_found.iter().map(|p| normal_quantile(*p)).collect();
    let line = polynomial_least_squares(&scores, &found, &[0, 1], None)?;
    let (line_mean, line_sd) = (line.coefficients[0], line.coefficients[1]);
    let filled: Vec<f64> =
        positions.of_limits.iter().map(|p| shape.back(line_mean + line_sd * normal_quantile(*p))).collect();
    require_in_range("a filled-in value", &filled)?;
    let all: Vec<f64> = filled.iter().copied().chain(found.iter().map(|v| shape.back(*v))).collect();
    Ok(OrderRegression {
        line_mean,
        line_sd,
        mean: mean(&all)?,
        sd: standard_deviation(&all)?,
        r_squared: line.r_squared,
        filled,
    })
}

/// Probabilities of being at or below, for the sorted found values and the sorted limits.
struct Positions {
    of_found: Vec<f64>,
    of_limits: Vec<f64>,
}

impl Positions {
    fn new(found: &[f64], limits: &[f64], constant: f64) -> Self {
        let at = |rank: usize, n: usize| (rank as f64 - constant) / (n as f64 + 1.0 - 2.0 * constant);
        let groups = equal_runs(limits);
        let mut of_found = vec![0.0; found.len()];
        let mut of_limits = vec![0.0; limits.len()];
        // From the highest limit down: the share above each limit, found value by found value between two limits.
        let (mut above_next, mut end_found, mut end_limits) = (0.0, found.len(), limits.len());
        for group in groups.iter().rev() {
            let first_found = found.partition_point(|v| *v < group[0]);
            let n_between = end_found - first_found;
            let n_below = first_found + end_limits;
            let above = above_next + n_between as f64 / (n_between + n_below) as f64 * (1.0 - above_next);
            for rank in 1..=n_between {
                of_found[first_found + rank - 1] = (1.0 - above) + (above - above_next) * at(rank, n_between);
            }
            let first_limit = end_limits - group.len();
            for rank in 1..=group.len() {
                of_limits[first_limit + rank - 1] = (1.0 - above) * at(rank, group.len());
            }
            (above_next, end_found, end_limits) = (above, first_found, first_limit);
        }
        for rank in 1..=end_found {
            of_found[rank - 1] = (1.0 - above_next) * at(rank, end_found);
        }
        Self { of_found, of_limits }
    }
}

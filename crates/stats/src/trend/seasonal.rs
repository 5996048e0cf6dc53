//! The seasonal Kendall test: each season is compared with itself only.

use crate::distributions::chi_squared_sf;
use crate::error::{StatsError, require_in_range, require_probability};
use crate::robust::{median, middle};
use crate::trend::kendall::{continuity_corrected, require_series, score, two_sided, variance};
use crate::trend::theil_sen::{SlopeEstimate, interval, sorted_slopes};

/// As in the plain slope.
const MOST_VALUES: usize = 5000;

/// What the seasonal test found.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonalTrend {
    /// Sum of the seasons' S.
    pub score: i64,
    /// Sum of their variances.
    pub variance: f64,
    /// `(S − sign S)/√variance`.
    pub z: f64,
    /// Two-sided, by the normal approximation with continuity correction.
    pub p_value: f64,
    /// Mean of the seasons' tau-a.
    pub mean_tau: f64,
    /// `Σ Z² − m Z̄²` over the m seasons that vary: large when the seasons' trends differ.
    pub seasons_chi_squared: f64,
    /// Probability of seasons as unlike as these if all had the same trend; small: report the seasons one by one.
    pub p_seasons_alike: f64,
    /// Seasons that had at least two values at different times.
    pub n_seasons: usize,
}

/// The values of one season, split from the rest.
struct Season {
    times: Vec<f64>,
    values: Vec<f64>,
}

/// Seasonal Kendall test; seasons with fewer than two values say nothing and are left out.
///
/// # Units
/// `times` (years, say) and `values`: one a row, any unit; `seasons`: a number for each row's season. Leave gaps out.
///
/// # Errors
/// [`StatsError::TooFewValues`] below three rows, [`StatsError::TooManyValues`] above 5000,
/// [`StatsError::LengthMismatch`], [`StatsError::NotFinite`], [`StatsError::NoVariation`] when no season varies.
///
/// # Source
/// Hirsch, Slack & Smith 1982, Water Resour. Res. 18, 107; homogeneity van Belle & Hughes 1984, Water Resour. Res. 20,
/// 127; USEPA 2009, Unified Guidance, 14.3.4.
///
/// # Example
/// ```
/// let years = [2001.0, 2001.0, 2002.0, 2002.0, 2003.0, 2003.0];
/// let values = [5.0, 20.0, 6.0, 22.0, 8.0, 23.0];
/// let trend = stillwell_stats::trend::seasonal_kendall(&years, &values, &[1, 2, 1, 2, 1, 2])?;
/// assert_eq!((trend.score, trend.n_seasons), (6, 2));
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn seasonal_kendall(times: &[f64], values: &[f64], seasons: &[u32]) -> Result<SeasonalTrend, StatsError> {
    let split = split(times, values, seasons)?;
    let (mut total, mut spread, mut taus) = (0, 0.0, 0.0);
    let mut scores: Vec<f64> = Vec::new();
    for season in &split {
        let (own, variance) = (score(&season.times, &season.values), variance(&season.times, &season.values));
        let n = season.values.len() as f64;
        total += own;
        spread += variance;
        taus += own as f64 / (0.5 * n * (n - 1.0));
        if variance > 0.0 {
            scores.push(own as f64 / libm::sqrt(variance));
        }
    }
    if spread <= 0.0 {
        return Err(StatsError::NoVariation { what: "every season", statistic: "the seasonal Kendall test" });
    }
    let z = continuity_corrected(total as f64, spread);
    let (seasons_chi_squared, p_seasons_alike) = seasons_alike(&scores);
    Ok(SeasonalTrend {
        score: total,
        variance: spread,
        z,
        p_value: two_sided(z),
        mean_tau: taus / split.len() as f64,
        seasons_chi_squared,
        p_seasons_alike,
        n_seasons: split.len(),
    })
}

/// Median of the slopes within seasons, with its interval.
///
/// # Units
/// As [`seasonal_kendall`]; slope in value per time. `coverage` in (0, 1).
///
/// # Errors
/// As [`seasonal_kendall`]; [`StatsError::NotAProbability`].
///
/// # Source
/// Hirsch, Slack & Smith 1982; interval Gilbert 1987, 17.4.4; intercept: median over the seasons of
/// `median(values) − season's slope · median(times)`.
///
/// # Example
/// ```
/// let years = [2001.0, 2001.0, 2002.0, 2002.0, 2003.0, 2003.0];
/// let values = [5.0, 20.0, 6.0, 22.0, 8.0, 23.0];
/// let line = stillwell_stats::trend::seasonal_slope(&years, &values, &[1, 2, 1, 2, 1, 2], 0.9)?;
/// assert_eq!(line.slope, 1.5);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn seasonal_slope(
    times: &[f64],
    values: &[f64],
    seasons: &[u32],
    coverage: f64,
) -> Result<SlopeEstimate, StatsError> {
    let split = split(times, values, seasons)?;
    require_probability("the coverage", coverage)?;
    let slices: Vec<(&[f64], &[f64])> =
        split.iter().map(|s| (s.times.as_slice(), s.values.as_slice())).collect();
    let slopes = sorted_slopes(&slices)?;
    let spread: f64 = split.iter().map(|s| variance(&s.times, &s.values)).sum();
    let (low, high) = interval(&slopes, spread, coverage);
    let mut intercepts = Vec::with_capacity(split.len());
    for slice in &slices {
        if let Ok(own) = sorted_slopes(&[*slice]) {
            intercepts.push(median(slice.1)? - middle(&own) * median(slice.0)?);
        }
    }
    require_in_range("an intercept", &intercepts)?;
    Ok(SlopeEstimate {
        slope: middle(&slopes),
        intercept: median(&intercepts)?,
        low,
        high,
        n_pairs: slopes.len(),
    })
}

/// `Σ Z² − m Z̄²` and its probability by chi-squared with `m − 1`; 0 and 1 for a single season.
fn seasons_alike(scores: &[f64]) -> (f64, f64) {
    let m = scores.len() as f64;
    if scores.len() < 2 {
        return (0.0, 1.0);
    }
    let mean = scores.iter().sum::<f64>() / m;
    let statistic: f64 = scores.iter().map(|z| (z - mean) * (z - mean)).sum();
    (statistic, chi_squared_sf(statistic, m - 1.0))
}

/// Seasons in ascending order of their numbers, rows in the order handed in.
fn split(times: &[f64], values: &[f64], seasons: &[u32]) -> Result<Vec<Season>, StatsError> {
    require_series(times, values, 3, MOST_VALUES)?;
    if seasons.len() != values.len() {
        return Err(StatsError::LengthMismatch {
            what: "the seasons",
            found: seasons.len(),
            expected: values.len(),
        });
    }
    let mut numbers = seasons.to_vec();
    numbers.sort_unstable();
    numbers.dedup();
    let of = |number: u32| {
        let rows = seasons.iter().enumerate().filter(|(_, season)| **season == number).map(|(row, _)| row);
        let (times, values) = rows.map(|row| (times[row], values[row])).unzip();
        Season { times, values }
    };
    Ok(numbers.into_iter().map(of).filter(|season| season.values.len() > 1).collect())
}

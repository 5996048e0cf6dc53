//! Intervals of sums and differences of mean squares that hold for few degrees of freedom.

use crate::components::MeanSquareTerm;
use crate::distributions::{chi_squared_quantile, f_quantile};
use crate::error::{StatsError, require_in_range, require_probability};

/// Ends of a variance; square roots of them are the ends of a standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VarianceInterval {
    /// Lower end, not below zero.
    pub low: f64,
    /// Upper end, not below zero.
    pub high: f64,
}

/// Interval of `Σ c S²` from independent mean squares, some of them possibly subtracted.
///
/// Exact for a single mean square; close for sums and differences whatever the degrees of freedom.
///
/// # Units
/// Mean squares in squared units of the values; `coverage` in (0, 1), the two tails alike.
///
/// # Errors
/// [`StatsError::TooFewValues`] for no term, [`StatsError::Negative`] for a mean square below zero,
/// [`StatsError::SettingNotPositive`] for degrees of freedom not above zero, [`StatsError::NotAProbability`],
/// [`StatsError::NotFinite`], [`StatsError::OutOfRange`].
///
/// # Source
/// Sums: Graybill & Wang 1980, J. Am. Stat. Assoc. 75, 869; differences: Ting, Burdick, Graybill, Jeyaratnam & Lu 1990, J. Stat.
/// Comput. Simul. 35, 135; both in Burdick & Graybill 1992, Confidence Intervals on Variance Components, ch. 3.
///
/// # Example
/// ```
/// use stillwell_stats::components::{MeanSquareTerm, modified_large_sample};
/// let term = |factor, mean_square, degrees_of_freedom| MeanSquareTerm { factor, mean_square, degrees_of_freedom };
/// let between = modified_large_sample(&[term(0.5, 6.0, 5.0), term(-0.5, 1.0, 6.0)], 0.95)?;
/// assert!(between.low < 2.5 && between.high > 2.5);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn modified_large_sample(
    terms: &[MeanSquareTerm],
    coverage: f64,
) -> Result<VarianceInterval, StatsError> {
    require_terms(terms, coverage)?;
    let tail = 0.5 * (1.0 - coverage);
    // In units of the largest part, so that squares stay in range.
    let unit = terms.iter().map(|t| (t.factor * t.mean_square).abs()).fold(0.0, f64::max);
    if unit <= 0.0 {
        return Ok(VarianceInterval { low: 0.0, high: 0.0 });
    }
    require_in_range("a mean square", &[unit])?;
    let part = |sign: f64| -> Vec<Part> {
        let chosen = terms.iter().filter(|t| t.factor * sign > 0.0);
        chosen.map(|t| Part::new(t.factor.abs() * t.mean_square / unit, t.degrees_of_freedom, tail)).collect()
    };
    let (added, subtracted) = (part(1.0), part(-1.0));
    let estimate: f64 =
        added.iter().map(|p| p.size).sum::<f64>() - subtracted.iter().map(|p| p.size).sum::<f64>();
    let below = distance_below(&added, &subtracted, tail);
    let above = distance_above(&added, &subtracted, tail);
    let end = |v: f64| f64::max(0.0, v) * unit;
    let interval = VarianceInterval { low: end(estimate - below), high: end(estimate + above) };
    require_in_range("an end of the interval", &[interval.low, interval.high])?;
    Ok(interval)
}

fn require_terms(terms: &[MeanSquareTerm], coverage: f64) -> Result<(), StatsError> {
    if terms.is_empty() {
        return Err(StatsError::TooFewValues { what: "the list of mean squares", found: 0, needed: 1 });
    }
    require_probability("the coverage", coverage)?;
    for (row, term) in terms.iter().enumerate() {
        for value in [term.factor, term.mean_square, term.degrees_of_freedom] {
            if !value.is_finite() {
                return Err(StatsError::NotFinite { what: "the mean square's term", row, value });
            }
        }
        if term.mean_square < 0.0 {
            return Err(StatsError::Negative { what: "the mean square", row, value: term.mean_square });
        }
        if term.degrees_of_freedom <= 0.0 {
            let value = term.degrees_of_freedom;
            return Err(StatsError::SettingNotPositive { what: "a mean square's degrees of freedom", value });
        }
    }
    Ok(())
}

/// One mean square times its factor, with its own distances to either end.
struct Part {
    size: f64,
    df: f64,
    /// G: `1 − 1/F` at the upper tail with infinitely many degrees of freedom below.
    to_low: f64,
    /// H: `1/F − 1` at the lower tail.
    to_high: f64,
}

impl Part {
    fn new(size: f64, df: f64, tail: f64) -> Self {
        Self { size, df, to_low: to_low(df, tail), to_high: df / chi_squared_quantile(tail, df) - 1.0 }
    }
}

fn to_low(df: f64, tail: f64) -> f64 {
    1.0 - df / chi_squared_quantile(1.0 - tail, df)
}

fn distance_below(added: &[Part], subtracted: &[Part], tail: f64) -> f64 {
    let mut square: f64 = added.iter().map(|p| (p.to_low * p.size) * (p.to_low * p.size)).sum();
    square += subtracted.iter().map(|p| (p.to_high * p.size) * (p.to_high * p.size)).sum::<f64>();
    for up in added {
        for down in subtracted {
            let f = f_quantile(1.0 - tail, up.df, down.df);
            let own = up.to_low * f;
            let both = ((f - 1.0) * (f - 1.0) - own * own - down.to_high * down.to_high) / f;
            square += both * up.size * down.size;
        }
    }
    if !subtracted.is_empty() {
        square += of_pairs(added, tail);
    }
    libm::sqrt(f64::max(0.0, square))
}

fn distance_above(added: &[Part], subtracted: &[Part], tail: f64) -> f64 {
    let mut square: f64 = added.iter().map(|p| (p.to_high * p.size) * (p.to_high * p.size)).sum();
    square += subtracted.iter().map(|p| (p.to_low * p.size) * (p.to_low * p.size)).sum::<f64>();
    for up in added {
        for down in subtracted {
            let f = f_quantile(tail, up.df, down.df);
            let own = up.to_high * f;
            let both = ((1.0 - f) * (1.0 - f) - own * own - down.to_low * down.to_low) / f;
            square += both * up.size * down.size;
        }
    }
    square += of_pairs(subtracted, tail);
    libm::sqrt(f64::max(0.0, square))
}

/// What two mean squares on the same side of a difference add to its square distance.
fn of_pairs(parts: &[Part], tail: f64) -> f64 {
    if parts.len() < 2 {
        return 0.0;
    }
    let mut sum = 0.0;
    for (at, a) in parts.iter().enumerate() {
        for b in &parts[at + 1..] {
            let df = a.df + b.df;
            let together = to_low(df, tail);
            let own = a.to_low * a.to_low * a.df / b.df + b.to_low * b.to_low * b.df / a.df;
            sum += (together * together * df * df / (a.df * b.df) - own) * a.size * b.size;
        }
    }
    sum / (parts.len() - 1) as f64
}

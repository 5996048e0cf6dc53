//! Repeatability and reproducibility at one level.

use crate::error::{StatsError, require_in_range};
use crate::spread::{analysis_of_variance, mean};

/// `z √2` with the unrounded z = 1.959964: two results differ by more than this many standard deviations in 5 % of all cases. ISO 5725-6 rounds it to 2.8.
pub const LIMIT_FACTOR: f64 = 2.771807648699356;

/// Precision of a measurement method at one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precision {
    /// General mean of all results.
    pub mean: f64,
    /// `s_r`: scatter of one laboratory's results.
    pub repeatability_sd: f64,
    /// `s_L`: scatter between laboratories; 0 when they differ less than their results would have it.
    pub between_sd: f64,
    /// `s_R`: scatter of single results of different laboratories.
    pub reproducibility_sd: f64,
    /// Laboratories.
    pub n_laboratories: usize,
    /// Degrees of freedom of the repeatability.
    pub repeatability_df: usize,
    /// The number of results that unequal cells are worth.
    pub effective_results: f64,
}

impl Precision {
    /// r: two results of one laboratory differ by more in 5 % of all cases.
    ///
    /// # Source
    /// ISO 5725-6:1994, 4.1.4, with the unrounded [`LIMIT_FACTOR`].
    pub fn repeatability_limit(&self) -> f64 {
        LIMIT_FACTOR * self.repeatability_sd
    }

    /// R: single results of two laboratories differ by more in 5 % of all cases.
    ///
    /// # Source
    /// ISO 5725-6:1994, 4.1.4, with the unrounded [`LIMIT_FACTOR`].
    pub fn reproducibility_limit(&self) -> f64 {
        LIMIT_FACTOR * self.reproducibility_sd
    }
}

/// Repeatability and reproducibility from `laboratories[laboratory] = results`.
///
/// # Units
/// Results in any unit; cells may be unequal.
///
/// # Errors
/// [`StatsError::TooFewValues`] below two laboratories, for an empty cell or no replicate anywhere,
/// [`StatsError::NotFinite`].
///
/// # Source
/// ISO 5725-2:1994, 7.4 (with its rule that a negative between-laboratory variance is zero).
///
/// # Example
/// ```
/// let sulfur_percent = [
///     vec![0.71, 0.71, 0.70, 0.71], vec![0.69, 0.67, 0.68], vec![0.66, 0.65, 0.69], vec![0.67, 0.65, 0.66],
///     vec![0.70, 0.69, 0.66, 0.71, 0.69], vec![0.73, 0.74, 0.73], vec![0.71, 0.71, 0.69], vec![0.70, 0.65, 0.68],
/// ];
/// let found = stillwell_stats::interlaboratory::precision(&sulfur_percent)?;
/// assert!((found.repeatability_sd - 0.015).abs() < 5e-4 && (found.reproducibility_sd - 0.026).abs() < 5e-4);
/// # Ok::<(), stillwell_stats::StatsError>(())
/// ```
pub fn precision<G: AsRef<[f64]>>(laboratories: &[G]) -> Result<Precision, StatsError> {
    let anova = analysis_of_variance(laboratories)?;
    let all: Vec<f64> = laboratories.iter().flat_map(|g| g.as_ref().iter().copied()).collect();
    let between = f64::max(0.0, anova.between_variance);
    require_in_range("a variance", &[anova.within_variance, anova.between_variance])?;
    Ok(Precision {
        mean: mean(&all)?,
        repeatability_sd: libm::sqrt(anova.within_variance),
        between_sd: libm::sqrt(between),
        reproducibility_sd: libm::sqrt(anova.within_variance + between),
        n_laboratories: laboratories.len(),
        repeatability_df: anova.df_within,
        effective_results: anova.effective_replicates,
    })
}

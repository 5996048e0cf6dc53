//! One-point adjustment of a lot's sensitivity: what it is, what it costs in uncertainty, and when it is not allowed.

use stillwell_stats::distributions::{f_sf, student_t_quantile};

use super::equivalence::{LotVerdict, PartVerdict};
use super::strip::{LotStrip, Ratios};
use super::wording;
use crate::QualityError;
use crate::quality_error::must_lie_between;

/// When an adjustment is allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnePointRule {
    /// Fewest strips: common practice, no source.
    pub fewest_strips: usize,
    /// Largest adjustment, in % of the sensitivity. A lot farther away is another kind of strip: common practice, no source.
    pub largest_percent: f64,
    /// The level must lie at or above this share of the top of the calibrated range, lest the zero's doubt turns the line: common
    /// practice, no source.
    pub lowest_level_share: f64,
    /// Significance of the tests that forbid it.
    pub significance: f64,
}

impl Default for OnePointRule {
    fn default() -> Self {
        Self { fewest_strips: 4, largest_percent: 20.0, lowest_level_share: 0.4, significance: 0.05 }
    }
}

/// How strips of the approved lot scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ApprovedScatter {
    /// Relative standard deviation of one strip.
    pub relative_sd: f64,
    /// How well it is known.
    pub degrees_of_freedom: f64,
}

/// Why an adjustment is not allowed.
#[derive(Debug, Clone, PartialEq)]
pub enum AdjustmentRefused {
    /// The lot is equivalent as it is.
    NotNeeded,
    /// Too few strips at the level of the adjustment.
    TooFewStrips {
        /// Strips found.
        found: usize,
        /// Strips needed.
        needed: usize,
    },
    /// The level lies too low in the range.
    LevelTooLow {
        /// The level.
        level: f64,
        /// The lowest that may be used.
        lowest: f64,
    },
    /// The sensitivity differs by more than may be adjusted.
    TooFar {
        /// Difference, in %.
        difference_percent: f64,
        /// Largest adjustment, in %.
        largest_percent: f64,
    },
    /// The zero does not read zero: one factor cannot mend that.
    ZeroDiffers {
        /// Mean reading of the zeros.
        found: f64,
        /// The margin.
        margin: f64,
    },
    /// No zero was measured, so it is not known whether one factor is enough.
    ZeroNotShown,
    /// Strips at another level want another factor.
    LevelsDisagree {
        /// That level.
        level: f64,
        /// Its ratio after the adjustment.
        ratio: f64,
        /// What it may be off by chance.
        allowed: f64,
    },
    /// The strips of this lot scatter more than those of the approved one.
    ScattersMore {
        /// Relative standard deviation of this lot's strips.
        found: f64,
        /// That of the approved lot.
        approved: f64,
        /// Probability of as large a ratio by chance.
        p_value: f64,
    },
}

impl AdjustmentRefused {
    /// Why, and what to do, in a sentence.
    pub fn words(&self, unit: &str) -> String {
        wording::refused(self, unit)
    }
}

/// An adjustment of the sensitivity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnePointAdjustment {
    /// Sensitivity of the lot over that of the approved calibration: readings are divided by it.
    pub ratio: f64,
    /// Relative standard uncertainty that dividing by it adds to every result: the strips' scatter over √n and the level's own.
    pub relative_u: f64,
    /// How well it is known.
    pub degrees_of_freedom: f64,
    /// The level at which it was found.
    pub level: f64,
    /// Strips behind it.
    pub n: usize,
}

impl OnePointAdjustment {
    /// A reading of the approved calibration, adjusted, with its standard uncertainty.
    ///
    /// # Units
    /// Both in one unit.
    ///
    /// # Source
    /// JCGM 100:2008, 5.1.6 (a quotient of independent quantities).
    ///
    /// # Example
    /// ```
    /// use stillwell_assure::lots::OnePointAdjustment;
    /// let adjustment = OnePointAdjustment { ratio: 0.92, relative_u: 0.015, degrees_of_freedom: 5.0, level: 50.0, n: 6 };
    /// let (value, u) = adjustment.adjusted(46.0, 0.92);
    /// assert!((value - 50.0).abs() < 1e-12 && (u - 1.25).abs() < 1e-12);
    /// ```
    pub fn adjusted(&self, reading: f64, standard_u: f64) -> (f64, f64) {
        let value = reading / self.ratio;
        let own = standard_u / self.ratio;
        let added = value * self.relative_u;
        (value, libm::sqrt(own * own + added * added))
    }

    /// The adjustment and its cost in words, for a result whose relative standard uncertainty was `before`.
    pub fn words(&self, before: f64, unit: &str) -> String {
        wording::adjusted(self, before, unit)
    }
}

/// The adjustment from the strips at `level`, or why it is not allowed. Every reason is given, not only the first.
///
/// # Units
/// Levels and readings in one unit; `range_top` is the highest level of the approved calibration.
///
/// # Errors
/// [`QualityError`] for numbers that cannot be used.
///
/// # Source
/// Quotient and its uncertainty: JCGM 100:2008, 5.1.6. Scatter: F test. Other levels: t test. Conditions: [`OnePointRule`].
pub fn one_point_adjustment(
    verdict: &LotVerdict,
    strips: &[LotStrip],
    (level, level_relative_u): (f64, f64),
    (range_top, approved): (f64, ApprovedScatter),
    rule: OnePointRule,
) -> Result<Result<OnePointAdjustment, Vec<AdjustmentRefused>>, QualityError> {
    must_lie_between("the level of the adjustment", level, (0.0, f64::INFINITY), "a level above zero")?;
    must_lie_between("the top of the range", range_top, (0.0, f64::INFINITY), "a level above zero")?;
    must_lie_between("the level's uncertainty", level_relative_u, (-1e-300, 0.5), "0 to below 0.5")?;
    must_lie_between("the approved scatter", approved.relative_sd, (0.0, 1.0), "above 0 to below 1")?;
    let at_level: Vec<LotStrip> = strips.iter().filter(|strip| is_at(strip.level, level)).cloned().collect();
    if at_level.len() < rule.fewest_strips.max(2) {
        let (found, needed) = (at_level.len(), rule.fewest_strips.max(2));
        return Ok(Err(vec![AdjustmentRefused::TooFewStrips { found, needed }]));
    }
    let ratios = Ratios::of(&at_level)?;
    let mut refused = of_verdict(verdict);
    let lowest = rule.lowest_level_share * range_top;
    if level < lowest {
        refused.push(AdjustmentRefused::LevelTooLow { level, lowest });
    }
    let difference_percent = 100.0 * (ratios.mean - 1.0);
    if difference_percent.abs() > rule.largest_percent {
        let largest_percent = rule.largest_percent;
        refused.push(AdjustmentRefused::TooFar { difference_percent, largest_percent });
    }
    let relative_sd = ratios.sd / ratios.mean;
    let n = ratios.n as f64;
    let scatter = relative_sd / approved.relative_sd;
    let p_value = f_sf(scatter * scatter, n - 1.0, f64::min(approved.degrees_of_freedom, 1e6));
    if p_value < rule.significance {
        let (found, approved) = (relative_sd, approved.relative_sd);
        refused.push(AdjustmentRefused::ScattersMore { found, approved, p_value });
    }
    refused.extend(levels_that_disagree(strips, level, &ratios, rule.significance)?);
    if !refused.is_empty() {
        return Ok(Err(refused));
    }
    let scattered = relative_sd * relative_sd / n;
    let variance = scattered + level_relative_u * level_relative_u;
    Ok(Ok(OnePointAdjustment {
        ratio: ratios.mean,
        relative_u: libm::sqrt(variance),
        degrees_of_freedom: variance * variance / (scattered * scattered) * (n - 1.0),
        level,
        n: ratios.n,
    }))
}

fn is_at(level: f64, wanted: f64) -> bool {
    (level - wanted).abs() <= 1e-9 * wanted
}

fn of_verdict(verdict: &LotVerdict) -> Vec<AdjustmentRefused> {
    let mut refused = Vec::new();
    if verdict.verdict == PartVerdict::Equivalent {
        refused.push(AdjustmentRefused::NotNeeded);
    }
    match verdict.zero {
        Some(zero) if zero.verdict != PartVerdict::Equivalent => {
            refused.push(AdjustmentRefused::ZeroDiffers { found: zero.difference, margin: zero.margin });
        }
        None => refused.push(AdjustmentRefused::ZeroNotShown),
        Some(_) => {}
    }
    refused
}

/// Other levels whose mean ratio, after the adjustment, differs from 1 by more than chance.
fn levels_that_disagree(
    strips: &[LotStrip],
    level: f64,
    ratios: &Ratios,
    significance: f64,
) -> Result<Vec<AdjustmentRefused>, QualityError> {
    let mut others: Vec<f64> = strips
        .iter()
        .map(|strip| strip.level)
        .filter(|other| *other > 0.0 && !is_at(*other, level))
        .collect();
    others.sort_by(f64::total_cmp);
    others.dedup();
    let mut refused = Vec::new();
    for other in &others {
        let there: Vec<f64> = strips
            .iter()
            .filter(|strip| is_at(strip.level, *other))
            .map(|strip| strip.found / other)
            .collect();
        let mean = stillwell_stats::mean(&there)?;
        let ratio = mean / ratios.mean;
        // One spread for both levels: that of the strips at the level of the adjustment.
        let relative_sd = ratios.sd / ratios.mean;
        let n_both = 1.0 / there.len() as f64 + 1.0 / ratios.n as f64;
        let t = student_t_quantile(1.0 - 0.5 * significance / others.len() as f64, ratios.n as f64 - 1.0);
        let allowed = t * relative_sd * libm::sqrt(n_both);
        if (ratio - 1.0).abs() > allowed {
            refused.push(AdjustmentRefused::LevelsDisagree { level: *other, ratio, allowed });
        }
    }
    Ok(refused)
}

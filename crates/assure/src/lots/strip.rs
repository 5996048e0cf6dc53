//! Strips of a lot at known levels, read off the approved calibration.

use crate::QualityError;
use crate::quality_error::{must_be_finite, must_have};

/// One strip of the lot under test. Its scans are averaged before: the strip is what repeats.
#[derive(Debug, Clone, PartialEq)]
pub struct LotStrip {
    /// Identity of the strip.
    pub electrode: String,
    /// Level of the solution it measured; 0 for a zero.
    pub level: f64,
    /// What the approved calibration reads off its signal, not rounded and not cut off at zero.
    pub found: f64,
}

/// What was found over the level, strip by strip, for levels above zero.
#[derive(Debug, Clone, PartialEq)]
pub struct Ratios {
    /// Mean over strips: sensitivity of the lot over that of the approved calibration.
    pub mean: f64,
    /// Standard deviation of one strip.
    pub sd: f64,
    /// Strips.
    pub n: usize,
}

impl Ratios {
    /// Of the strips above zero.
    ///
    /// # Units
    /// Levels and readings in one unit.
    ///
    /// # Errors
    /// [`QualityError::TooFew`] below two strips above zero, [`QualityError::NotFinite`], [`QualityError::NoSpread`] for strips that
    /// all read the very same.
    ///
    /// # Source
    /// Mean of ratios; levels weigh alike, for the scatter of strips is relative to the level: common practice, no source.
    pub fn of(strips: &[LotStrip]) -> Result<Self, QualityError> {
        let values: Vec<f64> =
            strips.iter().filter(|strip| strip.level > 0.0).map(|strip| strip.found / strip.level).collect();
        must_have("strips of the lot at a level above zero", values.len(), 2)?;
        must_be_finite("the readings of the lot's strips", &values)?;
        let sd = stillwell_stats::standard_deviation(&values)?;
        if sd <= 0.0 {
            return Err(QualityError::NoSpread { what: "the readings of the lot's strips" });
        }
        Ok(Self { mean: stillwell_stats::mean(&values)?, sd, n: values.len() })
    }
}

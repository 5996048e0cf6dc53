//! What repeated readings near zero say of the smallest that can be seen.

use crate::QualityError;
use crate::quality_error::must_have;

/// Figures from the spread of readings at one level near zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NearZero {
    /// Standard deviation of one reading.
    pub sd: f64,
    /// Readings.
    pub n: usize,
    /// Limit of detection: 3 s.
    pub detection: f64,
    /// Limit of quantification: 10 s.
    pub quantification: f64,
    /// Lowest detectable change: 3 s.
    pub detectable_change: f64,
}

impl NearZero {
    /// The figures in a sentence.
    pub fn words(&self, unit: &str) -> String {
        super::wording::near_zero(self, unit)
    }
}

/// Limits of detection and quantification of a sensor from readings near zero.
///
/// They are shorthand: no doubt of a short series is in them. For a decision take those of the calibration.
///
/// # Units
/// Those of the readings.
///
/// # Errors
/// [`QualityError::TooFew`] below six readings, and what a standard deviation refuses.
///
/// # Source
/// ISO 15839:2003, clause 5; factors 3 and 10 from memory. Six readings: common practice, no source.
pub fn near_zero(readings: &[f64]) -> Result<NearZero, QualityError> {
    must_have("readings near zero", readings.len(), 6)?;
    let sd = stillwell_stats::standard_deviation(readings)?;
    if sd <= 0.0 {
        return Err(QualityError::NoSpread { what: "the readings near zero" });
    }
    Ok(NearZero {
        sd,
        n: readings.len(),
        detection: 3.0 * sd,
        quantification: 10.0 * sd,
        detectable_change: 3.0 * sd,
    })
}

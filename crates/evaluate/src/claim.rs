//! What may be said of a level: not detected, below quantification, or a number.

/// From what level on electrodes see something, reliably, and well enough for a number.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ClaimLimits {
    /// From here on a level is detected.
    pub decision_limit: f64,
    /// What is reliably detected.
    pub detection_limit: f64,
    /// From here on a level is a number.
    pub quantification_limit: f64,
}

/// What may be said of a level at or below the highest standard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Further below zero than chance allows.
    Negative,
    /// Less than the detection limit.
    NotDetected,
    /// Above the decision limit, yet some scan shows no peak: nothing.
    DetectedWithoutPeak,
    /// Detected; less than this level.
    BelowQuantification(f64),
    /// A number.
    Quantified,
}

impl ClaimLimits {
    /// What may be said of a level. Below the lowest standard no number is extrapolated.
    ///
    /// # Units
    /// All in one unit.
    ///
    /// # Source
    /// Decision, detection and quantification limit: ISO 11843-2 and the standard that the limits come from; the order of the
    /// questions: common practice, no source.
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::{ClaimLimits, Standing};
    /// let claim = ClaimLimits { decision_limit: 1.0, detection_limit: 2.0, quantification_limit: 6.0 };
    /// assert_eq!(claim.standing(3.0, 0.0, false), Standing::BelowQuantification(6.0));
    /// assert_eq!(claim.standing(-2.5, 0.0, false), Standing::Negative);
    /// ```
    pub fn standing(&self, level: f64, level_min: f64, shows_no_peak: bool) -> Standing {
        let quantified_from =
            if self.quantification_limit > level_min { self.quantification_limit } else { level_min };
        if level < -self.detection_limit {
            Standing::Negative
        } else if level < self.decision_limit {
            Standing::NotDetected
        } else if shows_no_peak {
            Standing::DetectedWithoutPeak
        } else if level < quantified_from {
            Standing::BelowQuantification(quantified_from)
        } else {
            Standing::Quantified
        }
    }

    /// The bound of "less than" for the sample: a limit after the dilution, and never inside the interval.
    ///
    /// # Units
    /// All in one unit.
    ///
    /// # Source
    /// Common practice, no source.
    pub fn less_than(limit: f64, dilution: f64, interval_high: f64) -> f64 {
        let diluted = limit * dilution;
        if diluted > interval_high { diluted } else { interval_high }
    }
}

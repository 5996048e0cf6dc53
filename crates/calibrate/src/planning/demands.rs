//! What is asked of a design, and what it may cost.

use super::error::PlanError;

/// What is asked of the design, and what it may cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanDemands {
    /// Expanded relative uncertainty, such as 0.10.
    pub target_relative_u: f64,
    /// At this level.
    pub level: f64,
    /// Two-sided coverage of the interval.
    pub coverage: f64,
    /// Range within which standards may be put.
    pub range: [f64; 2],
    /// Samples that one calibration serves; their strips count.
    pub samples_per_calibration: u32,
    /// Most strips for the standards of one calibration.
    pub most_strips: u32,
    /// Fewest strips for one sample: an electrode alone cannot be held against another.
    pub least_sample_strips: u32,
    /// Most strips for one sample.
    pub most_sample_strips: u32,
    /// Most scans of one strip.
    pub most_scans: u32,
    /// Fewest degrees of freedom between electrodes of one level, all levels together, where weights are to be fitted to them.
    pub least_replicate_df: u32,
    /// Minutes that one strip takes beside its scans.
    pub minutes_per_strip: f64,
    /// Minutes that one scan takes.
    pub minutes_per_scan: f64,
}

/// Larger designs are beyond a bench, and the search tries all below.
const MOST_STRIPS: u32 = 96;
const MOST_OF_A_SAMPLE: u32 = 24;

impl PlanDemands {
    pub(super) fn check(&self) -> Result<(), PlanError> {
        let refused = |what, found, accepted| Err(PlanError::NotUsable { what, found, accepted });
        let [low, high] = self.range;
        if !(self.target_relative_u > 0.0 && self.target_relative_u < 1.0) {
            return refused("the target", self.target_relative_u, "a fraction such as 0.10");
        }
        if !(0.5..=0.9999).contains(&self.coverage) {
            return refused("the coverage", self.coverage, "0.5 to 0.9999, usually 0.95");
        }
        if !(low.is_finite() && high.is_finite() && low >= 0.0 && high > low) {
            return refused("the range of the standards", low, "two levels of 0 or more, the smaller first");
        }
        if !(self.level > 0.0 && self.level >= low && self.level <= high) {
            return refused(
                "the level of the target",
                self.level,
                "a level above 0 within the range of the standards",
            );
        }
        let counts = [
            ("the number of samples a calibration", self.samples_per_calibration, 1, 10_000),
            ("the most strips of standards", self.most_strips, 3, MOST_STRIPS),
            ("the fewest strips of a sample", self.least_sample_strips, 1, self.most_sample_strips),
            ("the most strips of a sample", self.most_sample_strips, 1, MOST_OF_A_SAMPLE),
            ("the most scans of a strip", self.most_scans, 1, MOST_OF_A_SAMPLE),
            ("the degrees of freedom between electrodes", self.least_replicate_df, 0, MOST_STRIPS),
        ];
        for (what, found, least, most) in counts {
            if found < least || found > most {
                return refused(
                    what,
                    f64::from(found),
                    "1 or more (standards 3), and no more than a bench holds",
                );
            }
        }
        let minutes = [self.minutes_per_strip, self.minutes_per_scan];
        match minutes.into_iter().find(|value| !(value.is_finite() && *value >= 0.0)) {
            Some(found) => refused("the minutes of a strip or scan", found, "a number of 0 or more"),
            None => Ok(()),
        }
    }
}

//! Is a value further out than chance would have it? Tests that advise and never remove.
//!
//! [`grubbs_test`] for one suspect, [`grubbs_pair_test`] for two on the same side, [`grubbs_range_test`] for two on
//! opposite sides, [`dixon_test`] for few values, [`extreme_studentized_test`] for an unknown number of suspects.
//! All suppose that the good values are normal. A value is set aside only by a person who knows what went wrong.

mod dixon;
mod dixon_table;
mod extreme_studentized;
mod grubbs;
mod grubbs_pair;

pub use dixon::{DixonSignificance, dixon_critical, dixon_test};
pub use extreme_studentized::{ExtremeStep, ExtremeStudentized, extreme_studentized_test};
pub use grubbs::{Suspect, grubbs_critical, grubbs_range_critical, grubbs_range_test, grubbs_test};
pub use grubbs_pair::{PairSignificance, PairSuspects, grubbs_pair_critical, grubbs_pair_test};

/// What an outlier test found.
#[derive(Debug, Clone, PartialEq)]
pub struct OutlierTest {
    /// Positions of the suspects, counted from 0 as handed in.
    pub suspects: Vec<usize>,
    /// The test's statistic.
    pub statistic: f64,
    /// What it may reach at the chosen significance (for pairs on one side: what it may fall to).
    pub critical: f64,
    /// Whether the statistic lies beyond the critical value: look at what happened, do not delete.
    pub is_beyond: bool,
}

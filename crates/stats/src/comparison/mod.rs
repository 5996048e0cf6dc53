//! Two ways of measuring the same samples: do they agree?
//!
//! [`deming`] fits a line with errors in both, [`limits_of_agreement`] says how far single results differ,
//! [`paired_difference`] and [`signed_rank`] ask whether they differ on average, [`mean_difference`] compares two separate groups.
//! That a difference was not shown is no proof of agreement: for that see [`crate::equivalence`].

mod agreement;
mod deming;
mod difference;
mod signed_rank;

pub use agreement::{AgreementLimit, AgreementLimits, limits_of_agreement};
pub use deming::{DemingErrors, DemingFit, LineInterval, deming};
pub use difference::{MeanDifference, Spreads, mean_difference, paired_difference};
pub use signed_rank::{SignedRank, signed_rank};

pub(crate) use difference::VarianceOfMean;

use crate::error::StatsError;
use crate::least_squares::require_finite;

/// Two lists of finite numbers, one pair a sample.
fn require_pairs(x: &[f64], y: &[f64], needed: usize) -> Result<(), StatsError> {
    if y.len() != x.len() {
        return Err(StatsError::LengthMismatch { what: "y", found: y.len(), expected: x.len() });
    }
    if x.len() < needed {
        return Err(StatsError::TooFewValues { what: "the pairs", found: x.len(), needed });
    }
    for (row, (x, y)) in x.iter().zip(y).enumerate() {
        require_finite("x", row, &[*x])?;
        require_finite("y", row, &[*y])?;
    }
    Ok(())
}

//! Mean and spread of replicate blanks or spikes, refused where the spread is hidden.

use crate::error::LimitError;

pub(crate) struct ReplicateSpread {
    pub(crate) mean: f64,
    pub(crate) standard_deviation: f64,
}

/// Callers have checked that there are at least two values.
pub(crate) fn replicate_spread(values: &[f64], what: &'static str) -> Result<ReplicateSpread, LimitError> {
    if let Some((index, &found)) = values.iter().enumerate().find(|(_, v)| !v.is_finite()) {
        return Err(LimitError::NotFinite { what, index: index + 1, found });
    }
    let mean = stillwell_stats::mean(values).unwrap_or(f64::NAN);
    let standard_deviation = stillwell_stats::standard_deviation(values).unwrap_or(0.0);
    if standard_deviation > 0.0 && standard_deviation.is_finite() {
        Ok(ReplicateSpread { mean, standard_deviation })
    } else {
        Err(LimitError::NoSpread { what })
    }
}

//! Does a series rise or fall, whatever its distribution? Rank tests and robust slopes.
//!
//! [`mann_kendall`] for one series, [`seasonal_kendall`] where months or seasons differ, [`theil_sen`] and
//! [`seasonal_slope`] for how steep. All suppose that values do not follow their neighbours: serial correlation makes their p
//! values too small, so thin a dense series before testing it ([`crate::lag_1_autocorrelation`] shows it).
//! A "< x" may be ranked as one value below every found value only if all limits are the same.

mod kendall;
mod seasonal;
mod theil_sen;

pub use kendall::{KendallTrend, mann_kendall};
pub use seasonal::{SeasonalTrend, seasonal_kendall, seasonal_slope};
pub use theil_sen::{SlopeEstimate, theil_sen};

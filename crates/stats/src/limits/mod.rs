//! Limits drawn around what may come next, or around a percentile of all that could come.
//!
//! [`percentile_limits`] bounds a percentile of normal values, [`order_statistic_lower`] and [`order_statistic_upper`] do so
//! whatever the distribution (values below a limit included), [`prediction_limits`] bounds the next few values.

mod normal_percentile;
mod order_statistic;
mod prediction;

pub use normal_percentile::{PercentileLimits, percentile_limits, tolerance_factor};
pub use order_statistic::{OrderLimit, order_statistic_lower, order_statistic_upper};
pub use prediction::{PredictionLimits, prediction_limits};

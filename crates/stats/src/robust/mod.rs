//! Centre and spread that a few wild values cannot pull away.
//!
//! [`median_and_spread`] for a glance, [`algorithm_a`] for the mean and standard deviation of results of which most are
//! good, [`algorithm_s`] for pooling standard deviations or ranges, [`hodges_lehmann`] for a centre with little loss on
//! normal data. None of them removes a value; the outlier tests stand in [`crate::outliers`].

mod algorithm_a;
mod algorithm_s;
mod median;
mod walsh;

pub use algorithm_a::{ALGORITHM_A_FACTOR, RobustMean, algorithm_a};
pub use algorithm_s::{AlgorithmSFactors, PooledSpread, algorithm_s, algorithm_s_factors};
pub use median::{MAD_FACTOR, MedianSpread, median, median_and_spread};
pub use walsh::hodges_lehmann;

pub(crate) use median::{equal_runs, middle, sorted_finite};

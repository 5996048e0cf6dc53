//! Precision from the same material measured by several laboratories (or operators, days, instruments) a few times each.
//!
//! [`precision`] gives repeatability and reproducibility; [`consistency`] says which laboratories look odd, as advice:
//! nothing is left out by itself. For precision in-house from nested designs see [`crate::components`].

mod consistency;
mod precision;

pub use consistency::{Consistency, Flag, FlaggedStatistic, MandelStatistics, consistency};
pub use precision::{LIMIT_FACTOR, Precision, precision};

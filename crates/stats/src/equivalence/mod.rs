//! Are two means the same for all that matters? Two one-sided tests, and how many values they need.
//!
//! A difference test that finds nothing proves nothing; here the margins within which a difference does not matter are stated
//! first, and equivalence is what must be shown. [`equivalent_mean`] against a fixed value (or of paired differences
//! against 0), [`equivalent_means`] of two groups, [`equivalent_ratio`] for margins in percent,
//! [`equivalence_sample_size`] for how many strips it takes.

mod power;
mod two_one_sided;

pub use power::{EquivalenceDesign, Samples, equivalence_power, equivalence_sample_size};
pub use two_one_sided::{EquivalenceTest, Margins, equivalent_mean, equivalent_means, equivalent_ratio};

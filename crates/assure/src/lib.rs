//! Decisions against limits, and the words in which they are told.
//!
//! In: what a determination found (an interval, a bound, or a refusal) and a named limit. Out: a [`Decision`]: a
//! code, the rule that gave it with its stated risk, the margin, a sentence, cautions and advice.
//!
//! Start at [`decide`] for one limit and [`decide_sum`] for nitrate and nitrite together. The limits are data
//! ([`shipped_limits`], [`shipped_sums`]); users add their own with [`NamedLimit::new`]. Every sentence stands in
//! `wording.rs`.
//!
//! This room never calls water fit to drink, never turns a refused determination into a pass, does no I/O and knows
//! no time of day.

mod conformance;
mod decide;
mod error;
mod estimate;
mod limit;
mod sum_rule;
mod wording;

pub use conformance::{conformance_probability, guard_band_factor};
pub use decide::{Decision, DecisionCode, decide};
pub use error::AssureError;
pub use estimate::Estimate;
pub use limit::{NamedLimit, SumLimit, find_limit, find_sum, shipped_limits, shipped_sums};
pub use sum_rule::decide_sum;
pub use wording::{GENERAL_CAUTIONS, REAGENT_CAUTION, RULE_NAME};

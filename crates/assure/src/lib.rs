//! Numbers that can be defended: uncertainty, decisions against limits, and the words in which they are told.
//!
//! In: what a determination found (an interval, a bound, or a refusal) and a named limit. Out: a [`Decision`]: a
//! code, the rule that gave it with its stated risk, the margin, a sentence, cautions and advice. In: a
//! [`MeasurementModel`] of input quantities. Out: a [`Budget`] that ranks them, and [`MonteCarlo`] beside it.
//!
//! Start at [`decide`] for one limit and [`decide_sum`] for nitrate and nitrite together; at
//! [`MeasurementModel::propagate`] and [`MeasurementModel::monte_carlo`] for a budget; at [`top_down`] for what check
//! standards show; at [`RetestRule`] for measuring again; at [`control`] for charts and what they withhold; at
//! [`lots`] for a new lot of strips; at [`compare`] for an accredited laboratory beside us; at [`validate`] for the validation
//! table; at [`sensor`] for sensors that stay in the water. The limits are data ([`shipped_limits`], [`shipped_sums`]); users
//! add their own with [`NamedLimit::new`]. Every sentence stands in `wording.rs` and `budget_wording.rs`.
//!
//! This room never calls water fit to drink, never turns a refused determination into a pass, does no I/O, starts no thread
//! ([`RunBlocks`] lets the caller) and knows no time of day.

mod budget;
mod budget_error;
mod budget_wording;
pub mod compare;
mod conformance;
pub mod control;
mod coverage;
mod decide;
mod draw;
mod error;
mod estimate;
mod global_risk;
mod guard;
mod input;
mod limit;
mod line_chain;
pub mod lots;
mod model;
mod monte_carlo;
mod performance;
mod quality_error;
mod replicates;
mod retest;
mod second_order;
mod sensitivity;
pub mod sensor;
mod sum_rule;
mod top_down;
pub mod validate;
mod validation;
mod wording;

pub use budget::{Budget, BudgetLine, ComponentShare, CorrelatedPair, ExpandedUncertainty};
pub use budget_error::BudgetError;
pub use conformance::{conformance_probability, guard_band_factor};
pub use coverage::{CoverageIntervals, coverage_intervals};
pub use decide::{Decision, DecisionCode, decide};
pub use error::AssureError;
pub use estimate::Estimate;
pub use global_risk::{GlobalRisk, Posterior, PriorDistribution, StatedPrior, global_risk, posterior};
pub use guard::{GuardedLimits, guarded_limits, guarded_limits_relative};
pub use input::{Component, DegreesOfFreedom, Distribution, Evaluation, InputQuantity};
pub use limit::{NamedLimit, SumLimit, find_limit, find_sum, shipped_limits, shipped_sums};
pub use line_chain::LineChain;
pub use model::{Measurand, MeasurementModel};
pub use monte_carlo::{
    IntervalKind, MonteCarlo, MonteCarloPlan, RunBlocks, Settled, Trials, numerical_tolerance,
};
pub use performance::{PerformanceCheck, PerformanceRequirement, performance_requirement};
pub use quality_error::QualityError;
pub use replicates::{Independent, MeanUncertainty, ReplicateUncertainty, Shared};
pub use retest::{FirstLook, Look, RetestRule, SecondLook};
pub use second_order::{SecondOrder, SecondOrderTerm};
pub use sum_rule::decide_sum;
pub use top_down::{
    BiasEvidence, BiasFinding, RelativeUncertainty, SideBySide, TopDown, repeatability_from_duplicates,
    top_down, within_laboratory,
};
pub use validation::Validation;
pub use wording::{GENERAL_CAUTIONS, REAGENT_CAUTION, RULE_NAME};

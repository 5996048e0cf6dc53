//! Comparison with an accredited laboratory: the same waters measured by both.
//!
//! In: pairs with their uncertainties, some known only as "less than" ([`PairedResult`]), and the bias that may be. Out: a
//! [`MethodComparison`]: bias with its interval, limits of agreement, the line with errors in both, a score for each pair, pairs
//! that contradict each other, and what to do. A bound is compared as a bound and enters no mean.
//!
//! Start at [`compare`].

mod agreement;
mod comparison;
mod pair;
mod wording;

pub use agreement::{Agreement, Scale, agreement};
pub use comparison::{
    BiasVerdict, ComparisonRule, LimitCalls, MethodComparison, StraightLineInBoth, compare,
};
pub use pair::{BoundFinding, BoundVerdict, PairScore, PairedResult, Reported, ScoreGrade};

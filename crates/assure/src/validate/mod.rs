//! The validation table: what a method was shown to do, criterion by criterion, against what is asked of it.
//!
//! In: evidence ([`ValidationEvidence`]) and requirements with their source ([`ValidationRequirements`]). Out: a
//! [`ValidationTable`] whose rows each hold criterion, evidence, requirement and verdict: met, not met, or not shown, and then what would
//! show it. A number without a stated requirement is never called met.
//!
//! Start at [`validation_table`].

mod evidence;
mod rows;
mod table;
mod wording;

pub use evidence::{
    Interference, LinearityEvidence, ReferenceCheck, Requirement, ValidationEvidence, ValidationRequirements,
};
pub use table::{Criterion, RowVerdict, ValidationRow, ValidationTable, validation_table};

//! Electrode lots: may a new lot be read off the approved calibration, with an adjustment or not at all?
//!
//! In: strips of the new lot at known levels, read off the approved calibration ([`LotStrip`]), and a stated margin. Out: a
//! [`LotVerdict`] by two one-sided tests: equivalent, not equivalent, or cannot say yet with how many more strips; and a
//! [`OnePointAdjustment`] with what it costs, or why it is not allowed. [`lot_scatter`] parts what strips scatter into lot, electrode
//! and scan.

mod components;
mod equivalence;
mod one_point;
mod strip;
mod wording;

pub use components::{LotScatter, lot_scatter};
pub use equivalence::{
    Equivalence, EquivalenceRule, LotVerdict, MoreStrips, PartVerdict, SharedUncertainty, lot_equivalence,
    strips_for_an_equal_lot,
};
pub use one_point::{
    AdjustmentRefused, ApprovedScatter, OnePointAdjustment, OnePointRule, one_point_adjustment,
};
pub use strip::{LotStrip, Ratios};

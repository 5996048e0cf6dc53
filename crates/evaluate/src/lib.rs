//! The kernel: all arithmetic that a device must repeat.
#![no_std]

mod curve;
mod inverse;
mod verdict;

pub use curve::{Curve, prediction_half_width_a, signal_at};
pub use inverse::{Inverse, InverseFault, inverse};
pub use verdict::{VerdictCode, verdict};

//! The tests of the room: published and recomputed values, laws that must always hold.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops and prints its digits"
)]

mod cases;
mod censored;
mod checks;
mod comparison;
mod components;
mod dual;
mod nonlinear;
mod nonlinear_models;
mod outliers;
mod properties;
mod published;
mod random;
mod robust;
mod trend;

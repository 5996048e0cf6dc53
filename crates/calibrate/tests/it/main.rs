//! One integration-test binary of this room.

#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::float_cmp,
    reason = "a test stops at the first surprise and prints its digits; expected values are exact"
)]

mod addition_coverage;
mod additions;
mod checks;
mod coverage;
mod limits;
mod plans;
mod potentiometry;
mod potentiometry_coverage;
mod preparations;
mod properties;
mod published;
mod refusals;
mod standards;

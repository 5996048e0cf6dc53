//! Tests of the room `quantity` from outside.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops at the first surprise and prints what it compares"
)]

mod published;
mod reading;
mod rounding;
mod species;

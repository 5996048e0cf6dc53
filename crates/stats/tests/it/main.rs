//! The tests of the room: published and recomputed values, laws that must always hold.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops and prints its digits"
)]

mod checks;
mod properties;
mod published;
mod random;

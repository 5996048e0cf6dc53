//! Tests of the room `assure` from outside.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test stops at the first surprise and prints what it compares"
)]

mod checks;
mod conformity;
mod decisions;
mod limits;
mod sum_rule;
mod words;

//! The chain against recorded scans, planted faults and hostile input.

#![expect(
    clippy::expect_used,
    clippy::print_stdout,
    clippy::float_cmp,
    reason = "a test stops at the first surprise and prints its table; expected values are exact"
)]

mod alder_vale;
mod faults;
mod real_data;
mod variants;

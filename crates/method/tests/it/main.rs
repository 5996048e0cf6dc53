//! The chain against recorded scans, planted faults and hostile input.

#![expect(
    clippy::expect_used,
    clippy::float_cmp,
    reason = "a test stops at the first surprise; expected values are exact"
)]

mod additions;
mod alder_vale;
mod attacks;
mod benches;
mod beside;
mod budgets;
mod faults;
mod numbers;
mod properties;
mod real_data;
mod slips;
mod sweeps;
mod variants;

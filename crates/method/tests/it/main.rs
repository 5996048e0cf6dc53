//! The chain against recorded scans, planted faults and hostile input.

#![expect(
    clippy::expect_used,
    reason = "a test stops at the first surprise and prints its table; expected values are exact"
)]

mod real_data;

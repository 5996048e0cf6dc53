//! One integration-test binary of this room.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::float_cmp,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise and prints what it found; expected values are exact"
)]

mod addition_scenario;
mod cell_file;
mod circuit_file;
mod committed;
mod copper_strip;
mod grid;
mod outlooks;
mod quality_over_time;
mod scenario;
mod scores;
mod vary;
mod year_scenario;

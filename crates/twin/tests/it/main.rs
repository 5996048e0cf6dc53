//! One integration-test binary of this room.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test stops at the first surprise and prints what it found"
)]

mod check_values;
mod chemistry;
mod circuit;
mod convergence;
mod fault;
mod impossible;
mod instrument;
mod lots;
mod oracle;
mod published;
mod published_pulses;
mod published_sweeps;
mod scenes;

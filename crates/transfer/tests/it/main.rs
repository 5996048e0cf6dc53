//! Tests of the frozen chain against the desktop's, and of the C against the Rust kernel.

#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::needless_for_each,
    reason = "a test stops at the first surprise; what is cast here is small and positive"
)]

mod build;
mod chain;
mod device;
mod footprint;
mod lockstep;
mod package;
mod real;
mod sanitized;
mod scene;
mod vectors;
mod wire;

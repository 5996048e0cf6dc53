//! Tests of the C against the Rust kernel.

//! The folder room and the chain above it from outside.

#![expect(clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

mod chain;
mod outcome;
mod small_study;

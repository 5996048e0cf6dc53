//! The command from outside: what people see, what machines read, and what is said of bad input.

#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops at the first surprise and says what it skips"
)]

mod bad_files;
mod bad_methods;
mod bad_run_sheets;
mod command;
#[path = "../../../folder/tests/it/small_study.rs"]
mod small_study;

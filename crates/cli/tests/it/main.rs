//! The command from outside: what people see, what machines read, and what is said of bad input.

#![expect(clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

mod additions;
mod bad_files;
mod bad_methods;
mod bad_run_sheets;
mod budgets;
mod command;
mod devices;
mod documents;
mod examples;
mod figures;
mod pages;
mod planning;
mod planted;
mod quality;
mod serving;
mod simulated;
#[path = "../../../folder/tests/it/small_study.rs"]
mod small_study;
mod stations;
mod studies;
mod tour;
mod truth;

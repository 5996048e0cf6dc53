//! The folder room from outside.

mod chain;
mod scenario;
mod small_study;

//! The folder room from outside.

mod scenario;

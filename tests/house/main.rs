//! House rules.

//! Decisions against limits.

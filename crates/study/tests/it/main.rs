//! The study from outside: walks of a user, approvals, damage, crashes, and two programs at once.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod people;
mod scenario;

mod approval;
mod first_walk;

//! The study from outside: walks of a user, approvals, damage, crashes, and two programs at once.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod laboratory;
mod model;
mod older_records;
mod people;
mod programs;
mod scenario;
mod tampering;

mod approval;
mod charts_over_time;
mod claims;
mod crash;
mod custody;
mod exchange;
mod extending;
mod first_walk;
mod flipped_bytes;
mod folders;
mod taken_back;
mod transfer;

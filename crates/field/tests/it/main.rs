//! One integration-test binary of this room.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise and prints what it found"
)]

mod phone;
mod wells;

mod campaign_file;
mod deceived;
mod every_path;
mod labels;
mod late;
mod size;
mod table;
mod texts;
mod walks;

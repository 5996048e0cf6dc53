//! Pages, acts and guard, asked without a socket.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod acts;
mod api;
mod browser;
mod budget;
mod contract;
mod field;
mod field_browser;
mod field_guard;
mod field_phone;
mod field_photo;
mod field_scan;
mod guard;
mod hostile;
mod intake;
mod pages;
mod placing;
mod quality;
mod real_browser;
mod size;
mod study;
#[expect(dead_code, reason = "the field room's own fixture: not all of it is needed here")]
#[path = "../../../field/tests/it/wells.rs"]
mod wells;

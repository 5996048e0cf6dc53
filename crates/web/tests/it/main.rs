//! Pages, acts and guard, asked without a socket.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod acts;
mod api;
mod browser;
mod guard;
mod hostile;
mod intake;
mod pages;
mod placing;
mod real_browser;
mod size;
mod study;

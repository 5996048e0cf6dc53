//! Pages, acts and guard, asked without a socket.

mod browser;
mod guard;
mod study;

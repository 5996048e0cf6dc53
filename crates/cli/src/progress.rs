//! What is being done, on the standard error of a terminal, once it takes longer than a second.

use std::io::{IsTerminal as _, Write as _};
use std::time::{Duration, Instant};

pub(crate) struct Progress {
    started: Instant,
    shown: bool,
    on_terminal: bool,
}

impl Progress {
    pub(crate) fn new() -> Self {
        Self { started: Instant::now(), shown: false, on_terminal: std::io::stderr().is_terminal() }
    }

    /// Shows what is being done now.
    pub(crate) fn show(&mut self, what: &str) {
        if self.on_terminal && self.started.elapsed() > Duration::from_secs(1) {
            self.shown = true;
            // Progress that cannot be shown is not worth a failure.
            write!(std::io::stderr(), "\r\u{1b}[2K{what}").ok();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.shown {
            write!(std::io::stderr(), "\r\u{1b}[2K").ok();
        }
    }
}

//! What is being done, on the standard error of a terminal, once it takes longer than a second.

use std::io::{IsTerminal as _, Write as _};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
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

/// Counts what several threads have done.
pub(crate) struct Counter {
    progress: Mutex<Progress>,
    what: &'static str,
    done: AtomicU64,
    of: u64,
}

impl Counter {
    /// `what` reads before "3 of 12".
    pub(crate) fn new(what: &'static str, of: u64) -> Self {
        Self { progress: Mutex::new(Progress::new()), what, done: AtomicU64::new(0), of }
    }

    /// One more is done.
    pub(crate) fn step(&self) {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        // Whoever finds another thread at the terminal does not wait for it.
        if let Ok(mut progress) = self.progress.try_lock() {
            progress.show(&format!("{} {done} of {}", self.what, self.of));
        }
    }
}

/// Shows what share of something is done.
pub(crate) fn share(what: &str) -> impl FnMut(usize, usize) {
    let mut progress = Progress::new();
    let mut last = None;
    move |done, of| {
        let percent = (100 * done).checked_div(of);
        if percent != last {
            last = percent;
            progress.show(&format!("{what}, {} %", percent.unwrap_or(0)));
        }
    }
}

/// Does something that takes its time and cannot say how far it is: shows what is done and for how long.
pub(crate) fn during<T>(what: &str, work: impl FnOnce() -> T) -> T {
    let started = Instant::now();
    std::thread::scope(|scope| {
        let (done, waiting) = channel::<()>();
        scope.spawn(move || {
            let mut progress = Progress::new();
            while waiting.recv_timeout(Duration::from_millis(500)) == Err(RecvTimeoutError::Timeout) {
                progress.show(&format!("{what}, {} s", started.elapsed().as_secs()));
            }
        });
        let found = work();
        drop(done);
        found
    })
}

//! How a stretch of time is divided: short steps after a jump, equal steps within a sampling window.

use crate::program::{Pace, Stretch};

/// Rest and deposition get this many times the steps of a pulse.
const REST_FACTOR: u32 = 4;

/// Lengths of the steps of one stretch, and where its sampling window begins.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Steps {
    pub(crate) lengths_s: Vec<f64>,
    /// Number of steps before the window.
    pub(crate) n_before_window: usize,
}

impl Steps {
    /// After a jump the k-th of N moments lies at (k/N)^1.5 of the time: between equal steps, which are best at the end,
    /// and steps equal in the thickness of the diffusion layer, which are best at the start. A window of some length is
    /// divided into equal steps no longer than the one before it.
    pub(crate) fn new(stretch: &Stretch, window_s: f64, steps_per_pulse: u32) -> Self {
        let window_s = if stretch.reading.is_some() { window_s } else { 0.0 };
        let before_s = stretch.duration_s - window_s;
        let (n, is_graded) = match stretch.pace {
            Pace::AfterJump => (steps_per_pulse, true),
            Pace::Rest => (steps_per_pulse.saturating_mul(REST_FACTOR), true),
            Pace::Even(n) => (n, false),
        };
        let share = |k: u32| {
            let linear = f64::from(k) / f64::from(n);
            linear * libm::sqrt(linear)
        };
        let length_s =
            |k: u32| before_s * if is_graded { share(k + 1) - share(k) } else { 1.0 / f64::from(n) };
        let mut lengths_s: Vec<f64> = (0..n).map(length_s).collect();
        let n_before_window = lengths_s.len();
        if window_s > 0.0 {
            let longest_s = lengths_s.last().copied().unwrap_or(window_s);
            let n_window = libm::ceil(window_s / longest_s).clamp(2.0, 1e5);
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
            lengths_s.extend(core::iter::repeat_n(window_s / n_window, n_window as usize));
        }
        Self { lengths_s, n_before_window }
    }
}

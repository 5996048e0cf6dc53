//! The anti-alias pole: its answer to a current given at uneven moments, exact where the current runs straight.

use crate::trace::AnalogTrace;

/// Output of one pole (y′ = (u − y)/τ) after a time in which its input runs straight from one value to another.
///
/// # Units
/// Times in s; input and output in the same unit.
///
/// # Source
/// Variation of constants: y₁ = u₁ − sτ + (y₀ − u₀ + sτ) e^(−Δt/τ) with slope s; recomputed by hand.
///
/// # Example
///
/// ```
/// // A step of 1: after one time constant 1 − 1/e.
/// let output = stillwell_twin::low_pass(0.0, 1.0, 1.0, 1e-3, 1e-3);
/// assert!((output - 0.632120558828558).abs() < 1e-15);
/// ```
pub fn low_pass(output: f64, from: f64, to: f64, elapsed_s: f64, time_constant_s: f64) -> f64 {
    let rise = libm::expm1(-elapsed_s / time_constant_s);
    if elapsed_s <= 0.0 {
        return output;
    }
    let lag = (to - from) * (time_constant_s / elapsed_s);
    // u₁ − sτ + (y₀ − u₀ + sτ)(1 + rise), ordered so that a constant input at the output changes nothing.
    output + (to - from) + rise * (output - from + lag)
}

/// A walk along an analog trace behind the pole.
pub(super) struct Filtered<'a> {
    analog: &'a AnalogTrace,
    time_constant_s: f64,
    /// The last entry passed, and the output there.
    entry: usize,
    output_a: f64,
}

impl<'a> Filtered<'a> {
    /// Before the scan the pole has settled on its first current.
    pub(super) fn new(analog: &'a AnalogTrace, time_constant_s: f64) -> Self {
        let output_a = analog.current_a.first().copied().unwrap_or(f64::NAN);
        Self { analog, time_constant_s, entry: 0, output_a }
    }

    /// Output at a moment, A; moments must not fall. After the end of the trace: the output at its end.
    pub(super) fn at_a(&mut self, time_s: f64) -> f64 {
        while let Some((from_a, to_a, start_s, end_s)) = self.piece() {
            if time_s < end_s {
                let share = (time_s - start_s) / (end_s - start_s);
                let reached_a = from_a + share * (to_a - from_a);
                return low_pass(self.output_a, from_a, reached_a, time_s - start_s, self.time_constant_s);
            }
            self.output_a = low_pass(self.output_a, from_a, to_a, end_s - start_s, self.time_constant_s);
            self.entry += 1;
        }
        self.output_a
    }

    /// The piece of the trace after the last entry passed: current at its two ends, and its times.
    fn piece(&self) -> Option<(f64, f64, f64, f64)> {
        let AnalogTrace { time_s, current_a, .. } = self.analog;
        let (start_s, end_s) = (*time_s.get(self.entry)?, *time_s.get(self.entry + 1)?);
        let (from_a, to_a) = (*current_a.get(self.entry)?, *current_a.get(self.entry + 1)?);
        // The entry at a jump holds the current before it; the current after it is nearer to the next entry's.
        let from_a = if self.follows_jump() { to_a } else { from_a };
        Some((from_a, to_a, start_s, end_s))
    }

    /// A jump of the potential is followed by a step much shorter than the one before; within a ramp steps are alike.
    fn follows_jump(&self) -> bool {
        let AnalogTrace { time_s, potential_v, .. } = self.analog;
        let entry = self.entry;
        let (Some(at_v), Some(next_v)) = (potential_v.get(entry), potential_v.get(entry + 1)) else {
            return false;
        };
        if at_v.to_bits() == next_v.to_bits() {
            return false;
        }
        let step_s = |k: usize| Some(time_s.get(k + 1)? - time_s.get(k)?);
        let before_s = entry.checked_sub(1).and_then(step_s);
        match (before_s, step_s(entry)) {
            (Some(before_s), Some(step_s)) => step_s < 0.5 * before_s,
            _ => true,
        }
    }
}

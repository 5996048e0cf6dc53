//! Potential against time, as a technique programs it.

use crate::technique::{Technique, TechniqueKind};

/// The programmed potential of one scan, from its start (after deposition and rest) to its end.
#[derive(Debug, Clone, PartialEq)]
pub struct Waveform {
    shape: Shape,
    start_v: f64,
    /// Signed, towards the end potential.
    step_v: f64,
    period_s: f64,
    duration_s: f64,
}

#[derive(Debug, Clone, PartialEq)]
enum Shape {
    /// Each period first `+pulse`, then `-pulse`, around the staircase. Signed along the sweep.
    Square { pulse_v: f64 },
    /// Each period ends with a pulse of `pulse_s` on the staircase.
    Pulse { pulse_v: f64, pulse_s: f64 },
    /// Each period ends with a pulse from the start potential to the staircase.
    NormalPulse { pulse_s: f64 },
    /// Straight lines between corners, each `(time_s, potential_v)`.
    Straight { corners: Vec<(f64, f64)> },
}

/// A technique lacks a value that its waveform needs, or the value is not a positive number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a waveform of {kind} needs {key} in [technique], a positive number")]
pub struct TechniqueIncomplete {
    /// The technique.
    pub kind: &'static str,
    /// The key that is missing.
    pub key: &'static str,
}

impl Technique {
    /// The waveform of this technique.
    ///
    /// # Errors
    ///
    /// A value that the technique needs is missing or not positive, or the technique applies no potential.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_scan::{Technique, TechniqueKind};
    /// let mut technique = Technique::new(TechniqueKind::SquareWave, 0.1, -0.5);
    /// technique.step_v = Some(0.001);
    /// technique.amplitude_v = Some(0.025);
    /// technique.frequency_hz = Some(100.0);
    /// let waveform = technique.waveform()?;
    /// assert_eq!(waveform.potential_at(0.001), Some(0.1 - 0.025)); // the forward pulse goes along the sweep
    /// assert_eq!(waveform.potential_at(0.006), Some(0.1 + 0.025));
    /// # Ok::<(), stillwell_scan::TechniqueIncomplete>(())
    /// ```
    pub fn waveform(&self) -> Result<Waveform, TechniqueIncomplete> {
        let sign = if self.end_v < self.start_v { -1.0 } else { 1.0 };
        let needed = |value: Option<f64>, key: &'static str| {
            let kind = self.kind.word();
            value.filter(|value| *value > 0.0 && value.is_finite()).ok_or(TechniqueIncomplete { kind, key })
        };
        let staircase = |shape: Shape, period_s: f64| -> Result<Waveform, TechniqueIncomplete> {
            let step_v = needed(self.step_v, "step_v")?;
            let kind = self.kind.word();
            let n_points = self.n_points().ok_or(TechniqueIncomplete { kind, key: "step_v" })?;
            let duration_s = n_points as f64 * period_s;
            Ok(Waveform { shape, start_v: self.start_v, step_v: sign * step_v, period_s, duration_s })
        };
        match self.kind {
            TechniqueKind::SquareWave | TechniqueKind::StrippingSquareWave => {
                let pulse_v = sign * needed(self.amplitude_v, "amplitude_v")?;
                staircase(Shape::Square { pulse_v }, 1.0 / needed(self.frequency_hz, "frequency_hz")?)
            }
            TechniqueKind::DifferentialPulse | TechniqueKind::StrippingDifferentialPulse => {
                let pulse_v = sign * needed(self.amplitude_v, "amplitude_v")?;
                let pulse_s = needed(self.pulse_s, "pulse_s")?;
                staircase(Shape::Pulse { pulse_v, pulse_s }, needed(self.pulse_period_s, "pulse_period_s")?)
            }
            TechniqueKind::NormalPulse => {
                let pulse_s = needed(self.pulse_s, "pulse_s")?;
                staircase(Shape::NormalPulse { pulse_s }, needed(self.pulse_period_s, "pulse_period_s")?)
            }
            TechniqueKind::LinearSweep | TechniqueKind::StrippingLinearSweep => {
                let rate = needed(self.scan_rate_v_per_s, "scan_rate_v_per_s")?;
                Ok(straight(self.start_v, &[self.end_v], rate))
            }
            TechniqueKind::Cyclic => {
                let rate = needed(self.scan_rate_v_per_s, "scan_rate_v_per_s")?;
                let vertex_v =
                    self.vertex_v.ok_or(TechniqueIncomplete { kind: self.kind.word(), key: "vertex_v" })?;
                let cycles = self.cycles.unwrap_or(1).clamp(1, 10_000);
                let turns: Vec<f64> = (0..cycles).flat_map(|_| [vertex_v, self.end_v]).collect();
                Ok(straight(self.start_v, &turns, rate))
            }
            TechniqueKind::Chronoamperometry => {
                let duration_s = needed(self.duration_s, "duration_s")?;
                let corners = vec![(0.0, self.start_v), (duration_s, self.start_v)];
                Ok(from_corners(corners))
            }
            TechniqueKind::Potentiometry => {
                Err(TechniqueIncomplete { kind: self.kind.word(), key: "an applied potential" })
            }
        }
    }
}

fn straight(start_v: f64, turns_v: &[f64], rate_v_per_s: f64) -> Waveform {
    let mut corners = vec![(0.0, start_v)];
    let (mut time_s, mut potential_v) = (0.0, start_v);
    for &turn_v in turns_v {
        time_s += (turn_v - potential_v).abs() / rate_v_per_s;
        potential_v = turn_v;
        corners.push((time_s, potential_v));
    }
    from_corners(corners)
}

fn from_corners(corners: Vec<(f64, f64)>) -> Waveform {
    let start_v = corners.first().map_or(0.0, |corner| corner.1);
    let duration_s = corners.last().map_or(0.0, |corner| corner.0);
    Waveform { shape: Shape::Straight { corners }, start_v, step_v: 0.0, period_s: duration_s, duration_s }
}

impl Waveform {
    /// Length of the scan, s.
    pub fn duration_s(&self) -> f64 {
        self.duration_s
    }

    /// How many periods the scan has: steps of a staircase, or one for straight lines.
    pub fn n_periods(&self) -> usize {
        if matches!(self.shape, Shape::Straight { .. }) {
            return 1;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "the duration was made of a whole number of periods, below 1e9"
        )]
        let n_periods = libm::round(self.duration_s / self.period_s) as usize;
        n_periods
    }

    /// The corners of some periods, each `(time_s, potential_v)`: straight lines between them are the programmed potential.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_scan::{Technique, TechniqueKind};
    /// let mut technique = Technique::new(TechniqueKind::SquareWave, 0.0, -0.5);
    /// technique.step_v = Some(0.125);
    /// technique.amplitude_v = Some(0.25);
    /// technique.frequency_hz = Some(2.0);
    /// let corners = technique.waveform()?.corners(0..1);
    /// assert_eq!(corners, [(0.0, -0.25), (0.25, -0.25), (0.25, 0.25), (0.5, 0.25)]);
    /// # Ok::<(), stillwell_scan::TechniqueIncomplete>(())
    /// ```
    pub fn corners(&self, periods: std::ops::Range<usize>) -> Vec<(f64, f64)> {
        if let Shape::Straight { corners } = &self.shape {
            return if periods.is_empty() { Vec::new() } else { corners.clone() };
        }
        let end = periods.end.min(self.n_periods());
        (periods.start..end).flat_map(|period| self.corners_of(period)).collect()
    }

    fn corners_of(&self, period: usize) -> [(f64, f64); 4] {
        let (from_s, to_s) = (period as f64 * self.period_s, (period + 1) as f64 * self.period_s);
        let stair_v = self.start_v + period as f64 * self.step_v;
        let (turn_s, first_v, then_v) = match self.shape {
            Shape::Square { pulse_v } => (from_s + self.period_s / 2.0, stair_v + pulse_v, stair_v - pulse_v),
            Shape::Pulse { pulse_v, pulse_s } => (to_s - pulse_s, stair_v, stair_v + pulse_v),
            Shape::NormalPulse { pulse_s } => (to_s - pulse_s, self.start_v, stair_v),
            Shape::Straight { .. } => (to_s, stair_v, stair_v),
        };
        [(from_s, first_v), (turn_s, first_v), (turn_s, then_v), (to_s, then_v)]
    }

    /// The programmed potential, V, at a time since the start of the scan; `None` before the start and after the end.
    pub fn potential_at(&self, time_s: f64) -> Option<f64> {
        if !(0.0..=self.duration_s).contains(&time_s) {
            return None;
        }
        if let Shape::Straight { corners } = &self.shape {
            return on_straight(corners, time_s);
        }
        let n_steps = libm::floor(time_s / self.period_s);
        let within_s = time_s - n_steps * self.period_s;
        let stair_v = self.start_v + n_steps * self.step_v;
        Some(match self.shape {
            Shape::Square { pulse_v } if within_s < self.period_s / 2.0 => stair_v + pulse_v,
            Shape::Square { pulse_v } => stair_v - pulse_v,
            Shape::Pulse { pulse_v, pulse_s } if within_s >= self.period_s - pulse_s => stair_v + pulse_v,
            Shape::NormalPulse { pulse_s } if within_s < self.period_s - pulse_s => self.start_v,
            Shape::Pulse { .. } | Shape::NormalPulse { .. } | Shape::Straight { .. } => stair_v,
        })
    }
}

fn on_straight(corners: &[(f64, f64)], time_s: f64) -> Option<f64> {
    let pairs = corners.iter().zip(corners.iter().skip(1));
    for (&(from_s, from_v), &(to_s, to_v)) in pairs {
        if time_s <= to_s {
            let share = if to_s > from_s { (time_s - from_s) / (to_s - from_s) } else { 1.0 };
            return Some(from_v + share * (to_v - from_v));
        }
    }
    corners.last().map(|corner| corner.1)
}

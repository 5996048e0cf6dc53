//! From a technique to its course: stretches of constant or sloping potential, and which of them are read.

use stillwell_scan::{Technique, TechniqueIncomplete, TechniqueKind, Waveform};

use crate::error::TwinError;
use crate::trace::Reading;

/// Points that one scan may have.
const MAX_POINTS: usize = 100_000;

/// Points of a chronoamperogram where [`Recording::interval_s`] leaves them open.
const DEFAULT_INTERVALS: f64 = 500.0;

/// How the current is sampled, and how finely the calculation divides time and space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Recording {
    /// Time at the end of each pulse, step or interval over which the current is averaged, s; 0: its last instant.
    pub sampling_window_s: f64,
    /// How a sweep is made.
    pub sweep: Sweep,
    /// Time from point to point of a chronoamperogram, s; `None`: a five-hundredth of its duration.
    pub interval_s: Option<f64>,
    /// Division of time and space.
    pub resolution: Resolution,
}

impl Default for Recording {
    /// The last instant of each pulse, staircases for sweeps as digital instruments make them.
    fn default() -> Self {
        Self {
            sampling_window_s: 0.0,
            sweep: Sweep::Staircase,
            interval_s: None,
            resolution: Resolution::default(),
        }
    }
}

/// How linear and cyclic sweeps are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sweep {
    /// As a staircase of the technique's steps.
    Staircase,
    /// As a true ramp, read each time a step's worth has passed.
    Ramp,
}

/// Division of time and space. Errors fall with the square of the refinement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resolution {
    /// Grid steps at the surface per √(D τ), τ the shortest pulse (of a ramp: the time for RT/nF).
    pub nodes_per_layer: f64,
    /// Ratio of neighbouring grid steps, above 1.
    pub growth: f64,
    /// Time steps after a jump of the potential, growing with the time since.
    pub steps_per_pulse: u32,
}

impl Default for Resolution {
    /// Good to 0.1 % of the peak; [`Resolution::finer`] by 3 to 0.01 % (measured on square waves and sweeps).
    fn default() -> Self {
        Self { nodes_per_layer: 16.0, growth: 1.25, steps_per_pulse: 8 }
    }
}

impl Resolution {
    /// The same division, finer by a whole factor in time and space.
    ///
    /// # Example
    ///
    /// ```
    /// let fine = stillwell_twin::Resolution::default().finer(2);
    /// assert_eq!(fine.steps_per_pulse, 16);
    /// ```
    #[must_use]
    pub fn finer(self, factor: u32) -> Self {
        let factor = factor.max(1);
        Self {
            nodes_per_layer: self.nodes_per_layer * f64::from(factor),
            growth: libm::pow(self.growth, 1.0 / f64::from(factor)),
            steps_per_pulse: self.steps_per_pulse.saturating_mul(factor),
        }
    }
}

/// One stretch of the course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stretch {
    pub(crate) duration_s: f64,
    pub(crate) from_v: f64,
    pub(crate) to_v: f64,
    pub(crate) pace: Pace,
    /// Point and reading that its end gives.
    pub(crate) reading: Option<(usize, Reading)>,
    pub(crate) is_stirred: bool,
}

/// How time is divided within a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pace {
    /// After a jump: short steps first.
    AfterJump,
    /// Long rest after a jump: the same, with more steps.
    Rest,
    /// Nothing jumps: so many equal steps.
    Even(u32),
}

/// The whole course of a technique.
#[derive(Debug, Clone)]
pub(crate) struct Program {
    /// Deposition and rest, before the scan's time begins.
    pub(crate) before: Vec<Stretch>,
    pub(crate) scan: Vec<Stretch>,
    /// Programmed potential of each point.
    pub(crate) potential_v: Vec<f64>,
    /// Whether the first point is the state at the very start.
    pub(crate) reads_start: bool,
    /// The shortest time that matters.
    pub(crate) shortest_s: f64,
}

impl Program {
    /// # Errors
    /// What the technique lacks or contradicts.
    pub(crate) fn new(
        technique: &Technique,
        recording: &Recording,
        per_volt: f64,
    ) -> Result<Self, TwinError> {
        let waveform = technique.waveform()?;
        let mut program = match technique.kind {
            TechniqueKind::SquareWave | TechniqueKind::StrippingSquareWave => {
                square_wave(technique, &waveform)?
            }
            TechniqueKind::DifferentialPulse
            | TechniqueKind::StrippingDifferentialPulse
            | TechniqueKind::NormalPulse => pulses(technique, &waveform)?,
            TechniqueKind::LinearSweep | TechniqueKind::StrippingLinearSweep | TechniqueKind::Cyclic => {
                sweep(technique, recording, per_volt)?
            }
            TechniqueKind::Chronoamperometry => chronoamperometry(technique, recording, &waveform)?,
            TechniqueKind::Potentiometry => return Err(incomplete(technique, "an applied potential")),
        };
        program.before = before(technique)?;
        check_windows(&program.scan, recording.sampling_window_s)?;
        Ok(program)
    }

    /// Length of everything, s.
    pub(crate) fn duration_s(&self) -> f64 {
        self.before.iter().chain(&self.scan).map(|stretch| stretch.duration_s).sum()
    }
}

fn incomplete(technique: &Technique, key: &'static str) -> TwinError {
    TwinError::Technique(TechniqueIncomplete { kind: technique.kind.word(), key })
}

fn needed(technique: &Technique, value: Option<f64>, key: &'static str) -> Result<f64, TwinError> {
    value.filter(|value| value.is_finite() && *value > 0.0).ok_or_else(|| incomplete(technique, key))
}

fn hold(duration_s: f64, potential_v: f64, pace: Pace) -> Stretch {
    Stretch { duration_s, from_v: potential_v, to_v: potential_v, pace, reading: None, is_stirred: false }
}

fn before(technique: &Technique) -> Result<Vec<Stretch>, TwinError> {
    let mut stretches = Vec::new();
    if technique.kind.is_stripping() {
        let duration_s = needed(technique, technique.deposition_s, "deposition_s")?;
        let potential_v = technique.deposition_v.ok_or_else(|| incomplete(technique, "deposition_v"))?;
        stretches.push(Stretch { is_stirred: true, ..hold(duration_s, potential_v, Pace::Rest) });
    }
    if let Some(quiet_s) = technique.quiet_s.filter(|quiet_s| *quiet_s != 0.0) {
        let quiet_s = needed(technique, Some(quiet_s), "quiet_s")?;
        stretches.push(hold(quiet_s, technique.start_v, Pace::Rest));
    }
    Ok(stretches)
}

fn n_points(technique: &Technique) -> Result<usize, TwinError> {
    let n_points = technique.n_points().ok_or_else(|| incomplete(technique, "step_v"))?;
    if n_points < 2 {
        return Err(TwinError::WindowEmpty { start_v: technique.start_v, end_v: technique.end_v });
    }
    if n_points > MAX_POINTS {
        return Err(TwinError::TooManyPoints { found: n_points, at_most: MAX_POINTS });
    }
    Ok(n_points)
}

fn stair_v(technique: &Technique, point: usize) -> f64 {
    let sign = if technique.end_v < technique.start_v { -1.0 } else { 1.0 };
    technique.start_v + sign * technique.step_v.unwrap_or(0.0) * point as f64
}

/// The programmed potential in the middle of a stretch that the technique holds constant.
fn held_v(technique: &Technique, waveform: &Waveform, time_s: f64) -> Result<f64, TwinError> {
    waveform.potential_at(time_s).ok_or_else(|| incomplete(technique, "a potential at each point"))
}

fn square_wave(technique: &Technique, waveform: &Waveform) -> Result<Program, TwinError> {
    let n_points = n_points(technique)?;
    let half_s = 0.5 / needed(technique, technique.frequency_hz, "frequency_hz")?;
    let mut scan = Vec::with_capacity(2 * n_points);
    for point in 0..n_points {
        for (half, reading) in [(0.5, Reading::Forward), (1.5, Reading::Reverse)] {
            let middle_s = (2.0 * point as f64 + half) * half_s;
            let potential_v = held_v(technique, waveform, middle_s)?;
            let reading = Some((point, reading));
            scan.push(Stretch { reading, ..hold(half_s, potential_v, Pace::AfterJump) });
        }
    }
    Ok(on_staircase(technique, n_points, scan, half_s))
}

fn pulses(technique: &Technique, waveform: &Waveform) -> Result<Program, TwinError> {
    let n_points = n_points(technique)?;
    let pulse_s = needed(technique, technique.pulse_s, "pulse_s")?;
    let period_s = needed(technique, technique.pulse_period_s, "pulse_period_s")?;
    if pulse_s >= period_s {
        return Err(TwinError::PulseTooLong { pulse_s, period_s });
    }
    let base_s = period_s - pulse_s;
    let mut scan = Vec::with_capacity(2 * n_points);
    for point in 0..n_points {
        let start_s = period_s * point as f64;
        let base_v = held_v(technique, waveform, start_s + base_s / 2.0)?;
        let pulse_v = held_v(technique, waveform, start_s + base_s + pulse_s / 2.0)?;
        let base = (technique.kind != TechniqueKind::NormalPulse).then_some((point, Reading::Reverse));
        scan.push(Stretch { reading: base, ..hold(base_s, base_v, Pace::AfterJump) });
        let pulse = Some((point, Reading::Forward));
        scan.push(Stretch { reading: pulse, ..hold(pulse_s, pulse_v, Pace::AfterJump) });
    }
    Ok(on_staircase(technique, n_points, scan, pulse_s.min(base_s)))
}

fn on_staircase(technique: &Technique, n_points: usize, scan: Vec<Stretch>, shortest_s: f64) -> Program {
    let potential_v = (0..n_points).map(|point| stair_v(technique, point)).collect();
    Program { before: Vec::new(), scan, potential_v, reads_start: false, shortest_s }
}

fn sweep(technique: &Technique, recording: &Recording, per_volt: f64) -> Result<Program, TwinError> {
    n_points(technique)?;
    let rate_v_per_s = needed(technique, technique.scan_rate_v_per_s, "scan_rate_v_per_s")?;
    let step_v = needed(technique, technique.step_v, "step_v")?;
    let potential_v = sweep_points(technique, step_v)?;
    let steps = potential_v.windows(2);
    let scan: Vec<Stretch> = match recording.sweep {
        Sweep::Staircase => {
            let stair = |(point, &potential_v): (usize, &f64)| Stretch {
                reading: Some((point, Reading::Forward)),
                ..hold(step_v / rate_v_per_s, potential_v, Pace::AfterJump)
            };
            potential_v.iter().enumerate().map(stair).collect()
        }
        Sweep::Ramp => steps
            .enumerate()
            .map(|(index, ends)| ramp(index, ends[0], ends[1], rate_v_per_s, per_volt, recording))
            .collect(),
    };
    let reads_start = recording.sweep == Sweep::Ramp;
    let shortest_s = if reads_start { 1.0 / (per_volt * rate_v_per_s) } else { step_v / rate_v_per_s };
    Ok(Program { before: Vec::new(), scan, potential_v, reads_start, shortest_s })
}

/// One step's worth of a ramp; the first may follow a jump.
fn ramp(
    index: usize,
    from_v: f64,
    to_v: f64,
    rate_v_per_s: f64,
    per_volt: f64,
    recording: &Recording,
) -> Stretch {
    let steps = recording.resolution.steps_per_pulse;
    let change = (to_v - from_v).abs() * per_volt;
    // At the default of 8 steps a pulse, the potential moves by RT/nF/20 at most in a step.
    let n_even = libm::ceil(2.5 * change * f64::from(steps)).clamp(1.0, 1e6);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    let pace = if index == 0 { Pace::AfterJump } else { Pace::Even(n_even as u32) };
    let duration_s = (to_v - from_v).abs() / rate_v_per_s;
    Stretch {
        duration_s,
        from_v,
        to_v,
        pace,
        reading: Some((index + 1, Reading::Forward)),
        is_stirred: false,
    }
}

/// The points of a sweep with all its turns; on each leg the step is adjusted so that it ends on the turn.
fn sweep_points(technique: &Technique, step_v: f64) -> Result<Vec<f64>, TwinError> {
    let mut turns_v = Vec::new();
    if technique.kind == TechniqueKind::Cyclic {
        let vertex_v = technique.vertex_v.ok_or_else(|| incomplete(technique, "vertex_v"))?;
        for _ in 0..technique.cycles.unwrap_or(1).clamp(1, 10_000) {
            turns_v.extend([vertex_v, technique.end_v]);
        }
    } else {
        turns_v.push(technique.end_v);
    }
    let mut points_v = vec![technique.start_v];
    let mut from_v = technique.start_v;
    for turn_v in turns_v {
        let n_steps = libm::round((turn_v - from_v).abs() / step_v);
        if n_steps < 1.0 {
            return Err(TwinError::WindowEmpty { start_v: from_v, end_v: turn_v });
        }
        if points_v.len() as f64 + n_steps > MAX_POINTS as f64 {
            return Err(TwinError::TooManyPoints { found: points_v.len(), at_most: MAX_POINTS });
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded above")]
        let n_steps = n_steps as usize;
        let share = |k: usize| k as f64 / n_steps as f64;
        points_v.extend((1..=n_steps).map(|k| from_v + (turn_v - from_v) * share(k)));
        from_v = turn_v;
    }
    Ok(points_v)
}

fn chronoamperometry(
    technique: &Technique,
    recording: &Recording,
    waveform: &Waveform,
) -> Result<Program, TwinError> {
    let duration_s = waveform.duration_s();
    let interval_s = recording.interval_s.unwrap_or(duration_s / DEFAULT_INTERVALS);
    let interval_s = needed(technique, Some(interval_s), "interval_s")?;
    let n_points = libm::round(duration_s / interval_s);
    if !(1.0..=MAX_POINTS as f64).contains(&n_points) {
        return Err(TwinError::IntervalImpossible { interval_s, duration_s, at_most: MAX_POINTS });
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded above")]
    let n_points = n_points as usize;
    let n_even = (recording.resolution.steps_per_pulse / 4).max(1);
    let stretch = |point: usize| {
        let pace = if point == 0 { Pace::AfterJump } else { Pace::Even(n_even) };
        Stretch { reading: Some((point, Reading::Forward)), ..hold(interval_s, technique.start_v, pace) }
    };
    Ok(Program {
        before: Vec::new(),
        scan: (0..n_points).map(stretch).collect(),
        potential_v: vec![technique.start_v; n_points],
        reads_start: false,
        shortest_s: interval_s,
    })
}

fn check_windows(stretches: &[Stretch], window_s: f64) -> Result<(), TwinError> {
    let read = stretches.iter().filter(|stretch| stretch.reading.is_some());
    let shortest_s = read.map(|stretch| stretch.duration_s).fold(f64::INFINITY, f64::min);
    // A little must be left for the time before the window.
    if (0.0..=0.9 * shortest_s).contains(&window_s) {
        return Ok(());
    }
    Err(TwinError::SamplingWindowImpossible { window_s, at_most_s: 0.9 * shortest_s })
}

//! What a simulated scan yields: the technique's points, and the analog current from which they were sampled.

use stillwell_scan::{Scan, Technique, TechniqueKind};

/// A simulated scan.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Programmed potential of each point (the staircase), V.
    pub potential_v: Vec<f64>,
    /// The technique's current, A: forward − reverse of a square wave, pulse − base of a differential pulse, else the current.
    pub current_a: Vec<f64>,
    /// First half of each square wave, or the pulse, A; `None` where a technique reads once a point.
    pub forward_a: Option<Vec<f64>>,
    /// Second half of each square wave, or before the pulse, A.
    pub reverse_a: Option<Vec<f64>>,
    /// When each point's last reading ends, s from the start of the scan.
    pub time_s: Vec<f64>,
    /// The current between the points.
    pub analog: AnalogTrace,
}

/// Current and programmed potential at every step of the calculation. Steps are short after a jump and grow; between them
/// the current may be taken as straight, except at once after a jump.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AnalogTrace {
    /// s from the start of the scan; the first entry is 0.
    pub time_s: Vec<f64>,
    /// A.
    pub current_a: Vec<f64>,
    /// Programmed potential, V; at a jump the one before it.
    pub potential_v: Vec<f64>,
    /// Sampling windows in the order of time.
    pub windows: Vec<Window>,
}

/// Where the current is sampled for one reading of one point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Point of the scan, from 0.
    pub point: usize,
    /// Which reading of it.
    pub reading: Reading,
    /// First entry of the analog trace within the window.
    pub first: usize,
    /// Last entry; equal to the first where one instant is read.
    pub last: usize,
}

/// One of a point's readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// The only one, the first half of a square wave, or the pulse.
    Forward,
    /// The second half of a square wave, or before a pulse.
    Reverse,
}

impl AnalogTrace {
    /// Mean current in a window, A, by trapezia.
    ///
    /// # Source
    /// Trapezoidal rule; common practice, no source.
    pub fn mean_in(&self, window: &Window) -> f64 {
        let range = window.first..=window.last;
        let (Some(time_s), Some(current_a)) = (self.time_s.get(range.clone()), self.current_a.get(range))
        else {
            return f64::NAN;
        };
        let (Some(first_s), Some(last_s)) = (time_s.first(), time_s.last()) else { return f64::NAN };
        if time_s.len() == 1 {
            return current_a[0];
        }
        let pairs = time_s.windows(2).zip(current_a.windows(2));
        let charge_c: f64 = pairs.map(|(t, i)| (t[1] - t[0]) * (i[0] + i[1]) / 2.0).sum();
        charge_c / (last_s - first_s)
    }
}

impl Trace {
    /// Puts the readings of an analog trace together to the technique's points. `read` gives the current of a window:
    /// [`AnalogTrace::mean_in`] for an ideal instrument, or what a real one makes of it.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_scan::{Technique, TechniqueKind};
    /// use stillwell_twin::{AnalogTrace, Reading, Trace, Window};
    /// let technique = Technique::new(TechniqueKind::SquareWave, 0.1, -0.5);
    /// let window = |reading, at| Window { point: 0, reading, first: at, last: at };
    /// let analog = AnalogTrace {
    ///     time_s: vec![0.0, 0.005, 0.01],
    ///     current_a: vec![0.0, -3e-6, 1e-6],
    ///     potential_v: vec![0.1, 0.075, 0.125],
    ///     windows: vec![window(Reading::Forward, 1), window(Reading::Reverse, 2)],
    /// };
    /// let trace = Trace::assemble(&technique, vec![0.1], analog, |analog, window| analog.mean_in(window));
    /// assert_eq!(trace.current_a, [-4e-6]);
    /// ```
    pub fn assemble(
        technique: &Technique,
        potential_v: Vec<f64>,
        analog: AnalogTrace,
        mut read: impl FnMut(&AnalogTrace, &Window) -> f64,
    ) -> Self {
        let n_points = potential_v.len();
        let mut forward_a = vec![f64::NAN; n_points];
        let mut reverse_a = forward_a.clone();
        let mut time_s = forward_a.clone();
        for window in &analog.windows {
            let value_a = read(&analog, window);
            let column = match window.reading {
                Reading::Forward => &mut forward_a,
                Reading::Reverse => &mut reverse_a,
            };
            if let (Some(place), Some(time), Some(at)) =
                (column.get_mut(window.point), time_s.get_mut(window.point), analog.time_s.get(window.last))
            {
                *place = value_a;
                *time = *at;
            }
        }
        if !has_two_readings(technique.kind) {
            return Self {
                potential_v,
                current_a: forward_a,
                forward_a: None,
                reverse_a: None,
                time_s,
                analog,
            };
        }
        let current_a =
            forward_a.iter().zip(&reverse_a).map(|(forward, reverse)| forward - reverse).collect();
        Self {
            potential_v,
            current_a,
            forward_a: Some(forward_a),
            reverse_a: Some(reverse_a),
            time_s,
            analog,
        }
    }

    /// The scan as a file reader would have it; it has no lines, columns or settings.
    pub fn to_scan(&self, name: &str) -> Scan {
        let is_overload = |(index, current): (usize, &f64)| (!current.is_finite()).then_some(index);
        Scan {
            name: name.to_owned(),
            ordinal: 1,
            potential_v: self.potential_v.clone(),
            current_a: self.current_a.clone(),
            forward_a: self.forward_a.clone(),
            reverse_a: self.reverse_a.clone(),
            time_s: Some(self.time_s.clone()),
            settings: Vec::new(),
            first_line: 1,
            last_line: self.potential_v.len(),
            columns: (1, 2),
            overload_points: self.current_a.iter().enumerate().filter_map(is_overload).collect(),
        }
    }
}

/// Whether a point of the technique is the difference of two readings.
fn has_two_readings(kind: TechniqueKind) -> bool {
    matches!(
        kind,
        TechniqueKind::SquareWave
            | TechniqueKind::StrippingSquareWave
            | TechniqueKind::DifferentialPulse
            | TechniqueKind::StrippingDifferentialPulse
    )
}

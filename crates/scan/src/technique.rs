//! What a method says should be recorded.

/// A technique with its programmed values. A value that the technique does not have, or that the method leaves open,
/// is `None`.
#[derive(Debug, Clone, PartialEq)]
pub struct Technique {
    /// Which technique.
    pub kind: TechniqueKind,
    /// First potential of the scan, V.
    pub start_v: f64,
    /// Last potential of the scan (of a cyclic sweep: where it comes to rest), V.
    pub end_v: f64,
    /// Size of a step of the staircase, V, positive.
    pub step_v: Option<f64>,
    /// Turning potential of a cyclic sweep, V.
    pub vertex_v: Option<f64>,
    /// Number of cycles of a cyclic sweep.
    pub cycles: Option<u32>,
    /// Half of the peak-to-peak height of a square wave, or the height of a pulse, V, positive.
    pub amplitude_v: Option<f64>,
    /// Frequency of a square wave, Hz.
    pub frequency_hz: Option<f64>,
    /// Scan rate of a sweep, V/s, positive.
    pub scan_rate_v_per_s: Option<f64>,
    /// Length of a pulse, s.
    pub pulse_s: Option<f64>,
    /// Time from pulse to pulse, s.
    pub pulse_period_s: Option<f64>,
    /// Potential of the deposition before a stripping scan, V.
    pub deposition_v: Option<f64>,
    /// Length of that deposition, s.
    pub deposition_s: Option<f64>,
    /// Rest at the first potential before the scan, s.
    pub quiet_s: Option<f64>,
    /// Length of a recording at one potential, s.
    pub duration_s: Option<f64>,
}

crate::pin::words! {
    /// The techniques that a method file can name in `[technique] kind`.
    TechniqueKind {
        /// Staircase with a square wave on it.
        SquareWave = "square-wave",
        /// Staircase with a pulse at the end of each step.
        DifferentialPulse = "differential-pulse",
        /// One straight sweep.
        LinearSweep = "linear-sweep",
        /// A sweep that turns.
        Cyclic = "cyclic",
        /// Pulses of growing height from one resting potential.
        NormalPulse = "normal-pulse",
        /// Square wave after a deposition.
        StrippingSquareWave = "stripping-square-wave",
        /// Differential pulse after a deposition.
        StrippingDifferentialPulse = "stripping-differential-pulse",
        /// Linear sweep after a deposition.
        StrippingLinearSweep = "stripping-linear-sweep",
        /// Current against time at one potential.
        Chronoamperometry = "chronoamperometry",
        /// Potential without current.
        Potentiometry = "potentiometry",
    }
}

impl TechniqueKind {
    /// Whether the potential of the scan comes back over itself.
    pub fn passes_potentials_twice(self) -> bool {
        self == Self::Cyclic
    }

    /// Whether a deposition precedes the scan.
    pub fn is_stripping(self) -> bool {
        matches!(
            self,
            Self::StrippingSquareWave | Self::StrippingDifferentialPulse | Self::StrippingLinearSweep
        )
    }
}

impl Technique {
    /// A technique with nothing stated but its kind and window.
    pub fn new(kind: TechniqueKind, start_v: f64, end_v: f64) -> Self {
        Self {
            kind,
            start_v,
            end_v,
            step_v: None,
            vertex_v: None,
            cycles: None,
            amplitude_v: None,
            frequency_hz: None,
            scan_rate_v_per_s: None,
            pulse_s: None,
            pulse_period_s: None,
            deposition_v: None,
            deposition_s: None,
            quiet_s: None,
            duration_s: None,
        }
    }

    /// Points of the staircase from start to end, both included; `None` without a step or for a technique without
    /// a staircase.
    pub fn n_points(&self) -> Option<usize> {
        let step_v = self.step_v.filter(|step_v| *step_v > 0.0)?;
        let span_v = match (self.kind, self.vertex_v) {
            (TechniqueKind::Cyclic, Some(vertex_v)) => {
                (vertex_v - self.start_v).abs() + (self.end_v - vertex_v).abs()
            }
            (TechniqueKind::Chronoamperometry | TechniqueKind::Potentiometry, _) => return None,
            _ => (self.end_v - self.start_v).abs(),
        };
        let n_steps = libm::round(span_v / step_v);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "bounded by the filter before"
        )]
        let n_steps = Some(n_steps).filter(|n| (0.0..1e9).contains(n))? as usize;
        Some(n_steps + 1)
    }
}

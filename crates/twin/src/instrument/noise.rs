//! Noise sources with their formulas, and the processes that draw them sample by sample.

use core::f64::consts::{LN_2, TAU};

use stillwell_stats::random::RandomStream;

use super::circuit::{Circuit, Mains, Part};

/// Boltzmann constant, J/K; CODATA 2022, exact.
const BOLTZMANN_J_PER_K: f64 = 1.380649e-23;

/// Elementary charge, C; CODATA 2022, exact.
const ELEMENTARY_CHARGE_C: f64 = 1.602176634e-19;

/// Relaxation rate of the slowest 1/f process, Hz: slower than any scan, which sees it as an offset.
const SLOWEST_HZ: f64 = 1.0 / 4096.0;

/// Ratio of neighbouring relaxation rates. At two octaves the sum's spectrum ripples about 1/f by
/// 2/cosh(π²/ln 4) = 0.3 % (recomputed by hand).
const RATE_RATIO: f64 = 4.0;

/// ln of that ratio.
const LN_RATE_RATIO: f64 = 2.0 * LN_2;

/// Thermal noise of a resistor, A²/Hz: 4 k T / R, one-sided.
///
/// # Units
/// Ω and K in; A²/Hz out.
///
/// # Source
/// Johnson 1928, Phys. Rev. 32, 97; Nyquist 1928, Phys. Rev. 32, 110 (citations from memory).
///
/// # Example
///
/// ```
/// let density = stillwell_twin::johnson_a2_per_hz(1e6, 300.0);
/// assert!((density - 1.6568e-26).abs() < 1e-30);
/// ```
pub fn johnson_a2_per_hz(resistance_ohm: f64, temperature_k: f64) -> f64 {
    4.0 * BOLTZMANN_J_PER_K * temperature_k / resistance_ohm
}

/// Shot noise of a current, A²/Hz: 2 q |I|, one-sided. That is the most a current can have: one that many independent
/// crossings limit; where diffusion limits it, there is less.
///
/// # Units
/// A in; A²/Hz out.
///
/// # Source
/// Schottky 1918, Ann. Phys. 57, 541 (citation from memory).
///
/// # Example
///
/// ```
/// let density = stillwell_twin::shot_a2_per_hz(-1e-6);
/// assert!((density - 3.204e-25).abs() < 1e-28);
/// ```
pub fn shot_a2_per_hz(current_a: f64) -> f64 {
    2.0 * ELEMENTARY_CHARGE_C * current_a.abs()
}

/// Variance of the simulated 1/f noise below a corner, A²: one relaxation process for every two octaves from 1/4096 Hz
/// to the corner, each with K² ln 4.
///
/// # Units
/// `density_a_per_root_hz`: K, the density at 1 Hz in A/√Hz; `corner_hz` in Hz; A² out.
///
/// # Source
/// S(f) = K²/f as a sum of relaxations with evenly spaced logarithms of their rates: Bernamont 1937, Proc. Phys. Soc. 49,
/// 138; van der Ziel 1950, Physica 16, 359 (citations from memory). From ∫ 4στ/(1 + (2πfτ)²) d ln τ = σ/f a spacing of
/// ln 4 asks for σ = K² ln 4.
///
/// # Example
///
/// ```
/// // 1/4096 Hz, 1/1024 Hz … 1024 Hz: twelve processes.
/// let variance = stillwell_twin::flicker_variance_a2(1e-9, 1024.0);
/// assert!((variance / 1e-18 - 12.0 * 4.0_f64.ln()).abs() < 1e-9);
/// ```
pub fn flicker_variance_a2(density_a_per_root_hz: f64, corner_hz: f64) -> f64 {
    let n_processes = rates_hz(corner_hz).count() as f64;
    n_processes * density_a_per_root_hz * density_a_per_root_hz * LN_RATE_RATIO
}

/// Relaxation rates up to the corner, Hz.
fn rates_hz(corner_hz: f64) -> impl Iterator<Item = f64> {
    core::iter::successors(Some(SLOWEST_HZ), |rate_hz| Some(rate_hz * RATE_RATIO))
        .take_while(move |rate_hz| *rate_hz <= corner_hz)
}

/// A stream of its own for each source, so that changing one leaves the others' noise as it was.
fn branch(stream: &mut RandomStream) -> RandomStream {
    let mut word = || stream.uniform().to_bits();
    let (seed, index) = (word(), word());
    RandomStream::new(seed, index)
}

/// White noise after the pole: exact at whatever moments it is sampled.
struct White {
    stream: RandomStream,
    /// In standard deviations.
    state: f64,
}

impl White {
    fn new(mut stream: RandomStream) -> Self {
        let state = stream.normal();
        Self { stream, state }
    }

    /// `decay` is e^(−Δt/τ) since the last sample.
    fn next(&mut self, decay: f64) -> f64 {
        self.state = relaxed(self.state, decay, &mut self.stream);
        self.state
    }
}

fn relaxed(state: f64, decay: f64, stream: &mut RandomStream) -> f64 {
    decay * state + libm::sqrt((1.0 - decay) * (1.0 + decay)) * stream.normal()
}

/// 1/f noise as a sum of relaxations.
struct Flicker {
    stream: RandomStream,
    sd_of_each_a: f64,
    /// Relaxation rate in Hz, and state in standard deviations.
    processes: Vec<(f64, f64)>,
}

impl Flicker {
    fn new(density_a_per_root_hz: f64, corner_hz: f64, mut stream: RandomStream) -> Self {
        let processes = if density_a_per_root_hz > 0.0 {
            rates_hz(corner_hz).map(|rate_hz| (rate_hz, stream.normal())).collect()
        } else {
            Vec::new()
        };
        Self { stream, sd_of_each_a: density_a_per_root_hz * libm::sqrt(LN_RATE_RATIO), processes }
    }

    fn next_a(&mut self, elapsed_s: f64) -> f64 {
        let mut sum = 0.0;
        for (rate_hz, state) in &mut self.processes {
            let decay = libm::exp(-TAU * *rate_hz * elapsed_s);
            *state = relaxed(*state, decay, &mut self.stream);
            sum += *state;
        }
        self.sd_of_each_a * sum
    }
}

/// Mains after the pole.
struct Pickup {
    amplitude_a: f64,
    frequency_hz: f64,
    phase_rad: f64,
}

impl Pickup {
    fn new(mains: Option<Mains>, corner_hz: f64, mut stream: RandomStream) -> Option<Self> {
        let Mains { amplitude_a, frequency_hz, phase_rad } = mains?;
        let ratio = frequency_hz / corner_hz;
        let phase_rad = phase_rad.unwrap_or_else(|| TAU * stream.uniform());
        Some(Self {
            amplitude_a: amplitude_a / libm::sqrt(1.0 + ratio * ratio),
            frequency_hz,
            phase_rad: phase_rad - libm::atan(ratio),
        })
    }

    fn at_a(&self, time_s: f64) -> f64 {
        self.amplitude_a * libm::sin(TAU * self.frequency_hz * time_s + self.phase_rad)
    }
}

/// All noise of a circuit as its converter meets it.
pub(super) struct Noise {
    johnson_a2_per_hz: f64,
    has_shot: bool,
    bandwidth_hz: f64,
    time_constant_s: f64,
    white: White,
    flicker: Flicker,
    pickup: Option<Pickup>,
    last_s: Option<f64>,
}

impl Noise {
    pub(super) fn new(circuit: &Circuit, stream: &mut RandomStream) -> Self {
        let (white, flicker, mains) = (branch(stream), branch(stream), branch(stream));
        let johnson = johnson_a2_per_hz(circuit.feedback_ohm(), circuit.temperature_k);
        Self {
            johnson_a2_per_hz: if circuit.without == Some(Part::Johnson) { 0.0 } else { johnson },
            has_shot: circuit.without != Some(Part::Shot),
            bandwidth_hz: circuit.noise_bandwidth_hz(),
            time_constant_s: circuit.time_constant_s(),
            white: White::new(white),
            flicker: Flicker::new(circuit.flicker_a_per_root_hz, circuit.corner_hz, flicker),
            pickup: Pickup::new(circuit.mains, circuit.corner_hz, mains),
            last_s: None,
        }
    }

    /// Noise of a sample, A; times must not fall. Over the pole's time constant the current counts as steady.
    pub(super) fn at_a(&mut self, time_s: f64, current_a: f64) -> f64 {
        let elapsed_s = self.last_s.map_or(f64::INFINITY, |last_s| time_s - last_s);
        self.last_s = Some(time_s);
        let shot = if self.has_shot { shot_a2_per_hz(current_a) } else { 0.0 };
        let density_a2_per_hz = self.johnson_a2_per_hz + shot;
        let white_sd_a = libm::sqrt(density_a2_per_hz * self.bandwidth_hz);
        let white_a = white_sd_a * self.white.next(libm::exp(-elapsed_s / self.time_constant_s));
        let pickup_a = self.pickup.as_ref().map_or(0.0, |pickup| pickup.at_a(time_s));
        white_a + self.flicker.next_a(elapsed_s) + pickup_a
    }
}

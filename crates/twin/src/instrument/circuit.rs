//! The circuit's numbers: ranges, converters, noise sources, and what they mean for one sample.

use core::f64::consts::{FRAC_PI_2, TAU};
use core::ops::RangeInclusive;

use stillwell_scan::{Technique, TechniqueKind};

use super::converter::Converter;
use super::noise::{flicker_variance_a2, johnson_a2_per_hz, shot_a2_per_hz};
use crate::error::TwinError;
use crate::temperature::REFERENCE_TEMPERATURE_K;

/// A potentiostat's circuit. Fields are plain data; [`crate::measure()`] refuses what cannot be.
///
/// The current passes a feedback resistor (whose noise and the current's own come in here, with the mains), one
/// anti-alias pole, gain and offset, and the converter.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Step of the converter that makes the potential, V; 0: none. See [`Circuit::applied`].
    pub potential_step_v: f64,
    /// Current at the ends of the range, A.
    pub range_a: f64,
    /// Bits of the current's converter, sign included.
    pub adc_bits: u32,
    /// Voltage across the feedback resistor at the end of the range, V.
    pub full_scale_v: f64,
    /// Temperature of the circuit, K.
    pub temperature_k: f64,
    /// Corner of the anti-alias pole, Hz.
    pub corner_hz: f64,
    /// 1/f noise: density at 1 Hz, A/√Hz.
    pub flicker_a_per_root_hz: f64,
    /// What the mains couple into the current.
    pub mains: Option<Mains>,
    /// Error of the gain, as a share of it.
    pub gain_error: f64,
    /// Offset of the current, A.
    pub offset_a: f64,
    /// Converter samples that are averaged for one reading, evenly over the trace's window and the last at its end.
    pub samples_per_reading: u32,
    /// What becomes of a reading that hit an end of the range.
    pub overload: Overload,
    /// A part taken as perfect, to ask what it costs.
    pub without: Option<Part>,
}

/// A part of the circuit that keeps a reading from the current itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Steps of the current's converter; the ends of its range stay.
    ConverterSteps,
    /// Thermal noise of the feedback resistor.
    Johnson,
    /// Shot noise of the current.
    Shot,
    /// 1/f noise.
    Flicker,
    /// Pickup from the mains.
    Mains,
    /// Steps of the potential's converter.
    PotentialSteps,
}

impl Part {
    /// Every part.
    pub const ALL: [Self; 6] =
        [Self::ConverterSteps, Self::Johnson, Self::Shot, Self::Flicker, Self::Mains, Self::PotentialSteps];

    /// Its name, for tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::ConverterSteps => "steps of the current converter",
            Self::Johnson => "thermal noise of the feedback resistor",
            Self::Shot => "shot noise of the current",
            Self::Flicker => "1/f noise",
            Self::Mains => "mains pickup",
            Self::PotentialSteps => "steps of the potential converter",
        }
    }
}

/// Pickup from the mains: amplitude × sin(2π f t + phase), t from the start of the scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mains {
    /// Peak current before the pole, A.
    pub amplitude_a: f64,
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Phase at the start of the scan, rad; `None`: drawn for each scan.
    pub phase_rad: Option<f64>,
}

/// What an instrument reports at the ends of its range. Real ones do either.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overload {
    /// A mark in place of the number: the point is among the scan's overload points.
    Marked,
    /// The number at the end of the range, as if it were a current.
    Silent,
}

/// Standard deviation of one converter sample by its causes, A: which part limits a circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SampleNoise {
    /// The feedback resistor's thermal noise.
    pub johnson_a: f64,
    /// Shot noise of the current.
    pub shot_a: f64,
    /// 1/f noise.
    pub flicker_a: f64,
    /// Mains, root mean square.
    pub mains_a: f64,
    /// The converter's steps, Δ/√12; valid where other noise covers some steps.
    pub quantisation_a: f64,
}

impl Circuit {
    /// A circuit with this range and converter and otherwise nothing wrong: 1 V full scale, 25 °C, a pole at 1 kHz, one
    /// sample a reading, overloads marked, no 1/f noise, mains, offset, gain error or potential steps.
    pub fn new(range_a: f64, adc_bits: u32) -> Self {
        Self {
            potential_step_v: 0.0,
            range_a,
            adc_bits,
            full_scale_v: 1.0,
            temperature_k: REFERENCE_TEMPERATURE_K,
            corner_hz: 1e3,
            flicker_a_per_root_hz: 0.0,
            mains: None,
            gain_error: 0.0,
            offset_a: 0.0,
            samples_per_reading: 1,
            overload: Overload::Marked,
            without: None,
        }
    }

    /// The same circuit with this part perfect.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_twin::{Circuit, Part};
    /// let mut circuit = Circuit::new(1e-5, 10);
    /// circuit.potential_step_v = 0.001;
    /// assert_eq!(circuit.without(Part::PotentialSteps).applied_v(-0.0004), -0.0004);
    /// ```
    #[must_use]
    pub fn without(&self, part: Part) -> Self {
        let mut circuit = Self { without: Some(part), ..self.clone() };
        match part {
            Part::Flicker => circuit.flicker_a_per_root_hz = 0.0,
            Part::Mains => circuit.mains = None,
            Part::PotentialSteps => circuit.potential_step_v = 0.0,
            Part::ConverterSteps | Part::Johnson | Part::Shot => {}
        }
        circuit
    }

    /// Feedback resistor, Ω: full scale over range.
    pub fn feedback_ohm(&self) -> f64 {
        self.full_scale_v / self.range_a
    }

    /// Time constant of the anti-alias pole, s: 1/(2π f).
    pub fn time_constant_s(&self) -> f64 {
        1.0 / (TAU * self.corner_hz)
    }

    /// Noise bandwidth of one pole, Hz: π/2 of its corner.
    ///
    /// # Source
    /// ∫ df/(1 + (f/corner)²) from 0 to ∞; recomputed by hand.
    ///
    /// # Example
    ///
    /// ```
    /// let circuit = stillwell_twin::Circuit::new(1e-5, 16);
    /// assert!((circuit.noise_bandwidth_hz() - 1570.8).abs() < 0.1);
    /// ```
    pub fn noise_bandwidth_hz(&self) -> f64 {
        FRAC_PI_2 * self.corner_hz
    }

    /// The current's converter.
    pub fn converter(&self) -> Converter {
        Converter { range_a: self.range_a, bits: self.adc_bits }
    }

    /// Noise of one converter sample at a current, by its causes.
    ///
    /// # Units
    /// A, standard deviations.
    ///
    /// # Source
    /// [`johnson_a2_per_hz`] and [`shot_a2_per_hz`] over the noise bandwidth; [`flicker_variance_a2`]; amplitude/√2 after
    /// the pole; Δ²/12 (Widrow, Kollár & Liu 1996, IEEE Trans. Instrum. Meas. 45, 353; from memory).
    ///
    /// # Example
    ///
    /// ```
    /// let noise = stillwell_twin::Circuit::new(1e-5, 16).sample_noise(-1e-6);
    /// assert!((noise.johnson_a - 16.1e-12).abs() < 0.1e-12); // 100 kΩ over 1571 Hz
    /// assert!(noise.quantisation_a > noise.johnson_a);
    /// ```
    pub fn sample_noise(&self, current_a: f64) -> SampleNoise {
        let bandwidth_hz = self.noise_bandwidth_hz();
        let johnson_a2 = johnson_a2_per_hz(self.feedback_ohm(), self.temperature_k) * bandwidth_hz;
        let mains_a = self.mains.map_or(0.0, |mains| {
            let ratio = mains.frequency_hz / self.corner_hz;
            mains.amplitude_a / libm::sqrt(2.0 * (1.0 + ratio * ratio))
        });
        SampleNoise {
            johnson_a: libm::sqrt(johnson_a2),
            shot_a: libm::sqrt(shot_a2_per_hz(current_a) * bandwidth_hz),
            flicker_a: libm::sqrt(flicker_variance_a2(self.flicker_a_per_root_hz, self.corner_hz)),
            mains_a,
            quantisation_a: self.converter().step_a() / libm::sqrt(12.0),
        }
    }

    /// A potential as the potential's converter makes it, V: the nearest whole step.
    ///
    /// # Source
    /// Common practice, no source.
    ///
    /// # Example
    ///
    /// ```
    /// let mut circuit = stillwell_twin::Circuit::new(1e-5, 16);
    /// circuit.potential_step_v = 0.25;
    /// assert_eq!(circuit.applied_v(-0.6), -0.5);
    /// ```
    pub fn applied_v(&self, programmed_v: f64) -> f64 {
        if self.potential_step_v > 0.0 {
            libm::round(programmed_v / self.potential_step_v) * self.potential_step_v
        } else {
            programmed_v
        }
    }

    /// The technique that this circuit really applies: start, step, amplitude and deposition become whole steps of the
    /// potential's converter, once, and every level is counted from them. A staircase keeps its number of points and its
    /// time per step, so its end, its vertex and the rate of a sweep move with the rounded step. Simulate this one; its
    /// points are at the potentials applied.
    ///
    /// The settings are rounded and not each level: levels rounded one by one would make steps of unequal size, each with
    /// its own charging current, so firmware that means to run a staircase counts codes. An instrument that does round
    /// each level keeps the ends of the window, and its unequal steps are not shown here.
    ///
    /// # Errors
    /// The circuit is impossible, or a step or amplitude is less than half a converter step and would vanish.
    ///
    /// # Source
    /// Common practice, no source: firmware counts a staircase in whole converter codes.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_scan::{Technique, TechniqueKind};
    /// let mut circuit = stillwell_twin::Circuit::new(1e-5, 16);
    /// circuit.potential_step_v = 0.0004;
    /// let mut technique = Technique::new(TechniqueKind::SquareWave, 0.0, -0.5);
    /// technique.step_v = Some(0.001);
    /// let applied = circuit.applied(&technique)?;
    /// assert_eq!(applied.n_points(), technique.n_points());
    /// assert!((applied.end_v + 0.6).abs() < 1e-12); // 500 steps of 1.2 mV (half a step is rounded away from zero)
    /// # Ok::<(), stillwell_twin::TwinError>(())
    /// ```
    pub fn applied(&self, technique: &Technique) -> Result<Technique, TwinError> {
        self.check()?;
        if self.potential_step_v <= 0.0 {
            return Ok(technique.clone());
        }
        let kept = |what: &str, value_v: Option<f64>| match value_v {
            Some(value_v) if value_v != 0.0 && self.applied_v(value_v) == 0.0 => Err(TwinError::OutOfRange {
                what: format!("the technique's {what} of {value_v} V in converter steps"),
                found: value_v / self.potential_step_v,
                accepted: "at least half a step",
            }),
            value_v => Ok(value_v.map(|value_v| self.applied_v(value_v))),
        };
        let mut applied = technique.clone();
        applied.start_v = self.applied_v(technique.start_v);
        applied.end_v = self.applied_v(technique.end_v);
        applied.vertex_v = technique.vertex_v.map(|vertex_v| self.applied_v(vertex_v));
        applied.deposition_v = technique.deposition_v.map(|potential_v| self.applied_v(potential_v));
        applied.amplitude_v = kept("amplitude", technique.amplitude_v)?;
        applied.step_v = kept("step", technique.step_v)?;
        if let (Some(programmed_v), Some(step_v)) = (technique.step_v, applied.step_v) {
            let of_step = |rate_v_per_s: f64| rate_v_per_s * step_v / programmed_v;
            applied.scan_rate_v_per_s = technique.scan_rate_v_per_s.map(of_step);
            if technique.n_points().is_some() {
                let counted = |from_v: f64, to_v: f64| libm::round((to_v - from_v) / programmed_v) * step_v;
                let turn_v = technique.vertex_v.filter(|_| technique.kind == TechniqueKind::Cyclic);
                let before_end_v = turn_v.unwrap_or(technique.start_v);
                let turned_v = turn_v.map(|turn_v| applied.start_v + counted(technique.start_v, turn_v));
                applied.end_v = turned_v.unwrap_or(applied.start_v) + counted(before_end_v, technique.end_v);
                applied.vertex_v = turned_v.or(applied.vertex_v);
            }
        }
        Ok(applied)
    }

    /// Refuses impossible circuits.
    ///
    /// # Errors
    /// The first number out of its range, with the range.
    pub fn check(&self) -> Result<(), TwinError> {
        within("the circuit's potential step in V", self.potential_step_v, 0.0..=0.1, "0 to 0.1")?;
        within("the circuit's range in A", self.range_a, 1e-13..=10.0, "1e-13 to 10")?;
        within("the circuit's converter bits", f64::from(self.adc_bits), 2.0..=32.0, "2 to 32")?;
        within("the circuit's full scale in V", self.full_scale_v, 1e-3..=100.0, "1e-3 to 100")?;
        within("the circuit's temperature in K", self.temperature_k, 200.0..=450.0, "200 to 450")?;
        within("the circuit's corner in Hz", self.corner_hz, 0.1..=1e7, "0.1 to 1e7")?;
        let flicker = self.flicker_a_per_root_hz;
        within("the circuit's 1/f noise at 1 Hz in A/√Hz", flicker, 0.0..=1e-3, "0 to 1e-3")?;
        within("the circuit's gain error as a share", self.gain_error, -0.5..=0.5, "-0.5 to 0.5")?;
        within("the circuit's offset in A", self.offset_a, -10.0..=10.0, "-10 to 10")?;
        let samples = f64::from(self.samples_per_reading);
        within("the circuit's samples per reading", samples, 1.0..=1e4, "1 to 1e4")?;
        let Some(mains) = self.mains else { return Ok(()) };
        within("the mains' amplitude in A", mains.amplitude_a, 0.0..=10.0, "0 to 10")?;
        within("the mains' frequency in Hz", mains.frequency_hz, 1.0..=1e4, "1 to 1e4")?;
        within("the mains' phase in rad", mains.phase_rad.unwrap_or(0.0), -1e3..=1e3, "-1e3 to 1e3")
    }
}

fn within(
    what: &str,
    found: f64,
    range: RangeInclusive<f64>,
    accepted: &'static str,
) -> Result<(), TwinError> {
    if range.contains(&found) {
        return Ok(());
    }
    Err(TwinError::OutOfRange { what: what.to_owned(), found, accepted })
}

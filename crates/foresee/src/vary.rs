//! The numbers of a circuit that a trade study may vary, by the names they have in its file.

use stillwell_method::toml_file::nearest;
use stillwell_twin::{Circuit, Mains, TwinError};

use crate::judged::range;
use crate::model::CircuitModel;

/// A number of the circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CircuitKey {
    /// Bits of the current's converter.
    ConverterBits,
    /// Current at the ends of the range.
    Range,
    /// Voltage at the end of the range.
    FullScale,
    /// Corner of the pole before the converter.
    Corner,
    /// Samples averaged for a reading.
    Samples,
    /// Time over which they are spread.
    SamplingWindow,
    /// Step of the potential's converter.
    PotentialStep,
    /// 1/f noise at 1 Hz.
    Flicker,
    /// Amplitude of the mains; its frequency stays that of the file.
    Mains,
    /// Error of the gain.
    GainError,
    /// Offset of the current.
    Offset,
}

/// A key with the values that a study tries.
#[derive(Debug, Clone, PartialEq)]
pub struct Varied {
    /// Which number.
    pub key: CircuitKey,
    /// Its values, in the order given, no two the same; one at least.
    pub values: Vec<f64>,
}

/// Why a circuit cannot be varied so.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum VaryError {
    /// There is no equals sign.
    #[error(
        "`{found}` does not say what becomes of a key; accepted: key=value,value…, such as adc_bits=10,12,16"
    )]
    NoEqualsSign {
        /// As given.
        found: String,
    },
    /// No such key.
    #[error("unknown key `{found}`; {cure}")]
    UnknownKey {
        /// As given.
        found: String,
        /// The nearest known key, or all of them.
        cure: String,
    },
    /// A value is not a number.
    #[error("`{key}` is given `{found}`; accepted: numbers with a decimal point, separated by commas")]
    NotANumber {
        /// The key.
        key: &'static str,
        /// As given.
        found: String,
    },
    /// A value stands twice.
    #[error("`{key}` is given {value} twice; each value is tried once")]
    Repeated {
        /// The key.
        key: &'static str,
        /// The value.
        value: f64,
    },
    /// A value out of its range.
    #[error("`{key}` is {found}; accepted: {accepted}")]
    OutOfRange {
        /// The key.
        key: &'static str,
        /// As given.
        found: f64,
        /// The range.
        accepted: String,
    },
    /// The mains' amplitude has no frequency to go with.
    #[error(
        "`mains_a` is {found}, but the circuit has no mains; state [circuit.mains] with frequency_hz in its file"
    )]
    NoMains {
        /// As given.
        found: f64,
    },
}

impl CircuitKey {
    /// Every key.
    pub const ALL: [Self; 11] = [
        Self::ConverterBits,
        Self::Range,
        Self::FullScale,
        Self::Corner,
        Self::Samples,
        Self::SamplingWindow,
        Self::PotentialStep,
        Self::Flicker,
        Self::Mains,
        Self::GainError,
        Self::Offset,
    ];

    /// The key of the circuit's file; `mains_a` is the amplitude in `[circuit.mains]`.
    pub fn name(self) -> &'static str {
        match self {
            Self::ConverterBits => "adc_bits",
            Self::Range => "range_a",
            Self::FullScale => "full_scale_v",
            Self::Corner => "corner_hz",
            Self::Samples => "samples_per_reading",
            Self::SamplingWindow => "sampling_window_s",
            Self::PotentialStep => "potential_step_v",
            Self::Flicker => "flicker_a_per_root_hz",
            Self::Mains => "mains_a",
            Self::GainError => "gain_error",
            Self::Offset => "offset_a",
        }
    }

    /// Its unit; empty for counts and shares.
    pub fn unit(self) -> &'static str {
        match self {
            Self::ConverterBits => "bit",
            Self::Range | Self::Mains | Self::Offset => "A",
            Self::FullScale | Self::PotentialStep => "V",
            Self::Corner => "Hz",
            Self::SamplingWindow => "s",
            Self::Flicker => "A/√Hz",
            Self::Samples | Self::GainError => "",
        }
    }

    /// What it is, for a table's head or an axis.
    pub fn label(self) -> &'static str {
        match self {
            Self::ConverterBits => "bits of the current's converter",
            Self::Range => "current at the ends of the range",
            Self::FullScale => "voltage at the end of the range",
            Self::Corner => "corner of the pole before the converter",
            Self::Samples => "samples averaged for a reading",
            Self::SamplingWindow => "window over which the samples are spread",
            Self::PotentialStep => "step of the potential's converter",
            Self::Flicker => "1/f noise at 1 Hz",
            Self::Mains => "amplitude of the mains in the current",
            Self::GainError => "error of the gain, as a share",
            Self::Offset => "offset of the current",
        }
    }

    /// The key of this name.
    ///
    /// # Errors
    /// No such key, with the nearest that exists.
    pub fn parse(name: &str) -> Result<Self, VaryError> {
        if let Some(key) = Self::ALL.into_iter().find(|key| key.name() == name) {
            return Ok(key);
        }
        let names = Self::ALL.map(Self::name);
        let cure = nearest(name, &names).map_or_else(
            || format!("known here: {}", names.join(", ")),
            |hint| format!("did you mean `{hint}`?"),
        );
        Err(VaryError::UnknownKey { found: name.chars().take(60).collect(), cure })
    }

    /// Its value in a circuit, in [`CircuitKey::unit`]; 0 for the amplitude of mains that are not there.
    pub fn get(self, model: &CircuitModel) -> f64 {
        let circuit = &model.circuit;
        match self {
            Self::ConverterBits => f64::from(circuit.adc_bits),
            Self::Range => circuit.range_a,
            Self::FullScale => circuit.full_scale_v,
            Self::Corner => circuit.corner_hz,
            Self::Samples => f64::from(circuit.samples_per_reading),
            Self::SamplingWindow => model.sampling_window_s,
            Self::PotentialStep => circuit.potential_step_v,
            Self::Flicker => circuit.flicker_a_per_root_hz,
            Self::Mains => circuit.mains.map_or(0.0, |mains| mains.amplitude_a),
            Self::GainError => circuit.gain_error,
            Self::Offset => circuit.offset_a,
        }
    }

    /// Gives it another value. What only the technique can judge (how long a window may be) is left to the simulation.
    ///
    /// # Errors
    /// The value is out of its range, or not whole where only whole numbers make sense; the circuit then stays as it was.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_foresee::{CircuitKey, CircuitModel};
    /// let mut model = CircuitModel::parse("circuit.toml", "[circuit]\nrange_a = 1e-4\nadc_bits = 16")?;
    /// CircuitKey::ConverterBits.set(&mut model, 12.0)?;
    /// assert_eq!(model.circuit.adc_bits, 12);
    /// assert!(CircuitKey::ConverterBits.set(&mut model, 12.5).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn set(self, model: &mut CircuitModel, value: f64) -> Result<(), VaryError> {
        let mut changed = model.clone();
        let circuit = &mut changed.circuit;
        match self {
            Self::ConverterBits => circuit.adc_bits = self.whole(value)?,
            Self::Range => circuit.range_a = value,
            Self::FullScale => circuit.full_scale_v = value,
            Self::Corner => circuit.corner_hz = value,
            Self::Samples => circuit.samples_per_reading = self.whole(value)?,
            Self::SamplingWindow => changed.sampling_window_s = self.window_s(value)?,
            Self::PotentialStep => circuit.potential_step_v = value,
            Self::Flicker => circuit.flicker_a_per_root_hz = value,
            Self::Mains => match &mut circuit.mains {
                Some(mains) => mains.amplitude_a = value,
                None if value == 0.0 => {}
                None => return Err(VaryError::NoMains { found: value }),
            },
            Self::GainError => circuit.gain_error = value,
            Self::Offset => circuit.offset_a = value,
        }
        changed.circuit.check().map_err(|error| self.refused(value, &error))?;
        *model = changed;
        Ok(())
    }

    fn refused(self, found: f64, error: &TwinError) -> VaryError {
        let whole = if self.is_whole() { "a whole number, " } else { "" };
        VaryError::OutOfRange { key: self.name(), found, accepted: format!("{whole}{}", range(error)) }
    }

    fn is_whole(self) -> bool {
        matches!(self, Self::ConverterBits | Self::Samples)
    }

    fn whole(self, value: f64) -> Result<u32, VaryError> {
        if (0.0..=f64::from(u32::MAX)).contains(&value) && value - libm::trunc(value) == 0.0 {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole and in range")]
            let whole = value as u32;
            return Ok(whole);
        }
        // What is not whole is told the range that the largest whole number would be told.
        Err(match self.set(&mut sound(), f64::from(u32::MAX)) {
            Err(VaryError::OutOfRange { key, accepted, .. }) => {
                VaryError::OutOfRange { key, found: value, accepted }
            }
            _ => VaryError::OutOfRange {
                key: self.name(),
                found: value,
                accepted: "a whole number".to_owned(),
            },
        })
    }

    fn window_s(self, value: f64) -> Result<f64, VaryError> {
        if (0.0..=f64::MAX).contains(&value) {
            return Ok(value);
        }
        let accepted = "0 to nine tenths of the shortest pulse".to_owned();
        Err(VaryError::OutOfRange { key: self.name(), found: value, accepted })
    }
}

impl Varied {
    /// Reads `key=value,value…`; the values are tried in a sound circuit at once.
    ///
    /// # Errors
    /// No such key, a value that is no number, stands twice or is out of its range.
    ///
    /// # Example
    ///
    /// ```
    /// use stillwell_foresee::{CircuitKey, Varied};
    /// let varied = Varied::parse("adc_bits=10,12,16,24")?;
    /// assert_eq!(varied.key, CircuitKey::ConverterBits);
    /// assert_eq!(varied.values, [10.0, 12.0, 16.0, 24.0]);
    /// # Ok::<(), stillwell_foresee::VaryError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, VaryError> {
        let Some((name, list)) = text.split_once('=') else {
            return Err(VaryError::NoEqualsSign { found: text.chars().take(60).collect() });
        };
        let key = CircuitKey::parse(name.trim())?;
        let mut values: Vec<f64> = Vec::new();
        for word in list.split(',').map(str::trim) {
            let value = word.parse::<f64>().ok().filter(|value| value.is_finite());
            let Some(value) = value else {
                return Err(VaryError::NotANumber {
                    key: key.name(),
                    found: word.chars().take(60).collect(),
                });
            };
            if values.iter().any(|known| (known - value).abs() == 0.0) {
                return Err(VaryError::Repeated { key: key.name(), value });
            }
            key.set(&mut sound(), value)?;
            values.push(value);
        }
        Ok(Self { key, values })
    }
}

/// A circuit in which nothing is wrong.
fn sound() -> CircuitModel {
    let mut circuit = Circuit::new(1e-6, 16);
    circuit.mains = Some(Mains { amplitude_a: 0.0, frequency_hz: 50.0, phase_rad: None });
    CircuitModel { circuit, sampling_window_s: 0.0 }
}

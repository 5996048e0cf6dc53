//! CIRCUIT.toml: the circuit that reads the cell, as a person writes it.

use stillwell_method::Problems;
use stillwell_method::toml_file::{Bounds, Reader, Section};
use stillwell_twin::{Circuit, Mains, Overload, TwinError};

use crate::judged::{Key, whole};
use crate::model::CircuitModel;

impl CircuitModel {
    /// Reads a circuit file.
    ///
    /// # Errors
    /// Everything that is wrong, each with its place and what would be accepted; an unknown key names the nearest known one.
    ///
    /// # Example
    ///
    /// ```
    /// let text = "[circuit]\nrange_a = 100e-6\nadc_bits = 16\nsamples_per_reading = 4\nsampling_window_s = 2e-3";
    /// let model = stillwell_foresee::CircuitModel::parse("circuit.toml", text)?;
    /// assert_eq!(model.circuit.adc_bits, 16);
    /// # Ok::<(), stillwell_method::Problems>(())
    /// ```
    pub fn parse(file_name: &str, source: &str) -> Result<Self, Problems> {
        Reader::read(file_name, source, read)
    }
}

fn read(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<CircuitModel> {
    let mut section = root.section(reader, "circuit");
    let range_a = Key::same("range_a").require(&mut section, reader, tried(|c, value| c.range_a = value));
    if section.raw("adc_bits").is_none() {
        section.missing(reader, "adc_bits", "16");
    }
    let adc_bits = whole(&mut section, reader, "adc_bits", |bits| changed(|c| c.adc_bits = bits).check());
    let circuit = range_a.zip(adc_bits).map(|(range_a, bits)| Circuit::new(range_a, bits));
    let mut circuit = circuit.unwrap_or_else(|| changed(|_| ()));
    numbers(reader, &mut section, &mut circuit);
    let overloads = [("marked", Overload::Marked), ("silent", Overload::Silent)];
    circuit.overload = section.choice(reader, "overload", &overloads).unwrap_or(circuit.overload);
    circuit.mains = mains(reader, &mut section);
    let sampling_window_s = section.number(reader, "sampling_window_s", Bounds::NOT_NEGATIVE).unwrap_or(0.0);
    if let (true, Some(item)) = (sampling_window_s == 0.0, section.raw("samples_per_reading"))
        && circuit.samples_per_reading > 1
    {
        let accepted = "1, or a sampling_window_s above 0 over which the samples are spread";
        section.wrong::<()>(reader, "samples_per_reading", item, accepted);
    }
    section.finish(reader);
    range_a.and(adc_bits).map(|_| CircuitModel { circuit, sampling_window_s })
}

type Put = fn(&mut Circuit, f64);

/// The optional numbers.
fn numbers(reader: &mut Reader<'_>, section: &mut Section<'_>, circuit: &mut Circuit) {
    let samples = whole(section, reader, "samples_per_reading", |samples| {
        changed(|c| c.samples_per_reading = samples).check()
    });
    circuit.samples_per_reading = samples.unwrap_or(circuit.samples_per_reading);
    let keys: [(Key, Put); 7] = [
        (Key::same("potential_step_v"), |c, value| c.potential_step_v = value),
        (Key::same("full_scale_v"), |c, value| c.full_scale_v = value),
        (Key::celsius("temperature_c"), |c, value| c.temperature_k = value),
        (Key::same("corner_hz"), |c, value| c.corner_hz = value),
        (Key::same("flicker_a_per_root_hz"), |c, value| c.flicker_a_per_root_hz = value),
        (Key::same("gain_error"), |c, value| c.gain_error = value),
        (Key::same("offset_a"), |c, value| c.offset_a = value),
    ];
    for (key, put) in keys {
        if let Some(value) = key.read(section, reader, tried(put)) {
            put(circuit, value);
        }
    }
}

fn mains(reader: &mut Reader<'_>, circuit: &mut Section<'_>) -> Option<Mains> {
    let mut section = circuit.section(reader, "mains");
    if !section.is_present() {
        return None;
    }
    let tried_mains = |put: fn(&mut Mains, f64)| {
        tried(move |c, value| {
            let mut mains = Mains { amplitude_a: 0.0, frequency_hz: 50.0, phase_rad: None };
            put(&mut mains, value);
            c.mains = Some(mains);
        })
    };
    let amplitude_a = Key::same("amplitude_a").require(
        &mut section,
        reader,
        tried_mains(|mains, value| mains.amplitude_a = value),
    );
    let frequency_hz = Key::same("frequency_hz").require(
        &mut section,
        reader,
        tried_mains(|mains, value| mains.frequency_hz = value),
    );
    let phase_rad = Key::same("phase_rad").read(
        &mut section,
        reader,
        tried_mains(|mains, value| mains.phase_rad = Some(value)),
    );
    section.finish(reader);
    Some(Mains { amplitude_a: amplitude_a?, frequency_hz: frequency_hz?, phase_rad })
}

/// A circuit in which nothing is wrong, with one change to try.
fn changed(change: impl FnOnce(&mut Circuit)) -> Circuit {
    let mut circuit = Circuit::new(1e-6, 16);
    change(&mut circuit);
    circuit
}

fn tried(put: impl Fn(&mut Circuit, f64)) -> impl Fn(f64) -> Result<(), TwinError> {
    move |value| changed(|circuit| put(circuit, value)).check()
}

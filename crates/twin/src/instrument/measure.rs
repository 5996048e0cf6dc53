//! From a simulated current to the scan that an instrument would report.

use stillwell_scan::Scan;
use stillwell_stats::random::RandomStream;

use super::circuit::{Circuit, Overload, Part};
use super::converter::Converter;
use super::filter::Filtered;
use super::noise::Noise;
use crate::error::TwinError;
use crate::trace::{AnalogTrace, Reading, Trace, Window};

/// The scan that a circuit reports of a simulated current.
///
/// Give each scan a [`RandomStream`] of its own. Johnson and shot noise, 1/f noise and mains draw from separate branches
/// of it: two circuits that differ in one part only see the same noise in the others.
///
/// # Units
/// A and V; forward, reverse and their difference in A as the converter's codes stand for them, averaged over a
/// reading's samples.
///
/// # Errors
/// The circuit is impossible; several samples a reading are asked of a trace whose windows are instants.
///
/// # Source
/// Of each noise beside its formula ([`crate::johnson_a2_per_hz`], [`crate::shot_a2_per_hz`],
/// [`crate::flicker_variance_a2`]); the chain of pole, gain, offset and converter: common practice, no source.
///
/// # Example
///
/// ```
/// use stillwell_scan::{Technique, TechniqueKind};
/// use stillwell_stats::random::RandomStream;
/// use stillwell_twin::{Cell, Circuit, Couple, Geometry, Recording, Species, measure, simulate};
/// let mut cell = Cell::new(Geometry::Disc { radius_m: 1.5e-3 });
/// let oxidised = cell.add(Species::dissolved("oxidised", 1.0, 7.6e-10));
/// let reduced = cell.add(Species::dissolved("reduced", 0.0, 7.6e-10));
/// cell.couples.push(Couple::new(oxidised, reduced, 0.0, 1.0));
/// let mut technique = Technique::new(TechniqueKind::SquareWave, 0.3, -0.3);
/// technique.step_v = Some(0.01);
/// technique.amplitude_v = Some(0.05);
/// technique.frequency_hz = Some(25.0);
/// let trace = simulate(&cell, &technique, &Recording::default())?;
/// let narrow = Circuit::new(20e-6, 12); // the peak is at 70 µA
/// let scan = measure(&trace, &narrow, &mut RandomStream::new(1, 0))?;
/// assert!(!scan.overload_points.is_empty());
/// # Ok::<(), stillwell_twin::TwinError>(())
/// ```
pub fn measure(trace: &Trace, circuit: &Circuit, stream: &mut RandomStream) -> Result<Scan, TwinError> {
    circuit.check()?;
    check_windows(&trace.analog, circuit)?;
    let mut front = Front {
        circuit,
        converter: circuit.converter(),
        filtered: Filtered::new(&trace.analog, circuit.time_constant_s()),
        noise: Noise::new(circuit, stream),
    };
    Ok(read_windows(trace, |analog, window| front.read_a(analog, window)))
}

/// Several samples at one instant would be one sample. (Only a ramp's first point has nothing before it to average.)
fn check_windows(analog: &AnalogTrace, circuit: &Circuit) -> Result<(), TwinError> {
    let is_instant = |window: &Window| window.first == window.last && window.last > 0;
    if circuit.samples_per_reading > 1 && analog.windows.iter().any(is_instant) {
        return Err(TwinError::OutOfRange {
            what: "the circuit's samples per reading, where the trace is read at instants,".to_owned(),
            found: f64::from(circuit.samples_per_reading),
            accepted: "1, or a recording with a sampling window",
        });
    }
    Ok(())
}

/// Everything between cell and code.
struct Front<'a> {
    circuit: &'a Circuit,
    converter: Converter,
    filtered: Filtered<'a>,
    noise: Noise,
}

impl Front<'_> {
    /// One reading, A: the mean of its samples; NaN where one is at an end of the range and overloads are marked.
    fn read_a(&mut self, analog: &AnalogTrace, window: &Window) -> f64 {
        let (Some(&first_s), Some(&last_s)) =
            (analog.time_s.get(window.first), analog.time_s.get(window.last))
        else {
            return f64::NAN;
        };
        let n_samples = self.circuit.samples_per_reading;
        let is_stepless = self.circuit.without == Some(Part::ConverterSteps);
        let (mut sum, mut sum_a) = (0_i64, 0.0);
        let mut has_end = false;
        for sample in 1..=n_samples {
            let share = f64::from(n_samples - sample) / f64::from(n_samples);
            let time_s = last_s - share * (last_s - first_s);
            let sample_a = self.sample_a(time_s);
            let code = self.converter.code(sample_a);
            sum += code.code;
            sum_a += if code.is_end { self.converter.current_a(code) } else { sample_a };
            has_end |= code.is_end;
        }
        if has_end && self.circuit.overload == Overload::Marked {
            return f64::NAN;
        }
        if is_stepless {
            return sum_a / f64::from(n_samples);
        }
        sum as f64 / f64::from(n_samples) * self.converter.step_a()
    }

    /// What stands at the converter's input.
    fn sample_a(&mut self, time_s: f64) -> f64 {
        let current_a = self.filtered.at_a(time_s);
        let noisy_a = current_a + self.noise.at_a(time_s, current_a);
        (1.0 + self.circuit.gain_error) * noisy_a + self.circuit.offset_a
    }
}

/// A trace read anew: `read_a` gives the current of each window, in the order of time.
pub(crate) fn read_windows(trace: &Trace, mut read_a: impl FnMut(&AnalogTrace, &Window) -> f64) -> Scan {
    let mut scan = trace.to_scan("measured");
    for window in &trace.analog.windows {
        let value_a = read_a(&trace.analog, window);
        let column = match (window.reading, &mut scan.forward_a, &mut scan.reverse_a) {
            (Reading::Forward, Some(forward_a), _) => forward_a,
            (Reading::Reverse, _, Some(reverse_a)) => reverse_a,
            _ => &mut scan.current_a,
        };
        if let Some(place) = column.get_mut(window.point) {
            *place = value_a;
        }
    }
    if let (Some(forward_a), Some(reverse_a)) = (&scan.forward_a, &scan.reverse_a) {
        scan.current_a =
            forward_a.iter().zip(reverse_a).map(|(forward, reverse)| forward - reverse).collect();
    }
    let points = scan.current_a.iter().enumerate();
    scan.overload_points =
        points.filter(|(_, current)| !current.is_finite()).map(|(index, _)| index).collect();
    scan
}

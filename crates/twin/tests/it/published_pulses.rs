//! Square waves and pulses against `checks/voltammetry.toml`.

use stillwell_scan::TechniqueKind;
use stillwell_twin::{Recording, Resolution, simulate};

use crate::check_values::{Comparison, case};
use crate::scenes::{REVERSIBLE, cottrell_a, half_width, negated, one_couple, peak, pulses, square_wave};

/// Half a period of the square waves, s; and the pulses of differential pulse scans.
const PULSE_S: f64 = 0.02;

fn fine() -> Recording {
    Recording { resolution: Resolution::default().finer(3), ..Recording::default() }
}

/// Largest ΔΨ on the points of the staircase, one of which lies at E½.
fn largest_difference(amplitude_v: f64, step_v: f64, recording: &Recording) -> f64 {
    let technique = square_wave(0.4, -0.2, amplitude_v, step_v, 0.5 / PULSE_S);
    let trace = simulate(&one_couple(REVERSIBLE), &technique, recording).unwrap();
    trace.current_a.iter().fold(f64::MIN, |top, current| top.max(-current)) / cottrell_a(PULSE_S)
}

#[test]
fn square_wave_peaks_have_their_height() {
    let mut comparison = Comparison::default();
    let values = case("swv_peak_table");
    for value in &values {
        // A technique needs an amplitude: a nanovolt stands for none (its share of the smallest peak: 4e-6).
        let amplitude_v = (1e-3 * value.at("n_Esw_mv")).max(1e-9);
        let found = largest_difference(amplitude_v, 1e-3 * value.at("n_dEs_mv"), &fine());
        comparison.hold(&value.name, found, value.expected(), 0.001);
    }
    comparison.end(values.len());
}

#[test]
fn square_wave_has_its_shape_point_by_point() {
    let values = case("swv_wave");
    let curve = |name: &str| values.iter().find(|value| value.name == name).unwrap();
    let technique = square_wave(0.4, -0.2, 0.05, 0.01, 0.5 / PULSE_S);
    let trace = simulate(&one_couple(REVERSIBLE), &technique, &fine()).unwrap();
    let height = curve("dPsi_peak").expected();
    let columns = [
        ("psi_forward", trace.forward_a.as_ref().unwrap()),
        ("psi_reverse", trace.reverse_a.as_ref().unwrap()),
        ("dPsi", &trace.current_a),
    ];
    let mut comparison = Comparison::default();
    let potentials_mv = curve("E_minus_E12_mv").curve();
    for (name, column) in columns {
        for (at_mv, expected) in potentials_mv.iter().zip(curve(name).curve()) {
            let point = trace.potential_v.iter().position(|v| (1e3 * v - at_mv).abs() < 1e-6).unwrap();
            let found = -column[point] / cottrell_a(PULSE_S);
            comparison.hold_to(&format!("{name} at {at_mv} mV"), found, expected, height, 0.001);
        }
    }
    let (_, top) = peak(&trace.potential_v, &negated(&trace.current_a));
    // The parabola's top may lie a little above the highest point, which is what the table holds.
    comparison.hold("dPsi_peak", top / cottrell_a(PULSE_S), height, 0.005);
    // The table's width is that of the envelope over all positions of the staircase: a finer step of the grid.
    let envelope = envelope_width_mv();
    comparison.hold("half_width_mv", envelope, curve("half_width_mv").expected(), 0.005);
    comparison.end(3 * potentials_mv.len() + 2);
}

/// Width of the wave with its staircase at ten positions, 1 mV apart.
fn envelope_width_mv() -> f64 {
    let mut points: Vec<(f64, f64)> = Vec::new();
    for shift in 0..10 {
        let start_v = 0.4 + 1e-3 * f64::from(shift);
        let technique = square_wave(start_v, start_v - 0.6, 0.05, 0.01, 0.5 / PULSE_S);
        let trace = simulate(&one_couple(REVERSIBLE), &technique, &fine()).unwrap();
        points.extend(trace.potential_v.iter().copied().zip(negated(&trace.current_a)));
    }
    points.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (potential_v, current_a): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
    1e3 * half_width(&potential_v, &current_a)
}

/// Potential of the peak, height over Cottrell's current, and half width in mV. The period is 400 pulses long: the
/// formulas assume that the solution recovers between pulses.
fn differential_pulse(amplitude_v: f64) -> (f64, f64, f64) {
    let ends_v = (0.3, -0.3 - amplitude_v);
    let technique =
        pulses(TechniqueKind::DifferentialPulse, ends_v, 0.002, amplitude_v, PULSE_S, 400.0 * PULSE_S);
    let trace = simulate(&one_couple(REVERSIBLE), &technique, &fine()).unwrap();
    let current_a = negated(&trace.current_a);
    let (peak_v, height_a) = peak(&trace.potential_v, &current_a);
    (peak_v, height_a / cottrell_a(PULSE_S), 1e3 * half_width(&trace.potential_v, &current_a))
}

#[test]
fn differential_pulse_has_height_width_and_place() {
    let mut comparison = Comparison::default();
    let values = case("dpv");
    for value in &values {
        let expected = value.expected();
        match value.name.as_str() {
            "half_width_small_amplitude_in_RT_over_nF" => {
                let found = 1e-3 * differential_pulse(0.001).2 * crate::scenes::per_volt();
                comparison.hold(&value.name, found, expected, 0.001);
            }
            "half_width_small_amplitude_mv" => {
                comparison.hold(&value.name, differential_pulse(0.001).2, expected, 0.001);
            }
            "peak_shift_rule" => {
                let found = differential_pulse(0.05).0 / -0.05;
                comparison.hold(&value.name, found, expected, 0.005);
            }
            name => {
                let (_, height, width_mv) = differential_pulse(1e-3 * value.at("n_dE_mv"));
                let found = if name.starts_with("height") { height } else { width_mv };
                comparison.hold(name, found, expected, 0.005);
            }
        }
    }
    comparison.end(values.len());
}

#[test]
fn default_resolution_is_good_to_a_thousandth_of_the_peak() {
    let found = largest_difference(0.05, 0.01, &Recording::default());
    let mut comparison = Comparison::default();
    let expected = crate::check_values::expected("swv_wave", "dPsi_peak");
    comparison.hold("dPsi_peak, default resolution", found, expected, 0.001);
    comparison.end(1);
}

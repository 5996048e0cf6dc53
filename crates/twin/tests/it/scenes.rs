//! Cells and techniques that several tests share: 1 mol/m³ of the oxidised form on a plane of 1 cm², formal potential 0.

use stillwell_scan::{Technique, TechniqueKind};
use stillwell_twin::{
    Cell, Couple, FARADAY_C_PER_MOL, Geometry, Recording, Resolution, Species, Sweep, thermal_voltage_v,
};

pub(crate) const D: f64 = 1e-9;
pub(crate) const AREA_M2: f64 = 1e-4;
/// Fast enough to count as reversible, m/s.
pub(crate) const REVERSIBLE: f64 = 1e3;

/// F/RT at 25 °C, 1/V.
pub(crate) fn per_volt() -> f64 {
    1.0 / thermal_voltage_v(298.15)
}

pub(crate) fn one_couple(rate_constant_m_per_s: f64) -> Cell {
    couple_on(Geometry::Plane { area_m2: AREA_M2 }, D, rate_constant_m_per_s)
}

pub(crate) fn couple_on(geometry: Geometry, diffusion_m2_per_s: f64, rate_constant_m_per_s: f64) -> Cell {
    let mut cell = Cell::new(geometry);
    let oxidised = cell.add(Species::dissolved("oxidised", 1.0, diffusion_m2_per_s));
    let reduced = cell.add(Species::dissolved("reduced", 0.0, diffusion_m2_per_s));
    cell.couples.push(Couple::new(oxidised, reduced, 0.0, rate_constant_m_per_s));
    cell
}

/// A true ramp, divided in time and space `factor` times as finely as by default.
pub(crate) fn ramp(factor: u32) -> Recording {
    Recording { sweep: Sweep::Ramp, resolution: Resolution::default().finer(factor), ..Recording::default() }
}

/// Cottrell's current on [`one_couple`], A.
pub(crate) fn cottrell_a(time_s: f64) -> f64 {
    FARADAY_C_PER_MOL * AREA_M2 * libm::sqrt(D / (core::f64::consts::PI * time_s))
}

pub(crate) fn square_wave(
    start_v: f64,
    end_v: f64,
    amplitude_v: f64,
    step_v: f64,
    frequency_hz: f64,
) -> Technique {
    let mut technique = Technique::new(TechniqueKind::SquareWave, start_v, end_v);
    technique.step_v = Some(step_v);
    technique.amplitude_v = Some(amplitude_v);
    technique.frequency_hz = Some(frequency_hz);
    technique
}

pub(crate) fn linear_sweep(start_v: f64, end_v: f64, step_v: f64, rate_v_per_s: f64) -> Technique {
    let mut technique = Technique::new(TechniqueKind::LinearSweep, start_v, end_v);
    technique.step_v = Some(step_v);
    technique.scan_rate_v_per_s = Some(rate_v_per_s);
    technique
}

pub(crate) fn pulses(
    kind: TechniqueKind,
    ends_v: (f64, f64),
    step_v: f64,
    amplitude_v: f64,
    pulse_s: f64,
    period_s: f64,
) -> Technique {
    let mut technique = Technique::new(kind, ends_v.0, ends_v.1);
    technique.step_v = Some(step_v);
    technique.amplitude_v = Some(amplitude_v);
    technique.pulse_s = Some(pulse_s);
    technique.pulse_period_s = Some(period_s);
    technique
}

pub(crate) fn constant(potential_v: f64, duration_s: f64) -> Technique {
    let mut technique = Technique::new(TechniqueKind::Chronoamperometry, potential_v, potential_v);
    technique.duration_s = Some(duration_s);
    technique
}

/// Place and height of the highest point, by the parabola through it and its neighbours.
pub(crate) fn peak(x: &[f64], y: &[f64]) -> (f64, f64) {
    let top = (1..y.len() - 1).max_by(|&a, &b| y[a].total_cmp(&y[b])).unwrap();
    let (left, middle, right) = (y[top - 1], y[top], y[top + 1]);
    let shift = 0.5 * (left - right) / (left - 2.0 * middle + right);
    (x[top] + shift * (x[top + 1] - x[top]), middle - 0.25 * (left - right) * shift)
}

/// Where a curve first passes a level after point `from`, by the straight line between two points.
pub(crate) fn crossing(x: &[f64], y: &[f64], level: f64, from: usize) -> f64 {
    let pair = (from..y.len() - 1).find(|&i| (y[i] - level) * (y[i + 1] - level) <= 0.0).unwrap();
    x[pair] + (level - y[pair]) / (y[pair + 1] - y[pair]) * (x[pair + 1] - x[pair])
}

/// Width at half height.
pub(crate) fn half_width(x: &[f64], y: &[f64]) -> f64 {
    let (peak_x, height) = peak(x, y);
    let after = x.iter().position(|&place| (place < peak_x) == (x[0] > peak_x)).unwrap();
    (crossing(x, y, height / 2.0, after) - crossing(x, y, height / 2.0, 0)).abs()
}

pub(crate) fn negated(current_a: &[f64]) -> Vec<f64> {
    current_a.iter().map(|current| -current).collect()
}

//! Steps of the potential, spheres and worked numbers in amperes against `checks/voltammetry.toml`.

use stillwell_scan::TechniqueKind;
use stillwell_twin::{Cell, Geometry, Recording, Resolution, simulate};

use crate::check_values::{Comparison, case, expected};
use crate::scenes::{
    REVERSIBLE, constant, couple_on, linear_sweep, negated, peak, pulses, ramp, square_wave,
};

const D: f64 = 7.6e-10;

fn fine() -> Recording {
    Recording { resolution: Resolution::default().finer(3), ..Recording::default() }
}

fn three_millimetre_disc() -> Cell {
    couple_on(Geometry::Plane { area_m2: 7.0686e-6 }, D, REVERSIBLE)
}

/// Currents of a potential step at 10 ms and 1 s, and the charge at 1 s.
fn potential_step() -> (f64, f64, f64) {
    let recording = Recording { interval_s: Some(0.01), ..fine() };
    let trace = simulate(&three_millimetre_disc(), &constant(-0.5, 1.0), &recording).unwrap();
    // Before 10 ms the charge is twice current times time, which trapezia cannot show.
    let mut charge_c = 2.0 * 0.01 * -trace.current_a[0];
    for (pair, times) in trace.current_a.windows(2).zip(trace.time_s.windows(2)) {
        // ∫ t^−½ between two points: exact for Cottrell's law, nearly so for anything close.
        let (a, b) = (libm::sqrt(times[0]), libm::sqrt(times[1]));
        charge_c -= (pair[0] * a + pair[1] * b) * (b - a);
    }
    (-trace.current_a[0], -trace.current_a[99], charge_c)
}

fn sweep_peak_a(rate_v_per_s: f64) -> f64 {
    let technique = linear_sweep(0.4, -0.2, 0.001, rate_v_per_s);
    let trace = simulate(&three_millimetre_disc(), &technique, &ramp(3)).unwrap();
    peak(&trace.potential_v, &negated(&trace.current_a)).1
}

fn highest_a(technique: &stillwell_scan::Technique) -> f64 {
    let trace = simulate(&three_millimetre_disc(), technique, &fine()).unwrap();
    trace.current_a.iter().fold(f64::MIN, |top, current| top.max(-current))
}

#[test]
fn worked_numbers_come_out_in_amperes() {
    let (at_10ms_a, at_1s_a, charge_c) = potential_step();
    // −25 mV, where the pulse of −50 mV has its peak, is a point of this staircase.
    let differential = pulses(TechniqueKind::DifferentialPulse, (0.225, -0.175), 0.005, 0.05, 0.05, 20.0);
    let normal = pulses(TechniqueKind::NormalPulse, (0.4, -0.4), 0.01, 0.05, 0.05, 20.0);
    let mut comparison = Comparison::default();
    let mut hold = |name: &str, found: f64, tolerance: f64| {
        comparison.hold(name, found, expected("worked_macro", name), tolerance);
    };
    hold("cottrell_i_at_1s_A", at_1s_a, 0.001);
    hold("cottrell_i_at_10ms_A", at_10ms_a, 0.001);
    hold("anson_charge_at_1s_C", charge_c, 0.001);
    hold("randles_sevcik_50mV_s_A", sweep_peak_a(0.05), 0.001);
    hold("randles_sevcik_100mV_s_A", sweep_peak_a(0.1), 0.001);
    hold("swv_peak_25Hz_A", highest_a(&square_wave(0.4, -0.2, 0.05, 0.01, 25.0)), 0.001);
    // The formulas of both pulses assume that the solution recovers wholly between them.
    hold("dpv_peak_50ms_50mV_A", highest_a(&differential), 0.005);
    hold("npv_limit_50ms_A", highest_a(&normal), 0.005);
    comparison.end(case("worked_macro").len());
}

/// Current of a sphere or hemisphere of 5 µm after a time, A.
fn sphere_a(geometry: Geometry, time_s: f64) -> f64 {
    let recording = Recording { interval_s: Some(time_s / 100.0), ..fine() };
    let cell = couple_on(geometry, D, REVERSIBLE);
    let trace = simulate(&cell, &constant(-0.5, time_s), &recording).unwrap();
    -trace.current_a[trace.current_a.len() - 1]
}

#[test]
fn spheres_come_to_their_steady_state() {
    let radius_m = 5e-6;
    let (sphere, hemisphere) = (Geometry::Sphere { radius_m }, Geometry::Hemisphere { radius_m });
    let mut comparison = Comparison::default();
    let steady_a = expected("microdisc", "i_ss_sphere_A");
    comparison.hold("i_ss_sphere_A", sphere_a(sphere, 1e6), steady_a, 0.001);
    let half_a = expected("microdisc", "i_ss_hemisphere_A");
    comparison.hold("i_ss_hemisphere_A", sphere_a(hemisphere, 1e6), half_a, 0.001);
    comparison.end(case("microdisc").len());
    // On the way there: i = i_ss (1 + r/√(πDt)), exact (Bard & Faulkner, 2nd ed. 2001, eq. 5.2.18).
    let mut comparison = Comparison::default();
    for time_s in [1e-3, 1e-2, 1e-1, 1.0, 10.0] {
        let share = 1.0 + radius_m / libm::sqrt(core::f64::consts::PI * D * time_s);
        comparison.hold(&format!("sphere at {time_s} s"), sphere_a(sphere, time_s), steady_a * share, 0.001);
    }
    comparison.end(5);
}

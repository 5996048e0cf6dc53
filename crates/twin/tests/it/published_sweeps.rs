//! Linear and cyclic sweeps against `checks/voltammetry.toml`.

use stillwell_scan::{Technique, TechniqueKind};
use stillwell_twin::{Cell, Couple, FARADAY_C_PER_MOL, Geometry, Medium, Species, simulate};

use crate::check_values::{Comparison, case, expected};
use crate::scenes::{
    AREA_M2, D, REVERSIBLE, crossing, linear_sweep, negated, one_couple, peak, per_volt, ramp,
};

const RATE_V_PER_S: f64 = 0.1;

/// Potential and √π χ of a reversible sweep.
fn reversible_wave() -> (Vec<f64>, Vec<f64>) {
    let sweep = linear_sweep(0.4, -0.2, 0.0005, RATE_V_PER_S);
    let trace = simulate(&one_couple(REVERSIBLE), &sweep, &ramp(4)).unwrap();
    let scale = FARADAY_C_PER_MOL * AREA_M2 * libm::sqrt(D * per_volt() * RATE_V_PER_S);
    (trace.potential_v, trace.current_a.iter().map(|current| -current / scale).collect())
}

#[test]
fn reversible_sweep_has_its_peak() {
    let (potential_v, chi) = reversible_wave();
    let (peak_v, height) = peak(&potential_v, &chi);
    let half_v = crossing(&potential_v, &chi, height / 2.0, 0);
    let coefficient = height * FARADAY_C_PER_MOL * libm::sqrt(per_volt());
    let mut comparison = Comparison::default();
    let mut hold = |name: &str, found: f64| {
        comparison.hold(name, found, expected("lsv_reversible", name), 0.001);
    };
    hold("chi_peak", height);
    hold("peak_n_E_minus_E12_in_RT_over_F", peak_v * per_volt());
    hold("peak_n_E_minus_E12_mv", 1e3 * peak_v);
    hold("half_peak_n_E_minus_E12_mv", 1e3 * half_v);
    hold("peak_minus_half_peak_in_RT_over_F", (half_v - peak_v) * per_volt());
    hold("peak_minus_half_peak_mv", 1e3 * (half_v - peak_v));
    hold("randles_sevcik_coefficient_25C", coefficient);
    hold("randles_sevcik_coefficient_20C", cold_coefficient());
    comparison.end(case("lsv_reversible").len());
}

/// Peak current over n^1.5 A C √(D v) at 20 °C.
fn cold_coefficient() -> f64 {
    let mut cell = one_couple(REVERSIBLE);
    cell.temperature_k = 293.15;
    let trace = simulate(&cell, &linear_sweep(0.4, -0.2, 0.001, RATE_V_PER_S), &ramp(4)).unwrap();
    let (_, height_a) = peak(&trace.potential_v, &negated(&trace.current_a));
    height_a / (AREA_M2 * libm::sqrt(D * RATE_V_PER_S))
}

#[test]
fn reversible_sweep_follows_the_current_function() {
    let (potential_v, chi) = reversible_wave();
    let mut comparison = Comparison::default();
    let values = case("nicholson_shain_table");
    for value in &values {
        let at_v = 1e-3 * value.at("n_E_minus_E12_mv");
        let point = potential_v.iter().position(|v| (v - at_v).abs() < 1e-9).unwrap();
        comparison.hold(&value.name, chi[point], value.expected(), 0.001);
    }
    comparison.end(values.len());
}

/// Peak potential, height as √π χ(bt) and half-peak potential of an irreversible sweep.
fn irreversible_peak(alpha: f64, rate_v_per_s: f64) -> (f64, f64, f64) {
    let mut cell = one_couple(1e-9);
    cell.couples[0].alpha = alpha;
    let sweep = linear_sweep(0.0, -0.55 / alpha, 0.001, rate_v_per_s);
    let trace = simulate(&cell, &sweep, &ramp(4)).unwrap();
    let scale = FARADAY_C_PER_MOL * AREA_M2 * libm::sqrt(D * alpha * per_volt() * rate_v_per_s);
    let chi: Vec<f64> = trace.current_a.iter().map(|current| -current / scale).collect();
    let (peak_v, height) = peak(&trace.potential_v, &chi);
    (peak_v, height, crossing(&trace.potential_v, &chi, height / 2.0, 0))
}

#[test]
fn irreversible_sweep_has_its_peak() {
    let alpha = 0.4;
    let (peak_v, height, half_v) = irreversible_peak(alpha, RATE_V_PER_S);
    let (faster_v, _, _) = irreversible_peak(alpha, 10.0 * RATE_V_PER_S);
    let per_peak = alpha * per_volt();
    let layers = libm::log(libm::sqrt(D) / 1e-9) + 0.5 * libm::log(per_peak * RATE_V_PER_S);
    let mut comparison = Comparison::default();
    let mut hold = |name: &str, found: f64| {
        comparison.hold(name, found, expected("lsv_irreversible", name), 0.001);
    };
    hold("chi_peak", height);
    hold("coefficient_25C", height * FARADAY_C_PER_MOL * libm::sqrt(per_volt()));
    hold("peak_minus_half_peak_in_RT_over_alphaF", (half_v - peak_v) * per_peak);
    hold("peak_minus_half_peak_mv", 1e3 * (half_v - peak_v) * alpha);
    hold("peak_position_constant", -peak_v * per_peak - layers);
    hold("shift_per_decade_scan_rate_mv", 1e3 * (peak_v - faster_v) * alpha);
    comparison.end(case("lsv_irreversible").len());
}

/// Distance of the two peaks of a cyclic sweep, mV.
fn separation_mv(rate_constant_m_per_s: f64, vertex_v: f64) -> f64 {
    let mut technique = Technique::new(TechniqueKind::Cyclic, 0.4, 0.4);
    technique.vertex_v = Some(vertex_v);
    technique.step_v = Some(0.0005);
    technique.scan_rate_v_per_s = Some(RATE_V_PER_S);
    technique.cycles = Some(1);
    let trace = simulate(&one_couple(rate_constant_m_per_s), &technique, &ramp(4)).unwrap();
    let turn = trace.potential_v.iter().position(|v| (v - vertex_v).abs() < 1e-9).unwrap();
    let (forward, back) = trace.potential_v.split_at(turn);
    let (down_a, up_a) = trace.current_a.split_at(turn);
    1e3 * (peak(back, up_a).0 - peak(forward, &negated(down_a)).0)
}

#[test]
fn quasireversible_separation_follows_psi() {
    let mut comparison = Comparison::default();
    let values = case("nicholson_psi");
    for value in &values {
        let unit = libm::sqrt(core::f64::consts::PI * D * per_volt() * RATE_V_PER_S);
        let found = separation_mv(value.at("psi") * unit, -0.141);
        comparison.hold(&value.name, found, value.expected(), 0.001);
    }
    comparison.end(values.len());
}

#[test]
fn reversible_separation_depends_on_the_switching_potential() {
    let mut comparison = Comparison::default();
    let values = case("cv_reversible_separation");
    for value in &values {
        // The forward peak lies at −28.49 mV; the table calls it −28.5.
        let vertex_v = -1e-3 * (28.5 + value.at("n_Epc_minus_Eswitch_mv"));
        comparison.hold(&value.name, separation_mv(REVERSIBLE, vertex_v), value.expected(), 0.001);
    }
    comparison.end(values.len());
}

#[test]
fn closed_film_gives_the_wave_of_a_bound_couple() {
    let thickness_m = 1e-9;
    let film = |name: &str, bulk| Species {
        medium: Medium::Film { thickness_m },
        ..Species::dissolved(name, bulk, D)
    };
    let mut cell = Cell::new(Geometry::Plane { area_m2: AREA_M2 });
    let (oxidised, reduced) = (cell.add(film("oxidised", 1e3)), cell.add(film("reduced", 0.0)));
    cell.couples.push(Couple::new(oxidised, reduced, 0.0, REVERSIBLE));
    let sweep = linear_sweep(0.4, -0.4, 0.001, RATE_V_PER_S);
    let trace = simulate(&cell, &sweep, &ramp(4)).unwrap();
    let current_a = negated(&trace.current_a);
    let (_, height_a) = peak(&trace.potential_v, &current_a);
    let width_mv = 1e3 * crate::scenes::half_width(&trace.potential_v, &current_a);
    let mut comparison = Comparison::default();
    comparison.hold("half_width_mv", width_mv, expected("surface_confined", "half_width_mv"), 0.001);
    let coefficient = height_a / (RATE_V_PER_S * AREA_M2 * 1e3 * thickness_m);
    comparison.hold("peak_coefficient", coefficient, expected("surface_confined", "peak_coefficient"), 0.001);
    comparison.end(case("surface_confined").len());
}

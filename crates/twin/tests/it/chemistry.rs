//! Chemistry, films, several couples and temperature against their closed forms.

use stillwell_scan::{Technique, TechniqueKind};
use stillwell_twin::{
    Cell, Couple, Edge, EdgeDirection, FARADAY_C_PER_MOL, Geometry, Medium, Reaction, Recording, Species,
    Wear, arrhenius_factor, simulate, thermal_voltage_v,
};

use crate::check_values::{Comparison, expected};
use crate::scenes::{
    AREA_M2, D, REVERSIBLE, constant, cottrell_a, couple_on, linear_sweep, negated, one_couple, peak,
    per_volt, ramp,
};

fn reacting(to: Option<usize>, rate_per_s: f64) -> Cell {
    let mut cell = one_couple(REVERSIBLE);
    cell.reactions.push(Reaction { from: 1, to, rate_per_s, activation_j_per_mol: 0.0 });
    cell
}

fn stepped_a(cell: &Cell, potential_v: f64, time_s: f64) -> f64 {
    let recording = Recording { interval_s: Some(time_s / 50.0), ..ramp(3) };
    let trace = simulate(cell, &constant(potential_v, time_s), &recording).unwrap();
    -trace.current_a[trace.current_a.len() - 1]
}

/// `i/i_d = √(πkt) erf √(kt) + e^(−kt)`. Bard & Faulkner, 2nd ed. 2001, 12.3 (catalytic reaction, limiting current).
#[test]
fn catalytic_limiting_current_leaves_cottrells_law_for_its_plateau() {
    let mut comparison = Comparison::default();
    for rate_per_s in [0.1, 1.0, 10.0, 1e3] {
        let found = stepped_a(&reacting(Some(0), rate_per_s), -0.8, 1.0);
        let root = libm::sqrt(core::f64::consts::PI * rate_per_s);
        let ratio = root * libm::erf(libm::sqrt(rate_per_s)) + libm::exp(-rate_per_s);
        comparison.hold(&format!("catalytic, k = {rate_per_s} /s"), found, cottrell_a(1.0) * ratio, 0.001);
    }
    comparison.end(4);
}

/// A fast follow-up reaction: current function of an irreversible wave with α = 1, peak at
/// E½ − (RT/F)(0.780 − ½ ln(k RT/Fv)). Nicholson & Shain 1964; Bard & Faulkner, 2nd ed. 2001, 12.3.
#[test]
fn fast_follow_up_reaction_moves_the_peak_by_thirty_millivolts_a_decade() {
    let constant_term = expected("lsv_irreversible", "peak_position_constant");
    let chi = expected("lsv_irreversible", "chi_peak");
    let mut comparison = Comparison::default();
    for decades in [4, 5] {
        let rate_per_s = libm::pow(10.0, f64::from(decades));
        let cell = reacting(None, rate_per_s);
        let trace = simulate(&cell, &linear_sweep(0.6, 0.0, 0.001, 0.1), &ramp(3)).unwrap();
        let (peak_v, peak_a) = peak(&trace.potential_v, &negated(&trace.current_a));
        let reduced_rate = rate_per_s / (0.1 * per_volt());
        let expected_v = -(constant_term - 0.5 * libm::log(reduced_rate)) / per_volt();
        comparison.hold_to(&format!("peak in V, k = 1e{decades} /s"), peak_v, expected_v, 0.0257, 0.005);
        let scale = FARADAY_C_PER_MOL * AREA_M2 * libm::sqrt(D * 0.1 * per_volt());
        comparison.hold(&format!("current function, k = 1e{decades} /s"), peak_a / scale, chi, 0.005);
    }
    comparison.end(4);
}

/// Oxygen by way of peroxide: two electrons each, the second at a lower potential; unequal diffusion coefficients.
#[test]
fn two_steps_through_one_intermediate_add_their_electrons() {
    let mut cell = Cell::new(Geometry::Plane { area_m2: AREA_M2 });
    let oxygen = cell.add(Species::dissolved("oxygen", 1.0, D));
    let peroxide = cell.add(Species::dissolved("peroxide", 0.0, 0.6 * D));
    let water = cell.add(Species::dissolved("water", 0.0, 2.0 * D));
    for (oxidised, reduced, formal_v) in [(oxygen, peroxide, 0.0), (peroxide, water, -0.6)] {
        let couple = Couple { n_electrons: 2, ..Couple::new(oxidised, reduced, formal_v, 1e-4) };
        cell.couples.push(couple);
    }
    let mut comparison = Comparison::default();
    comparison.hold("to peroxide", stepped_a(&cell, -0.35, 1.0), 2.0 * cottrell_a(1.0), 0.001);
    comparison.hold("to water", stepped_a(&cell, -1.4, 1.0), 4.0 * cottrell_a(1.0), 0.001);
    comparison.end(2);
}

#[test]
fn couples_that_share_nothing_add_up() {
    let add = |cell: &mut Cell, formal_v: f64| {
        let oxidised = cell.add(Species::dissolved("oxidised", 0.5, 0.7 * D));
        let reduced = cell.add(Species::dissolved("reduced", 0.1, D));
        cell.couples.push(Couple::new(oxidised, reduced, formal_v, 1e-5));
    };
    let plane = || Cell::new(Geometry::Plane { area_m2: AREA_M2 });
    let (mut first, mut second, mut both) = (plane(), plane(), plane());
    add(&mut first, 0.0);
    add(&mut second, -0.1);
    add(&mut both, 0.0);
    add(&mut both, -0.1);
    let run = |cell: &Cell| simulate(cell, &linear_sweep(0.2, -0.4, 0.005, 0.1), &ramp(1)).unwrap().current_a;
    for ((one, other), sum) in run(&first).iter().zip(run(&second)).zip(run(&both)) {
        assert!((one + other - sum).abs() <= 1e-11 * sum.abs().max(1e-6), "{one} + {other} is not {sum}");
    }
}

/// Steady wave of a sphere: `E = E½ + (RT/F) ln((i_l − i)/i)`, with i R in front of it. Bard & Faulkner, 5.4.
#[test]
fn steady_wave_has_nernsts_slope_at_every_temperature_and_behind_a_resistance() {
    let geometry = Geometry::Sphere { radius_m: 5e-6 };
    let mut comparison = Comparison::default();
    for (temperature_k, uncompensated_ohm) in [(278.15, 0.0), (298.15, 0.0), (318.15, 0.0), (298.15, 2e7)] {
        let mut cell = couple_on(geometry, D, REVERSIBLE);
        cell.temperature_k = temperature_k;
        cell.uncompensated_ohm = uncompensated_ohm;
        let limiting_a = FARADAY_C_PER_MOL * 4.0 * core::f64::consts::PI * D * 5e-6;
        for applied_v in [0.02, -0.01, -0.05] {
            // The approach to the steady state goes with r/√(πDt): 0.9 millionths here.
            let current_a = stepped_a(&cell, applied_v, 1e4 * 1e6);
            let interface_v = applied_v + current_a * uncompensated_ohm;
            let found = libm::log((limiting_a - current_a) / current_a) * thermal_voltage_v(temperature_k);
            comparison.hold_to(
                &format!("{temperature_k} K, {uncompensated_ohm:e} ohm, {applied_v} V"),
                found,
                interface_v,
                0.0257,
                0.001,
            );
        }
    }
    comparison.end(12);
}

#[test]
fn diffusion_and_rate_follow_arrhenius() {
    let mut warm = one_couple(1e-7);
    warm.temperature_k = 308.15;
    for species in &mut warm.species {
        species.diffusion_activation_j_per_mol = 17e3;
    }
    warm.couples[0].rate_activation_j_per_mol = 40e3;
    let factor = arrhenius_factor(17e3, 308.15);
    let mut comparison = Comparison::default();
    comparison.hold("limiting", stepped_a(&warm, -1.5, 1.0), cottrell_a(1.0) * libm::sqrt(factor), 0.001);
    // At the formal potential so slow a couple gives F A k⁰ c.
    let slow_a = FARADAY_C_PER_MOL * AREA_M2 * 1e-7 * arrhenius_factor(40e3, 308.15);
    comparison.hold("slow", stepped_a(&warm, 0.0, 1e-3), slow_a, 0.001);
    comparison.end(2);
}

#[test]
fn worn_surface_gives_its_share_and_an_edge_its_exponential() {
    let mut worn = one_couple(REVERSIBLE);
    worn.surface.area = Wear { activation_deficit: 0.25, ..Wear::NONE };
    let mut empty = Cell::new(Geometry::Plane { area_m2: AREA_M2 });
    let direction = EdgeDirection::Reduction;
    empty.edges.push(Edge { direction, potential_v: -1.0, density_a_per_m2: 0.1, decade_v: 0.12 });
    let mut comparison = Comparison::default();
    comparison.hold("worn", stepped_a(&worn, -0.8, 1.0), 0.75 * cottrell_a(1.0), 0.001);
    comparison.hold("edge", stepped_a(&empty, -1.24, 1.0), AREA_M2 * 0.1 * 100.0, 1e-9);
    comparison.end(2);
}

/// A layer δ with the bulk at its far side and nothing at the surface passes c Dt/δ and, until its profile is straight,
/// δ/3 more: the half that leaves it less the sixth that enters late.
#[test]
fn stripping_gives_back_what_was_deposited() {
    let mut cell = Cell::new(Geometry::Plane { area_m2: AREA_M2 });
    let ion = cell.add(Species::dissolved("ion", 1e-3, D));
    let film = Medium::Film { thickness_m: 1e-6 };
    let metal = cell.add(Species { medium: film, ..Species::dissolved("metal", 0.0, D) });
    cell.couples.push(Couple { n_electrons: 2, ..Couple::new(ion, metal, 0.0, REVERSIBLE) });
    cell.stirred_layer_m = Some(2e-5);
    let mut technique =
        Technique { kind: TechniqueKind::StrippingLinearSweep, ..linear_sweep(-0.4, 0.3, 0.001, 2.0) };
    technique.deposition_v = Some(-0.4);
    technique.deposition_s = Some(600.0);
    let trace = simulate(&cell, &technique, &ramp(2)).unwrap();
    let pairs = trace.current_a.windows(2).zip(trace.time_s.windows(2));
    let charge_c: f64 = pairs.map(|(i, t)| 0.5 * (i[0] + i[1]) * (t[1] - t[0])).sum();
    let deposited_mol = AREA_M2 * 1e-3 * (D * 600.0 / 2e-5 + 2e-5 / 3.0);
    let mut comparison = Comparison::default();
    // A fifth of a second more of deposition at the sweep's start is left out: 0.03 %.
    comparison.hold("stripped charge in C", charge_c, 2.0 * FARADAY_C_PER_MOL * deposited_mol, 0.005);
    comparison.end(1);
}

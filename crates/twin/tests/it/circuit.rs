//! Double layer, resistance, reference, and the course of each technique.

use stillwell_scan::{Technique, TechniqueKind};
use stillwell_stats::random::RandomStream;
use stillwell_twin::{
    Cell, Circuit, Couple, Geometry, Reaction, Recording, Reference, Species, Sweep, Trace, TwinError,
    measure, simulate,
};

use crate::check_values::Comparison;
use crate::scenes::{AREA_M2, REVERSIBLE, constant, linear_sweep, one_couple, pulses, ramp, square_wave};

const CAPACITANCE_F: f64 = 0.2 * AREA_M2;

fn capacitor(uncompensated_ohm: f64) -> Cell {
    let mut cell = Cell::new(Geometry::Plane { area_m2: AREA_M2 });
    cell.double_layer_f_per_m2 = 0.2;
    cell.uncompensated_ohm = uncompensated_ohm;
    cell
}

/// i = (ΔE/R) e^(−t/RC) after a step; C v (1 − e^(−t/RC)) on a ramp. Bard & Faulkner, 2nd ed. 2001, eqs. 1.2.6, 1.2.15.
#[test]
fn double_layer_charges_through_the_resistance() {
    let cell = capacitor(50.0); // RC = 1 ms
    let technique = pulses(TechniqueKind::DifferentialPulse, (0.0, 0.1), 0.05, 0.025, 0.004, 0.104);
    let trace = simulate(&cell, &technique, &ramp(8)).unwrap();
    let mut comparison = Comparison::default();
    let mut n_held = 0;
    for (time_s, current_a) in trace.analog.time_s.iter().zip(&trace.analog.current_a) {
        // The first pulse begins at 0.1 s.
        let since_s = time_s - 0.1;
        if since_s > 1e-5 && since_s <= 0.004 {
            let exact = 0.025 / 50.0 * libm::exp(-since_s / (50.0 * CAPACITANCE_F));
            comparison.hold_to(&format!("{since_s:.6} s after the step"), *current_a, exact, 5e-4, 0.001);
            n_held += 1;
        }
    }
    let trace = simulate(&capacitor(500.0), &linear_sweep(0.0, 0.1, 0.001, 1.0), &ramp(4)).unwrap();
    for (time_s, current_a) in trace.time_s.iter().zip(&trace.current_a) {
        let exact = CAPACITANCE_F * (1.0 - libm::exp(-time_s / (500.0 * CAPACITANCE_F)));
        comparison.hold_to(&format!("ramp at {time_s:.3} s"), *current_a, exact, CAPACITANCE_F, 0.001);
        n_held += 1;
    }
    comparison.end(n_held);
    assert!(n_held > 150, "{n_held} moments");
}

#[test]
fn small_resistance_is_no_resistance() {
    let mut with = one_couple(1e-4);
    with.uncompensated_ohm = 1e-6;
    let technique = square_wave(0.2, -0.2, 0.025, 0.005, 25.0);
    let run = |cell: &Cell| simulate(cell, &technique, &Recording::default()).unwrap().current_a;
    for (with, without) in run(&with).iter().zip(run(&one_couple(1e-4))) {
        assert!((with - without).abs() < 1e-7 * 1e-4, "{with} and {without}");
    }
}

#[test]
fn saline_shifts_the_wave_by_a_nernst_slope_and_a_drift_shears_it() {
    let run = |cell: &Cell, start_v: f64, end_v: f64| -> Trace {
        simulate(cell, &linear_sweep(start_v, end_v, 0.001, 0.1), &ramp(1)).unwrap()
    };
    let mut saline = one_couple(1e-5);
    saline.reference.chloride_ratio = Some(10.0);
    let shift_v = saline.reference.shift_v(298.15);
    assert!((shift_v + 0.059159).abs() < 1e-6, "{shift_v}");
    let shifted = run(&saline, 0.3 - shift_v, -0.3 - shift_v);
    let plain = run(&one_couple(1e-5), 0.3, -0.3);
    for (shifted, plain) in shifted.current_a.iter().zip(&plain.current_a) {
        assert!((shifted - plain).abs() <= 1e-9 * 1e-5, "{shifted} and {plain}");
    }
    // A reference that drifts by −10 mV/s under a sweep of −90 mV/s: a sweep of −100 mV/s.
    let mut drifting = one_couple(1e-5);
    drifting.reference = Reference { drift_v_per_s: -0.01, ..Reference::default() };
    let slower = simulate(&drifting, &linear_sweep(0.3, -0.24, 0.0009, 0.09), &ramp(1)).unwrap();
    let peak_a = highest_a(&plain);
    for (drifted, plain) in slower.current_a.iter().zip(&plain.current_a) {
        // The grids differ with the programmed rate.
        assert!((drifted - plain).abs() <= 1e-4 * peak_a, "{drifted} and {plain}");
    }
}

fn highest_a(trace: &Trace) -> f64 {
    trace.current_a.iter().fold(0.0_f64, |top, current| top.max(current.abs()))
}

fn techniques() -> Vec<Technique> {
    let cyclic = Technique { vertex_v: Some(-0.2), ..linear_sweep(0.2, 0.1, 0.01, 0.5) };
    vec![
        square_wave(0.2, -0.2, 0.025, 0.01, 25.0),
        pulses(TechniqueKind::DifferentialPulse, (-0.2, 0.2), 0.01, 0.05, 0.02, 0.1),
        pulses(TechniqueKind::NormalPulse, (0.2, -0.2), 0.01, 0.05, 0.02, 0.1),
        linear_sweep(0.2, -0.2, 0.01, 0.1),
        Technique { kind: TechniqueKind::Cyclic, cycles: Some(2), ..cyclic },
        constant(-0.2, 0.5),
    ]
}

#[test]
fn the_course_is_the_techniques_waveform() {
    for technique in techniques() {
        let trace = simulate(&one_couple(1e-5), &technique, &ramp(1)).unwrap();
        let waveform = technique.waveform().unwrap();
        let end_s = trace.analog.time_s[trace.analog.time_s.len() - 1];
        assert!((end_s - waveform.duration_s()).abs() < 1e-9, "{:?} lasts {end_s} s", technique.kind);
        for window in &trace.analog.windows {
            let (time_s, potential_v) =
                (trace.analog.time_s[window.last], trace.analog.potential_v[window.last]);
            let programmed_v = waveform.potential_at((time_s - 1e-7).max(0.0)).unwrap();
            assert!((programmed_v - potential_v).abs() < 1e-6, "{:?} at {time_s} s", technique.kind);
        }
        assert_eq!(trace.to_scan("twin").n_points(), trace.time_s.len());
        assert!(trace.time_s.windows(2).all(|pair| pair[0] < pair[1]));
    }
}

#[test]
fn window_averages_the_current_and_a_staircase_is_read_at_its_end() {
    let technique = square_wave(0.2, -0.2, 0.025, 0.01, 25.0);
    let windowed = Recording { sampling_window_s: 0.005, ..ramp(4) };
    let trace = simulate(&one_couple(REVERSIBLE), &technique, &windowed).unwrap();
    let end = simulate(&one_couple(REVERSIBLE), &technique, &ramp(4)).unwrap();
    // While the current falls, its mean over the last quarter is above its end.
    let (mean_a, end_a) = (-trace.current_a[20], -end.current_a[20]);
    assert!(1.05 < mean_a / end_a && mean_a / end_a < 1.2, "{mean_a} and {end_a}");
    let first = &trace.analog.windows[0];
    let length_s = trace.analog.time_s[first.last] - trace.analog.time_s[first.first];
    assert!((length_s - 0.005).abs() < 1e-12);
    // A fine staircase is a ramp.
    let sweep = linear_sweep(0.4, -0.2, 0.0005, 0.1);
    let stairs = Recording { sweep: Sweep::Staircase, ..ramp(2) };
    let stairs = simulate(&one_couple(1e-5), &sweep, &stairs).unwrap();
    let straight = simulate(&one_couple(1e-5), &sweep, &ramp(2)).unwrap();
    let peak_a = highest_a(&straight);
    // At the first point of a ramp nothing has flowed yet.
    for (a, b) in stairs.current_a.iter().zip(&straight.current_a).skip(1) {
        assert!((a - b).abs() < 0.02 * peak_a, "{a} and {b}");
    }
}

#[test]
fn an_edge_beyond_all_cells_is_refused_not_drawn() {
    let mut cell = one_couple(1e-5);
    let direction = stillwell_twin::EdgeDirection::Oxidation;
    cell.edges.push(stillwell_twin::Edge {
        direction,
        potential_v: 0.5,
        density_a_per_m2: 1.0,
        decade_v: 0.06,
    });
    let sweep = linear_sweep(0.0, 2.0, 0.01, 0.1);
    let refused = simulate(&cell, &sweep, &ramp(1));
    assert!(matches!(refused, Err(TwinError::BeyondEdge { .. })), "{refused:?}");
    // A resistance keeps the potential, and so the current, within bounds.
    cell.uncompensated_ohm = 1e3;
    let trace = simulate(&cell, &sweep, &ramp(1)).unwrap();
    assert!(trace.current_a.iter().all(|current| current.abs() < 2e-3));
}

/// Every way through the twin: one couple at once, several, resistance, reactions node by node, and a noisy circuit.
#[test]
fn scans_on_threads_are_the_same_bytes() {
    let scan = |index: usize| {
        let mut cell = one_couple(libm::pow(10.0, -(3.0 + index as f64 / 16.0)));
        cell.double_layer_f_per_m2 = 0.2;
        cell.uncompensated_ohm = if index % 4 == 1 { 20.0 } else { 0.0 };
        if index % 4 == 2 {
            let third = cell.add(Species::dissolved("twice reduced", 0.0, 0.7e-9));
            cell.couples.push(Couple::new(1, third, -0.1, 1e-5));
        }
        if index % 4 == 3 {
            cell.reactions.push(Reaction {
                from: 1,
                to: Some(0),
                rate_per_s: 3.0,
                activation_j_per_mol: 0.0,
            });
        }
        let technique = square_wave(0.3, -0.5, 0.025, 0.01, 50.0);
        let trace = simulate(&cell, &technique, &Recording::default()).unwrap();
        let noise = &mut RandomStream::new(7, index as u64);
        let measured = measure(&trace, &Circuit::new(1e-3, 16), noise).unwrap();
        trace.current_a.iter().chain(&measured.current_a).map(|a| a.to_bits()).collect::<Vec<u64>>()
    };
    let alone: Vec<Vec<u64>> = (0..100).map(scan).collect();
    let together: Vec<Vec<u64>> = std::thread::scope(|scope| {
        let share = |thread: usize| (thread..100).step_by(4).map(scan).collect::<Vec<_>>();
        let handles: Vec<_> = (0..4).map(|thread| scope.spawn(move || share(thread))).collect();
        let shares: Vec<_> = handles.into_iter().map(|handle| handle.join().unwrap()).collect();
        (0..100).map(|index| shares[index % 4][index / 4].clone()).collect()
    });
    assert_eq!(alone, together);
    assert!(alone.windows(2).all(|pair| pair[0] != pair[1]));
}

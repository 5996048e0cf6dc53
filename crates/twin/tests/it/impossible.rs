//! Impossible cells and techniques are refused with what was found and what would be accepted; nothing panics.

use proptest::prelude::*;
use stillwell_scan::{Technique, TechniqueKind};
use stillwell_twin::{
    Cell, Couple, Edge, EdgeDirection, FARADAY_C_PER_MOL, Geometry, Medium, Reaction, Recording, Resolution,
    Species, Sweep, Trace, TwinError, simulate,
};

use crate::scenes::{AREA_M2, linear_sweep, one_couple, ramp, square_wave};

fn refusal(cell: &Cell, technique: &Technique) -> TwinError {
    simulate(cell, technique, &Recording::default()).unwrap_err()
}

fn wave() -> Technique {
    square_wave(0.2, -0.2, 0.05, 0.01, 25.0)
}

/// Changes a good cell and holds that it is refused as out of range, the message naming `part`.
fn out_of_range(part: &str, change: impl Fn(&mut Cell)) {
    let mut cell = one_couple(1e-5);
    change(&mut cell);
    let error = refusal(&cell, &wave());
    let text = error.to_string();
    assert!(matches!(error, TwinError::OutOfRange { .. }), "{text}");
    assert!(text.contains(part) && text.contains("accepted"), "{text}");
}

#[test]
fn numbers_out_of_range_are_named_with_the_range() {
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        out_of_range("size", |cell| cell.geometry = Geometry::Plane { area_m2: bad });
        out_of_range("temperature", |cell| cell.temperature_k = bad);
        out_of_range("double layer", |cell| cell.double_layer_f_per_m2 = bad);
        out_of_range("resistance", |cell| cell.uncompensated_ohm = bad);
        out_of_range("concentration", |cell| cell.species[0].bulk_mol_per_m3 = bad);
        out_of_range("diffusion coefficient", |cell| cell.species[1].diffusion_m2_per_s = bad);
        out_of_range("alpha", |cell| cell.couples[0].alpha = bad);
        out_of_range("rate constant", |cell| cell.couples[0].rate_constant_m_per_s = bad);
    }
    out_of_range("alpha", |cell| cell.couples[0].alpha = 1.0);
    out_of_range("electrons", |cell| cell.couples[0].n_electrons = 0);
    out_of_range("formal potential", |cell| cell.couples[0].formal_potential_v = 1e300);
}

#[test]
fn parts_that_do_not_fit_are_named() {
    let mut cell = one_couple(1e-5);
    cell.couples.push(Couple::new(0, 7, 0.0, 1e-5));
    assert!(matches!(refusal(&cell, &wave()), TwinError::SpeciesMissing { index: 7, n_species: 2, .. }));
    let mut cell = one_couple(1e-5);
    cell.couples.push(Couple::new(1, 1, 0.0, 1e-5));
    assert!(matches!(refusal(&cell, &wave()), TwinError::SameSpecies { index: 1, .. }));
    let mut cell = one_couple(1e-5);
    cell.couples = vec![cell.couples[0]; 9];
    assert!(matches!(refusal(&cell, &wave()), TwinError::TooManyCouples { found: 9, at_most: 8 }));
    let reaction = |from, to| Reaction { from, to: Some(to), rate_per_s: 1.0, activation_j_per_mol: 0.0 };
    let mut cell = one_couple(1e-5);
    cell.reactions = vec![reaction(0, 1), reaction(1, 0)];
    assert!(matches!(refusal(&cell, &wave()), TwinError::ReactionCircle { .. }));
    let mut cell = one_couple(1e-5);
    cell.reactions = vec![Reaction { rate_per_s: 1e12, ..reaction(1, 0) }];
    assert!(matches!(refusal(&cell, &wave()), TwinError::StepsTooCoarse { reaction: 0, .. }));
}

#[test]
fn impossible_techniques_are_refused() {
    let cell = one_couple(1e-5);
    let mut technique = wave();
    technique.end_v = technique.start_v;
    assert!(matches!(refusal(&cell, &technique), TwinError::WindowEmpty { .. }));
    let mut technique = wave();
    technique.step_v = Some(1e-9);
    assert!(matches!(refusal(&cell, &technique), TwinError::TooManyPoints { .. }));
    let mut technique = wave();
    technique.frequency_hz = None;
    assert!(matches!(refusal(&cell, &technique), TwinError::Technique(_)));
    let recording = Recording { sampling_window_s: 1.0, ..Recording::default() };
    let refused = simulate(&cell, &wave(), &recording);
    assert!(matches!(refused, Err(TwinError::SamplingWindowImpossible { .. })));
    let mut cell = one_couple(1e-5);
    let edge =
        Edge { direction: EdgeDirection::Reduction, potential_v: 1.0, density_a_per_m2: 1e5, decade_v: 0.01 };
    cell.edges.push(edge);
    assert!(matches!(refusal(&cell, &wave()), TwinError::BeyondEdge { .. }));
}

#[test]
fn times_and_windows_beyond_the_clock_are_refused() {
    let cell = one_couple(1e-5);
    let named = |technique: &Technique, recording: &Recording, part: &str| {
        let text = simulate(&cell, technique, recording).unwrap_err().to_string();
        assert!(text.contains(part) && text.contains("accepted"), "{text}");
    };
    named(&square_wave(0.2, -0.2, 0.05, 0.01, 1e-30), &Recording::default(), "whole technique");
    named(&square_wave(0.2, -0.2, 0.05, 0.01, 1e12), &Recording::default(), "whole technique");
    let long_rest = Technique { quiet_s: Some(1e7), ..square_wave(0.2, -0.2, 0.05, 0.01, 1e4) };
    named(&long_rest, &Recording::default(), "step, pulse");
    let narrow = Recording { sampling_window_s: 1e-75, ..Recording::default() };
    named(&wave(), &narrow, "sampling window");
    let mut cell = one_couple(1e-5);
    cell.reference.drift_v_per_s = 1.0;
    let text = refusal(&cell, &Technique { quiet_s: Some(60.0), ..wave() }).to_string();
    assert!(text.contains("drift") && text.contains("-10 to 10"), "{text}");
}

#[test]
fn the_thinnest_film_gives_what_is_in_it() {
    let mut cell = one_couple(1e-5);
    let film = Medium::Film { thickness_m: 1e-12 };
    cell.species[1] = Species { medium: film, ..Species::dissolved("deposit", 1e5, 1e-9) };
    cell.species[0].bulk_mol_per_m3 = 0.0;
    // Node by node, as for a deposition; all of the film is oxidised on the way.
    cell.stirred_layer_m = Some(1e-5);
    let trace = simulate(&cell, &linear_sweep(-1.2, 0.2, 0.01, 0.01), &ramp(2)).unwrap();
    let pairs = trace.analog.time_s.windows(2).zip(trace.analog.current_a.windows(2));
    let charge_c: f64 = pairs.map(|(t, i)| (t[1] - t[0]) * (i[0] + i[1]) / 2.0).sum();
    let exact_c = FARADAY_C_PER_MOL * AREA_M2 * 1e-12 * 1e5;
    assert!((charge_c / exact_c - 1.0).abs() < 0.001, "{charge_c} C, {exact_c} C are in the film");
}

/// Any double, and often one that a cell might have.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        3 => (-14.0..3.0_f64).prop_map(|exponent| libm::pow(10.0, exponent)),
        2 => 0.0..1.0_f64,
        1 => any::<f64>(),
        1 => prop::sample::select(vec![0.0, -1.0, f64::NAN, f64::INFINITY, f64::MIN_POSITIVE, f64::MAX]),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn no_cell_panics_and_every_scan_is_finite(
        cell_numbers in prop::array::uniform8(number()),
        technique_numbers in prop::array::uniform4(number()),
        n_electrons in 0..30_u32,
        species in 0..3_usize,
    ) {
        let [area_m2, bulk, diffusion, rate, alpha, resistance, layer, formal_v] = cell_numbers;
        let mut cell = one_couple(rate);
        cell.geometry = Geometry::Plane { area_m2 };
        cell.species[0].bulk_mol_per_m3 = bulk;
        cell.species[1].diffusion_m2_per_s = diffusion;
        let couple = Couple { alpha, n_electrons, formal_potential_v: formal_v, ..Couple::new(0, species, 0.0, rate) };
        cell.couples = vec![couple];
        cell.uncompensated_ohm = resistance;
        cell.double_layer_f_per_m2 = layer;
        let [start_v, amplitude_v, step_v, frequency_hz] = technique_numbers;
        // Coarse, and no more than some points: the question is panics and silence, not accuracy.
        let end_v = start_v - 20.0 * step_v;
        let technique = square_wave(start_v, end_v, amplitude_v, step_v, frequency_hz);
        let resolution = Resolution { nodes_per_layer: 3.0, growth: 1.4, steps_per_pulse: 3 };
        match simulate(&cell, &technique, &Recording { resolution, ..Recording::default() }) {
            Ok(trace) => prop_assert!(trace.current_a.iter().all(|current| current.is_finite())),
            Err(error) => prop_assert!(error.to_string().len() > 20),
        }
    }
}

/// A number of a scan: mostly possible, often at the ends of the accepted range or just beyond.
fn extreme(low: f64, high: f64) -> impl Strategy<Value = f64> {
    let exponents = libm::log10(low.max(1e-12))..libm::log10(high);
    prop_oneof![
        12 => exponents.prop_map(|exponent| libm::pow(10.0, exponent)),
        3 => prop::sample::select(vec![low, high]),
        1 => number(),
    ]
}

fn potential() -> impl Strategy<Value = f64> {
    prop_oneof![8 => -1.5..1.5_f64, 3 => -10.0..10.0_f64, 1 => number()]
}

fn geometry() -> impl Strategy<Value = Geometry> {
    (extreme(1e-12, 1.0), 0..4_u32).prop_map(|(size, shape)| match shape {
        0 => Geometry::Plane { area_m2: size },
        1 => Geometry::Disc { radius_m: size },
        2 => Geometry::Sphere { radius_m: size },
        _ => Geometry::Hemisphere { radius_m: size },
    })
}

fn species() -> impl Strategy<Value = Species> {
    let film = prop_oneof![4 => Just(None), 1 => extreme(1e-12, 1e-2).prop_map(Some)];
    (prop_oneof![1 => Just(0.0), 3 => extreme(1e-9, 1e5)], extreme(1e-16, 1e-6), extreme(0.0, 3e5), film)
        .prop_map(|(bulk, diffusion, activation, film)| {
            let mut species = Species::dissolved("some", bulk, diffusion);
            species.diffusion_activation_j_per_mol = activation;
            species.medium = film.map_or(Medium::Solution, |thickness_m| Medium::Film { thickness_m });
            species
        })
}

fn couple() -> impl Strategy<Value = Couple> {
    (0..3_usize, 0..3_usize, 1..4_u32, potential(), extreme(1e-300, 1e6), 0.0..1.0_f64, extreme(0.0, 3e5))
        .prop_map(|(oxidised, reduced, n_electrons, formal_v, rate, alpha, rate_activation_j_per_mol)| {
            Couple {
                n_electrons,
                alpha,
                rate_activation_j_per_mol,
                ..Couple::new(oxidised, reduced, formal_v, rate)
            }
        })
}

fn edge() -> impl Strategy<Value = Edge> {
    (any::<bool>(), potential(), extreme(1e-12, 1e5), extreme(1e-3, 10.0)).prop_map(
        |(is_reduction, potential_v, density_a_per_m2, decade_v)| {
            let direction = if is_reduction { EdgeDirection::Reduction } else { EdgeDirection::Oxidation };
            Edge { direction, potential_v, density_a_per_m2, decade_v }
        },
    )
}

fn reaction() -> impl Strategy<Value = Reaction> {
    (0..3_usize, prop::option::of(0..3_usize), extreme(0.0, 1e12), extreme(0.0, 3e5)).prop_map(
        |(from, to, rate_per_s, activation_j_per_mol)| Reaction {
            from,
            to,
            rate_per_s,
            activation_j_per_mol,
        },
    )
}

fn cell() -> impl Strategy<Value = Cell> {
    let parts = (
        prop::collection::vec(species(), 3),
        prop::collection::vec(couple(), 0..3),
        prop::collection::vec(edge(), 0..2),
        prop::collection::vec(reaction(), 0..2),
    );
    let circuit = (
        prop_oneof![1 => Just(0.0), 1 => extreme(0.0, 1e3)],
        prop_oneof![1 => Just(0.0), 1 => extreme(0.0, 1e9)],
        263.0..373.0_f64,
        prop_oneof![2 => Just(0.0), 1 => -1.0..1.0_f64],
        prop::option::of(extreme(1e-7, 1e-2)),
    );
    (geometry(), parts, circuit).prop_map(|(geometry, (species, couples, edges, reactions), circuit)| {
        let mut cell = Cell { species, couples, edges, reactions, ..Cell::new(geometry) };
        (
            cell.double_layer_f_per_m2,
            cell.uncompensated_ohm,
            cell.temperature_k,
            cell.reference.drift_v_per_s,
            cell.stirred_layer_m,
        ) = circuit;
        cell
    })
}

const KINDS: [TechniqueKind; 9] = [
    TechniqueKind::SquareWave,
    TechniqueKind::StrippingSquareWave,
    TechniqueKind::DifferentialPulse,
    TechniqueKind::StrippingDifferentialPulse,
    TechniqueKind::NormalPulse,
    TechniqueKind::LinearSweep,
    TechniqueKind::StrippingLinearSweep,
    TechniqueKind::Cyclic,
    TechniqueKind::Chronoamperometry,
];

/// Some ten points of any technique.
fn technique() -> impl Strategy<Value = Technique> {
    let times =
        (extreme(1e-6, 1e4), extreme(1e-6, 1e4), extreme(1e-3, 1e5), prop::option::of(extreme(1e-3, 1e5)));
    (prop::sample::select(KINDS.to_vec()), potential(), potential(), potential(), times, 2..20_u32).prop_map(
        |(kind, start_v, end_v, other_v, (short_s, long_s, deposition_s, quiet_s), n)| {
            let mut technique = Technique::new(kind, start_v, end_v);
            technique.step_v = Some((end_v - start_v).abs() / f64::from(n));
            technique.amplitude_v = Some(other_v / 10.0);
            technique.vertex_v = Some(other_v);
            technique.frequency_hz = Some(1.0 / short_s);
            (technique.pulse_s, technique.pulse_period_s) = (Some(short_s), Some(short_s + long_s));
            technique.scan_rate_v_per_s = Some(1.0 / long_s);
            technique.duration_s = Some(long_s);
            (technique.deposition_v, technique.deposition_s) = (Some(other_v), Some(deposition_s));
            technique.quiet_s = quiet_s;
            technique
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, ..ProptestConfig::default() })]

    #[test]
    fn every_kind_of_extreme_scan_is_finite_or_refused(
        cell in cell(),
        technique in technique(),
        is_ramp in any::<bool>(),
        window_share in prop_oneof![Just(0.0), 0.0..1.0_f64],
    ) {
        let resolution = Resolution { nodes_per_layer: 3.0, growth: 1.5, steps_per_pulse: 2 };
        let sweep = if is_ramp { Sweep::Ramp } else { Sweep::Staircase };
        let sampling_window_s = window_share * technique.pulse_s.unwrap_or(0.0) / 2.0;
        let interval_s = technique.duration_s.map(|duration_s| duration_s / 10.0);
        match simulate(&cell, &technique, &Recording { resolution, sweep, sampling_window_s, interval_s }) {
            Ok(trace) => {
                let Trace { potential_v, current_a, time_s, analog, .. } = trace;
                let points = [potential_v, current_a, time_s, analog.time_s, analog.current_a, analog.potential_v];
                prop_assert!(points.iter().flatten().all(|number| number.is_finite()));
            }
            Err(error) => prop_assert!(error.to_string().len() > 20),
        }
    }
}

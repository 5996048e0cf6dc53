//! Impossible cells and techniques are refused with what was found and what would be accepted; nothing panics.

use proptest::prelude::*;
use stillwell_scan::Technique;
use stillwell_twin::{
    Cell, Couple, Edge, EdgeDirection, Geometry, Reaction, Recording, Resolution, TwinError, simulate,
};

use crate::scenes::{one_couple, square_wave};

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

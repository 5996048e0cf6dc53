//! The modes give what the nodes give.

use stillwell_scan::{Technique, TechniqueKind};

use super::Modes;
use crate::cell::{Cell, Couple, Medium, Species};
use crate::geometry::Geometry;
use crate::kinetics::Kinetics;
use crate::program::{Program, Recording};
use crate::simulate::{space, walk_through};
use crate::trace::AnalogTrace;

fn couple_on(geometry: Geometry, rate: f64, reduced_m2_per_s: f64) -> Cell {
    let mut cell = Cell::new(geometry);
    let oxidised = cell.add(Species::dissolved("oxidised", 1.0, 1e-9));
    let reduced = cell.add(Species::dissolved("reduced", 0.2, reduced_m2_per_s));
    cell.couples.push(Couple::new(oxidised, reduced, 0.0, rate));
    cell
}

fn cells() -> Vec<(&'static str, Cell)> {
    let plane = Geometry::Plane { area_m2: 1e-4 };
    let slow = couple_on(Geometry::Sphere { radius_m: 1e-5 }, 1e-5, 0.6e-9);
    let resisted = Cell { uncompensated_ohm: 50.0, double_layer_f_per_m2: 0.2, ..slow.clone() };
    let mut drifting = couple_on(plane, 1e-5, 1e-9);
    drifting.reference.drift_v_per_s = 1e-3;
    let mut two_couples = couple_on(plane, 1e-2, 0.6e-9);
    let third = two_couples.add(Species::dissolved("twice reduced", 0.0, 1e-9));
    two_couples.couples.push(Couple { n_electrons: 2, ..Couple::new(1, third, -0.05, 1e-4) });
    let mut film = couple_on(plane, 1e-4, 1e-10);
    film.species[1].medium = Medium::Film { thickness_m: 1e-6 };
    vec![
        ("reversible, alike", couple_on(plane, 1.0, 1e-9)),
        ("irreversible, alike", couple_on(plane, 1e-9, 1e-9)),
        ("sphere, not alike", slow),
        ("with resistance", resisted),
        ("with drift", drifting),
        ("two couples in a row", two_couples),
        ("film", film),
    ]
}

/// Currents by modes and node by node.
fn both_ways(cell: &Cell, technique: &Technique) -> [AnalogTrace; 2] {
    let recording = Recording { sampling_window_s: 1e-3, ..Recording::default() };
    let program = Program::new(technique, &recording, 40.0).unwrap();
    let space = space(cell, (0..cell.species.len()).collect(), &program, &recording).unwrap();
    let kinetics = Kinetics::new(cell);
    let modes = Modes::of(&space, &kinetics).unwrap();
    [
        walk_through(cell, &program, &recording, &modes, &kinetics).unwrap(),
        walk_through(cell, &program, &recording, &space, &kinetics).unwrap(),
    ]
}

#[test]
fn modes_give_what_the_nodes_give() {
    let mut wave = Technique::new(TechniqueKind::SquareWave, 0.2, -0.2);
    (wave.step_v, wave.amplitude_v) = (Some(0.01), Some(0.05));
    (wave.frequency_hz, wave.quiet_s) = (Some(25.0), Some(100.0));
    for (name, cell) in cells() {
        let [modes, nodes] = both_ways(&cell, &wave);
        let top = nodes.current_a.iter().fold(0.0_f64, |top, current| top.max(current.abs()));
        let apart = modes.current_a.iter().zip(&nodes.current_a).map(|(a, b)| (a - b).abs() / top);
        let worst = apart.fold(0.0_f64, f64::max);
        println!("{name:24} worst {worst:e} of {top:e} A");
        assert!(worst < 1e-10, "{name}: {worst}");
    }
}

#[test]
fn reactions_and_stirring_are_left_to_the_nodes() {
    let cell =
        Cell { stirred_layer_m: Some(1e-5), ..couple_on(Geometry::Plane { area_m2: 1e-4 }, 1.0, 1e-9) };
    let wave = Technique::new(TechniqueKind::Chronoamperometry, 0.0, 0.0);
    let wave = Technique { duration_s: Some(1.0), ..wave };
    let recording = Recording::default();
    let program = Program::new(&wave, &recording, 40.0).unwrap();
    let space = space(&cell, vec![0, 1], &program, &recording).unwrap();
    assert!(Modes::of(&space, &Kinetics::new(&cell)).is_none());
}

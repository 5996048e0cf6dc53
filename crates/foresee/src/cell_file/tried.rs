//! What the twin says of one number in a cell in which nothing else is wrong.

use stillwell_twin::{Cell, Couple, Edge, EdgeDirection, Geometry, Reaction, Species, TwinError};

/// A cell in which nothing is wrong, to try one number in.
fn sound() -> Cell {
    let mut cell = Cell::new(Geometry::Plane { area_m2: 1e-6 });
    let oxidised = cell.add(Species::dissolved("oxidised", 0.0, 1e-9));
    let reduced = cell.add(Species::dissolved("reduced", 0.0, 1e-9));
    cell.couples.push(Couple::new(oxidised, reduced, 0.0, 1e-3));
    cell.reactions.push(Reaction { from: oxidised, to: None, rate_per_s: 1.0, activation_j_per_mol: 0.0 });
    let direction = EdgeDirection::Reduction;
    cell.edges.push(Edge { direction, potential_v: -1.0, density_a_per_m2: 1.0, decade_v: 0.1 });
    cell
}

/// What the twin says of a number in a sound cell.
pub(super) fn tried(put: impl Fn(&mut Cell, f64)) -> impl Fn(f64) -> Result<(), TwinError> {
    move |value| {
        let mut cell = sound();
        put(&mut cell, value);
        cell.check()
    }
}

/// The same in the first of a cell's parts.
pub(super) fn tried_in<T>(
    parts: fn(&mut Cell) -> &mut Vec<T>,
    put: impl Fn(&mut T, f64),
) -> impl Fn(f64) -> Result<(), TwinError> {
    tried(move |cell, value| parts(cell).first_mut().into_iter().for_each(|part| put(part, value)))
}

//! What a cell and a technique must be before anything is calculated.

use core::ops::RangeInclusive;

use stillwell_scan::Technique;

use crate::cell::{Cell, Medium};
use crate::error::TwinError;
use crate::kinetics::MAX_COUPLES;
use crate::program::{Program, Resolution};
use crate::surface::Wear;

/// Highest potential of a technique or couple, V: beyond all cells.
const MAX_POTENTIAL_V: f64 = 10.0;

/// Shortest step and longest course of a technique, s: from beyond all converters to what any steady state needs.
const SHORTEST_S: f64 = 1e-9;
const LONGEST_S: f64 = 1e11;

/// Shortest step as a share of the whole course: far above the rounding of its clock.
const FINEST_SHARE: f64 = 1e-10;

/// Smallest number that counts as positive here.
const POSITIVE: f64 = f64::MIN_POSITIVE;

/// Checks a cell and returns its species in an order in which each reaction leads onwards.
///
/// # Errors
/// The first number out of its range, or what does not fit together.
pub(crate) fn check_cell(cell: &Cell) -> Result<Vec<usize>, TwinError> {
    check_electrode(cell)?;
    check_surface(cell)?;
    check_species(cell)?;
    check_couples(cell)?;
    check_edges(cell)?;
    check_reactions(cell)?;
    reaction_order(cell)
}

fn within(
    what: impl Into<String>,
    found: f64,
    range: RangeInclusive<f64>,
    accepted: &'static str,
) -> Result<(), TwinError> {
    if range.contains(&found) {
        return Ok(());
    }
    Err(TwinError::OutOfRange { what: what.into(), found, accepted })
}

fn check_electrode(cell: &Cell) -> Result<(), TwinError> {
    let size = cell.geometry.size();
    within("the electrode's size (area in m2 or radius in m)", size, 1e-12..=1.0, "1e-12 to 1")?;
    within("the temperature in K", cell.temperature_k, 263.0..=373.0, "263 to 373")?;
    within("the double layer in F/m2", cell.double_layer_f_per_m2, 0.0..=1e3, "0 to 1e3")?;
    within("the uncompensated resistance in ohm", cell.uncompensated_ohm, 0.0..=1e9, "0 to 1e9")?;
    if let Some(layer_m) = cell.stirred_layer_m {
        within("the stirred layer in m", layer_m, 1e-7..=1e-2, "1e-7 to 1e-2")?;
    }
    within("the reference's offset in V", cell.reference.offset_v, -2.0..=2.0, "-2 to 2")?;
    within("the reference's drift in V/s", cell.reference.drift_v_per_s, -1.0..=1.0, "-1 to 1")?;
    let ratio = cell.reference.chloride_ratio.unwrap_or(1.0);
    within("the reference's chloride ratio", ratio, 1e-9..=1e9, "1e-9 to 1e9")
}

fn check_surface(cell: &Cell) -> Result<(), TwinError> {
    for (name, wear) in [("area", cell.surface.area), ("rate", cell.surface.rate)] {
        let Wear { activation_deficit, activation_scans, passivation_per_scan } = wear;
        within(
            format!("the surface's activation deficit of {name}"),
            activation_deficit,
            0.0..=0.999,
            "0 to 0.999",
        )?;
        within(
            format!("the surface's activation scans of {name}"),
            activation_scans,
            1e-3..=1e6,
            "1e-3 to 1e6",
        )?;
        within(
            format!("the surface's passivation per scan of {name}"),
            passivation_per_scan,
            0.0..=0.999,
            "0 to 0.999",
        )?;
        let share = wear.share(cell.surface.scan_number);
        within(
            format!("the share of {name} left at scan {}", cell.surface.scan_number),
            share,
            1e-9..=1.0,
            "1e-9 to 1",
        )?;
    }
    Ok(())
}

fn check_species(cell: &Cell) -> Result<(), TwinError> {
    for species in &cell.species {
        let of = |what: &str| format!("{what} of {}", species.name);
        within(of("the concentration in mol/m3"), species.bulk_mol_per_m3, 0.0..=1e5, "0 to 1e5")?;
        within(
            of("the diffusion coefficient in m2/s"),
            species.diffusion_m2_per_s,
            1e-16..=1e-6,
            "1e-16 to 1e-6",
        )?;
        within(
            of("the activation energy of diffusion in J/mol"),
            species.diffusion_activation_j_per_mol,
            0.0..=3e5,
            "0 to 3e5",
        )?;
        if let Medium::Film { thickness_m } = species.medium {
            within(of("the thickness in m of the film"), thickness_m, 1e-12..=1e-2, "1e-12 to 1e-2")?;
        }
    }
    Ok(())
}

fn check_couples(cell: &Cell) -> Result<(), TwinError> {
    if cell.couples.len() > MAX_COUPLES {
        return Err(TwinError::TooManyCouples { found: cell.couples.len(), at_most: MAX_COUPLES });
    }
    for (index, couple) in cell.couples.iter().enumerate() {
        let of = |what: &str| format!("{what} of couple {index}");
        let name = format!("couple {index}");
        check_indices(cell, &name, couple.oxidised, Some(couple.reduced))?;
        within(of("the number of electrons"), f64::from(couple.n_electrons), 1.0..=20.0, "1 to 20")?;
        let alpha = couple.alpha;
        within(
            of("the transfer coefficient alpha"),
            alpha,
            0.01..=0.99,
            "0.01 to 0.99 (it lies between 0 and 1)",
        )?;
        let formal_v = couple.formal_potential_v;
        within(of("the formal potential in V"), formal_v, -MAX_POTENTIAL_V..=MAX_POTENTIAL_V, "-10 to 10")?;
        let rate = couple.rate_constant_m_per_s;
        within(of("the rate constant in m/s"), rate, POSITIVE..=1e6, "above 0, up to 1e6")?;
        let activation = couple.rate_activation_j_per_mol;
        within(of("the activation energy in J/mol"), activation, 0.0..=3e5, "0 to 3e5")?;
    }
    Ok(())
}

fn check_edges(cell: &Cell) -> Result<(), TwinError> {
    for (index, edge) in cell.edges.iter().enumerate() {
        let of = |what: &str| format!("{what} of edge {index}");
        let potential_v = edge.potential_v;
        within(of("the potential in V"), potential_v, -MAX_POTENTIAL_V..=MAX_POTENTIAL_V, "-10 to 10")?;
        within(
            of("the current density in A/m2"),
            edge.density_a_per_m2,
            POSITIVE..=1e5,
            "above 0, up to 1e5",
        )?;
        within(of("the potential in V for a decade"), edge.decade_v, 1e-3..=10.0, "1e-3 to 10")?;
    }
    Ok(())
}

fn check_indices(cell: &Cell, what: &str, from: usize, to: Option<usize>) -> Result<(), TwinError> {
    let n_species = cell.species.len();
    for index in [Some(from), to].into_iter().flatten() {
        if index >= n_species {
            return Err(TwinError::SpeciesMissing { what: what.to_owned(), index, n_species });
        }
    }
    if to == Some(from) {
        return Err(TwinError::SameSpecies { what: what.to_owned(), index: from });
    }
    Ok(())
}

fn check_reactions(cell: &Cell) -> Result<(), TwinError> {
    for (index, reaction) in cell.reactions.iter().enumerate() {
        check_indices(cell, &format!("reaction {index}"), reaction.from, reaction.to)?;
        let of = |what: &str| format!("{what} of reaction {index}");
        within(of("the rate constant in 1/s"), reaction.rate_per_s, 0.0..=1e12, "0 to 1e12")?;
        let activation = reaction.activation_j_per_mol;
        within(of("the activation energy in J/mol"), activation, 0.0..=3e5, "0 to 3e5")?;
        let medium = |species: usize| cell.species[species].medium;
        if reaction.to.is_some_and(|to| medium(to) != medium(reaction.from)) {
            return Err(TwinError::ReactionBetweenMedia { reaction: index });
        }
    }
    Ok(())
}

/// Each species after all from which it is made.
fn reaction_order(cell: &Cell) -> Result<Vec<usize>, TwinError> {
    let n_species = cell.species.len();
    let mut order: Vec<usize> = Vec::with_capacity(n_species);
    while order.len() < n_species {
        let is_ready = |species: usize| {
            let mut makers = cell.reactions.iter().filter(|reaction| reaction.to == Some(species));
            !order.contains(&species) && makers.all(|reaction| order.contains(&reaction.from))
        };
        let Some(species) = (0..n_species).find(|species| is_ready(*species)) else {
            let species = (0..n_species).find(|species| !order.contains(species)).unwrap_or(0);
            return Err(TwinError::ReactionCircle { species });
        };
        order.push(species);
    }
    Ok(order)
}

/// # Errors
/// A potential that no cell has.
pub(crate) fn check_potentials(technique: &Technique) -> Result<(), TwinError> {
    let potentials = [
        ("start_v", Some(technique.start_v)),
        ("end_v", Some(technique.end_v)),
        ("vertex_v", technique.vertex_v),
        ("deposition_v", technique.deposition_v),
        ("amplitude_v", technique.amplitude_v),
    ];
    for (key, potential_v) in potentials {
        if let Some(potential_v) = potential_v {
            within(key, potential_v, -MAX_POTENTIAL_V..=MAX_POTENTIAL_V, "-10 to 10 V")?;
        }
    }
    Ok(())
}

/// # Errors
/// A pulse, step, sampling window or whole course of a length that no scan has, or that its clock cannot resolve; a
/// reference that drifts out of all bounds on the way.
pub(crate) fn check_course(program: &Program, window_s: f64, drift_v_per_s: f64) -> Result<(), TwinError> {
    let whole_s = program.duration_s();
    within("the length in s of the whole technique", whole_s, SHORTEST_S..=LONGEST_S, "1e-9 to 1e11")?;
    let resolved_s = SHORTEST_S.max(FINEST_SHARE * whole_s);
    for stretch in program.before.iter().chain(&program.scan) {
        let what = "the length in s of a step, pulse, rest or deposition";
        within(
            what,
            stretch.duration_s,
            resolved_s..=LONGEST_S,
            "1e-9 to 1e11, and 1e-10 of the whole technique",
        )?;
    }
    let drift_v = drift_v_per_s * whole_s;
    within(
        "the reference's drift in V over the technique",
        drift_v,
        -MAX_POTENTIAL_V..=MAX_POTENTIAL_V,
        "-10 to 10",
    )?;
    if window_s == 0.0 {
        return Ok(());
    }
    within(
        "the sampling window in s",
        window_s,
        resolved_s..=LONGEST_S,
        "0, or from 1e-9 and 1e-10 of the whole technique",
    )
}

/// # Errors
/// A division that is no division.
pub(crate) fn check_resolution(resolution: &Resolution) -> Result<(), TwinError> {
    let steps = f64::from(resolution.steps_per_pulse);
    within("the nodes per layer", resolution.nodes_per_layer, 2.0..=1e3, "2 to 1e3")?;
    within("the growth of the grid", resolution.growth, 1.0005..=1.5, "1.0005 to 1.5")?;
    within("the steps per pulse", steps, 2.0..=1e3, "2 to 1000")
}

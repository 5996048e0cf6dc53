//! Diffusion without reactions, as a sum of modes that decay each by itself: the fast way.
//!
//! At the surface, the grid of a species is a linear system with one input, the flux, and one output, the surface
//! concentration. In the eigenvectors of its matrix (which is symmetric, once scaled by the volumes) no node waits for its
//! neighbour: each mode decays at its own rate and takes its share of the flux, and the fall of the surface concentration
//! is the sum of all modes. The same stages as node by node act on each mode, so that the numbers are the same up to
//! rounding. A bulk without reactions stands still, so all modes start at 0.
//!
//! Being linear, the fall is kept by couple and not by species: what a couple takes from one species and gives to another
//! that diffuses alike is one and the same sum of modes.

mod step;
#[cfg(test)]
mod tests;

use self::step::{MediumStep, Mode, filled_up};
use crate::diffusion::{Space, Substance};
use crate::kinetics::{Fluxes, Kinetics, MAX_COUPLES, Rate, Rates};
use crate::spectrum::spectrum;
use crate::stages::{STAGES, Stage};
use crate::transport::Transport;

/// Nodes of one species up to which its modes are sought: that takes the square of their number.
const MAX_NODES: usize = 4096;

/// The modes of a cell's solution.
#[derive(Debug, Clone)]
pub(crate) struct Modes {
    bulk_mol_per_m3: Vec<f64>,
    /// Media that differ in grid or diffusion.
    media: Vec<Vec<Mode>>,
    memories: Vec<Memory>,
    /// Where there is but one couple.
    lone: Option<Lone>,
    n_nodes: usize,
}

/// What remains of the fluxes of one couple in one medium.
#[derive(Debug, Clone)]
struct Memory {
    medium: usize,
    couple: usize,
    /// Species that fall at the surface with it: +1 where the couple's reduction takes them, −1 where it makes them.
    terms: Vec<(usize, f64)>,
}

/// The only couple.
#[derive(Debug, Clone, Copy)]
struct Lone {
    /// Bulk concentrations, mol/m³.
    oxidised_mol_per_m3: f64,
    reduced_mol_per_m3: f64,
    /// Memories with which the two forms fall and rise; the same where they diffuse alike.
    oxidised: usize,
    reduced: usize,
}

/// All media's modes for one length of step.
#[derive(Debug, Clone)]
pub(crate) struct StepMatrix {
    media: Vec<MediumStep>,
    response: Vec<f64>,
}

/// The memories through time.
#[derive(Debug, Clone)]
pub(crate) struct Falls {
    pasts: Vec<Past>,
    /// Surface concentrations without the flux of this stage, mol/m³.
    level: Vec<f64>,
}

/// One memory at the start of a step.
#[derive(Debug, Clone)]
struct Past {
    modes: Vec<f64>,
    /// Fall of the surface concentration at each stage, were there no fluxes in this step, mol/m³.
    unforced: [f64; 3],
    /// Of each stage, mol/(m² s).
    fluxes: [f64; 3],
}

impl Modes {
    /// `None` where only the nodes will do: with reactions, with a stirred layer, on a grid beyond all need.
    pub(crate) fn of(space: &Space, kinetics: &Kinetics) -> Option<Self> {
        let substances = space.without_reactions()?;
        let mut kinds: Vec<&Substance> = Vec::new();
        let mut modes = Self {
            bulk_mol_per_m3: substances.iter().map(Substance::bulk_mol_per_m3).collect(),
            media: Vec::new(),
            memories: Vec::new(),
            lone: None,
            n_nodes: space.n_nodes(),
        };
        for (species, substance) in substances.iter().enumerate() {
            for couple in 0..kinetics.n_couples() {
                let takes = kinetics.takes(couple, species);
                if takes == 0.0 {
                    continue;
                }
                let known = kinds.iter().position(|kind| kind.diffuses_like(substance));
                if known.is_none() {
                    kinds.push(substance);
                    modes.media.push(medium_modes(substance)?);
                }
                let medium = known.unwrap_or(kinds.len() - 1);
                modes.remember(medium, couple, (species, takes));
            }
        }
        modes.lone = (kinetics.n_couples() == 1).then(|| modes.lone()).flatten();
        Some(modes)
    }

    fn lone(&self) -> Option<Lone> {
        let side = |is_taken: bool| {
            let has = |memory: &Memory| {
                memory.terms.iter().find(|(_, takes)| (*takes > 0.0) == is_taken).map(|term| term.0)
            };
            let (index, species) =
                self.memories.iter().enumerate().find_map(|(index, memory)| Some((index, has(memory)?)))?;
            Some((index, self.bulk_mol_per_m3[species]))
        };
        let ((oxidised, oxidised_mol_per_m3), (reduced, reduced_mol_per_m3)) = (side(true)?, side(false)?);
        Some(Lone { oxidised_mol_per_m3, reduced_mol_per_m3, oxidised, reduced })
    }

    fn remember(&mut self, medium: usize, couple: usize, term: (usize, f64)) {
        let is_same = |memory: &&mut Memory| memory.medium == medium && memory.couple == couple;
        match self.memories.iter_mut().find(is_same) {
            Some(memory) => memory.terms.push(term),
            None => self.memories.push(Memory { medium, couple, terms: vec![term] }),
        }
    }
}

fn medium_modes(substance: &Substance) -> Option<Vec<Mode>> {
    let (volume_m, conductance_m_per_s) = substance.volumes_and_conductances();
    let n = volume_m.len();
    if n > MAX_NODES {
        return None;
    }
    let conducted = |i: usize| conductance_m_per_s.get(i).copied().unwrap_or(0.0);
    let before = |i: usize| if i > 0 { conducted(i - 1) } else { 0.0 };
    // From the far end, where the entries are small, to the surface.
    let diagonal: Vec<f64> = (0..n).rev().map(|i| (before(i) + conducted(i)) / volume_m[i]).collect();
    let coupling: Vec<f64> = (0..n - 1)
        .rev()
        .map(|i| -conducted(i) / (libm::sqrt(volume_m[i]) * libm::sqrt(volume_m[i + 1])))
        .collect();
    let lines = spectrum(&diagonal, &coupling)?;
    let mut modes: Vec<Mode> = lines
        .iter()
        .map(|line| Mode { rate_per_s: line.eigenvalue.max(0.0), gain_per_m: line.share / volume_m[0] })
        .collect();
    // Nothing leaves through the far end: one mode, the mean of all nodes, lasts for ever.
    if let Some(slowest) = modes.iter_mut().min_by(|a, b| a.rate_per_s.total_cmp(&b.rate_per_s)) {
        slowest.rate_per_s = 0.0;
    }
    Some(filled_up(modes))
}

impl Transport for Modes {
    type Matrix = StepMatrix;
    type State = Falls;

    fn n_nodes(&self) -> usize {
        self.n_nodes
    }

    /// Nothing is stirred here: see [`Modes::of`].
    fn matrix(&self, kinetics: &Kinetics, stage_s: f64, _is_stirred: bool) -> StepMatrix {
        let media: Vec<MediumStep> = self.media.iter().map(|modes| MediumStep::new(modes, stage_s)).collect();
        let n_couples = kinetics.n_couples();
        let mut response = vec![0.0; self.bulk_mol_per_m3.len() * n_couples];
        for Memory { medium, couple, terms } in &self.memories {
            for (species, takes) in terms {
                // Each stage answers alike to its own flux.
                response[species * n_couples + couple] = takes * media[*medium].fall_per_flux[0][0];
            }
        }
        StepMatrix { media, response }
    }

    fn state(&self) -> Falls {
        let past = |memory: &Memory| Past {
            modes: vec![0.0; self.media[memory.medium].len()],
            unforced: [0.0; 3],
            fluxes: [0.0; 3],
        };
        Falls { pasts: self.memories.iter().map(past).collect(), level: self.bulk_mol_per_m3.clone() }
    }

    #[inline]
    fn prepare<'s>(&self, matrix: &StepMatrix, stage: Stage, state: &'s mut Falls) -> &'s [f64] {
        for (level, bulk) in state.level.iter_mut().zip(&self.bulk_mol_per_m3) {
            *level = *bulk;
        }
        for (memory, past) in self.memories.iter().zip(&mut state.pasts) {
            let medium = &matrix.media[memory.medium];
            if stage.index == 0 {
                past.unforced = [0, 1, 2].map(|stage| medium.sum_of_left(stage, &past.modes));
            }
            let per_flux = |flux: usize| medium.fall_per_flux[flux][stage.index] * past.fluxes[flux];
            let forced = match stage.index {
                0 => 0.0,
                1 => per_flux(0),
                _ => per_flux(0) + per_flux(1),
            };
            let fall = past.unforced[stage.index] + forced;
            for &(species, takes) in &memory.terms {
                state.level[species] -= takes * fall;
            }
        }
        &state.level
    }

    fn response(matrix: &StepMatrix) -> &[f64] {
        &matrix.response
    }

    #[inline]
    fn finish(&self, _: &Kinetics, matrix: &StepMatrix, stage: Stage, fluxes: &Fluxes, state: &mut Falls) {
        for (memory, past) in self.memories.iter().zip(&mut state.pasts) {
            past.fluxes[stage.index] = fluxes[memory.couple];
            if stage.index + 1 == STAGES.len() {
                matrix.media[memory.medium].advance(past.fluxes, &mut past.modes);
            }
        }
    }

    /// The one equation of each stage, `J = k_red c_ox − k_ox c_red`, with the fluxes of the stages before put in.
    #[inline]
    fn leap(&self, rates: &Rates, matrix: &StepMatrix, state: &mut Falls) -> Option<Fluxes> {
        let lone = self.lone?;
        let Rate { red, ox, one } = rates.of_couple[0];
        let step = |memory: usize| &matrix.media[self.memories[memory].medium];
        let (oxidised, reduced) = (step(lone.oxidised), step(lone.reduced));
        let left = |memory: usize, stage: usize| step(memory).sum_of_left(stage, &state.pasts[memory].modes);
        let fallen = |stage: usize| {
            let fall = left(lone.oxidised, stage);
            let rise = if lone.reduced == lone.oxidised { fall } else { left(lone.reduced, stage) };
            red * fall + ox * rise
        };
        let per_flux = |flux: usize, stage: usize| {
            red * oxidised.fall_per_flux[flux][stage] + ox * reduced.fall_per_flux[flux][stage]
        };
        let share = 1.0 / (one + per_flux(0, 0));
        let bulk = red * lone.oxidised_mol_per_m3 - ox * lone.reduced_mol_per_m3;
        let first = share * (bulk - fallen(0));
        let second = share * (bulk - fallen(1) - per_flux(0, 1) * first);
        let third = share * (bulk - fallen(2) - per_flux(0, 2) * first - per_flux(1, 2) * second);
        if !third.is_finite() {
            return None;
        }
        for (memory, past) in self.memories.iter().zip(&mut state.pasts) {
            matrix.media[memory.medium].advance([first, second, third], &mut past.modes);
        }
        let mut fluxes = [0.0; MAX_COUPLES];
        fluxes[0] = third;
        Some(fluxes)
    }
}

//! Diffusion and first-order chemistry of all species: one implicit stage, solved up to the fluxes at the surface.
//!
//! A technique has few lengths of step; the matrices of each are factored once.

use crate::cell::{Cell, Medium};
use crate::geometry::{Grid, conductance};
use crate::kinetics::{Fluxes, Kinetics};
use crate::recurrence::Recurrence;
use crate::stages::Stage;
use crate::temperature::arrhenius_factor;
use crate::transport::Transport;

/// Grids and constants of all species.
#[derive(Debug, Clone)]
pub(crate) struct Space {
    media: Vec<Substance>,
    /// Species in an order in which every reaction leads onwards.
    order: Vec<usize>,
    radius_m: Option<f64>,
    stirred_layer_m: Option<f64>,
}

/// One species on its grid.
#[derive(Debug, Clone)]
pub(crate) struct Substance {
    grid: Grid,
    is_film: bool,
    diffusion_m2_per_s: f64,
    bulk_mol_per_m3: f64,
    /// Total rate at which it disappears, 1/s.
    loss_per_s: f64,
    /// Where it comes from: species and rate.
    sources: Vec<(usize, f64)>,
    feeds: bool,
}

/// How finely and how far the space is divided.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Extent {
    pub(crate) first_m: f64,
    pub(crate) growth: f64,
    pub(crate) length_m: f64,
}

/// One species' matrix for one length of stage, factored from the far end to the surface.
#[derive(Debug, Clone)]
struct Factor {
    /// What each node keeps of where the stage departs.
    from_start: Vec<f64>,
    /// From the far end, beyond which the stirred bulk may stand, to the surface.
    inward: Recurrence,
    outward: Recurrence,
    /// Fall of the surface concentration per flux out of the surface node, s/m.
    per_flux: f64,
}

/// All species' matrices for one length of stage.
#[derive(Debug, Clone)]
pub(crate) struct StageMatrix {
    factors: Vec<Factor>,
    stage_s: f64,
    /// By species and couple: fall of the surface concentration per flux of the couple, s/m.
    response: Vec<f64>,
}

/// Concentrations of all species and the scratch of one stage.
#[derive(Debug, Clone)]
pub(crate) struct Profiles {
    /// At the start of the step.
    start: Vec<Vec<f64>>,
    /// After the first and the second stage.
    stages: [Vec<Vec<f64>>; 2],
    next: Vec<Vec<f64>>,
    right: Vec<Vec<f64>>,
    /// Surface concentrations without any flux, mol/m³.
    level: Vec<f64>,
}

impl Space {
    pub(crate) fn new(cell: &Cell, order: Vec<usize>, extent: Extent) -> Self {
        let radius_m = cell.geometry.curvature_radius_m();
        let media = (0..cell.species.len()).map(|index| substance(cell, index, extent)).collect();
        Self { media, order, radius_m, stirred_layer_m: cell.stirred_layer_m }
    }

    /// All species, where no reaction links or consumes them and nothing is stirred.
    pub(crate) fn without_reactions(&self) -> Option<&[Substance]> {
        let is_still = |substance: &Substance| substance.loss_per_s == 0.0 && substance.sources.is_empty();
        (self.stirred_layer_m.is_none() && self.media.iter().all(is_still)).then_some(&self.media)
    }

    /// What a flux of 1 of each couple does to each surface concentration, through the reactions too.
    fn responses(&self, kinetics: &Kinetics, matrix: &StageMatrix) -> Vec<f64> {
        let n_couples = kinetics.n_couples();
        let mut responses = vec![0.0; self.media.len() * n_couples];
        let mut profiles: Vec<Vec<f64>> =
            self.media.iter().map(|substance| vec![0.0; substance.grid.position_m.len()]).collect();
        for couple in 0..n_couples {
            for &species in &self.order {
                let factor = &matrix.factors[species];
                let mut right = vec![0.0; profiles[species].len()];
                add_sources(&self.media[species], factor, matrix.stage_s, &profiles, &mut right);
                factor.inward.fall(&mut right, 0.0);
                right[0] -= kinetics.takes(couple, species) * factor.per_flux;
                factor.outward.rise(&mut right, 0.0);
                profiles[species] = right;
                responses[species * n_couples + couple] = -profiles[species][0];
            }
        }
        responses
    }

    fn sweep_in(&self, matrix: &StageMatrix, stage: Stage, species: usize, profiles: &mut Profiles) {
        let right = &mut profiles.right[species];
        let [first, second] = &profiles.stages;
        let earlier = profiles.start[species].iter().zip(&first[species]).zip(&second[species]);
        let factor = &matrix.factors[species];
        for ((right, ((&start, &first), &second)), share) in
            right.iter_mut().zip(earlier).zip(&factor.from_start)
        {
            *right = share * stage.departure(start, first, second);
        }
        let substance = &self.media[species];
        add_sources(substance, factor, matrix.stage_s, &profiles.next, right);
        factor.inward.fall(right, substance.bulk_mol_per_m3);
    }
}

impl Substance {
    pub(crate) fn bulk_mol_per_m3(&self) -> f64 {
        self.bulk_mol_per_m3
    }

    /// Whether the same fluxes would make the same concentrations fall alike.
    pub(crate) fn diffuses_like(&self, other: &Self) -> bool {
        self.diffusion_m2_per_s.to_bits() == other.diffusion_m2_per_s.to_bits() && self.grid == other.grid
    }

    /// Volume of each node and conductance to the next, per area of the electrode, m and m/s.
    pub(crate) fn volumes_and_conductances(&self) -> (&[f64], Vec<f64>) {
        let conductance = self.grid.conductance_per_m.iter();
        (&self.grid.volume_m, conductance.map(|per_m| self.diffusion_m2_per_s * per_m).collect())
    }
}

impl Transport for Space {
    type Matrix = StageMatrix;
    type State = Profiles;

    fn n_nodes(&self) -> usize {
        self.media.iter().map(|substance| substance.grid.position_m.len()).sum()
    }

    fn matrix(&self, kinetics: &Kinetics, stage_s: f64, is_stirred: bool) -> Self::Matrix {
        let layer_m = self.stirred_layer_m.filter(|_| is_stirred);
        let factors: Vec<Factor> =
            self.media.iter().map(|substance| factor(substance, stage_s, layer_m, self.radius_m)).collect();
        let mut matrix = StageMatrix { factors, stage_s, response: Vec::new() };
        matrix.response = self.responses(kinetics, &matrix);
        matrix
    }

    fn state(&self) -> Profiles {
        let start: Vec<Vec<f64>> = self
            .media
            .iter()
            .map(|substance| vec![substance.bulk_mol_per_m3; substance.grid.position_m.len()])
            .collect();
        Profiles {
            stages: [start.clone(), start.clone()],
            next: start.clone(),
            right: start.clone(),
            level: vec![0.0; start.len()],
            start,
        }
    }

    fn prepare<'s>(&self, matrix: &StageMatrix, stage: Stage, profiles: &'s mut Profiles) -> &'s [f64] {
        for &species in &self.order {
            self.sweep_in(matrix, stage, species, profiles);
            profiles.level[species] = profiles.right[species][0];
            if self.media[species].feeds {
                let next = &mut profiles.next[species];
                next.copy_from_slice(&profiles.right[species]);
                matrix.factors[species].outward.rise(next, 0.0);
            }
        }
        &profiles.level
    }

    fn response(matrix: &StageMatrix) -> &[f64] {
        &matrix.response
    }

    fn finish(
        &self,
        kinetics: &Kinetics,
        matrix: &StageMatrix,
        stage: Stage,
        fluxes: &Fluxes,
        profiles: &mut Profiles,
    ) {
        for &species in &self.order {
            if !self.media[species].sources.is_empty() {
                self.sweep_in(matrix, stage, species, profiles);
            }
            let out: f64 = (0..kinetics.n_couples()).map(|k| kinetics.takes(k, species) * fluxes[k]).sum();
            let factor = &matrix.factors[species];
            let right = &mut profiles.right[species];
            right[0] -= out * factor.per_flux;
            factor.outward.rise(right, 0.0);
            core::mem::swap(right, &mut profiles.next[species]);
        }
        let done = profiles.stages.get_mut(stage.index).unwrap_or(&mut profiles.start);
        core::mem::swap(done, &mut profiles.next);
    }
}

fn substance(cell: &Cell, index: usize, extent: Extent) -> Substance {
    let species = &cell.species[index];
    let rate = |reaction: &crate::cell::Reaction| {
        reaction.rate_per_s * arrhenius_factor(reaction.activation_j_per_mol, cell.temperature_k)
    };
    let Extent { first_m, growth, length_m } = extent;
    let (grid, is_film) = match species.medium {
        Medium::Solution => (Grid::new(first_m, growth, length_m, cell.geometry.curvature_radius_m()), false),
        Medium::Film { thickness_m } => (Grid::new(first_m, growth, thickness_m, None), true),
    };
    let sources = cell.reactions.iter().filter(|reaction| reaction.to == Some(index));
    let losses = cell.reactions.iter().filter(|reaction| reaction.from == index);
    Substance {
        grid,
        is_film,
        diffusion_m2_per_s: species.diffusion_m2_per_s
            * arrhenius_factor(species.diffusion_activation_j_per_mol, cell.temperature_k),
        bulk_mol_per_m3: species.bulk_mol_per_m3,
        loss_per_s: losses.clone().map(rate).sum(),
        sources: sources.map(|reaction| (reaction.from, rate(reaction))).collect(),
        feeds: losses.clone().any(|reaction| reaction.to.is_some()),
    }
}

fn factor(substance: &Substance, stage_s: f64, layer_m: Option<f64>, radius_m: Option<f64>) -> Factor {
    let Grid { position_m, volume_m, conductance_per_m } = &substance.grid;
    let layer_m = layer_m.filter(|_| !substance.is_film);
    let n = position_m.len();
    let n_active =
        layer_m.map_or(n, |layer_m| position_m.iter().filter(|x| **x < 0.999 * layer_m).count().max(1));
    let conducted = |i: usize| substance.diffusion_m2_per_s * conductance_per_m[i];
    let wall = layer_m.map_or(0.0, |layer_m| {
        substance.diffusion_m2_per_s * conductance(position_m[n_active - 1], layer_m, radius_m)
    });
    // Nodes beyond a stirred layer keep their concentration.
    let mut from_start = vec![1.0; n];
    let mut from_outside = vec![0.0; n_active];
    let mut from_inside = vec![0.0; n_active];
    // What a node holds and passes outwards, without the way back inwards: sums only, so that a film thin against its
    // diffusion layer keeps its digits.
    let (mut held, mut inverse) = (0.0, 0.0);
    for i in (0..n_active).rev() {
        let to_outside = if i + 1 == n_active { wall } else { conducted(i) };
        let to_inside = if i > 0 { conducted(i - 1) } else { 0.0 };
        let passed = if i + 1 == n_active { wall } else { to_outside * (held * inverse) };
        let stored = volume_m[i] / stage_s;
        held = stored + volume_m[i] * substance.loss_per_s + passed;
        inverse = 1.0 / (held + to_inside);
        from_start[i] = stored * inverse;
        from_outside[i] = to_outside * inverse;
        from_inside[i] = to_inside * inverse;
    }
    let (inward, outward) = (Recurrence::falling(from_outside), Recurrence::rising(from_inside));
    Factor { from_start, inward, outward, per_flux: inverse }
}

/// What reactions bring to a species during the stage.
fn add_sources(
    substance: &Substance,
    factor: &Factor,
    stage_s: f64,
    profiles: &[Vec<f64>],
    right: &mut [f64],
) {
    for &(source, rate_per_s) in &substance.sources {
        for ((right, concentration), share) in right.iter_mut().zip(&profiles[source]).zip(&factor.from_start)
        {
            *right += share * (stage_s * rate_per_s * concentration);
        }
    }
}

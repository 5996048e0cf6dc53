//! What the walk through time asks of the solution: how the concentrations at the surface answer to fluxes.
//!
//! Two ways give the same numbers up to rounding: [`crate::diffusion`] solves node by node and can do everything,
//! [`crate::modes`] is many times as fast and knows neither reactions nor a stirred layer.

use crate::kinetics::{Fluxes, Kinetics, Rates};
use crate::stages::Stage;

/// A solution, divided in space.
pub(crate) trait Transport {
    /// What one length of stage needs.
    type Matrix;
    /// Concentrations, and what the stages of a step leave for each other.
    type State;

    /// Nodes of all species together.
    fn n_nodes(&self) -> usize;

    fn matrix(&self, kinetics: &Kinetics, stage_s: f64, is_stirred: bool) -> Self::Matrix;

    /// All species at their bulk concentrations.
    fn state(&self) -> Self::State;

    /// Solves a stage as far as it goes without the fluxes; returns the surface concentrations without any flux, mol/m³.
    fn prepare<'s>(&self, matrix: &Self::Matrix, stage: Stage, state: &'s mut Self::State) -> &'s [f64];

    /// By species and couple: fall of the surface concentration per flux of the couple, s/m.
    fn response(matrix: &Self::Matrix) -> &[f64];

    /// Ends a stage with the fluxes that the interface settled on.
    fn finish(
        &self,
        kinetics: &Kinetics,
        matrix: &Self::Matrix,
        stage: Stage,
        fluxes: &Fluxes,
        state: &mut Self::State,
    );

    /// All stages of a step at once, while the potential stands still and nothing resists; the fluxes at its end. `None`,
    /// and nothing has changed, where the stages must be made one by one.
    fn leap(&self, _rates: &Rates, _matrix: &Self::Matrix, _state: &mut Self::State) -> Option<Fluxes> {
        None
    }
}

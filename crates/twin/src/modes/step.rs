//! What a time step does to the modes of one medium: all of its stages at once.

use crate::stages::STAGES;

/// Sums that are made side by side; the number of modes is filled up to a multiple of it.
const LANES: usize = 4;

/// Part of the solution's answer to a flux.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Mode {
    pub(super) rate_per_s: f64,
    /// Its part of the fall of the surface concentration per flux and time, 1/m.
    pub(super) gain_per_m: f64,
}

#[derive(Debug, Clone, Default)]
pub(super) struct MediumStep {
    /// Left of each mode at each stage of what was there at the start of the step.
    kept: [Vec<f64>; 3],
    /// Added to each mode at the end of the step per flux of each stage, s/m.
    added: [Vec<f64>; 3],
    /// Fall of the surface concentration per flux of each stage, at each stage, s/m.
    pub(super) fall_per_flux: [[f64; 3]; 3],
}

/// With modes that do nothing, so that none is left over from the sums side by side.
pub(super) fn filled_up(mut modes: Vec<Mode>) -> Vec<Mode> {
    modes.resize(modes.len().next_multiple_of(LANES), Mode::default());
    modes
}

impl MediumStep {
    pub(super) fn new(modes: &[Mode], stage_s: f64) -> Self {
        let mut step = Self::default();
        for mode in modes {
            let (left, forced) = mode_step(mode, stage_s);
            for (kept, left) in step.kept.iter_mut().zip(left) {
                kept.push(left);
            }
            for (added, forced) in step.added.iter_mut().zip(&forced) {
                added.push(forced[2]);
            }
            let falls = step.fall_per_flux.as_flattened_mut().iter_mut();
            for (fall, forced) in falls.zip(forced.as_flattened()) {
                *fall += forced;
            }
        }
        step
    }

    /// Sum over all modes of what is left at a stage.
    #[inline]
    pub(super) fn sum_of_left(&self, stage: usize, modes: &[f64]) -> f64 {
        let (kept, _) = self.kept[stage].as_chunks::<LANES>();
        let (modes, _) = modes.as_chunks::<LANES>();
        let mut sum = [0.0; LANES];
        for (kept, mode) in kept.iter().zip(modes) {
            for lane in 0..LANES {
                sum[lane] += kept[lane] * mode[lane];
            }
        }
        (sum[0] + sum[2]) + (sum[1] + sum[3])
    }

    /// Takes the modes to the end of the step.
    #[inline]
    pub(super) fn advance(&self, fluxes: [f64; 3], modes: &mut [f64]) {
        let [first, second, third] = &self.added;
        let added = first.iter().zip(second).zip(third);
        for ((mode, kept), ((first, second), third)) in modes.iter_mut().zip(&self.kept[2]).zip(added) {
            *mode = (kept * *mode + third * fluxes[2]) + (first * fluxes[0] + second * fluxes[1]);
        }
    }
}

/// What is left at each stage of 1 at the start of the step, and what the flux of each stage adds at each.
fn mode_step(mode: &Mode, stage_s: f64) -> ([f64; 3], [[f64; 3]; 3]) {
    let share = 1.0 / (1.0 + stage_s * mode.rate_per_s);
    let mut left = [0.0; 3];
    let mut forced = [[0.0; 3]; 3];
    for stage in STAGES {
        left[stage.index] = share * stage.departure(1.0, left[0], left[1]);
        for (flux, forced) in forced.iter_mut().enumerate() {
            let own = if flux == stage.index { stage_s * mode.gain_per_m } else { 0.0 };
            forced[stage.index] = share * (stage.departure(0.0, forced[0], forced[1]) + own);
        }
    }
    (left, forced)
}

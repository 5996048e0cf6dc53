//! The stages of a time step: three implicit Euler steps that share one matrix.
//!
//! # Source
//! Alexander, SIAM J. Numer. Anal. 14 (1977) 1006: the L-stable method of third order with three stages. Being L-stable and
//! ending on its last stage, it damps a jump of the potential at once and never rings, whatever the rate constant.

/// γ: length of each stage over that of the step; the root of x³ − 3x² + 3x/2 − 1/6 between 1/6 and 1/2.
pub(crate) const STAGE_SHARE: f64 = 0.43586652150845899942;

const MIDDLE: f64 = f64::midpoint(1.0, STAGE_SHARE);
const FROM_FIRST: f64 = (MIDDLE - STAGE_SHARE) / STAGE_SHARE;
const LAST_FIRST: f64 = -(6.0 * STAGE_SHARE * STAGE_SHARE - 16.0 * STAGE_SHARE + 1.0) / 4.0 / STAGE_SHARE;
const LAST_SECOND: f64 = (6.0 * STAGE_SHARE * STAGE_SHARE - 20.0 * STAGE_SHARE + 5.0) / 4.0 / STAGE_SHARE;

/// One stage: implicit Euler from start + Σ weight × (earlier stage − start).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stage {
    pub(crate) index: usize,
    /// Its moment, as a share of the step.
    pub(crate) moment: f64,
    weights: [f64; 2],
}

pub(crate) const STAGES: [Stage; 3] = [
    Stage { index: 0, moment: STAGE_SHARE, weights: [0.0, 0.0] },
    Stage { index: 1, moment: MIDDLE, weights: [FROM_FIRST, 0.0] },
    Stage { index: 2, moment: 1.0, weights: [LAST_FIRST - FROM_FIRST * LAST_SECOND, LAST_SECOND] },
];

impl Stage {
    /// Where the implicit Euler step of this stage starts.
    #[inline]
    pub(crate) fn departure(self, start: f64, first: f64, second: f64) -> f64 {
        start + self.weights[0] * (first - start) + self.weights[1] * (second - start)
    }
}

//! The caller's buffers, and the curves between scan and signal.

use crate::refusal::Refusal;

/// Buffers for one scan, cut out of the caller's storage; after an evaluation they hold its curves.
#[derive(Debug)]
pub struct Workspace<'w> {
    pub(crate) raw: &'w mut [f64],
    pub(crate) subtracted: &'w mut [f64],
    pub(crate) smoothed: &'w mut [f64],
    pub(crate) baseline: &'w mut [f64],
    pub(crate) corrected: &'w mut [f64],
    pub(crate) scratch: &'w mut [f64],
}

impl<'w> Workspace<'w> {
    /// Values of storage for scans of `n_points`.
    pub const fn storage_len(n_points: usize) -> usize {
        8 * n_points
    }

    /// Cuts the storage into buffers.
    ///
    /// # Errors
    /// [`Refusal::WorkspaceTooSmall`].
    ///
    /// # Example
    /// ```
    /// use stillwell_evaluate::{Refusal, Workspace};
    /// assert!(matches!(Workspace::new(&mut [0.0; 79], 10), Err(Refusal::WorkspaceTooSmall { .. })));
    /// ```
    pub fn new(storage: &'w mut [f64], n_points: usize) -> Result<Self, Refusal> {
        let needed = n_points.saturating_mul(8);
        let found = storage.len();
        if found < needed {
            return Err(Refusal::WorkspaceTooSmall { found, needed });
        }
        let (raw, rest) = storage.split_at_mut(n_points);
        let (subtracted, rest) = rest.split_at_mut(n_points);
        let (smoothed, rest) = rest.split_at_mut(n_points);
        let (baseline, rest) = rest.split_at_mut(n_points);
        let (corrected, rest) = rest.split_at_mut(n_points);
        let (scratch, _) = rest.split_at_mut(3 * n_points);
        Ok(Self { raw, subtracted, smoothed, baseline, corrected, scratch })
    }

    /// Points in each curve.
    pub fn n_points(&self) -> usize {
        self.raw.len()
    }

    /// The despiked scan less the blank, A.
    pub fn subtracted_a(&self) -> &[f64] {
        self.subtracted
    }

    /// That curve smoothed, A.
    pub fn smoothed_a(&self) -> &[f64] {
        self.smoothed
    }

    /// The baseline, A.
    pub fn baseline_a(&self) -> &[f64] {
        self.baseline
    }

    /// Smoothed curve less baseline, turned so that the peak is positive, A.
    pub fn corrected_a(&self) -> &[f64] {
        self.corrected
    }
}

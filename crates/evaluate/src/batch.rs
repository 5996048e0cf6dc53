//! Many scans on one grid: only a layout, the same bits as one by one.

use crate::baseline::{Baseline, Drawn, LANES, draw_side_by_side, lane_scratch_len};
use crate::evaluator::Evaluator;
use crate::measure::Corrected;
use crate::refusal::Refusal;
use crate::signal::Signal;
use crate::workspace::Workspace;

/// The blanks of a batch.
#[derive(Debug, Clone, Copy)]
pub enum Blanks<'b> {
    /// Nothing is subtracted.
    None,
    /// One blank for all scans, of the grid's length.
    Shared(&'b [f64]),
    /// A blank for each scan, laid out as the scans are.
    PerScan(&'b [f64]),
}

impl<'b> Blanks<'b> {
    fn of(self, scan: usize, n_points: usize) -> Option<&'b [f64]> {
        match self {
            Self::None => None,
            Self::Shared(blank) => Some(blank),
            Self::PerScan(blanks) => blanks.get(scan * n_points..(scan + 1) * n_points),
        }
    }
}

impl Evaluator<'_> {
    /// Values of storage that [`Evaluator::batch`] needs.
    pub fn batch_storage_len(&self) -> usize {
        let n = self.n_points();
        let single = Workspace::storage_len(n);
        match self.settings.baseline {
            Baseline::AsymmetricLeastSquares(_) => single + 3 * LANES * n + lane_scratch_len(n),
            _ => single,
        }
    }

    /// Evaluates many scans, one outcome each, with the bits of [`Evaluator::evaluate`].
    ///
    /// Threads stay outside: give each a part of the scans and storage of its own.
    ///
    /// # Units
    /// A; `current_a` holds scan after scan, `outcomes.len()` times the grid's length. `storage`:
    /// [`Evaluator::batch_storage_len`].
    ///
    /// # Errors
    /// Only for lengths that do not fit; a scan's refusal stands in its outcome.
    ///
    /// # Source
    /// As [`Evaluator::evaluate`].
    ///
    /// # Example
    /// ```
    /// # use stillwell_evaluate::*;
    /// # fn many(evaluator: &Evaluator<'_>, scans: &[f64], storage: &mut [f64]) -> Result<(), Refusal> {
    /// let mut outcomes = [Err(Refusal::OutOfNumberRange); 3];
    /// evaluator.batch(scans, Blanks::None, storage, &mut outcomes)?;
    /// # Ok(())
    /// # }
    /// ```
    pub fn batch(
        &self,
        current_a: &[f64],
        blanks: Blanks<'_>,
        storage: &mut [f64],
        outcomes: &mut [Result<Signal, Refusal>],
    ) -> Result<(), Refusal> {
        self.check_batch(current_a, blanks, storage, outcomes)?;
        #[cfg(all(feature = "std", target_arch = "x86_64"))]
        if std::is_x86_feature_detected!("avx2") {
            #[expect(unsafe_code, reason = "the one call into code compiled for AVX2")]
            // SAFETY: the processor was just asked and has AVX2.
            return unsafe { batch_avx2(self, current_a, blanks, storage, outcomes) };
        }
        batch_body(self, current_a, blanks, storage, outcomes)
    }

    /// [`Evaluator::batch`] as compiled for any processor of the target; for comparisons and benchmarks.
    ///
    /// # Units
    /// As [`Evaluator::batch`].
    ///
    /// # Errors
    /// As [`Evaluator::batch`].
    ///
    /// # Source
    /// As [`Evaluator::batch`], bit for bit.
    pub fn batch_plain(
        &self,
        current_a: &[f64],
        blanks: Blanks<'_>,
        storage: &mut [f64],
        outcomes: &mut [Result<Signal, Refusal>],
    ) -> Result<(), Refusal> {
        self.check_batch(current_a, blanks, storage, outcomes)?;
        batch_body(self, current_a, blanks, storage, outcomes)
    }

    fn check_batch(
        &self,
        current_a: &[f64],
        blanks: Blanks<'_>,
        storage: &[f64],
        outcomes: &[Result<Signal, Refusal>],
    ) -> Result<(), Refusal> {
        let expected = self.n_points().saturating_mul(outcomes.len());
        let (blank_expected, blank_found) = match blanks {
            Blanks::None => (0, 0),
            Blanks::Shared(blank) => (self.n_points(), blank.len()),
            Blanks::PerScan(blanks) => (expected, blanks.len()),
        };
        for (expected, found) in [(expected, current_a.len()), (blank_expected, blank_found)] {
            if found != expected {
                return Err(Refusal::LengthsDiffer { expected, found });
            }
        }
        let (needed, found) = (self.batch_storage_len(), storage.len());
        if found < needed { Err(Refusal::WorkspaceTooSmall { found, needed }) } else { Ok(()) }
    }
}

/// The same code, compiled for AVX2: wider registers, the same operations in the same order (no fused ones).
#[cfg(all(feature = "std", target_arch = "x86_64"))]
#[target_feature(enable = "avx2")]
fn batch_avx2(
    evaluator: &Evaluator<'_>,
    current_a: &[f64],
    blanks: Blanks<'_>,
    storage: &mut [f64],
    outcomes: &mut [Result<Signal, Refusal>],
) -> Result<(), Refusal> {
    batch_body(evaluator, current_a, blanks, storage, outcomes)
}

#[inline(always)]
fn batch_body(
    evaluator: &Evaluator<'_>,
    current_a: &[f64],
    blanks: Blanks<'_>,
    storage: &mut [f64],
    outcomes: &mut [Result<Signal, Refusal>],
) -> Result<(), Refusal> {
    let n = evaluator.n_points();
    let (own, lanes) = storage.split_at_mut(Workspace::storage_len(n));
    let mut workspace = Workspace::new(own, n)?;
    if let Baseline::AsymmetricLeastSquares(_) = evaluator.settings.baseline {
        return batch_side_by_side(evaluator, current_a, blanks, &mut workspace, lanes, outcomes);
    }
    for (scan, (current_a, outcome)) in current_a.chunks_exact(n).zip(outcomes).enumerate() {
        *outcome = evaluator.evaluate_checked(current_a, blanks.of(scan, n), &mut workspace);
    }
    Ok(())
}

/// Asymmetric least squares eight scans at a time.
#[inline(always)]
fn batch_side_by_side(
    evaluator: &Evaluator<'_>,
    current_a: &[f64],
    blanks: Blanks<'_>,
    workspace: &mut Workspace<'_>,
    lanes: &mut [f64],
    outcomes: &mut [Result<Signal, Refusal>],
) -> Result<(), Refusal> {
    let Baseline::AsymmetricLeastSquares(rule) = evaluator.settings.baseline else { return Ok(()) };
    let n = evaluator.n_points();
    let sign = evaluator.settings.peak.direction.sign();
    let (subtracted, rest) = lanes.split_at_mut(LANES * n);
    let (smoothed, rest) = rest.split_at_mut(LANES * n);
    let (baseline, scratch) = rest.split_at_mut(LANES * n);
    for (group, outcomes) in outcomes.chunks_mut(LANES).enumerate() {
        // Lanes without a scan, or with a refused one, carry zeros and settle at once.
        smoothed.fill(0.0);
        let mut prepared = [Ok(0); LANES];
        for lane in 0..outcomes.len() {
            let scan = group * LANES + lane;
            let current_a = &current_a[scan * n..(scan + 1) * n];
            prepared[lane] = evaluator.prepare(current_a, blanks.of(scan, n), workspace);
            if prepared[lane].is_ok() {
                subtracted[lane * n..(lane + 1) * n].copy_from_slice(workspace.subtracted);
                for (row, value) in smoothed.chunks_exact_mut(LANES).zip(workspace.smoothed.iter()) {
                    row[lane] = *value;
                }
            }
        }
        let counts = draw_side_by_side(&rule, smoothed, sign, baseline, scratch)?;
        for (lane, outcome) in outcomes.iter_mut().enumerate() {
            *outcome = prepared[lane].and_then(|despiked| {
                let drawn = Drawn { points: None, iterations: counts[lane]? };
                workspace.subtracted.copy_from_slice(&subtracted[lane * n..(lane + 1) * n]);
                let rows = smoothed.chunks_exact(LANES).zip(baseline.chunks_exact(LANES));
                let curves = workspace.smoothed.iter_mut().zip(workspace.baseline.iter_mut());
                for ((to_smoothed, to_baseline), (smoothed, baseline)) in curves.zip(rows) {
                    (*to_smoothed, *to_baseline) = (smoothed[lane], baseline[lane]);
                }
                let blank_a = blanks.of(group * LANES + lane, n);
                evaluator.finish(blank_a, workspace, Corrected { despiked, drawn })
            });
        }
    }
    Ok(())
}

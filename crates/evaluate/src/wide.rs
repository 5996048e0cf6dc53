//! One scan with wide registers where the processor has them: the same operations in the same order, so the same bits.

use crate::evaluator::Evaluator;
use crate::refusal::Refusal;
use crate::signal::Signal;
use crate::trust::{ExpectedScan, GridSteps, RawScan, TrustLimits, TrustReport, check_scan_plain};
use crate::workspace::Workspace;

/// [`Evaluator::evaluate_checked`], compiled for AVX2 where the processor has it.
pub(crate) fn evaluate(
    evaluator: &Evaluator<'_>,
    current_a: &[f64],
    blank_a: Option<&[f64]>,
    workspace: &mut Workspace<'_>,
) -> Result<Signal, Refusal> {
    #[cfg(all(feature = "std", target_arch = "x86_64"))]
    if std::is_x86_feature_detected!("avx2") {
        #[expect(unsafe_code, reason = "the one call into code compiled for AVX2")]
        // SAFETY: the processor was just asked and has AVX2.
        return unsafe { evaluate_avx2(evaluator, current_a, blank_a, workspace) };
    }
    evaluator.evaluate_checked(current_a, blank_a, workspace)
}

#[cfg(all(feature = "std", target_arch = "x86_64"))]
#[target_feature(enable = "avx2")]
fn evaluate_avx2(
    evaluator: &Evaluator<'_>,
    current_a: &[f64],
    blank_a: Option<&[f64]>,
    workspace: &mut Workspace<'_>,
) -> Result<Signal, Refusal> {
    evaluator.evaluate_checked(current_a, blank_a, workspace)
}

/// [`check_scan_plain`], compiled for AVX2 where the processor has it.
pub(crate) fn check_scan(
    grid: &GridSteps,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> TrustReport {
    #[cfg(all(feature = "std", target_arch = "x86_64"))]
    if std::is_x86_feature_detected!("avx2") {
        #[expect(unsafe_code, reason = "the one call into code compiled for AVX2")]
        // SAFETY: the processor was just asked and has AVX2.
        return unsafe { check_scan_avx2(grid, scan, expected, limits, workspace) };
    }
    check_scan_plain(grid, scan, expected, limits, workspace)
}

#[cfg(all(feature = "std", target_arch = "x86_64"))]
#[target_feature(enable = "avx2")]
fn check_scan_avx2(
    grid: &GridSteps,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> TrustReport {
    check_scan_plain(grid, scan, expected, limits, workspace)
}

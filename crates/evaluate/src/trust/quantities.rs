//! What several checks look at, computed once a scan.

use super::finding::WhyNotTestable;
use super::grid::{Steps, usual_step_v};
use super::level::robust_range_a;
use super::noise::noise_sd_a;
use super::settings::RawScan;

/// Which columns hold finite numbers only; a column that is not there counts as finite.
pub(super) struct Finite {
    pub(super) potential: bool,
    pub(super) current: bool,
    pub(super) forward_and_reverse: bool,
}

/// What the checks need to know of a grid of potentials: found once for all scans on it.
#[derive(Clone, Copy)]
pub struct GridSteps {
    is_finite: bool,
    usual_step_v: Result<f64, WhyNotTestable>,
    steps: Result<Steps, WhyNotTestable>,
}

impl GridSteps {
    /// Looks at the potentials of a sweep, in the order recorded.
    ///
    /// # Units
    /// V; `workspace` holds at least as many values as there are potentials (a smaller one makes the checks that need it
    /// not testable).
    ///
    /// # Source
    /// See [`super::TrustCheck`] for each check.
    ///
    /// # Example
    /// See [`super::check_scan_on`].
    pub fn of(potential_v: &[f64], workspace: &mut [f64]) -> Self {
        let usual_step_v = usual_step_v(potential_v, workspace);
        Self {
            is_finite: are_finite(potential_v),
            usual_step_v,
            steps: usual_step_v.map(|usual_v| Steps::of(potential_v, usual_v)),
        }
    }
}

/// Quantities of one scan. Each is what its check would compute itself, with its own reason where it cannot be computed; on columns that are not finite they mean nothing,
/// and [`RawScan::whole`] keeps every check from them.
pub(super) struct Quantities {
    pub(super) finite: Finite,
    pub(super) usual_step_v: Result<f64, WhyNotTestable>,
    pub(super) steps: Result<Steps, WhyNotTestable>,
    pub(super) robust_range_a: Result<f64, WhyNotTestable>,
    pub(super) noise_sd_a: Result<f64, WhyNotTestable>,
}

impl Quantities {
    #[inline(always)]
    pub(super) fn of(grid: &GridSteps, scan: &RawScan<'_>, workspace: &mut [f64]) -> Self {
        let finite = Finite {
            potential: grid.is_finite,
            current: are_finite(scan.current_a),
            forward_and_reverse: are_finite(scan.forward_a.unwrap_or(&[]))
                && are_finite(scan.reverse_a.unwrap_or(&[])),
        };
        Self {
            finite,
            usual_step_v: grid.usual_step_v,
            steps: grid.steps,
            robust_range_a: robust_range_a(scan.current_a),
            noise_sd_a: noise_sd_a(scan.current_a, workspace),
        }
    }
}

/// Without branches: this runs over every number of every scan.
#[inline(always)]
fn are_finite(values: &[f64]) -> bool {
    values.iter().fold(true, |all, x| all & x.is_finite())
}

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
    pub(super) fn of(scan: &RawScan<'_>, workspace: &mut [f64]) -> Self {
        let finite = Finite {
            potential: are_finite(scan.potential_v),
            current: are_finite(scan.current_a),
            forward_and_reverse: are_finite(scan.forward_a.unwrap_or(&[]))
                && are_finite(scan.reverse_a.unwrap_or(&[])),
        };
        let usual_step_v = usual_step_v(scan, workspace);
        Self {
            finite,
            usual_step_v,
            steps: usual_step_v.map(|usual_v| Steps::of(scan.potential_v, usual_v)),
            robust_range_a: robust_range_a(scan.current_a),
            noise_sd_a: noise_sd_a(scan.current_a, workspace),
        }
    }
}

/// Without branches: this runs over every number of every scan.
fn are_finite(values: &[f64]) -> bool {
    values.iter().fold(true, |all, x| all & x.is_finite())
}

//! Whether one raw scan may be trusted at all: seventeen checks, each a code with its numbers.

mod clipping;
mod finding;
mod grid;
mod level;
mod mains;
mod noise;
mod order;
mod points;
mod quantities;
mod reverse;
mod settings;
mod spikes;
mod start_up;

pub use finding::{TrustCheck, TrustFinding, TrustReport, TrustState, WhyNotTestable};
pub use mains::{MainsConstants, mains_cycles_per_point};
pub use quantities::GridSteps;
pub use settings::{ExpectedScan, RawScan, TrustLimits};

use crate::wide;
use finding::Judge;
use quantities::Quantities;

/// Runs every trust check on one sweep of a raw scan.
///
/// Each check looks at the scan as recorded and gives found value, limit and place; none repairs anything, none changes what
/// another sees. What cannot be tested is said to be so and never counts as passed: a scan with non-finite currents fails the overload check and
/// the checks that would compute with them are not testable. [`TrustCheck`] holds what each looks at, why, and what limit is
/// sensible.
///
/// A cyclic scan is checked sweep by sweep, its sweeps being paired through [`RawScan::forward_a`] and [`RawScan::reverse_a`].
///
/// # Units
/// V, A, s as the names say; `workspace` holds at least as many values as the scan has points (a smaller one makes the
/// checks that need it not testable).
///
/// # Source
/// The limits are the method's; see [`TrustCheck`] for each.
///
/// # Example
/// ```
/// use stillwell_evaluate::{ExpectedScan, RawScan, TrustCheck, TrustLimits, check_scan};
/// let potential_v: [f64; 60] = core::array::from_fn(|i| -0.2 - 0.01 * i as f64);
/// let current_a: [f64; 60] = core::array::from_fn(|i| -1e-6 - 1e-9 * (i * i % 17) as f64 - 2e-8 * i as f64);
/// let scan = RawScan { potential_v: &potential_v, current_a: &current_a, forward_a: None, reverse_a: None,
///     overload_points: &[], interval_s: None, resolution_a: None, range_end_a: None };
/// let expected = ExpectedScan { start_v: -0.2, end_v: -0.79, step_v: 0.01, peak_window_v: None, half_width_v: None, mains: None };
/// let limits = TrustLimits { overload_points: 0, clipping_run: 4, missing_points: 0, repeated_points: 0, step_deviation: 0.1,
///     spike_units: 6.0, spike_ratio: 3.0, least_range_a: 1e-8, least_range_steps: 8.0, start_up_points: 5, start_up_trend_points: 15,
///     start_up_units: 6.0, start_up_fraction: 0.02, distrusted_points: 0, end_points: 10, largest_offset_a: 1e-5,
///     largest_noise_a: 1e-7, largest_drift_a: 1e-7, window_tolerance_v: 0.005, least_points: 50,
///     least_points_per_half_width: 8.0, largest_mains_a: 1e-8 };
/// let report = check_scan(&scan, &expected, &limits, &mut [0.0; 60]);
/// assert_eq!(report.failed().count(), 0);
/// assert_eq!(report.of(TrustCheck::MissingPoints).found, 0.0);
/// ```
pub fn check_scan(
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> TrustReport {
    let grid = GridSteps::of(scan.potential_v, workspace);
    check_scan_on(&grid, scan, expected, limits, workspace)
}

/// [`check_scan`] for many scans on one grid, whose steps are looked at once: the same findings.
///
/// # Units
/// As [`check_scan`]. `grid` was made of this scan's potentials; of others its checks would speak of these.
///
/// # Source
/// As [`check_scan`].
///
/// # Example
/// ```
/// use stillwell_evaluate::{ExpectedScan, GridSteps, RawScan, TrustLimits, TrustReport, check_scan_on};
/// fn many(potential_v: &[f64], scans: &[&[f64]], expected: &ExpectedScan, limits: &TrustLimits) -> Vec<TrustReport> {
///     let mut workspace = vec![0.0; potential_v.len()];
///     let grid = GridSteps::of(potential_v, &mut workspace);
///     let mut reports = Vec::new();
///     for current_a in scans {
///         let scan = RawScan { potential_v, current_a, forward_a: None, reverse_a: None, overload_points: &[],
///             interval_s: None, resolution_a: None, range_end_a: None };
///         reports.push(check_scan_on(&grid, &scan, expected, limits, &mut workspace));
///     }
///     reports
/// }
/// ```
pub fn check_scan_on(
    grid: &GridSteps,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> TrustReport {
    wide::check_scan(grid, scan, expected, limits, workspace)
}

/// [`check_scan_on`], to be compiled for a processor.
#[inline(always)]
pub(crate) fn check_scan_plain(
    grid: &GridSteps,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    workspace: &mut [f64],
) -> TrustReport {
    let mut findings = [TrustFinding::not_run(); TrustCheck::ALL.len()];
    let quantities = Quantities::of(grid, scan, workspace);
    for (finding, &check) in findings.iter_mut().zip(TrustCheck::ALL.iter()) {
        let judge = Judge { check };
        let whole = scan.whole(check, &quantities.finite);
        // No closure: it would not be compiled for the wide registers.
        let found = match whole {
            Ok(()) => run(judge, scan, expected, limits, &quantities, workspace),
            Err(why) => Err(why),
        };
        *finding = match found {
            Ok(finding) => finding,
            Err(why) => judge.not_testable(why),
        };
    }
    TrustReport { findings }
}

#[inline(always)]
fn run(
    judge: Judge,
    scan: &RawScan<'_>,
    expected: &ExpectedScan,
    limits: &TrustLimits,
    quantities: &Quantities,
    workspace: &mut [f64],
) -> Result<TrustFinding, WhyNotTestable> {
    match judge.check {
        TrustCheck::Overload => Ok(points::overload(judge, scan, limits, &quantities.finite)),
        TrustCheck::TooFewPoints => Ok(points::too_few(judge, scan, limits)),
        TrustCheck::TooFewPointsInPeak => points::too_few_in_peak(judge, scan, expected, limits, quantities),
        TrustCheck::WrongDirection => grid::direction(judge, scan, expected),
        TrustCheck::WrongWindow => grid::window(judge, scan, expected, limits),
        TrustCheck::WrongStep => grid::step(judge, expected, limits, quantities),
        TrustCheck::MissingPoints => grid::missing(judge, limits, quantities),
        TrustCheck::RepeatedPoints => grid::repeated(judge, limits, quantities),
        TrustCheck::NonUniformSteps => grid::non_uniform(judge, limits, quantities),
        TrustCheck::Clipping => clipping::clipping(judge, scan, limits),
        TrustCheck::FlatLine => level::flat_line(judge, scan, limits, quantities),
        TrustCheck::Offset => level::offset(judge, scan, limits, workspace),
        TrustCheck::Spikes => spikes::spikes(judge, scan, limits, workspace),
        TrustCheck::Noise => noise::noise(judge, limits, quantities),
        TrustCheck::StartUp => start_up::start_up(judge, scan, expected, limits, quantities),
        TrustCheck::ReverseDrift => reverse::drift(judge, scan, limits, workspace),
        TrustCheck::MainsPickup => mains::pickup(judge, scan, expected, limits, quantities),
    }
}

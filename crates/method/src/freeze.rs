//! Everything that one calibration of a report rests on, as plain constants on one grid: what a device repeats.

use stillwell_calibrate::Calibration;
use stillwell_evaluate::{
    ExpectedScan, FixedPotential, FrozenClaim, FrozenPeak, RawScan, Refusal, Settings, Smoother, TrustLimits,
};
use stillwell_scan::Scan;
use stillwell_stats::distributions::f_quantile;

use crate::blank::Blanks;
use crate::detection::claim_for;
use crate::determination::Report;
use crate::file::Method;
use crate::grid::{Search, Weights, settings};
use crate::grids::{Grid, Grids};
use crate::input::{Input, Record};
use crate::link::{CalibrationLink, Found, ScanLink};
use crate::raw_checks::{expected, interval_s, limits};
use crate::run_sheet::Role;
use crate::standard_peak::standard_peaks;
use crate::sweep::Sweep;

/// The frozen constants of one calibration and its method.
#[derive(Debug, Clone)]
pub struct Freeze {
    /// The grid on which the standards were recorded (V).
    pub potential_v: Vec<f64>,
    /// Smoothing window and its weights in the kernel's layout.
    pub smoothing: Option<(usize, Vec<f64>)>,
    /// The evaluation with its search, without smoother and reference potential.
    settings: Settings<'static>,
    /// The middle of the peak's window; none off the grid.
    pub middle: Option<FixedPotential>,
    /// What the technique promises.
    pub expected: ExpectedScan,
    /// The limits of the trust checks.
    pub trust: TrustLimits,
    /// Time from one point to the next (s), if stated.
    pub interval_s: Option<f64>,
    /// Whether the scans hold forward and reverse currents.
    pub has_reverse: bool,
    /// The standards' peak; none where they show none.
    pub peak: Option<FrozenPeak>,
    /// Claims for 1, 2, 3 … electrodes, as far as there are.
    pub claims: Vec<FrozenClaim>,
    /// The mean of the blanks that the first standard was freed of.
    pub blank_a: Option<Vec<f64>>,
}

impl Freeze {
    /// The kernel's settings with their smoother.
    ///
    /// # Errors
    /// A refusal of the frozen weights; those made by [`freeze`] are taken.
    pub fn settings(&self) -> Result<Settings<'_>, Refusal> {
        let smoother = match &self.smoothing {
            Some((window, weights)) => Some(Smoother::from_frozen(*window, weights)?),
            None => None,
        };
        Ok(Settings { smoother, ..self.settings })
    }
}

/// Freezes one calibration of a report, with claims for up to `most_electrodes` electrodes; none where the report belongs to
/// another input, the calibration was not made, or its first standard cannot be evaluated on its grid.
///
/// # Units
/// SI; levels in the method's reporting unit.
///
/// # Source
/// The same values that [`crate::determine`] uses.
pub fn freeze(input: &Input, report: &Report, calibration: usize, most_electrodes: u32) -> Option<Freeze> {
    let method = &input.method;
    let records = input.records();
    let link = report.calibrations.get(calibration)?;
    let made = link.calibration.as_ref()?;
    let usable = |place: &&usize| report.scans.get(**place).is_some_and(|scan| scan.usable(Role::Standard));
    let first = *link.standards.iter().find(usable)?;
    let (record, scan_link) = (records.get(first)?, report.scans.get(first)?);
    if records.len() != report.scans.len() || *record.row != scan_link.row {
        return None;
    }
    let sweep = Sweep::of(record.scan, &method.evaluation.peak)?;
    let plan = &method.evaluation;
    let mut weights = Weights::new(plan.smooth);
    let smoother = weights.smoother().ok()?;
    let smoothing = smoother.map(|smoother| {
        let rows = (0..=smoother.window() / 2).flat_map(|row| smoother.row(row).iter().copied());
        (smoother.window(), rows.collect())
    });
    let settings = settings(plan, sweep.potential_v, None, Search::ForPeak, None).ok()?;
    let [low_v, high_v] = plan.peak.window_v;
    let raw = raw_of(method, record.scan, sweep);
    Some(Freeze {
        potential_v: sweep.potential_v.to_vec(),
        smoothing,
        settings,
        middle: FixedPotential::on(sweep.potential_v, f64::midpoint(low_v, high_v)),
        expected: expected(method, &raw),
        trust: limits(method, sweep, Grid::of(method, record.scan).n_unused_first),
        interval_s: raw.interval_s,
        has_reverse: raw.forward_a.is_some() && raw.reverse_a.is_some(),
        peak: peak(method, &report.scans, link, sweep),
        claims: claims(method, link, made, &report.scans, most_electrodes),
        blank_a: blank(method, &records, &report.scans, record, sweep),
    })
}

fn raw_of<'a>(method: &Method, scan: &'a Scan, sweep: Sweep<'a>) -> RawScan<'a> {
    RawScan {
        potential_v: sweep.potential_v,
        current_a: sweep.current_a,
        forward_a: scan.forward_a.as_deref(),
        reverse_a: scan.reverse_a.as_deref(),
        overload_points: &scan.overload_points,
        interval_s: interval_s(&method.technique, scan),
        resolution_a: None,
        range_end_a: method.trust.range_a.map(|end_a| [-end_a, end_a]),
    }
}

/// As the chain saw it when it evaluated the samples: over the standards that show a peak.
fn peak(method: &Method, links: &[ScanLink], link: &CalibrationLink, sweep: Sweep<'_>) -> Option<FrozenPeak> {
    let by_peak = |link: &&ScanLink| link.signal.as_ref().is_some_and(|signal| signal.found == Found::ByPeak);
    let shown: Vec<ScanLink> = links.iter().filter(by_peak).cloned().collect();
    let standard = *standard_peaks(method, &shown).get(&link.key)?;
    Some(FrozenPeak {
        potential_v: standard.potential_v,
        place: FixedPotential::on(sweep.potential_v, standard.potential_v)?,
        half_width_v: standard.half_width_v,
        lowest_signal: standard.lowest_signal,
    })
}

fn claims(
    method: &Method,
    link: &CalibrationLink,
    made: &Calibration,
    scans: &[ScanLink],
    most_electrodes: u32,
) -> Vec<FrozenClaim> {
    let claim = |electrodes: u32| {
        let claim = claim_for(method, link, scans, electrodes).ok()?;
        Some(FrozenClaim {
            decision_limit: claim.decision_limit.value(),
            detection_limit: claim.detection_limit.value(),
            quantification_limit: claim.quantification_limit.value(),
            disagreement_limit: disagreement_limit(made, electrodes),
        })
    };
    (1..=most_electrodes).map_while(claim).collect()
}

/// As [`stillwell_calibrate::concentration`] draws it.
fn disagreement_limit(made: &Calibration, electrodes: u32) -> f64 {
    if electrodes < 2 {
        return 0.0;
    }
    let of_means = made.components.electrode_degrees_of_freedom;
    let degrees_of_freedom = if of_means > 0 { of_means } else { made.statistics.degrees_of_freedom };
    let alpha = stillwell_calibrate::DISAGREEMENT_ALPHA;
    f_quantile(1.0 - alpha, f64::from(electrodes) - 1.0, degrees_of_freedom as f64)
}

fn blank(
    method: &Method,
    records: &[Record<'_>],
    links: &[ScanLink],
    record: &Record<'_>,
    sweep: Sweep<'_>,
) -> Option<Vec<f64>> {
    let grids = Grids::of(method, records);
    let mut blanks = Blanks::among(method, records, &grids, links);
    Some(blanks.background(record, &sweep, &mut Vec::new())?.current_a?.to_vec())
}

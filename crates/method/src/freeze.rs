//! Everything that one calibration of a report rests on, as plain constants on one grid: what a device repeats.

use stillwell_calibrate::Calibration;
use stillwell_evaluate::{
    ExpectedScan, FixedPotential, FrozenClaim, FrozenPeak, Refusal, Settings, Smoother, TrustLimits,
};

use crate::blank::Blanks;
use crate::detection::claim_for;
use crate::determination::Report;
use crate::file::Method;
use crate::grid::{Search, Weights, settings};
use crate::grids::{Grid, Grids};
use crate::input::{Input, Record};
use crate::link::{CalibrationLink, Found, ScanLink};
use crate::raw_checks::{expected, limits, raw_scan};
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
    let raw = raw_scan(method, record.scan, sweep);
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

/// As the chain saw it when it evaluated the samples: over the standards that show a peak.
fn peak(method: &Method, links: &[ScanLink], link: &CalibrationLink, sweep: Sweep<'_>) -> Option<FrozenPeak> {
    let by_peak = |link: &&ScanLink| link.signal.as_ref().is_some_and(|signal| signal.found == Found::ByPeak);
    let shown: Vec<ScanLink> = links.iter().filter(by_peak).cloned().collect();
    let standard = *standard_peaks(method, &shown).get(&link.key)?;
    Some(FrozenPeak { standard, place: FixedPotential::on(sweep.potential_v, standard.potential_v)? })
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
        let disagreement_limit = made.disagreement_limit(electrodes);
        Some(FrozenClaim { limits: claim.limits(), disagreement_limit })
    };
    (1..=most_electrodes).map_while(claim).collect()
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

//! The first links of the chain: every scan of the run sheet, recorded, checked, and turned into a signal.

use std::collections::BTreeMap;
use std::sync::Arc;

use stillwell_evaluate::StandardPeak;
use stillwell_scan::grid_differences;

use crate::blank::Blanks;
use crate::check::Check;
use crate::coverage::check_coverage;
use crate::cross_checks::check_against_each_other;
use crate::file::Method;
use crate::finding::{Effect, Finding, refuses};
use crate::grid::{Search, Weights};
use crate::grids::Grids;
use crate::group::group_of;
use crate::input::{ReadingWords, Record};
use crate::link::{GroupKey, ScanLink};
use crate::raw_checks::check_raw;
use crate::run_sheet::{Role, Row};
use crate::signal::{OnGrid, SignalStep};
use crate::standard_peak::{StandardPeaks, standard_peaks};

/// Every scan on its way to a signal, and what the peaks of the standards look like.
pub(crate) fn scan_links(method: &Method, records: &[Record<'_>]) -> (Vec<ScanLink>, StandardPeaks) {
    let grids = Grids::of(method, records);
    let keys: Vec<GroupKey> = records.iter().map(|record| group_of(method, record.row)).collect();
    let mut links = recorded(method, records, &grids);
    check_against_each_other(method, records, &keys, &mut links);
    check_coverage(method, records, &mut links);
    links.iter_mut().for_each(apply_overrides);
    // After the overrides: whoever overrides a settings line does not mean the grid as well.
    refuse_other_grids(records, &keys, &grids, &mut links);
    let mut weights = Weights::new(method.evaluation.smooth);
    // A window that the kernel does not take is refused scan by scan, with the kernel's reason.
    let smoother = weights.smoother().ok().flatten();
    let blanks = Blanks::among(method, records, &grids, &links);
    let mut evaluation =
        Evaluation { records, keys: &keys, grids: &grids, blanks, step: SignalStep::new(method, smoother) };
    let is_standard = |row: &Row| row.role == Role::Standard;
    evaluation.evaluate_where(&mut links, is_standard, &StandardPeaks::new());
    let places = standard_peaks(method, &links);
    evaluation.measure_peakless_standards(&mut links, &places);
    let is_other = |row: &Row| !matches!(row.role, Role::Standard | Role::Blank);
    evaluation.evaluate_where(&mut links, is_other, &places);
    (links, places)
}

/// The raw scans with their checks; no signals yet.
fn recorded<'a>(method: &Method, records: &[Record<'a>], grids: &Grids<'a>) -> Vec<ScanLink> {
    let mut words = ReadingWords::default();
    let mut workspace = Vec::new();
    let mut links = Vec::with_capacity(records.len());
    for (place, record) in records.iter().enumerate() {
        let Some((_, grid)) = grids.at(place) else { continue };
        // An excluded scan is checked too: that it was clipped says something about those that were kept.
        let raw = (record.scan, record.file);
        let checked = check_raw(method, raw, grid, record.row.label(), &mut workspace);
        links.push(ScanLink {
            row: record.row.clone(),
            raw: record.raw_link(&mut words),
            blanks: Arc::default(),
            checks_passed: checked.passed,
            signal: None,
            findings: checked.findings,
        });
    }
    links
}

/// Scans that share a calibration must share its grid; they are never pooled across grids. The first standard, or
/// without standards the first scan, is what the others are held against.
fn refuse_other_grids(records: &[Record<'_>], keys: &[GroupKey], grids: &Grids<'_>, links: &mut [ScanLink]) {
    let mut references: BTreeMap<&GroupKey, usize> = BTreeMap::new();
    let places = || records.iter().zip(keys).enumerate();
    let standards = places().filter(|(_, (record, _))| record.row.role == Role::Standard);
    for (place, (_, key)) in standards.chain(places()).filter(|(_, (r, _))| r.row.exclude.is_none()) {
        references.entry(key).or_insert(place);
    }
    for (place, (record, key)) in places() {
        let (Some(&other), Some(link)) = (references.get(key), links.get_mut(place)) else { continue };
        let number = |place: usize| grids.at(place).map(|(number, _)| number);
        let Some(reference) = records.get(other).filter(|_| link.counts() && number(place) != number(other))
        else {
            continue;
        };
        let differences = grid_differences(record.scan, reference.scan);
        if !differences.is_empty() {
            let listed: Vec<String> = differences.iter().map(ToString::to_string).collect();
            let found = format!("unlike {}: {}", reference.row.scan_label(), listed.join("; "));
            link.findings.push(Finding::new(
                Check::SettingsDiffer,
                Effect::Refused,
                record.row.label(),
                found,
            ));
        }
    }
}

/// What the evaluation of the scans of an input goes by.
struct Evaluation<'r, 'w> {
    records: &'r [Record<'w>],
    keys: &'r [GroupKey],
    grids: &'r Grids<'w>,
    blanks: Blanks<'r>,
    step: SignalStep<'r, 'w>,
}

impl<'w> Evaluation<'_, 'w> {
    fn evaluate_where(
        &mut self,
        links: &mut [ScanLink],
        wanted: impl Fn(&Row) -> bool,
        places: &StandardPeaks,
    ) {
        let all = self.records.iter().zip(self.keys).enumerate().zip(links);
        for ((at, (record, key)), link) in all {
            if !wanted(record.row) || !link.counts() || refuses(&link.findings) {
                continue;
            }
            let is_zero = record.row.role == Role::Standard && record.row.has_zero_level();
            if !is_zero {
                self.evaluate_one((at, record), link, Search::ForPeak, places.get(key).copied());
            }
        }
    }

    /// Zero standards, and standards in which no peak was found, are measured where the others have theirs: a search
    /// would pick the highest noise, and a missing value would censor the detection limit.
    fn measure_peakless_standards(&mut self, links: &mut [ScanLink], places: &StandardPeaks) {
        let all = self.records.iter().zip(self.keys).enumerate().zip(links);
        for ((at, (record, key)), link) in all {
            if record.row.role != Role::Standard || !link.counts() || link.signal.is_some() {
                continue;
            }
            let Some(place) = places.get(key).copied() else { continue };
            let peakless = record.row.has_zero_level() || shows_no_peak(link);
            if peakless && !refused_otherwise(link) {
                link.findings.retain(|finding| finding.check != Check::NoPeak);
                self.evaluate_one((at, record), link, Search::At(place.potential_v), None);
            }
        }
    }

    /// Measures one scan and, where it shows no peak, measures it again at the calibration's potential.
    fn evaluate_one(
        &mut self,
        (at, record): (usize, &Record<'w>),
        link: &mut ScanLink,
        search: Search,
        place: Option<StandardPeak>,
    ) {
        let subject = record.row.label();
        let on_grid = self
            .grids
            .at(at)
            .and_then(|(number, grid)| Some(OnGrid { sweep: grid.sweep(record.scan)?, grid: number }));
        let Some(on_grid) = on_grid else {
            let found = "no passage through the potentials in the direction of the peak";
            link.findings.push(Finding::new(Check::WrongWindow, Effect::Refused, subject, found));
            return;
        };
        let already_said = link.findings.iter().any(|finding| finding.check == Check::BlankMatch);
        let mut said = Vec::new();
        let background = self.blanks.background(record, &on_grid.sweep, &mut said);
        if !already_said {
            link.findings.append(&mut said);
        }
        let Some(background) = background else { return };
        let blank_a = background.current_a.as_deref();
        let mut findings = Vec::new();
        let mut signal = self.step.measure(on_grid, blank_a, search, place.as_ref(), subject, &mut findings);
        if let (None, Some(place), Search::ForPeak) = (&signal, place, search)
            && findings.iter().all(|finding| finding.check == Check::NoPeak)
        {
            // No peak is no refusal yet: the scan is measured without a search, and the sample decides what it means.
            for finding in &mut findings {
                finding.effect = Effect::Noted;
            }
            let search = Search::At(place.potential_v);
            signal = self.step.measure(on_grid, blank_a, search, None, subject, &mut findings);
        }
        link.blanks = background.blanks;
        link.findings.append(&mut findings);
        // What left no signal cannot be overridden: there is nothing to use.
        if signal.is_some() {
            apply_overrides(link);
        }
        link.signal = signal.filter(|_| !refuses(&link.findings));
    }
}

fn shows_no_peak(link: &ScanLink) -> bool {
    link.findings.iter().any(|finding| finding.check == Check::NoPeak)
}

fn refused_otherwise(link: &ScanLink) -> bool {
    link.findings.iter().any(|finding| finding.is_in_force(Effect::Refused) && finding.check != Check::NoPeak)
}

/// Marks the findings that the analyst overrides; both the finding and the reason stay.
fn apply_overrides(link: &mut ScanLink) {
    for given in &link.row.overrides {
        for finding in link.findings.iter_mut().filter(|finding| finding.check.id() == given.check) {
            finding.overridden = Some(given.reason.clone());
        }
    }
}

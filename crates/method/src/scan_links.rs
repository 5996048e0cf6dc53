//! The first links of the chain: every scan of the run sheet, recorded, checked, and turned into a signal.

use std::collections::BTreeMap;
use std::sync::Arc;

use stillwell_scan::grid_differences;

use crate::blank::Blanks;
use crate::check::Check;
use crate::coverage::check_coverage;
use crate::cross_checks::check_against_each_other;
use crate::file::Method;
use crate::finding::{Effect, Finding, refuses};
use crate::grid::{Search, Weights};
use crate::group::group_of;
use crate::input::{ReadingWords, Record};
use crate::link::{GroupKey, ScanLink, SignalLink};
use crate::raw_checks::check_raw;
use crate::run_sheet::{Role, Row};
use crate::signal::SignalStep;
use crate::standard_peak::{StandardPeak, StandardPeaks, standard_peaks};
use crate::sweep::Sweep;

/// Every scan on its way to a signal, and what the peaks of the standards look like.
pub(crate) fn scan_links(method: &Method, records: &[Record<'_>]) -> (Vec<ScanLink>, StandardPeaks) {
    let mut words = ReadingWords::default();
    let mut links: Vec<ScanLink> =
        records.iter().map(|record| recorded(method, record, &mut words)).collect();
    check_against_each_other(method, records, &mut links);
    check_coverage(method, records, &mut links);
    links.iter_mut().for_each(apply_overrides);
    // After the overrides: whoever overrides a settings line does not mean the grid as well.
    refuse_other_grids(method, records, &mut links);
    let mut weights = Weights::new(method.evaluation.smooth);
    // A window that the kernel does not take is refused scan by scan, with the kernel's reason.
    let smoother = weights.smoother().ok().flatten();
    let mut blanks = Blanks::among(method, records, &links);
    let mut step = SignalStep::new(method, smoother);
    let is_standard = |row: &Row| row.role == Role::Standard;
    evaluate_where(&mut step, &mut blanks, records, &mut links, is_standard, &StandardPeaks::new());
    let places = standard_peaks(method, &links);
    measure_peakless_standards(&mut step, &mut blanks, records, &mut links, &places);
    let is_other = |row: &Row| !matches!(row.role, Role::Standard | Role::Blank);
    evaluate_where(&mut step, &mut blanks, records, &mut links, is_other, &places);
    (links, places)
}

/// The raw scan with its checks; no signal yet.
fn recorded<'a>(method: &Method, record: &Record<'a>, words: &mut ReadingWords<'a>) -> ScanLink {
    let mut link = ScanLink {
        row: record.row.clone(),
        raw: record.raw_link(words),
        blanks: Arc::default(),
        checks_passed: 0,
        signal: None,
        findings: Vec::new(),
    };
    // An excluded scan is checked too: that it was clipped says something about those that were kept.
    let checked = check_raw(method, record.scan, record.file, &record.row.scan_label());
    link.checks_passed = checked.passed;
    link.findings = checked.findings;
    link
}

/// Scans that share a calibration must share its grid; they are never pooled across grids. The first standard, or
/// without standards the first scan, is what the others are held against.
fn refuse_other_grids(method: &Method, records: &[Record<'_>], links: &mut [ScanLink]) {
    let mut references: BTreeMap<GroupKey, &Record<'_>> = BTreeMap::new();
    let is_standard = |record: &&Record<'_>| record.row.role == Role::Standard;
    for record in records.iter().filter(is_standard).chain(records).filter(|r| r.row.exclude.is_none()) {
        references.entry(group_of(method, record.row)).or_insert(record);
    }
    for (record, link) in records.iter().zip(links).filter(|(_, link)| link.counts()) {
        let Some(reference) = references.get(&group_of(method, record.row)) else { continue };
        let differences = grid_differences(record.scan, reference.scan);
        if !differences.is_empty() {
            let listed: Vec<String> = differences.iter().map(ToString::to_string).collect();
            let found = format!("unlike {}: {}", reference.row.scan_label(), listed.join("; "));
            let subject = record.row.scan_label();
            link.findings.push(Finding::new(Check::SettingsDiffer, Effect::Refused, subject, found));
        }
    }
}

fn evaluate_where(
    step: &mut SignalStep<'_, '_>,
    blanks: &mut Blanks<'_>,
    records: &[Record<'_>],
    links: &mut [ScanLink],
    wanted: impl Fn(&Row) -> bool,
    places: &StandardPeaks,
) {
    for (record, link) in records.iter().zip(links) {
        if !wanted(record.row) || !link.counts() || refuses(&link.findings) {
            continue;
        }
        let place = places.get(&group_of(step.method, record.row)).copied();
        let is_zero = record.row.role == Role::Standard && is_zero_level(record.row);
        if !is_zero {
            evaluate_one(step, blanks, record, link, Search::ForPeak, place);
        }
    }
}

/// Zero standards, and standards in which no peak was found, are measured where the others have theirs: a search
/// would pick the highest noise, and a missing value would censor the detection limit.
fn measure_peakless_standards(
    step: &mut SignalStep<'_, '_>,
    blanks: &mut Blanks<'_>,
    records: &[Record<'_>],
    links: &mut [ScanLink],
    places: &StandardPeaks,
) {
    for (record, link) in records.iter().zip(links) {
        if record.row.role != Role::Standard || !link.counts() || link.signal.is_some() {
            continue;
        }
        let Some(place) = places.get(&group_of(step.method, record.row)).copied() else { continue };
        let peakless = is_zero_level(record.row) || shows_no_peak(link);
        if peakless && !refused_otherwise(link) {
            link.findings.retain(|finding| finding.check != Check::NoPeak);
            evaluate_one(step, blanks, record, link, Search::At(place.potential_v), None);
        }
    }
}

/// Measures one scan and, where it shows no peak, measures it again at the calibration's potential.
fn evaluate_one(
    step: &mut SignalStep<'_, '_>,
    blanks: &mut Blanks<'_>,
    record: &Record<'_>,
    link: &mut ScanLink,
    search: Search,
    place: Option<StandardPeak>,
) {
    let subject = record.row.scan_label();
    let Some(sweep) = Sweep::of(record.scan, &step.method.evaluation.peak) else {
        let found = "no passage through the potentials in the direction of the peak";
        link.findings.push(Finding::new(Check::WrongWindow, Effect::Refused, subject, found));
        return;
    };
    let already_said = link.findings.iter().any(|finding| finding.check == Check::BlankMatch);
    let mut said = Vec::new();
    let background = blanks.background(record, &sweep, &mut said);
    if !already_said {
        link.findings.append(&mut said);
    }
    let Some(background) = background else { return };
    let blank_a = background.current_a.as_deref();
    let mut findings = Vec::new();
    let mut signal = step.measure(sweep, blank_a, search, place.as_ref(), &subject, &mut findings);
    if let (None, Some(place), Search::ForPeak) = (&signal, place, search)
        && findings.iter().all(|finding| finding.check == Check::NoPeak)
    {
        signal = measured_without_peak(step, sweep, blank_a, place.potential_v, &subject, &mut findings);
    }
    link.blanks = background.blanks;
    link.findings.append(&mut findings);
    // What left no signal cannot be overridden: there is nothing to use.
    if signal.is_some() {
        apply_overrides(link);
    }
    link.signal = signal.filter(|_| !refuses(&link.findings));
}

/// No peak is no refusal yet: the scan is measured without a search, and the sample decides what it means.
fn measured_without_peak(
    step: &mut SignalStep<'_, '_>,
    sweep: Sweep<'_>,
    blank_a: Option<&[f64]>,
    place: f64,
    subject: &str,
    findings: &mut Vec<Finding>,
) -> Option<SignalLink> {
    for finding in findings.iter_mut() {
        finding.effect = Effect::Noted;
    }
    step.measure(sweep, blank_a, Search::At(place), None, subject, findings)
}

fn is_zero_level(row: &Row) -> bool {
    row.level.as_ref().is_some_and(|level| level.value() == 0.0)
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

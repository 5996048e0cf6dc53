//! Checks of scans against each other: the same numbers twice, another scale, a single-use electrode used again.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use crate::check::Check;
use crate::file::Method;
use crate::finding::{Effect, Finding, refuses, si};
use crate::group::{group_of, median};
use crate::input::Record;
use crate::link::{GroupKey, ScanLink};
use crate::run_sheet::{Role, Row};

/// Scatter of a scan over that of its standards, or the other way round, from which on a unit must be wrong: about the
/// geometric middle between one and the thousand that a wrong prefix makes (common practice, no source).
const OTHER_SCALE: f64 = 30.0;

/// Adds what the scans say about each other.
pub(crate) fn check_against_each_other(method: &Method, records: &[Record<'_>], links: &mut [ScanLink]) {
    refuse_repeated(records, links);
    refuse_other_scales(method, records, links);
    if method.electrode.single_use {
        warn_of_reused_electrodes(records, links);
    }
}

/// Two recordings never agree in every digit: one of the two was stored, or listed, in the place of another scan.
fn refuse_repeated(records: &[Record<'_>], links: &mut [ScanLink]) {
    let mut same: BTreeMap<Digits<'_>, Vec<usize>> = BTreeMap::new();
    for (index, record) in records.iter().enumerate() {
        let is_taken = links.get(index).is_some_and(|link| link.counts() && !refuses(&link.findings));
        if is_taken {
            same.entry(Digits(&record.scan.current_a)).or_default().push(index);
        }
    }
    for indices in same.values().filter(|indices| indices.len() > 1) {
        let group: Vec<&Record<'_>> = indices.iter().filter_map(|index| records.get(*index)).collect();
        // One blank stored once for each batch is poor practice, but subtracts nothing wrong.
        let only_blanks = group.iter().all(|record| record.row.role == Role::Blank);
        let effect = if only_blanks { Effect::Warned } else { Effect::Refused };
        for (index, record) in indices.iter().zip(&group) {
            let others: Vec<String> = group
                .iter()
                .filter(|other| !std::ptr::eq(**other, *record))
                .map(|other| other.row.scan_label())
                .collect();
            let found = format!("the very same numbers as {}", others.join("; "));
            if let Some(link) = links.get_mut(*index) {
                link.findings.push(Finding::new(Check::RepeatedScan, effect, record.row.scan_label(), found));
            }
        }
    }
}

/// Currents in an order in which only those that agree in every bit are equal. Two recordings differ within a few points, so
/// that comparing costs less than hashing.
#[derive(Clone, Copy)]
struct Digits<'a>(&'a [f64]);

impl Ord for Digits<'_> {
    fn cmp(&self, other: &Self) -> Ordering {
        let bits = self.0.iter().map(|value| value.to_bits());
        bits.cmp(other.0.iter().map(|value| value.to_bits()))
    }
}

impl PartialOrd for Digits<'_> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Digits<'_> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Digits<'_> {}

/// A unit stated wrongly makes scatter and signal wrong by the same factor. The signal of an unknown is unknown; its
/// scatter is that of its standards.
fn refuse_other_scales(method: &Method, records: &[Record<'_>], links: &mut [ScanLink]) {
    let scatters: Vec<Option<f64>> = records.iter().map(scatter_a).collect();
    let mut of_standards: BTreeMap<GroupKey, Vec<f64>> = BTreeMap::new();
    for (record, scatter) in records.iter().zip(&scatters).filter(|(r, _)| r.row.role == Role::Standard) {
        of_standards.entry(group_of(method, record.row)).or_default().extend(scatter);
    }
    let usual: BTreeMap<GroupKey, f64> = of_standards
        .into_iter()
        .filter_map(|(key, values)| median(values).map(|value| (key, value)))
        .collect();
    for ((record, link), scatter) in records.iter().zip(links).zip(scatters) {
        let (Some(found_a), Some(usual_a)) = (scatter, usual.get(&group_of(method, record.row))) else {
            continue;
        };
        let ratio = found_a / usual_a;
        if link.counts() && !(ratio < OTHER_SCALE && ratio > 1.0 / OTHER_SCALE) {
            let found = format!(
                "neighbouring points scatter by {}, those of the standards by {}: another unit or range",
                si(found_a, "A"),
                si(*usual_a, "A")
            );
            let subject = record.row.scan_label();
            link.findings.push(Finding::new(Check::OtherScale, Effect::Refused, subject, found));
        }
    }
}

/// The middle size of the fourth differences: peak and background hardly show in it, even on a quiet instrument. None
/// where the record is too coarse.
fn scatter_a(record: &Record<'_>) -> Option<f64> {
    let differences: Vec<f64> = record
        .scan
        .current_a
        .windows(5)
        .filter_map(|five| match five {
            [a, b, c, d, e] => {
                Some((a - 4.0 * b + 6.0 * c - 4.0 * d + e).abs()).filter(|difference| difference.is_finite())
            }
            _ => None,
        })
        .collect();
    median(differences).filter(|scatter| *scatter > 0.0)
}

/// A strip that serves one solution carries the first one over into the second. Its blank beforehand is no solution.
fn warn_of_reused_electrodes(records: &[Record<'_>], links: &mut [ScanLink]) {
    let mut first: BTreeMap<(&str, &str), &Row> = BTreeMap::new();
    for (record, link) in records.iter().zip(links) {
        let row = record.row;
        if row.role == Role::Blank || row.electrode.is_empty() || !link.counts() {
            continue;
        }
        let served = *first.entry((&row.lot, &row.electrode)).or_insert(row);
        if solution(served) != solution(row) {
            let found = format!("electrode {} served {} before", row.electrode, served.scan_label());
            let finding = Finding::new(Check::ElectrodeReused, Effect::Warned, row.scan_label(), found);
            link.findings.push(finding);
        }
    }
}

fn solution(row: &Row) -> (Role, &str, &str, u64) {
    let stated = row.level.as_ref().map_or(0.0, stillwell_quantity::Concentration::value);
    // An electrode followed through the additions to one sample stays in that sample.
    let level = if row.role == Role::Addition { 0.0 } else { stated };
    (row.role, &row.sample, &row.batch, level.to_bits())
}

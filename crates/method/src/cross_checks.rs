//! Checks of scans against each other: the same numbers twice, another scale, a single-use electrode used again.

use std::collections::BTreeMap;

use crate::check::Check;
use crate::file::Method;
use crate::finding::{Effect, Finding, refuses, si};
use crate::grids::Bits;
use crate::group::median;
use crate::input::Record;
use crate::link::{GroupKey, ScanLink};
use crate::run_sheet::{Role, Row};

/// Scatter of a scan over that of its standards, or the other way round, from which on a unit must be wrong: about the
/// geometric middle between one and the thousand that a wrong prefix makes (common practice, no source).
const OTHER_SCALE: f64 = 30.0;

/// Adds what the scans say about each other.
pub(crate) fn check_against_each_other(
    method: &Method,
    records: &[Record<'_>],
    keys: &[GroupKey],
    links: &mut [ScanLink],
) {
    refuse_repeated(records, links);
    refuse_other_scales(records, keys, links);
    if method.electrode.single_use {
        withhold_reused_electrodes(records, links);
    }
}

/// Two recordings never agree in every digit: one of the two was stored, or listed, in the place of another scan.
fn refuse_repeated(records: &[Record<'_>], links: &mut [ScanLink]) {
    let mut same: BTreeMap<Bits<'_>, Vec<usize>> = BTreeMap::new();
    for (index, record) in records.iter().enumerate() {
        let is_taken = links.get(index).is_some_and(|link| link.counts() && !refuses(&link.findings));
        if is_taken {
            same.entry(Bits(&record.scan.current_a)).or_default().push(index);
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

/// A unit stated wrongly makes scatter and signal wrong by the same factor. The signal of an unknown is unknown; its
/// scatter is that of its standards.
fn refuse_other_scales(records: &[Record<'_>], keys: &[GroupKey], links: &mut [ScanLink]) {
    let mut differences = Vec::new();
    let scatters: Vec<Option<f64>> =
        records.iter().map(|record| scatter_a(&record.scan.current_a, &mut differences)).collect();
    let mut of_standards: BTreeMap<&GroupKey, Vec<f64>> = BTreeMap::new();
    let standards =
        records.iter().zip(keys).zip(&scatters).filter(|((r, _), _)| r.row.role == Role::Standard);
    for ((_, key), scatter) in standards {
        of_standards.entry(key).or_default().extend(scatter);
    }
    let usual: BTreeMap<&GroupKey, f64> = of_standards
        .into_iter()
        .filter_map(|(key, values)| median(values).map(|value| (key, value)))
        .collect();
    for (((record, key), link), scatter) in records.iter().zip(keys).zip(links).zip(scatters) {
        let (Some(found_a), Some(usual_a)) = (scatter, usual.get(key)) else {
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
fn scatter_a(current_a: &[f64], differences: &mut Vec<f64>) -> Option<f64> {
    differences.clear();
    let from = |offset: usize| current_a.get(offset..).unwrap_or_default().iter();
    let fives = from(0).zip(from(1)).zip(from(2)).zip(from(3)).zip(from(4));
    differences.extend(fives.map(|((((a, b), c), d), e)| (a - 4.0 * b + 6.0 * c - 4.0 * d + e).abs()));
    if differences.iter().fold(false, |any, difference| any | !difference.is_finite()) {
        differences.retain(|difference| difference.is_finite());
    }
    let middle = differences.len().checked_sub(1)? / 2;
    // Of numbers that are not negative the bits stand in their order.
    let scatter = *differences.select_nth_unstable_by_key(middle, |difference| difference.to_bits()).1;
    Some(scatter).filter(|scatter| *scatter > 0.0)
}

/// A strip that serves one solution carries the first one over into the second. Its blank beforehand is no solution.
fn withhold_reused_electrodes(records: &[Record<'_>], links: &mut [ScanLink]) {
    let mut first: BTreeMap<(&str, &str), &Row> = BTreeMap::new();
    for (record, link) in records.iter().zip(links) {
        let row = record.row;
        if row.role == Role::Blank || row.electrode.is_empty() || !link.counts() {
            continue;
        }
        let served = *first.entry((&row.lot, &row.electrode)).or_insert(row);
        if solution(served) != solution(row) {
            let found = format!("electrode {} served {} before", row.electrode, served.scan_label());
            let finding = Finding::new(Check::ElectrodeReused, Effect::Withheld, row.scan_label(), found);
            link.findings.push(finding);
        }
    }
}

fn solution(row: &Row) -> (Role, &str, &str, u64, &str, u64) {
    let stated = row.level_value().unwrap_or(0.0);
    // An electrode followed through the additions to one sample stays in that sample.
    let level = if row.role == Role::Addition { 0.0 } else { stated };
    let (interferent, added) =
        row.interferent.as_ref().map_or(("", 0.0), |one| (one.name.as_str(), one.mg_per_l));
    (row.role, &row.sample, &row.batch, level.to_bits(), interferent, added.to_bits())
}

//! What interferents change: one solution with and without each of them, strip by strip, read off its own calibration.

use std::collections::BTreeMap;

use stillwell_assure::validate::Interference;
use stillwell_quantity::Concentration;

use crate::file::Method;
use crate::group::group_of;
use crate::link::{CalibrationLink, GroupKey, ScanLink};
use crate::lot_reading::strip_reading;
use crate::run_sheet::{Interferent, Role};
use crate::walks::Walk;

/// One solution of one batch: its level, and its strips by what was added.
#[derive(Default)]
struct Tried<'a> {
    with: Vec<(&'a Interferent, Strips<'a>)>,
    without: Strips<'a>,
}

type Strips<'a> = BTreeMap<&'a str, Vec<&'a ScanLink>>;

/// Each interferent at each level of the analyte, batch by batch: a strip is one result, and results of different batches or
/// calibrations are not put together.
///
/// # Units
/// Levels and results in the method's reporting unit.
pub(crate) fn interferences(method: &Method, walks: &[Walk<'_>]) -> Vec<Interference> {
    let mut found: Vec<(String, Interference)> = Vec::new();
    for Walk { report, .. } in walks {
        for ((batch, key, level), tried) in by_solution(method, &report.scans) {
            let calibration = report.calibrations.iter().find(|link| link.key == key && link.is_accepted());
            let level = f64::from_bits(level);
            let (without, n_unread) = read(method, calibration, &tried.without);
            for (interferent, strips) in &tried.with {
                let (with, n_more) = read(method, calibration, strips);
                let name = format!("{} {} mg/L", interferent.name, interferent.mg_per_l);
                let n_refused = n_unread + n_more;
                let one = Interference { name, level, without: without.clone(), with, n_refused };
                found.push((batch.clone(), one));
            }
        }
    }
    name_batches(&mut found);
    found.into_iter().map(|(_, one)| one).collect()
}

fn by_solution<'a>(method: &Method, scans: &'a [ScanLink]) -> BTreeMap<(String, GroupKey, u64), Tried<'a>> {
    let mut solutions: BTreeMap<(String, GroupKey, u64), Tried<'a>> = BTreeMap::new();
    for scan in scans.iter().filter(|scan| scan.row.role == Role::Interference && scan.counts()) {
        let Some(level) = scan.row.level.as_ref().map(Concentration::value) else { continue };
        let key = (scan.row.batch.clone(), group_of(method, &scan.row), level.to_bits());
        let tried = solutions.entry(key).or_default();
        let strips = match &scan.row.interferent {
            None => &mut tried.without,
            Some(interferent) => of_interferent(&mut tried.with, interferent),
        };
        strips.entry(&scan.row.electrode).or_default().push(scan);
    }
    solutions
}

fn of_interferent<'a, 't>(
    with: &'t mut Vec<(&'a Interferent, Strips<'a>)>,
    interferent: &'a Interferent,
) -> &'t mut Strips<'a> {
    let place = with.iter().position(|(known, _)| *known == interferent).unwrap_or_else(|| {
        with.push((interferent, Strips::new()));
        with.len() - 1
    });
    #[expect(clippy::indexing_slicing, reason = "a place that was just found or made")]
    &mut with[place].1
}

/// What the strips read, and how many could not be read.
fn read(method: &Method, calibration: Option<&CalibrationLink>, strips: &Strips<'_>) -> (Vec<f64>, usize) {
    let found: Vec<f64> =
        strips.values().filter_map(|scans| Some(strip_reading(method, calibration?, scans)?.0)).collect();
    let n_unread = strips.len() - found.len();
    (found, n_unread)
}

/// At which level of the analyte and on how many strips an interferent was tried.
pub(crate) fn tried_words(method: &Method, one: &Interference) -> String {
    let kind = &method.analyte.reported_as;
    let level =
        Concentration::of_kind(one.level, kind.clone()).map_or_else(|_| String::new(), |at| at.to_string());
    format!("Tried at {level} on {} strips without and {} with it.", one.without.len(), one.with.len())
}

/// Names that stand several times say their batch.
fn name_batches(found: &mut [(String, Interference)]) {
    let names: Vec<String> = found.iter().map(|(_, one)| one.name.clone()).collect();
    for (batch, one) in found {
        let n = names.iter().filter(|name| **name == one.name).count();
        if n > 1 && !batch.is_empty() {
            one.name = format!("{}, batch {batch}", one.name);
        }
    }
}

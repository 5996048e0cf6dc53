//! A scan gives one result: the same raw scans do not come in twice under another run sheet.

use std::collections::{BTreeMap, BTreeSet};

use stillwell_method::{Role, Row, RunSheet};

use crate::act::{Act, Series};
use crate::error::StudyError;
use crate::hash::Digest;
use crate::result::ScanRef;
use crate::study::Study;

/// A scan by the hash of its raw file and its number in it.
type RawScan = (Digest, usize);

impl Study {
    /// Shows that no scan of a new series counts in another one already: a well would have two results in force, and a chart a
    /// point twice. Blanks and standards may serve several series, and what was left out in either counts nowhere.
    pub(crate) fn check_taken_once(&self, series: &Series, sheet: &RunSheet) -> Result<(), StudyError> {
        let new = counting(series, sheet, |row| row.exclude.is_none());
        for known in self.series()? {
            if !known.act.files.iter().any(|file| series.files.iter().any(|one| one.raw == file.raw)) {
                continue;
            }
            let opened = self.open_series(&known.record.hash, &self.method()?.method)?;
            let left_out = self.left_out(&known.record.hash)?;
            // Also what the run sheet left out is on record there, and may have been taken back.
            let there = counting(&opened.act, &opened.sheet, |row| !left_out.contains(&scan_of(row)));
            let twice: Vec<&(ScanRef, String)> =
                new.iter().filter(|(scan, _)| there.contains_key(*scan)).map(|(_, named)| named).collect();
            let Some((scan, sample)) = twice.first() else { continue };
            return Err(StudyError::not_allowed(
                format!(
                    "series {} holds {} of these scans already, the first {} ({sample}): taken in again they would count twice",
                    known.label,
                    twice.len(),
                    scan.label()
                ),
                format!(
                    "mend it there: `stillwell study correct` issues a result anew for a reason, and what `stillwell study exclude --series {}` leaves out may come in with another run sheet; only blanks and standards serve several series",
                    known.label
                ),
            ));
        }
        Ok(())
    }

    /// The scans of a series that are left out now.
    fn left_out(&self, series: &Digest) -> Result<BTreeSet<ScanRef>, StudyError> {
        let of_exclusion = |act| match act {
            Act::Exclusion(act) => Some(act.scan),
            _ => None,
        };
        Ok(self.amendments(series)?.into_iter().filter_map(|(_, act)| of_exclusion(act)).collect())
    }
}

fn scan_of(row: &Row) -> ScanRef {
    ScanRef { file: row.file.clone(), scan: row.scan }
}

/// The scans of a series from which something is concluded, with how a person names each.
fn counting(
    series: &Series,
    sheet: &RunSheet,
    is_used: impl Fn(&Row) -> bool,
) -> BTreeMap<RawScan, (ScanRef, String)> {
    let raw: BTreeMap<&str, Digest> =
        series.files.iter().map(|file| (file.name.as_str(), file.raw)).collect();
    let is_own = |row: &&Row| !matches!(row.role, Role::Blank | Role::Standard) && is_used(row);
    let rows = sheet.rows.iter().filter(is_own);
    rows.filter_map(|row| {
        let key = (*raw.get(row.file.as_str())?, row.scan);
        Some((key, (scan_of(row), row.sample.clone())))
    })
    .collect()
}

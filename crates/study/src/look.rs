//! Looking without recording: what the ledger says of a series that was walked, and which verdicts hold today.

use std::collections::BTreeMap;

use stillwell_method::{Report, RunSheet};

use crate::act::{Act, CalibrationAct, DeterminationAct, Series, Withholding};
use crate::charts::ChartHold;
use crate::content;
use crate::day::day_of;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::issue::{Walked, as_custody, as_lot};
use crate::ledger::Record;
use crate::numbered::Numbered;
use crate::study::Study;
use crate::validity::Circumstances;

/// A series that was walked, beside what the ledger says of it.
#[derive(Debug)]
pub struct Looked {
    /// The report, with the study's own reasons to withhold a verdict among its findings, and without what was
    /// borrowed from another series.
    pub report: Report,
    /// For each calibration of the report: its record, where it is on record.
    pub calibrations: Vec<Option<Numbered<CalibrationAct>>>,
    /// For each determination of the report: the last result issued for the same sample, and whether it is this one.
    pub determinations: Vec<Option<LastIssued>>,
}

/// The last result that was issued for a sample of a series.
#[derive(Debug, Clone)]
pub struct LastIssued {
    /// The result on record.
    pub result: Numbered<DeterminationAct>,
    /// Whether the walk gives the very same today.
    pub is_same: bool,
}

/// What was read already on the way through many results: they share run sheets and calibrations.
#[derive(Default)]
struct Seen {
    sheets: BTreeMap<Digest, (Record, RunSheet)>,
    /// By calibration and day of the measurement.
    calibrations: BTreeMap<(Digest, String), Vec<Withholding>>,
}

impl Study {
    /// Puts what the ledger says beside a report of a series that came from [`Study::input`].
    ///
    /// # Errors
    /// No such series, or a borrowed calibration that does not come out with its recorded constants.
    pub fn look(&self, series: &Digest, report: Report) -> Result<Looked, StudyError> {
        self.look_beside(series, report, &self.chart_hold()?)
    }

    /// The same, where the charts of all series were judged already.
    ///
    /// # Errors
    /// As [`Self::look`].
    pub fn look_beside(
        &self,
        series: &Digest,
        report: Report,
        charts: &ChartHold,
    ) -> Result<Looked, StudyError> {
        let walked = self.walked(series, report)?;
        self.check_borrowed(&walked.borrowed, &walked.report)?;
        let (known_calibrations, known_results) = (self.calibrations()?, self.determinations()?);
        let mut records = Vec::new();
        for link in &walked.report.calibrations {
            records.push(self.calibration_on_record(&walked, link)?.0);
        }
        let kin = self.kin_of(&walked, &records)?;
        let mut kept = Vec::new();
        let mut determinations = Vec::new();
        for (found, result) in walked.own_results() {
            let now = self.determination_act(&walked, (found, result), (&records, &kin), charts)?;
            let mut found = found.clone();
            found.findings.extend(now.withheld.iter().map(|why| why.finding(&found.sample)));
            kept.push(found);
            let last = self.last_issued(series, result)?;
            determinations.push(last.and_then(|(record, before)| {
                let result = known_results.iter().find(|one| one.record.hash == record.hash)?.clone();
                Some(LastIssued { is_same: says_the_same(&before, &now), result })
            }));
        }
        let calibrations = records
            .iter()
            .map(|record| {
                let hash = record.as_ref()?.hash;
                known_calibrations.iter().find(|one| one.record.hash == hash).cloned()
            })
            .collect();
        let mut report = walked.report;
        report.determinations = kept;
        Ok(Looked { report, calibrations, determinations })
    }

    /// Why no verdict may be drawn today from results on record, one list for each: a calibration that was withdrawn
    /// later withholds what was read off it before.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn withheld_today<'a>(
        &self,
        results: impl IntoIterator<Item = &'a DeterminationAct>,
    ) -> Result<Vec<Vec<Withholding>>, StudyError> {
        self.withheld_beside(results, &self.chart_hold()?)
    }

    /// The same, where the charts of all series were judged already.
    pub(crate) fn withheld_beside<'a>(
        &self,
        results: impl IntoIterator<Item = &'a DeterminationAct>,
        charts: &ChartHold,
    ) -> Result<Vec<Vec<Withholding>>, StudyError> {
        let mut seen = Seen::default();
        let withheld_now = |act: &DeterminationAct, seen: &mut Seen| {
            let mut found = self.withheld_now(act, seen)?;
            found.extend(charts.of(&act.series, &act.result).iter().cloned());
            Ok(found)
        };
        results.into_iter().map(|act| withheld_now(act, &mut seen)).collect()
    }

    /// Why no verdict may be drawn from a sample that the ledger holds no result of: its lot and its custody. `dates` are
    /// those of its scans; without one the day counts on which the series came in.
    ///
    /// # Errors
    /// No such series.
    pub fn forbidden(
        &self,
        series: &Digest,
        (sample, lot): (&str, &str),
        dates: &[&str],
    ) -> Result<Vec<Withholding>, StudyError> {
        let series = self.must_be(series, "series")?;
        let latest = dates.iter().filter_map(|date| day_of(date)).max().or_else(|| day_of(&series.at_utc));
        let lot = self.last_about(lot, "lot")?.map(|record| record.act()).transpose()?;
        let custody = self.last_about(sample, "custody")?.map(|record| record.act()).transpose()?;
        self.withholdings(&Circumstances {
            measured: latest.map(|day| day.to_string()).unwrap_or_default(),
            calibration: None,
            kin: &[],
            lot: lot.as_ref().and_then(as_lot),
            custody: custody.as_ref().and_then(as_custody),
        })
    }

    fn withheld_now(&self, act: &DeterminationAct, seen: &mut Seen) -> Result<Vec<Withholding>, StudyError> {
        if let std::collections::btree_map::Entry::Vacant(place) = seen.sheets.entry(act.series) {
            place.insert(self.dated_sheet(act)?);
        }
        let Some((series, sheet)) = seen.sheets.get(&act.series) else { return Ok(Vec::new()) };
        let used = |file: &str, scan: usize| {
            act.result.scans.iter().any(|one| one.scan.file == file && one.scan.scan == scan)
        };
        let rows = sheet.rows.iter().filter(|row| used(&row.file, row.scan));
        let dates: Vec<&str> = rows.map(|row| row.date.as_str()).collect();
        let mut found = self.forbidden(&act.series, (&act.result.sample, &act.result.lot), &dates)?;
        let latest = dates.iter().filter_map(|date| day_of(date)).max().or_else(|| day_of(&series.at_utc));
        let measured = latest.map(|day| day.to_string()).unwrap_or_default();
        for hash in act.calibration.iter().chain(&act.borrowed) {
            let key = (*hash, measured.clone());
            if let std::collections::btree_map::Entry::Vacant(place) = seen.calibrations.entry(key.clone()) {
                place.insert(self.calibration_now(hash, &measured)?);
            }
            for why in seen.calibrations.get(&key).into_iter().flatten() {
                if !found.contains(why) {
                    found.push(why.clone());
                }
            }
        }
        Ok(found)
    }

    /// Why nothing measured on a day may be read off a calibration.
    fn calibration_now(&self, hash: &Digest, measured: &str) -> Result<Vec<Withholding>, StudyError> {
        let record = self.record(hash)?;
        let Act::Calibration(calibration) = record.act()? else { return Ok(Vec::new()) };
        let kin = self.kin(&calibration.series, &calibration.result, Some(hash))?;
        self.calibrations_withhold(Some(&record), &kin, measured)
    }

    fn dated_sheet(&self, act: &DeterminationAct) -> Result<(Record, RunSheet), StudyError> {
        let record = self.must_be(&act.series, "series")?;
        let Act::Series(Series { run_sheet, .. }) = record.act()? else {
            return Err(StudyError::damaged("a series is not where it should be"));
        };
        let text = content::text(&self.connection, &run_sheet)?;
        let method = self.revision(&act.revision)?.method;
        let sheet = RunSheet::parse("run-sheet.csv", &text, &method.analyte.reported_as)?;
        Ok((record, sheet))
    }

    /// What was found in a report that came from somewhere else than [`Study::walk_leaning`].
    fn walked(&self, series: &Digest, report: Report) -> Result<Walked, StudyError> {
        let revision = self.method()?;
        let borrowed = self.to_borrow(series, &revision)?;
        let record = self.must_be(series, "series")?;
        let as_of = self.amendments_now(series)?;
        Ok(Walked::of(record, revision.record, as_of, borrowed, report))
    }
}

/// Numbers, method, calibration and reasons to withhold are the same.
pub(crate) fn says_the_same(before: &DeterminationAct, now: &DeterminationAct) -> bool {
    before.result == now.result
        && before.revision == now.revision
        && before.withheld == now.withheld
        && before.calibration == now.calibration
}

//! Looking without recording: what the ledger says of a series that was walked, and which verdicts hold today.

use std::collections::BTreeMap;

use stillwell_method::{Check, Determination, Effect, Finding, Report, Row};

use crate::act::{Act, CalibrationAct, DeterminationAct, Withholding};
use crate::charts::ChartHold;
use crate::day::day_of;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::issue::{Walked, as_custody};
use crate::ledger::Record;
use crate::numbered::Numbered;
use crate::result::{SIGNED, ScanRef};
use crate::series::OpenedSeries;
use crate::study::Study;
use crate::surroundings::Surroundings;
use crate::validity::Circumstances;
use crate::withholding::not_in_force;

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

impl Study {
    /// Puts what the ledger says beside a report of a series that came from [`Study::input`].
    ///
    /// # Errors
    /// No such series, or a borrowed calibration that does not come out with its recorded constants.
    pub fn look(&self, series: &Digest, report: Report) -> Result<Looked, StudyError> {
        let charts = self.chart_hold()?;
        self.look_beside(series, report, &charts)
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
        let mut beside = Surroundings::of(self, &walked, &records, charts)?;
        let mut kept = Vec::new();
        let mut determinations = Vec::new();
        for (found, result) in walked.own_results() {
            let now = beside.act(found, result)?;
            let mut found = found.clone();
            found.findings.extend(now.withheld.iter().map(|why| why.finding(&found.sample)));
            let last = self.last_issued(series, result)?.and_then(|(record, before)| {
                let result = known_results.iter().find(|one| one.record.hash == record.hash)?.clone();
                Some(LastIssued { is_same: says_the_same(&before, &now), result })
            });
            if last.as_ref().is_some_and(|last| last.is_same && last.result.standing.is_approved()) {
                lift_what_was_signed(&mut found);
            }
            // Numbers that come out again do not bring back what a person took back.
            found.findings.extend(last.as_ref().and_then(|last| not_in_force(&last.result)));
            kept.push(found);
            determinations.push(last);
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
        let charts = self.chart_hold()?;
        let mut today = Today::of(self, &charts);
        results.into_iter().map(|act| today.withheld(act)).collect()
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
        self.forbidden_on(latest_of(dates.iter().copied(), &series), sample, lot)
    }

    fn forbidden_on(
        &self,
        measured: String,
        sample: &str,
        lot: &str,
    ) -> Result<Vec<Withholding>, StudyError> {
        let lot = self.lot_in_force(lot)?;
        let custody = self.last_about(sample, "custody")?.map(|record| record.act()).transpose()?;
        Ok(Self::withholdings(Circumstances {
            measured,
            of_calibration: Vec::new(),
            lot: lot.as_ref().map(|(_, act)| act),
            custody: custody.as_ref().and_then(as_custody),
        }))
    }

    /// What was found in a report that came from somewhere else than [`Study::walk_leaning`].
    fn walked(&self, series: &Digest, report: Report) -> Result<Walked, StudyError> {
        let revision = self.method()?;
        let opened = self.open_series(series, &revision.method)?;
        let borrowed = self.to_borrow(&opened, &revision)?;
        let as_of = self.amendments_now(&opened.record)?;
        Ok(Walked::of(opened.record, revision.record, as_of, borrowed, report))
    }
}

/// What waited for an approver's signature and has it.
fn lift_what_was_signed(found: &mut Determination) {
    let waits = |finding: &&mut Finding| {
        finding.check == Check::OverriddenChecks && finding.is_in_force(Effect::Withheld)
    };
    found.findings.iter_mut().filter(waits).for_each(|finding| finding.overridden = Some(SIGNED.to_owned()));
}

/// The latest of some dates, or the day on which the series came in.
fn latest_of<'d>(dates: impl Iterator<Item = &'d str>, series: &Record) -> String {
    let latest = dates.filter_map(day_of).max().or_else(|| day_of(&series.at_utc));
    latest.map(|day| day.to_string()).unwrap_or_default()
}

/// What the ledger says today of results on record. What many of them share is asked once.
pub(crate) struct Today<'a> {
    study: &'a Study,
    charts: &'a ChartHold,
    /// The record of a series without its act, and the date of each scan.
    series: BTreeMap<Digest, (Record, BTreeMap<ScanRef, String>)>,
    /// A calibration's record and its kin.
    calibrations: BTreeMap<Digest, (Record, Vec<Record>)>,
    /// What was said of a calibration, by the day of the measurement.
    said: BTreeMap<(Digest, String), Vec<Withholding>>,
}

impl<'a> Today<'a> {
    pub(crate) fn of(study: &'a Study, charts: &'a ChartHold) -> Self {
        Self { study, charts, series: BTreeMap::new(), calibrations: BTreeMap::new(), said: BTreeMap::new() }
    }

    /// Why no verdict may be drawn today from a result.
    pub(crate) fn withheld(&mut self, act: &DeterminationAct) -> Result<Vec<Withholding>, StudyError> {
        let measured = self.measured(act)?;
        let mut found = self.study.forbidden_on(measured.clone(), &act.result.sample, &act.result.lot)?;
        for calibration in act.calibration.iter().chain(&act.borrowed) {
            for why in self.said_of(calibration, &measured)? {
                if !found.contains(why) {
                    found.push(why.clone());
                }
            }
        }
        found.extend(self.charts.of(&act.series, &act.result).iter().cloned());
        Ok(found)
    }

    fn measured(&mut self, act: &DeterminationAct) -> Result<String, StudyError> {
        if !self.series.contains_key(&act.series) {
            self.series.insert(act.series, self.study.dated_scans(act)?);
        }
        let Some((series, dates)) = self.series.get(&act.series) else { return Ok(String::new()) };
        let dates = act.result.scans.iter().filter_map(|used| dates.get(&used.scan));
        Ok(latest_of(dates.map(String::as_str), series))
    }

    fn said_of(&mut self, calibration: &Digest, measured: &str) -> Result<&[Withholding], StudyError> {
        let key = (*calibration, measured.to_owned());
        if !self.said.contains_key(&key) {
            if !self.calibrations.contains_key(calibration) {
                self.calibrations.insert(*calibration, self.study.with_kin(calibration)?);
            }
            let known = self.calibrations.get(calibration);
            let said = known.map_or_else(
                || Ok(Vec::new()),
                |(record, kin)| self.study.calibrations_withhold(Some(record), kin, measured),
            )?;
            self.said.insert(key.clone(), said);
        }
        Ok(self.said.get(&key).map_or(&[], Vec::as_slice))
    }
}

impl Study {
    fn with_kin(&self, calibration: &Digest) -> Result<(Record, Vec<Record>), StudyError> {
        let record = self.record(calibration)?;
        let kin = match record.act()? {
            Act::Calibration(act) => self.kin(&act.series, &act.result, Some(calibration))?,
            _ => Vec::new(),
        };
        Ok((record, kin))
    }

    fn dated_scans(&self, act: &DeterminationAct) -> Result<(Record, BTreeMap<ScanRef, String>), StudyError> {
        let OpenedSeries { record, sheet, .. } =
            self.open_series(&act.series, &self.revision(&act.revision)?.method)?;
        let dated = |row: Row| (ScanRef { file: row.file, scan: row.scan }, row.date);
        Ok((Record { body: Vec::new(), ..record }, sheet.rows.into_iter().map(dated).collect()))
    }
}

/// Numbers, method, calibration and reasons to withhold are the same.
pub(crate) fn says_the_same(before: &DeterminationAct, now: &DeterminationAct) -> bool {
    before.result == now.result
        && before.revision == now.revision
        && before.withheld == now.withheld
        && before.calibration == now.calibration
}

//! Issuing determinations: the chain is walked over one series, and what it found is recorded with all it came from.

use stillwell_method::{CalibrationLink, Determination, Input, NUMBERS, Report, determine};

use crate::act::{Act, AsOf, CalibrationAct, Custody, DeterminationAct, Lot};
use crate::charts::ChartHold;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::{self, By, Record};
use crate::look::says_the_same;
use crate::numbered::{Numbered, named, numbered};
use crate::result::{
    CalibrationResult, DeterminationResult, FindingText, ScanRef, calibration_result, determination_result,
};
use crate::series::{OpenedSeries, Recipe, borrowed_name};
use crate::study::{MethodRevision, SOFTWARE, Study};
use crate::surroundings::Surroundings;

use rusqlite::Transaction;

/// What issuing did.
#[derive(Debug)]
pub struct Issued {
    /// The chain's report, with every link.
    pub report: Report,
    /// Records of the calibrations, new or there before.
    pub calibrations: Vec<Digest>,
    /// One for each sample, in the order of the run sheet.
    pub determinations: Vec<IssuedDetermination>,
}

/// A determination that was issued now, or stands in the ledger as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct IssuedDetermination {
    /// Its record.
    pub record: Digest,
    /// Whether the very same result stood in the ledger already.
    pub was_there: bool,
    /// What it says.
    pub act: DeterminationAct,
}

/// A series walked through the chain, before anything is recorded.
pub(crate) struct Walked {
    pub(crate) series: Record,
    pub(crate) revision: Digest,
    pub(crate) as_of: Vec<AsOf>,
    pub(crate) borrowed: Vec<Digest>,
    pub(crate) report: Report,
    /// Places in the report of the determinations of the series itself, and their results.
    results: Vec<(usize, DeterminationResult)>,
}

impl Walked {
    pub(crate) fn of(
        series: Record,
        revision: Digest,
        as_of: Vec<AsOf>,
        borrowed: Vec<Digest>,
        report: Report,
    ) -> Self {
        let results = results_of(&report, &borrowed);
        Self { series, revision, as_of, borrowed, report, results }
    }

    /// The determinations of the series itself with their results: those of borrowed method blanks are not issued again.
    pub(crate) fn own_results(&self) -> impl Iterator<Item = (&Determination, &DeterminationResult)> {
        self.results
            .iter()
            .filter_map(|(place, result)| Some((self.report.determinations.get(*place)?, result)))
    }
}

fn results_of(report: &Report, borrowed: &[Digest]) -> Vec<(usize, DeterminationResult)> {
    let is_borrowed = |batch: &str| borrowed.iter().any(|c| batch.starts_with(&borrowed_name(c, "")));
    let own = report.determinations.iter().enumerate().filter(|(_, found)| !is_borrowed(&found.batch));
    own.map(|(place, found)| (place, determination_result(report, found))).collect()
}

impl Study {
    /// Determines every sample of a series by the current method, and records calibrations and determinations that do
    /// not stand in the ledger yet. One that differs from an earlier one of the same sample takes its place.
    ///
    /// # Errors
    /// No such series, damaged content, or a file that cannot be written.
    pub fn determine(&mut self, series: &Digest, by: &By) -> Result<Issued, StudyError> {
        let walked = self.walk(series, &self.method()?)?;
        let charts = self.chart_hold()?;
        self.write(|transaction, study| study.issue(transaction, walked, &charts, by))
    }

    /// Leaves scans of a series out from now on, and determines it anew: all of it, or nothing.
    ///
    /// # Errors
    /// As [`Self::exclude`] and [`Self::determine`].
    pub fn correct(
        &mut self,
        series: &Digest,
        scans: &[ScanRef],
        by: &By,
    ) -> Result<(Vec<Record>, Issued), StudyError> {
        let revision = self.method()?;
        self.write(|transaction, study| {
            let left_out = scans.iter().map(|scan| study.leave_out(transaction, series, scan, by));
            let left_out = left_out.collect::<Result<Vec<_>, _>>()?;
            let walked = study.walk(series, &revision)?;
            // Charts are judged without the scans that were just left out.
            let charts = study.chart_hold()?;
            Ok((left_out, study.issue(transaction, walked, &charts, by)?))
        })
    }

    /// Walks the chain over a series under a method revision; records nothing.
    pub(crate) fn walk(&self, series: &Digest, revision: &MethodRevision) -> Result<Walked, StudyError> {
        let opened = self.open_series(series, &revision.method)?;
        let borrowed = self.to_borrow(&opened, revision)?;
        let walked = self.walk_leaning(opened, revision, borrowed)?;
        self.check_borrowed(&walked.borrowed, &walked.report)?;
        Ok(walked)
    }

    /// Walks the chain over a series with the standards of given calibrations.
    pub(crate) fn walk_leaning(
        &self,
        series: OpenedSeries,
        revision: &MethodRevision,
        borrowed: Vec<Digest>,
    ) -> Result<Walked, StudyError> {
        let record = series.record.clone();
        let as_of = self.amendments_now(&record)?;
        let (method, recorded) = (revision.method.clone(), revision.record);
        let recipe = Recipe { series, method, as_of: as_of.clone(), borrowed: &borrowed, from_text: false };
        let report = determine(&self.input_by(recipe)?);
        Ok(Walked::of(record, recorded, as_of, borrowed, report))
    }

    pub(crate) fn issue(
        &self,
        transaction: &Transaction<'_>,
        walked: Walked,
        charts: &ChartHold,
        by: &By,
    ) -> Result<Issued, StudyError> {
        let calibrations: Vec<Option<Record>> =
            self.issue_calibrations(transaction, &walked, by)?.into_iter().map(Some).collect();
        let mut beside = Surroundings::of(self, &walked, &calibrations, charts)?;
        let mut determinations = Vec::new();
        for (found, result) in walked.own_results() {
            let act = beside.act(found, result)?;
            determinations.push(self.issue_one(transaction, act, by)?);
        }
        let calibrations = calibrations.into_iter().flatten().map(|record| record.hash).collect();
        Ok(Issued { report: walked.report, calibrations, determinations })
    }

    /// The record of each calibration of the report, in its order.
    fn issue_calibrations(
        &self,
        transaction: &Transaction<'_>,
        walked: &Walked,
        by: &By,
    ) -> Result<Vec<Record>, StudyError> {
        let mut records = Vec::new();
        for link in &walked.report.calibrations {
            let record = match self.calibration_on_record(walked, link)? {
                (Some(record), _) => record,
                (None, result) => {
                    let act = CalibrationAct {
                        series: walked.series.hash,
                        revision: walked.revision,
                        result,
                        software: SOFTWARE.to_owned(),
                        numbers: NUMBERS,
                    };
                    self.append(transaction, by, &Act::Calibration(Box::new(act)))?
                }
            };
            records.push(record);
        }
        Ok(records)
    }

    /// The record of a calibration of the report, if there is one, and what it says.
    pub(crate) fn calibration_on_record(
        &self,
        walked: &Walked,
        link: &CalibrationLink,
    ) -> Result<(Option<Record>, CalibrationResult), StudyError> {
        let result = calibration_result(&walked.report, link);
        let mut there = None;
        for record in ledger::about(&self.connection, &result.lot, "calibration")? {
            let may_be_borrowed = walked.borrowed.contains(&record.hash);
            if !may_be_borrowed && !record.names(&walked.series.hash) {
                continue;
            }
            let Act::Calibration(act) = record.act()? else { continue };
            let is_borrowed = may_be_borrowed && act.result.channel == result.channel;
            let is_same =
                act.series == walked.series.hash && act.revision == walked.revision && act.result == result;
            if is_borrowed || is_same {
                there = Some(record);
            }
        }
        Ok((there, result))
    }

    /// The last record of a kind about something that has a name.
    pub(crate) fn last_about(&self, subject: &str, kind: &str) -> Result<Option<Record>, StudyError> {
        if subject.is_empty() {
            return Ok(None);
        }
        ledger::last_about(&self.connection, subject, kind)
    }

    fn issue_one(
        &self,
        transaction: &Transaction<'_>,
        mut act: DeterminationAct,
        by: &By,
    ) -> Result<IssuedDetermination, StudyError> {
        if let Some((record, before)) = self.last_issued(&act.series, &act.result)? {
            if says_the_same(&before, &act) && !self.is_withdrawn(&record)? {
                return Ok(IssuedDetermination { record: record.hash, was_there: true, act: before });
            }
            act.replaces = Some(record.hash);
        }
        let record = self.append(transaction, by, &Act::Determination(Box::new(act.clone())))?;
        Ok(IssuedDetermination { record: record.hash, was_there: false, act })
    }

    fn is_withdrawn(&self, record: &Record) -> Result<bool, StudyError> {
        Ok(self.last_about(&record.hash.to_string(), "withdrawal")?.is_some())
    }

    /// The last determination of the same sample in the same series.
    pub(crate) fn last_issued(
        &self,
        series: &Digest,
        result: &DeterminationResult,
    ) -> Result<Option<(Record, DeterminationAct)>, StudyError> {
        let mut last = None;
        for record in ledger::about(&self.connection, &result.sample, "determination")? {
            if record.names(series)
                && let Act::Determination(act) = record.act()?
                && act.series == *series
                && act.result.identity() == result.identity()
            {
                last = Some((record, *act));
            }
        }
        Ok(last)
    }

    /// Every calibration, the study's own first.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn calibrations(&self) -> Result<Vec<Numbered<CalibrationAct>>, StudyError> {
        numbered(self, "calibration", |act| match act {
            Act::Calibration(act) => Some(*act),
            _ => None,
        })
    }

    /// The calibration that a person names: `3`, `ab12cd34ef56:2`, or its record's hash.
    ///
    /// # Errors
    /// No such calibration; the numbers there are.
    pub fn calibration(&self, name: &str) -> Result<Numbered<CalibrationAct>, StudyError> {
        named(self.calibrations()?, "calibration", name)
    }

    /// Every determination, the study's own first.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn determinations(&self) -> Result<Vec<Numbered<DeterminationAct>>, StudyError> {
        let mut all = numbered(self, "determination", |act| match act {
            Act::Determination(act) => Some(*act),
            _ => None,
        })?;
        for one in all.iter_mut().filter(|one| one.standing.is_approved()) {
            one.act.result.findings.iter_mut().for_each(FindingText::lift_if_signed);
        }
        Ok(all)
    }

    /// The determination that a person names: `12`, `ab12cd34ef56:2`, or its record's hash.
    ///
    /// # Errors
    /// No such determination.
    pub fn determination(&self, name: &str) -> Result<Numbered<DeterminationAct>, StudyError> {
        named(self.determinations()?, "determination", name)
    }

    /// The whole chain of a recorded determination, walked again as it was: for showing every link, years later.
    ///
    /// # Errors
    /// A record that is no determination, or damaged content.
    pub fn report_of(&self, determination: &Digest) -> Result<Report, StudyError> {
        match self.must_be(determination, "determination")?.act()? {
            Act::Determination(act) => self.report_as_issued(&act, false),
            _ => Err(StudyError::damaged("a determination is not where it should be")),
        }
    }

    /// The same with the input that it was walked from: for drawing its scans.
    ///
    /// # Errors
    /// As [`Self::report_of`].
    pub fn as_issued(&self, determination: &Digest) -> Result<(Input, Report), StudyError> {
        let Act::Determination(act) = self.must_be(determination, "determination")?.act()? else {
            return Err(StudyError::damaged("a determination is not where it should be"));
        };
        let method = self.revision(&act.revision)?.method;
        let (series, borrowed) = (self.open_series(&act.series, &method)?, act.borrowed.as_slice());
        let recipe = Recipe { series, method, as_of: act.as_of.clone(), borrowed, from_text: false };
        let input = self.input_by(recipe)?;
        let report = determine(&input);
        Ok((input, report))
    }

    /// The chain of an issued determination, from the kept numbers or from the raw text.
    pub(crate) fn report_as_issued(
        &self,
        act: &DeterminationAct,
        from_text: bool,
    ) -> Result<Report, StudyError> {
        let method = self.revision(&act.revision)?.method;
        let (series, borrowed) = (self.open_series(&act.series, &method)?, act.borrowed.as_slice());
        let recipe = Recipe { series, method, as_of: act.as_of.clone(), borrowed, from_text };
        Ok(determine(&self.input_by(recipe)?))
    }
}

pub(crate) fn as_lot(act: &Act) -> Option<&Lot> {
    match act {
        Act::Lot(lot) => Some(lot),
        _ => None,
    }
}

pub(crate) fn as_custody(act: &Act) -> Option<&Custody> {
    match act {
        Act::Custody(custody) => Some(custody),
        _ => None,
    }
}

//! Issuing determinations: the chain is walked over one series, and what it found is recorded with all it came from.

use stillwell_method::{CalibrationLink, Determination, Input, NUMBERS, Report, determine};

use crate::act::{Act, AsOf, CalibrationAct, Custody, DeterminationAct};
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
use crate::standing::Said;
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
    /// What this act itself put on record, and nobody else meanwhile.
    pub recorded: Vec<Digest>,
}

/// A determination that was issued now, or stands in the ledger as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct IssuedDetermination {
    /// Its record.
    pub record: Digest,
    /// Whether nothing was recorded: the very same result stands in the ledger, or it was withdrawn.
    pub was_there: bool,
    /// The withdrawal that keeps the sample from being issued anew; only a correction with a reason may.
    pub withdrawn: Option<Said>,
    /// What it says.
    pub act: DeterminationAct,
}

/// What results are issued for.
#[derive(Clone, Copy)]
pub(crate) enum Occasion<'a> {
    /// Nothing particular: what was withdrawn stays withdrawn.
    Routine,
    /// A person corrects this result, leaving these scans of its series out, for the reason that they give; they may all be
    /// scans of its sample.
    Correction { target: &'a Digest, scans: &'a [ScanRef], is_of_sample: bool },
}

impl Occasion<'_> {
    fn is_about(self, record: &Digest) -> bool {
        matches!(self, Self::Correction { target, .. } if target == record)
    }

    /// Who records calibrations that are not on record yet: a reason about a sample's scans is not theirs.
    fn by_for_calibrations(self, by: &By) -> By {
        match self {
            Self::Correction { is_of_sample: true, .. } => by.for_reason("results issued"),
            _ => by.clone(),
        }
    }

    /// Whether the person's reason is that of a change to this result.
    fn concerns(self, record: &Digest, before: &DeterminationAct) -> bool {
        let Self::Correction { scans, .. } = self else { return true };
        self.is_about(record) || before.result.scans.iter().any(|used| scans.contains(&used.scan))
    }
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
        self.write(|transaction, study| study.issue(transaction, walked, &charts, Occasion::Routine, by))
    }

    /// Issues a result anew for a reason, leaving scans of its series out from now on; the whole series is determined with
    /// it. All of it, or nothing. The reason stands with what it is about; other results that changed meanwhile state their
    /// own cause. Only this brings a withdrawn result back.
    ///
    /// # Errors
    /// As [`Self::exclude`] and [`Self::determine`].
    pub fn correct(
        &mut self,
        result: &Digest,
        scans: &[ScanRef],
        by: &By,
    ) -> Result<(Vec<Record>, Issued), StudyError> {
        let revision = self.method()?;
        let Act::Determination(target) = self.must_be(result, "determination")?.act()? else {
            return Err(StudyError::damaged("a determination is not where it should be"));
        };
        let series = &target.series;
        self.write(|transaction, study| {
            let left_out = scans.iter().map(|scan| study.leave_out(transaction, series, scan, by));
            let left_out = left_out.collect::<Result<Vec<_>, _>>()?;
            let walked = study.walk(series, &revision)?;
            // Charts are judged without the scans that were just left out.
            let charts = study.chart_hold()?;
            let used = &target.result.scans;
            let is_of_sample = scans.iter().all(|scan| used.iter().any(|one| one.scan == *scan));
            let occasion = Occasion::Correction { target: result, scans, is_of_sample };
            Ok((left_out, study.issue(transaction, walked, &charts, occasion, by)?))
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
        occasion: Occasion<'_>,
        by: &By,
    ) -> Result<Issued, StudyError> {
        let before = self.anchor()?;
        let by_for_calibrations = occasion.by_for_calibrations(by);
        let calibrations = self.issue_calibrations(transaction, &walked, &by_for_calibrations)?;
        let is_new = |record: &&Record| record.chain == before.chain && record.seq > before.seq;
        let mut recorded: Vec<Digest> = calibrations.iter().filter(is_new).map(|one| one.hash).collect();
        let calibrations: Vec<Option<Record>> = calibrations.into_iter().map(Some).collect();
        let mut beside = Surroundings::of(self, &walked, &calibrations, charts)?;
        let mut determinations = Vec::new();
        for (found, result) in walked.own_results() {
            let act = beside.act(found, result)?;
            determinations.push(self.issue_one(transaction, act, occasion, by)?);
        }
        let calibrations = calibrations.into_iter().flatten().map(|record| record.hash).collect();
        recorded.extend(determinations.iter().filter(|one| !one.was_there).map(|one| one.record));
        Ok(Issued { report: walked.report, calibrations, determinations, recorded })
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
        occasion: Occasion<'_>,
        by: &By,
    ) -> Result<IssuedDetermination, StudyError> {
        let mut by = by.clone();
        if let Some((record, before)) = self.last_issued(&act.series, &act.result)? {
            let withdrawn = self.standing(&record)?.withdrawn;
            let stays = match &withdrawn {
                // Whoever withdrew it knew what the chain does not: the same numbers again are no answer to that, and
                // neither are others.
                Some(_) => !occasion.is_about(&record.hash),
                None => says_the_same(&before, &act),
            };
            if stays {
                return Ok(IssuedDetermination {
                    record: record.hash,
                    was_there: true,
                    withdrawn,
                    act: before,
                });
            }
            if !occasion.concerns(&record.hash, &before) {
                by = by.for_reason(&self.cause(&before, &act)?);
            }
            act.replaces = Some(record.hash);
        } else if matches!(occasion, Occasion::Correction { .. }) {
            by = by.for_reason("results issued");
        }
        let record = self.append(transaction, &by, &Act::Determination(Box::new(act.clone())))?;
        Ok(IssuedDetermination { record: record.hash, was_there: false, withdrawn: None, act })
    }

    /// Why a result comes out otherwise beside the correction of another one.
    fn cause(&self, before: &DeterminationAct, now: &DeterminationAct) -> Result<String, StudyError> {
        let mut causes = Vec::new();
        if before.revision != now.revision {
            causes.push("the method in force is another revision".to_owned());
        }
        for (what, old, new) in [
            ("its calibration", before.calibration, now.calibration),
            ("the record of its lot", before.lot, now.lot),
            ("the record of its custody", before.custody, now.custody),
        ] {
            if let Some(new) = new.filter(|new| old != Some(*new)) {
                causes.push(format!("{what} is #{}", self.record(&new)?.seq));
            }
        }
        if causes.is_empty() {
            causes.push("blanks, checks or what withholds verdicts count otherwise since".to_owned());
        }
        Ok(format!("results issued; {}", causes.join("; ")))
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

pub(crate) fn as_custody(act: &Act) -> Option<&Custody> {
    match act {
        Act::Custody(custody) => Some(custody),
        _ => None,
    }
}

//! All of history under a new method revision: old numbers kept, new ones beside them, changed verdicts named.

use std::ops::ControlFlow;
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use rayon::prelude::*;
use stillwell_method::Method;

use crate::act::{Act, DeterminationAct};
use crate::add::go_on;
use crate::charts::ChartHold;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::issue::{Occasion, Walked};
use crate::ledger::{self, By, Record};
use crate::look::Today;
use crate::numbered::Labels;
use crate::result::{DecisionText, DeterminationResult, digest_of};
use crate::series::OpenedSeries;
use crate::standing::Said;
use crate::study::{MethodRevision, Study, revise};
use crate::surroundings::Surroundings;

/// So many series are walked at once for each core; their reports are in memory together.
const SERIES_PER_CORE: usize = 2;
/// So many are only looked at between two reports of progress.
const TRIED_PER_CORE: usize = 32;

/// All of history under a new revision.
#[derive(Debug, Clone, PartialEq)]
pub struct Reevaluation {
    /// Record of the revision; none where nothing was recorded.
    pub revision: Option<Digest>,
    /// Number of series.
    pub n_series: usize,
    /// Results that came out the same to the bit.
    pub n_same: usize,
    /// Results that came out otherwise, in the order of the ledger.
    pub differences: Vec<Difference>,
    /// Results that were withdrawn and are not issued anew.
    pub withdrawn: Vec<StaysWithdrawn>,
    /// Series that the new revision cannot read, with the reason.
    pub unreadable: Vec<(String, String)>,
}

/// A result that was withdrawn: a new revision does not bring it back, only a correction with a reason does.
#[derive(Debug, Clone, PartialEq)]
pub struct StaysWithdrawn {
    /// The series, as a person names it.
    pub series: String,
    /// Identity of the sample.
    pub sample: String,
    /// The record of the result.
    pub record: Digest,
    /// Who withdrew it and why.
    pub said: Said,
}

/// A result that the new revision gives otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The series, as a person names it.
    pub series: String,
    /// Identity of the sample.
    pub sample: String,
    /// sample or duplicate.
    pub role: String,
    /// Batch; empty where not stated.
    pub batch: String,
    /// The result as last issued, and its record; none where none was issued.
    pub before: Option<(Digest, Brief)>,
    /// The result under the new revision.
    pub now: Brief,
    /// Limits with another verdict: limit, code before, code now; no code where there was or is none.
    pub changed_verdicts: Vec<(String, Option<String>, Option<String>)>,
}

/// A result in brief: all of history must fit into memory.
#[derive(Debug, Clone, PartialEq)]
pub struct Brief {
    /// quantified, above-range, below-quantification, not-detected or refused.
    pub outcome: String,
    /// Unit and species of the numbers; empty where refused.
    pub unit: String,
    /// Value or bound; none where refused.
    pub value: Option<f64>,
    /// Ends of the interval, where there is one.
    pub interval: Option<[f64; 2]>,
}

impl Brief {
    /// The expanded uncertainty: the larger half of the interval, so that value ± U covers it.
    pub fn expanded_u(&self) -> Option<f64> {
        let (value, [low, high]) = (self.value?, self.interval?);
        Some((high - value).max(value - low))
    }

    fn of(result: &DeterminationResult) -> Self {
        let numbers = result.numbers.as_ref();
        Self {
            outcome: result.outcome.clone(),
            unit: result.unit.clone(),
            value: numbers.map(|numbers| numbers.value),
            interval: numbers.and_then(|numbers| Some([numbers.low?, numbers.high?])),
        }
    }
}

/// What is to be walked: a series, its label, and the calibrations of other series that it leans on.
struct Planned {
    series: Digest,
    label: String,
    borrowed: Vec<Digest>,
}

/// What a series gives under the new revision beside what was issued of it.
struct Compared {
    n_same: usize,
    differences: Vec<Difference>,
    withdrawn: Vec<StaysWithdrawn>,
}

impl Study {
    /// What a new revision would change; records nothing.
    ///
    /// # Errors
    /// Everything wrong in the method file, or a file that cannot be read.
    pub fn try_revision(&self, method: &str) -> Result<Reevaluation, StudyError> {
        self.try_revision_while(method, |_, _| ControlFlow::Continue(()))
    }

    /// The same, until `progress` says that enough was done; it is told how many series of how many were walked.
    ///
    /// # Errors
    /// As [`Self::try_revision`], and [`StudyError::Stopped`].
    pub fn try_revision_while(
        &self,
        method: &str,
        mut progress: impl FnMut(usize, usize) -> ControlFlow<()>,
    ) -> Result<Reevaluation, StudyError> {
        let method = Method::parse("method.toml", method)?;
        let revision = MethodRevision { record: Digest::NOTHING, method };
        let current = self.method()?;
        let series = self.named_series()?;
        let mut outcome = Reevaluation::empty(None);
        outcome.n_series = series.len();
        let charts = self.chart_hold()?;
        let path = self.path().to_owned();
        let views = Views::of(&path);
        for (n_groups, group) in series.chunks(tried_at_once()).enumerate() {
            go_on(progress(n_groups * tried_at_once(), series.len()))?;
            let tried: Vec<_> = group
                .par_iter()
                .map(|(series, label)| {
                    views.with(|view| {
                        let opened = view.open_series(series, &current.method)?;
                        let borrowed = view.to_borrow(&opened, &current)?;
                        let plan = Planned { series: *series, label: label.clone(), borrowed };
                        let opened = view.opened_for(opened, &current, &revision);
                        // The walk itself would fill the memory.
                        Ok(view.tried(&plan, opened, &revision, &charts)?.map(|(compared, _)| (compared, ())))
                    })
                })
                .collect();
            for (tried, (_, label)) in tried.into_iter().zip(group) {
                outcome.add(label, tried?);
            }
        }
        Ok(outcome)
    }

    /// Makes a new revision the study's method and issues every result anew; each names the one it replaces. Where it
    /// is cut off, doing it again completes it.
    ///
    /// # Errors
    /// Everything wrong in the method file, or a file that cannot be written.
    pub fn reevaluate(&mut self, method: &str, by: &By) -> Result<Reevaluation, StudyError> {
        self.reevaluate_saying(method, by, |_, _| {})
    }

    /// The same; `progress` is told how many series of how many were issued anew. It cannot be stopped: a history that is
    /// half under one revision and half under another would have to be completed anyway.
    ///
    /// # Errors
    /// As [`Self::reevaluate`].
    pub fn reevaluate_saying(
        &mut self,
        method: &str,
        by: &By,
        mut progress: impl FnMut(usize, usize),
    ) -> Result<Reevaluation, StudyError> {
        let parsed = Method::parse("method.toml", method)?;
        let before = self.method()?;
        if digest_of(&before.method.hash) != digest_of(&parsed.hash) {
            self.write(|transaction, study| {
                revise(transaction, &study.own, study.clock(), &parsed, method, by).map(|_| ())
            })?;
        }
        let revision = self.method()?;
        let mut outcome = Reevaluation::empty(Some(revision.record));
        // Series that lean on others come after them: then the calibrations of the new revision are there.
        let (alone, leaning): (Vec<_>, Vec<_>) =
            self.planned(&revision, &before)?.into_iter().partition(|plan| plan.borrowed.is_empty());
        outcome.n_series = alone.len() + leaning.len();
        let (n_alone, n_series) = (alone.len(), outcome.n_series);
        self.reissue(&alone, &revision, by, &mut outcome, &mut |n| progress(n, n_series))?;
        let leaning =
            leaning.into_iter().map(|plan| self.under(plan, &revision)).collect::<Result<Vec<_>, _>>()?;
        self.reissue(&leaning, &revision, by, &mut outcome, &mut |n| progress(n_alone + n, n_series))?;
        Ok(outcome)
    }

    /// A group at a time is walked over all cores, and then issued in its order.
    fn reissue(
        &mut self,
        planned: &[Planned],
        revision: &MethodRevision,
        by: &By,
        outcome: &mut Reevaluation,
        progress: &mut impl FnMut(usize),
    ) -> Result<(), StudyError> {
        let path = self.path().to_owned();
        let views = Views::of(&path);
        for (n_groups, group) in planned.chunks(group_len()).enumerate() {
            progress(n_groups * group_len());
            let charts = self.chart_hold()?;
            let tried: Vec<_> = group
                .par_iter()
                .map(|plan| {
                    views.with(|view| {
                        let opened = view.open_series(&plan.series, &revision.method);
                        view.tried(plan, opened, revision, &charts)
                    })
                })
                .collect();
            let walked = tried
                .into_iter()
                .zip(group)
                .filter_map(|(tried, plan)| tried.map(|tried| outcome.add(&plan.label, tried)).transpose());
            let walked = walked.collect::<Result<Vec<Walked>, StudyError>>()?;
            self.write(|transaction, study| {
                walked.into_iter().try_for_each(|walked| {
                    study.issue(transaction, walked, &charts, Occasion::Routine, by).map(|_| ())
                })
            })?;
        }
        Ok(())
    }

    /// Walks a series and compares; the inner error says why the revision cannot read it.
    fn tried(
        &self,
        plan: &Planned,
        opened: Result<OpenedSeries, StudyError>,
        revision: &MethodRevision,
        charts: &ChartHold,
    ) -> Result<Result<(Compared, Walked), StudyError>, StudyError> {
        let walked = opened.and_then(|opened| self.walk_leaning(opened, revision, plan.borrowed.clone()));
        match walked {
            Ok(walked) => Ok(Ok((self.compared(plan, &walked, charts)?, walked))),
            Err(error) => Ok(Err(error)),
        }
    }

    /// A series that was opened for one revision, for another: read again only where the levels' unit differs.
    fn opened_for(
        &self,
        opened: OpenedSeries,
        one: &MethodRevision,
        other: &MethodRevision,
    ) -> Result<OpenedSeries, StudyError> {
        if one.method.analyte.reported_as == other.method.analyte.reported_as {
            return Ok(opened);
        }
        self.open_series(&opened.record.hash, &other.method)
    }

    /// The series with their labels.
    fn named_series(&self) -> Result<Vec<(Digest, String)>, StudyError> {
        let mut labels = Labels::of(&self.own);
        let names = ledger::names_of_kind(&self.connection, &self.own, "series")?;
        Ok(names.into_iter().map(|(hash, chain)| (hash, labels.next(&chain))).collect())
    }

    /// A series leans on calibrations of the revision, and where there are none yet on those of the one before.
    fn planned(
        &self,
        revision: &MethodRevision,
        before: &MethodRevision,
    ) -> Result<Vec<Planned>, StudyError> {
        let path = self.path().to_owned();
        let views = Views::of(&path);
        self.named_series()?
            .into_par_iter()
            .map(|(series, label)| {
                views.with(|view| {
                    let opened = view.open_series(&series, &revision.method)?;
                    let borrowed = view.to_borrow_of(&opened, &[revision, before])?;
                    Ok(Planned { series, label, borrowed })
                })
            })
            .collect()
    }

    fn compared(&self, plan: &Planned, walked: &Walked, charts: &ChartHold) -> Result<Compared, StudyError> {
        // A new calibration has no record yet; what was said of those before it still holds.
        let unrecorded = vec![None; walked.report.calibrations.len()];
        let mut beside = Surroundings::of(self, walked, &unrecorded, charts)?;
        let mut today = Today::of(self, charts);
        let mut compared = Compared { n_same: 0, differences: Vec::new(), withdrawn: Vec::new() };
        for (found, now) in walked.own_results() {
            let before = self.last_issued(&plan.series, now)?;
            let act = beside.act(found, now)?;
            if let Some((record, _)) = &before
                && let Some(said) = self.standing(record)?.withdrawn
            {
                let (sample, series) = (now.sample.clone(), plan.label.clone());
                compared.withdrawn.push(StaysWithdrawn { series, sample, record: record.hash, said });
                continue;
            }
            let same = |(_, before): &(Record, DeterminationAct)| {
                is_same(before, now) && before.withheld == act.withheld
            };
            if before.as_ref().is_some_and(same) {
                compared.n_same += 1;
                continue;
            }
            let withheld = before.as_ref().map(|(_, before)| today.withheld(before)).transpose()?;
            let is_withheld = withheld.is_some_and(|reasons| !reasons.is_empty());
            let before_act = before.as_ref().filter(|_| !is_withheld);
            let verdicts_before = before_act.map_or(&[][..], |(_, before)| before.verdicts());
            compared.differences.push(Difference {
                series: plan.label.clone(),
                sample: now.sample.clone(),
                role: now.role.clone(),
                batch: now.batch.clone(),
                changed_verdicts: changed_verdicts(verdicts_before, act.verdicts()),
                before: before.map(|(record, act)| (record.hash, Brief::of(&act.result))),
                now: Brief::of(now),
            });
        }
        Ok(compared)
    }

    /// The plan with each calibration exchanged for that of the same standards under the new revision.
    fn under(&self, plan: Planned, revision: &MethodRevision) -> Result<Planned, StudyError> {
        let mut borrowed = Vec::new();
        for calibration in &plan.borrowed {
            let Act::Calibration(before) = self.record(calibration)?.act()? else { continue };
            for record in ledger::about(&self.connection, &before.result.lot, "calibration")? {
                if let Act::Calibration(now) = record.act()?
                    && now.series == before.series
                    && now.result.channel == before.result.channel
                    && now.revision == revision.record
                    && now.result.accepted
                {
                    borrowed.push(record.hash);
                }
            }
        }
        Ok(Planned { borrowed, ..plan })
    }
}

fn group_len() -> usize {
    SERIES_PER_CORE * rayon::current_num_threads()
}

fn tried_at_once() -> usize {
    TRIED_PER_CORE * rayon::current_num_threads()
}

/// Views of the file for several threads, each opened once and handed on.
pub(crate) struct Views<'a> {
    path: &'a Path,
    free: Mutex<Vec<Study>>,
}

impl<'a> Views<'a> {
    pub(crate) fn of(path: &'a Path) -> Self {
        Self { path, free: Mutex::new(Vec::new()) }
    }

    /// Does something with a view in one transaction of reading: thousands of look-ups take one lock, and see one state of
    /// the file.
    pub(crate) fn with<T>(
        &self,
        look: impl FnOnce(&Study) -> Result<T, StudyError>,
    ) -> Result<T, StudyError> {
        let free = self.free().pop();
        let view = free.map_or_else(|| Study::open_to_read(self.path), Ok)?;
        let one_state = view.connection.unchecked_transaction()?;
        let seen = look(&view);
        drop(one_state);
        self.free().push(view);
        seen
    }

    /// A list of views is whole whatever a thread that held it did.
    fn free(&self) -> MutexGuard<'_, Vec<Study>> {
        self.free.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Reevaluation {
    fn empty(revision: Option<Digest>) -> Self {
        Self {
            revision,
            n_series: 0,
            n_same: 0,
            differences: Vec::new(),
            withdrawn: Vec::new(),
            unreadable: Vec::new(),
        }
    }

    /// Adds what a series differs in, and gives its walk. One that cannot be read under the new revision is noted; its old
    /// results stand.
    fn add<T>(&mut self, label: &str, tried: Result<(Compared, T), StudyError>) -> Option<T> {
        match tried {
            Ok((compared, walked)) => {
                self.n_same += compared.n_same;
                self.differences.extend(compared.differences);
                self.withdrawn.extend(compared.withdrawn);
                Some(walked)
            }
            Err(error) => {
                self.unreadable.push((label.to_owned(), error.to_string()));
                None
            }
        }
    }
}

/// Numbers, outcome and verdicts to the bit; the method's hash differs anyhow.
fn is_same(before: &DeterminationAct, now: &DeterminationResult) -> bool {
    let before = &before.result;
    before.outcome == now.outcome
        && before.unit == now.unit
        && before.numbers == now.numbers
        && before.decisions == now.decisions
        && before.findings == now.findings
}

fn changed_verdicts(
    before: &[DecisionText],
    now: &[DecisionText],
) -> Vec<(String, Option<String>, Option<String>)> {
    let code = |verdicts: &[DecisionText], limit: &str| {
        verdicts.iter().find(|decision| decision.limit == limit).map(|decision| decision.code.clone())
    };
    let mut limits: Vec<&String> = Vec::new();
    for decision in now.iter().chain(before) {
        if !limits.contains(&&decision.limit) {
            limits.push(&decision.limit);
        }
    }
    limits
        .into_iter()
        .map(|limit| (limit.clone(), code(before, limit), code(now, limit)))
        .filter(|(_, before, now)| before != now)
        .collect()
}

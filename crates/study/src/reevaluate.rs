//! All of history under a new method revision: old numbers kept, new ones beside them, changed verdicts named.

use std::ops::ControlFlow;

use rayon::prelude::*;
use stillwell_method::Method;

use crate::act::{Act, DeterminationAct};
use crate::add::go_on;
use crate::charts::ChartHold;
use crate::error::StudyError;
use crate::hash::Digest;
use crate::issue::Walked;
use crate::ledger::{self, By, Record};
use crate::result::{DecisionText, DeterminationResult, digest_of};
use crate::study::{MethodRevision, Study, revise};

/// So many series are walked at once for each core; their reports are in memory together.
const SERIES_PER_CORE: usize = 2;

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
    /// Series that the new revision cannot read, with the reason.
    pub unreadable: Vec<(String, String)>,
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

/// What one series holds: its record, its label, and the calibrations of other series that it leans on.
struct Planned {
    series: Digest,
    label: String,
    borrowed: Vec<Digest>,
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
        let mut outcome = Reevaluation::empty(None);
        let planned = self.planned()?;
        outcome.n_series = planned.len();
        let _one_state = self.connection.unchecked_transaction()?;
        let charts = self.chart_hold()?;
        for (n_walked, (plan, walked)) in self.walked_in_groups(&planned, &revision).enumerate() {
            go_on(progress(n_walked, planned.len()))?;
            if let Some(walked) = outcome.readable(plan, walked) {
                outcome.compare(self, plan, &walked, &charts)?;
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
        if digest_of(&self.method()?.method.hash) != digest_of(&parsed.hash) {
            self.write(|transaction, study| {
                revise(transaction, &study.own, study.clock(), &parsed, method, by).map(|_| ())
            })?;
        }
        let revision = self.method()?;
        let mut outcome = Reevaluation::empty(Some(revision.record));
        // Series that lean on others come after them: then the calibrations of the new revision are there.
        let (alone, leaning): (Vec<_>, Vec<_>) =
            self.planned()?.into_iter().partition(|plan| plan.borrowed.is_empty());
        outcome.n_series = alone.len() + leaning.len();
        let (n_alone, n_series) = (alone.len(), outcome.n_series);
        self.reissue(&alone, &revision, by, &mut outcome, &mut |n| progress(n, n_series))?;
        let leaning =
            leaning.into_iter().map(|plan| self.under(plan, &revision)).collect::<Result<Vec<_>, _>>()?;
        self.reissue(&leaning, &revision, by, &mut outcome, &mut |n| progress(n_alone + n, n_series))?;
        Ok(outcome)
    }

    fn reissue(
        &mut self,
        planned: &[Planned],
        revision: &MethodRevision,
        by: &By,
        outcome: &mut Reevaluation,
        progress: &mut impl FnMut(usize),
    ) -> Result<(), StudyError> {
        for (n_groups, group) in planned.chunks(group_len()).enumerate() {
            progress(n_groups * group_len());
            let walked: Vec<_> = self.walked_in_groups(group, revision).map(|(_, walked)| walked).collect();
            let charts = self.chart_hold()?;
            self.write(|transaction, study| {
                let mut pairs = group.iter().zip(walked);
                pairs.try_for_each(|(plan, walked)| match outcome.readable(plan, walked) {
                    Some(walked) => {
                        outcome.compare(study, plan, &walked, &charts)?;
                        study.issue(transaction, walked, &charts, by).map(|_| ())
                    }
                    None => Ok(()),
                })
            })?;
        }
        Ok(())
    }

    /// Walks series over all cores, a group at a time, each core with its own view of the file.
    fn walked_in_groups<'a>(
        &'a self,
        planned: &'a [Planned],
        revision: &'a MethodRevision,
    ) -> impl Iterator<Item = (&'a Planned, Result<Walked, StudyError>)> {
        planned.chunks(group_len()).flat_map(move |group| {
            let path = self.path();
            group
                .par_iter()
                .map_init(
                    || Self::open_to_read(path),
                    |view, plan| match view {
                        Ok(view) => view.walked_at_once(plan, revision),
                        Err(_) => Self::open_to_read(path)?.walked_at_once(plan, revision),
                    },
                )
                .collect::<Vec<_>>()
                .into_iter()
                .zip(group)
                .map(|(walked, plan)| (plan, walked))
        })
    }

    /// Walks a series in one transaction of reading: thousands of look-ups take one lock, and see one state of the file.
    fn walked_at_once(&self, plan: &Planned, revision: &MethodRevision) -> Result<Walked, StudyError> {
        let _one_state = self.connection.unchecked_transaction()?;
        self.walk_leaning(&plan.series, revision, plan.borrowed.clone())
    }

    fn planned(&self) -> Result<Vec<Planned>, StudyError> {
        let mut planned = Vec::new();
        let revision = self.method()?;
        for series in self.series()? {
            let borrowed = self.to_borrow(&series.record.hash, &revision)?;
            planned.push(Planned { series: series.record.hash, label: series.label, borrowed });
        }
        Ok(planned)
    }

    /// The plan with each calibration exchanged for that of the same standards under the new revision.
    fn under(&self, plan: Planned, revision: &MethodRevision) -> Result<Planned, StudyError> {
        let mut borrowed = Vec::new();
        for calibration in &plan.borrowed {
            let Act::Calibration(before) = self.record(calibration)?.act()? else { continue };
            for record in ledger::of_subject(&self.connection, &before.result.lot)? {
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

impl Reevaluation {
    fn empty(revision: Option<Digest>) -> Self {
        Self { revision, n_series: 0, n_same: 0, differences: Vec::new(), unreadable: Vec::new() }
    }

    /// A series that cannot be read under the new revision is noted; its old results stand.
    fn readable(&mut self, plan: &Planned, walked: Result<Walked, StudyError>) -> Option<Walked> {
        walked.map_err(|error| self.unreadable.push((plan.label.clone(), error.to_string()))).ok()
    }

    fn compare(
        &mut self,
        study: &Study,
        plan: &Planned,
        walked: &Walked,
        charts: &ChartHold,
    ) -> Result<(), StudyError> {
        // A new calibration has no record yet; what was said of those before it still holds.
        let unrecorded = vec![None; walked.report.calibrations.len()];
        let kin = study.kin_of(walked, &unrecorded)?;
        for (found, now) in walked.own_results() {
            let before = study.last_issued(&plan.series, now)?;
            let act = study.determination_act(walked, (found, now), (&unrecorded, &kin), charts)?;
            let same = |(_, before): &(Record, DeterminationAct)| {
                is_same(before, now) && before.withheld == act.withheld
            };
            if before.as_ref().is_some_and(same) {
                self.n_same += 1;
                continue;
            }
            let withheld = study.withheld_beside(before.as_ref().map(|(_, before)| before), charts)?;
            let is_withheld = withheld.iter().any(|reasons| !reasons.is_empty());
            let before_act = before.as_ref().filter(|_| !is_withheld);
            let verdicts_before = before_act.map_or(&[][..], |(_, before)| before.verdicts());
            self.differences.push(Difference {
                series: plan.label.clone(),
                sample: now.sample.clone(),
                role: now.role.clone(),
                batch: now.batch.clone(),
                changed_verdicts: changed_verdicts(verdicts_before, act.verdicts()),
                before: before.map(|(record, act)| (record.hash, Brief::of(&act.result))),
                now: Brief::of(now),
            });
        }
        Ok(())
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

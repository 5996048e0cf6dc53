//! The last links of a sample: its concentration, what can be said of it, and the decision against each limit.

use std::collections::{BTreeMap, BTreeSet};

use stillwell_assure::{Decision, DecisionCode, Estimate as Judged, decide, decide_sum};
use stillwell_calibrate::{Calibration, ConcentrationEstimate, EstimatedLevel};
use stillwell_evaluate::{ClaimLimits, RelativeUncertainty, Standing, TemperatureCorrection};

use crate::batch::Batch;
use crate::calibration_links::in_words;
use crate::check::Check;
use crate::conditions::{corrected_finding, matrix_findings, temperature_correction};
use crate::dates::date_finding;
use crate::detection::{METHOD_BLANK, claim_for};
use crate::determination::{AboveRange, Determination, Estimate, LessThan, Outcome, Provenance};
use crate::estimate::{Interval, bounds, measured, measured_across_lots, reported, widened};
use crate::file::{CalibrationScope, LimitPlan, Method};
use crate::finding::{Effect, Finding, refuses};
use crate::group::group_of;
use crate::link::{CalibrationLink, GroupKey, ScanLink};
use crate::run_sheet::{Dilution, Role};
use crate::usable::{push_once, refusal, subject, usable_calibration, usable_scans};

/// Fewest lots whose spread may stand for a further lot (common practice, no source).
const LOTS_FOR_A_SPREAD: usize = 3;
/// Fewest lots from which an interval for a further lot holds what it promises: strips of one lot are off together, and counting
/// them claims too many degrees of freedom. By simulation, of 95 % meant: 85 % with 3 lots, 89 % with 4, 95 % with 12.
const LOTS_FOR_A_VERDICT: usize = 12;

/// What a sample is determined from.
pub(crate) struct SampleStep<'a> {
    pub(crate) method: &'a Method,
    pub(crate) scans: &'a [ScanLink],
    pub(crate) calibrations: &'a [CalibrationLink],
    pub(crate) batches: &'a [Batch],
}

/// The scans that make one determination: one sample, role, batch, calibration and dilution.
#[derive(Debug, Clone)]
struct Group {
    scans: Vec<usize>,
}

/// Sample, role, batch, calibration, and the bits of dilution and level: what is one determination.
type GroupIdentity<'a> = (&'a str, Role, &'a str, GroupKey, [u64; 2]);

impl SampleStep<'_> {
    /// One determination for each sample and duplicate, in the order of the run sheet. Spikes are determined too, for
    /// their recovery, and follow at the end.
    pub(crate) fn determinations(&self) -> Vec<Determination> {
        let mut order: Vec<Group> = Vec::new();
        let mut places: BTreeMap<GroupIdentity<'_>, usize> = BTreeMap::new();
        for (index, link) in self.scans.iter().enumerate().filter(|(_, link)| is_of_a_sample(link)) {
            let place = *places.entry(self.group_key(link)).or_insert_with(|| {
                order.push(Group { scans: Vec::new() });
                order.len() - 1
            });
            if let Some(group) = order.get_mut(place) {
                group.scans.push(index);
            }
        }
        order.iter().filter_map(|group| self.determination(group)).collect()
    }

    fn group_key<'l>(&self, link: &'l ScanLink) -> GroupIdentity<'l> {
        let row = &link.row;
        let dilution = row.dilution_factor();
        let level = row.level_value().unwrap_or(0.0);
        let numbers = [dilution.to_bits(), level.to_bits()];
        (&row.sample, row.role, &row.batch, group_of(self.method, row), numbers)
    }

    fn determination(&self, group: &Group) -> Option<Determination> {
        let links: Vec<&ScanLink> = group.scans.iter().filter_map(|index| self.scans.get(*index)).collect();
        let first = links.first()?;
        let key = group_of(self.method, &first.row);
        let calibration = self.calibrations.iter().position(|link| link.key == key);
        let mut determination = Determination {
            sample: first.row.sample.clone(),
            role: first.row.role,
            batch: first.row.batch.clone(),
            lot: first.row.lot.clone(),
            added: first.row.level.clone(),
            scans: group.scans.clone(),
            calibration,
            outcome: Outcome::Refused,
            decisions: Vec::new(),
            findings: Vec::new(),
        };
        let link = calibration.and_then(|place| self.calibrations.get(place));
        if let Some(outcome) = self.outcome(&links, link, &mut determination.findings) {
            determination.outcome = outcome;
        }
        if let Some(batch) = self.batch_of(first) {
            let (first, last) = (group.scans.first().copied()?, group.scans.last().copied()?);
            determination.findings.extend(batch.withholding(first, last));
        }
        determination.decisions = decisions(self.method, &determination.outcome);
        if let Some(finding) = rests_on_overrides(&determination) {
            determination.findings.insert(0, finding);
        }
        Some(determination)
    }

    fn batch_of(&self, link: &ScanLink) -> Option<&Batch> {
        let key = group_of(self.method, &link.row);
        self.batches.iter().find(|batch| batch.holds(&link.row.batch, &key))
    }

    /// The outcome, or `None` where a finding refuses.
    fn outcome(
        &self,
        links: &[&ScanLink],
        calibration: Option<&CalibrationLink>,
        findings: &mut Vec<Finding>,
    ) -> Option<Outcome> {
        let usable = usable_scans(links, findings)?;
        for link in &usable {
            for finding in matrix_findings(self.method, &link.row) {
                push_once(findings, finding);
            }
        }
        let (calibration, made) = usable_calibration(links, calibration, findings)?;
        self.remark_on_lots(links, calibration, findings);
        findings.extend(date_finding(links, calibration, self.scans));
        let (scans, temperature) = self.at_calibration_temperature(&usable, calibration, findings)?;
        if refuses(findings) {
            return None;
        }
        let read = match self.method.calibration.per {
            CalibrationScope::Lot => measured(made, &scans),
            CalibrationScope::AllLots => measured_across_lots(made, &scans),
        };
        let estimate = match read {
            Ok(estimate) => estimate,
            Err(words) => {
                findings.push(refusal(Check::IntervalUnbounded, links, words));
                return None;
            }
        };
        self.remark_on_electrodes(&estimate, links, findings);
        let dilution = links.first().and_then(|link| link.row.dilution);
        if let Some(dilution) = dilution.filter(|d| d.factor > 1.0 && d.standard_u == 0.0) {
            let found =
                format!("1 : {} without an uncertainty; the interval holds none for it", dilution.factor);
            findings.push(Finding::new(Check::Dilution, Effect::Warned, subject(links), found));
        }
        let relative = RelativeUncertainty {
            levels: self.method.calibration.level_relative_u,
            temperature,
            dilution: dilution.map_or(0.0, |dilution| dilution.standard_u / dilution.factor),
        };
        let said = Said { links, calibration, made, estimate: &estimate, relative, dilution };
        self.what_can_be_said(&said, findings)
    }

    /// The scans at the calibration's temperature, and the largest relative uncertainty of bringing them there.
    fn at_calibration_temperature<'l>(
        &self,
        usable: &[&'l ScanLink],
        calibration: &CalibrationLink,
        findings: &mut Vec<Finding>,
    ) -> Option<(Vec<(&'l ScanLink, f64)>, f64)> {
        let mut scans = Vec::new();
        let mut largest: f64 = 0.0;
        for link in usable {
            match temperature_correction(self.method, &link.row, calibration.temperature_c) {
                Ok(TemperatureCorrection { factor, relative_u }) => {
                    if (factor - 1.0).abs() > 0.0 {
                        let at_c = calibration.temperature_c.unwrap_or(f64::NAN);
                        push_once(findings, corrected_finding(&link.row, at_c, factor));
                    }
                    largest = largest.max(relative_u);
                    scans.push((*link, factor));
                }
                Err(finding) => push_once(findings, finding),
            }
        }
        (!scans.is_empty()).then_some((scans, largest))
    }

    /// With one calibration for all lots: a lot without standards is covered only by the spread between several others.
    fn remark_on_lots(
        &self,
        links: &[&ScanLink],
        calibration: &CalibrationLink,
        findings: &mut Vec<Finding>,
    ) {
        let Some(lot) = links.first().map(|link| link.row.lot.as_str()) else { return };
        let standards = calibration.standards.iter().filter_map(|index| self.scans.get(*index));
        let lots: BTreeSet<&str> =
            standards.filter(|link| link.usable(Role::Standard)).map(|link| link.row.lot.as_str()).collect();
        if self.method.calibration.per == CalibrationScope::Lot || lots.contains(lot) {
            return;
        }
        let known: Vec<&str> = lots.iter().copied().collect();
        let found = format!("lot \"{lot}\" has no standards; those there are of {}", known.join(", "));
        let effect = match lots.len() {
            n_lots if n_lots < LOTS_FOR_A_SPREAD => Effect::Refused,
            n_lots if n_lots < LOTS_FOR_A_VERDICT => Effect::Withheld,
            _ => Effect::Warned,
        };
        findings.push(Finding::new(Check::LotNotCalibrated, effect, subject(links), found));
    }

    fn remark_on_electrodes(
        &self,
        estimate: &ConcentrationEstimate,
        links: &[&ScanLink],
        findings: &mut Vec<Finding>,
    ) {
        let subject = subject(links);
        let planned = self.method.sample.electrodes;
        let n_electrodes = estimate.electrodes.len();
        if n_electrodes < planned as usize {
            let found = format!("{n_electrodes} of the method's {planned}; the interval is wider for it");
            // One electrode of several cannot be held against another: half covered, it reads low, and nothing shows it.
            let effect = if n_electrodes == 1 { Effect::Withheld } else { Effect::Warned };
            findings.push(Finding::new(Check::FewElectrodes, effect, subject.clone(), found));
        }
        for finding in estimate.findings.iter().filter(|finding| !finding.passed()) {
            findings.push(Finding::new(
                Check::ElectrodesDisagree,
                Effect::Withheld,
                subject.clone(),
                in_words(finding),
            ));
        }
    }

    fn what_can_be_said(&self, said: &Said<'_>, findings: &mut Vec<Finding>) -> Option<Outcome> {
        let EstimatedLevel::Above { low } = said.estimate.level else {
            return self.within_or_below(said, findings);
        };
        if said.shows_no_peak() {
            let found = "no peak in some scans, yet the mean lies above the calibrated range".to_owned();
            findings.push(refusal(Check::NoPeak, said.links, found));
            return None;
        }
        let kind = &self.method.analyte.reported_as;
        let factor = said.factor();
        let range_end = said.made.curve.level_max * factor;
        // Halfway up the range after the dilution; how far above it lies cannot be known from here.
        let naive = said.estimate.mean_signal_a / said.made.statistics.sensitivity_a_per_level;
        let dilute = libm::ceil((2.0 * naive / said.made.curve.level_max).max(2.0));
        Some(Outcome::AboveRange(AboveRange {
            at_least: reported(said.relative.lowered(said.made.curve.t_quantile, low, factor), kind)?,
            range_end,
            dilute,
            provenance: said.provenance(self.method),
        }))
    }

    fn within_or_below(&self, said: &Said<'_>, findings: &mut Vec<Finding>) -> Option<Outcome> {
        let found = bounds(said.estimate.level)?;
        let interval = widened(said.made, found, said.relative, said.factor());
        let claim = match claim_for(self.method, said.calibration, self.scans, said.estimate.n_electrodes) {
            Ok(claim) => claim.limits(),
            Err(finding) => {
                findings.push(Finding { subject: subject(said.links), ..finding });
                return None;
            }
        };
        let [value, ..] = found;
        let (check, found) = match claim.standing(value, said.made.curve.level_min, said.shows_no_peak()) {
            Standing::NotDetected => {
                self.alive(said, findings)?;
                return said
                    .less_than(self.method, claim.detection_limit, &interval)
                    .map(Outcome::NotDetected);
            }
            Standing::BelowQuantification(from) => {
                return said.less_than(self.method, from, &interval).map(Outcome::BelowQuantification);
            }
            Standing::Quantified => return said.quantified(self.method, interval).map(Outcome::Quantified),
            Standing::Negative => (
                Check::NegativeResult,
                format!(
                    "{value:.2} in the measured solution, with a detection limit of {:.2}",
                    claim.detection_limit
                ),
            ),
            Standing::DetectedWithoutPeak => (
                Check::NoPeak,
                format!(
                    "no peak, yet the current where it should be stands for {value:.2}, above the decision limit {:.2}",
                    claim.decision_limit
                ),
            ),
        };
        findings.push(refusal(check, said.links, found));
        None
    }

    /// "Not detected" needs a living electrode control of the same lot in the same batch.
    fn alive(&self, said: &Said<'_>, findings: &mut Vec<Finding>) -> Option<()> {
        let control =
            said.links.first().and_then(|link| self.batch_of(link).and_then(|b| b.control_of(&link.row.lot)));
        match control {
            Some(Ok(proof)) => {
                let found = format!("living electrode control: {proof}");
                findings.push(Finding::new(
                    Check::ElectrodeControl,
                    Effect::Noted,
                    subject(said.links),
                    found,
                ));
                Some(())
            }
            Some(Err(finding)) => {
                let found = format!("nothing detected, and no living electrode: {}", finding.found);
                findings.push(refusal(Check::ElectrodeControl, said.links, found));
                None
            }
            None => {
                let found = "nothing detected, and no electrode control in this batch".to_owned();
                findings.push(refusal(Check::ElectrodeControl, said.links, found));
                None
            }
        }
    }
}

/// Checks that refused and were overridden on the run sheet: their number may be off to the side that no check can tell. Nobody
/// drinks water on one person's word: "below" waits for an approver's signature. What is above stays said, it is the safe side.
fn rests_on_overrides(determination: &Determination) -> Option<Finding> {
    let overridden: Vec<String> = determination
        .overridden_refusals()
        .into_iter()
        .map(|(check, reason)| format!("{}: {reason}", check.id()))
        .collect();
    if overridden.is_empty() || matches!(determination.outcome, Outcome::Refused) {
        return None;
    }
    let is_below = determination.decisions.iter().any(|one| one.code == DecisionCode::Below);
    let effect = if is_below { Effect::Withheld } else { Effect::Warned };
    let n = overridden.len();
    let found = format!(
        "rests on {n} overridden check{} that refused ({})",
        if n == 1 { "" } else { "s" },
        overridden.join("; ")
    );
    Some(Finding::new(Check::OverriddenChecks, effect, determination.sample.clone(), found))
}

fn decisions(method: &Method, outcome: &Outcome) -> Vec<Decision> {
    let kind = method.analyte.reported_as.clone();
    let risk = (1.0 - method.calibration.coverage) / 2.0;
    let judged = match outcome {
        Outcome::Quantified(e) => Judged::interval(kind.clone(), e.low, e.value.value(), e.high, e.coverage),
        Outcome::AboveRange(above) => Judged::above(kind.clone(), above.at_least.value(), risk),
        Outcome::BelowQuantification(less) | Outcome::NotDetected(less) => {
            Judged::less_than(kind.clone(), less.less_than.value(), risk)
        }
        Outcome::Refused => Ok(Judged::refused(kind.clone())),
    };
    // An estimate that cannot be judged is judged like a refused one: unknown, never a pass.
    decided(method, &judged.unwrap_or_else(|_| Judged::refused(kind)))
}

/// The decision against each limit of the method.
pub(crate) fn decided(method: &Method, judged: &Judged) -> Vec<Decision> {
    let unknown = Judged::refused(method.analyte.reported_as.clone());
    // That each limit is about this analyte was shown when the method was read.
    method
        .limits
        .iter()
        .filter_map(|limit| match limit {
            LimitPlan::Single(limit) => decide(judged, limit).or_else(|_| decide(&unknown, limit)).ok(),
            LimitPlan::Sum(limit) => decide_sum(std::slice::from_ref(judged), limit)
                .or_else(|_| decide_sum(std::slice::from_ref(&unknown), limit))
                .ok(),
        })
        .collect()
}

/// Method blanks serve the detection limit and are no samples.
fn is_of_a_sample(link: &ScanLink) -> bool {
    // Additions are no determinations: they belong to `addition`.
    link.row.role.has_sample() && link.row.role != Role::Addition && link.row.sample != METHOD_BLANK
}

/// What is known of a sample before the words for it are chosen.
struct Said<'a> {
    links: &'a [&'a ScanLink],
    calibration: &'a CalibrationLink,
    made: &'a Calibration,
    estimate: &'a ConcentrationEstimate,
    relative: RelativeUncertainty,
    dilution: Option<Dilution>,
}

impl Said<'_> {
    fn factor(&self) -> f64 {
        self.dilution.map_or(1.0, |dilution| dilution.factor)
    }

    fn shows_no_peak(&self) -> bool {
        self.links
            .iter()
            .filter(|link| link.counts() && link.signal.is_some())
            .any(|link| link.findings.iter().any(|finding| finding.check == Check::NoPeak))
    }

    fn quantified(&self, method: &Method, interval: Interval) -> Option<Estimate> {
        Some(Estimate {
            value: reported(interval.value, &method.analyte.reported_as)?,
            low: interval.low,
            high: interval.high,
            coverage: self.estimate.coverage,
            electrodes: self.estimate.electrodes.len(),
            parts: interval.parts,
            provenance: self.provenance(method),
        })
    }

    fn less_than(&self, method: &Method, limit: f64, interval: &Interval) -> Option<LessThan> {
        let bound = ClaimLimits::less_than(limit, self.factor(), interval.high);
        Some(LessThan {
            less_than: reported(bound, &method.analyte.reported_as)?,
            estimate: interval.value,
            low: interval.low,
            high: interval.high,
            provenance: self.provenance(method),
        })
    }

    fn provenance(&self, method: &Method) -> Provenance {
        let mut raw_files: Vec<_> =
            self.links.iter().map(|link| (link.raw.file.clone(), link.raw.hash)).collect();
        raw_files.sort();
        raw_files.dedup();
        Provenance { method: method.hash, calibration: self.calibration.hash, raw_files }
    }
}

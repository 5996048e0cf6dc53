//! The chain of a series by a method that nobody has recorded: the scans stay in memory, the study is not touched.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, PoisonError};

use stillwell_method::{
    CalibrationScope, Determination, Effect, Finding, Input, Method, Outcome, Placement, Problems, Report,
    Role, Row, curves, determine, si,
};
use stillwell_quantity::{round_down, round_to_uncertainty, round_up};
use stillwell_report::scan_figure;
use stillwell_study::{Digest, Numbered, Series};

use crate::layout::Refusal;
use crate::view::{View, Walked};

/// Series that are kept ready.
const MOST: usize = 3;

/// Series that are ready to be tried on, each for one head of the ledger.
#[derive(Default)]
pub(crate) struct Trials(Mutex<Vec<(Digest, Digest, Arc<Trial>)>>);

/// A series that is ready to be tried on.
pub(super) struct Trial {
    /// The method file as it stands.
    source: String,
    /// The method as it stands.
    pub(super) method: Method,
    /// The scans; its method is whatever was tried last.
    input: Mutex<Input>,
    /// The part of the series that the sample looked at last rests on.
    alone: Mutex<Option<Alone>>,
    /// What the chain gives as the method stands: for each determination that the series itself has.
    before: Vec<Before>,
}

/// The part of a series that one sample rests on: answers while a window is moved, at a fraction of the walk.
struct Alone {
    /// The scan in the series.
    of: usize,
    /// The scan in the part.
    place: usize,
    input: Input,
}

/// A determination as the method stands.
struct Before {
    found: Determination,
    /// Reasons to withhold its verdict that the study has beside the chain's own.
    of_study: Vec<Finding>,
}

/// What a placement gives.
pub(super) struct Tried {
    pub(super) placement: Placement,
    pub(super) report: Report,
    /// The scan that was looked at, in the report.
    pub(super) place: usize,
    /// The figure of the scan, as an element of a page.
    pub(super) figure: Option<String>,
    /// One for each determination of the series, in its order.
    pub(super) changes: Vec<Change>,
}

/// A determination before and under a placement.
pub(super) struct Change {
    /// Whether the scan that was looked at takes part in it.
    pub(super) is_of_scan: bool,
    pub(super) sample: String,
    pub(super) before: Said,
    pub(super) now: Said,
}

/// What is said of a sample.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Said {
    /// The number in words, with its unit.
    pub(super) number: String,
    pub(super) outcome: &'static str,
    pub(super) value: Option<f64>,
    pub(super) expanded_u: Option<f64>,
    /// The limit's name and the verdict in a word.
    pub(super) verdicts: Vec<(String, &'static str)>,
}

impl Change {
    pub(super) fn has_other_verdict(&self) -> bool {
        self.before.verdicts != self.now.verdicts
    }

    pub(super) fn is_other(&self) -> bool {
        self.before != self.now
    }
}

impl Trials {
    /// A series as the study stands now.
    pub(super) fn of(&self, view: &View, series: &Numbered<Series>) -> Result<Arc<Trial>, Refusal> {
        let (head, of) = (view.overview.anchor.head, series.record.hash);
        let kept = |all: &Vec<(Digest, Digest, Arc<Trial>)>| {
            all.iter()
                .find(|(at, series, _)| (*at, *series) == (head, of))
                .map(|(_, _, trial)| Arc::clone(trial))
        };
        if let Some(trial) = kept(&self.0.lock().unwrap_or_else(PoisonError::into_inner)) {
            return Ok(trial);
        }
        let trial = Arc::new(Trial::new(view.study.method_text()?, &*view.walked(&of)?));
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|(at, _, _)| *at == head);
        if all.len() >= MOST {
            all.remove(0);
        }
        all.push((head, of, Arc::clone(&trial)));
        Ok(trial)
    }
}

impl Trial {
    fn new(source: String, walked: &Walked) -> Self {
        let by_chain_alone = determine(&walked.input).determinations;
        let before = walked.report.determinations.iter().map(|found| {
            let n_of_chain =
                by_chain_alone.iter().find(|other| is_same(other, found)).map_or(0, |one| one.findings.len());
            Before {
                found: found.clone(),
                of_study: found.findings.iter().skip(n_of_chain).cloned().collect(),
            }
        });
        Self {
            source,
            method: walked.input.method.clone(),
            before: before.collect(),
            input: Mutex::new(walked.input.clone()),
            alone: Mutex::new(None),
        }
    }

    /// The method file with a placement, under a name.
    pub(super) fn placed(&self, placement: &Placement, revision: &str) -> Result<String, Problems> {
        placement.written_into(&self.source, revision)
    }

    /// Walks the whole series by another placement and draws one of its scans. Nothing is recorded.
    pub(super) fn tried(&self, placement: Placement, place: usize) -> Result<Tried, Problems> {
        let method = Method::parse("method.toml", &self.placed(&placement, &self.method.revision)?)?;
        let mut input = self.input.lock().unwrap_or_else(PoisonError::into_inner);
        input.method = method;
        Ok(self.walked(placement, &input, place))
    }

    /// The same for the sample of that scan alone, with what it rests on: blanks, its group's standards, checks and
    /// controls. Whatever else the series holds is not walked, and no change of it is told.
    pub(super) fn tried_alone(&self, placement: Placement, place: usize) -> Result<Tried, Problems> {
        let method = Method::parse("method.toml", &self.placed(&placement, &self.method.revision)?)?;
        let mut alone = self.alone.lock().unwrap_or_else(PoisonError::into_inner);
        if alone.as_ref().is_none_or(|alone| alone.of != place) {
            let input = self.input.lock().unwrap_or_else(PoisonError::into_inner);
            *alone = part_of(&input, place);
        }
        let Some(alone) = alone.as_mut() else { return self.tried(placement, place) };
        alone.input.method = method;
        Ok(self.walked(placement, &alone.input, alone.place))
    }

    fn walked(&self, placement: Placement, input: &Input, place: usize) -> Tried {
        let report = determine(input);
        let figure =
            curves(input, &report, place).map(|curves| scan_figure(&input.method, &curves).inline("scan"));
        let changes = self.before.iter().filter_map(|before| self.change(before, &report, place)).collect();
        Tried { placement, report, place, figure, changes }
    }

    fn change(&self, before: &Before, report: &Report, place: usize) -> Option<Change> {
        let now = report.determinations.iter().find(|other| is_same(other, &before.found))?;
        let unit = self.method.analyte.reported_as.to_string();
        let is_withheld = |found: &Determination| found.withheld().next().is_some();
        let by_study = before.of_study.iter().any(|finding| finding.is_in_force(Effect::Withheld));
        Some(Change {
            is_of_scan: now.scans.contains(&place),
            sample: if before.found.role.word() == "sample" {
                before.found.sample.clone()
            } else {
                format!("{} ({})", before.found.sample, before.found.role.word())
            },
            before: said(&before.found, &unit, is_withheld(&before.found)),
            now: said(now, &unit, by_study || is_withheld(now)),
        })
    }
}

/// The lines that a scan's sample rests on, with their files.
fn part_of(input: &Input, of: usize) -> Option<Alone> {
    let row = input.run_sheet.rows.get(of)?;
    let does_matter = |other: &&Row| matters(&input.method, row, other);
    let place = input.run_sheet.rows.iter().take(of).filter(does_matter).count();
    let mut part = input.clone();
    part.run_sheet.rows.retain(|other| other.place == row.place || does_matter(&other));
    let named: BTreeSet<String> = part.run_sheet.rows.iter().map(|row| row.file.clone()).collect();
    part.files.retain(|name, _| named.contains(name));
    Some(Alone { of, place, input: part })
}

/// Whether a line has a say in the number of another.
fn matters(method: &Method, of: &Row, row: &Row) -> bool {
    let is_of_lot = method.calibration.per == CalibrationScope::AllLots || row.lot == of.lot;
    match row.role {
        Role::Blank => true,
        Role::Standard | Role::CheckStandard | Role::ElectrodeControl => {
            is_of_lot && row.channel == of.channel
        }
        Role::Sample | Role::Duplicate | Role::Spike | Role::Addition => row.sample == of.sample,
        Role::Interference => false,
    }
}

fn is_same(one: &Determination, other: &Determination) -> bool {
    (&one.sample, one.role, &one.batch, &one.lot) == (&other.sample, other.role, &other.batch, &other.lot)
}

fn said(found: &Determination, unit: &str, is_withheld: bool) -> Said {
    let (value, expanded_u, number) = match &found.outcome {
        Outcome::Quantified(estimate) => {
            let (value, expanded_u) = (estimate.value.value(), estimate.expanded_u());
            let rounded = round_to_uncertainty(value, expanded_u);
            (Some(value), Some(expanded_u), format!("{} ± {} {unit}", rounded.value, rounded.expanded_u))
        }
        Outcome::AboveRange(above) => {
            let least = above.at_least.value();
            (Some(least), None, format!("above {} {unit}", round_down(least, 2)))
        }
        Outcome::BelowQuantification(less) => {
            let bound = less.less_than.value();
            (Some(bound), None, format!("detected, < {} {unit}", round_up(bound, 2)))
        }
        Outcome::NotDetected(less) => {
            let bound = less.less_than.value();
            (Some(bound), None, format!("not detected, < {} {unit}", round_up(bound, 2)))
        }
        Outcome::Refused => (None, None, "refused: no number".to_owned()),
    };
    let word = |code: &str| match code {
        _ if value.is_none() => "unknown",
        _ if is_withheld => "withheld",
        "below" => "below",
        "above" => "above",
        "too-close-to-call" => "too close to call",
        _ => "unknown",
    };
    let verdicts =
        found.decisions.iter().map(|one| (one.limit_name.clone(), word(one.code.code()))).collect();
    Said { number, outcome: found.outcome.word(), value, expanded_u, verdicts }
}

impl Tried {
    /// The signal of a scan in words, or why there is none.
    pub(super) fn signal_words(&self, place: usize, unit: &str) -> String {
        let Some(scan) = self.report.scans.get(place) else { return String::new() };
        if let Some(signal) = &scan.signal {
            let at = signal.peak_potential_v.map_or(String::new(), |at_v| format!(", peak at {at_v:.3} V"));
            return format!("{}{at}", si(signal.signal, unit)).replace('-', "−");
        }
        let refused = scan.findings.iter().find(|finding| finding.is_in_force(Effect::Refused));
        refused.map_or_else(
            || "none".to_owned(),
            |finding| format!("refused, {}: {}", finding.check.id(), finding.found),
        )
    }
}

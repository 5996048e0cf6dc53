//! `study` and its commands: acts on a study and what it remembers.
//!
//! Each act is one transaction in the room below: whoever breaks in finds the study as it was before or after it.

mod acts;
mod checking;
mod exchange;
mod intake;
mod issuing;
mod passphrase;
mod people;
mod reading;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use stillwell_method::{Finding, Method};
use stillwell_study::{
    Anchor, By, CalibrationAct, DeterminationAct, Digest, HistoryEntry, KeyAct, Numbered, Record,
    Reevaluation, ScanRef, Series, Study, Withholding,
};

use super::source;
use crate::args::Format;
use crate::exit::{Failure, Outcome};
use crate::study_args::{RoutineActor, StudyArguments, StudyCommand};
use crate::{json, render};

pub(crate) fn run(arguments: &StudyArguments) -> Result<(String, Outcome), Failure> {
    match &arguments.command {
        StudyCommand::New(arguments) => intake::new(arguments),
        StudyCommand::Add(arguments) => intake::add(arguments),
        StudyCommand::Determine(arguments) => issuing::determine(arguments),
        StudyCommand::Correct(arguments) => issuing::correct(arguments),
        StudyCommand::Show(arguments) => reading::show(arguments),
        StudyCommand::Chain(arguments) => reading::chain(arguments),
        StudyCommand::History(arguments) => reading::history(arguments),
        StudyCommand::Anchor(arguments) => reading::anchor(arguments),
        StudyCommand::Approve(arguments) => people::approve(arguments),
        StudyCommand::Key(arguments) => people::key(arguments),
        StudyCommand::Lot(arguments) => people::lot(arguments),
        StudyCommand::Withdraw(arguments) => acts::withdraw(arguments),
        StudyCommand::Exclude(arguments) => acts::exclude(arguments),
        StudyCommand::Override(arguments) => acts::override_check(arguments),
        StudyCommand::Custody(arguments) => acts::custody(arguments),
        StudyCommand::Validity(arguments) => acts::validity(arguments),
        StudyCommand::Verify(arguments) => checking::verify(arguments),
        StudyCommand::Reevaluate(arguments) => checking::reevaluate(arguments),
        StudyCommand::Export(arguments) => exchange::export(arguments),
        StudyCommand::Import(arguments) => exchange::import(arguments),
        StudyCommand::Merge(arguments) => exchange::merge(arguments),
        StudyCommand::Archive(arguments) => exchange::archive(arguments),
    }
}

/// What an act did.
pub(crate) struct Receipt {
    pub(crate) path: PathBuf,
    /// What was done, a sentence each.
    pub(crate) said: Vec<String>,
    /// Results that were issued or that the act touches.
    pub(crate) results: Vec<Shown>,
    /// What may be done next.
    pub(crate) hints: Vec<String>,
    pub(crate) records: Vec<Record>,
    pub(crate) anchor: Anchor,
}

impl Receipt {
    fn of(study: &Study, said: impl Into<String>, records: Vec<Record>) -> Result<Self, Failure> {
        Ok(Self {
            path: study.path().to_owned(),
            said: vec![said.into()],
            results: Vec::new(),
            hints: Vec::new(),
            records,
            anchor: study.anchor()?,
        })
    }

    fn printed(self, format: Format) -> String {
        match format {
            Format::Table => render::study::receipt::text(&self),
            Format::Json => json::text(&json::study::receipt(&self)),
        }
    }
}

/// A result on record, and why no verdict may be drawn from it today.
#[derive(Debug, Clone)]
pub(crate) struct Shown {
    pub(crate) one: Numbered<DeterminationAct>,
    pub(crate) today: Vec<Withholding>,
    /// Number and standing of its calibration, where that is not approved.
    pub(crate) unapproved_calibration: Option<(String, &'static str)>,
}

impl Shown {
    /// Results with what withholds their verdicts today.
    fn all(study: &Study, results: Vec<Numbered<DeterminationAct>>) -> Result<Vec<Self>, Failure> {
        let today = study.withheld_today(results.iter().map(|one| &one.act))?;
        let calibrations = study.calibrations()?;
        let unapproved: BTreeMap<Digest, (String, &'static str)> = calibrations
            .into_iter()
            .filter(|one| !one.standing.is_approved())
            .map(|one| (one.record.hash, (one.label, one.standing.word())))
            .collect();
        let shown = results.into_iter().zip(today).map(|(one, today)| {
            let calibration = one.act.calibration.as_ref().and_then(|hash| unapproved.get(hash).cloned());
            Self { one, today, unapproved_calibration: calibration }
        });
        Ok(shown.collect())
    }

    /// Whether chain or study withhold the verdict, then or today.
    pub(crate) fn is_withheld(&self) -> bool {
        !self.today.is_empty()
            || (self.one.act.verdicts().is_empty() && !self.one.act.result.decisions.is_empty())
    }

    /// Why, each reason once.
    pub(crate) fn reasons(&self) -> Vec<String> {
        let act = &self.one.act;
        let of_study = act.withheld.iter().chain(&self.today).map(Withholding::found);
        let of_chain = act.result.findings.iter().filter(|finding| finding.is_withholding());
        let mut reasons: Vec<String> = Vec::new();
        for reason in of_study.chain(of_chain.map(|finding| finding.found.clone())) {
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
        reasons
    }

    /// The study's reasons as findings, each once.
    fn findings(&self) -> Vec<Finding> {
        let mut all: Vec<Finding> = Vec::new();
        for why in self.one.act.withheld.iter().chain(&self.today) {
            let finding = why.finding(&self.one.act.result.sample);
            if !all.contains(&finding) {
                all.push(finding);
            }
        }
        all
    }

    /// Whether it counts and is anything but approved and below every limit.
    fn needs_attention(&self) -> bool {
        let act = &self.one.act;
        let is_below = !act.verdicts().is_empty() && act.verdicts().iter().all(|one| one.code == "below");
        let standing = &self.one.standing;
        if standing.withdrawn.is_some() || standing.replaced_by.is_some() {
            return false;
        }
        !standing.is_approved()
            || self.unapproved_calibration.is_some()
            || !is_below
            || self.is_withheld()
            || act.result.numbers.is_none()
    }
}

/// The whole study on a page.
pub(crate) struct Overview {
    pub(crate) method: Method,
    pub(crate) series: Vec<Numbered<Series>>,
    pub(crate) calibrations: Vec<Numbered<CalibrationAct>>,
    pub(crate) results: Vec<Shown>,
    /// With whether each is in force.
    pub(crate) keys: Vec<(Record, KeyAct, bool)>,
    pub(crate) anchor: Anchor,
}

/// The ledger, and how a person names what its records speak of.
pub(crate) struct History {
    pub(crate) entries: Vec<HistoryEntry>,
    pub(crate) calibrations: BTreeMap<Digest, Numbered<CalibrationAct>>,
    pub(crate) results: BTreeMap<Digest, Shown>,
    pub(crate) anchor: Anchor,
    names: BTreeMap<Digest, String>,
    places: BTreeMap<Digest, String>,
}

impl History {
    /// A record as a person names it, `calibration 2 (#11)`.
    pub(crate) fn name(&self, hash: &Digest) -> String {
        match (self.names.get(hash), self.places.get(hash)) {
            (Some(name), Some(place)) => format!("{name} ({place})"),
            (Some(name), None) => name.clone(),
            (None, Some(place)) => place.clone(),
            (None, None) => format!("record {}", hash.short()),
        }
    }

    /// The name without its place.
    pub(crate) fn name_alone(&self, hash: &Digest) -> String {
        self.names.get(hash).cloned().unwrap_or_else(|| format!("record {}", hash.short()))
    }
}

/// All of history under a new revision.
pub(crate) struct Revised {
    pub(crate) path: PathBuf,
    pub(crate) method: Method,
    pub(crate) found: Reevaluation,
    pub(crate) anchor: Anchor,
}

/// Who acts, with the act itself as the reason where none is given.
fn routine(by: &RoutineActor, otherwise: &str) -> Result<By, Failure> {
    Ok(By::new(&by.actor, by.reason.as_deref().unwrap_or(otherwise))?)
}

/// The name of a study: as given, else that of the file.
fn name_of(given: Option<&str>, path: &Path) -> String {
    given.map_or_else(|| path.file_stem().unwrap_or_default().to_string_lossy().into_owned(), str::to_owned)
}

/// `FILE:N` as file and number of the scan.
fn scan_of(text: &str) -> Result<ScanRef, Failure> {
    let parts = text.rsplit_once(':').and_then(|(file, scan)| Some((file, scan.parse().ok()?)));
    let (file, scan) = parts.ok_or_else(|| Failure::NotThere {
        what: format!("\"{text}\" names no scan"),
        cure: "give raw file and number of the scan as FILE:N, such as wells-B2.txt:13".to_owned(),
    })?;
    Ok(ScanRef { file: file.to_owned(), scan })
}

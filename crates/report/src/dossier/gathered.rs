//! Everything that a dossier shows of one series, gathered from the ledger and walked through the chain once.

use std::ops::{ControlFlow, Range};

use stillwell_assure::{MonteCarloPlan, Trials};
use stillwell_method::{
    Beside, Determination, DeterminationBudget, Input, Outcome, Report, beside, budget, determine,
    most_in_need,
};
use stillwell_study::{
    CalibrationAct, History, LastIssued, Looked, Numbered, Overview, Series, Shown, Study, StudyError,
    WalkedStudy,
};

use crate::quality::Quality;
use crate::wording::trust;

/// Monte Carlo trials behind the budget, from a seed of their own: the same study gives the same document.
const TRIALS: u32 = 200_000;
const SEED: u64 = 1;

/// What a dossier shows.
#[derive(Debug)]
pub struct DossierInput {
    /// Name of the study's file, without its folder.
    pub study_file: String,
    /// The study now.
    pub overview: Overview,
    /// Its whole ledger.
    pub history: History,
    /// The series.
    pub series: Numbered<Series>,
    /// What the chain was given.
    pub input: Input,
    /// What it finds today.
    pub report: Report,
    /// For each calibration of the report: its record, where it is on record.
    pub calibrations: Vec<Option<Numbered<CalibrationAct>>>,
    /// For each determination of the report: the last result issued.
    pub determinations: Vec<Option<LastIssued>>,
    /// Control, lots, validation and comparison over all series of the study, in the order of time.
    pub quality: Quality,
    /// The numbers of these series.
    pub walked: Vec<String>,
    /// Series that the method in force cannot read, and why.
    pub unread: Vec<(String, String)>,
    /// The budget of the result whose verdict its uncertainty touches most.
    pub taken_apart: Option<TakenApart>,
}

/// One determination's uncertainty, taken apart.
#[derive(Debug)]
pub struct TakenApart {
    /// Place of the determination in the report.
    pub place: usize,
    /// Its budget.
    pub budget: DeterminationBudget,
    /// What check standards and spikes show beside it.
    pub beside: Beside,
}

impl DossierInput {
    /// Gathers one series of a study.
    ///
    /// # Errors
    /// A ledger that cannot be read, or content that is damaged.
    pub fn gather(study: &Study, series: &Numbered<Series>) -> Result<Self, StudyError> {
        let overview = Overview::of(study)?;
        let history = History::beside(study, &overview, None)?;
        let input = study.input(&series.record.hash)?;
        let walked = study.walk_in_time(&mut |_, _| ControlFlow::Continue(()))?;
        let quality = Quality::of(study, &walked.method, &walked.walks())?;
        let labels = walked.labels();
        let unread = walked.unread.iter().map(|(one, why)| (one.label.clone(), why.clone())).collect();
        let looked = looked(study, series, &input, walked)?;
        let taken_apart = taken_apart(&input, &looked.report);
        Ok(Self {
            study_file: file_name(study),
            history,
            series: series.clone(),
            calibrations: looked.calibrations,
            determinations: looked.determinations,
            report: looked.report,
            input,
            overview,
            quality,
            walked: labels,
            unread,
            taken_apart,
        })
    }

    /// The results of this series on record, the oldest first.
    pub(super) fn results(&self) -> impl Iterator<Item = &Shown> {
        self.overview.results.iter().filter(|shown| shown.one.act.series == self.series.record.hash)
    }

    /// Those that count.
    pub(super) fn counting(&self) -> impl Iterator<Item = &Shown> {
        self.results().filter(|shown| shown.one.standing.counts())
    }

    /// Those that somebody took back without another in their place: their samples count as unknown.
    pub(super) fn no_longer_counting(&self) -> Vec<&Shown> {
        let mut all = Shown::no_longer_counting(&self.overview.results);
        all.retain(|shown| shown.one.act.series == self.series.record.hash);
        all
    }

    /// Whether there are results, nothing speaks against any that counts, and none was taken back for good.
    pub fn is_free(&self) -> bool {
        self.no_longer_counting().is_empty()
            && self.counting().next().is_some()
            && self.counting().all(|shown| trust(shown).because.is_empty())
    }

    /// Unit and species of every reported number.
    pub(super) fn unit(&self) -> String {
        self.input.method.analyte.reported_as.to_string()
    }

    /// When the newest record was made: the date of the document.
    pub(super) fn as_of(&self) -> &str {
        let own = self.history.entries.iter().filter(|entry| entry.record.hash == self.history.anchor.head);
        own.map(|entry| entry.record.at_utc.as_str()).next().unwrap_or_default()
    }
}

fn file_name(study: &Study) -> String {
    study.path().file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// The series' own walk among all.
fn looked(
    study: &Study,
    series: &Numbered<Series>,
    input: &Input,
    walked: WalkedStudy,
) -> Result<Looked, StudyError> {
    let own = walked.series.into_iter().find(|(one, _)| one.record.hash == series.record.hash);
    match own {
        Some((_, looked)) => Ok(looked),
        None => study.look(&series.record.hash, determine(input)),
    }
}

fn taken_apart(input: &Input, report: &Report) -> Option<TakenApart> {
    let place = most_in_need(&input.method, report)?;
    let determination: &Determination = report.determinations.get(place)?;
    let Outcome::Quantified(estimate) = &determination.outcome else { return None };
    let plan = MonteCarloPlan { seed: SEED, coverage: estimate.coverage, trials: Trials::Fixed(TRIALS) };
    let one_by_one = |numbers: Range<u64>, block: &(dyn Fn(u64) -> Vec<f64> + Sync)| {
        numbers.map(block).collect::<Vec<_>>()
    };
    let budget = budget(input, report, determination, &plan, &one_by_one).ok()?;
    let beside = beside(input, report, determination, &budget);
    Some(TakenApart { place, budget, beside })
}

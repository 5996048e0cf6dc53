//! What a page sees: the study as it is now, read once for each state of its ledger.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use stillwell_method::{Determination, Input, Report, determine};
use stillwell_study::{CalibrationAct, Digest, LastIssued, Numbered, Overview, Series, Shown, Study};

use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::pages::Drawn;
use crate::pages::budget::TakenApart;
use crate::site::Site;

/// Budgets that are kept.
const MOST_BUDGETS: usize = 64;
/// Chains that are kept: each holds the scans of one series.
const MOST_WALKED: usize = 4;

/// What was computed already. Whatever a ledger says holds until its head moves, so that nothing here can grow old.
#[derive(Default)]
pub(crate) struct Kept {
    overview: Mutex<Option<Arc<Overview>>>,
    walked: Mutex<Vec<(Digest, Digest, Arc<Walked>)>>,
    /// Chains of issued results, which never change.
    issued: Mutex<Vec<(Digest, Arc<AsIssued>)>>,
    /// Budgets of issued results by many draws: they never change either.
    budgets: Mutex<Vec<(Digest, Arc<TakenApart>)>>,
}

/// The chain of an issued result, walked again as it was.
pub(crate) struct AsIssued {
    /// What the chain was given.
    pub(crate) input: Input,
    /// What it found.
    pub(crate) report: Report,
}

/// A series that was walked through the chain, beside what the ledger says of it.
pub(crate) struct Walked {
    /// What the chain was given.
    pub(crate) input: Input,
    /// What it found.
    pub(crate) report: Report,
    /// For each calibration of the report: its record.
    pub(crate) calibrations: Vec<Option<Numbered<CalibrationAct>>>,
    /// For each determination of the report: the last result issued.
    pub(crate) determinations: Vec<Option<LastIssued>>,
    /// All its scans above one another, once somebody asked.
    pub(crate) overlay: OnceLock<Drawn>,
}

/// The study as one page sees it.
pub(crate) struct View {
    pub(crate) site: Site,
    pub(crate) visitor: Visitor,
    pub(crate) study: Study,
    pub(crate) overview: Arc<Overview>,
}

impl View {
    pub(crate) fn new(site: Site, visitor: Visitor) -> Result<Self, Refusal> {
        let study = Study::open_to_read(site.study_path())?;
        let overview = site.kept().overview(&study)?;
        Ok(Self { site, visitor, study, overview })
    }

    /// The token of a form that is sent to `path`.
    pub(crate) fn form_token(&self, path: &str) -> String {
        self.site.launch().form_token(path)
    }

    /// The series of that number.
    pub(crate) fn series(&self, label: &str) -> Result<&Numbered<Series>, Refusal> {
        let found = self.overview.series.iter().find(|one| one.label == label);
        found.ok_or_else(|| Refusal::unknown(&format!("series {label}")))
    }

    /// The result of that number.
    pub(crate) fn result(&self, label: &str) -> Result<&Shown, Refusal> {
        let found = self.overview.results.iter().find(|shown| shown.one.label == label);
        found.ok_or_else(|| Refusal::unknown(&format!("result {label}")))
    }

    /// The calibration of that number.
    pub(crate) fn calibration(&self, label: &str) -> Result<&Numbered<CalibrationAct>, Refusal> {
        let found = self.overview.calibrations.iter().find(|one| one.label == label);
        found.ok_or_else(|| Refusal::unknown(&format!("calibration {label}")))
    }

    /// The series whose record this is, where the study holds it.
    pub(crate) fn series_of(&self, record: &Digest) -> Option<&Numbered<Series>> {
        self.overview.series.iter().find(|one| one.record.hash == *record)
    }

    /// The chain of a series as the study stands now.
    pub(crate) fn walked(&self, series: &Digest) -> Result<Arc<Walked>, Refusal> {
        let head = self.overview.anchor.head;
        if let Some(walked) = self.site.kept().walked(&head, series) {
            return Ok(walked);
        }
        let input = self.study.input(series)?;
        let looked = self.study.look(series, determine(&input))?;
        let walked = Arc::new(Walked {
            input,
            report: looked.report,
            calibrations: looked.calibrations,
            determinations: looked.determinations,
            overlay: OnceLock::new(),
        });
        self.site.kept().keep(head, *series, Arc::clone(&walked));
        Ok(walked)
    }

    /// The same of a series as it stands now, in the form of an issued one.
    pub(crate) fn as_it_stands(&self, series: &Digest) -> Result<Arc<AsIssued>, Refusal> {
        let walked = self.walked(series)?;
        Ok(Arc::new(AsIssued { input: walked.input.clone(), report: walked.report.clone() }))
    }

    /// The chain of an issued result, as it was when it was issued.
    pub(crate) fn as_issued(&self, shown: &Shown) -> Result<Arc<AsIssued>, Refusal> {
        // Results that were issued together share one walk.
        let first = self.overview.results.iter().find(|other| is_one_walk(other, shown)).unwrap_or(shown);
        let key = first.one.record.hash;
        let kept = &self.site.kept().issued;
        let of_before = |all: &Vec<(Digest, Arc<AsIssued>)>| {
            all.iter().find(|(of, _)| *of == key).map(|(_, issued)| Arc::clone(issued))
        };
        if let Some(issued) = of_before(&kept.lock().unwrap_or_else(PoisonError::into_inner)) {
            return Ok(issued);
        }
        let (input, report) = self.study.as_issued(&key)?;
        let issued = Arc::new(AsIssued { input, report });
        let mut all = kept.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= MOST_WALKED {
            all.remove(0);
        }
        all.push((key, Arc::clone(&issued)));
        Ok(issued)
    }
}

/// Whether two results came from one walk: same series, revision, borrowed calibrations and state of the ledger.
fn is_one_walk(one: &Shown, other: &Shown) -> bool {
    let (one, other) = (&one.one.act, &other.one.act);
    (one.series, one.revision, &one.borrowed, &one.as_of)
        == (other.series, other.revision, &other.borrowed, &other.as_of)
}

impl AsIssued {
    /// The same, or that it does not come out again.
    pub(crate) fn found(&self, shown: &Shown) -> Result<&Determination, Refusal> {
        self.determination(shown).ok_or_else(|| {
            Refusal::failed(
                "this result does not come out again: `stillwell study verify --recompute` tells why",
            )
        })
    }

    /// The determination of a result among those of its series.
    pub(crate) fn determination(&self, shown: &Shown) -> Option<&Determination> {
        let wanted = &shown.one.act.result;
        self.report.determinations.iter().find(|found| {
            (&found.sample, found.role.word(), &found.batch, &found.lot)
                == (&wanted.sample, wanted.role.as_str(), &wanted.batch, &wanted.lot)
        })
    }
}

impl Kept {
    /// The budget of an issued result, where many draws were made.
    pub(crate) fn budget(&self, result: &Digest) -> Option<Arc<TakenApart>> {
        let kept = self.budgets.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(of, _)| of == result).map(|(_, made)| Arc::clone(made))
    }

    pub(crate) fn keep_budget(&self, result: Digest, made: Arc<TakenApart>) {
        let mut kept = self.budgets.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|(of, _)| *of != result);
        if kept.len() >= MOST_BUDGETS {
            kept.remove(0);
        }
        kept.push((result, made));
    }

    fn overview(&self, study: &Study) -> Result<Arc<Overview>, Refusal> {
        let head = study.anchor()?.head;
        // What another page left behind when it broke off is whole or absent.
        let mut kept = self.overview.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(overview) = kept.as_ref().filter(|overview| overview.anchor.head == head) {
            return Ok(Arc::clone(overview));
        }
        let overview = Arc::new(Overview::of(study)?);
        *kept = Some(Arc::clone(&overview));
        Ok(overview)
    }

    fn walked(&self, head: &Digest, series: &Digest) -> Option<Arc<Walked>> {
        let kept = self.walked.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(at, of, _)| at == head && of == series).map(|(_, _, walked)| Arc::clone(walked))
    }

    fn keep(&self, head: Digest, series: Digest, walked: Arc<Walked>) {
        let mut kept = self.walked.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|(at, of, _)| *at == head && *of != series);
        if kept.len() >= MOST_WALKED {
            kept.remove(0);
        }
        kept.push((head, series, walked));
    }
}

//! The desk: a step handed in becomes a record with its answer, once, whatever a weak link does to it.
//!
//! A step handed in twice is told by its key and answered as before. A step that comes before its turn waits on the device.
//! Everything one step does is one transaction of the study, so that two devices never come between each other.

use std::collections::{BTreeMap, BTreeSet};

use stillwell_study::{
    By, Deed, Digest, FieldDesk, FieldStep, Record, StepAnswer, StepTime, Study, StudyError,
};

use crate::campaign::{Campaign, Lot};
use crate::chain::Chain;
use crate::error::FieldError;
use crate::in_force::InForce;
use crate::label::Label;
use crate::outcome::Outcome;
use crate::run::Run;
use crate::step::{Handed, HandedIn, Step};

/// Steps that one run takes at most: far more than a person needs, so that a broken device cannot fill the study.
const MOST_STEPS: usize = 200;
/// Largest raw file of one strip, bytes.
const MOST_BYTES: usize = 4 << 20;

/// A campaign at work.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    record: Digest,
    ledger: Digest,
    revision: Digest,
    campaign: Campaign,
    calibrations: Vec<Digest>,
}

/// A step that is on record, now or from before.
#[derive(Debug, Clone, PartialEq)]
pub struct Answered {
    /// Whether it was on record already.
    pub again: bool,
    /// The answer that stands on record.
    pub answer: StepAnswer,
    /// The run as it stands after everything on record.
    pub run: Run,
}

/// Why a step was not even recorded. The device keeps it, or throws it away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotTaken {
    /// An earlier step is missing: hand in that one first, then this one again.
    Waits {
        /// The place of the step that is missing.
        expected: u32,
    },
    /// Another step stands at this place.
    PlaceTaken,
    /// The key stands at another step.
    KeyTaken,
    /// The run belongs to another device or campaign.
    OtherDevice,
    /// The run has as many steps as one may have.
    TooMany,
}

impl Field {
    /// Records a campaign's file in a study. An approver's key releases it afterwards.
    ///
    /// # Errors
    /// Everything wrong in the file, and what does not fit the study's calibrations.
    pub fn record(study: &mut Study, file_name: &str, text: &str, by: &By) -> Result<Record, FieldError> {
        let method = study.method()?.method;
        let campaign = Campaign::parse(file_name, text, &method)?;
        let mut calibrations = Vec::new();
        for lot in &campaign.lots {
            let one = study.calibration(&lot.calibration)?;
            let of_lot = &one.act.result.lot;
            if !of_lot.is_empty() && *of_lot != lot.lot {
                return Err(FieldError::DoesNotFit {
                    found: format!("calibration {} is of lot {of_lot}, not of {}", lot.calibration, lot.lot),
                    cure: format!("name the calibration of lot {} for {}", lot.lot, lot.code),
                });
            }
            calibrations.push(one.record.hash);
        }
        Ok(study.record_campaign(&campaign.name, text, &calibrations, by)?)
    }

    /// A recorded campaign by its number or its record's hash. That it may be used is asked at every step.
    ///
    /// # Errors
    /// No such campaign, or one that is damaged.
    pub fn open(study: &Study, name: &str) -> Result<Self, FieldError> {
        let one = study.campaign(name)?;
        let method = study.campaign_method(&one.act)?.method;
        let text = study.campaign_text(&one.act)?;
        Ok(Self {
            record: one.record.hash,
            ledger: one.record.chain,
            revision: one.act.revision,
            campaign: Campaign::parse("campaign.toml", &text, &method)?,
            calibrations: one.act.calibrations,
        })
    }

    /// The campaign.
    pub fn campaign(&self) -> &Campaign {
        &self.campaign
    }

    /// Record of the campaign.
    pub fn record_hash(&self) -> &Digest {
        &self.record
    }

    /// Record of the method revision that it was recorded for.
    pub(crate) fn revision(&self) -> &Digest {
        &self.revision
    }

    /// Record of the calibration that serves a lot of the campaign.
    pub(crate) fn calibration_of(&self, lot: &Lot) -> Option<&Digest> {
        let place = self.campaign.lots.iter().position(|known| known == lot)?;
        self.calibrations.get(place)
    }

    /// The first record of the study's ledger: what its labels are bound to.
    pub(crate) fn ledger(&self) -> &Digest {
        &self.ledger
    }

    /// What the study says is in force for a run.
    pub(crate) fn world<'a>(&'a self, study: &'a Study, run: &'a str) -> InForce<'a> {
        InForce { study, field: self, run }
    }

    /// Takes a step from a device.
    ///
    /// # Errors
    /// A name that no device gives, a file that is far too large, and a study that cannot be read or written: nothing is recorded
    /// then, and the device hands the step in again.
    pub fn hand_in(
        &self,
        study: &mut Study,
        handed: &HandedIn<'_>,
    ) -> Result<Result<Answered, NotTaken>, FieldError> {
        for (what, found) in [("run", handed.run), ("key", handed.key), ("boot", &handed.when.boot)] {
            if !is_name(found) {
                let found = found.chars().filter(|c| !c.is_control()).take(80).collect();
                return Err(FieldError::Name { what, found });
            }
        }
        if let Handed::File(bytes) = handed.deed
            && bytes.len() > MOST_BYTES
        {
            let (found, limit) = (bytes.len() as u64, MOST_BYTES as u64);
            return Err(StudyError::TooLarge { what: "the file".to_owned(), found, limit }.into());
        }
        let by = By::new(handed.device, &format!("field run {}, step {}", handed.run, handed.place))?;
        study.at_field_desk(|desk| self.at_desk(desk, handed, &by))
    }

    fn at_desk(
        &self,
        desk: &FieldDesk<'_>,
        handed: &HandedIn<'_>,
        by: &By,
    ) -> Result<Result<Answered, NotTaken>, FieldError> {
        let steps = desk.steps_of(handed.run)?;
        let is_ours = |step: &FieldStep| step.campaign == self.record && step.device == handed.device;
        if steps.first().is_some_and(|first| !is_ours(first)) {
            return Ok(Err(NotTaken::OtherDevice));
        }
        if let Some(known) = steps.iter().find(|step| step.key == handed.key) {
            if known.place != handed.place || known.deed.word() != word(&handed.deed) {
                return Ok(Err(NotTaken::KeyTaken));
            }
            let answer = known.answer.clone();
            return Ok(Ok(Answered { again: true, answer, run: Run::of_record(&self.campaign, &steps)? }));
        }
        let expected = u32::try_from(steps.len()).unwrap_or(u32::MAX).saturating_add(1);
        match handed.place {
            place if place > expected => return Ok(Err(NotTaken::Waits { expected })),
            place if place < expected => return Ok(Err(NotTaken::PlaceTaken)),
            _ if steps.len() >= MOST_STEPS => return Ok(Err(NotTaken::TooMany)),
            _ => {}
        }
        let run = Run::of_record(&self.campaign, &steps)?;
        self.taken(desk, handed, by, &run).map(Ok)
    }

    fn taken(
        &self,
        desk: &FieldDesk<'_>,
        handed: &HandedIn<'_>,
        by: &By,
        run: &Run,
    ) -> Result<Answered, FieldError> {
        let mut chain = Chain {
            desk,
            campaign: &self.campaign,
            calibrations: &self.calibrations,
            run: handed.run,
            by,
            unreadable: None,
            is_known: false,
            n_scans: 0,
        };
        let deed = match handed.deed {
            Handed::File(bytes) => {
                chain.is_known = desk.counts_already(bytes)?;
                let name = format!("field-{}-{:03}.txt", handed.run, handed.place);
                let method = desk.study().method()?.method;
                let (file, unreadable) = desk.keep_file(&method, &name, bytes)?;
                (chain.unreadable, chain.n_scans) = (unreadable, file.n_scans);
                Deed::File(file)
            }
            ref other => deed_of(other),
        };
        let step = Step { deed, when: handed.when.clone() };
        let label = self.scanned(handed, &step.deed);
        let world = self.world(desk.study(), handed.run);
        let (next, answer) = run.take(&self.campaign, &step, &world, &mut chain)?;
        let names = (handed.run, handed.place, handed.key, handed.device);
        self.append(desk, names, (step, label, answer.clone()), by)?;
        Ok(Answered { again: false, answer, run: next })
    }

    /// The label that was scanned for a step, as far as it is this study's and names what was chosen.
    fn scanned(&self, handed: &HandedIn<'_>, deed: &Deed) -> Option<String> {
        let label = Label::read(handed.label?)?;
        let is_it = label.is_of(&self.ledger) && label.means_the_same(&self.campaign) && label.names(deed);
        is_it.then(|| label.text())
    }

    fn append(
        &self,
        desk: &FieldDesk<'_>,
        (run, place, key, device): (&str, u32, &str, &str),
        (step, label, answer): (Step, Option<String>, StepAnswer),
        by: &By,
    ) -> Result<(), FieldError> {
        let step = FieldStep {
            campaign: self.record,
            run: run.to_owned(),
            place,
            key: key.to_owned(),
            device: device.to_owned(),
            when: step.when,
            deed: step.deed,
            label,
            answer,
        };
        desk.append(step, by)?;
        Ok(())
    }

    /// Every run of the campaign, by its name.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn runs(&self, study: &Study) -> Result<BTreeMap<String, Run>, FieldError> {
        let by_run = self.steps_by_run(study)?;
        by_run.into_iter().map(|(run, steps)| Ok((run, Run::of_record(&self.campaign, &steps)?))).collect()
    }

    fn steps_by_run(&self, study: &Study) -> Result<BTreeMap<String, Vec<FieldStep>>, FieldError> {
        let mut by_run: BTreeMap<String, Vec<FieldStep>> = BTreeMap::new();
        for step in study.field_steps()?.into_iter().filter(|step| step.campaign == self.record) {
            by_run.entry(step.run.clone()).or_default().push(step);
        }
        Ok(by_run)
    }

    /// What may be shown of a run's end today; none while it goes on.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn outcome(&self, study: &Study, run: &Run) -> Result<Option<Outcome>, FieldError> {
        run.end().map(|end| Outcome::of(study, &self.campaign, end)).transpose()
    }

    /// Other runs at the same well that were handed in within some seconds before `now_ms`: two people at one well should know.
    ///
    /// # Errors
    /// A ledger that cannot be read.
    pub fn others_at_well(
        &self,
        study: &Study,
        run: &str,
        code: &str,
        now_ms: i64,
        within_s: f64,
    ) -> Result<Vec<String>, FieldError> {
        let is_recent =
            |step: &FieldStep| now_ms.saturating_sub(step.when.received_ms) as f64 <= 1000.0 * within_s;
        let mut recent = BTreeSet::new();
        study.field_steps_back("", |step| {
            let goes_on = is_recent(&step);
            if goes_on && step.campaign == self.record && step.run != run {
                recent.insert(step.run);
            }
            goes_on
        })?;
        let is_at_well = |step: &FieldStep| matches!(&step.deed, Deed::Well { code: there } if there == code);
        let mut others = Vec::new();
        for other in recent {
            if study.field_steps_of(&other)?.iter().any(is_at_well) {
                others.push(other);
            }
        }
        Ok(others)
    }

    /// Closes the runs that nobody went on with, so long after their last step that nothing waits on a device any more. Says
    /// which. `now_ms` is the time of the receipt, ms since 1970.
    ///
    /// # Errors
    /// A study that cannot be written.
    pub fn close_overdue(&self, study: &mut Study, now_ms: i64) -> Result<Vec<String>, FieldError> {
        let timers = &self.campaign.timers;
        let patience_ms = 1000.0 * (timers.run_most_s + timers.hand_in_most_s);
        let by = By::new("field mode", "the run was left open for too long")?;
        study.at_field_desk(|desk| {
            let mut closed = Vec::new();
            for (name, steps) in self.steps_by_run(desk.study())? {
                let run = Run::of_record(&self.campaign, &steps)?;
                let Some(last) = steps.last().filter(|_| run.end().is_none()) else { continue };
                if now_ms.saturating_sub(last.when.received_ms) as f64 <= patience_ms {
                    continue;
                }
                let when = StepTime { received_ms: now_ms, ..last.when.clone() };
                let place = u32::try_from(steps.len()).unwrap_or(u32::MAX).saturating_add(1);
                let step = Step { deed: Deed::Overdue, when };
                let (run, device) = (name.as_str(), last.device.as_str());
                let closing = (step, None, StepAnswer::Taken { seen: None });
                self.append(desk, (run, place, "overdue-closed", device), closing, &by)?;
                closed.push(name);
            }
            Ok(closed)
        })
    }
}

fn is_name(text: &str) -> bool {
    (8..=64).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
}

fn word(deed: &Handed<'_>) -> &'static str {
    match deed {
        Handed::File(_) => "file",
        other => deed_of(other).word(),
    }
}

/// A deed as it is recorded. What a stranger typed is cut to a length that can stand in the ledger.
fn deed_of(handed: &Handed<'_>) -> Deed {
    let kept = |text: &str| text.trim().chars().filter(|c| !c.is_control()).take(40).collect();
    match handed {
        Handed::Well(code) => Deed::Well { code: kept(code) },
        Handed::Strip { lot, number } => Deed::Strip { lot: kept(lot), number: *number },
        // JSON knows no other numbers; any that is none is refused as such.
        Handed::Temperature(temperature_c) if temperature_c.is_finite() => {
            Deed::Temperature { temperature_c: *temperature_c }
        }
        Handed::Temperature(_) => Deed::Temperature { temperature_c: f64::MAX },
        Handed::Rinse => Deed::Rinse,
        Handed::Apply => Deed::Apply,
        Handed::Start | Handed::File(_) => Deed::Start,
        Handed::Abandon(reason) => Deed::Abandon { why: reason.word().to_owned() },
    }
}

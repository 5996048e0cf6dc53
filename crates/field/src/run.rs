//! A run: from a well's code to one number with one verdict, or a refusal. The state machine, without study, page or clock.
//!
//! `Run::take` answers one step. Who wants to know why no path skips the control, the temperature, an expiry or a timer reads
//! the types: an [`End::Result`] holds a [`Living`] control and [`Measured`] strips, and these can only be made step by step.

use stillwell_study::{Deed, Digest, FieldStep, StepAnswer, StepSeen};

use crate::campaign::{Campaign, Known, Strip, Well};
use crate::clocks::Moment;
use crate::error::FieldError;
use crate::laboratory::{Laboratory, Recorded, World};
use crate::refusal::Refusal;
use crate::step::{AbandonReason, Step};
use crate::strip::{Applied, Chosen, Living, Measured, Purpose, Rinsed, Started, Tempered};

/// Refused steps after which a run is closed: no operator needs so many, a broken device does (common practice, no source).
const MOST_REFUSED: u32 = 60;

/// A run.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    stage: Stage,
    n_refused: u32,
    n_strips: u32,
    clock_set_s: Option<f64>,
}

/// Where a run stands.
#[expect(
    clippy::large_enum_variant,
    reason = "one run is looked at at a time, and plain variants read better"
)]
#[derive(Debug, Clone, PartialEq)]
pub enum Stage {
    /// No well yet.
    AtWell,
    /// At work on a strip.
    AtWork {
        /// The well.
        well: Known<Well>,
        /// When it was chosen.
        begun: Moment,
        /// What the strip is for.
        purpose: Purpose,
        /// How far it is.
        work: Work,
    },
    /// Nothing more is taken.
    Over(End),
}

/// How far the work on a strip is: each names the step that comes next.
#[derive(Debug, Clone, PartialEq)]
pub enum Work {
    /// A strip is to be chosen.
    Strip,
    /// The temperature is to be measured.
    Temperature(Chosen),
    /// The strip is to be rinsed.
    Rinse(Tempered),
    /// The drop is to be applied.
    Apply(Rinsed),
    /// The scan is to be started.
    Start(Applied),
    /// The file is to be handed in.
    File(Started),
}

/// How a run ended.
#[expect(
    clippy::large_enum_variant,
    reason = "one run is looked at at a time, and plain variants read better"
)]
#[derive(Debug, Clone, PartialEq)]
pub enum End {
    /// The water was determined.
    Result {
        /// The well.
        well: Known<Well>,
        /// The control that lived.
        living: Living,
        /// The strips: one, or two that agree.
        strips: Vec<Measured>,
        /// Record of the determination.
        determination: Digest,
    },
    /// The water must be treated as unknown.
    Unknown(Why),
    /// The operator gave it up: unknown as well.
    Abandoned(AbandonReason),
    /// Nobody went on: unknown as well.
    Overdue,
}

/// Why the water must be treated as unknown.
#[derive(Debug, Clone, PartialEq)]
pub enum Why {
    /// The electrode control did not read what it should.
    ControlNotAlive,
    /// No strip gave a scan that can be used.
    StripsUsedUp {
        /// The last check that spoke, if one did.
        check: Option<String>,
    },
    /// Two strips disagree.
    Disagree,
    /// The chain gives no verdict.
    NoVerdict {
        /// Which check.
        check: String,
    },
    /// The second strip came too late.
    SecondTooLate,
    /// The whole took too long.
    RunTooLong,
    /// Too many steps were refused.
    TooManyRefused,
    /// The operator gave it up.
    Abandoned(AbandonReason),
    /// Nobody went on.
    Overdue,
}

impl Why {
    /// The words in the keys of texts, in the order of the enum.
    pub const WORDS: [&'static str; 9] = [
        "control-not-alive",
        "strips-used-up",
        "disagree",
        "no-verdict",
        "second-too-late",
        "run-too-long",
        "too-many-refused",
        "abandoned",
        "overdue",
    ];

    /// The word in the keys of texts.
    pub fn word(&self) -> &'static str {
        match self {
            Self::ControlNotAlive => "control-not-alive",
            Self::StripsUsedUp { .. } => "strips-used-up",
            Self::Disagree => "disagree",
            Self::NoVerdict { .. } => "no-verdict",
            Self::SecondTooLate => "second-too-late",
            Self::RunTooLong => "run-too-long",
            Self::TooManyRefused => "too-many-refused",
            Self::Abandoned(_) => "abandoned",
            Self::Overdue => "overdue",
        }
    }
}

impl Default for Run {
    fn default() -> Self {
        Self { stage: Stage::AtWell, n_refused: 0, n_strips: 0, clock_set_s: None }
    }
}

/// Where a step leads, and what its scan showed.
type Next = (Stage, Option<StepSeen>);

/// A step is refused, or something failed that has nothing to do with it.
enum NotTaken {
    Refused(Refusal),
    Failed(FieldError),
}

impl From<Refusal> for NotTaken {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

impl Run {
    /// Where it stands.
    pub fn stage(&self) -> &Stage {
        &self.stage
    }

    /// How it ended, if it did.
    pub fn end(&self) -> Option<&End> {
        match &self.stage {
            Stage::Over(end) => Some(end),
            _ => None,
        }
    }

    /// Strips that failed in a row, and steps that were refused.
    pub fn failed_and_refused(&self) -> (u32, u32) {
        (self.n_strips, self.n_refused)
    }

    /// By how much the device's calendar clock was set during the run, s, if it was.
    pub fn clock_set_s(&self) -> Option<f64> {
        self.clock_set_s
    }

    /// Takes a step, or refuses it. Either way the run that follows is returned: a refusal may cost the strip.
    ///
    /// # Errors
    /// What the laboratory fails with; the run is then as before.
    pub fn take(
        &self,
        campaign: &Campaign,
        step: &Step,
        world: &impl World,
        laboratory: &mut impl Laboratory,
    ) -> Result<(Self, StepAnswer), FieldError> {
        match self.attempt(campaign, step, world, laboratory) {
            Ok((stage, seen)) => {
                let next = self.gone_on(campaign, step, stage, seen.as_ref());
                Ok((next, StepAnswer::Taken { seen }))
            }
            Err(NotTaken::Refused(refusal)) => {
                let answer = StepAnswer::Refused { code: refusal.code().to_owned(), with: refusal.with() };
                Ok((self.refused(campaign, refusal.code()), answer))
            }
            Err(NotTaken::Failed(error)) => Err(error),
        }
    }

    /// The run that the steps on record make.
    ///
    /// # Errors
    /// Steps that cannot have been answered so.
    pub fn of_record(campaign: &Campaign, steps: &[FieldStep]) -> Result<Self, FieldError> {
        let mut run = Self::default();
        for on_record in steps {
            if let StepAnswer::Refused { code, .. } = &on_record.answer {
                run = run.refused(campaign, code);
                continue;
            }
            let step = Step { deed: on_record.deed.clone(), when: on_record.when.clone() };
            let (world, mut laboratory) = (Recorded(&on_record.answer), Recorded(&on_record.answer));
            let (next, answer) = run.take(campaign, &step, &world, &mut laboratory)?;
            if answer != on_record.answer {
                let (run, place) = (&on_record.run, on_record.place);
                let found = format!("step {place} of run {run} cannot have been taken where it stands");
                return Err(FieldError::Ledger { found });
            }
            run = next;
        }
        Ok(run)
    }

    fn gone_on(&self, campaign: &Campaign, step: &Step, stage: Stage, seen: Option<&StepSeen>) -> Self {
        let mut next = Self { stage, ..self.clone() };
        match seen {
            Some(StepSeen::Unusable { check, .. }) => {
                next.n_strips += 1;
                if next.n_strips >= campaign.strips_most {
                    let check = Some(check.clone());
                    next.stage = Stage::Over(End::Unknown(Why::StripsUsedUp { check }));
                }
            }
            Some(_) => next.n_strips = 0,
            None => {}
        }
        if let (Stage::AtWork { begun, .. }, Ok(now)) = (&self.stage, Moment::of(&step.when)) {
            next.clock_set_s = now.clock_set_since(begun).or(self.clock_set_s);
        }
        next
    }

    /// What a refusal costs: a step missed in time costs the strip, since its liquid is no longer what it was.
    fn refused(&self, campaign: &Campaign, code: &str) -> Self {
        let mut next = Self { n_refused: self.n_refused + 1, ..self.clone() };
        let is_of_time = matches!(code, "too-late" | "device-restarted" | "device-clock");
        if let Stage::AtWork { purpose, work, .. } = &mut next.stage {
            match (&*work, &*purpose) {
                (Work::Rinse(tempered), _) if is_of_time => {
                    *work = Work::Temperature(tempered.chosen().clone());
                }
                (Work::Apply(_) | Work::Start(_) | Work::File(_), _) if is_of_time => {
                    *work = Work::Strip;
                    next.n_strips += 1;
                }
                (_, Purpose::Sample(_) | Purpose::Second(..)) if code == "control-too-old" => {
                    *work = Work::Strip;
                    *purpose = Purpose::Control;
                }
                (Work::Strip, Purpose::Second(..)) if code == "second-too-late" => {
                    next.stage = Stage::Over(End::Unknown(Why::SecondTooLate));
                }
                _ => {}
            }
        }
        if matches!(next.stage, Stage::Over(_)) {
            return next;
        }
        let why = match code {
            "run-too-long" => Some(Why::RunTooLong),
            _ if next.n_refused > MOST_REFUSED => Some(Why::TooManyRefused),
            _ if next.n_strips >= campaign.strips_most => Some(Why::StripsUsedUp { check: None }),
            _ => None,
        };
        if let Some(why) = why {
            next.stage = Stage::Over(End::Unknown(why));
        }
        next
    }

    fn attempt(
        &self,
        campaign: &Campaign,
        step: &Step,
        world: &impl World,
        laboratory: &mut impl Laboratory,
    ) -> Result<Next, NotTaken> {
        if matches!(self.stage, Stage::Over(_)) {
            return Err(Refusal::RunIsOver.into());
        }
        match &step.deed {
            Deed::Abandon { why } => {
                let why = AbandonReason::of_word(why).unwrap_or(AbandonReason::Other);
                return Ok((Stage::Over(End::Abandoned(why)), None));
            }
            Deed::Overdue => return Ok((Stage::Over(End::Overdue), None)),
            _ => {}
        }
        let at = Moment::of(&step.when)?;
        if at.waited_s() > campaign.timers.hand_in_most_s {
            return Err(Refusal::HandedInTooLate.into());
        }
        world.campaign_in_force(&at.day())?;
        match (&self.stage, &step.deed) {
            (Stage::AtWell, Deed::Well { code }) => {
                let well = campaign.well(code)?;
                let purpose = Purpose::Control;
                Ok((Stage::AtWork { well, begun: at, purpose, work: Work::Strip }, None))
            }
            (Stage::AtWork { well, begun, purpose, work }, deed) => {
                if at.most_since_s(begun) > campaign.timers.run_most_s {
                    return Err(Refusal::RunTooLong.into());
                }
                if let (Work::File(started), Deed::File(file)) = (work, deed) {
                    laboratory.take_file(campaign.scans_per_strip)?;
                    let measured = started.measure(&campaign.timers, file.clone(), at)?;
                    let seen = laboratory.look(well, purpose, &measured).map_err(NotTaken::Failed)?;
                    let stage = after(well, begun, purpose, measured, &seen);
                    return Ok((stage, Some(seen)));
                }
                let work = worked_on(campaign, world, (purpose, work), deed, at)?;
                let (well, begun, purpose) = (well.clone(), begun.clone(), purpose.clone());
                Ok((Stage::AtWork { well, begun, purpose, work }, None))
            }
            _ => Err(Refusal::NotNow.into()),
        }
    }
}

/// A step on a strip before its file.
fn worked_on(
    campaign: &Campaign,
    world: &impl World,
    (purpose, work): (&Purpose, &Work),
    deed: &Deed,
    at: Moment,
) -> Result<Work, Refusal> {
    let timers = &campaign.timers;
    match (work, deed) {
        (Work::Strip, Deed::Strip { lot, number }) => {
            chosen(campaign, world, purpose, (lot, *number), at).map(Work::Temperature)
        }
        (Work::Temperature(chosen), Deed::Temperature { temperature_c }) => {
            chosen.temper(campaign, *temperature_c, at).map(Work::Rinse)
        }
        (Work::Rinse(tempered), Deed::Rinse) => tempered.rinse(timers, at).map(Work::Apply),
        (Work::Apply(rinsed), Deed::Apply) => rinsed.apply(timers, at).map(Work::Start),
        (Work::Start(applied), Deed::Start) => {
            if let Some(living) = purpose.living()
                && at.most_since_s(living.control().at()) > timers.control_most_s
            {
                return Err(Refusal::ControlTooOld);
            }
            applied.start(timers, at).map(Work::File)
        }
        _ => Err(Refusal::NotNow),
    }
}

fn chosen(
    campaign: &Campaign,
    world: &impl World,
    purpose: &Purpose,
    (lot, number): (&str, u32),
    at: Moment,
) -> Result<Chosen, Refusal> {
    if let Purpose::Second(_, first) = purpose
        && at.most_since_s(first.at()) > campaign.timers.second_most_s
    {
        return Err(Refusal::SecondTooLate);
    }
    let strip = strip_for(campaign, world, purpose, (lot, number), &at.day())?;
    Ok(Chosen::of(strip, at))
}

/// The strip of this lot and number, if it may be used for this purpose on a day.
pub(crate) fn strip_for(
    campaign: &Campaign,
    world: &impl World,
    purpose: &Purpose,
    (lot, number): (&str, u32),
    day: &str,
) -> Result<Known<Strip>, Refusal> {
    let strip = campaign.strip(lot, number, day)?;
    purpose.same_box(strip.get())?;
    if !world.strip_is_free(strip.get()) {
        return Err(Refusal::StripUsed { strip: strip.get().code() });
    }
    world.calibration_in_force(strip.get(), day)?;
    Ok(strip)
}

/// Where a measured strip leads.
fn after(
    well: &Known<Well>,
    begun: &Moment,
    purpose: &Purpose,
    measured: Measured,
    seen: &StepSeen,
) -> Stage {
    let again = |purpose: Purpose| Stage::AtWork {
        well: well.clone(),
        begun: begun.clone(),
        purpose,
        work: Work::Strip,
    };
    let unknown = |why: Why| Stage::Over(End::Unknown(why));
    match (purpose, seen) {
        (_, StepSeen::Unusable { .. }) => again(purpose.clone()),
        (Purpose::Control, StepSeen::Alive { .. }) => again(Purpose::Sample(Living::shown_by(measured))),
        (Purpose::Sample(living), StepSeen::SecondStrip { .. }) => {
            again(Purpose::Second(living.clone(), measured))
        }
        (Purpose::Sample(living), StepSeen::Issued { determination, .. }) => {
            result(well, living, vec![measured], *determination)
        }
        (Purpose::Second(living, first), StepSeen::Issued { determination, .. }) => {
            result(well, living, vec![first.clone(), measured], *determination)
        }
        (Purpose::Second(..), StepSeen::Disagree { .. }) => unknown(Why::Disagree),
        (_, StepSeen::Unknown { check, .. }) => unknown(Why::NoVerdict { check: check.clone() }),
        // "Not alive", and everything that cannot be said of such a strip.
        _ => unknown(Why::ControlNotAlive),
    }
}

fn result(well: &Known<Well>, living: &Living, strips: Vec<Measured>, determination: Digest) -> Stage {
    Stage::Over(End::Result { well: well.clone(), living: living.clone(), strips, determination })
}

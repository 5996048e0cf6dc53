//! A phone: draws names and keys, counts its steps, and keeps its own time.

use stillwell_field::{Answered, Handed, HandedIn, NotTaken, Outcome, Refusal, Run};
use stillwell_study::{StepAnswer, StepSeen, StepTime};

use crate::wells::{Dip, NOON_MS, Station};

/// A step that waits on the phone.
#[derive(Debug, Clone)]
pub(crate) struct Queued {
    pub(crate) place: u32,
    pub(crate) key: String,
    pub(crate) steady_ms: u64,
    pub(crate) device_clock_ms: i64,
    pub(crate) boot: String,
    pub(crate) deed: Own,
    pub(crate) label: Option<String>,
}

/// A deed that owns its words.
#[derive(Debug, Clone)]
pub(crate) enum Own {
    Well(String),
    Strip(String, u32),
    Temperature(f64),
    Rinse,
    Apply,
    Start,
    File(Vec<u8>),
    Abandon(stillwell_field::AbandonReason),
}

impl Own {
    fn handed(&self) -> Handed<'_> {
        match self {
            Self::Well(code) => Handed::Well(code),
            Self::Strip(lot, number) => Handed::Strip { lot, number: *number },
            Self::Temperature(temperature_c) => Handed::Temperature(*temperature_c),
            Self::Rinse => Handed::Rinse,
            Self::Apply => Handed::Apply,
            Self::Start => Handed::Start,
            Self::File(bytes) => Handed::File(bytes),
            Self::Abandon(reason) => Handed::Abandon(*reason),
        }
    }
}

pub(crate) struct Phone {
    pub(crate) run: String,
    pub(crate) device: &'static str,
    pub(crate) boot: String,
    /// Steady clock of the phone, and the receipt's clock, ms.
    pub(crate) steady_ms: u64,
    pub(crate) server_ms: i64,
    pub(crate) device_clock_ms: i64,
    pub(crate) place: u32,
}

impl Phone {
    pub(crate) fn new(run: &str) -> Self {
        Self::called(run, "phone 1")
    }

    pub(crate) fn called(run: &str, device: &'static str) -> Self {
        Self {
            run: format!("run-{run:0>6}"),
            device,
            boot: "boot-0001".to_owned(),
            steady_ms: 5_000_000,
            server_ms: NOON_MS,
            device_clock_ms: NOON_MS + 17_000,
            place: 0,
        }
    }

    pub(crate) fn wait(&mut self, seconds: u64) {
        self.steady_ms += 1000 * seconds;
        self.server_ms += 1000 * i64::try_from(seconds).unwrap();
        self.device_clock_ms += 1000 * i64::try_from(seconds).unwrap();
    }

    /// A step is taken and waits.
    pub(crate) fn queue(&mut self, deed: Own) -> Queued {
        self.place += 1;
        Queued {
            place: self.place,
            key: format!("key-{}-{:04}", self.run, self.place),
            steady_ms: self.steady_ms,
            device_clock_ms: self.device_clock_ms,
            boot: self.boot.clone(),
            deed,
            label: None,
        }
    }

    pub(crate) fn hand_in(&self, at: &mut Station, queued: &Queued) -> Result<Answered, NotTaken> {
        let handed = HandedIn {
            run: &self.run,
            place: queued.place,
            key: &queued.key,
            device: self.device,
            when: StepTime {
                boot: queued.boot.clone(),
                steady_ms: queued.steady_ms,
                handed_in_steady_ms: self.steady_ms,
                device_clock_ms: queued.device_clock_ms,
                received_ms: self.server_ms,
            },
            deed: queued.deed.handed(),
            label: queued.label.as_deref(),
        };
        at.field.hand_in(&mut at.study, &handed).unwrap()
    }

    /// A step with a link: taken and handed in at once.
    pub(crate) fn does(&mut self, at: &mut Station, deed: Own) -> Answered {
        self.wait(2);
        let queued = self.queue(deed);
        let answered = self.hand_in(at, &queued).unwrap();
        assert!(!answered.again);
        answered
    }

    /// The same, and it must be taken.
    pub(crate) fn goes_on(&mut self, at: &mut Station, deed: Own) -> Answered {
        let answered = self.does(at, deed);
        assert!(matches!(answered.answer, StepAnswer::Taken { .. }), "{:?}", answered.answer);
        answered
    }

    /// The same, and it must be refused with this code.
    pub(crate) fn is_refused(&mut self, at: &mut Station, deed: Own, code: &str) -> Answered {
        let answered = self.does(at, deed);
        assert!(Refusal::CODES.contains(&code));
        match &answered.answer {
            StepAnswer::Refused { code: found, .. } => assert_eq!(found, code),
            taken @ StepAnswer::Taken { .. } => panic!("{code} expected, {taken:?} found"),
        }
        answered
    }

    pub(crate) fn at_well(&mut self, at: &mut Station, code: &str) {
        self.goes_on(at, Own::Well(code.to_owned()));
    }

    /// One strip from the box to its file, in good order.
    pub(crate) fn measures(&mut self, at: &mut Station, dip: &Dip) -> Answered {
        steps_of(dip)
            .into_iter()
            .fold(None, |_, (wait, deed)| {
                self.wait(wait);
                Some(self.goes_on(at, deed))
            })
            .unwrap()
    }

    pub(crate) fn control(&mut self, at: &mut Station, strip: u32) {
        let answered = self.measures(at, &Dip::new(strip, 25.0));
        let alive = matches!(answered.answer, StepAnswer::Taken { seen: Some(StepSeen::Alive { .. }) });
        assert!(alive, "{:?}", answered.answer);
    }
}

pub(crate) fn outcome(at: &Station, run: &Run) -> Outcome {
    at.field.outcome(&at.study, run).unwrap().unwrap()
}

/// The steps of a strip, and how long to wait before each.
pub(crate) fn steps_of(dip: &Dip) -> Vec<(u64, Own)> {
    vec![
        (5, Own::Strip("K21A".to_owned(), dip.strip)),
        (20, Own::Temperature(dip.temperature_c)),
        (3, Own::Rinse),
        (15, Own::Apply),
        (65, Own::Start),
        (20, Own::File(dip.file(2))),
    ]
}

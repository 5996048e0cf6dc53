//! Every path of the state machine: an exhaustive search of its states, and random steps. What must never happen is checked on the
//! steps themselves, by an audit that knows nothing of the machine.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::sync::LazyLock;

use proptest::prelude::*;
use stillwell_field::{
    Campaign, End, FieldError, Known, Laboratory, Measured, Prompt, Purpose, Refusal, Run, Stage, Step,
    Strip, Well, World,
};
use stillwell_method::Method;
use stillwell_study::{Deed, Digest, FieldStep, StepAnswer, StepFile, StepSeen, StepTime};

use crate::wells::{NOON_MS, campaign_text, method_text};

static CAMPAIGN: LazyLock<Campaign> = LazyLock::new(|| {
    let method = Method::parse("method.toml", &method_text()).unwrap();
    Campaign::parse("campaign.toml", &campaign_text(), &method).unwrap()
});

/// A world that a test sets as it likes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Told {
    campaign: bool,
    calibration: bool,
    is_free: bool,
}

const ALL_WELL: Told = Told { campaign: true, calibration: true, is_free: true };

impl World for Told {
    fn campaign_in_force(&self, _: &str) -> Result<(), Refusal> {
        if self.campaign { Ok(()) } else { Err(Refusal::CampaignWithdrawn) }
    }

    fn calibration_in_force(&self, strip: &Strip, _: &str) -> Result<(), Refusal> {
        let lot = strip.lot.code.clone();
        if self.calibration { Ok(()) } else { Err(Refusal::CalibrationNotInForce { lot }) }
    }

    fn strip_is_free(&self, _: &Strip) -> bool {
        self.is_free
    }
}

/// A laboratory that says whatever it likes, fitting or not.
struct Says(StepSeen);

impl Laboratory for Says {
    fn take_file(&self, _: usize) -> Result<(), Refusal> {
        Ok(())
    }

    fn look(&mut self, _: &Known<Well>, _: &Purpose, _: &Measured) -> Result<StepSeen, FieldError> {
        Ok(self.0.clone())
    }
}

fn answers() -> Vec<StepSeen> {
    let hash = Digest::of(b"a record");
    let found = || "as a test says".to_owned();
    vec![
        StepSeen::Alive { found: found() },
        StepSeen::NotAlive { found: found() },
        StepSeen::Unusable { check: "drop-coverage".to_owned(), found: found() },
        StepSeen::SecondStrip { found: found() },
        StepSeen::Disagree { found: found() },
        StepSeen::Unknown { series: hash, determination: hash, check: "no-peak".to_owned(), found: found() },
        StepSeen::Issued { series: hash, determination: hash },
    ]
}

fn deeds() -> Vec<Deed> {
    let file =
        StepFile { name: "f".into(), raw: Digest::of(b"f"), reading: Some(Digest::of(b"r")), n_scans: 2 };
    let strip = |lot: &str, number| Deed::Strip { lot: lot.to_owned(), number };
    vec![
        Deed::Well { code: "AVW-11".into() },
        Deed::Well { code: "AVW-99".into() },
        strip("K21A", 101),
        strip("K21A", 110),
        strip("K21B", 201),
        strip("K99", 1),
        Deed::Temperature { temperature_c: 21.0 },
        Deed::Temperature { temperature_c: 33.0 },
        Deed::Rinse,
        Deed::Apply,
        Deed::Start,
        Deed::File(file),
        Deed::Abandon { why: "other".into() },
        Deed::Overdue,
    ]
}

/// Seconds before a step: from at once to beyond every timer.
const WAITS_S: [u64; 8] = [1, 10, 70, 200, 500, 2000, 4000, 8000];

#[derive(Debug, Clone)]
struct Taken {
    deed: Deed,
    when: StepTime,
    world: Told,
    answer: StepAnswer,
}

#[derive(Debug, Clone, Default)]
struct Walk {
    run: Run,
    steps: Vec<Taken>,
    at_s: u64,
    boot: u32,
}

impl Walk {
    fn on(&self, wait_s: u64, deed: &Deed, seen: &StepSeen, world: Told, restart: bool) -> Self {
        let mut next = self.clone();
        next.at_s += wait_s;
        next.boot += u32::from(restart);
        let when = StepTime {
            boot: format!("boot-{:04}", next.boot),
            steady_ms: 1000 * next.at_s,
            handed_in_steady_ms: 1000 * next.at_s,
            device_clock_ms: NOON_MS + 1000 * i64::try_from(next.at_s).unwrap(),
            received_ms: NOON_MS + 1000 * i64::try_from(next.at_s).unwrap(),
        };
        let step = Step { deed: deed.clone(), when: when.clone() };
        let (run, answer) = self.run.take(&CAMPAIGN, &step, &world, &mut Says(seen.clone())).unwrap();
        next.run = run;
        next.steps.push(Taken { deed: deed.clone(), when, world, answer });
        next
    }

    /// The state without its times, with what the last scan showed and the last strip and temperature taken: a wrong way into a
    /// state that a right way leads to as well must not hide behind it.
    fn state(&self) -> String {
        let (failed, refused) = self.run.failed_and_refused();
        let seen = self.steps.iter().rev().find_map(|step| match &step.answer {
            StepAnswer::Taken { seen: Some(seen) } => Some(std::mem::discriminant(seen)),
            _ => None,
        });
        let last_taken = |is_meant: fn(&Deed) -> bool| {
            let taken =
                |step: &&Taken| matches!(step.answer, StepAnswer::Taken { .. }) && is_meant(&step.deed);
            self.steps.iter().rev().find(taken).map(|step| &step.deed)
        };
        let strip = last_taken(|deed| matches!(deed, Deed::Strip { .. }));
        let temperature = last_taken(|deed| matches!(deed, Deed::Temperature { .. }));
        match (self.run.stage(), Prompt::of(&CAMPAIGN, &self.run)) {
            (Stage::Over(end), _) => format!("over: {}", end_word(end)),
            (_, Some(prompt)) => {
                let worn_out = refused.min(61) / 61;
                format!(
                    "{} {:?} {failed} {worn_out} {seen:?} {strip:?} {temperature:?}",
                    prompt.text, prompt.purpose
                )
            }
            other => panic!("{other:?}"),
        }
    }

    fn records(&self) -> Vec<FieldStep> {
        let record = |(place, step): (usize, &Taken)| FieldStep {
            campaign: Digest::of(b"campaign"),
            run: "run-000001".into(),
            place: u32::try_from(place).unwrap() + 1,
            key: format!("key-{place:06}"),
            device: "phone 1".into(),
            when: step.when.clone(),
            deed: step.deed.clone(),
            label: None,
            answer: step.answer.clone(),
        };
        self.steps.iter().enumerate().map(record).collect()
    }
}

fn end_word(end: &End) -> String {
    match end {
        End::Result { strips, .. } => format!("result of {}", strips.len()),
        End::Unknown(why) => why.word().to_owned(),
        End::Abandoned(_) => "abandoned".to_owned(),
        End::Overdue => "overdue".to_owned(),
    }
}

/// What must hold of the steps that led to a result, told from the steps alone.
fn audit(steps: &[Taken]) -> Result<(), String> {
    let timers = &CAMPAIGN.timers;
    let taken: Vec<&Taken> =
        steps.iter().filter(|step| matches!(step.answer, StepAnswer::Taken { .. })).collect();
    let seconds = |from: &Taken, to: &Taken| {
        if from.when.boot != to.when.boot {
            return f64::INFINITY;
        }
        (to.when.steady_ms - from.when.steady_ms) as f64 / 1000.0
    };
    if !matches!(taken.first(), Some(Taken { deed: Deed::Well { code }, .. }) if code == "AVW-11") {
        return Err("no well of the campaign came first".into());
    }
    if let Some(step) = taken.iter().find(|step| !step.world.campaign) {
        return Err(format!("{:?} while the campaign was not in force", step.deed));
    }
    let mut measured: Vec<(&Taken, &Taken, &StepSeen)> = Vec::new();
    for (at, step) in taken.iter().enumerate() {
        let StepAnswer::Taken { seen: Some(seen) } = &step.answer else { continue };
        let start = taken[..at].iter().rposition(|one| matches!(one.deed, Deed::Strip { .. }));
        let of_strip = &taken[start.ok_or("a file without a strip")?..=at];
        let words: Vec<&str> = of_strip.iter().map(|one| one.deed.word()).collect();
        let mut once = words.clone();
        once.dedup();
        if once != ["strip", "temperature", "rinse", "apply", "start", "file"] {
            return Err(format!("a file after {words:?}"));
        }
        let [.., temperature, rinse, apply, start, file] = of_strip else { return Err("too short".into()) };
        let Deed::Strip { lot, number } = &of_strip[0].deed else { return Err("no strip".into()) };
        if lot != "K21A" || *number == 110 || !of_strip[0].world.calibration || !of_strip[0].world.is_free {
            return Err(format!("strip {lot}-{number} must not be used"));
        }
        let Deed::Temperature { temperature_c } = temperature.deed else {
            return Err("no temperature".into());
        };
        let [low, high] = CAMPAIGN.temperature_c;
        let in_time = [
            (seconds(temperature, rinse), 0.0, timers.temperature_most_s),
            (seconds(rinse, apply), timers.rinse_least_s, timers.rinse_most_s),
            (seconds(apply, start), timers.wait_least_s, timers.wait_most_s),
            (seconds(start, file), timers.scan_least_s, timers.file_most_s),
        ];
        if !(low..=high).contains(&temperature_c) {
            return Err(format!("{temperature_c} °C"));
        }
        if let Some((found, least, most)) =
            in_time.iter().find(|(found, least, most)| !(least..=most).contains(&found))
        {
            return Err(format!("{found} s, {least} to {most} s allowed"));
        }
        measured.push((start, step, seen));
    }
    let control = measured.iter().rposition(|(_, _, seen)| matches!(seen, StepSeen::Alive { .. }));
    let (_, control_file, _) = measured[control.ok_or("no living control")?];
    let (last_start, _, last) = measured.last().ok_or("nothing measured")?;
    if !matches!(last, StepSeen::Issued { .. }) {
        return Err("no result was issued".into());
    }
    let received = |step: &Taken| step.when.received_ms as f64 / 1000.0;
    if received(last_start) - received(control_file) > timers.control_most_s {
        return Err("the control is too old".into());
    }
    let begun = taken[0];
    if received(last_start) - received(begun) > timers.run_most_s {
        return Err("the run is too long".into());
    }
    Ok(())
}

/// Every wait, deed and answer, with and without a restart of the device.
fn presses() -> Vec<(u64, Deed, StepSeen, bool)> {
    let mut all = Vec::new();
    for wait_s in WAITS_S {
        for deed in deeds() {
            let said = if matches!(deed, Deed::File(_)) { answers() } else { answers()[..1].to_vec() };
            all.extend(
                said.iter().flat_map(|seen| {
                    [false, true].map(|restart| (wait_s, deed.clone(), seen.clone(), restart))
                }),
            );
        }
    }
    all
}

#[test]
fn an_exhaustive_search_finds_every_end_and_no_way_around_a_step() {
    let mut queue = VecDeque::from([Walk::default()]);
    let mut seen_states: BTreeSet<String> = BTreeSet::from([Walk::default().state()]);
    let mut ends: BTreeMap<String, usize> = BTreeMap::new();
    let (mut n_steps, mut n_results) = (0, 0);
    while let Some(walk) = queue.pop_front() {
        let asked = Prompt::of(&CAMPAIGN, &walk.run).map(|prompt| prompt.deed);
        for (wait_s, deed, seen, restart) in presses() {
            let next = walk.on(wait_s, &deed, &seen, ALL_WELL, restart);
            n_steps += 1;
            if let Some(end) = next.run.end() {
                *ends.entry(end_word(end)).or_default() += 1;
            }
            if let Some(End::Result { .. }) = next.run.end() {
                n_results += 1;
                audit(&next.steps).unwrap();
            }
            // What is not asked for is refused and changes nothing but the count.
            let is_free = matches!(deed, Deed::Abandon { .. } | Deed::Overdue) || asked == Some(deed.word());
            assert!(is_free || matches!(next.steps.last().unwrap().answer, StepAnswer::Refused { .. }));
            if seen_states.insert(next.state()) {
                queue.push_back(next);
            }
        }
    }
    println!("{} states, {n_steps} steps, {n_results} results, ends: {ends:?}", seen_states.len());
    for end in [
        "result of 1",
        "result of 2",
        "control-not-alive",
        "strips-used-up",
        "disagree",
        "no-verdict",
        "second-too-late",
        "run-too-long",
        "abandoned",
        "overdue",
    ] {
        assert!(ends.contains_key(end), "{end} is never reached");
    }
    let known: BTreeSet<&str> = stillwell_field::Why::WORDS.into_iter().collect();
    assert!(ends.keys().all(|end| end.starts_with("result of") || known.contains(end.as_str())), "{ends:?}");
}

#[test]
fn a_device_that_never_stops_pressing_ends_the_run() {
    let mut walk = Walk::default();
    for _ in 0..70 {
        walk = walk.on(1, &Deed::Start, &answers()[0], ALL_WELL, false);
    }
    assert_eq!(walk.state(), "over: too-many-refused");
}

/// Mostly the step that is asked for, sometimes any: so that random walks get somewhere.
fn pressed() -> impl Strategy<Value = (usize, usize, usize, Told, bool, bool)> {
    let told = (prop::bool::weighted(0.97), prop::bool::weighted(0.95), prop::bool::weighted(0.95))
        .prop_map(|(campaign, calibration, is_free)| Told { campaign, calibration, is_free });
    (
        0..WAITS_S.len(),
        0..deeds().len(),
        0..answers().len(),
        told,
        prop::bool::weighted(0.02),
        prop::bool::weighted(0.8),
    )
}

/// The fitting step with a fitting wait, for most of a random walk.
fn fitting(walk: &Walk) -> Option<(u64, Deed)> {
    let prompt = Prompt::of(&CAMPAIGN, &walk.run)?;
    let deed = deeds().into_iter().find(|deed| deed.word() == prompt.deed)?;
    let wait_s = prompt.wait.map_or(5.0, |wait| wait.least_s + 3.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a small positive number of seconds"
    )]
    Some((wait_s as u64, deed))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    #[test]
    fn random_steps_never_lead_around_control_temperature_expiry_or_timers(
        presses in prop::collection::vec(pressed(), 1..60),
    ) {
        let mut walk = Walk::default();
        for (wait, deed, seen, world, restart, fits) in presses {
            let any = (WAITS_S[wait], deeds()[deed].clone());
            let (wait_s, deed) = if fits { fitting(&walk).unwrap_or(any) } else { any };
            let before = walk.run.clone();
            // A laboratory that favours no answer would hardly ever see a living control.
            let seen = if seen > 3 && walk.steps.len() < 8 { 0 } else { seen };
            walk = walk.on(wait_s, &deed, &answers()[seen], world, restart);
            if let Some(end) = walk.run.end() {
                if let End::Result { living, strips, .. } = end {
                    let found = audit(&walk.steps);
                    if before.end().is_none() {
                        prop_assert_eq!(found, Ok(()));
                    }
                    prop_assert!((1..=2).contains(&strips.len()));
                    prop_assert!(strips.iter().all(|strip| strip.strip().lot == living.control().strip().lot));
                }
                if before.end().is_some() {
                    prop_assert_eq!(before.end(), walk.run.end(), "an end is an end");
                }
            }
        }
        // The ledger alone gives the same run.
        let again = Run::of_record(&CAMPAIGN, &walk.records()).unwrap();
        prop_assert_eq!(again, walk.run);
    }
}

#[test]
fn random_walks_do_reach_results() {
    // The property above would prove nothing if no walk got there.
    let mut walk = Walk::default();
    let issued = answers().len() - 1;
    while walk.run.end().is_none() {
        let (wait_s, deed) = fitting(&walk).unwrap();
        let is_control = Prompt::of(&CAMPAIGN, &walk.run).unwrap().purpose == Some("control");
        walk = walk.on(wait_s, &deed, &answers()[if is_control { 0 } else { issued }], ALL_WELL, false);
    }
    assert_eq!(walk.state(), "over: result of 1");
    audit(&walk.steps).unwrap();
    // And the audit is no rubber stamp: without any one of its steps it refuses.
    for left_out in 0..walk.steps.len() {
        let mut steps = walk.steps.clone();
        steps.remove(left_out);
        assert!(audit(&steps).is_err(), "nobody missed {:?}", walk.steps[left_out].deed);
    }
}

//! The table of the README: each fault planted in a run with the study's own chain, and the sentences that the operator then reads.

use std::collections::BTreeSet;

use stillwell_field::{
    AbandonReason, Answered, End, Labels, Language, Refusal, Texts, Unpicked, Verdict, Why,
};
use stillwell_study::{By, Delivery, StepAnswer, StepSeen};
use stillwell_twin::Fault;

use crate::phone::{Own, Phone, steps_of};
use crate::wells::{Dip, Station, analyst};

struct Row {
    fault: &'static str,
    plays: fn(&mut Station, &mut Phone) -> Answered,
}

fn last(phone: &mut Phone, at: &mut Station, deed: Own) -> Answered {
    phone.does(at, deed)
}

fn at_strip(phone: &mut Phone, at: &mut Station) {
    phone.at_well(at, "AVW-11");
}

/// Up to but without the step of this word, on a control strip.
fn until(phone: &mut Phone, at: &mut Station, word: &str) {
    at_strip(phone, at);
    for (wait, deed) in steps_of(&Dip::new(101, 25.0)) {
        let here = match deed {
            Own::Strip(..) => "strip",
            Own::Temperature(_) => "temperature",
            Own::Rinse => "rinse",
            Own::Apply => "apply",
            Own::Start => "start",
            _ => "file",
        };
        if here == word {
            return;
        }
        phone.wait(wait);
        phone.goes_on(at, deed);
    }
}

fn sample(phone: &mut Phone, at: &mut Station, dips: &[Dip]) -> Answered {
    at_strip(phone, at);
    phone.control(at, 101);
    dips.iter().map(|dip| phone.measures(at, dip)).last().unwrap()
}

const HALF: Fault = Fault::PartialCoverage { wetted_share: 0.5 };

/// A day, ms.
const DAY_MS: i64 = 86_400_000;

const ROWS: [Row; 48] = [
    Row { fault: "none; water below the limit", plays: |at, p| sample(p, at, &[Dip::new(102, 17.6)]) },
    Row { fault: "none; water above the limit", plays: |at, p| sample(p, at, &[Dip::new(102, 78.0)]) },
    Row {
        fault: "none; more than the strips can measure",
        plays: |at, p| sample(p, at, &[Dip::new(102, 148.0)]),
    },
    Row { fault: "none; no nitrate, first strip", plays: |at, p| sample(p, at, &[Dip::new(102, 0.0)]) },
    Row {
        fault: "none; no nitrate, second strip",
        plays: |at, p| sample(p, at, &[Dip::new(102, 0.0), Dip::new(103, 0.0)]),
    },
    Row { fault: "near the limit, first strip", plays: |at, p| sample(p, at, &[Dip::new(102, 40.0)]) },
    Row {
        fault: "near the limit, two strips that agree",
        plays: |at, p| sample(p, at, &[Dip::new(102, 40.0), Dip::new(103, 40.0)]),
    },
    Row {
        fault: "at the limit, two strips that agree",
        plays: |at, p| sample(p, at, &[Dip::new(102, 49.3), Dip::new(103, 49.3)]),
    },
    Row {
        fault: "near the limit, two strips that disagree",
        plays: |at, p| sample(p, at, &[Dip::new(102, 60.0), Dip::new(103, 40.0)]),
    },
    Row {
        fault: "dead strip in the control vial",
        plays: |at, p| {
            at_strip(p, at);
            p.measures(at, &Dip::new(101, 25.0).with(Fault::DeadStrip))
        },
    },
    Row {
        fault: "dead strip in water over the limit",
        plays: |at, p| sample(p, at, &[Dip::new(102, 80.0).with(Fault::DeadStrip), Dip::new(103, 80.0)]),
    },
    Row { fault: "half covered strip", plays: |at, p| sample(p, at, &[Dip::new(102, 78.0).with(HALF)]) },
    Row {
        fault: "a plug that picks up the mains",
        plays: |at, p| {
            let hum = Fault::MainsPickup { amplitude_a: 3e-6, frequency_hz: 53.0 };
            sample(p, at, &[Dip::new(102, 78.0).with(hum)])
        },
    },
    Row {
        fault: "three half covered strips",
        plays: |at, p| sample(p, at, &[102, 103, 104].map(|strip| Dip::new(strip, 78.0).with(HALF))),
    },
    Row { fault: "wrong well", plays: |at, p| last(p, at, Own::Well("AVW-99".into())) },
    Row {
        fault: "strip of an expired box",
        plays: |at, p| {
            at_strip(p, at);
            last(p, at, Own::Strip("K21B".into(), 201))
        },
    },
    Row {
        fault: "strip that was called back",
        plays: |at, p| {
            at_strip(p, at);
            last(p, at, Own::Strip("K21A".into(), 110))
        },
    },
    Row {
        fault: "box that the campaign does not know",
        plays: |at, p| {
            at_strip(p, at);
            last(p, at, Own::Strip("K99".into(), 101))
        },
    },
    Row {
        fault: "strip that was used",
        plays: |at, p| {
            sample(p, at, &[Dip::new(102, 40.0)]);
            last(p, at, Own::Strip("K21A".into(), 102))
        },
    },
    Row {
        fault: "warm sample",
        plays: |at, p| {
            until(p, at, "temperature");
            last(p, at, Own::Temperature(34.0))
        },
    },
    Row {
        fault: "scan started before the wait is over",
        plays: |at, p| {
            until(p, at, "start");
            p.wait(30);
            last(p, at, Own::Start)
        },
    },
    Row {
        fault: "scan started far too late",
        plays: |at, p| {
            until(p, at, "start");
            p.wait(900);
            last(p, at, Own::Start)
        },
    },
    Row {
        fault: "step left out",
        plays: |at, p| {
            until(p, at, "temperature");
            last(p, at, Own::Rinse)
        },
    },
    Row {
        fault: "phone restarted during the wait",
        plays: |at, p| {
            until(p, at, "start");
            p.boot = "boot-0002".into();
            p.wait(70);
            last(p, at, Own::Start)
        },
    },
    Row {
        fault: "file of another strip",
        plays: |at, p| {
            sample(p, at, &[Dip::new(102, 40.0)]);
            let dip = Dip::new(103, 40.0);
            for (wait, deed) in steps_of(&dip).into_iter().take(5) {
                p.wait(wait);
                p.goes_on(at, deed);
            }
            p.wait(20);
            last(p, at, Own::File(Dip::new(102, 40.0).file(2)))
        },
    },
    Row {
        fault: "file that holds no scan",
        plays: |at, p| {
            until(p, at, "file");
            p.wait(20);
            last(p, at, Own::File(b"holiday".to_vec()))
        },
    },
    Row {
        fault: "run given up",
        plays: |at, p| {
            at_strip(p, at);
            last(p, at, Own::Abandon(AbandonReason::Spilt))
        },
    },
    Row {
        fault: "calibration withdrawn",
        plays: |at, p| {
            at_strip(p, at);
            let calibration = at.study.calibration("1").unwrap().record.hash;
            at.study
                .withdraw(&calibration, &By::new("Ines Field", "standard 50 was mixed up").unwrap())
                .unwrap();
            last(p, at, Own::Strip("K21A".into(), 101))
        },
    },
    Row {
        fault: "cold sample",
        plays: |at, p| {
            until(p, at, "temperature");
            last(p, at, Own::Temperature(4.0))
        },
    },
    Row {
        fault: "a temperature that no probe shows",
        plays: |at, p| {
            until(p, at, "temperature");
            last(p, at, Own::Temperature(210.0))
        },
    },
    Row {
        fault: "number that the box does not hold",
        plays: |at, p| {
            at_strip(p, at);
            last(p, at, Own::Strip("K21A".into(), 99))
        },
    },
    Row {
        fault: "strip of another box than the control's",
        plays: |at, p| {
            // While both boxes are in their time.
            p.server_ms -= 20 * DAY_MS;
            at_strip(p, at);
            p.control(at, 101);
            last(p, at, Own::Strip("K21B".into(), 201))
        },
    },
    Row {
        fault: "strip that the desk used",
        plays: |at, p| {
            let desk = tempfile::tempdir().unwrap();
            std::fs::write(desk.path().join("check.txt"), Dip::new(120, 25.0).file(1)).unwrap();
            let sheet = "file,scan,role,sample,lot,electrode,electrode_scan,date,temperature_c\n\
                         check.txt,1,sample,desk check,L21,L21-120,1,2026-07-01,21.0\n";
            std::fs::write(desk.path().join("run-sheet.csv"), sheet).unwrap();
            at.study.add(&Delivery::of_folder(desk.path()).unwrap(), &analyst(), |_| {}).unwrap();
            at_strip(p, at);
            last(p, at, Own::Strip("K21A".into(), 120))
        },
    },
    Row {
        fault: "strip that another phone holds",
        plays: |at, p| {
            let mut other = Phone::called("other", "phone 2");
            other.at_well(at, "AVW-12");
            other.goes_on(at, Own::Strip("K21A".into(), 101));
            at_strip(p, at);
            last(p, at, Own::Strip("K21A".into(), 101))
        },
    },
    Row {
        fault: "a step after the end",
        plays: |at, p| {
            at_strip(p, at);
            p.goes_on(at, Own::Abandon(AbandonReason::Spilt));
            last(p, at, Own::Strip("K21A".into(), 101))
        },
    },
    Row {
        fault: "campaign that is not approved",
        plays: |at, p| {
            *at = Station::unapproved();
            last(p, at, Own::Well("AVW-11".into()))
        },
    },
    Row {
        fault: "campaign that was withdrawn",
        plays: |at, p| {
            let campaign = at.study.campaign("1").unwrap().record.hash;
            at.study.withdraw(&campaign, &analyst()).unwrap();
            last(p, at, Own::Well("AVW-11".into()))
        },
    },
    Row {
        fault: "campaign past its last day",
        plays: |at, p| {
            p.server_ms += 90 * DAY_MS;
            last(p, at, Own::Well("AVW-11".into()))
        },
    },
    Row {
        fault: "calibration withdrawn while its strip is measured",
        plays: |at, p| {
            at_strip(p, at);
            p.control(at, 101);
            for (wait, deed) in steps_of(&Dip::new(102, 17.6)).into_iter().take(5) {
                p.wait(wait);
                p.goes_on(at, deed);
            }
            let calibration = at.study.calibration("1").unwrap().record.hash;
            at.study.withdraw(&calibration, &analyst()).unwrap();
            p.wait(20);
            last(p, at, Own::File(Dip::new(102, 17.6).file(2)))
        },
    },
    Row {
        fault: "control more than an hour old",
        plays: |at, p| {
            at_strip(p, at);
            p.control(at, 101);
            p.wait(4000);
            for (wait, deed) in steps_of(&Dip::new(102, 17.6)).into_iter().take(4) {
                p.wait(wait);
                p.goes_on(at, deed);
            }
            p.wait(65);
            last(p, at, Own::Start)
        },
    },
    Row {
        fault: "second strip too late",
        plays: |at, p| {
            sample(p, at, &[Dip::new(102, 40.0)]);
            p.wait(1900);
            last(p, at, Own::Strip("K21A".into(), 103))
        },
    },
    Row {
        fault: "a run of more than two hours",
        plays: |at, p| {
            at_strip(p, at);
            p.wait(7300);
            last(p, at, Own::Strip("K21A".into(), 101))
        },
    },
    Row {
        fault: "phone whose clock runs away",
        plays: |at, p| {
            until(p, at, "start");
            p.steady_ms += 120_000;
            last(p, at, Own::Start)
        },
    },
    Row {
        fault: "steps that waited on the phone for four days",
        plays: |at, p| {
            let queued = p.queue(Own::Well("AVW-11".into()));
            p.wait(4 * 86_400);
            p.hand_in(at, &queued).unwrap()
        },
    },
    Row {
        fault: "file with one scan instead of two",
        plays: |at, p| {
            until(p, at, "file");
            p.wait(20);
            last(p, at, Own::File(Dip::new(101, 25.0).file(1)))
        },
    },
    Row {
        fault: "sixty steps refused",
        plays: |at, p| {
            at_strip(p, at);
            (0..61).map(|_| last(p, at, Own::Rinse)).last().unwrap()
        },
    },
    Row {
        fault: "a run that nobody went on with",
        plays: |at, p| {
            at_strip(p, at);
            at.field.close_overdue(&mut at.study, p.server_ms + 4 * DAY_MS).unwrap();
            let run = at.field.runs(&at.study).unwrap().remove(&p.run).unwrap();
            Answered { again: false, answer: StepAnswer::Taken { seen: None }, run }
        },
    },
    Row {
        fault: "calibration withdrawn after the result",
        plays: |at, p| {
            let answered = sample(p, at, &[Dip::new(102, 17.6)]);
            let calibration = at.study.calibration("1").unwrap().record.hash;
            at.study.withdraw(&calibration, &analyst()).unwrap();
            answered
        },
    },
];

fn sentences(at: &Station, answered: &Answered) -> String {
    let texts = Texts::of(Language::English).unwrap();
    if let Some(outcome) = at.field.outcome(&at.study, &answered.run).unwrap() {
        // Identity, call and caution are the same for all: the first sentences tell.
        return texts.outcome(&outcome).into_iter().take(4).collect::<Vec<_>>().join(" / ");
    }
    let words = texts.answer(&answered.answer).unwrap();
    format!("{} / {}", words.says, words.to_do)
}

/// What the operator was told, as the words in the keys of texts.
fn told(at: &Station, answered: &Answered) -> String {
    match (&answered.answer, answered.run.end()) {
        (StepAnswer::Refused { .. }, Some(End::Unknown(why))) => format!("why-{}", why.word()),
        (StepAnswer::Refused { code, .. }, _) => format!("refusal-{code}"),
        (_, Some(_)) => match at.field.outcome(&at.study, &answered.run).unwrap().unwrap() {
            stillwell_field::Outcome::Known(result) => format!("verdict-{}", result.verdict.word()),
            stillwell_field::Outcome::Unknown(why) => format!("why-{}", why.word()),
            stillwell_field::Outcome::NoLonger => "why-no-longer".to_owned(),
        },
        (StepAnswer::Taken { seen: Some(StepSeen::Unusable { check, .. }) }, _) => {
            if check == "drop-coverage" { "seen-not-covered" } else { "seen-unusable" }.to_owned()
        }
        (StepAnswer::Taken { seen: Some(StepSeen::SecondStrip { .. }) }, _) => "seen-second-strip".to_owned(),
        (answer, _) => format!("{answer:?}"),
    }
}

/// A scanned label: which run it is scanned in, and its text made of one of the campaign's.
struct LabelRow {
    fault: &'static str,
    is_at_strip: bool,
    label: fn(&Labels) -> String,
}

const LABEL_ROWS: [LabelRow; 6] = [
    LabelRow {
        fault: "label of another study's well of the same code",
        is_at_strip: false,
        label: |all| with_part(&all.wells[0].0.text(), 2, "0123456789ABCDEF"),
    },
    LabelRow {
        fault: "label of a well that is not on this list",
        is_at_strip: false,
        label: |all| with_part(&all.wells[0].0.text(), 4, "AVW-77"),
    },
    LabelRow {
        fault: "label whose code was given to another well since",
        is_at_strip: false,
        label: |all| with_part(&all.wells[0].0.text(), 3, "00000000"),
    },
    LabelRow {
        fault: "label of a box where the well is asked for",
        is_at_strip: false,
        label: |all| all.boxes[0].0.text(),
    },
    LabelRow {
        fault: "label of a well where a strip is asked for",
        is_at_strip: true,
        label: |all| all.wells[0].0.text(),
    },
    LabelRow { fault: "some other code", is_at_strip: false, label: |_| "4006381333931".to_owned() },
];

fn with_part(text: &str, place: usize, part: &str) -> String {
    let mut parts: Vec<&str> = text.split(':').collect();
    parts[place] = part;
    parts.join(":")
}

fn label_line(row: &LabelRow, number: usize) -> (String, String) {
    let mut at = Station::new();
    let mut phone = Phone::new(&format!("label{number}"));
    if row.is_at_strip {
        at_strip(&mut phone, &mut at);
    }
    let text = (row.label)(&at.field.labels());
    let why = at.field.pick(&at.study, &phone.run, &text, "2026-07-06").unwrap().unwrap_err();
    let (key, with) = why.text();
    let words = Texts::of(Language::English).unwrap().words(&key, &with);
    assert!(at.study.field_steps().unwrap().len() == usize::from(row.is_at_strip), "no step");
    (key, format!("| {} | {} / {} | goes on, nothing recorded |", row.fault, words.says, words.to_do))
}

fn line(row: &Row, number: usize) -> (String, String) {
    let mut at = Station::new();
    let mut phone = Phone::new(&format!("row{number}"));
    let answered = (row.plays)(&mut at, &mut phone);
    let kept = match &answered.answer {
        _ if answered.run.end().is_some() => "over",
        StepAnswer::Taken { .. } => "goes on",
        StepAnswer::Refused { .. } => "goes on, step not taken",
    };
    // A reading error is worded by the reader of scans and may name more than the table needs.
    let said = sentences(&at, &answered);
    let said = said.split_once("cannot be read:").map_or(said.clone(), |(start, rest)| {
        format!("{start}cannot be read: … / {}", rest.rsplit(" / ").next().unwrap_or(""))
    });
    (told(&at, &answered), format!("| {} | {} | {kept} |", row.fault, said))
}

/// What must stand in the table: everything that a step, a scan or an end may answer.
fn all_answers() -> BTreeSet<String> {
    let mut all: BTreeSet<String> = Refusal::CODES.iter().map(|code| format!("refusal-{code}")).collect();
    all.extend(Why::WORDS.iter().map(|word| format!("why-{word}")));
    all.extend(Verdict::ALL.iter().map(|verdict| format!("verdict-{}", verdict.word())));
    all.extend(Unpicked::TEXTS.map(str::to_owned));
    all.extend(
        ["why-no-longer", "seen-not-covered", "seen-unusable", "seen-second-strip"].map(str::to_owned),
    );
    // These two end the run: what is said then is the end's text.
    all.remove("refusal-second-too-late");
    all.remove("refusal-run-too-long");
    all
}

#[test]
fn the_readme_shows_what_the_operator_sees_at_each_fault() {
    let readme = include_str!("../../README.md");
    let mut rows: Vec<(String, String)> =
        ROWS.iter().enumerate().map(|(number, row)| line(row, number)).collect();
    rows.extend(LABEL_ROWS.iter().enumerate().map(|(number, row)| label_line(row, number)));
    let (told, lines): (BTreeSet<String>, Vec<String>) = rows.into_iter().unzip();
    let missing: Vec<&String> = lines.iter().filter(|line| !readme.contains(line.as_str())).collect();
    assert!(missing.is_empty(), "the README should have\n{}", lines.join("\n"));
    let section = readme.split("\n## ").find(|part| part.starts_with("Fault by fault")).unwrap();
    assert_eq!(section.lines().filter(|line| line.starts_with("| ")).count(), lines.len() + 2);
    let left_out: Vec<String> = all_answers().difference(&told).cloned().collect();
    assert!(left_out.is_empty(), "no row of the table shows {left_out:?}");
}

/// The other table of the README, on what goes wrong around a run: every sentence in it is a text of the pages.
#[test]
fn the_readme_quotes_the_pages_as_they_are() {
    let readme = include_str!("../../README.md");
    let section = readme.split("\n## ").find(|part| part.starts_with("On the phone")).unwrap();
    let texts = include_str!("../../texts/en.ftl");
    let rows = section.lines().filter(|line| line.starts_with("| ")).skip(2);
    let quotes: Vec<&str> =
        rows.flat_map(|row| row.split('“').skip(1).filter_map(|rest| rest.split('”').next())).collect();
    assert!(quotes.len() >= 12, "{quotes:?}");
    for quote in quotes {
        assert!(
            texts.lines().any(|line| line.split_once(" = ").is_some_and(|(_, text)| text == quote)),
            "{quote}"
        );
    }
}

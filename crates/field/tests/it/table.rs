//! The table of the README: each fault planted in a run with the study's own chain, and the sentences that the operator then reads.

use stillwell_field::{AbandonReason, Language, Texts};
use stillwell_study::{By, StepAnswer};
use stillwell_twin::Fault;

use crate::phone::{Own, Phone, steps_of};
use crate::wells::{Dip, Station};

struct Row {
    fault: &'static str,
    plays: fn(&mut Station, &mut Phone) -> stillwell_field::Answered,
}

fn last(phone: &mut Phone, at: &mut Station, deed: Own) -> stillwell_field::Answered {
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

fn sample(phone: &mut Phone, at: &mut Station, dips: &[Dip]) -> stillwell_field::Answered {
    at_strip(phone, at);
    phone.control(at, 101);
    dips.iter().map(|dip| phone.measures(at, dip)).last().unwrap()
}

const HALF: Fault = Fault::PartialCoverage { wetted_share: 0.5 };

const ROWS: [Row; 27] = [
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
];

fn sentences(at: &Station, answered: &stillwell_field::Answered) -> String {
    let texts = Texts::of(Language::English).unwrap();
    if let Some(outcome) = at.field.outcome(&at.study, &answered.run).unwrap() {
        // Identity, call and caution are the same for all: the first sentences tell.
        return texts.outcome(&outcome).into_iter().take(4).collect::<Vec<_>>().join(" / ");
    }
    let words = texts.answer(&answered.answer).unwrap();
    format!("{} / {}", words.says, words.to_do)
}

fn line(row: &Row, number: usize) -> String {
    let mut at = Station::new();
    let mut phone = Phone::new(&format!("row{number}"));
    let answered = (row.plays)(&mut at, &mut phone);
    let kept = match &answered.answer {
        StepAnswer::Taken { .. } if answered.run.end().is_some() => "over",
        StepAnswer::Taken { .. } => "goes on",
        StepAnswer::Refused { .. } => "goes on, step not taken",
    };
    // A reading error is worded by the reader of scans and may name more than the table needs.
    let said = sentences(&at, &answered);
    let said = said.split_once("can not be read:").map_or(said.clone(), |(start, rest)| {
        format!("{start}can not be read: … / {}", rest.rsplit(" / ").next().unwrap_or(""))
    });
    format!("| {} | {} | {kept} |", row.fault, said)
}

#[test]
fn the_readme_shows_what_the_operator_sees_at_each_fault() {
    let readme = include_str!("../../README.md");
    let lines: Vec<String> = ROWS.iter().enumerate().map(|(number, row)| line(row, number)).collect();
    let missing: Vec<&String> = lines.iter().filter(|line| !readme.contains(line.as_str())).collect();
    assert!(missing.is_empty(), "the README should have\n{}", lines.join("\n"));
    let section = readme.split("\n## ").find(|part| part.starts_with("Fault by fault")).unwrap();
    assert_eq!(section.lines().filter(|line| line.starts_with("| ")).count(), lines.len() + 2);
}

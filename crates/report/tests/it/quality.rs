//! The four answers of quality over time: what they say of the invented year and of its parts.

use std::fs;
use std::ops::ControlFlow;

use stillwell_report::quality::{
    AnswerGrade, Compared, Quality, comparison_answer, control_answer, lots_answer, validation_answer,
};
use stillwell_study::{By, Clock, Delivery, Study};

/// The year up to a batch, by a method whose text may be spoilt, with a laboratory's file.
fn judged(last_batch: u32, spoil: impl Fn(&str) -> String, reported: Option<&str>) -> Quality {
    let year = stillwell_house::repository().join("examples/alder-vale-year");
    let place = tempfile::tempdir().unwrap();
    let from = place.path().join("from");
    fs::create_dir(&from).unwrap();
    let sheet = fs::read_to_string(year.join("run-sheet.csv")).unwrap();
    let is_kept = |line: &&str| {
        let batch: u32 = line.split(',').nth(10).and_then(|batch| batch.parse().ok()).unwrap_or(0);
        batch <= last_batch
    };
    let kept: Vec<&str> = sheet.lines().filter(is_kept).collect();
    for line in kept.iter().skip(1) {
        let name = line.split(',').next().unwrap();
        fs::copy(year.join(name), from.join(name)).unwrap();
    }
    fs::write(from.join("run-sheet.csv"), kept.join("\n") + "\n").unwrap();
    let method = spoil(&fs::read_to_string(year.join("method.toml")).unwrap());
    let by = By::new("Ines Field", "routine measurement").unwrap();
    let path = place.path().join("year.study");
    let mut study = Study::create(&path, "year", &method, &by, Clock::system()).unwrap();
    study.add(&Delivery::of_folder(&from).unwrap(), &by, |_| {}).unwrap();
    if let Some(reported) = reported {
        study.record_laboratory("report.csv", reported.as_bytes(), "", &by).unwrap();
    }
    let walked = study.walk_in_time(&mut |_, _| ControlFlow::Continue(())).unwrap();
    Quality::of(&study, &walked.method, &walked.walks()).unwrap()
}

#[test]
fn up_to_september_the_method_is_in_control_and_only_one_lot_is_there() {
    let quality = judged(9, str::to_owned, None);
    let control = control_answer(&quality.charts);
    assert_eq!(control.grade, AnswerGrade::Holds, "{control:?}");
    assert!(control.words.contains("charts withhold no verdict"), "{control:?}");
    assert_eq!(control.since, "Limits from the first 8 points of each chart.");
    let lots = lots_answer(&quality.lots);
    assert_eq!(lots.grade, AnswerGrade::Open);
    assert!(lots.words.contains("only one lot, L30"), "{lots:?}");
    assert!(lots.next.starts_with("Measure strips of another lot"), "{lots:?}");
}

#[test]
fn in_october_it_is_out_of_control_since_that_batch() {
    let control = control_answer(&judged(10, str::to_owned, None).charts);
    assert_eq!(control.grade, AnswerGrade::Stops, "{control:?}");
    assert_eq!(control.since, "Since batch 10 of 2025-10-14.");
    assert!(control.words.contains("6 verdicts are withheld"), "{control:?}");
}

#[test]
fn without_a_training_period_charts_withhold_nothing_and_the_answer_says_so() {
    let plain = |text: &str| {
        text.lines()
            .filter(|line| !line.starts_with("chart_training_points"))
            .fold(String::new(), |all, line| all + line + "\n")
    };
    let quality = judged(9, plain, None);
    assert!(!quality.charts.is_stated);
    let control = control_answer(&quality.charts);
    assert_eq!(control.grade, AnswerGrade::Look);
    assert!(control.next.contains("chart_training_points"), "{control:?}");
}

#[test]
fn a_few_batches_are_too_few_to_judge() {
    let quality = judged(3, str::to_owned, None);
    let control = control_answer(&quality.charts);
    assert_eq!(control.grade, AnswerGrade::Open);
    assert!(control.words.starts_with("Not judged yet"), "{control:?}");
    let validation = validation_answer(&quality.validation);
    assert_eq!(validation.grade, AnswerGrade::Look);
    assert!(
        validation.words.contains("not shown: ") && validation.since.contains("3 days"),
        "{validation:?}"
    );
}

#[test]
fn what_a_comparison_lacks_is_named() {
    let quality = judged(3, str::to_owned, None);
    assert!(matches!(quality.comparison, Compared::NoLaboratory));
    let one = "sample,value,unit,u\nAV-11-01,22.0,mg/L as NO3-,0.4\n";
    let answer = comparison_answer(&judged(3, str::to_owned, Some(one)).comparison);
    assert_eq!(answer.grade, AnswerGrade::Open);
    assert!(
        answer.words.starts_with("Too few pairs to say") && answer.since.starts_with("Rests on record 1 of "),
        "{answer:?}"
    );
    let no_margin = |text: &str| {
        text.lines()
            .filter(|line| !line.starts_with("bias_percent"))
            .fold(String::new(), |all, line| all + line + "\n")
    };
    let quality = judged(3, no_margin, Some(one));
    assert!(matches!(quality.comparison, Compared::NoMargin { .. }));
    assert!(comparison_answer(&quality.comparison).next.contains("bias_percent"));
    let none = "sample,value,unit,u\nelsewhere,22.0,mg/L as NO3-,0.4\n";
    let answer = comparison_answer(&judged(3, str::to_owned, Some(none)).comparison);
    assert!(
        answer.words.contains("finds no partner") || answer.words.starts_with("Not compared"),
        "{answer:?}"
    );
}

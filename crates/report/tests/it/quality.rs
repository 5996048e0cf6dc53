//! The four answers of quality over time: what they say of the invented year and of its parts.

use std::fs;
use std::ops::ControlFlow;

use stillwell_report::quality::{
    AnswerGrade, Compared, Quality, WordsTable, charts_table, comparison_answer, control_answer, held_table,
    lots_answer, lots_table, pairs_table, validation_answer, validation_table,
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

/// What stands in a column of a table under its head.
fn column(table: &WordsTable, head: &str) -> Vec<String> {
    let at = table.columns.iter().position(|(title, _)| *title == head).unwrap();
    assert!(table.rows.iter().all(|row| row.len() == table.columns.len()), "{table:?}");
    table.rows.iter().map(|row| row[at].clone()).collect()
}

#[test]
fn every_cell_of_a_table_stands_under_its_head() {
    let year = stillwell_house::repository().join("examples/alder-vale-year");
    let reported = fs::read_to_string(year.join("comparison.csv")).unwrap();
    let quality = judged(99, str::to_owned, Some(&reported));
    let charts = charts_table(&quality.charts);
    assert_eq!(column(&charts, "Chart")[0], "blank, channel 1");
    assert_eq!(column(&charts, "State")[0], "OUT OF CONTROL");
    assert!(column(&charts, "Points").iter().all(|n| n.parse::<usize>().is_ok_and(|n| n >= 12)));
    assert!(column(&charts, "Newest rule that fired, and since when")[0].starts_with("alarm: "));
    assert!(column(&charts, "Gates verdicts").iter().all(|gates| gates == "yes" || gates.starts_with("no")));
    let held = held_table(&quality.charts, &["1".to_owned()]);
    assert!(column(&held, "Samples")[0].contains("AV-11-09 (batch 9)"), "{held:?}");
    assert!(column(&held, "Why").iter().all(|why| why.contains("failed")), "{held:?}");
    let lots = lots_table(quality.lots.as_ref().unwrap());
    assert_eq!(
        (column(&lots, "Lot"), column(&lots, "Verdict")),
        (vec!["L31".into()], vec!["NOT EQUIVALENT".into()])
    );
    assert_eq!(column(&lots, "Margin / %"), ["±6"]);
    let validation = validation_table(&quality.validation.table);
    assert!(
        column(&validation, "Verdict")
            .iter()
            .all(|verdict| verdict.starts_with("met") || verdict.starts_with("not ")),
        "{validation:?}"
    );
    assert!(
        column(&validation, "Asked, and by whom")
            .iter()
            .all(|asked| asked.contains("requirements before the first sample"))
    );
    assert!(column(&validation, "Found").iter().any(|found| found.contains("from 24 determinations")));
    let Compared::Made { review, .. } = &quality.comparison else { panic!("no comparison") };
    let pairs = pairs_table(review);
    assert_eq!(column(&pairs, "In words").iter().filter(|words| *words == "fits").count(), 15);
    assert!(column(&pairs, "Laboratory").contains(&"< 25.0".to_owned()), "{pairs:?}");
    assert!(column(&pairs, "Ours").iter().all(|ours| ours.contains('±')), "{pairs:?}");
}

//! Charts over many series: what they withhold is found once, and again only where something changed.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use stillwell_method::{Walk, chart_review, determine};
use stillwell_study::{Delivery, ScanRef, Study};

use crate::scenario::{analyst, clock};

fn year() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/alder-vale-year")
}

/// A folder with one month of the year under another batch and date, so that many series can be made of twelve.
fn month_as(folder: &Path, month: usize, number: usize) {
    let sheet = std::fs::read_to_string(year().join("run-sheet.csv")).unwrap();
    let mut lines = sheet.lines();
    let mut text = lines.next().unwrap().to_owned() + "\n";
    for line in lines {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        let is_standard = cells[0].starts_with("standards");
        if cells[10] != month.to_string() || cells[6] != "L30" || (is_standard && number > 1) {
            continue;
        }
        cells[10] = number.to_string();
        cells[11] = format!("{}-{:02}-01", 2025 + (number - 1) / 12, (number - 1) % 12 + 1);
        writeln!(text, "{}", cells.join(",")).unwrap();
    }
    std::fs::create_dir_all(folder).unwrap();
    std::fs::copy(year().join("method.toml"), folder.join("method.toml")).unwrap();
    for name in ["blanks", "work", "standards"] {
        let file = format!("{name}-{month}.csv");
        if text.contains(&format!("{file},")) {
            // Other bytes with the same numbers: the same scans would not come in twice.
            let scans = std::fs::read_to_string(year().join(&file)).unwrap();
            std::fs::write(folder.join(&file), scans + &"\n".repeat(number)).unwrap();
        }
    }
    std::fs::write(folder.join("run-sheet.csv"), text).unwrap();
}

/// A study of so many series, sound but for the last, whose blank is that of October.
fn study_of(path: &Path, n_series: usize) -> Study {
    let method = std::fs::read_to_string(year().join("method.toml")).unwrap();
    let mut study = Study::create(path, "years", &method, &analyst(), clock()).unwrap();
    for number in 1..=n_series {
        let month = if number == n_series { 10 } else { (number - 1) % 9 + 1 };
        let folder = path.with_file_name(format!("series-{number}"));
        month_as(&folder, month, number);
        let added = study.add(&Delivery::of_folder(&folder).unwrap(), &analyst(), |_| {}).unwrap();
        if number == 1 {
            study.determine(&added.series, &analyst()).unwrap();
        }
    }
    study
}

/// How it was done before: every series walked, one after the other, whenever it is asked.
fn walked_anew(study: &Study) -> usize {
    let method = study.method().unwrap().method;
    let reports: Vec<_> = study
        .series_in_time()
        .unwrap()
        .iter()
        .map(|one| determine(&study.input(&one.record.hash).unwrap()))
        .collect();
    let walks: Vec<Walk<'_>> = reports.iter().map(|report| Walk { series: "", report }).collect();
    chart_review(&method, &walks, None).held.len()
}

#[test]
fn asking_again_walks_nothing_and_an_act_costs_its_own_series() {
    let folder = tempfile::tempdir().unwrap();
    let n: usize = std::env::var("STILLWELL_SERIES").ok().and_then(|n| n.parse().ok()).unwrap_or(30);
    let mut study = study_of(&folder.path().join("years.study"), n);
    let timed = |study: &Study| {
        let start = Instant::now();
        let hold = study.chart_hold().unwrap();
        (start.elapsed().as_secs_f64(), hold)
    };
    // The shortest of three: other programs share the machine.
    let (mut anew, mut n_held) = (f64::INFINITY, 0);
    for _ in 0..3 {
        let start = Instant::now();
        n_held = walked_anew(&study);
        anew = anew.min(start.elapsed().as_secs_f64());
    }
    let (first, hold) = timed(&study);
    let (again, same) = timed(&study);
    assert!(Arc::ptr_eq(&hold, &same), "what was found stands");
    assert!(n_held > 0, "October's blank withholds");
    // An act about something else, then one that takes October's bad blank away.
    let series = study.series_in_time().unwrap();
    let last = series.last().unwrap().record.hash;
    let mut after_an_act = f64::INFINITY;
    for one in &series[1..4] {
        study.determine(&one.record.hash, &analyst()).unwrap();
        // Determining has asked at its own head; its records made another one.
        let (took, unchanged) = timed(&study);
        assert_eq!(unchanged, hold);
        after_an_act = after_an_act.min(took);
    }
    let zeros: Vec<ScanRef> = study
        .input(&last)
        .unwrap()
        .run_sheet
        .rows
        .iter()
        .filter(|row| {
            row.role.word() == "check-standard"
                && row.level.as_ref().is_some_and(|level| level.value() == 0.0)
        })
        .map(|row| ScanRef { file: row.file.clone(), scan: row.scan })
        .collect();
    assert_eq!(zeros.len(), 2);
    for scan in &zeros {
        study.exclude(&last, scan, &analyst()).unwrap();
    }
    let (after_exclusion, lifted) = timed(&study);
    assert_ne!(lifted, hold, "what was kept is not what is asked now");
    println!(
        "{n} series: walked anew {anew:.3} s; asked first {first:.3} s, again {again:.5} s, after an act elsewhere {after_an_act:.3} s, after two exclusions {after_exclusion:.3} s"
    );
    assert!(after_an_act < 0.7 * anew, "{after_an_act} against {anew}");
}

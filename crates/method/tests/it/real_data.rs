//! Recorded scans of known concentrations (`../shared/realdata/swv-pyocyanin-soak-transfer`, its README says more):
//! square-wave scans of pyocyanin on two channels, five standards and 220 scans of a carry-over decay a channel.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;

use stillwell_calibrate::{Acceptance, CalibrationSettings, Model, StandardSignal, Weights, calibrate};
use stillwell_method::{Check, Input, NamedText, Outcome, RawFile, Report, Role, ScanLink, determine};
use stillwell_scan::{CurrentUnit, ReadingPin, ReductionCurrent, Scan};

const METHOD: &str = include_str!("pyocyanin.toml");

/// One channel's wide file, as recorded.
struct Channel {
    name: &'static str,
    file: String,
    bytes: Vec<u8>,
    scan_ids: Vec<String>,
}

fn channel(folder: &std::path::Path, name: &'static str) -> Channel {
    let file = format!("i{name}_uA_wide.csv");
    let bytes = std::fs::read(folder.join(&file)).expect("the wide file is there");
    let text = String::from_utf8(bytes.clone()).expect("the wide file is UTF-8");
    let header = text.lines().next().expect("the wide file has a header");
    let scan_ids = header.split(',').skip(1).map(str::to_owned).collect();
    Channel { name, file, bytes, scan_ids }
}

fn data() -> Option<PathBuf> {
    stillwell_house::shared_file("realdata/swv-pyocyanin-soak-transfer")
}

/// `soak_025uM_01`: 25 µmol/L, scan 1.
fn level_and_number(scan_id: &str) -> (u32, u32) {
    let mut parts = scan_id.split('_').skip(1);
    let level = parts.next().expect("a level").trim_end_matches("uM").parse().expect("a number");
    (level, parts.next().expect("a scan number").parse().expect("a count"))
}

fn scans_of(channel: &Channel) -> Vec<Scan> {
    let pin = ReadingPin {
        current_unit: Some(CurrentUnit::from_word("µA").expect("a unit")),
        reduction_current: Some(ReductionCurrent::from_word("positive").expect("a sign")),
        ..ReadingPin::default()
    };
    stillwell_scan::read(&channel.bytes, &channel.file, &pin).expect("the wide file is read").scans
}

/// Max − min of a soak scan, in A: the evaluation behind the README's figures, made here without Stillwell.
fn max_minus_min(channel: &Channel) -> Vec<(f64, f64)> {
    let mut signals = Vec::new();
    for (scan_id, scan) in channel.scan_ids.iter().zip(scans_of(channel)) {
        if scan_id.starts_with("soak") {
            let highest = scan.current_a.iter().copied().fold(f64::MIN, f64::max);
            let lowest = scan.current_a.iter().copied().fold(f64::MAX, f64::min);
            signals.push((f64::from(level_and_number(scan_id).0), highest - lowest));
        }
    }
    signals.sort_by(|a, b| a.0.total_cmp(&b.0));
    signals
}

/// Intercept and slope with r², from Stillwell's own calibration.
fn line_through(signals: &[(f64, f64)]) -> ([f64; 2], f64) {
    let standards: Vec<StandardSignal> = signals
        .iter()
        .map(|(level, signal_a)| StandardSignal {
            level: *level,
            signal_a: *signal_a,
            electrode: format!("at {level}"),
            label: format!("soak at {level}"),
            scan_number: None,
            excluded: None,
        })
        .collect();
    let settings = CalibrationSettings {
        model: Model::Line,
        weights: Weights::None,
        coverage: 0.95,
        max_excluded_fraction: 0.1,
        acceptance: Acceptance::default(),
    };
    let made = calibrate(&standards, &settings).expect("five standards make a line");
    let [intercept, slope, _] = made.curve.coefficients;
    ([intercept, slope], made.statistics.r_squared)
}

fn determined(channel: &Channel) -> Report {
    let mut sheet = String::from("file,scan,role,sample,level,unit,electrode,channel\n");
    for (index, scan_id) in channel.scan_ids.iter().enumerate() {
        let (level, _) = level_and_number(scan_id);
        let what = if scan_id.starts_with("soak") {
            format!("standard,,{level},µmol/L")
        } else {
            format!("sample,{scan_id},,")
        };
        writeln!(sheet, "{},{},{what},E1,{}", channel.file, index + 1, channel.name)
            .expect("a String takes it");
    }
    let input = Input::assemble(
        NamedText { name: "pyocyanin.toml", text: METHOD },
        NamedText { name: "run-sheet.csv", text: &sheet },
        &[RawFile { name: channel.file.clone(), bytes: channel.bytes.clone() }],
        |_| {},
    )
    .expect("method, run sheet and scans hold together");
    determine(&input)
}

#[test]
fn the_wide_files_are_read_unaided() {
    let Some(folder) = data() else { return };
    for name in ["1", "2"] {
        let channel = channel(&folder, name);
        let file = stillwell_scan::read(&channel.bytes, &channel.file, &ReadingPin::default()).expect("read");
        let notes: Vec<String> = file.notes.iter().map(ToString::to_string).collect();
        println!("channel {name}: {}; {}", file.reading, notes.join("; "));
        assert_eq!(notes.len(), 2, "unit from the file name, sign not stated: both said, neither silent");
        assert_eq!((file.scans.len(), channel.scan_ids.len()), (225, 225));
        for (scan, scan_id) in file.scans.iter().zip(&channel.scan_ids) {
            assert_eq!((scan.n_points(), &scan.name), (600, scan_id));
            assert_eq!((scan.potential_v[0], scan.potential_v[599]), (0.099, -0.500));
        }
    }
}

/// Source of the figures: the README beside the data ("identical to the authors' values"), as printed there.
#[test]
fn max_minus_min_gives_the_published_calibration_to_the_printed_digits() {
    let Some(folder) = data() else { return };
    let signals = max_minus_min(&channel(&folder, "1"));
    let printed = ["2.000", "3.899", "6.688", "9.337", "12.105"];
    let found: Vec<String> = signals.iter().map(|(_, signal_a)| format!("{:.3}", signal_a * 1e6)).collect();
    assert_eq!(found, printed);
    let ([intercept, slope], r_squared) = line_through(&signals);
    let found = [format!("{:.5}", slope * 1e6), format!("{:.3}", intercept * 1e6), format!("{r_squared:.5}")];
    println!("max − min, channel 1: slope {} µA/µM, intercept {} µA, r² {}", found[0], found[1], found[2]);
    assert_eq!(found, ["0.11128", "1.019", "0.99939"]);
}

#[test]
fn a_proper_baseline_shrinks_the_intercept_on_both_channels() {
    let Some(folder) = data() else { return };
    for name in ["1", "2"] {
        let channel = channel(&folder, name);
        let ([plain_intercept, plain_slope], _) = line_through(&max_minus_min(&channel));
        let report = determined(&channel);
        let link = &report.calibrations[0];
        assert!(link.is_accepted(), "{:?}", link.findings);
        let [intercept, slope, _] = link.calibration.as_ref().expect("a calibration").curve.coefficients;
        let (plain, proper) = (plain_intercept / plain_slope, intercept / slope);
        println!("channel {name}: intercept {plain:.2} µM by max − min, {proper:.2} µM over a tangent");
        assert!(proper.abs() < 0.5 * plain.abs(), "{proper} is not well below {plain}");
    }
}

fn transfer_signals(report: &Report, scan_ids: &[String]) -> BTreeMap<(u32, u32), f64> {
    let of = |(scan_id, link): (&String, &ScanLink)| {
        let (level, number) = level_and_number(scan_id);
        link.signal.as_ref().map(|signal| ((level, number), signal.signal))
    };
    let links = scan_ids.iter().zip(&report.scans);
    links.filter(|(_, link)| link.row.role == Role::Sample).filter_map(of).collect()
}

/// Level and scan number, to the authors' signal in A (max − min of the same scans, drift and capacitive current included).
fn authors_signals(folder: &std::path::Path, channel: &str) -> BTreeMap<(u32, u32), f64> {
    let text =
        std::fs::read_to_string(folder.join("author_transfer_time_signals.csv")).expect("authors' signals");
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let place = |name: &str| header.iter().position(|cell| *cell == name).expect("a known column");
    let (level, rep, electrode, signal) =
        (place("PHZaddedInt"), place("rep"), place("electrode"), place("signal"));
    lines
        .map(|line| line.split(',').collect::<Vec<_>>())
        .filter(|cells| cells[electrode] == format!("i{channel}"))
        .map(|cells| {
            let number: u32 = cells[rep].parse().expect("a repetition");
            ((cells[level].parse().expect("a level"), number + 1), cells[signal].parse().expect("a signal"))
        })
        .collect()
}

/// Spearman's rank correlation of numbers without ties.
fn rank_correlation(pairs: &[(f64, f64)]) -> f64 {
    let ranks = |values: Vec<f64>| -> Vec<f64> {
        values.iter().map(|value| values.iter().filter(|other| *other < value).count() as f64).collect()
    };
    let a = ranks(pairs.iter().map(|pair| pair.0).collect());
    let b = ranks(pairs.iter().map(|pair| pair.1).collect());
    let n = pairs.len() as f64;
    let squares: f64 = a.iter().zip(&b).map(|(a, b)| (a - b) * (a - b)).sum();
    1.0 - 6.0 * squares / (n * (n * n - 1.0))
}

#[test]
fn the_decay_of_220_scans_is_evaluated_in_one_go() {
    let Some(folder) = data() else { return };
    for name in ["1", "2"] {
        let channel = channel(&folder, name);
        let report = determined(&channel);
        let determinations = report.determinations.iter();
        assert_eq!(determinations.clone().count(), 220);
        for determination in determinations {
            let refused = determination.outcome == Outcome::Refused;
            assert_eq!(refused, determination.refusals().next().is_some(), "{determination:?}");
        }
        // After 10 µM almost nothing clings, and another reaction at -0.05 V is larger than what is left in the window:
        // scans of that series are refused for just that. All others give a signal.
        let refused: Vec<&ScanLink> = report.scans.iter().filter(|link| link.signal.is_none()).collect();
        for link in &refused {
            assert!(
                link.findings.iter().any(|found| found.check == Check::PeakOutside),
                "{:?}",
                link.findings
            );
            assert!(
                channel.scan_ids[link.raw.scan - 1].starts_with("transfer_010uM"),
                "{}",
                link.raw.label()
            );
        }
        println!(
            "channel {name}: {} of {} scans refused, all after 10 µM",
            refused.len(),
            report.scans.len()
        );
        assert!(refused.len() <= 20, "{} scans give no signal", refused.len());
        let ours = transfer_signals(&report, &channel.scan_ids);
        let series: Vec<f64> = ours.range((100, 1)..=(100, 50)).map(|(_, signal)| *signal).collect();
        let (first, last) = (series[0], series[series.len() - 1]);
        let tenths: Vec<f64> =
            series.chunks(10).map(|part| part.iter().sum::<f64>() / part.len() as f64).collect();
        let theirs = authors_signals(&folder, name);
        let pairs: Vec<(f64, f64)> = ours
            .range((100, 1)..=(100, 50))
            .filter_map(|(key, signal)| theirs.get(key).map(|other| (*signal, *other)))
            .collect();
        let agreement = rank_correlation(&pairs);
        println!(
            "channel {name}: {} signals; after 100 µM {:.2} µA falls to {:.3} µA; rank \
             correlation with the authors {agreement:.3} over {} scans",
            ours.len(),
            first * 1e6,
            last * 1e6,
            pairs.len()
        );
        println!(
            "  means of ten: {:?}",
            tenths.iter().map(|a| format!("{:.3}", a * 1e6)).collect::<Vec<_>>()
        );
        assert!(first > 3.0 * last);
        assert!(tenths.windows(2).all(|pair| pair[0] > pair[1]), "the decay is not monotonic: {tenths:?}");
        // The authors took max − min, with the capacitive current in it, so that only the order can agree; they
        // publish the transfer of channel 1 only.
        if name == "1" {
            assert_eq!(pairs.len(), 50);
            assert!(agreement > 0.95);
        }
    }
}

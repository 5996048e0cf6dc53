//! A picture cannot disagree with the number.

use stillwell_method::{Effect, Role, curves, determine, si};
use stillwell_report::{calibration_figure, overlay_figure, scan_figure};

use crate::scenario;
use crate::well_formed::complaint;

#[test]
fn every_signal_is_found_again_with_the_same_bits_and_written_on_its_figure() {
    let input = scenario::input(|_| {});
    let report = determine(&input);
    let (mut n_signals, mut n_refused) = (0, 0);
    for (place, link) in report.scans.iter().enumerate() {
        let curves = curves(&input, &report, place).unwrap();
        let figure = scan_figure(&input.method, &curves).standalone();
        assert_eq!(complaint(&figure), None, "{}", link.row.scan_label());
        if let Some(signal) = &link.signal {
            n_signals += 1;
            let mark = curves.mark.unwrap();
            assert_eq!(mark.signal.to_bits(), signal.signal.to_bits());
            let words = si(signal.signal, "A").replace('-', "−");
            let told = format!("{words} at {:.3} V", mark.potential_v).replace('-', "−");
            assert!(figure.contains(&told), "{}: {told}", link.row.scan_label());
        } else {
            assert!(curves.mark.is_none());
            assert!(!figure.contains("height mark"), "{}", link.row.scan_label());
        }
        if let Some(finding) = link.findings.iter().find(|finding| finding.is_in_force(Effect::Refused)) {
            n_refused += 1;
            assert!(figure.contains("Refused: no signal is issued"));
            assert!(figure.contains(finding.check.id()));
        } else {
            assert!(!figure.contains("Refused"));
        }
    }
    println!("{n_signals} signals, {n_refused} refused scans, {} scans", report.scans.len());
    assert!(n_signals > 100 && n_refused > 0);
}

#[test]
fn a_peak_outside_its_window_shows_its_curves_but_no_height() {
    let mut input = scenario::input(|_| {});
    input.method.evaluation.peak.window_v = [-0.60, -0.45];
    let report = determine(&input);
    let is_standard = |role| role == Role::Standard;
    let place = report.scans.iter().position(|link| is_standard(link.row.role) && link.is_refused()).unwrap();
    let curves = curves(&input, &report, place).unwrap();
    assert!(curves.evaluated.is_some() && curves.mark.is_none());
    let figure = scan_figure(&input.method, &curves).standalone();
    assert!(
        figure.contains("edge-maximum") && figure.contains("smoothed") && !figure.contains("height mark")
    );
}

#[test]
fn a_calibration_that_could_not_be_made_says_so() {
    let mut input = scenario::input(|_| {});
    input.method.evaluation.peak.window_v = [-0.60, -0.45];
    let report = determine(&input);
    let figure = calibration_figure(&input.method, report.calibrations.first().unwrap()).standalone();
    assert!(figure.contains("Refused: no sample is read off this calibration"));
    assert_eq!(complaint(&figure), None);
}

#[test]
fn curves_of_another_report_are_not_shown() {
    let input = scenario::input(|_| {});
    let report = determine(&input);
    let mut other = input.clone();
    other.run_sheet.rows.swap(0, 5);
    assert!(curves(&other, &report, 0).is_none());
    assert!(curves(&input, &report, report.scans.len()).is_none());
}

#[test]
fn figures_are_the_same_bytes_again() {
    let draw = || {
        let input = scenario::input(|_| {});
        let report = determine(&input);
        let all: Vec<_> =
            (0..report.scans.len()).filter_map(|place| curves(&input, &report, place)).collect();
        let calibration = calibration_figure(&input.method, report.calibrations.first().unwrap());
        [
            calibration,
            overlay_figure(&input.method, "all", &all, &[4, 13, 22]),
            scan_figure(&input.method, &all[13]),
        ]
        .map(|figure| [figure.standalone(), figure.inline("here")])
    };
    assert_eq!(draw(), draw());
}

//! The frozen chain against the desktop's: every scan and sample of the invented scenario, bit for bit.

use std::collections::BTreeMap;

use stillwell_assure::DecisionCode;
use stillwell_evaluate::{Conditions, SampleOutcome, ScanOutcome, ScanResult, VerdictCode};
use stillwell_method::{Check, Determination, Effect, Found, Outcome, Role, curves};
use stillwell_transfer::{Frozen, run_sample, run_scan};

use crate::scene::{FIRST_DAY, Folder, Scene, VARIANTS, points_of};

/// The frozen result of one line of the run sheet; none where it is a blank or its blank is missing.
fn frozen_result(scene: &Scene, frozen: &Frozen, place: usize) -> Option<ScanResult> {
    let blank_a = curves(&scene.input, &scene.report, place)?.blank_a;
    if scene.input.method.evaluation.blank != stillwell_method::BlankUse::Ignore && blank_a.is_none() {
        return None;
    }
    let (result, _) =
        run_scan(frozen, blank_a.as_deref(), &points_of(scene.scan(place))).expect("the grid fits");
    Some(result)
}

fn bits(x: Option<f64>) -> Option<u64> {
    x.map(f64::to_bits)
}

/// Samples and the like: standards are searched before there is a place, and checked by the bits of their signals elsewhere.
fn is_compared(role: Role) -> bool {
    !matches!(role, Role::Blank | Role::Standard)
}

fn compare_scan(scene: &Scene, place: usize, result: &ScanResult) -> bool {
    let link = &scene.report.scans[place];
    let label = link.row.scan_label();
    // What other scans say of it (repeated, another scale) and overrides are no matter of one scan on a device.
    let own =
        |check: Check| !matches!(check, Check::RepeatedScan | Check::OtherScale | Check::SettingsDiffer);
    if link.findings.iter().any(|finding| !own(finding.check) || finding.overridden.is_some())
        || !link.counts()
    {
        return false;
    }
    if let Some(signal) = &link.signal {
        let found =
            result.signal.unwrap_or_else(|| panic!("{label}: {:?}, desktop {signal:?}", result.reasons));
        assert_eq!(found.signal_a.to_bits(), signal.signal.to_bits(), "{label}");
        assert_eq!(bits(found.half_width_v), bits(signal.half_width_v), "{label}");
        assert_eq!(bits(found.noise_a), bits(signal.noise_a), "{label}");
        assert_eq!(bits(found.peak_potential_v), bits(signal.peak_potential_v), "{label}");
        let by_peak = signal.found == Found::ByPeak;
        assert_eq!(result.outcome == ScanOutcome::SignalByPeak, by_peak, "{label}");
        return true;
    }
    assert_eq!(result.outcome, ScanOutcome::Refused, "{label}: {:?}", link.findings);
    let condemning = [
        Check::ClippedScan,
        Check::OverloadMarks,
        Check::EdgeMaximum,
        Check::TwoPeaks,
        Check::PeakWidth,
        Check::PeakOutside,
    ];
    let condemned = link
        .findings
        .iter()
        .any(|finding| finding.is_in_force(Effect::Refused) && condemning.contains(&finding.check));
    let found = result.reasons.contains(stillwell_evaluate::FrozenReason::CondemnsSample);
    assert_eq!(found, condemned, "{label}: {:?}", link.findings);
    true
}

/// Conditions as the run sheet and the report state them.
fn conditions(scene: &Scene, place: usize, determination: &Determination) -> Conditions {
    let row = &scene.report.scans[place].row;
    let control = |check: Check| check == Check::ElectrodeControl;
    Conditions {
        temperature_c: row.temperature_c,
        dilution_factor: row.dilution.map_or(1.0, |dilution| dilution.factor),
        dilution_u: row.dilution.map_or(0.0, |dilution| dilution.standard_u),
        today: Some(FIRST_DAY + 100),
        control_alive: determination
            .findings
            .iter()
            .filter(|finding| control(finding.check))
            .all(|finding| finding.effect == Effect::Noted),
    }
}

fn compare_outcome(found: &SampleOutcome, interval: [f64; 3], determination: &Determination) {
    let name = &determination.sample;
    match (found, &determination.outcome) {
        (SampleOutcome::Quantified, Outcome::Quantified(estimate)) => {
            let desktop = [estimate.value.value(), estimate.low, estimate.high].map(f64::to_bits);
            assert_eq!(interval.map(f64::to_bits), desktop, "{name}");
        }
        (SampleOutcome::AboveRange(bound), Outcome::AboveRange(above)) => {
            assert_eq!(bound.to_bits(), above.at_least.value().to_bits(), "{name}");
        }
        (SampleOutcome::NotDetected(bound), Outcome::NotDetected(less))
        | (SampleOutcome::BelowQuantification(bound), Outcome::BelowQuantification(less)) => {
            assert_eq!(bound.to_bits(), less.less_than.value().to_bits(), "{name}");
            assert_eq!(
                interval.map(f64::to_bits),
                [less.estimate, less.low, less.high].map(f64::to_bits),
                "{name}"
            );
        }
        (SampleOutcome::Refused(_), Outcome::Refused) => {}
        (found, desktop) => {
            panic!("{name}: device {found:?}, desktop {desktop:?} {:?}", determination.findings)
        }
    }
}

fn same_code(found: VerdictCode, desktop: DecisionCode) -> bool {
    DecisionCode::from(found) == desktop
}

/// Compares every scan and every sample of one calibration; returns how many.
fn compare(scene: &Scene, calibration: usize) -> (usize, usize) {
    let frozen = scene.frozen(calibration).expect("the calibration is accepted");
    let lot = scene.report.calibrations[calibration].key.lot.clone();
    let mut results = BTreeMap::new();
    let mut n_scans = 0;
    for (place, link) in scene.report.scans.iter().enumerate() {
        if link.row.lot == lot && is_compared(link.row.role) {
            let Some(result) = frozen_result(scene, &frozen, place) else { continue };
            n_scans += usize::from(compare_scan(scene, place, &result));
            results.insert(place, result);
        }
    }
    let mut n_samples = 0;
    for determination in scene.report.determinations.iter().filter(|d| d.lot == lot) {
        let places: Vec<usize> = results
            .keys()
            .copied()
            .filter(|place| {
                let link = &scene.report.scans[*place];
                let row = &link.row;
                row.sample == determination.sample
                    && row.role == determination.role
                    && row.batch == determination.batch
                    && link.counts()
            })
            .collect();
        let Some(first) = places.first() else { continue };
        let mut names: Vec<&str> =
            places.iter().map(|place| scene.report.scans[*place].row.electrode.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        let scans: Vec<(usize, ScanResult)> = places
            .iter()
            .map(|place| {
                let electrode = &scene.report.scans[*place].row.electrode;
                (names.iter().position(|name| name == electrode).expect("an electrode"), results[place])
            })
            .collect();
        let conditions = conditions(scene, *first, determination);
        let (result, _) =
            run_sample(&frozen, &conditions, &scans).expect("frozen").expect("possible conditions");
        compare_outcome(&result.outcome, result.interval, determination);
        let method = frozen_limits_of(scene);
        for (limit, decision) in method.iter().zip(&determination.decisions) {
            let found = result.decided(limit);
            assert!(
                same_code(found, decision.code),
                "{}: {found:?}, {:?}",
                determination.sample,
                decision.code
            );
        }
        n_samples += 1;
    }
    (n_scans, n_samples)
}

fn frozen_limits_of(scene: &Scene) -> Vec<stillwell_evaluate::FrozenLimit> {
    stillwell_transfer::frozen_limits(&scene.input.method).expect("the method's limits")
}

#[test]
fn device_and_desktop_agree_on_every_sample_of_the_scenario() {
    let mut total = (0, 0);
    for (name, edits) in VARIANTS {
        let scene = Folder::alder_vale().edited(edits).scene();
        for calibration in 0..scene.report.calibrations.len() {
            if !scene.report.calibrations[calibration].is_accepted() {
                println!("{name}: calibration {calibration} is not accepted");
                continue;
            }
            let (n_scans, n_samples) = compare(&scene, calibration);
            println!("{name}, calibration {calibration}: {n_scans} scans, {n_samples} samples alike");
            total = (total.0 + n_scans, total.1 + n_samples);
        }
    }
    assert!(total.0 > 300 && total.1 > 40, "{total:?}");
}

/// The kernel's mean of a few signals is the statistics room's, bit for bit, whatever the sizes.
#[test]
fn the_kernels_mean_is_the_statistics_rooms() {
    let mut draw = crate::scene::Draw::new(1, 1);
    for round in 0..200_000 {
        // Calibrations average more than a sample has electrodes.
        let n = 2 + draw.below(if round % 10 == 0 { 60 } else { 5 });
        let wide = round % 3 == 0;
        let values: Vec<f64> = (0..n)
            .map(|_| {
                let power = if wide { draw.between(-300.0, 300.0) } else { draw.between(-7.0, -5.0) };
                let sign = if draw.below(4) == 0 { -1.0 } else { 1.0 };
                sign * draw.between(1.0, 10.0) * libm::pow(10.0, libm::rint(power))
            })
            .collect();
        let expected = stillwell_stats::mean(&values).expect("finite values");
        let found = stillwell_evaluate::exact_mean(&values);
        assert_eq!(found.to_bits(), expected.to_bits(), "{values:?}");
    }
}

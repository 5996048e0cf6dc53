//! Trust checks: a clean scan passes, each planted fault is found with its numbers, and clean scans raise hardly any alarm.
#![expect(clippy::float_cmp, reason = "tests compare bits")]

use proptest::prelude::{any, prop_assert, prop_assert_eq, proptest};
use stillwell_evaluate::{
    ExpectedScan, MainsConstants, RawScan, TrustCheck, TrustFinding, TrustLimits, TrustReport, TrustState,
    WhyNotTestable, check_scan, mains_cycles_per_point,
};

const POINTS: usize = 300;
const STEP_V: f64 = 0.002;
const NOISE_A: f64 = 2e-9;
/// 4096 steps over 8.192 µA.
const CONVERTER_STEP_A: f64 = 2e-9;

/// A reduction scan from −0.2 V: peak of 1 µA at −0.5 V, half width 0.1 V, on a sloping background, with noise.
struct Record {
    potential_v: Vec<f64>,
    current_a: Vec<f64>,
    forward_a: Option<Vec<f64>>,
    reverse_a: Option<Vec<f64>>,
    overload_points: Vec<usize>,
    interval_s: Option<f64>,
    resolution_a: Option<f64>,
    range_end_a: Option<[f64; 2]>,
}

/// Sum of twelve uniform numbers less six: near enough to a normal one for counting alarms.
struct Noise(u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn record(seed: u64, noise_a: f64, quantised: bool) -> Record {
    let mut noise = Noise(seed);
    let (place, height) = (0.1 * noise.uniform() - 0.05, 1e-6 * (0.2 + 1.6 * noise.uniform()));
    let sigma = 0.1 / 2.3548200450309493;
    let potential_v: Vec<f64> = (0..POINTS).map(|i| -0.2 - STEP_V * i as f64).collect();
    let current_a = potential_v
        .iter()
        .map(|v| {
            let u = (v + 0.5 + place) / sigma;
            let background = -3e-7 + 1e-6 * (v + 0.2) - 2e-7 * libm::exp(-(v + 0.8) / 0.08);
            let i = background - height * libm::exp(-0.5 * u * u) + noise_a * noise.normal();
            if quantised { (i / CONVERTER_STEP_A).round() * CONVERTER_STEP_A } else { i }
        })
        .collect();
    Record {
        potential_v,
        current_a,
        forward_a: None,
        reverse_a: None,
        overload_points: Vec::new(),
        interval_s: Some(0.013),
        resolution_a: None,
        range_end_a: None,
    }
}

fn clean() -> Record {
    let mut clean = record(7, NOISE_A, false);
    let half = |sign: f64| clean.current_a.iter().map(|i| 0.5 * sign * i + 3e-7).collect();
    let (forward, reverse) = (half(1.0), half(-1.0));
    (clean.forward_a, clean.reverse_a) = (Some(forward), Some(reverse));
    clean
}

fn limits() -> TrustLimits {
    TrustLimits {
        overload_points: 0,
        clipping_run: 4,
        missing_points: 0,
        repeated_points: 0,
        step_deviation: 0.1,
        spike_units: 6.0,
        spike_ratio: 3.0,
        least_range_a: 5e-8,
        least_range_steps: 8.0,
        start_up_points: 5,
        start_up_trend_points: 15,
        start_up_units: 6.0,
        start_up_fraction: 0.02,
        distrusted_points: 0,
        end_points: 10,
        largest_offset_a: 2e-6,
        largest_noise_a: 3.0 * NOISE_A,
        largest_drift_a: 1e-6,
        window_tolerance_v: 0.001,
        least_points: 270,
        least_points_per_half_width: 8.0,
        largest_mains_a: 1.5e-9,
    }
}

fn expected() -> ExpectedScan {
    let turn = 2.0 * core::f64::consts::PI * mains_cycles_per_point(0.013, 50.0).unwrap();
    ExpectedScan {
        start_v: -0.2,
        end_v: -0.798,
        step_v: STEP_V,
        peak_window_v: Some([-0.35, -0.65]),
        half_width_v: Some(0.1),
        mains: Some(MainsConstants {
            mains_hz: 50.0,
            cos_per_point: libm::cos(turn),
            sin_per_point: libm::sin(turn),
        }),
    }
}

fn check_with(record: &Record, expected: &ExpectedScan, limits: &TrustLimits) -> TrustReport {
    let scan = RawScan {
        potential_v: &record.potential_v,
        current_a: &record.current_a,
        forward_a: record.forward_a.as_deref(),
        reverse_a: record.reverse_a.as_deref(),
        overload_points: &record.overload_points,
        interval_s: record.interval_s,
        resolution_a: record.resolution_a,
        range_end_a: record.range_end_a,
    };
    let mut workspace = vec![f64::NAN; record.current_a.len().max(record.potential_v.len())];
    check_scan(&scan, expected, limits, &mut workspace)
}

fn check(record: &Record) -> TrustReport {
    check_with(record, &expected(), &limits())
}

/// The only finding that failed.
fn only_failure(report: &TrustReport) -> TrustFinding {
    let failed: Vec<_> = report.failed().collect();
    assert_eq!(failed.len(), 1, "{failed:?}");
    *failed[0]
}

fn why(finding: TrustFinding) -> WhyNotTestable {
    match finding.state {
        TrustState::NotTestable(why) => why,
        other => panic!("{:?} is {other:?}", finding.check),
    }
}

#[test]
fn a_clean_scan_passes_every_check() {
    let report = check(&clean());
    for (finding, check) in report.findings.iter().zip(TrustCheck::ALL) {
        println!("{finding:?}");
        assert_eq!(finding.check, check);
        assert_eq!(report.of(check), *finding);
        assert_eq!(finding.state, TrustState::Passed, "{finding:?}");
    }
    let noise = report.of(TrustCheck::Noise).found;
    assert!((noise / NOISE_A - 1.0).abs() < 0.2, "{noise}");
}

#[test]
fn overload_and_values_that_are_no_numbers_are_counted_and_stop_what_needs_them() {
    let mut record = clean();
    record.overload_points = vec![120, 121];
    record.current_a[90] = f64::NAN;
    let report = check(&record);
    let overload = report.of(TrustCheck::Overload);
    assert_eq!((overload.state, overload.found, overload.at_index), (TrustState::Failed, 3.0, 90));
    for check in [
        TrustCheck::Clipping,
        TrustCheck::FlatLine,
        TrustCheck::Spikes,
        TrustCheck::Noise,
        TrustCheck::StartUp,
    ] {
        assert_eq!(why(report.of(check)), WhyNotTestable::NotFinite);
    }
    assert_eq!(report.of(TrustCheck::MissingPoints).state, TrustState::Passed);
}

#[test]
fn a_clipped_peak_fails_with_the_length_of_its_plateau() {
    for quantised in [false, true] {
        let mut record = record(7, 0.2 * NOISE_A, quantised);
        let lowest = record.current_a.iter().copied().fold(0.0, f64::min);
        let end_a = if quantised {
            (0.9 * lowest / CONVERTER_STEP_A).round() * CONVERTER_STEP_A
        } else {
            0.9 * lowest
        };
        let first = record.current_a.iter().position(|&i| i <= end_a).unwrap();
        let plateau = record.current_a.iter().filter(|&&i| i <= end_a).count();
        for i in &mut record.current_a {
            *i = i.max(end_a);
        }
        let found = only_failure(&check(&record));
        assert_eq!(found.check, TrustCheck::Clipping);
        assert_eq!((found.found, found.limit, found.at_index as usize), (plateau as f64, 3.0, first));
        assert!(plateau > 10);
    }
}

#[test]
fn a_reading_at_the_converters_end_fails_even_alone() {
    let mut record = clean();
    let lowest = record.current_a.iter().copied().fold(0.0, f64::min);
    record.range_end_a = Some([lowest, 1e-3]);
    let found = only_failure(&check(&record));
    assert_eq!((found.check, found.found, found.limit), (TrustCheck::Clipping, 1.0, 0.0));
}

#[test]
fn a_clipped_start_of_a_scan_fails_and_a_staircase_does_not() {
    let mut steep = clean();
    let mut noise = Noise(5);
    for (i, current) in steep.current_a.iter_mut().enumerate() {
        *current = -(1e-8 * i as f64 + 1e-10 * noise.normal()).max(4.05e-7);
    }
    let found = check(&steep).of(TrustCheck::Clipping);
    assert_eq!((found.state, found.found, found.at_index), (TrustState::Failed, 41.0, 0));
    // No noise, coarse steps: the top of the peak and the flat background are long runs, and are not clipped.
    // A converter's steps are no whole decimals: printed to 10 pA they differ a little from one another.
    let printed = |i: f64| (i * 1e11).round() / 1e11;
    for (step, is_printed) in
        [(1e-9, false), (1e-8, false), (5e-8, false), (0.762939e-9, true), (3.05176e-9, true)]
    {
        for seed in 0..50 {
            let mut stairs = record(seed, 0.0, false);
            for i in &mut stairs.current_a {
                *i = (*i / step).round() * step;
                if is_printed {
                    *i = printed(*i);
                }
            }
            let found = check(&stairs).of(TrustCheck::Clipping);
            assert_eq!(found.state, TrustState::Passed, "{step} {seed} {found:?}");
        }
    }
}

#[test]
fn missing_repeated_and_uneven_points_are_told_apart() {
    let mut gap = clean();
    for values in [&mut gap.potential_v, &mut gap.current_a] {
        values.drain(100..103);
    }
    let report = check(&gap);
    let found = only_failure(&report);
    assert_eq!((found.check, found.found, found.at_index), (TrustCheck::MissingPoints, 3.0, 100));

    let mut twice = clean();
    let (v, i) = (twice.potential_v[50], twice.current_a[50]);
    twice.potential_v.insert(51, v);
    twice.current_a.insert(51, i);
    let found = only_failure(&check(&twice));
    assert_eq!((found.check, found.found, found.at_index), (TrustCheck::RepeatedPoints, 1.0, 51));

    let mut uneven = clean();
    uneven.potential_v[200] -= 0.0006;
    let found = only_failure(&check(&uneven));
    assert_eq!((found.check, found.at_index), (TrustCheck::NonUniformSteps, 200));
    assert!((found.found - 0.3).abs() < 1e-9 && found.limit == 0.1);

    let mut backwards = clean();
    backwards.potential_v[200] += 2.0 * STEP_V;
    let report = check(&backwards);
    assert_eq!(report.of(TrustCheck::NonUniformSteps).state, TrustState::Failed);
    assert_eq!(report.of(TrustCheck::NonUniformSteps).at_index, 200);
}

#[test]
fn a_spike_of_one_or_two_points_fails_and_a_peak_does_not() {
    for width in [1, 2] {
        let mut record = clean();
        for i in 210..210 + width {
            record.current_a[i] += 40.0 * NOISE_A;
        }
        let found = only_failure(&check(&record));
        assert_eq!((found.check, found.at_index), (TrustCheck::Spikes, 210));
        assert!(found.found > 20.0 && found.found < 60.0, "{}", found.found);
        assert_eq!(found.limit, 6.0);
    }
    // A noise-free peak only three points wide at half height.
    let mut narrow = clean();
    for (i, current) in narrow.current_a.iter_mut().enumerate() {
        let u = (i as f64 - 150.0) / (3.0 / 2.3548200450309493);
        *current = -1e-7 - 1e-9 * i as f64 - 1e-6 * libm::exp(-0.5 * u * u);
    }
    assert_eq!(check(&narrow).of(TrustCheck::Spikes).state, TrustState::Passed);
}

#[test]
fn a_dead_electrode_is_flat_even_with_a_spike() {
    let mut record = clean();
    let mut noise = Noise(3);
    for i in &mut record.current_a {
        *i = 1e-10 * noise.normal();
    }
    record.current_a[77] = 1e-6;
    let found = check(&record).of(TrustCheck::FlatLine);
    assert_eq!((found.state, found.limit), (TrustState::Failed, 5e-8));
    assert!(found.found < 1e-9);
    record.resolution_a = Some(1e-8);
    assert_eq!(check(&record).of(TrustCheck::FlatLine).limit, 8e-8);
    record.current_a.fill(1e-6);
    let without_limit = TrustLimits { least_range_a: 0.0, least_range_steps: 0.0, ..limits() };
    let stuck = check_with(&record, &expected(), &without_limit).of(TrustCheck::FlatLine);
    assert_eq!((stuck.state, stuck.found), (TrustState::Failed, 0.0));
}

#[test]
fn a_start_up_transient_says_how_many_points_to_distrust() {
    let mut record = clean();
    for (i, current) in record.current_a.iter_mut().enumerate().take(3) {
        *current -= [8e-7, 4e-7, 2e-7][i];
    }
    let found = only_failure(&check(&record));
    assert_eq!((found.check, found.found, found.limit, found.at_index), (TrustCheck::StartUp, 3.0, 0.0, 2));
    let drops_three = TrustLimits { distrusted_points: 3, ..limits() };
    assert_eq!(check_with(&record, &expected(), &drops_three).failed().count(), 0);
    let early_peak = ExpectedScan { peak_window_v: Some([-0.23, -0.4]), ..expected() };
    let found = check_with(&record, &early_peak, &limits()).of(TrustCheck::StartUp);
    assert_eq!(why(found), WhyNotTestable::PeakTooNearStart);
}

#[test]
fn a_start_up_transient_too_small_to_matter_passes() {
    let mut quiet = record(7, 0.02 * NOISE_A, false);
    quiet.current_a[0] -= 5e-9;
    assert_eq!(check(&quiet).of(TrustCheck::StartUp).state, TrustState::Passed);
    let strict = TrustLimits { start_up_fraction: 1e-3, ..limits() };
    let found = check_with(&quiet, &expected(), &strict).of(TrustCheck::StartUp);
    assert_eq!((found.state, found.found), (TrustState::Failed, 1.0));
}

#[test]
fn a_leak_noise_and_drift_fail_with_their_amounts() {
    let mut leak = clean();
    for i in &mut leak.current_a {
        *i -= 5e-6;
    }
    let found = only_failure(&check(&leak));
    assert_eq!((found.check, found.limit), (TrustCheck::Offset, 2e-6));
    assert!(found.found > 5.3e-6 && found.found < 6.5e-6);

    let found = only_failure(&check(&record(7, 5.0 * NOISE_A, false)));
    // The amplitude at the mains frequency grows with the noise, yet stays inside its own limit here.
    assert_eq!(found.check, TrustCheck::Noise);
    assert!((found.found / (5.0 * NOISE_A) - 1.0).abs() < 0.2, "{}", found.found);

    let mut drift = clean();
    for (i, reverse) in drift.reverse_a.as_mut().unwrap().iter_mut().enumerate() {
        *reverse += 3e-6 * i as f64 / POINTS as f64;
    }
    let found = only_failure(&check(&drift));
    assert_eq!((found.check, found.limit), (TrustCheck::ReverseDrift, 1e-6));
    // From the middle of the first ten points to that of the last ten, beside what the clean scan shows.
    let added = 3e-6 * 290.0 / POINTS as f64;
    let expected = check(&clean()).of(TrustCheck::ReverseDrift).found + added;
    assert!((found.found - expected).abs() < 1e-9, "{} {expected}", found.found);
}

#[test]
fn direction_window_and_step_are_held_against_the_technique() {
    let mut turned = clean();
    turned.potential_v.reverse();
    turned.current_a.reverse();
    let report = check(&turned);
    let found = report.of(TrustCheck::WrongDirection);
    assert_eq!(found.state, TrustState::Failed);
    assert!((found.found - 0.598).abs() < 1e-12 && (found.limit + 0.598).abs() < 1e-12);

    let mut cut_off = clean();
    cut_off.potential_v.truncate(280);
    cut_off.current_a.truncate(280);
    let found = only_failure(&check(&cut_off));
    assert_eq!((found.check, found.at_index), (TrustCheck::WrongWindow, 279));
    assert!((found.found - 0.04).abs() < 1e-12);

    let coarse = ExpectedScan { step_v: 0.004, ..expected() };
    let found = only_failure(&check_with(&clean(), &coarse, &limits()));
    assert_eq!(found.check, TrustCheck::WrongStep);
    assert!((found.found - 0.5).abs() < 1e-9);
}

#[test]
fn too_few_points_in_all_and_in_the_peak() {
    let wants_more = TrustLimits { least_points: 400, ..limits() };
    let found = only_failure(&check_with(&clean(), &expected(), &wants_more));
    assert_eq!((found.check, found.found, found.limit), (TrustCheck::TooFewPoints, 300.0, 400.0));
    let narrow = ExpectedScan { half_width_v: Some(0.013), mains: None, ..expected() };
    let found = only_failure(&check_with(&clean(), &narrow, &limits()));
    assert_eq!((found.check, found.limit), (TrustCheck::TooFewPointsInPeak, 8.0));
    assert!((found.found - 6.5).abs() < 0.1, "{}", found.found);
    let not_stated = ExpectedScan { half_width_v: None, ..expected() };
    let found = check_with(&clean(), &not_stated, &limits()).of(TrustCheck::TooFewPointsInPeak);
    assert_eq!(why(found), WhyNotTestable::NotStated);
}

#[test]
fn mains_pickup_fails_with_its_amplitude_and_is_never_passed_where_it_cannot_be_seen() {
    let mut record = clean();
    for (i, current) in record.current_a.iter_mut().enumerate() {
        *current += 5e-9 * libm::sin(2.0 * core::f64::consts::PI * 50.0 * 0.013 * i as f64 + 0.7);
    }
    let found = check(&record).of(TrustCheck::MainsPickup);
    assert_eq!(found.state, TrustState::Failed);
    assert!((found.found - 5e-9).abs() < 4e-10, "{}", found.found);
    for (interval_s, reason) in [
        (None, WhyNotTestable::NotStated),
        (Some(0.04), WhyNotTestable::MainsFoldsTooSlow),
        (Some(0.02), WhyNotTestable::MainsFoldsTooSlow),
        (Some(0.0201), WhyNotTestable::MainsFoldsTooSlow),
        (Some(-1.0), WhyNotTestable::LimitNotUsable),
        (Some(f64::NAN), WhyNotTestable::LimitNotUsable),
    ] {
        record.interval_s = interval_s;
        assert_eq!(why(check(&record).of(TrustCheck::MainsPickup)), reason, "{interval_s:?}");
    }
    assert_eq!(mains_cycles_per_point(0.03, 50.0), Some(0.5));
}

#[test]
fn the_pickup_at_two_points_a_cycle_is_not_doubled() {
    let mut record = clean();
    record.interval_s = Some(0.03);
    let two_a_cycle = MainsConstants { mains_hz: 50.0, cos_per_point: -1.0, sin_per_point: 0.0 };
    for (i, current) in record.current_a.iter_mut().enumerate() {
        *current += if i % 2 == 0 { 5e-9 } else { -5e-9 };
    }
    let found = check_with(&record, &ExpectedScan { mains: Some(two_a_cycle), ..expected() }, &limits());
    let found = found.of(TrustCheck::MainsPickup);
    assert!(found.state == TrustState::Failed && (found.found - 5e-9).abs() < 4e-10, "{}", found.found);
}

#[test]
fn limits_that_are_no_numbers_pass_nothing() {
    let nan = f64::NAN;
    let limits = TrustLimits {
        step_deviation: nan,
        spike_units: nan,
        least_range_a: nan,
        start_up_units: nan,
        largest_offset_a: nan,
        largest_noise_a: nan,
        largest_drift_a: nan,
        window_tolerance_v: nan,
        least_points_per_half_width: nan,
        largest_mains_a: nan,
        clipping_run: 0,
        ..limits()
    };
    let report = check_with(&clean(), &expected(), &limits);
    let passed: Vec<_> =
        report.findings.iter().filter(|f| f.state == TrustState::Passed).map(|f| f.check).collect();
    assert_eq!(
        passed,
        [
            TrustCheck::Overload,
            TrustCheck::TooFewPoints,
            TrustCheck::WrongDirection,
            TrustCheck::MissingPoints,
            TrustCheck::RepeatedPoints
        ]
    );
}

#[test]
fn a_workspace_too_small_is_said() {
    let record = clean();
    let scan = RawScan {
        potential_v: &record.potential_v,
        current_a: &record.current_a,
        forward_a: None,
        reverse_a: None,
        overload_points: &[],
        interval_s: None,
        resolution_a: None,
        range_end_a: None,
    };
    let report = check_scan(&scan, &expected(), &limits(), &mut [0.0; 20]);
    assert_eq!(why(report.of(TrustCheck::Noise)), WhyNotTestable::WorkspaceTooSmall);
    assert_eq!(why(report.of(TrustCheck::WrongStep)), WhyNotTestable::WorkspaceTooSmall);
}

#[test]
fn five_hundred_clean_scans_raise_at_most_two_alarms_in_a_hundred() {
    let mut alarmed = 0;
    for seed in 0..500 {
        let report = check(&record(seed * 7919 + 1, NOISE_A, seed % 2 == 0));
        for finding in report.failed() {
            println!("scan {seed}: {finding:?}");
        }
        alarmed += usize::from(report.failed().count() > 0);
    }
    println!("{alarmed} of 500 clean scans raised an alarm");
    assert!(alarmed <= 10, "{alarmed}");
}

#[test]
fn of_450_recorded_scans_one_series_is_found_noisy_and_nothing_else() {
    // Square-wave scans of pyocyanin, 600 points from +0.1 V, recorded in a laboratory; noise 0.02 to 0.06 µA,
    // but 0.1 µA and more in the series at 10 µM.
    let limits = TrustLimits { largest_noise_a: 1e-7, window_tolerance_v: 0.0015, ..limits() };
    let expected = ExpectedScan {
        start_v: 0.1,
        end_v: -0.5,
        step_v: 0.001,
        peak_window_v: Some([-0.1, -0.4]),
        half_width_v: Some(0.1),
        mains: None,
    };
    let mut scans = 0;
    for file in ["i1_uA_wide.csv", "i2_uA_wide.csv"] {
        let place = format!("realdata/swv-pyocyanin-soak-transfer/{file}");
        let Some(path) = stillwell_house::shared_file(&place) else { return };
        let text = std::fs::read_to_string(path).unwrap();
        let names: Vec<&str> = text.lines().next().unwrap().split(',').collect();
        let rows: Vec<Vec<f64>> = text
            .lines()
            .skip(1)
            .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
            .collect();
        let mut one = clean();
        (one.forward_a, one.reverse_a) = (None, None);
        one.potential_v = rows.iter().map(|row| row[0]).collect();
        for column in 1..rows[0].len() {
            one.current_a = rows.iter().map(|row| row[column] * 1e-6).collect();
            let report = check_with(&one, &expected, &limits);
            let failed: Vec<_> = report.failed().map(|finding| finding.check).collect();
            let noisy = names[column].starts_with("transfer_010uM");
            assert_eq!(
                failed,
                if noisy { vec![TrustCheck::Noise] } else { vec![] },
                "{file}, {}",
                names[column]
            );
            scans += 1;
        }
    }
    assert_eq!(scans, 450);
}

proptest! {
    #[test]
    fn any_slices_and_limits_give_findings_without_nan(
        bits in proptest::collection::vec(any::<u64>(), 0..80),
        n_potentials in 0_usize..80,
        constants in any::<[u64; 24]>(),
        counts in any::<[u32; 9]>(),
        calm in any::<bool>(),
    ) {
        // Half of the cases hold everyday numbers, so that the checks are gone through to their ends.
        let value = |b: u64| if calm { (b % 97) as f64 * 1e-8 } else { f64::from_bits(b) };
        let current_a: Vec<f64> = bits.iter().map(|&b| value(b)).collect();
        let potential_v: Vec<f64> = (0..if calm { bits.len() } else { n_potentials })
            .map(|i| if calm { 0.01 * i as f64 } else { bits.get(i).map_or(0.5, |&b| f64::from_bits(b.rotate_left(7))) })
            .collect();
        let f = |i: usize| if calm { (constants[i] % 1000) as f64 * 1e-3 } else { f64::from_bits(constants[i]) };
        let u = |i: usize| if calm { counts[i] % 20 } else { counts[i] };
        let limits = TrustLimits {
            overload_points: u(0), clipping_run: u(1), missing_points: u(2), repeated_points: u(3), step_deviation: f(0),
            spike_units: f(1), spike_ratio: f(2), least_range_a: f(3), least_range_steps: f(4), start_up_points: u(4),
            start_up_trend_points: u(5), start_up_units: f(5), start_up_fraction: f(6), distrusted_points: u(6),
            end_points: u(7), largest_offset_a: f(7), largest_noise_a: f(8), largest_drift_a: f(9), window_tolerance_v: f(10),
            least_points: u(8), least_points_per_half_width: f(11), largest_mains_a: f(12),
        };
        let expected = ExpectedScan {
            start_v: f(13), end_v: f(14), step_v: f(15), peak_window_v: Some([f(16), f(17)]), half_width_v: Some(f(18)),
            mains: Some(MainsConstants { mains_hz: f(19), cos_per_point: 0.6, sin_per_point: 0.8 }),
        };
        let scan = RawScan {
            potential_v: &potential_v, current_a: &current_a, forward_a: Some(&current_a), reverse_a: Some(&potential_v),
            overload_points: &[3, 900], interval_s: Some(f(20)), resolution_a: Some(f(21)), range_end_a: Some([f(22), f(23)]),
        };
        let mut workspace = vec![0.0; current_a.len()];
        let report = check_scan(&scan, &expected, &limits, &mut workspace);
        for (finding, check) in report.findings.iter().zip(TrustCheck::ALL) {
            prop_assert_eq!(finding.check, check);
            prop_assert!(finding.found.is_finite() && finding.limit.is_finite());
        }
    }

    #[test]
    fn the_unit_of_the_current_does_not_change_what_failed(seed in any::<u64>(), power in 0_i32..30, planted in 0_usize..300) {
        let mut one = record(seed, NOISE_A, seed % 2 == 0);
        one.current_a[planted] += 1e-7;
        let scale = f64::from(1_u32 << power);
        let mut other = record(seed, NOISE_A, seed % 2 == 0);
        other.current_a = one.current_a.iter().map(|i| i * scale).collect();
        let plain = limits();
        let scaled = TrustLimits {
            least_range_a: plain.least_range_a * scale,
            largest_offset_a: plain.largest_offset_a * scale,
            largest_noise_a: plain.largest_noise_a * scale,
            largest_drift_a: plain.largest_drift_a * scale,
            largest_mains_a: plain.largest_mains_a * scale,
            ..plain
        };
        let (a, b) = (check(&one), check_with(&other, &expected(), &scaled));
        for (x, y) in a.findings.iter().zip(&b.findings) {
            prop_assert_eq!((x.state, x.at_index), (y.state, y.at_index));
        }
    }
}

//! The frozen chain point by point against the whole evaluation, and what must always hold of it.

use proptest::prelude::*;
use stillwell_evaluate::*;

const N: usize = 64;

fn potentials() -> [f64; N] {
    core::array::from_fn(|i| -0.3 - 0.004 * i as f64)
}

fn settings() -> Settings<'static> {
    Settings {
        despike: Some(Despike { limit: 8.0, min_ratio: 3.0, floor_a: 1e-9 }),
        smoother: None,
        baseline: Baseline::Line {
            before: IndexRange { first: 8, last: 14 },
            after: IndexRange { first: 52, last: 60 },
        },
        peak: PeakSettings {
            window: IndexRange { first: 20, last: 46 },
            direction: Direction::Reduction,
            placement: Placement::Search,
            measure: Measure::Height,
        },
        noise: [Some(IndexRange { first: 8, last: 14 }), Some(IndexRange { first: 52, last: 60 })],
        limits: PeakLimits {
            min_signal_to_noise: Some(3.0),
            max_background_ratio: Some(20.0),
            second_peak_fraction: Some(0.5),
            reference_potential_v: None,
        },
    }
}

/// Limits that let every finite scan pass but for clipping, spikes (which only warn here) and the first points.
fn trust() -> TrustLimits {
    TrustLimits {
        overload_points: 0,
        clipping_run: 4,
        missing_points: 0,
        repeated_points: 0,
        step_deviation: 0.25,
        spike_units: 8.0,
        spike_ratio: 3.0,
        least_range_a: 1e-12,
        least_range_steps: 8.0,
        start_up_points: 5,
        start_up_trend_points: 15,
        start_up_units: 6.0,
        start_up_fraction: 0.02,
        distrusted_points: 8,
        end_points: 10,
        largest_offset_a: 1.0,
        largest_noise_a: 1.0,
        largest_drift_a: 1.0,
        window_tolerance_v: 0.002,
        least_points: 20,
        least_points_per_half_width: 8.0,
        largest_mains_a: 1.0,
    }
}

fn method(potential_v: &[f64]) -> FrozenMethod<'_> {
    FrozenMethod {
        potential_v,
        settings: settings(),
        uses_blank: true,
        has_reverse: true,
        middle: Some(FixedPotential { index: 33, fraction: 0.25 }),
        shift_limit_v: 0.03,
        width_tolerance: 0.08,
        expected: ExpectedScan {
            start_v: potential_v[0],
            end_v: potential_v[N - 1],
            step_v: 0.004,
            peak_window_v: Some([potential_v[46], potential_v[20]]),
            half_width_v: None,
            mains: None,
        },
        trust: trust(),
        interval_s: Some(0.04),
        range_end_a: None,
        electrodes: 3,
        level_relative_u: 0.01,
        temperature: None,
        limits: &[],
    }
}

fn lot(claims: &[FrozenClaim]) -> FrozenLot<'_> {
    FrozenLot {
        curve: Curve {
            coefficients: [1e-9, 2e-7, 0.0],
            n_coefficients: 2,
            unscaled_covariance: [[0.5, -0.005, 0.0], [-0.005, 1e-4, 0.0], [0.0; 3]],
            residual_sd: 1e-7,
            degrees_of_freedom: 10,
            t_quantile: 2.228,
            relative_variance: [1.0, 0.0, 0.0],
            level_min: 0.0,
            level_max: 100.0,
        },
        spread: StandardSpread {
            scans_per_electrode: 2.0,
            scan_variance_a2: 1e-15,
            electrode_variance_a2: 1e-14,
        },
        peak: None,
        temperature_c: None,
        claims,
        first_day: 1,
        last_day: 2,
    }
}

/// Runs the scan point by point; the curves stay in the storage.
fn run(currents: &[f64; N], blank_a: &[f64; N], storage: &mut [f64]) -> ScanResult {
    let potential_v = potentials();
    let (method, lot) = (method(&potential_v), lot(&[]));
    let mut buffers = [[0.0; N]; 4];
    let [current_a, forward_a, reverse_a, order] = &mut buffers;
    let mut overload = [0; N];
    let storage_of_run = FrozenStorage { current_a, forward_a, reverse_a, order, overload: &mut overload };
    let mut run = method.begin(&lot, Some(blank_a), storage_of_run).expect("lengths fit");
    for &current_a in currents {
        let point =
            Point { current_a, forward_a: 0.5 * current_a, reverse_a: -0.5 * current_a, overload: false };
        run.push(point).expect("not too many");
    }
    let mut workspace = Workspace::new(storage, N).expect("large enough");
    run.finish(&mut workspace).expect("all points came")
}

fn scans() -> impl Strategy<Value = ([f64; N], [f64; N])> {
    let noise = proptest::array::uniform32(-1.0..1.0_f64);
    (noise.clone(), noise, -2.0..60.0_f64, 26.0..40.0_f64).prop_map(|(first, second, height, centre)| {
        let noisy = |i: usize| if i < 32 { first[i] } else { second[i - 32] };
        let current = core::array::from_fn(|i| {
            let x = (i as f64 - centre) / 5.0;
            -1e-6 * (height / (1.0 + x * x * x * x) + 0.1 * noisy(i) + 0.02 * i as f64)
        });
        (current, core::array::from_fn(|i| -1e-8 * (i as f64 + noisy(N - 1 - i))))
    })
}

proptest! {
    #[test]
    fn point_by_point_and_whole_scan_give_the_same_bits((current, blank) in scans()) {
        let potential_v = potentials();
        let mut storage = vec![0.0; Workspace::storage_len(N)];
        let result = run(&current, &blank, &mut storage);
        let mut whole = vec![0.0; Workspace::storage_len(N)];
        let mut workspace = Workspace::new(&mut whole, N).expect("large enough");
        let evaluator = Evaluator::new(&potential_v, settings()).expect("usable");
        let expected = evaluator.evaluate(&current, Some(&blank), &mut workspace);
        if result.reasons.contains(FrozenReason::Trust) {
            prop_assert!(result.trust.failed().count() > 0);
            prop_assert!(result.signal.is_none() && !result.has_curves);
        } else if result.outcome == ScanOutcome::SignalByPeak {
            let (found, expected) = (result.signal.expect("a signal"), expected.expect("a signal"));
            prop_assert_eq!(found.signal_a.to_bits(), expected.signal_a.to_bits());
            prop_assert_eq!(found, expected);
            // The buffers of both hold the same curves.
            prop_assert!(storage[N..].iter().zip(&whole[N..]).all(|(a, b)| a.to_bits() == b.to_bits()));
        } else if let Some(refusal) = result.refusal {
            prop_assert!(expected.is_err(), "{refusal:?}");
        }
    }

    #[test]
    fn a_point_that_is_no_number_always_refuses_and_condemns(
        (mut current, blank) in scans(), at in 0..N, bad in prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY])
    ) {
        current[at] = bad;
        let mut storage = vec![0.0; Workspace::storage_len(N)];
        let result = run(&current, &blank, &mut storage);
        prop_assert_eq!(result.outcome, ScanOutcome::Refused);
        prop_assert!(result.reasons.contains(FrozenReason::CondemnsSample));
        prop_assert_eq!(result.trust.of(TrustCheck::Overload).found.to_bits(), 1.0_f64.to_bits());
        prop_assert_eq!(result.trust.of(TrustCheck::Overload).at_index as usize, at);
    }

    #[test]
    fn the_interval_holds_its_value((current, blank) in scans(), n in 1..4_usize) {
        let mut storage = vec![0.0; Workspace::storage_len(N)];
        let scan = run(&current, &blank, &mut storage);
        let limits = ClaimLimits { decision_limit: 1.0, detection_limit: 2.0, quantification_limit: 5.0 };
        let claim = FrozenClaim { limits, disagreement_limit: 6.0 };
        let (potential_v, claims) = (potentials(), [claim; 3]);
        let (method, lot) = (method(&potential_v), lot(&claims));
        let conditions = Conditions { temperature_c: None, dilution_factor: 2.0, dilution_u: 0.02, today: Some(1), control_alive: true };
        let mut sample = SampleRun::begin(&method, &lot, conditions).expect("possible conditions");
        for electrode in 0..n {
            prop_assert!(sample.add(electrode, &scan));
        }
        let result = sample.finish();
        let [value, low, high] = result.interval;
        prop_assert!(low <= value && value <= high, "{:?}", result);
        if result.outcome == SampleOutcome::Quantified {
            prop_assert_eq!(result.n_electrodes as usize, n);
            prop_assert!(result.standard_u > 0.0);
        }
    }
}

#[test]
fn points_are_counted() {
    let potential_v = potentials();
    let (method, lot, blank_a) = (method(&potential_v), lot(&[]), [0.0; N]);
    let mut buffers = [[0.0; N]; 4];
    let [current_a, forward_a, reverse_a, order] = &mut buffers;
    let mut overload = [0; N];
    let storage = FrozenStorage { current_a, forward_a, reverse_a, order, overload: &mut overload };
    let mut run = method.begin(&lot, Some(&blank_a), storage).expect("lengths fit");
    let point = Point { current_a: -1e-6, forward_a: 0.0, reverse_a: 0.0, overload: true };
    for _ in 0..N {
        run.push(point).expect("not too many");
    }
    assert_eq!(run.push(point), Err(Refusal::LengthsDiffer { expected: N, found: N + 1 }));
    let mut numbers = [0.0; Workspace::storage_len(N)];
    let result = run.finish(&mut Workspace::new(&mut numbers, N).expect("large enough")).expect("all came");
    assert_eq!(result.trust.of(TrustCheck::Overload).found.to_bits(), (N as f64).to_bits());
    let storage = FrozenStorage { current_a, forward_a, reverse_a, order, overload: &mut overload };
    let run = method.begin(&lot, Some(&blank_a), storage).expect("lengths fit");
    let stopped = run.finish(&mut Workspace::new(&mut numbers, N).expect("large enough"));
    assert_eq!(stopped.err(), Some(Refusal::LengthsDiffer { expected: N, found: 0 }));
}

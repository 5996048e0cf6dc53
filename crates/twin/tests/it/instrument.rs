//! The instrument against the statistics that its formulas promise. Bounds are chi-squared or binomial at six standard
//! deviations unless said otherwise; seeds are fixed.

use std::f64::consts::TAU;

use stillwell_scan::{Scan, Technique, TechniqueKind};
use stillwell_stats::random::RandomStream;
use stillwell_stats::{mean, standard_deviation};
use stillwell_twin::{
    AnalogTrace, Circuit, Converter, FARADAY_C_PER_MOL, GAS_CONSTANT_J_PER_MOL_K, Mains, Overload, Part,
    Reading, Recording, Trace, TwinError, Window, johnson_a2_per_hz, low_pass, measure, shot_a2_per_hz,
    simulate,
};

use crate::scenes::{constant, linear_sweep, one_couple, pulses, square_wave};

/// A steady current read at `n_points` instants.
fn steady(current_a: f64, interval_s: f64, n_points: usize) -> Trace {
    recorded(n_points, |point| interval_s * point as f64, |_| current_a)
}

/// A trace of one-instant readings at every entry but the first.
fn recorded(n_points: usize, time_s: impl Fn(usize) -> f64, current_a: impl Fn(f64) -> f64) -> Trace {
    let times: Vec<f64> = (0..=n_points).map(time_s).collect();
    let windows = (1..=n_points)
        .map(|entry| Window { point: entry - 1, reading: Reading::Forward, first: entry, last: entry })
        .collect();
    let analog = AnalogTrace {
        current_a: times.iter().map(|t| current_a(*t)).collect(),
        potential_v: vec![0.0; n_points + 1],
        time_s: times,
        windows,
    };
    let technique = Technique::new(TechniqueKind::Chronoamperometry, 0.0, 0.0);
    Trace::assemble(&technique, vec![0.0; n_points], analog, AnalogTrace::mean_in)
}

/// So fine a converter that its steps do not count.
fn fine(range_a: f64) -> Circuit {
    Circuit { full_scale_v: 100.0, ..Circuit::new(range_a, 32) }
}

fn scan(trace: &Trace, circuit: &Circuit, index: u64) -> Scan {
    measure(trace, circuit, &mut RandomStream::new(1971, index)).unwrap()
}

/// Variance over its expectation; independent normal values keep it within 1 ± 6 √(2/n).
fn variance_ratio(values: &[f64], expected_sd: f64) -> f64 {
    let ratio = standard_deviation(values).unwrap() / expected_sd;
    ratio * ratio
}

fn assert_variance(values: &[f64], expected_sd: f64) {
    let ratio = variance_ratio(values, expected_sd);
    let bound = 6.0 * (2.0 / values.len() as f64).sqrt();
    println!("variance over expected {ratio:.5}, allowed 1 ± {bound:.5}");
    assert!((ratio - 1.0).abs() < bound, "{ratio}");
}

#[test]
fn nyquist_1928_johnson_noise_has_4_k_t_over_r_times_bandwidth() {
    let circuit = fine(1e-6); // 100 MΩ
    // 10 ms apart at a time constant of 0.16 ms: independent.
    let values = scan(&steady(0.0, 0.01, 20_000), &circuit, 0).current_a;
    // 4 × 1.380649e-23 × 298.15 / 1e8 × 1570.796: recomputed by hand.
    let expected_sd_a = (4.0 * 1.380649e-23 * 298.15 / 1e8 * 1570.7963267948966_f64).sqrt();
    assert_variance(&values, expected_sd_a);
    assert!((circuit.sample_noise(0.0).johnson_a / expected_sd_a - 1.0).abs() < 1e-12);
    assert!(mean(&values).unwrap().abs() < 6.0 * expected_sd_a / (20_000.0_f64).sqrt());
}

#[test]
fn codata_2022_constants_of_the_noise_agree_with_those_of_the_cell() {
    const AVOGADRO_PER_MOL: f64 = 6.02214076e23; // CODATA 2022, exact
    let boltzmann = johnson_a2_per_hz(1.0, 1.0) / 4.0;
    let charge = shot_a2_per_hz(1.0) / 2.0;
    assert!((boltzmann * AVOGADRO_PER_MOL / GAS_CONSTANT_J_PER_MOL_K - 1.0).abs() < 1e-14);
    assert!((charge * AVOGADRO_PER_MOL / FARADAY_C_PER_MOL - 1.0).abs() < 1e-14);
}

#[test]
fn schottky_1918_shot_noise_has_2_q_i_times_bandwidth() {
    let circuit = fine(1e-3); // 100 kΩ: its own noise is 1/1900 of the shot noise
    let values = scan(&steady(-0.9e-3, 0.01, 20_000), &circuit, 1).current_a;
    let shot_a2 = 2.0 * 1.602176634e-19 * 0.9e-3 * 1570.7963267948966;
    let johnson_a2 = 4.0 * 1.380649e-23 * 298.15 / 1e5 * 1570.7963267948966;
    assert_variance(&values, f64::sqrt(shot_a2 + johnson_a2));
}

#[test]
fn white_noise_behind_the_pole_is_correlated_as_its_time_constant_says() {
    let circuit = fine(1e-6);
    let tau_s = circuit.time_constant_s();
    let values = scan(&steady(0.0, 0.5 * tau_s, 40_000), &circuit, 2).current_a;
    let lag_1 = stillwell_stats::lag_1_autocorrelation(&values).unwrap();
    // Bartlett's standard error for a first-order process: √((1 − ρ²)/n).
    let rho = libm::exp(-0.5);
    let bound = 6.0 * ((1.0 - rho * rho) / 40_000.0).sqrt();
    assert!((lag_1 - rho).abs() < bound, "{lag_1} for {rho}");
}

#[test]
fn quantisation_error_is_uniform_with_a_twelfth_of_the_squared_step() {
    let converter = Converter { range_a: 1e-6, bits: 10 };
    let step_a = converter.step_a();
    let mut stream = RandomStream::new(1971, 3);
    let errors: Vec<f64> = (0..50_000)
        .map(|_| {
            let current_a = 0.9e-6 * (2.0 * stream.uniform() - 1.0);
            converter.current_a(converter.code(current_a)) - current_a
        })
        .collect();
    assert!(errors.iter().all(|error| error.abs() <= step_a / 2.0 * (1.0 + 1e-9)));
    // A uniform error's fourth moment gives the variance's relative standard error √(0.8/n).
    let ratio = variance_ratio(&errors, step_a / 12.0_f64.sqrt());
    assert!((ratio - 1.0).abs() < 6.0 * (0.8 / 50_000.0_f64).sqrt(), "{ratio}");
    assert!(
        (Circuit::new(1e-6, 10).sample_noise(0.0).quantisation_a - step_a / 12.0_f64.sqrt()).abs() < 1e-20
    );
}

#[test]
fn converter_is_monotone_odd_about_zero_and_ends_at_its_end_codes() {
    for bits in [2, 3, 8, 12, 16, 24, 32] {
        let converter = Converter { range_a: 3.3e-5, bits };
        let side = 1_i64 << (bits - 1);
        let code = |current_a: f64| converter.code(current_a).code;
        assert_eq!((code(1.0), code(-1.0)), (side - 1, -side));
        assert_eq!((code(f64::INFINITY), code(f64::NEG_INFINITY), code(f64::NAN)), (side - 1, -side, -side));
        assert!(converter.code(1.0).is_end && converter.code(-1.0).is_end);
        let codes: Vec<i64> = (-2_000..=2_000).map(|k| code(f64::from(k) * 2e-8)).collect();
        assert!(codes.windows(2).all(|pair| pair[0] <= pair[1]), "{bits} bits");
        assert_eq!(code(0.0), 0);
        assert_eq!(code(0.49 * converter.step_a()), 0);
        assert_eq!(code(0.51 * converter.step_a()), 1);
        assert_eq!(code(-0.51 * converter.step_a()), -1);
        if bits > 2 {
            let inside = converter.code((side - 2) as f64 * converter.step_a());
            assert!(!inside.is_end && inside.code == side - 2);
        }
    }
}

#[test]
fn readings_stand_on_the_converters_codes() {
    let circuit = Circuit::new(2e-6, 8);
    let step_a = circuit.converter().step_a();
    let values = scan(&recorded(200, |k| 0.01 * k as f64, |t| -1.5e-6 + 1.3e-6 * t), &circuit, 4).current_a;
    assert!(values.iter().all(|value| ((value / step_a).round() * step_a).to_bits() == value.to_bits()));
}

#[test]
fn flicker_noise_falls_as_1_over_f_over_two_decades() {
    let mut circuit = fine(1e-3);
    circuit.flicker_a_per_root_hz = 1e-8;
    circuit.corner_hz = 1e3;
    // 2048 Hz keep what aliases into the highest band under some per cent.
    let (interval_s, n) = (1.0 / 2048.0, 8_192);
    let lowest_hz = 1.0 / (interval_s * n as f64);
    // Periodogram with a Hann window at 1 to 100 Hz in eight bands an eighth of the two decades wide.
    let bands = 8_u32;
    let edges: Vec<f64> =
        (0..=bands).map(|k| libm::pow(10.0, 2.0 * f64::from(k) / f64::from(bands))).collect();
    let mut power = [(0.0, 0_u32); 8];
    for index in 0..40 {
        let values = scan(&steady(0.0, interval_s, n), &circuit, 100 + index).current_a;
        let average = mean(&values).unwrap();
        for (band, (sum, count)) in power.iter_mut().enumerate() {
            for part in 0..5 {
                let share = (f64::from(part) + 0.5) / 5.0;
                let hz = edges[band] * libm::pow(edges[band + 1] / edges[band], share);
                let bin = (hz / lowest_hz).round();
                *sum += hann_power(&values, average, bin) * interval_s * bin * lowest_hz;
                *count += 1;
            }
        }
    }
    // Each is S(f) f, which 1/f makes one number, K²; its logarithm against log f has slope 1 + exponent.
    let levels: Vec<f64> = power.iter().map(|(sum, count)| libm::log10(sum / f64::from(*count))).collect();
    let centres: Vec<f64> = edges.windows(2).map(|e| libm::log10((e[0] * e[1]).sqrt())).collect();
    let (x, y) = (mean(&centres).unwrap(), mean(&levels).unwrap());
    let above: f64 = centres.iter().zip(&levels).map(|(c, l)| (c - x) * (l - y)).sum();
    let below: f64 = centres.iter().map(|c| (c - x) * (c - x)).sum();
    let exponent = above / below - 1.0;
    println!(
        "exponent {exponent:.3}, density at 1 Hz over stated {:.3}",
        (libm::pow(10.0, y) / 1e-16).sqrt()
    );
    assert!((exponent + 1.0).abs() < 0.1, "{exponent}");
    // 1600 exponential values a level fit: a relative standard error of 2.5 % before the bins' correlation.
    assert!((libm::pow(10.0, y) / 1e-16 - 1.0).abs() < 0.15);
}

/// One-sided periodogram value over the sampling interval.
fn hann_power(values: &[f64], average: f64, bin: f64) -> f64 {
    let n = values.len() as f64;
    let (mut re, mut im, mut weight) = (0.0, 0.0, 0.0);
    for (k, value) in values.iter().enumerate() {
        let phase = TAU * k as f64 / n;
        let w = 0.5 - 0.5 * libm::cos(phase);
        let (sin, cos) = libm::sincos(phase * bin);
        re += w * (value - average) * cos;
        im += w * (value - average) * sin;
        weight += w * w;
    }
    2.0 * (re * re + im * im) / weight
}

#[test]
fn mains_come_through_the_pole_with_their_amplitude_and_phase() {
    let mut circuit = fine(1e-6);
    circuit.corner_hz = 100.0;
    circuit.mains = Some(Mains { amplitude_a: 5e-8, frequency_hz: 50.0, phase_rad: Some(0.7) });
    let n = 2_000;
    let values = scan(&steady(0.0, 1e-3, n), &circuit, 5).current_a;
    let (mut re, mut im) = (0.0, 0.0);
    for (k, value) in values.iter().enumerate() {
        let (sin, cos) = libm::sincos(TAU * 0.05 * (k + 1) as f64);
        re += 2.0 / n as f64 * value * sin;
        im += 2.0 / n as f64 * value * cos;
    }
    // Pole at twice the frequency: 1/√1.25, and atan(1/2) late. Johnson noise: 0.16 pA/√1000.
    assert!((libm::hypot(re, im) - 5e-8 / 1.25_f64.sqrt()).abs() < 1e-12, "{}", libm::hypot(re, im));
    assert!((libm::atan2(im, re) - (0.7 - libm::atan(0.5))).abs() < 1e-4);
    assert!((circuit.sample_noise(0.0).mains_a - 5e-8 / 2.5_f64.sqrt()).abs() < 1e-20);
}

#[test]
fn mains_without_a_phase_draw_one_for_each_scan() {
    let mut circuit = fine(1e-6);
    circuit.mains = Some(Mains { amplitude_a: 5e-8, frequency_hz: 50.0, phase_rad: None });
    let first_a: Vec<f64> =
        (0..400).map(|index| scan(&steady(0.0, 0.01, 1), &circuit, index).current_a[0]).collect();
    // A sine at a uniform phase has half the squared amplitude, with a relative standard error of √(0.5/n).
    let gain_squared = 1.0 / (1.0 + 0.05 * 0.05);
    let square_a2 = first_a.iter().map(|value| value * value).sum::<f64>() / 400.0;
    let ratio = square_a2 / (0.5 * 25e-16 * gain_squared);
    assert!((ratio - 1.0).abs() < 6.0 * (0.5 / 400.0_f64).sqrt(), "{ratio}");
}

#[test]
fn a_window_of_whole_cycles_averages_the_mains_away() {
    let analog = AnalogTrace {
        time_s: vec![0.0, 0.02, 0.04],
        current_a: vec![0.0; 3],
        potential_v: vec![0.0; 3],
        windows: vec![Window { point: 0, reading: Reading::Forward, first: 1, last: 2 }],
    };
    let technique = Technique::new(TechniqueKind::Chronoamperometry, 0.0, 0.0);
    let trace = Trace::assemble(&technique, vec![0.0], analog, AnalogTrace::mean_in);
    let mut circuit = fine(1e-6);
    circuit.mains = Some(Mains { amplitude_a: 5e-7, frequency_hz: 50.0, phase_rad: Some(0.3) });
    circuit.samples_per_reading = 16;
    assert!(scan(&trace, &circuit, 6).current_a[0].abs() < 2e-12);
    circuit.samples_per_reading = 1;
    assert!(scan(&trace, &circuit, 6).current_a[0].abs() > 1e-7);
}

#[test]
fn averaging_samples_lowers_white_noise_by_their_root() {
    let windows =
        |point| Window { point, reading: Reading::Forward, first: 2 * point + 1, last: 2 * point + 2 };
    let n = 5_000;
    let analog = AnalogTrace {
        time_s: (0..=2 * n).map(|k| 0.1 * k as f64).collect(),
        current_a: vec![0.0; 2 * n + 1],
        potential_v: vec![0.0; 2 * n + 1],
        windows: (0..n).map(windows).collect(),
    };
    let technique = Technique::new(TechniqueKind::Chronoamperometry, 0.0, 0.0);
    let trace = Trace::assemble(&technique, vec![0.0; n], analog, AnalogTrace::mean_in);
    let mut circuit = fine(1e-6);
    circuit.samples_per_reading = 16;
    let values = scan(&trace, &circuit, 7).current_a;
    assert_variance(&values, circuit.sample_noise(0.0).johnson_a / 4.0);
}

#[test]
fn the_pole_answers_a_step_and_a_ramp_as_the_closed_forms_say() {
    for share in [1e-6, 0.1, 1.0, 3.0, 50.0] {
        let step = low_pass(0.0, 1.0, 1.0, share, 1.0);
        assert!((step + libm::expm1(-share)).abs() < 1e-15);
        let ramp = low_pass(0.0, 0.0, share, share, 1.0); // t − 1 + e^(−t)
        assert!((ramp - (share + libm::expm1(-share))).abs() < 1e-15 * share.max(1.0), "{share}: {ramp}");
    }
    // Divided unevenly, the same.
    let (mut output, mut at) = (0.2, 0.0);
    for next in [0.01, 0.4, 0.45, 2.0] {
        output = low_pass(output, 3.0 * at, 3.0 * next, next - at, 0.5);
        at = next;
    }
    assert!((output - low_pass(0.2, 0.0, 6.0, 2.0, 0.5)).abs() < 1e-14);
    assert_eq!(low_pass(0.7, 0.7, 0.7, 0.3, 0.1).to_bits(), 0.7_f64.to_bits());
}

#[test]
fn a_slow_pole_delays_a_simulated_scan_and_a_fast_one_changes_nothing() {
    let recording = Recording { sampling_window_s: 0.004, ..Recording::default() };
    let trace = simulate(&one_couple(1e-2), &square_wave(0.3, -0.3, 0.025, 0.005, 25.0), &recording).unwrap();
    let peak_a = |values: &[f64]| values.iter().fold(0.0_f64, |lowest, value| lowest.min(*value));
    let with_corner = |corner_hz: f64, samples: u32| {
        let circuit = Circuit { corner_hz, samples_per_reading: samples, ..fine(1e-2) };
        peak_a(&scan(&trace, &circuit, 8).current_a)
    };
    let true_a = peak_a(&trace.current_a);
    assert!((with_corner(1e5, 64) / true_a - 1.0).abs() < 2e-3, "{} {true_a}", with_corner(1e5, 64));
    assert!(with_corner(5.0, 64) / true_a < 0.8);
}

#[test]
fn overloads_are_marked_or_silent_at_the_exact_end_codes() {
    let trace = recorded(100, |k| 0.01 * k as f64, |t| -3e-6 + 6e-6 * t);
    let mut circuit = Circuit::new(1e-6, 12);
    let marked = scan(&trace, &circuit, 9);
    assert!(!marked.overload_points.is_empty() && marked.overload_points.len() < 100);
    for (point, value) in marked.current_a.iter().enumerate() {
        assert_eq!(value.is_nan(), marked.overload_points.contains(&point));
    }
    circuit.overload = Overload::Silent;
    let silent = scan(&trace, &circuit, 9);
    assert!(silent.overload_points.is_empty());
    assert_eq!(silent.current_a[0].to_bits(), (-1e-6_f64).to_bits());
    assert_eq!(silent.current_a[99].to_bits(), (1e-6_f64 / 2048.0 * 2047.0).to_bits());
    for (marked, silent) in marked.current_a.iter().zip(&silent.current_a) {
        assert!(marked.is_nan() || marked.to_bits() == silent.to_bits());
    }
}

#[test]
fn gain_error_and_offset_shift_what_is_reported() {
    let circuit = Circuit { gain_error: 0.02, offset_a: 1e-7, ..fine(1e-3) };
    let values = scan(&steady(-5e-4, 0.01, 100), &circuit, 10).current_a;
    // 100 readings of shot noise 0.5 nA.
    assert!((mean(&values).unwrap() - (1.02 * -5e-4 + 1e-7)).abs() < 6.0 * 0.55e-10);
}

#[test]
fn same_seed_gives_the_same_bytes_on_any_thread_and_in_any_order() {
    let recording = Recording { sampling_window_s: 0.004, ..Recording::default() };
    let trace = simulate(&one_couple(1e-4), &square_wave(0.3, -0.3, 0.025, 0.01, 25.0), &recording).unwrap();
    let mains = Some(Mains { amplitude_a: 1e-8, frequency_hz: 50.0, phase_rad: None });
    let circuit =
        Circuit { flicker_a_per_root_hz: 1e-9, mains, samples_per_reading: 4, ..Circuit::new(1e-4, 16) };
    let bytes = |index: u64| -> Vec<u64> {
        let scan = scan(&trace, &circuit, index);
        let columns = [Some(scan.current_a), scan.forward_a, scan.reverse_a];
        columns.into_iter().flatten().flatten().map(f64::to_bits).collect()
    };
    let in_order: Vec<Vec<u64>> = (0..12).map(bytes).collect();
    assert_ne!(in_order[0], in_order[1]);
    for n_threads in [1, 3, 4_u64] {
        let on_threads: Vec<(u64, Vec<u64>)> = std::thread::scope(|scope| {
            let thread = |first: u64| {
                let bytes = &bytes;
                scope.spawn(move || -> Vec<(u64, Vec<u64>)> {
                    (0..12)
                        .rev()
                        .filter(|index| index % n_threads == first)
                        .map(|index| (index, bytes(index)))
                        .collect()
                })
            };
            let threads: Vec<_> = (0..n_threads).map(thread).collect();
            threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
        });
        assert!(on_threads.iter().all(|(index, bytes)| *bytes == in_order[usize::try_from(*index).unwrap()]));
    }
}

#[test]
fn another_converter_sees_the_same_noise() {
    let trace = steady(-1e-7, 0.01, 500);
    let fine_a = scan(&trace, &fine(1e-6), 11).current_a;
    let coarse = Circuit { full_scale_v: 100.0, flicker_a_per_root_hz: 0.0, ..Circuit::new(1e-6, 24) };
    let coarse_a = scan(&trace, &coarse, 11).current_a;
    let step_a = coarse.converter().step_a();
    assert!(fine_a.iter().zip(&coarse_a).all(|(fine, coarse)| (fine - coarse).abs() <= 0.51 * step_a));
}

#[test]
fn potentials_stand_on_whole_steps_of_their_converter() {
    let mut technique = square_wave(0.1, -0.5, 0.025, 0.001, 25.0);
    let mut circuit = Circuit::new(1e-5, 16);
    assert_eq!(circuit.applied(&technique).unwrap(), technique);
    circuit.potential_step_v = 0.0008;
    let applied = circuit.applied(&technique).unwrap();
    assert_eq!(applied.n_points(), technique.n_points());
    for value_v in [Some(applied.start_v), Some(applied.end_v), applied.step_v, applied.amplitude_v] {
        let steps = value_v.unwrap() / 0.0008;
        assert!((steps - steps.round()).abs() < 1e-9, "{steps}");
    }
    assert_eq!(applied.step_v, Some(0.0008));
    technique.scan_rate_v_per_s = Some(0.1);
    let applied_rate = circuit.applied(&technique).unwrap().scan_rate_v_per_s.unwrap();
    assert!((applied_rate - 0.08).abs() < 1e-12); // ten milliseconds a step, as programmed
    technique.step_v = Some(0.0003);
    assert!(matches!(circuit.applied(&technique), Err(TwinError::OutOfRange { .. })));
}

#[test]
fn every_level_of_an_applied_technique_is_a_whole_code() {
    let mut circuit = Circuit::new(1e-5, 16);
    circuit.potential_step_v = 0.0008;
    let cyclic = Technique { vertex_v: Some(-0.5), ..linear_sweep(0.1, 0.2, 0.0013, 0.1) };
    let pulses = |kind| pulses(kind, (0.2, -0.3), 0.005, 0.05, 0.02, 0.1);
    let techniques = [
        square_wave(0.1, -0.5, 0.025, 0.001, 25.0),
        linear_sweep(0.3, -0.2, 0.0011, 0.1),
        Technique { kind: TechniqueKind::Cyclic, cycles: Some(2), ..cyclic },
        pulses(TechniqueKind::DifferentialPulse),
        pulses(TechniqueKind::NormalPulse),
        constant(-0.3333, 0.1),
    ];
    for technique in techniques {
        let applied = circuit.applied(&technique).unwrap();
        assert_eq!(applied.n_points(), technique.n_points(), "{:?}", technique.kind);
        let trace = simulate(&one_couple(1e-5), &applied, &Recording::default()).unwrap();
        for potential_v in trace.potential_v.iter().chain(&trace.analog.potential_v) {
            let code = potential_v / 0.0008;
            assert!((code - code.round()).abs() < 1e-6, "{:?}: {potential_v} V", technique.kind);
        }
    }
}

#[test]
fn impossible_circuits_are_refused_with_the_range() {
    let trace = steady(0.0, 0.01, 3);
    let good = Circuit::new(1e-6, 16);
    let mains = |amplitude_a, frequency_hz| Some(Mains { amplitude_a, frequency_hz, phase_rad: None });
    let bad = [
        Circuit { potential_step_v: -1e-3, ..good.clone() },
        Circuit { range_a: 0.0, ..good.clone() },
        Circuit { range_a: f64::NAN, ..good.clone() },
        Circuit { adc_bits: 1, ..good.clone() },
        Circuit { adc_bits: 33, ..good.clone() },
        Circuit { full_scale_v: 0.0, ..good.clone() },
        Circuit { temperature_k: 20.0, ..good.clone() },
        Circuit { corner_hz: f64::INFINITY, ..good.clone() },
        Circuit { flicker_a_per_root_hz: -1e-9, ..good.clone() },
        Circuit { gain_error: f64::NAN, ..good.clone() },
        Circuit { offset_a: f64::NEG_INFINITY, ..good.clone() },
        Circuit { samples_per_reading: 0, ..good.clone() },
        Circuit { mains: mains(-1.0, 50.0), ..good.clone() },
        Circuit { mains: mains(1e-9, 0.0), ..good.clone() },
        Circuit { samples_per_reading: 4, ..good.clone() }, // of instants
    ];
    assert!(measure(&trace, &good, &mut RandomStream::new(1, 0)).is_ok());
    for circuit in bad {
        let refusal = measure(&trace, &circuit, &mut RandomStream::new(1, 0)).unwrap_err();
        let TwinError::OutOfRange { accepted, .. } = &refusal else { panic!("{refusal}") };
        assert!(!accepted.is_empty() && refusal.to_string().contains("accepted"), "{refusal}");
    }
}

#[test]
fn after_a_jump_of_the_potential_the_new_current_holds_at_once() {
    let analog = |after_v: f64| AnalogTrace {
        time_s: vec![0.0, 1.0, 1.01, 1.5],
        current_a: vec![0.0, 0.0, 1e-4, 1e-4],
        potential_v: vec![0.0, 0.0, after_v, after_v],
        windows: vec![Window { point: 0, reading: Reading::Forward, first: 2, last: 2 }],
    };
    let technique = Technique::new(TechniqueKind::Chronoamperometry, 0.0, 0.0);
    let circuit = Circuit { corner_hz: 1.0 / TAU, ..fine(1e-3) };
    let read_a = |after_v: f64| {
        let trace = Trace::assemble(&technique, vec![0.0], analog(after_v), AnalogTrace::mean_in);
        scan(&trace, &circuit, 12).current_a[0]
    };
    // One pole of 1 s after 10 ms: 1 − e^(−0.01) of a step, and of a ramp the half of it.
    assert!((read_a(0.1) / 1e-4 + libm::expm1(-0.01)).abs() < 1e-4);
    assert!((read_a(0.0) / 1e-4 + libm::expm1(-0.01) / 2.0).abs() < 1e-4);
}

#[test]
fn a_part_taken_as_perfect_takes_its_share_of_the_noise_and_no_other() {
    let current_a = 1e-6;
    let circuit = fine(2e-6);
    let noise = circuit.sample_noise(current_a);
    let read = |circuit: &Circuit| scan(&steady(current_a, 0.01, 20_000), circuit, 7).current_a;
    assert_variance(&read(&circuit.without(Part::Johnson)), noise.shot_a);
    assert_variance(&read(&circuit.without(Part::Shot)), noise.johnson_a);

    let coarse = Circuit { adc_bits: 8, ..circuit };
    let step_a = coarse.converter().step_a();
    let (stepped, stepless) = (read(&coarse), read(&coarse.without(Part::ConverterSteps)));
    assert_ne!(stepped, stepless);
    for (stepped_a, stepless_a) in stepped.iter().zip(&stepless) {
        assert!((stepped_a - stepless_a).abs() <= 0.5001 * step_a);
    }
}

//! Flags, refusals, fixed windows, despiking and alignment on scans whose answer is known.

use stillwell_evaluate::{
    AreaLimits, Baseline, Despike, Direction, Evaluator, FixedPotential, Flag, IndexRange, Measure,
    PeakLimits, Placement, RangeName, Refusal, Settings, Smoother, Workspace, despike, estimate_shift,
    resample_shifted,
};

use crate::scans::{bump, evaluate, falling_grid, noise, plain_settings, range};

const N: usize = 121;

fn ends() -> Baseline {
    Baseline::Line { before: range(0, 9), after: range(N - 10, N - 1) }
}

fn reduction<'a>(baseline: Baseline) -> Settings<'a> {
    plain_settings(range(30, 90), Direction::Reduction, baseline)
}

/// A reduction peak of 1 µA at point `centre` on a flat background.
fn scan_with_peak(centre: f64) -> Vec<f64> {
    (0..N).map(|i| -2e-6 - 1e-6 * bump(i as f64, centre, 12.0)).collect()
}

#[test]
fn a_reduction_peak_is_positive_along_its_direction() {
    let signal = evaluate(&falling_grid(N), &reduction(ends()), &scan_with_peak(60.0), None).unwrap();
    assert!(signal.signal_a > 0.99e-6 && signal.signal_a < 1.001e-6);
    assert!((signal.peak_potential_v.unwrap() - (-0.2 - 0.005 * 60.0)).abs() < 1e-12);
    assert!((signal.baseline_at_peak_a + 2e-6).abs() < 1e-8);
    assert!((signal.background_ratio.unwrap() - 2.0).abs() < 0.02);
    // The squared Lorentzian falls to half at ±0.6436 widths.
    assert!((signal.half_width_v.unwrap() - 2.0 * 0.6436 * 12.0 * 0.005).abs() < 1e-3);
}

#[test]
fn the_vertex_of_a_parabola_is_exact_on_uneven_grids() {
    // x² steps, rising and falling; the curve 1 − (x − 0.37)² has its vertex between the points.
    let uneven: Vec<f64> = (0..20).map(|i| f64::from(i * i) / 361.0).collect();
    for potential_v in [uneven.clone(), uneven.into_iter().rev().collect()] {
        let scan: Vec<f64> = potential_v.iter().map(|x| 1.0 - (x - 0.37) * (x - 0.37)).collect();
        let settings = plain_settings(range(1, 18), Direction::Oxidation, Baseline::None);
        let signal = evaluate(&potential_v, &settings, &scan, None).unwrap();
        assert!((signal.peak_potential_v.unwrap() - 0.37).abs() < 1e-13);
        assert!((signal.signal_a - 1.0).abs() < 1e-14);
    }
}

#[test]
fn a_maximum_on_the_windows_edge_issues_no_signal() {
    let outcome = evaluate(&falling_grid(N), &reduction(ends()), &scan_with_peak(100.0), None);
    assert!(matches!(outcome, Err(Refusal::MaximumOnWindowEdge { index: 90, .. })), "{outcome:?}");
    // The same curve with the window around the peak is fine: the edge, not the curve, was at fault.
    let mut settings = reduction(Baseline::None);
    settings.peak.window = range(70, 115);
    assert!(evaluate(&falling_grid(N), &settings, &scan_with_peak(100.0), None).is_ok());
}

#[test]
fn a_height_below_k_times_the_noise_is_no_peak() {
    let with_noise = |height: f64| -> Vec<f64> {
        (0..N).map(|i| -1e-6 - height * bump(i as f64, 60.0, 12.0) + 2e-8 * noise(7, i)).collect()
    };
    let mut settings = reduction(ends());
    settings.noise = [Some(range(0, 20)), Some(range(100, N - 1))];
    settings.limits.min_signal_to_noise = Some(10.0);
    let signal = evaluate(&falling_grid(N), &settings, &with_noise(5e-7), None).unwrap();
    // Uniform noise of width 2e-8 has the standard deviation 5.8e-9.
    assert!((4e-9..9e-9).contains(&signal.noise_a.unwrap()), "{:?}", signal.noise_a);
    assert!(signal.signal_to_noise.unwrap() > 50.0);
    let weak = evaluate(&falling_grid(N), &settings, &with_noise(2e-8), None);
    assert!(matches!(weak, Err(Refusal::NoPeak { .. })), "{weak:?}");
    // An oxidation peak looked for as a reduction has no height at all.
    let mut wrong = reduction(Baseline::None);
    wrong.peak.direction = Direction::Oxidation;
    let curve: Vec<f64> = (0..N).map(|i| -1e-6 - 1e-9 * (i as f64 - 60.0) * (i as f64 - 60.0)).collect();
    assert!(matches!(evaluate(&falling_grid(N), &wrong, &curve, None), Err(Refusal::NoPeak { .. })));
}

#[test]
fn noise_is_taken_from_the_unsmoothed_curve() {
    let scan: Vec<f64> =
        (0..N).map(|i| -1e-6 - 1e-6 * bump(i as f64, 60.0, 12.0) + 2e-8 * noise(3, i)).collect();
    let mut weights = [0.0; Smoother::storage_len(21)];
    let mut settings = reduction(Baseline::None);
    settings.noise = [Some(range(0, 20)), None];
    let raw = evaluate(&falling_grid(N), &settings, &scan, None).unwrap();
    settings.smoother = Some(Smoother::savitzky_golay(21, 2, &mut weights).unwrap());
    let smoothed = evaluate(&falling_grid(N), &settings, &scan, None).unwrap();
    assert_eq!(raw.noise_a, smoothed.noise_a);
}

#[test]
fn two_peaks_background_and_shift_are_flagged() {
    let two: Vec<f64> = (0..N)
        .map(|i| -2e-6 - 1e-6 * bump(i as f64, 50.0, 8.0) - 0.5e-6 * bump(i as f64, 78.0, 6.0))
        .collect();
    let mut settings = reduction(ends());
    settings.limits = PeakLimits {
        min_signal_to_noise: None,
        max_background_ratio: Some(3.0),
        second_peak_fraction: Some(0.2),
        reference_potential_v: Some((-0.45, 0.02)),
    };
    let flags = evaluate(&falling_grid(N), &settings, &two, None).unwrap().flags;
    assert_eq!(flags.iter().collect::<Vec<_>>(), [Flag::TwoPeaks]);
    let shifted = evaluate(&falling_grid(N), &settings, &scan_with_peak(60.0), None).unwrap().flags;
    assert_eq!(shifted.iter().collect::<Vec<_>>(), [Flag::PotentialShifted]);
    let high: Vec<f64> = scan_with_peak(50.0).iter().map(|y| y - 4e-6).collect();
    let signal = evaluate(&falling_grid(N), &settings, &high, None).unwrap();
    assert_eq!(signal.flags.iter().collect::<Vec<_>>(), [Flag::BackgroundSwallowsPeak]);
    // The background counts whether it is left in the baseline or taken off as a blank.
    let blank = vec![-6e-6; N];
    let less_blank = evaluate(&falling_grid(N), &settings, &high, Some(&blank)).unwrap();
    assert!((less_blank.background_ratio.unwrap() - signal.background_ratio.unwrap()).abs() < 1e-9);
}

#[test]
fn blanks_in_a_fixed_window_scatter_around_zero() {
    let mut settings = reduction(ends());
    settings.peak.placement = Placement::FixedWindow;
    settings.peak.window = range(55, 65);
    let place = FixedPotential::on(&falling_grid(N), -0.5025).unwrap();
    for measure in [Measure::Height, Measure::HeightAt(place), Measure::Area(AreaLimits::Window)] {
        settings.peak.measure = measure;
        let signals: Vec<f64> = (0..300)
            .map(|seed| {
                let blank: Vec<f64> = (0..N).map(|i| -1e-6 + 1e-8 * noise(seed, i)).collect();
                evaluate(&falling_grid(N), &settings, &blank, None).unwrap().signal_a
            })
            .collect();
        let n_negative = signals.iter().filter(|s| **s < 0.0).count();
        assert!((110..190).contains(&n_negative), "{measure:?}: {n_negative} of 300 negative");
    }
    settings.peak.measure = Measure::Height;
    let signal = evaluate(&falling_grid(N), &settings, &scan_with_peak(60.0), None).unwrap();
    assert_eq!((signal.peak_potential_v, signal.peak_index, signal.half_width_v), (None, 60, None));
    assert!(signal.signal_a > 0.85e-6);
}

#[test]
fn zero_is_issued_without_a_sign() {
    let mut settings = reduction(Baseline::None);
    settings.peak.placement = Placement::FixedWindow;
    for zero in [0.0, -0.0] {
        let signal = evaluate(&falling_grid(N), &settings, &[zero; N], None).unwrap();
        assert_eq!(signal.signal_a.to_bits(), 0);
    }
    // The smallest number there is, against the direction: its mean rounds to −0.0.
    let mut scan = [0.0; N];
    scan[60] = f64::from_bits(1);
    let signal = evaluate(&falling_grid(N), &settings, &scan, None).unwrap();
    assert_eq!(signal.signal_a.to_bits(), 0);
}

#[test]
fn subnormal_currents_are_not_flushed_to_zero() {
    let tiny = f64::MIN_POSITIVE / 1048576.0;
    let scan: Vec<f64> = (0..N).map(|i| if i == 60 { -3.0 * tiny } else { -tiny }).collect();
    let signal = evaluate(&falling_grid(N), &reduction(ends()), &scan, None).unwrap();
    assert_eq!(signal.signal_a.to_bits(), (2.0 * tiny).to_bits());
}

#[test]
fn the_first_nan_is_named() {
    let potential_v = falling_grid(N);
    let (mut scan, mut blank) = (scan_with_peak(60.0), vec![0.0; N]);
    (scan[44], scan[90]) = (f64::NAN, f64::INFINITY);
    let outcome = evaluate(&potential_v, &reduction(ends()), &scan, Some(&blank));
    assert_eq!(outcome, Err(Refusal::NotFinite { index: 44 }));
    blank[7] = f64::NEG_INFINITY;
    let outcome = evaluate(&potential_v, &reduction(ends()), &scan, Some(&blank));
    assert_eq!(outcome, Err(Refusal::NotFinite { index: 7 }));
    let evaluator = Evaluator::new(&potential_v, reduction(ends())).unwrap();
    let mut storage = [0.0; Workspace::storage_len(N)];
    let mut workspace = Workspace::new(&mut storage, N).unwrap();
    let mut stream = evaluator.begin(None, &mut workspace).unwrap();
    assert_eq!(stream.push(1.0), Ok(()));
    assert_eq!(stream.push(f64::NAN), Err(Refusal::NotFinite { index: 1 }));
    assert_eq!(stream.finish(), Err(Refusal::LengthsDiffer { expected: N, found: 1 }));
}

#[test]
fn settings_that_cannot_work_are_refused_before_the_first_scan() {
    let potential_v = falling_grid(N);
    let refused = |settings| Evaluator::new(&potential_v, settings).err();
    let mut overlapping = reduction(ends());
    overlapping.noise = [Some(range(20, 30)), None];
    let noise = Refusal::RangeNotUsable { range: RangeName::Noise, first: 20, last: 30 };
    assert_eq!(refused(overlapping), Some(noise));
    let crossed = Baseline::Line { before: range(20, 40), after: range(40, 50) };
    let after = Refusal::RangeNotUsable { range: RangeName::BaselineAfter, first: 40, last: 50 };
    assert_eq!(refused(reduction(crossed)), Some(after));
    let narrow = Baseline::Tangent { search: range(30, 100) };
    let search = Refusal::RangeNotUsable { range: RangeName::TangentSearch, first: 30, last: 100 };
    assert_eq!(refused(reduction(narrow)), Some(search));
    let stalled = [0.0, -0.1, -0.1, -0.2];
    let settings = plain_settings(range(1, 2), Direction::Reduction, Baseline::None);
    assert_eq!(Evaluator::new(&stalled, settings).err(), Some(Refusal::PotentialNotMonotonic { index: 2 }));
    let mut storage = vec![0.0; Smoother::storage_len(101)];
    for (window, degree) in [(4, 1), (103, 2), (5, 5), (11, 6)] {
        assert!(Smoother::savitzky_golay(window, degree, &mut storage).is_err(), "{window}, {degree}");
    }
    let frozen = Smoother::savitzky_golay(7, 2, &mut storage).unwrap().row(3).to_vec();
    assert!(Smoother::from_frozen(7, &frozen).is_err());
}

#[test]
fn frozen_weights_smooth_with_the_same_bits() {
    let mut storage = [0.0; Smoother::storage_len(11)];
    let copy = {
        Smoother::savitzky_golay(11, 3, &mut storage).unwrap();
        storage
    };
    let (fresh, frozen) =
        (Smoother::savitzky_golay(11, 3, &mut storage).unwrap(), Smoother::from_frozen(11, &copy).unwrap());
    assert_eq!(fresh, frozen);
}

#[test]
fn despiking_repairs_single_points_and_spares_narrow_peaks() {
    let rule = Despike { limit: 5.0, min_ratio: 3.0, floor_a: 1e-10 };
    let (mut repaired, mut scratch) = (vec![0.0; N], vec![0.0; N]);
    // Gaussians down to a standard deviation of 0.7 points, their tip on or between points.
    for width in [0.7, 0.8, 1.0, 2.0, 5.0] {
        for centre in [60.0, 60.25, 60.5] {
            let peak =
                |i: usize| libm::exp(-0.5 * (i as f64 - centre) * (i as f64 - centre) / (width * width));
            let scan: Vec<f64> = (0..N).map(|i| -1e-6 - 1e-6 * peak(i) + 1e-9 * noise(5, i)).collect();
            let n = despike(&rule, &scan, &mut repaired, &mut scratch).unwrap();
            assert_eq!((n, &repaired), (0, &scan), "width {width}, centre {centre}");
        }
    }
    let mut scan = scan_with_peak(60.0);
    for (i, y) in scan.iter_mut().enumerate() {
        *y += 1e-9 * noise(6, i);
    }
    let clean = scan.clone();
    for i in [20, 58, 100] {
        scan[i] += 1e-6;
    }
    assert_eq!(despike(&rule, &scan, &mut repaired, &mut scratch), Ok(3));
    let worst = repaired.iter().zip(&clean).fold(0.0_f64, |m, (a, b)| m.max((a - b).abs()));
    assert!(worst < 2e-8, "{worst}");
    let mut settings = reduction(ends());
    settings.despike = Some(rule);
    let signal = evaluate(&falling_grid(N), &settings, &scan, None).unwrap();
    assert!(signal.despiked == 3 && signal.flags.contains(Flag::Despiked));
    // Noise: a low limit finds its outliers, a high one leaves them.
    let plain_noise: Vec<f64> = (0..N).map(|i| if i == 60 { 4e-6 } else { 1e-6 * noise(11, i) }).collect();
    let count =
        |limit| despike(&Despike { limit, ..rule }, &plain_noise, &mut vec![0.0; N], &mut vec![0.0; N]);
    assert!(count(1.0).unwrap() > 0);
    assert_eq!(count(50.0), Ok(0));
    // A converter's staircase: steps of one resolution are no spikes.
    let staircase: Vec<f64> = (0..N).map(|i| if i % 17 == 0 { 1e-10 } else { 0.0 }).collect();
    assert_eq!(despike(&rule, &staircase, &mut repaired, &mut scratch), Ok(0));
}

#[test]
fn a_tangent_finds_the_feet_of_a_peak_on_a_slope() {
    // Convex background: the common tangent touches beside the peak, a line between fixed ends would not.
    let background = |i: f64| -1e-6 - 3e-10 * i * i;
    let scan: Vec<f64> = (0..N).map(|i| background(i as f64) - 1e-6 * bump(i as f64, 60.0, 5.0)).collect();
    let settings = reduction(Baseline::Tangent { search: range(0, N - 1) });
    let mut storage = [0.0; Workspace::storage_len(N)];
    let mut workspace = Workspace::new(&mut storage, N).unwrap();
    let potential_v = falling_grid(N);
    let evaluator = Evaluator::new(&potential_v, settings).unwrap();
    let signal = evaluator.evaluate(&scan, None, &mut workspace).unwrap();
    let [left, right] = signal.baseline_points.unwrap();
    assert!((20..55).contains(&left) && (65..100).contains(&right), "{left}, {right}");
    assert!((signal.signal_a - 1e-6).abs() < 2e-7);
    // No point of the search range but the peak's own lies beneath the tangent.
    assert!(workspace.corrected_a().iter().all(|y| *y >= -1e-18));
}

#[test]
fn minima_are_the_lowest_points_along_the_direction() {
    let mut scan = scan_with_peak(60.0);
    for (i, y) in scan.iter_mut().enumerate() {
        *y += 1e-8 * noise(9, i);
    }
    let (before, after) = (range(5, 40), range(80, 115));
    let settings = reduction(Baseline::Minima { before, after });
    let signal = evaluate(&falling_grid(N), &settings, &scan, None).unwrap();
    // Along a reduction the lowest point is the most positive current.
    let highest = |r: IndexRange| (r.first..=r.last).max_by(|a, b| scan[*a].total_cmp(&scan[*b])).unwrap();
    assert_eq!(signal.baseline_points, Some([highest(before), highest(after)]));
}

#[test]
fn the_area_between_feet_is_that_of_a_triangle() {
    let mut scan = [0.0_f64; 41];
    for (i, y) in scan.iter_mut().enumerate() {
        *y = -(1.0 - 0.1 * (i as f64 - 20.0).abs()).max(-0.5);
    }
    let potential_v: Vec<f64> = (0..41).map(|i| -0.01 * f64::from(i)).collect();
    let mut settings = plain_settings(range(5, 35), Direction::Reduction, Baseline::None);
    settings.peak.measure = Measure::Area(AreaLimits::Crossings);
    let signal = evaluate(&potential_v, &settings, &scan, None).unwrap();
    assert!((signal.signal_a - 0.1).abs() < 1e-15, "{}", signal.signal_a);
    let [from, to] = signal.foot_potential_v;
    assert!((from + 0.1).abs() < 1e-12 && (to + 0.3).abs() < 1e-12);
}

#[test]
fn a_shifted_scan_is_measured_and_drawn_back() {
    let reference = scan_with_peak(60.0);
    for shift in [-3.3, -0.5, 0.0, 0.25, 2.0, 4.6] {
        // Twice the height and another offset: the comparison is blind to both.
        let scan: Vec<f64> = scan_with_peak(60.0 + shift).iter().map(|y| 2.0 * y + 1e-6).collect();
        let found = estimate_shift(&reference, &scan, 8, range(20, 100)).unwrap();
        assert!((found.points - shift).abs() < 0.05 && !found.at_bound, "{shift}: {found:?}");
        let mut aligned = vec![0.0; N];
        let covered = resample_shifted(&scan, shift, &mut aligned).unwrap();
        for i in covered.first..=covered.last {
            assert!((aligned[i] - (2.0 * reference[i] + 1e-6)).abs() < 1.2e-8, "{shift}, point {i}");
        }
    }
    let far = scan_with_peak(75.0);
    assert!(estimate_shift(&reference, &far, 5, range(20, 100)).unwrap().at_bound);
    assert_eq!(estimate_shift(&reference, &[1.0; N], 5, range(20, 100)), Err(Refusal::OutOfNumberRange));
    let outside = IndexRange { first: 3, last: 100 };
    assert!(estimate_shift(&reference, &far, 5, outside).is_err());
}

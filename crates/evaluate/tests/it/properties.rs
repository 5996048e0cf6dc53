//! What must hold for every scan: the same bits in every shape, scaling, added lines, no panic.

use proptest::collection::vec;
use proptest::prelude::{Just, Strategy, any, prop_assert, prop_assert_eq, prop_oneof, proptest};
use stillwell_evaluate::{
    AreaLimits, AsymmetricLeastSquares, Baseline, Blanks, Despike, Direction, Evaluator, FixedPotential,
    IndexRange, Measure, PeakLimits, PeakSettings, Placement, Refusal, Settings, Signal, Smoother, Workspace,
    despike, estimate_shift, resample_shifted,
};

use crate::scans::{bump, falling_grid, noise, range};

fn baselines(n: usize) -> impl Strategy<Value = Baseline> {
    let (before, after) = (range(1, n / 5), range(n - 1 - n / 5, n - 2));
    prop_oneof![
        Just(Baseline::None),
        Just(Baseline::Line { before, after }),
        Just(Baseline::Minima { before, after }),
        Just(Baseline::Tangent { search: range(0, n - 1) }),
        (0_usize..=4).prop_map(move |degree| Baseline::Polynomial { degree, before, after }),
        (1.0..1e6_f64, 0.001..0.2_f64, 1_u32..30).prop_map(|(stiffness, asymmetry, max_iterations)| {
            Baseline::AsymmetricLeastSquares(AsymmetricLeastSquares { stiffness, asymmetry, max_iterations })
        }),
    ]
}

fn measures(n: usize) -> impl Strategy<Value = Measure> {
    prop_oneof![
        Just(Measure::Height),
        Just(Measure::Area(AreaLimits::Crossings)),
        Just(Measure::Area(AreaLimits::Window)),
        (0..n - 1, 0.0..=1.0_f64)
            .prop_map(|(index, fraction)| Measure::HeightAt(FixedPotential { index, fraction })),
    ]
}

/// Settings without smoother on scans of n points (n ≥ 20).
fn settings(n: usize) -> impl Strategy<Value = Settings<'static>> {
    let placement = prop_oneof![Just(Placement::Search), Just(Placement::FixedWindow)];
    let direction = prop_oneof![Just(Direction::Oxidation), Just(Direction::Reduction)];
    let rule = Just(Despike { limit: 5.0, min_ratio: 3.0, floor_a: 0.0 });
    (baselines(n), measures(n), placement, direction, proptest::option::of(rule), any::<bool>()).prop_map(
        move |(baseline, measure, placement, direction, despike, limited)| Settings {
            despike,
            smoother: None,
            baseline,
            peak: PeakSettings { window: range(n / 4, n - 1 - n / 4), direction, placement, measure },
            noise: [Some(range(0, n / 5)), Some(range(n - 1 - n / 5, n - 1))],
            limits: if limited {
                PeakLimits {
                    min_signal_to_noise: Some(3.0),
                    max_background_ratio: Some(10.0),
                    second_peak_fraction: Some(0.3),
                    reference_potential_v: Some((-0.4, 0.02)),
                }
            } else {
                PeakLimits::NONE
            },
        },
    )
}

/// Peaks of either direction on a curved background, with noise and a spike.
fn peak_scan(n: usize, seed: u64) -> Vec<f64> {
    let height = 4e-6 * noise(seed, 1_000_001);
    let centre = n as f64 * (0.5 + 0.3 * noise(seed, 1_000_002));
    let mut scan: Vec<f64> = (0..n)
        .map(|i| {
            let x = i as f64 / n as f64;
            let background = -1e-6 * (1.0 + 2.0 * x * x);
            background + height * bump(i as f64, centre, n as f64 / 12.0) + 5e-8 * noise(seed, i)
        })
        .collect();
    if seed.is_multiple_of(3) {
        scan[n / 3] += 3e-6;
    }
    scan
}

/// Every number of an outcome as bits.
fn bits(outcome: &Result<Signal, Refusal>) -> String {
    // `{:?}` of f64 prints the shortest text that reads back to the same bits.
    format!("{outcome:?}")
}

fn whole(evaluator: &Evaluator<'_>, scan: &[f64], blank: Option<&[f64]>) -> Result<Signal, Refusal> {
    let mut storage = vec![0.0; Workspace::storage_len(scan.len())];
    evaluator.evaluate(scan, blank, &mut Workspace::new(&mut storage, scan.len())?)
}

fn streamed(evaluator: &Evaluator<'_>, scan: &[f64], blank: Option<&[f64]>) -> Result<Signal, Refusal> {
    let mut storage = vec![f64::NAN; Workspace::storage_len(scan.len())];
    let mut workspace = Workspace::new(&mut storage, scan.len())?;
    let mut stream = evaluator.begin(blank, &mut workspace)?;
    for current_a in scan {
        stream.push(*current_a)?;
    }
    stream.finish()
}

proptest! {
    #![proptest_config(proptest::test_runner::Config::with_cases(1000))]

    #[test]
    fn every_shape_processor_and_thread_count_gives_the_same_bits(
        n in 20_usize..90,
        (seed, window, degree) in (any::<u64>(), prop_oneof![Just(1_usize), Just(5), Just(11), Just(17), Just(19)], 0_usize..4),
        n_scans in 1_usize..20,
        blank_kind in 0_u8..3,
        base in (20_usize..90).prop_flat_map(|n| settings(n).prop_map(move |s| (n, s))),
    ) {
        let (n, mut settings) = if seed.is_multiple_of(2) { base } else { (n.max(base.0), Settings { baseline: Baseline::None, ..base.1 }) };
        let mut weights = vec![0.0; Smoother::storage_len(window)];
        settings.smoother = Some(Smoother::savitzky_golay(window, degree.min(window - 1), &mut weights).unwrap());
        let potential_v = falling_grid(n);
        let evaluator = Evaluator::new(&potential_v, settings).unwrap();
        let mut scans: Vec<f64> = (0..n_scans).flat_map(|s| peak_scan(n, seed.wrapping_add(s as u64))).collect();
        if seed.is_multiple_of(5) {
            scans[n_scans * n / 2] = f64::NAN;
        }
        let per_scan: Vec<f64> = (0..n_scans * n).map(|i| -1e-6 + 1e-8 * noise(seed, i)).collect();
        let blanks = match blank_kind {
            0 => Blanks::None,
            1 => Blanks::Shared(&per_scan[..n]),
            _ => Blanks::PerScan(&per_scan),
        };
        let blank_of = |s: usize| match blank_kind {
            0 => None,
            1 => Some(&per_scan[..n]),
            _ => Some(&per_scan[s * n..(s + 1) * n]),
        };
        let run = |plain: bool, scans: &[f64], blanks: Blanks<'_>| {
            let mut storage = vec![f64::NAN; evaluator.batch_storage_len()];
            let mut outcomes = vec![Err(Refusal::OutOfNumberRange); scans.len() / n];
            let done = if plain {
                evaluator.batch_plain(scans, blanks, &mut storage, &mut outcomes)
            } else {
                evaluator.batch(scans, blanks, &mut storage, &mut outcomes)
            };
            done.unwrap();
            outcomes
        };
        let (chosen, plain) = (run(false, &scans, blanks), run(true, &scans, blanks));
        // Two threads, each with a part of the scans.
        let at = n_scans / 2;
        let part = |from: usize, to: usize| match blanks {
            Blanks::PerScan(b) => Blanks::PerScan(&b[from * n..to * n]),
            other => other,
        };
        let threaded = std::thread::scope(|scope| {
            let first = scope.spawn(|| run(false, &scans[..at * n], part(0, at)));
            let second = scope.spawn(|| run(false, &scans[at * n..], part(at, n_scans)));
            [first.join().unwrap(), second.join().unwrap()].concat()
        });
        for (s, scan) in scans.chunks_exact(n).enumerate() {
            let expected = bits(&whole(&evaluator, scan, blank_of(s)));
            prop_assert_eq!(&bits(&chosen[s]), &expected);
            prop_assert_eq!(&bits(&plain[s]), &expected);
            prop_assert_eq!(&bits(&threaded[s]), &expected);
            prop_assert_eq!(&bits(&streamed(&evaluator, scan, blank_of(s))), &expected);
        }
    }

    #[test]
    fn scaling_the_current_scales_the_signal(
        (n, settings) in (20_usize..90).prop_flat_map(|n| settings(n).prop_map(move |s| (n, s))),
        seed in any::<u64>(),
        power in -20_i32..20,
        factor in 0.1..10.0_f64,
    ) {
        let mut weights = vec![0.0; Smoother::storage_len(7)];
        let settings = Settings { smoother: Some(Smoother::savitzky_golay(7, 2, &mut weights).unwrap()), ..settings };
        let potential_v = falling_grid(n);
        let evaluator = Evaluator::new(&potential_v, settings).unwrap();
        let scan = peak_scan(n, seed);
        let two = (0..power.abs()).fold(1.0, |p, _| if power < 0 { 0.5 * p } else { 2.0 * p });
        let scaled = |by: f64| scan.iter().map(|x| by * x).collect::<Vec<f64>>();
        let outcome = whole(&evaluator, &scan, None);
        let doubled = whole(&evaluator, &scaled(two), None);
        match (&outcome, &doubled) {
            (Ok(signal), Ok(doubled)) => {
                prop_assert_eq!((two * signal.signal_a).to_bits(), doubled.signal_a.to_bits());
                prop_assert_eq!(signal.peak_potential_v, doubled.peak_potential_v);
                prop_assert_eq!(signal.half_width_v, doubled.half_width_v);
                prop_assert_eq!(signal.noise_a.map(|x| two * x), doubled.noise_a);
                prop_assert_eq!(signal.flags, doubled.flags);
            }
            (Err(refusal), Err(doubled)) => prop_assert_eq!(refusal.code(), doubled.code()),
            _ => prop_assert!(false, "{:?} became {:?}", outcome, doubled),
        }
        // Other factors round each current anew: 1e-12 of the largest current, where no choice between points flips.
        if let (Ok(signal), Ok(other)) = (&outcome, &whole(&evaluator, &scaled(factor), None)) {
            let same_choices = signal.peak_index == other.peak_index
                && signal.baseline_points == other.baseline_points
                && signal.baseline_iterations == other.baseline_iterations
                && signal.despiked == other.despiked
                && signal.flags == other.flags;
            let scale = factor * 1e-5;
            if same_choices {
                prop_assert!((other.signal_a - factor * signal.signal_a).abs() <= 1e-12 * scale);
            }
        }
    }

    #[test]
    fn a_line_added_leaves_a_tangent_height_unchanged(
        n in 30_usize..200,
        seed in any::<u64>(),
        (offset, slope) in (-1e-5..1e-5_f64, -1e-5..1e-5_f64),
    ) {
        let mut weights = vec![0.0; Smoother::storage_len(9)];
        let potential_v = falling_grid(n);
        let mut settings = crate::scans::plain_settings(
            range(n / 4, n - 1 - n / 4), Direction::Reduction, Baseline::Tangent { search: range(1, n - 2) },
        );
        settings.smoother = Some(Smoother::savitzky_golay(9, 2, &mut weights).unwrap());
        let evaluator = Evaluator::new(&potential_v, settings).unwrap();
        let scan = peak_scan(n, seed);
        let mut storage = vec![0.0; Workspace::storage_len(n)];
        let mut workspace = Workspace::new(&mut storage, n).unwrap();
        if let Ok(signal) = evaluator.evaluate(&scan, None, &mut workspace) {
            let [before, after] = signal.baseline_points.unwrap();
            prop_assert!(before < signal.peak_index && signal.peak_index < after);
            // No point of the search range lies beneath, but for rounding.
            prop_assert!(workspace.corrected_a()[1..n - 1].iter().all(|height| *height >= -1e-20));
        }
        let tilted: Vec<f64> = scan.iter().zip(&potential_v).map(|(y, v)| y + (offset + slope * v)).collect();
        match (whole(&evaluator, &scan, None), whole(&evaluator, &tilted, None)) {
            // The tolerance: 1e-13 of the currents involved (up to 3e-5 A), some fifty roundings.
            (Ok(before), Ok(after)) => prop_assert!((before.signal_a - after.signal_a).abs() <= 1e-13 * 3e-5),
            (Err(before), Err(after)) => prop_assert_eq!(before.code(), after.code()),
            (before, after) => prop_assert!(false, "{:?} became {:?}", before, after),
        }
    }

    #[test]
    fn a_reversed_scan_gives_the_mirrored_smoothed_curve(
        values in vec(-1e-3..1e-3_f64, 21..120), degree in 0_usize..6,
    ) {
        let mut weights = vec![0.0; Smoother::storage_len(21)];
        let smoother = Smoother::savitzky_golay(21, degree, &mut weights).unwrap();
        let reversed: Vec<f64> = values.iter().rev().copied().collect();
        let (mut there, mut back) = (vec![0.0; values.len()], vec![0.0; values.len()]);
        smoother.smooth(&values, &mut there).unwrap();
        smoother.smooth(&reversed, &mut back).unwrap();
        back.reverse();
        prop_assert_eq!(there, back);
    }
}

/// Any number, the strange ones often.
fn strange() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        -1e-5..1e-5_f64,
        Just(0.0),
        Just(-0.0),
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::MAX),
        Just(f64::MIN_POSITIVE / 4.0),
    ]
}

fn any_range() -> impl Strategy<Value = IndexRange> {
    let index = || prop_oneof![9 => 0_usize..40, 1 => Just(usize::MAX)];
    (index(), index()).prop_map(|(first, last)| IndexRange { first, last })
}

fn any_settings() -> impl Strategy<Value = Settings<'static>> {
    let any_baseline = prop_oneof![
        Just(Baseline::None),
        (any_range(), any_range()).prop_map(|(before, after)| Baseline::Line { before, after }),
        (any_range(), any_range()).prop_map(|(before, after)| Baseline::Minima { before, after }),
        any_range().prop_map(|search| Baseline::Tangent { search }),
        (0_usize..9, any_range(), any_range()).prop_map(|(degree, before, after)| Baseline::Polynomial {
            degree,
            before,
            after
        }),
        (strange(), strange(), 0_u32..9).prop_map(|(stiffness, asymmetry, max_iterations)| {
            Baseline::AsymmetricLeastSquares(AsymmetricLeastSquares { stiffness, asymmetry, max_iterations })
        }),
        Just(Baseline::AsymmetricLeastSquares(AsymmetricLeastSquares {
            stiffness: 1e4,
            asymmetry: 0.01,
            max_iterations: 20
        })),
    ];
    (any_baseline, any_range(), settings(40), any_range(), strange()).prop_map(
        |(baseline, window, base, noise, limit)| Settings {
            baseline,
            peak: PeakSettings { window, ..base.peak },
            noise: [Some(noise), None],
            limits: PeakLimits { min_signal_to_noise: Some(limit), ..base.limits },
            ..base
        },
    )
}

proptest! {
    #![proptest_config(proptest::test_runner::Config::with_cases(3000))]

    #[test]
    fn nothing_panics_and_every_signal_is_finite(
        (scan, blank) in (0_usize..45).prop_flat_map(|n| (vec(strange(), n), vec(strange(), n))),
        tame in any::<bool>(),
        settings in prop_oneof![any_settings(), settings(40)],
        (grid_kind, window, degree) in (0_u8..3, 0_usize..14, 0_usize..8),
    ) {
        let scan: Vec<f64> = if tame { scan.iter().map(|x| if x.is_finite() { *x } else { 1.0 }).collect() } else { scan };
        let n = scan.len();
        let mut weights = vec![0.0; Smoother::storage_len(window)];
        let smoother = Smoother::savitzky_golay(window, degree, &mut weights).ok();
        let potential_v = match grid_kind {
            0 => falling_grid(n),
            1 => (0..n).map(|i| (i * i) as f64 * 1e-3).collect(),
            _ => blank.clone(),
        };
        if let Ok(evaluator) = Evaluator::new(&potential_v, Settings { smoother, ..settings }) {
            for blank in [None, Some(blank.as_slice())] {
                let outcome = whole(&evaluator, &scan, blank);
                prop_assert_eq!(bits(&outcome), bits(&streamed(&evaluator, &scan, blank)));
                match outcome {
                    Ok(signal) => prop_assert!(signal.signal_a.is_finite() && signal.height_a.is_finite()),
                    Err(Refusal::NotFinite { index }) => prop_assert!(
                        !(scan[index] - blank.map_or(0.0, |b| b[index])).is_finite()
                    ),
                    Err(_) => {}
                }
            }
        }
        let (mut out, mut scratch) = (vec![0.0; n], vec![0.0; n]);
        if let Ok(changed) = despike(&Despike { limit: 1.0, min_ratio: 3.0, floor_a: 0.0 }, &scan, &mut out, &mut scratch) {
            prop_assert_eq!(changed, scan.iter().zip(&out).filter(|(a, b)| a.to_bits() != b.to_bits()).count());
        }
        if let Ok(covered) = resample_shifted(&scan, degree as f64 * 0.7 - 2.0, &mut out) {
            prop_assert!(covered.first <= covered.last && covered.last < n);
        }
        let compared = settings.peak.window;
        if let Ok(shift) = estimate_shift(&blank, &scan, window, compared) {
            prop_assert!(shift.points.abs() <= window as f64);
        }
    }
}

#[test]
fn the_copy_for_avx2_takes_part_in_the_comparison() {
    // `batch` takes it wherever the processor has it; elsewhere the comparison above is of plain with plain.
    #[cfg(target_arch = "x86_64")]
    if !std::is_x86_feature_detected!("avx2") {
        stillwell_house::require_or_skip("a processor with AVX2");
    }
    #[cfg(not(target_arch = "x86_64"))]
    stillwell_house::require_or_skip("a processor with AVX2");
}

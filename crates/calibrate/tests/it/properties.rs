//! What must always hold: order is irrelevant, units scale through, intervals hold their estimate, nothing panics.

use crate::standards::{sample, settings, standard, three_strips_of_four_scans};
use proptest::prelude::*;
use stillwell_calibrate::{
    Calibration, DatedResult, ElectrodeSignals, LevelDeviation, LimitSettings, Model, ShorthandSpread,
    StandardSignal, Weights, calibrate, check_standard_recovery, concentration,
    detection_limits_din_32645_blank, detection_limits_din_32645_calibration, detection_limits_iso_11843,
    detection_limits_shorthand, method_detection_limit,
};

/// Every bit that a reader could see.
fn bits(calibration: &Calibration) -> String {
    format!("{calibration:?}")
}

fn models() -> impl Strategy<Value = Model> {
    prop_oneof![Just(Model::Line), Just(Model::LineThroughOrigin), Just(Model::Quadratic)]
}

fn weights() -> impl Strategy<Value = Weights> {
    prop_oneof![
        Just(Weights::None),
        Just(Weights::VarianceFunction),
        Just(Weights::InverseLevel),
        Just(Weights::InverseSquaredLevel),
        prop::collection::vec((strange(), strange()), 0..5).prop_map(|pairs| Weights::StandardDeviations(
            pairs
                .into_iter()
                .map(|(level, standard_deviation_a)| LevelDeviation { level, standard_deviation_a })
                .collect()
        )),
    ]
}

/// Ordinary numbers, a few levels that repeat, and whatever a float can be.
fn strange() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -10.0..100.0_f64,
        4 => prop::sample::select(vec![0.0, -0.0, 1.0, 2.0, 5.0, 10.0]),
        1 => any::<f64>(),
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::MAX, f64::MIN_POSITIVE, 5e-324, -1e300, 1e-300]),
    ]
}

fn strange_standards() -> impl Strategy<Value = Vec<StandardSignal>> {
    let excluded = prop_oneof![9 => Just(None), 1 => prop::sample::select(vec![Some(String::new()), Some("bubble".into())])];
    let one = (strange(), strange(), 0..4_u32, prop::option::of(any::<u32>()), excluded).prop_map(
        |(level, signal_a, electrode, scan_number, excluded)| StandardSignal {
            level,
            signal_a,
            electrode: ["", "a", "b", "c"][electrode as usize].to_owned(),
            label: "scan".to_owned(),
            scan_number,
            excluded,
        },
    );
    prop::collection::vec(one, 0..24)
}

/// Levels and signals near a line, so that most are accepted.
fn plausible_standards() -> impl Strategy<Value = Vec<StandardSignal>> {
    prop::collection::vec((-3.0..3.0_f64, -0.5..0.5_f64), 24).prop_map(|noise| {
        let levels = [1.0, 10.0, 25.0, 50.0];
        let scans = noise.iter().enumerate();
        scans
            .map(|(i, (strip, scan))| {
                let level = levels[i / 6];
                let of_strip = noise[i / 2 * 2].0;
                let signal = 4.0 + 2.0 * level + of_strip + scan + 0.0 * strip;
                standard(level, &format!("strip {}", i / 2), u32::from(i % 2 == 1), signal)
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn order_of_standards_does_not_change_a_bit(
        standards in plausible_standards(),
        order in Just((0..24_usize).collect::<Vec<_>>()).prop_shuffle(),
        model in models(),
        by_function in any::<bool>(),
    ) {
        let weights = if by_function { Weights::VarianceFunction } else { Weights::InverseLevel };
        let settings = settings(model, weights, 0.95);
        let shuffled: Vec<_> = order.iter().map(|&i| standards[i].clone()).collect();
        match (calibrate(&standards, &settings), calibrate(&shuffled, &settings)) {
            (Ok(one), Ok(other)) => prop_assert_eq!(bits(&one), bits(&other)),
            (one, other) => prop_assert_eq!(one.err().map(|e| e.to_string()), other.err().map(|e| e.to_string())),
        }
    }

    #[test]
    fn scaled_signals_scale_the_coefficients_and_leave_the_levels(
        standards in plausible_standards(),
        factor in prop_oneof![1e-9..1e-3_f64, 1e2..1e6_f64],
        at in 5.0..45.0_f64,
    ) {
        let settings = settings(Model::Line, Weights::VarianceFunction, 0.95);
        let scaled: Vec<_> =
            standards.iter().map(|s| StandardSignal { signal_a: s.signal_a * factor, ..s.clone() }).collect();
        let (one, other) = (calibrate(&standards, &settings).unwrap(), calibrate(&scaled, &settings).unwrap());
        for i in 0..2 {
            let expected = one.statistics.coefficients[i] * factor;
            prop_assert!((other.statistics.coefficients[i] - expected).abs() <= 1e-9 * expected.abs().max(factor));
        }
        let signal = 4.0 + 2.0 * at;
        let one = concentration(&one, &sample(&[&[signal]])).unwrap();
        let other = concentration(&other, &sample(&[&[signal * factor]])).unwrap();
        for (a, b) in [(one.low(), other.low()), (one.high(), other.high())] {
            // The search for the variance function stops at a slightly different share.
            prop_assert!((a - b).abs() < 1e-6 * (1.0 + a.abs()), "{a} {b}");
        }
    }

    #[test]
    fn intervals_hold_their_estimate_and_more_electrodes_never_widen_them(
        standards in plausible_standards(),
        model in prop_oneof![Just(Model::Line), Just(Model::Quadratic)],
        signal in -20.0..150.0_f64,
        m in 1..5_usize,
    ) {
        let Ok(calibration) = calibrate(&standards, &settings(model, Weights::None, 0.95)) else { return Ok(()) };
        let signals = [signal, signal];
        let one = concentration(&calibration, &sample(&vec![&signals[..]; m]));
        let more = concentration(&calibration, &sample(&vec![&signals[..]; m + 1]));
        if let (Ok(one), Ok(more)) = (one, more) {
            if let Some(value) = one.value() {
                prop_assert!(one.low() <= value && value <= one.high());
                prop_assert!(one.uncertainty.unwrap().combined > 0.0);
            }
            prop_assert!(more.low() >= one.low() && more.high() <= one.high());
        }
    }

    #[test]
    fn nothing_panics_on_anything(
        standards in strange_standards(),
        model in models(),
        weights in weights(),
        coverage in prop_oneof![Just(0.95), strange()],
        signals in prop::collection::vec((0..3_u32, prop::collection::vec(strange(), 0..4)), 0..4),
        alpha in prop_oneof![Just(0.05), strange()],
        factor in strange(),
        n_electrodes in 0..4_u32,
        level in strange(),
    ) {
        let Ok(calibration) = calibrate(&standards, &settings(model, weights, coverage)) else { return Ok(()) };
        let electrodes: Vec<_> = signals
            .iter()
            .map(|(i, signals_a)| ElectrodeSignals { electrode: format!("{i}"), signals_a: signals_a.clone() })
            .collect();
        if let Ok(estimate) = concentration(&calibration, &electrodes) {
            prop_assert!(!estimate.low().is_nan() && !estimate.high().is_nan());
            prop_assert!(estimate.value().is_none_or(f64::is_finite));
            let _finding = check_standard_recovery(&calibration, level, &estimate);
        }
        let settings = LimitSettings { alpha, beta: alpha, n_electrodes, quantification_factor: factor };
        let blanks: Vec<f64> = signals.iter().flat_map(|(_, signals)| signals.clone()).collect();
        for limits in [
            detection_limits_iso_11843(&calibration, &settings),
            detection_limits_din_32645_calibration(&calibration, &settings),
            detection_limits_din_32645_blank(&calibration, &blanks, &settings),
            detection_limits_shorthand(&calibration, ShorthandSpread::Residual),
            detection_limits_shorthand(&calibration, ShorthandSpread::Blanks(&blanks)),
        ]
        .into_iter()
        .flatten()
        {
            prop_assert!(limits.decision.is_none_or(|x| x > 0.0 && x.is_finite()), "{limits:?}");
            prop_assert!(limits.detection.is_none_or(|x| x > 0.0 && x.is_finite()), "{limits:?}");
        }
    }

    #[test]
    fn method_detection_limit_never_panics(
        spikes in prop::collection::vec((prop::option::of(strange()), 0..4_u32), 0..12),
        blanks in prop::collection::vec((prop::option::of(strange()), 0..4_u32), 0..12),
        spike_level in strange(),
    ) {
        let dated = |results: &[(Option<f64>, u32)]| -> Vec<DatedResult> {
            results.iter().map(|(level, day)| DatedResult { level: *level, date: format!("day {day}") }).collect()
        };
        if let Ok(mdl) = method_detection_limit(&dated(&spikes), &dated(&blanks), spike_level) {
            prop_assert!(mdl.limits.decision.unwrap() >= mdl.from_spikes);
        }
    }
}

#[test]
fn scans_of_one_electrode_do_not_add_degrees_of_freedom() {
    let calibration =
        calibrate(&three_strips_of_four_scans(), &settings(Model::Line, Weights::None, 0.95)).unwrap();
    assert_eq!(calibration.statistics.n_scans, 72);
    assert_eq!(calibration.statistics.n_points, 18);
    assert_eq!(calibration.curve.degrees_of_freedom, 16);
    assert_eq!(calibration.components.scan_degrees_of_freedom, 54);
    assert_eq!(calibration.components.electrode_degrees_of_freedom, 12);
}

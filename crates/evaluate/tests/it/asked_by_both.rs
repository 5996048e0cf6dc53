//! The questions that the desktop's chain and a device ask with the same functions: just answered yes, just answered no.

use proptest::prelude::*;
use stillwell_evaluate::*;

const STANDARD: StandardPeak =
    StandardPeak { potential_v: -0.6, half_width_v: Some(0.1), lowest_signal: Some(2e-7) };

fn signal(half_width_v: Option<f64>, signal_to_noise: Option<f64>) -> Signal {
    Signal {
        signal_a: 1e-6,
        height_a: 1e-6,
        peak_potential_v: Some(-0.6),
        peak_index: 30,
        half_width_v,
        foot_potential_v: [-0.5, -0.7],
        baseline_points: None,
        baseline_at_peak_a: 0.0,
        noise_a: Some(1e-8),
        signal_to_noise,
        background_ratio: None,
        despiked: 0,
        baseline_iterations: 0,
        flags: Flags::NONE,
    }
}

#[test]
fn a_larger_peak_outside_is_above_the_one_inside_and_half_the_lowest_standard() {
    assert!(STANDARD.is_larger_outside(1.1e-7, 1.0e-7));
    assert!(!STANDARD.is_larger_outside(1.0e-7, 0.5e-7));
    assert!(!STANDARD.is_larger_outside(3e-7, 3e-7));
    let unknown = StandardPeak { lowest_signal: None, ..STANDARD };
    assert!(!unknown.is_larger_outside(1.0, 0.0));
}

/// The tolerance of 8 % and 2/100 of noise together.
#[test]
fn a_width_is_another_beyond_tolerance_and_noise() {
    let is_other =
        |half_width_v| STANDARD.other_width(&signal(Some(half_width_v), Some(100.0)), 0.08).is_some();
    assert_eq!([0.0899, 0.0901, 0.1099, 0.1101].map(is_other), [true, false, false, true]);
    assert_eq!(STANDARD.other_width(&signal(None, Some(100.0)), 0.08), None);
    assert_eq!(STANDARD.other_width(&signal(Some(0.3), None), 0.08), None);
    let other = STANDARD.other_width(&signal(Some(0.15), Some(100.0)), 0.08).expect("half as wide again");
    assert!((other.relative - 0.5).abs() < 1e-12 && (other.limit - 0.10).abs() < 1e-15, "{other:?}");
}

#[test]
fn an_edge_maximum_within_the_noise_is_no_peak() {
    let edge = Refusal::MaximumOnWindowEdge { index: 20, height_a: 2.9e-8 };
    let noise = |noise_a: f64| move || Some(noise_a);
    assert_eq!(
        edge.edge_or_noise(3.0, noise(1e-8)),
        Refusal::NoPeak { index: 20, height_a: 2.9e-8, noise_a: 1e-8 }
    );
    assert_eq!(edge.edge_or_noise(3.0, noise(0.9e-8)), edge);
    assert_eq!(edge.edge_or_noise(3.0, || None), edge);
    let other = Refusal::NotFinite { index: 3 };
    assert_eq!(other.edge_or_noise(3.0, || panic!("noise is asked for an edge only")), other);
    assert_eq!([edge, other].map(|refusal| refusal.has_corrected_curve()), [true, false]);
}

fn settings(baseline: Baseline, measure: Measure) -> Settings<'static> {
    Settings {
        despike: None,
        smoother: None,
        baseline,
        peak: PeakSettings {
            window: IndexRange { first: 4, last: 6 },
            direction: Direction::Reduction,
            placement: Placement::Search,
            measure,
        },
        noise: [None, None],
        limits: PeakLimits { min_signal_to_noise: Some(3.0), ..PeakLimits::NONE },
    }
}

#[test]
fn outside_lies_between_the_baselines_ends_and_beside_the_window() {
    let line =
        Baseline::Line { before: IndexRange { first: 1, last: 2 }, after: IndexRange { first: 8, last: 9 } };
    let settings = settings(line, Measure::Height);
    let found = settings.outside_ranges(12).map(|range| range.map(|range| (range.first, range.last)));
    assert_eq!(found, [Some((1, 3)), Some((7, 9))]);
    // The ends beyond the baseline and the window itself do not count; of equal ones the last does.
    let corrected = [9.0, 1.0, 2.0, 0.0, 8.0, 8.0, 8.0, 0.0, 2.0, 1.0, 9.0, 9.0];
    let looked = Ok(signal(None, None));
    assert_eq!(settings.largest_outside(&looked, &corrected), Some((8, 2.0)));
    assert_eq!(settings.largest_outside(&Err(Refusal::OutOfNumberRange), &corrected), None);
    let without = Settings { baseline: Baseline::None, ..settings };
    assert_eq!(without.largest_outside(&looked, &corrected), None);
}

#[test]
fn without_a_search_a_height_has_its_place_and_no_limit_refuses() {
    let place = FixedPotential { index: 5, fraction: 0.5 };
    let own = FixedPotential { index: 3, fraction: 0.0 };
    let area = Measure::Area(AreaLimits::Window);
    for (measure, expected) in [
        (Measure::Height, Measure::HeightAt(place)),
        (Measure::HeightAt(own), Measure::HeightAt(own)),
        (area, area),
    ] {
        let still = settings(Baseline::None, measure).without_search(Some(place));
        assert_eq!((still.peak.placement, still.peak.measure), (Placement::FixedWindow, expected));
        assert_eq!(still.limits, PeakLimits::NONE);
    }
}

#[test]
fn every_step_of_what_may_be_said_has_its_edge() {
    let claim = ClaimLimits { decision_limit: 1.0, detection_limit: 2.0, quantification_limit: 6.0 };
    let said = |level: f64| claim.standing(level, 0.0, false);
    assert_eq!(said(-2.01), Standing::Negative);
    assert_eq!((said(-2.0), said(0.99)), (Standing::NotDetected, Standing::NotDetected));
    assert_eq!(
        (said(1.0), said(5.99)),
        (Standing::BelowQuantification(6.0), Standing::BelowQuantification(6.0))
    );
    assert_eq!(said(6.0), Standing::Quantified);
    assert_eq!(claim.standing(6.0, 10.0, false), Standing::BelowQuantification(10.0));
    assert_eq!(claim.standing(0.5, 0.0, true), Standing::NotDetected);
    assert_eq!(claim.standing(50.0, 0.0, true), Standing::DetectedWithoutPeak);
}

proptest! {
    /// Between standards and beyond them, on either curve.
    #[test]
    fn a_level_read_off_the_curve_has_the_signal(x in -5.0..150.0_f64, slope in 1e-8..1e-6_f64, bend in -0.2..0.2_f64) {
        for c2 in [0.0, bend * slope / 150.0] {
            let curve = Curve {
                coefficients: [3e-9, slope, c2], n_coefficients: 3, unscaled_covariance: [[0.0; 3]; 3], residual_sd: 1e-9,
                degrees_of_freedom: 5, t_quantile: 2.57, relative_variance: [1.0, 0.0, 0.0], level_min: 0.0, level_max: 100.0,
            };
            let signal_a = 3e-9 + x * slope + c2 * x * x;
            let found = curve.level_at(signal_a).expect("before the turn");
            prop_assert!((found - x).abs() < 1e-9 * (1.0 + x.abs()), "{} {}", found, x);
            prop_assert!((curve.slope_at(x) - (slope + 2.0 * c2 * x)).abs() <= 1e-15);
            prop_assert_eq!(curve.reading_slope(-1.0).to_bits(), curve.slope_at(0.0).to_bits());
        }
    }
}

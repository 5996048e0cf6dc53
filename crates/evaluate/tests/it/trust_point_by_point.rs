//! Trust checks that look at many points side by side find the very numbers that a walk point by point finds.

use proptest::prelude::{any, prop_assert_eq, proptest};
use stillwell_evaluate::{ExpectedScan, RawScan, TrustCheck, TrustLimits, check_scan};

const SPIKE_RATIO: f64 = 0.5;

/// Every limit so wide that each check states what it found.
fn limits() -> TrustLimits {
    let wide = 1e300;
    TrustLimits {
        overload_points: 0,
        clipping_run: 2,
        missing_points: 0,
        repeated_points: 0,
        step_deviation: wide,
        spike_units: wide,
        spike_ratio: SPIKE_RATIO,
        least_range_a: 0.0,
        least_range_steps: 0.0,
        start_up_points: 5,
        start_up_trend_points: 15,
        start_up_units: 6.0,
        start_up_fraction: 0.02,
        distrusted_points: 0,
        end_points: 10,
        largest_offset_a: wide,
        largest_noise_a: wide,
        largest_drift_a: wide,
        window_tolerance_v: wide,
        least_points: 0,
        least_points_per_half_width: 0.0,
        largest_mains_a: wide,
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    if n % 2 == 1 { values[n / 2] } else { 0.5 * values[n / 2 - 1] + 0.5 * values[n / 2] }
}

/// How far the points between two neighbours on either side stand out, and the range of those neighbours.
fn stand_out(points: &[f64]) -> (f64, f64) {
    let n = points.len();
    let mut around = [points[0], points[1], points[n - 2], points[n - 1]];
    let sum = around[0] + around[1] + around[2] + around[3];
    around.sort_by(f64::total_cmp);
    let middle = 0.5 * (sum - around[0] - around[3]);
    let (one, other) = (points[2] - middle, points[n - 3] - middle);
    let deviation = if (one > 0.0) == (other > 0.0) { one.abs().min(other.abs()) } else { 0.0 };
    (deviation, around[3] - around[0])
}

fn highest_spike(current_a: &[f64], step: f64) -> (f64, u32) {
    let robust = 1.482602218505602 * median(current_a.windows(5).map(|p| stand_out(p).0).collect());
    let unit = robust.max(step);
    let mut found = (0.0, 0);
    for width in [5, 6] {
        for (i, points) in current_a.windows(width).enumerate() {
            let (deviation, range) = stand_out(points);
            if deviation > SPIKE_RATIO * range && deviation / unit > found.0 {
                found = (deviation / unit, u32::try_from(i + 2).unwrap());
            }
        }
    }
    found
}

/// Number and first place of gaps and of repeats, largest deviation and place of the other steps.
fn steps(potential_v: &[f64]) -> [(f64, usize); 3] {
    let usual = median(potential_v.windows(2).map(|two| two[1] - two[0]).collect());
    let [mut gaps, mut repeats, mut worst] = [(0.0, 0); 3];
    for (i, two) in potential_v.windows(2).enumerate() {
        let step = (two[1] - two[0]) / usual;
        let count = |found: &mut (f64, usize), more: f64| {
            *found = (found.0 + more, if found.0 == 0.0 { i + 1 } else { found.1 });
        };
        if step >= 1.5 {
            count(&mut gaps, (step + 0.5).floor() - 1.0);
        } else if (two[1] - two[0]).abs() < 0.5 * usual.abs() {
            count(&mut repeats, 1.0);
        } else if (step - 1.0).abs() > worst.0 {
            worst = ((step - 1.0).abs(), i + 1);
        }
    }
    [gaps, repeats, worst]
}

proptest! {
    #[test]
    fn what_is_found_side_by_side_is_what_a_walk_finds(
        seeds in proptest::collection::vec(any::<u32>(), 21..90),
        spike in 0_usize..90,
        gap in 0_usize..90,
        repeat in 0_usize..90,
    ) {
        let n = seeds.len();
        let mut current_a: Vec<f64> =
            seeds.iter().enumerate().map(|(i, s)| 1e-8 * i as f64 + 1e-9 * f64::from(*s) / f64::from(u32::MAX)).collect();
        current_a[spike % n] += 3e-7;
        let mut at_v = -0.2;
        let mut potential_v = vec![at_v];
        for (i, seed) in seeds.iter().enumerate().skip(1) {
            let even = 0.01 * (1.0 + 0.05 * f64::from(seed % 100) / 100.0);
            at_v -= if i == gap { 3.0 * even } else if i == repeat { 0.0 } else { even };
            potential_v.push(at_v);
        }
        let scan = RawScan {
            potential_v: &potential_v, current_a: &current_a, forward_a: None, reverse_a: None,
            overload_points: &[], interval_s: None, resolution_a: Some(1e-12), range_end_a: None,
        };
        let expected = ExpectedScan {
            start_v: -0.2, end_v: -0.9, step_v: 0.01, peak_window_v: None, half_width_v: None, mains: None,
        };
        let report = check_scan(&scan, &expected, &limits(), &mut vec![0.0; n]);
        let found = |check: TrustCheck| (report.of(check).found.to_bits(), report.of(check).at_index);
        let (height, place) = highest_spike(&current_a, 1e-12);
        prop_assert_eq!(found(TrustCheck::Spikes), (height.to_bits(), place));
        let middles: Vec<f64> = current_a.windows(3).map(|three| median(three.to_vec())).collect();
        let highest = middles.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest = middles.iter().copied().fold(f64::INFINITY, f64::min);
        prop_assert_eq!(found(TrustCheck::FlatLine).0, (highest - lowest).to_bits());
        let thirds = current_a.windows(4).map(|p| ((p[3] - p[0]) - 3.0 * (p[2] - p[1])).abs());
        let noise_a = 1.482602218505602 * median(thirds.collect()) / 4.472135954999579;
        prop_assert_eq!(found(TrustCheck::Noise).0, noise_a.to_bits());
        let checks = [TrustCheck::MissingPoints, TrustCheck::RepeatedPoints, TrustCheck::NonUniformSteps];
        for (check, (number, at)) in checks.into_iter().zip(steps(&potential_v)) {
            prop_assert_eq!(found(check), (number.to_bits(), u32::try_from(at).unwrap()));
        }
    }
}

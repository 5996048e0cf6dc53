//! Inverse prediction against published and recomputed values, and what must always hold.
#![expect(
    clippy::float_cmp,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "tests compare bits; counts are small"
)]

use proptest::prelude::{any, prop_assert, prop_assert_eq, prop_assume, proptest};
use stillwell_evaluate::{Curve, Inverse, InverseFault, inverse, prediction_half_width_a, signal_at};
use toml_edit::{DocumentMut, Table};

fn load() -> DocumentMut {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../checks/inverse.toml");
    std::fs::read_to_string(path).unwrap().parse().unwrap()
}

fn number(table: &Table, key: &str) -> f64 {
    let item = &table[key];
    item.as_float()
        .or_else(|| item.as_integer().map(|i| i as f64))
        .or_else(|| item.as_str().and_then(|s| s.parse().ok()))
        .unwrap_or_else(|| panic!("{key} is no number"))
}

fn numbers(table: &Table, key: &str) -> Vec<f64> {
    table[key].as_array().unwrap().iter().map(|v| v.as_float().unwrap()).collect()
}

/// Weighted straight line about the weighted mean; enough for eleven digits on these small sets.
fn fit_line(x: &[f64], y: &[f64], w: &[f64], t_quantile: f64) -> Curve {
    let sum = |f: &dyn Fn(usize) -> f64| (0..x.len()).map(f).sum::<f64>();
    let sw = sum(&|i| w[i]);
    let (xm, ym) = (sum(&|i| w[i] * x[i]) / sw, sum(&|i| w[i] * y[i]) / sw);
    let qxx = sum(&|i| w[i] * (x[i] - xm) * (x[i] - xm));
    let b = sum(&|i| w[i] * (x[i] - xm) * (y[i] - ym)) / qxx;
    let a = ym - b * xm;
    let rss = sum(&|i| w[i] * (y[i] - a - b * x[i]) * (y[i] - a - b * x[i]));
    let c11 = 1.0 / qxx;
    Curve {
        coefficients: [a, b, 0.0],
        n_coefficients: 2,
        unscaled_covariance: [[1.0 / sw + xm * xm * c11, -xm * c11, 0.0], [-xm * c11, c11, 0.0], [0.0; 3]],
        residual_sd: (rss / (x.len() as f64 - 2.0)).sqrt(),
        degrees_of_freedom: u32::try_from(x.len() - 2).unwrap(),
        t_quantile,
        relative_variance: [1.0, 0.0, 0.0],
        level_min: x.iter().copied().fold(f64::INFINITY, f64::min),
        level_max: x.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    }
}

fn fluorescein() -> Curve {
    let x = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0];
    let y = [2.1, 5.0, 9.0, 12.6, 17.3, 21.0, 24.7];
    fit_line(&x, &y, &[1.0; 7], 2.5705818356363146)
}

/// DIN 38402-51 example C.3: a curve that bends towards a plateau.
fn iron() -> Curve {
    let document = load();
    second_order(document["second_order"].as_array_of_tables().unwrap().iter().next().unwrap())
}

fn second_order(table: &Table) -> Curve {
    let rows: Vec<Vec<f64>> = table["unscaled_covariance"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row.as_array().unwrap().iter().map(|v| v.as_float().unwrap()).collect())
        .collect();
    Curve {
        coefficients: numbers(table, "coefficients").try_into().unwrap(),
        n_coefficients: 3,
        unscaled_covariance: core::array::from_fn(|i| core::array::from_fn(|j| rows[i][j])),
        residual_sd: number(table, "residual_sd"),
        degrees_of_freedom: number(table, "degrees_of_freedom") as u32,
        t_quantile: number(table, "t_quantile"),
        relative_variance: [1.0, 0.0, 0.0],
        level_min: number(table, "level_min"),
        level_max: number(table, "level_max"),
    }
}

fn resolved(found: Inverse) -> [f64; 3] {
    match found {
        Inverse::Within { value, low, high } | Inverse::Below { value, low, high } => [value, low, high],
        other => panic!("not resolved: {other:?}"),
    }
}

fn compare(table: &Table, curve: &Curve, required: f64) {
    let name = table["name"].as_str().unwrap();
    let electrodes = number(table, "electrodes") as u32;
    let found = resolved(inverse(curve, number(table, "signal"), electrodes, 0.0));
    for (key, found) in ["value", "low", "high"].into_iter().zip(found) {
        let expected = number(table, key);
        let digits = -libm::log10((found / expected - 1.0).abs().max(1e-16));
        println!("{name:55} {key:6} {found:22} {expected:22} {digits:5.1}");
        assert!(digits >= required, "{name}: {key} has {digits:.1} digits of {required}");
        if table.contains_key(&format!("printed_{key}")) {
            let printed = number(table, &format!("printed_{key}"));
            assert!(
                (found - printed).abs() <= number(table, &format!("tol_{key}")),
                "{name}: {key} {found} {printed}"
            );
        }
    }
}

#[test]
fn lines_reach_published_and_recomputed_fieller_intervals() {
    let document = load();
    for table in document["line"].as_array_of_tables().unwrap() {
        let x = numbers(table, "x");
        let weights =
            if table.contains_key("weights") { numbers(table, "weights") } else { vec![1.0; x.len()] };
        let mut curve = fit_line(&x, &numbers(table, "y"), &weights, number(table, "t_quantile"));
        curve.relative_variance = [number(table, "relative_variance"), 0.0, 0.0];
        compare(table, &curve, number(document.as_table(), "digits"));
    }
}

#[test]
fn second_order_curves_reach_recomputed_band_ends() {
    let document = load();
    for table in document["second_order"].as_array_of_tables().unwrap() {
        compare(table, &second_order(table), number(document.as_table(), "digits"));
    }
}

#[test]
fn the_interval_ends_where_the_prediction_band_holds_the_signal() {
    for curve in [fluorescein(), iron()] {
        let signal = signal_at(&curve, 0.3 * curve.level_min + 0.7 * curve.level_max);
        let extra = 0.3 * curve.residual_sd * curve.residual_sd;
        let [_, low, high] = resolved(inverse(&curve, signal, 3, extra));
        let at_low = signal - signal_at(&curve, low) - prediction_half_width_a(&curve, low, 3, extra);
        let at_high = signal_at(&curve, high) - signal - prediction_half_width_a(&curve, high, 3, extra);
        assert!(at_low.abs() < 1e-13 * signal && at_high.abs() < 1e-13 * signal, "{at_low} {at_high}");
    }
}

#[test]
fn above_the_highest_standard_only_a_lower_end_inside_the_range_is_stated() {
    let curve = fluorescein();
    let just_above = inverse(&curve, signal_at(&curve, 12.01), 1, 0.0);
    let Inverse::Above { low } = just_above else { panic!("{just_above:?}") };
    assert!((11.0..12.0).contains(&low), "{low}");
    assert_eq!(inverse(&curve, 1e3, 1, 0.0), Inverse::Above { low: 12.0 });
    assert_eq!(inverse(&iron(), 50.0, 1, 0.0), Inverse::Above { low: 20.0 });
    assert_eq!(Inverse::Above { low: 12.0 }.interval(), Some((12.0, f64::INFINITY)));
}

#[test]
fn where_a_plateau_swallows_the_upper_end_no_value_is_stated() {
    // Three times the spread: at 19.5 the lower edge of the band no longer reaches the signal before the plateau.
    let curve = Curve { residual_sd: 3.0 * iron().residual_sd, ..iron() };
    let found = inverse(&curve, signal_at(&curve, 19.5), 1, 0.0);
    let Inverse::Above { low } = found else { panic!("{found:?}") };
    assert!(low > 12.0 && low < 19.5, "{low}");
}

#[test]
fn near_the_highest_standard_a_second_order_interval_may_end_above_it() {
    let document = load();
    let nitrite = document["second_order"].as_array_of_tables().unwrap().iter().last().unwrap();
    let curve = second_order(nitrite);
    let [value, low, high] = resolved(inverse(&curve, signal_at(&curve, 0.499), 1, 0.0));
    assert!((value - 0.499).abs() < 1e-12 && low < value && high > curve.level_max && high < 0.52, "{high}");
}

#[test]
fn below_the_lowest_standard_nothing_is_censored() {
    let found = inverse(&fluorescein(), 0.0, 1, 0.0);
    let Inverse::Below { value, low, high } = found else { panic!("{found:?}") };
    assert!((value + 1.5178571428571406 / 1.930357142857143).abs() < 1e-12);
    assert!(low < value && value < high && low < -1.0);
    // A second-order curve goes on as its tangent: no bend below the range, and no jump at its edge.
    let curve = iron();
    let at = |x: f64| resolved(inverse(&curve, signal_at(&curve, x), 1, 0.0));
    assert!((at(-7.0)[0] + 7.0).abs() < 1e-10);
    let (left, right) = (at(2.0 - 1e-9), at(2.0 + 1e-9));
    for (l, r) in left.into_iter().zip(right) {
        assert!((l - r).abs() < 1e-8, "{l} {r}");
    }
}

#[test]
fn a_line_through_the_origin_is_inverted_as_a_ray() {
    let curve = Curve {
        coefficients: [0.0, 2.0, 0.0],
        n_coefficients: 1,
        unscaled_covariance: [[0.0; 3], [0.0, 1.0 / 55.0, 0.0], [0.0; 3]],
        residual_sd: 0.1,
        degrees_of_freedom: 4,
        t_quantile: 2.776,
        relative_variance: [1.0, 0.0, 0.0],
        level_min: 1.0,
        level_max: 5.0,
    };
    let [value, low, high] = resolved(inverse(&curve, 6.0, 1, 0.0));
    // (y - b x)^2 = t^2 s^2 (1 + x^2/55), solved by hand as a quadratic in x.
    let k = 2.776_f64 * 0.1 * 2.776 * 0.1;
    let (a, h, c) = (4.0 - k / 55.0, 12.0, 36.0 - k);
    let root = (h * h - a * c).sqrt();
    assert_eq!(value, 3.0);
    assert!((low - (h - root) / a).abs() < 1e-13 && (high - (h + root) / a).abs() < 1e-13);
}

#[test]
fn the_unknowns_variance_follows_the_level_inside_the_range_only() {
    let flat = Curve { relative_variance: [1.0, 0.0, 0.0], ..fluorescein() };
    let growing = Curve { relative_variance: [1.0, 0.0, 0.5], ..flat };
    let width = |curve: &Curve, x: f64| {
        let [_, low, high] = resolved(inverse(curve, signal_at(curve, x), 1, 0.0));
        high - low
    };
    assert!(width(&growing, 10.0) > 3.0 * width(&flat, 10.0));
    assert_eq!(width(&growing, -3.0), width(&flat, -3.0));
}

#[test]
fn faults_are_typed() {
    let good = fluorescein();
    let fault = |curve: &Curve, y: f64, m: u32, extra: f64| match inverse(curve, y, m, extra) {
        Inverse::Unresolved(fault) => fault,
        other => panic!("{other:?}"),
    };
    assert_eq!(fault(&good, f64::NAN, 1, 0.0), InverseFault::InputNotFinite);
    assert_eq!(fault(&good, 1.0, 1, f64::INFINITY), InverseFault::InputNotFinite);
    assert_eq!(fault(&good, 1.0, 1, -1e-30), InverseFault::ExtraVarianceNegative);
    assert_eq!(fault(&good, 1.0, 0, 0.0), InverseFault::NoElectrodes);
    let unusable = Curve { n_coefficients: 1, ..good };
    assert_eq!(fault(&unusable, 1.0, 1, 0.0), InverseFault::CurveUnusable);
    let noiseless_at_zero = Curve { relative_variance: [0.0, 1.0, 0.0], ..good };
    assert_eq!(
        fault(&noiseless_at_zero, 1.0, 1, 0.0),
        InverseFault::VarianceNotPositive { level: 0.0, relative_variance: 0.0 }
    );
    let noisy = Curve { residual_sd: 30.0 * good.residual_sd, ..good };
    let InverseFault::SlopeNotSignificant { g } = fault(&noisy, 10.0, 1, 0.0) else { panic!() };
    let ratio = 2.5705818356363146 * 30.0 * 0.040900264457006445 / 1.930357142857143;
    let expected = ratio * ratio;
    assert!((g / expected - 1.0).abs() < 1e-12, "{g} {expected}");
    let level = Curve { coefficients: [1.0, 0.0, 0.0], ..good };
    assert_eq!(fault(&level, 10.0, 1, 0.0), InverseFault::SlopeNotSignificant { g: f64::INFINITY });
    let turning = Curve { coefficients: [0.0, 0.1, -0.004], ..iron() };
    assert_eq!(fault(&turning, 0.3, 1, 0.0), InverseFault::NotMonotonic { turning_level: 12.5 });
    assert_eq!(fault(&good, f64::MAX, 1, f64::MAX), InverseFault::NumberOverflow);
}

#[test]
fn the_interval_covers_the_truth_as_often_as_it_says() {
    // Seven standards and two electrodes a sample; Box & Muller on a linear congruence. Binomial s.d. of the share: 0.0015.
    let mut state = 11_u64;
    let mut uniform = move || {
        state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    let mut normal =
        move || libm::sqrt(-2.0 * libm::log(uniform())) * libm::cos(2.0 * core::f64::consts::PI * uniform());
    let x = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0];
    let (mut covered, mut resolved) = (0, 0);
    for round in 0..20_000 {
        // So noisy that the slope is only just significant and a symmetric interval would fail.
        let y = x.map(|x| 1.0 + x + 2.0 * normal());
        let curve = fit_line(&x, &y, &[1.0; 7], 2.5705818356363146);
        let truth = 2.0 + f64::from(round % 9);
        let signal = 1.0 + truth + 2.0 * (0.5 * normal() + 0.5 * normal());
        match inverse(&curve, signal, 2, 0.0) {
            Inverse::Within { low, high, .. } | Inverse::Below { low, high, .. } => {
                resolved += 1;
                covered += i32::from(low <= truth && truth <= high);
            }
            Inverse::Above { low } => {
                resolved += 1;
                covered += i32::from(low <= truth);
            }
            Inverse::Unresolved(fault) => assert!(matches!(fault, InverseFault::SlopeNotSignificant { .. })),
        }
    }
    let share = f64::from(covered) / f64::from(resolved);
    println!("{covered} of {resolved} intervals cover the truth: {share:.4}");
    assert!(resolved > 18_000 && share > 0.945 && share < 0.965, "{share}");
}

fn is_clean(found: &Inverse) -> bool {
    match *found {
        Inverse::Within { value, low, high } | Inverse::Below { value, low, high } => {
            value.is_finite() && low.is_finite() && high.is_finite() && low <= value && value <= high
        }
        Inverse::Above { low } => low.is_finite(),
        Inverse::Unresolved(fault) => match fault {
            InverseFault::VarianceNotPositive { level, relative_variance } => {
                level.is_finite() && relative_variance <= 0.0
            }
            InverseFault::SlopeNotSignificant { g } => g >= 1.0,
            InverseFault::NotMonotonic { turning_level } => turning_level.is_finite(),
            _ => true,
        },
    }
}

fn mirrored(curve: &Curve) -> Curve {
    Curve { coefficients: curve.coefficients.map(|c| -c), ..*curve }
}

proptest! {
    #[test]
    fn any_bits_give_numbers_in_order_or_a_fault(
        bits in any::<[u64; 24]>(), n in 1_u8..4, y in any::<u64>(), electrodes in any::<u32>(), spoil in any::<u32>()
    ) {
        // Half of the places are spoiled with arbitrary bits, the others keep a sound curve, so that all depths are reached.
        let good = if n == 3 { iron() } else { fluorescein() };
        let pick = |place: u32, bits: u64, good: f64| if spoil >> place & 1 == 1 { f64::from_bits(bits) } else { good };
        let mut curve = Curve { n_coefficients: n, ..good };
        for i in 0..3 {
            curve.coefficients[i] = pick(i as u32, bits[i], good.coefficients[i]);
            curve.relative_variance[i] = pick(3 + i as u32, bits[3 + i], good.relative_variance[i]);
            for j in 0..3 {
                let place = 3 * i + j;
                curve.unscaled_covariance[i][j] =
                    pick(6 + place as u32, bits[6 + place], good.unscaled_covariance[i][j]);
            }
        }
        curve.residual_sd = pick(15, bits[15], good.residual_sd);
        curve.t_quantile = pick(16, bits[16], good.t_quantile);
        curve.level_min = pick(17, bits[17], good.level_min);
        curve.level_max = pick(18, bits[18], good.level_max);
        let signal = pick(19, y, 10.0);
        let found = inverse(&curve, signal, electrodes, pick(20, bits[20], 0.0));
        prop_assert!(is_clean(&found), "{curve:?} {found:?}");
        prop_assert_eq!(found, inverse(&mirrored(&curve), -signal, electrodes, pick(20, bits[20], 0.0)));
    }

    #[test]
    fn any_signal_on_a_sound_curve_is_clean_and_mirrors(bits in any::<u64>(), electrodes in 1_u32..50, bent in any::<bool>()) {
        let curve = if bent { iron() } else { fluorescein() };
        let signal = f64::from_bits(bits);
        let found = inverse(&curve, signal, electrodes, 0.0);
        prop_assert!(is_clean(&found), "{found:?}");
        prop_assert_eq!(found, inverse(&mirrored(&curve), -signal, electrodes, 0.0));
    }

    #[test]
    fn more_electrodes_never_widen_and_extra_variance_never_narrows(
        x in -5.0..22.0, electrodes in 1_u32..60, more in 1_u32..60, extra in 0.0..0.01, bent in any::<bool>()
    ) {
        let curve = if bent { iron() } else { fluorescein() };
        let signal = signal_at(&curve, x);
        let few = inverse(&curve, signal, electrodes, extra).interval().unwrap();
        let many = inverse(&curve, signal, electrodes + more, extra).interval().unwrap();
        let sure = inverse(&curve, signal, electrodes, 0.0).interval().unwrap();
        prop_assert!(few.0 <= many.0 && many.1 <= few.1);
        prop_assert!(few.0 <= sure.0 && sure.1 <= few.1);
    }

    #[test]
    fn a_larger_signal_never_gives_less(x in -5.0..25.0, step in 0.0..5.0, bent in any::<bool>()) {
        let curve = if bent { iron() } else { fluorescein() };
        let signal = signal_at(&curve, x);
        let at = |y: f64| inverse(&curve, y, 2, 0.0);
        let (one, two) = (at(signal), at(signal + step));
        let (first, second) = (one.interval().unwrap(), two.interval().unwrap());
        prop_assert!(first.0 <= second.0 && first.1 <= second.1, "{one:?} {two:?}");
        if let (Inverse::Within { value: a, .. }, Inverse::Within { value: b, .. }) = (one, two) {
            prop_assert!(a <= b);
        }
    }

    #[test]
    fn the_unit_of_the_current_does_not_matter(x in -5.0..22.0, power in -40_i32..40, bent in any::<bool>()) {
        let curve = if bent { iron() } else { fluorescein() };
        let scale = (0..power.abs()).fold(1.0, |s, _| if power < 0 { s / 2.0 } else { s * 2.0 });
        let scaled = Curve {
            coefficients: curve.coefficients.map(|c| c * scale),
            residual_sd: curve.residual_sd * scale,
            ..curve
        };
        let signal = signal_at(&curve, x);
        prop_assume!(signal != 0.0);
        prop_assert_eq!(inverse(&curve, signal, 2, 0.0), inverse(&scaled, signal * scale, 2, 0.0));
    }
}

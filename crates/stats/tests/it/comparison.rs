//! Comparing two ways of measuring, and showing that they are equivalent.

use proptest::prelude::*;
use stillwell_stats::StatsError;
use stillwell_stats::comparison::{
    DemingErrors, Spreads, deming, limits_of_agreement, mean_difference, paired_difference, signed_rank,
};
use stillwell_stats::equivalence::{
    EquivalenceDesign, Margins, Samples, equivalence_power, equivalence_sample_size, equivalent_mean,
    equivalent_means, equivalent_ratio,
};
use stillwell_stats::random::RandomStream;

use crate::cases::case;
use crate::checks::{load, numbers};

#[test]
fn peak_flow_by_two_meters() {
    let document = load("comparison.toml");
    let mut case = case(&document, "peak_flow");
    let (first, second) = (numbers(case.table, "first_meter"), numbers(case.table, "second_meter"));
    let found = limits_of_agreement(&second, &first, 0.95, 0.95).unwrap();
    case.meets("bias", found.bias);
    case.meets("sd", found.sd);
    case.meets("bias_low", found.bias_interval.low);
    case.meets("bias_high", found.bias_interval.high);
    case.meets("lower_limit", found.lower.limit);
    case.meets("upper_limit", found.upper.limit);
    case.meets("lower_limit_low", found.lower.interval.low);
    case.meets("lower_limit_high", found.lower.interval.high);
    case.meets("upper_limit_low", found.upper.interval.low);
    case.meets("upper_limit_high", found.upper.interval.high);
    case.meets("slope_with_level", found.slope_with_level);
    case.meets("p_slope_with_level", found.p_slope_with_level);
    case.finish();
    let paired = paired_difference(&second, &first, 0.95).unwrap();
    assert!((paired.interval.low - found.bias_interval.low).abs() < 1e-12);
}

#[test]
fn mayfly_pairs() {
    let document = load("compliance_statistics.toml");
    let mut case = case(&document, "mayfly_pairs");
    let (above, below) = (numbers(case.table, "above"), numbers(case.table, "below"));
    let ranks = signed_rank(&below, &above).unwrap();
    case.meets("signed_rank_W_plus", ranks.rank_sum_above);
    case.meets("signed_rank_p_two_sided_exact", ranks.p_value);
    case.meets("hodges_lehmann", ranks.difference);
    let logarithms = |v: &[f64]| v.iter().map(|v| libm::log(*v)).collect::<Vec<f64>>();
    let found = paired_difference(&logarithms(&below), &logarithms(&above), 0.95).unwrap();
    case.meets("t_logs", found.difference / found.standard_error);
    case.meets("p_t_logs_two_sided", found.p_value);
    case.finish();
}

#[test]
fn memory_of_an_on_line_sensor() {
    let document = load("comparison.toml");
    let mut case = case(&document, "memory_effect");
    let (low, high) = (numbers(case.table, "after_low"), numbers(case.table, "after_high"));
    let found = mean_difference(&high, &low, Spreads::Pooled, 0.95).unwrap();
    case.meets("difference", -found.difference);
    case.meets("t", found.difference / found.standard_error);
    case.meets("p", found.p_value);
    case.finish();
}

/// Reads `n` true levels with both ways; y reads `slope · level + offset`.
fn pairs(random: &mut RandomStream, n: u32, slope: f64, offset: f64, relative: f64) -> (Vec<f64>, Vec<f64>) {
    let level = |i: u32| 5.0 + 45.0 * f64::from(i) / f64::from(n - 1);
    let error = |level: f64| if relative > 0.0 { relative * level } else { 1.5 };
    (0..n)
        .map(|i| {
            let (truth, size) = (level(i), error(level(i)));
            (truth + size * random.normal(), slope * truth + offset + size * random.normal())
        })
        .unzip()
}

/// Jackknife intervals of slope and difference at a level cover what made the data; ordinary errors and proportional ones.
#[test]
fn deming_intervals_cover_the_line_that_made_the_data() {
    const N: u64 = 600;
    for (errors, relative) in [(DemingErrors::Constant, 0.0), (DemingErrors::Proportional, 0.06)] {
        let (mut of_slope, mut of_difference, mut mean_slope) = (0.0, 0.0, 0.0);
        for index in 0..N {
            let (x, y) = pairs(&mut RandomStream::new(77, index), 40, 1.08, -0.5, relative);
            let fit = deming(&x, &y, errors, 1.0, 0.95).unwrap();
            let (_, at_50) = fit.difference_at(50.0);
            let covers = |low: f64, high: f64, truth: f64| f64::from(u8::from(low <= truth && truth <= high));
            of_slope += covers(fit.slope_interval.low, fit.slope_interval.high, 1.08);
            of_difference += covers(at_50.low, at_50.high, 0.08 * 50.0 - 0.5);
            mean_slope += fit.slope / N as f64;
        }
        let shares = [of_slope / N as f64, of_difference / N as f64];
        println!(
            "{errors:?}: slope {:.3}, difference {:.3}, mean slope {mean_slope:.4}",
            shares[0], shares[1]
        );
        // Four standard errors of 95 % in 600 are 3.6 %.
        assert!(shares.iter().all(|share| *share > 0.914), "{shares:?}");
        assert!((mean_slope - 1.08).abs() < 0.005, "{mean_slope}");
    }
}

#[test]
fn equivalence_errs_as_often_as_it_may_and_shows_as_often_as_planned() {
    const N: u64 = 4000;
    let margins = Margins { lower: -3.0, upper: 3.0 };
    let share = |shift: f64, n: u32| {
        let shown = (0..N).filter(|index| {
            let mut random = RandomStream::new(31, *index);
            let mut group = |mean: f64| (0..n).map(|_| mean + 2.0 * random.normal()).collect::<Vec<f64>>();
            let (tested, reference) = (group(50.0 + shift), group(50.0));
            equivalent_means(&tested, &reference, margins, 0.05).unwrap().is_shown
        });
        shown.count() as f64 / N as f64
    };
    let at_margin = share(3.0, 8);
    assert!(at_margin < 0.05 + 0.0105, "{at_margin}");
    let design =
        EquivalenceDesign { samples: Samples::Two, margins, true_difference: 0.5, sd: 2.0, alpha: 0.05 };
    let (planned, found) = (equivalence_power(&design, 8).unwrap(), share(0.5, 8));
    println!("power planned {planned:.4}, found {found:.4}, at the margin {at_margin:.4}");
    // Welch instead of pooled loses a little.
    assert!((planned - found).abs() < 0.03, "{planned} {found}");
}

#[test]
fn sample_size_is_the_first_that_suffices() {
    let of = |samples, difference| EquivalenceDesign {
        samples,
        margins: Margins { lower: -5.0, upper: 5.0 },
        true_difference: difference,
        sd: 4.0,
        alpha: 0.05,
    };
    for samples in [Samples::One, Samples::Two] {
        for difference in [0.0, 1.0, 3.0] {
            let design = of(samples, difference);
            let n = equivalence_sample_size(&design, 0.9, 10_000).unwrap().unwrap();
            assert!(equivalence_power(&design, n).unwrap() >= 0.9);
            assert!(equivalence_power(&design, n - 1).unwrap() < 0.9, "{n}");
            assert_eq!(equivalence_sample_size(&design, 0.9, n - 1).unwrap(), None);
            assert_eq!(equivalence_sample_size(&design, 0.9, n).unwrap(), Some(n));
        }
    }
    assert!(matches!(equivalence_power(&of(Samples::One, 5.0), 10), Err(StatsError::EndsReversed { .. })));
}

#[test]
fn what_cannot_be_compared_is_refused() {
    let margins = Margins { lower: -1.0, upper: 1.0 };
    assert!(matches!(equivalent_mean(&[2.0, 2.0], 2.0, margins, 0.05), Err(StatsError::NoVariation { .. })));
    assert!(matches!(equivalent_mean(&[2.0], 2.0, margins, 0.05), Err(StatsError::TooFewValues { .. })));
    let reversed = Margins { lower: 1.0, upper: -1.0 };
    assert!(matches!(
        equivalent_mean(&[2.0, 3.0], 2.0, reversed, 0.05),
        Err(StatsError::EndsReversed { .. })
    ));
    assert!(matches!(
        equivalent_ratio(&[2.0, 3.0], &[-2.0, -3.0], Margins { lower: 0.9, upper: 1.1 }, 0.05),
        Err(StatsError::SettingNotPositive { .. })
    ));
    let x = [1.0, 2.0, 3.0, 4.0];
    assert!(matches!(
        deming(&x, &x[..3], DemingErrors::Constant, 1.0, 0.95),
        Err(StatsError::LengthMismatch { .. })
    ));
    assert!(matches!(
        deming(&x, &x, DemingErrors::Constant, 0.0, 0.95),
        Err(StatsError::SettingNotPositive { .. })
    ));
    assert!(matches!(
        deming(&x, &[2.0; 4], DemingErrors::Constant, 1.0, 0.95),
        Err(StatsError::NoVariation { .. })
    ));
    assert!(matches!(
        deming(&x, &[1.0, 2.0, 0.0, 4.0], DemingErrors::Proportional, 1.0, 0.95),
        Err(StatsError::NotPositive { what: "y", row: 2, .. })
    ));
    assert!(matches!(signed_rank(&x, &x), Err(StatsError::NoVariation { .. })));
    let scattered = [1.0, 300.0, 2.0, 250.0];
    let open = equivalent_ratio(&x, &scattered, Margins { lower: 0.9, upper: 1.1 }, 0.05).unwrap();
    assert!(!open.is_shown && open.high.is_infinite(), "{open:?}");
}

proptest! {
    /// Exchanging x and y inverts the line; each way of measuring keeps its own unit.
    #[test]
    fn deming_turns_round(seed in 0_u64..500, ratio in 0.2..5.0_f64, scale in 0.1..10.0_f64) {
        let (x, y) = pairs(&mut RandomStream::new(5, seed), 12, 1.3, 2.0, 0.0);
        let there = deming(&x, &y, DemingErrors::Constant, ratio, 0.95).unwrap();
        let back = deming(&y, &x, DemingErrors::Constant, 1.0 / ratio, 0.95).unwrap();
        prop_assert!((there.slope * back.slope - 1.0).abs() < 1e-10);
        prop_assert!((there.intercept + there.slope * back.intercept).abs() < 1e-8);
        let wide: Vec<f64> = y.iter().map(|y| scale * y).collect();
        let scaled = deming(&x, &wide, DemingErrors::Constant, ratio * scale * scale, 0.95).unwrap();
        prop_assert!((scaled.slope - scale * there.slope).abs() < 1e-10 * scale);
        prop_assert!((scaled.slope_error - scale * there.slope_error).abs() < 1e-9 * scale);
    }

    /// Decision and interval say the same.
    #[test]
    fn interval_within_margins_is_equivalence(
        a in prop::collection::vec(8.0..12.0_f64, 3..9), b in prop::collection::vec(8.0..12.0_f64, 3..9), width in 0.02..0.6_f64,
    ) {
        let margins = Margins { lower: -10.0 * width, upper: 10.0 * width };
        let test = equivalent_means(&a, &b, margins, 0.05).unwrap();
        prop_assert_eq!(test.is_shown, test.low > margins.lower && test.high < margins.upper);
        let ratios = Margins { lower: 1.0 / (1.0 + width), upper: 1.0 + width };
        let test = equivalent_ratio(&a, &b, ratios, 0.05).unwrap();
        prop_assert_eq!(test.is_shown, test.low > ratios.lower && test.high < ratios.upper, "{:?}", test);
    }

    #[test]
    fn no_panic_on_any_pairs(
        rows in prop::collection::vec((crate::properties::any_number(), crate::properties::any_number()), 0..10),
        ratio in -1.0..3.0_f64,
    ) {
        let x: Vec<f64> = rows.iter().map(|r| r.0).collect();
        let y: Vec<f64> = rows.iter().map(|r| r.1).collect();
        let margins = Margins { lower: ratio, upper: 2.0 };
        let mut results = Vec::new();
        for errors in [DemingErrors::Constant, DemingErrors::Proportional] {
            results.extend(deming(&x, &y, errors, ratio, 0.9).map(|fit| fit.slope_interval.low));
        }
        results.extend(limits_of_agreement(&x, &y, 0.9, 0.9).map(|found| found.upper.interval.high));
        results.extend(paired_difference(&x, &y, 0.9).map(|found| found.interval.high));
        results.extend(mean_difference(&x, &y, Spreads::Separate, 0.9).map(|found| found.interval.high));
        results.extend(signed_rank(&x, &y).map(|found| found.difference));
        results.extend(equivalent_mean(&x, ratio, margins, 0.05).map(|test| test.low));
        results.extend(equivalent_means(&x, &y, margins, 0.05).map(|test| test.high));
        results.extend(equivalent_ratio(&x, &y, margins, 0.05).map(|test| test.estimate + test.p_lower + test.p_upper));
        let finite = x.iter().all(|v| v.is_finite());
        prop_assert!(finite || results.is_empty(), "{results:?}");
        prop_assert!(results.iter().all(|v| v.is_finite()), "{results:?}");
    }
}

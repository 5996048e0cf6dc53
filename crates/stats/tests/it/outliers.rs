//! Outlier tests: published statistics and critical values, and what they must do with a planted value.

use proptest::prelude::*;
use stillwell_stats::StatsError;
use stillwell_stats::outliers::{
    DixonSignificance, PairSignificance, PairSuspects, Suspect, dixon_critical, dixon_test,
    extreme_studentized_test, grubbs_critical, grubbs_pair_critical, grubbs_pair_test, grubbs_range_critical,
    grubbs_range_test, grubbs_test,
};
use stillwell_stats::random::RandomStream;
use toml_edit::Value;

use crate::cases::{case, number_of};
use crate::checks::{load, number, number_rows, numbers};

fn whole(count: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small count")]
    let count = count as usize;
    count
}

#[test]
fn grubbs_critical_values_match_iso_5725_2_table_5() {
    let document = load("outliers.toml");
    let mut case = case(&document, "grubbs_critical");
    case.meets_all(|entry| {
        let n = whole(number_of(entry.get("args")?.as_inline_table()?, "n"));
        let name = entry.get("name").and_then(Value::as_str)?;
        let alpha = if name.contains("1pct") { 0.01 } else { 0.05 };
        let suspect = if name.contains("one_sided") { Suspect::Highest } else { Suspect::Farthest };
        Some(grubbs_critical(n, suspect, alpha).unwrap())
    });
    case.finish();
}

#[test]
fn grubbs_pair_critical_values_match_iso_5725_2_table_5() {
    let document = load("outliers.toml");
    let table = document["grubbs_pair_critical"].as_table().unwrap();
    for row in number_rows(table, "rows") {
        let n = whole(row[0]);
        let found = [PairSignificance::OnePercent, PairSignificance::FivePercent]
            .map(|significance| grubbs_pair_critical(n, significance).unwrap());
        for (at, found) in found.iter().enumerate() {
            assert!((found - row[1 + at]).abs() < 6e-7, "{n}: {found} {}", row[1 + at]);
            if let Some(printed) = row.get(3 + at) {
                assert!((found - printed).abs() <= 6e-5, "{n}: {found}, printed {printed}");
            }
        }
    }
}

#[test]
fn dixon_critical_values_match_the_published_tables() {
    let document = load("outliers.toml");
    let mut case = case(&document, "dixon_critical");
    case.meets_all(|entry| {
        let arguments = entry.get("args")?.as_inline_table()?;
        let n = whole(number_of(arguments, "n"));
        let significance = match entry.get("name").and_then(Value::as_str)?.rsplit('_').next()? {
            "a05" => DixonSignificance::FivePercent,
            "a025" => DixonSignificance::TwoAndAHalfPercent,
            "a01" => DixonSignificance::OnePercent,
            _ => DixonSignificance::HalfAPercent,
        };
        // r10 is tabulated up to 10 values, but used up to 7 only.
        let is_used = n <= 7 || arguments.get("ratio").and_then(Value::as_str) != Some("r10");
        let value = number_of(entry, "value");
        Some(if is_used { dixon_critical(n, significance).unwrap() } else { value })
    });
    case.finish();
}

#[test]
fn nitrite_outlier_is_kept_with_four_values_and_pointed_at_with_seven() {
    let document = load("outliers.toml");
    let mut case = case(&document, "miller_nitrite");
    let (four, seven) =
        (numbers(case.table, "first_four_mg_per_l"), numbers(case.table, "all_seven_mg_per_l"));
    let level = DixonSignificance::TwoAndAHalfPercent;
    let (q4, q7) = [&four, &seven].map(|v| dixon_test(v, Suspect::Farthest, level).unwrap()).into();
    let (g4, g7) = [&four, &seven].map(|v| grubbs_test(v, Suspect::Farthest, 0.05).unwrap()).into();
    case.meets("Q_4_values", q4.statistic);
    case.meets("Q_critical_4_two_sided_95", q4.critical);
    case.meets("G_4_values", g4.statistic);
    case.meets("G_7_values", g7.statistic);
    case.meets("G_critical_7", g7.critical);
    case.meets("Q_7_values", q7.statistic);
    case.meets("Q_critical_7_two_sided_95", q7.critical);
    case.finish();
    assert_eq!([q4.is_beyond, g4.is_beyond, q7.is_beyond, g7.is_beyond], [false, false, true, true]);
    assert_eq!(q7.suspects, [3]);
}

#[test]
fn two_naphthalene_outliers_do_not_hide_each_other() {
    let document = load("outliers.toml");
    let mut case = case(&document, "rosner_naphthalene");
    let y = numbers(case.table, "y");
    let found = extreme_studentized_test(&y, 2, number(case.table, "alpha")).unwrap();
    for (at, step) in found.steps.iter().enumerate() {
        case.meets(&format!("R_{}", at + 1), step.statistic);
        case.meets(&format!("lambda_{}", at + 1), step.critical);
        case.meets(&format!("removed_{}", at + 1), y[step.suspect]);
    }
    case.finish();
    assert_eq!(found.n_beyond, 2);
}

/// Each test points at clean normal samples about as often as its significance says.
#[test]
fn false_alarms_come_as_often_as_stated() {
    const N: u64 = 4000;
    let mut counts = [0.0_f64; 6];
    for index in 0..N {
        let mut random = RandomStream::new(41, index);
        let values: Vec<f64> = (0..8).map(|_| 20.0 + 0.3 * random.normal()).collect();
        let found = [
            grubbs_test(&values, Suspect::Farthest, 0.05).unwrap().is_beyond,
            grubbs_test(&values, Suspect::Highest, 0.05).unwrap().is_beyond,
            grubbs_range_test(&values, 0.05).unwrap().is_beyond,
            dixon_test(&values, Suspect::Highest, DixonSignificance::FivePercent).unwrap().is_beyond,
            [PairSuspects::Highest, PairSuspects::Lowest].into_iter().any(|pair| {
                grubbs_pair_test(&values, pair, PairSignificance::FivePercent).unwrap().is_beyond
            }),
            extreme_studentized_test(&values, 1, 0.05).unwrap().n_beyond > 0,
        ];
        for (count, found) in counts.iter_mut().zip(found) {
            *count += f64::from(u8::from(found));
        }
    }
    let shares = counts.map(|count| count / N as f64);
    println!("{shares:?}");
    // Three standard errors of a share of 5 % in 4000 are 1 %.
    assert!(shares.iter().all(|share| (share - 0.05).abs() < 0.0105), "{shares:?}");
}

#[test]
fn what_cannot_be_tested_is_refused() {
    let level = DixonSignificance::OnePercent;
    assert!(matches!(
        dixon_test(&[1.0; 26], Suspect::Farthest, level),
        Err(StatsError::NotTabulated { n: 26, from: 3, to: 25, .. })
    ));
    assert!(matches!(dixon_test(&[1.0; 5], Suspect::Farthest, level), Err(StatsError::NoVariation { .. })));
    assert!(matches!(grubbs_test(&[1.0; 5], Suspect::Farthest, 0.05), Err(StatsError::NoVariation { .. })));
    assert!(matches!(
        grubbs_pair_test(&[1.0, 2.0, 3.0], PairSuspects::Lowest, PairSignificance::OnePercent),
        Err(StatsError::NotTabulated { n: 3, from: 4, to: 40, .. })
    ));
    assert!(matches!(grubbs_critical(2, Suspect::Farthest, 0.05), Err(StatsError::TooFewValues { .. })));
    assert!(matches!(grubbs_range_critical(5, 1.5), Err(StatsError::NotAProbability { .. })));
    assert!(matches!(
        extreme_studentized_test(&[1.0, 2.0, 3.0], 2, 0.05),
        Err(StatsError::TooFewValues { needed: 4, .. })
    ));
}

proptest! {
    #[test]
    fn no_panic_on_any_values(values in prop::collection::vec(crate::properties::any_number(), 0..12), most in 0_usize..4) {
        let mut results = Vec::new();
        for suspect in [Suspect::Highest, Suspect::Lowest, Suspect::Farthest] {
            results.extend(grubbs_test(&values, suspect, 0.05).map(|test| test.statistic));
            results.extend(dixon_test(&values, suspect, DixonSignificance::OnePercent).map(|test| test.statistic));
        }
        for pair in [PairSuspects::Highest, PairSuspects::Lowest] {
            results.extend(grubbs_pair_test(&values, pair, PairSignificance::OnePercent).map(|test| test.statistic));
        }
        results.extend(grubbs_range_test(&values, 0.05).map(|test| test.statistic));
        if let Ok(found) = extreme_studentized_test(&values, most, 0.05) {
            results.extend(found.steps.iter().map(|step| step.statistic));
        }
        prop_assert!(results.is_empty() || values.iter().all(|v| v.is_finite()), "{results:?}");
        prop_assert!(results.iter().all(|v| v.is_finite()), "{results:?}");
    }

    /// No outlier statistic changes with unit or zero point.
    #[test]
    fn statistics_do_not_know_the_unit(
        values in prop::collection::vec(-5.0..5.0_f64, 5..12),
        shift in -100.0..100.0_f64, scale in 0.01..100.0_f64,
    ) {
        let moved: Vec<f64> = values.iter().map(|v| shift + scale * v).collect();
        let level = DixonSignificance::OnePercent;
        let statistics = |v: &[f64]| [
            grubbs_test(v, Suspect::Farthest, 0.05).unwrap().statistic,
            grubbs_range_test(v, 0.05).unwrap().statistic,
            grubbs_pair_test(v, PairSuspects::Highest, PairSignificance::OnePercent).unwrap().statistic,
            dixon_test(v, Suspect::Lowest, level).unwrap().statistic,
        ];
        for (a, b) in statistics(&values).iter().zip(statistics(&moved)) {
            prop_assert!((a - b).abs() < 1e-7 * (1.0 + shift.abs() / scale), "{a} {b}");
        }
    }
}

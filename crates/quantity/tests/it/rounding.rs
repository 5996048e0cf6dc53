//! Rounding to uncertainty and rounding of bounds.

use proptest::prelude::*;
use stillwell_quantity::{NOT_AVAILABLE, round_down, round_to_uncertainty, round_up};

#[test]
fn value_takes_the_place_of_its_uncertainty() {
    let table: [(f64, f64, &str); 36] = [
        (48.2371, 3.149, "48.2 ± 3.1"),
        (48.25, 3.149, "48.3 ± 3.1"),
        (48.25, 0.96, "48.25 ± 0.96"),
        (48.2371, 9.96, "48 ± 10"),
        (48.2371, 9.95, "48 ± 10"),
        (48.2371, 9.94, "48.2 ± 9.9"),
        (0.048, 0.0996, "0.05 ± 0.10"),
        (0.5, 0.00999, "0.500 ± 0.010"),
        (99.96, 0.5, "99.96 ± 0.50"),
        (99.996, 0.5, "100.00 ± 0.50"),
        (50.0, 1.0, "50.0 ± 1.0"),
        (50.0, 12.0, "50 ± 12"),
        (50.0, 120.0, "50 ± 120"),
        (54.9, 1234.0, "100 ± 1200"),
        (49.9, 1234.0, "0 ± 1200"),
        (5.0, 1234.0, "0 ± 1200"),
        (4.9, 120.0, "0 ± 120"),
        (5.0, 120.0, "10 ± 120"),
        (56789.0, 1234.0, "56800 ± 1200"),
        (-0.4, 1.26, "-0.4 ± 1.3"),
        (-0.04, 1.26, "0.0 ± 1.3"),
        (-0.05, 1.26, "-0.1 ± 1.3"),
        (-48.25, 3.1, "-48.3 ± 3.1"),
        (0.0, 0.37, "0.00 ± 0.37"),
        (-0.0, 0.37, "0.00 ± 0.37"),
        (1.005, 0.15, "1.01 ± 0.15"),
        (0.285, 0.15, "0.29 ± 0.15"),
        (50.0, 0.0, "50 ± 0"),
        (0.1, 0.0, "0.1 ± 0"),
        (1200.0, 0.0, "1200 ± 0"),
        (1.5e-7, 1.23e-9, "1.500×10⁻⁷ ± 1.2×10⁻⁹"),
        (0.0, 1.23e-9, "0 ± 1.2×10⁻⁹"),
        (1.23456e12, 4.56e9, "1.2346×10¹² ± 4.6×10⁹"),
        (1.0, 1e300, "0 ± 1.0×10³⁰⁰"),
        (1e300, 1.0, "1.00000000000000000×10³⁰⁰ ± 1.0"),
        (5e-324, 5e-324, "5.0×10⁻³²⁴ ± 5.0×10⁻³²⁴"),
    ];
    for (value, u, text) in table {
        assert_eq!(round_to_uncertainty(value, u).to_string(), text, "{value} ± {u}");
    }
}

#[test]
fn no_number_without_a_usable_uncertainty() {
    for (value, u) in
        [(f64::NAN, 1.0), (1.0, f64::NAN), (f64::INFINITY, 1.0), (1.0, f64::INFINITY), (1.0, -0.1)]
    {
        let rounded = round_to_uncertainty(value, u);
        assert_eq!((rounded.value.as_str(), rounded.expanded_u.as_str()), (NOT_AVAILABLE, NOT_AVAILABLE));
    }
}

#[test]
fn bounds_stay_true() {
    let table: [(f64, u8, &str, &str); 17] = [
        (1.1 * 50.0, 2, "55", "55"),
        (55.0000000000001, 2, "56", "55"),
        ((1.0 - 0.95) / 2.0 * 100.0, 2, "2.5", "2.5"),
        (1.21, 2, "1.3", "1.2"),
        (1.2, 2, "1.2", "1.2"),
        (0.1, 2, "0.10", "0.10"),
        (9.91, 2, "10", "9.9"),
        (0.00991, 2, "0.010", "0.0099"),
        (104.9, 2, "110", "100"),
        (99.1, 2, "100", "99"),
        (50.000001, 3, "50.1", "50.0"),
        (-1.26, 2, "-1.2", "-1.3"),
        (-9.99, 2, "-9.9", "-10"),
        (0.0, 2, "0.0", "0.0"),
        (123456789.0, 3, "1.24×10⁸", "1.23×10⁸"),
        (1.001e-9, 2, "1.1×10⁻⁹", "1.0×10⁻⁹"),
        (f64::NAN, 2, NOT_AVAILABLE, NOT_AVAILABLE),
    ];
    for (value, digits, up, down) in table {
        assert_eq!(
            (round_up(value, digits).as_str(), round_down(value, digits).as_str()),
            (up, down),
            "{value}"
        );
    }
}

/// The number that a text names.
fn number(text: &str) -> f64 {
    let plain: String = text
        .replace("×10", "e")
        .chars()
        .map(|c| {
            "⁰¹²³⁴⁵⁶⁷⁸⁹⁻".chars().position(|s| s == c).map_or(c, |at| "0123456789-".as_bytes()[at] as char)
        })
        .collect();
    plain.parse().unwrap()
}

fn finite() -> impl Strategy<Value = f64> {
    any::<u64>().prop_map(f64::from_bits).prop_filter("finite", |value| value.is_finite())
}

proptest! {
    #[test]
    fn bounds_never_understate(value in finite(), digits in 1_u8..=15) {
        // Half a unit of the 15th digit, off which every bound is rounded first.
        let trace = 5e-15 * value.abs();
        prop_assert!(number(&round_up(value, digits)) >= value - trace);
        prop_assert!(number(&round_down(value, digits)) <= value + trace);
    }

    #[test]
    fn bounds_of_short_decimals_are_strict(thousandths in -10_000_000_i32..10_000_000, digits in 1_u8..=15) {
        let value = f64::from(thousandths) / 1000.0;
        prop_assert!(number(&round_up(value, digits)) >= value);
        prop_assert!(number(&round_down(value, digits)) <= value);
    }

    #[test]
    fn rounding_moves_by_at_most_half_a_place(value in -1e5_f64..1e5, scale in prop::sample::select(vec![1e-5, 1e-3, 0.1, 1.0, 100.0, 1e4]), mantissa in 1.0_f64..9.9) {
        let u = mantissa * scale;
        let rounded = round_to_uncertainty(value, u);
        prop_assert!((number(&rounded.expanded_u) - u).abs() <= 0.0501 * u, "{rounded}");
        prop_assert!((number(&rounded.value) - value).abs() <= 0.0501 * u.max(number(&rounded.expanded_u)) + 1e-9 * value.abs(), "{rounded}");
    }

    #[test]
    fn any_two_numbers_give_text(value in any::<f64>(), u in any::<f64>()) {
        prop_assert!(!round_to_uncertainty(value, u).to_string().is_empty());
    }
}

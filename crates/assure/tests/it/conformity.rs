//! Published conformance probabilities, guard bands and verdicts.

use stillwell_assure::{
    DecisionCode, Estimate, conformance_probability, decide, find_limit, guard_band_factor,
};
use stillwell_quantity::Species;

use crate::checks::{is_true, mg_per_l, number, read, rows, text};

const CHECKS: &str = include_str!("../../../../checks/conformity.toml");

fn agree(name: &str, found: f64, value: f64) {
    println!("{name:28} found {found:<22} certified {value:<22}");
    assert!((found - value).abs() <= 1e-9 * value.abs(), "{name}: {found} against {value}");
}

#[test]
fn probabilities_reach_the_published_values() {
    for row in rows(&read(CHECKS), "probability") {
        let found =
            conformance_probability(number(row, "y"), number(row, "u"), number(row, "limit")).unwrap();
        agree(text(row, "name"), found, number(row, "value"));
        if let Some(printed) = row.get("printed").and_then(|printed| printed.as_str()) {
            let printed: f64 = printed.parse().unwrap();
            assert!((found - printed).abs() <= number(row, "tol"), "{found} against printed {printed}");
        }
        if let Some(below) = row.get("printed_below").and_then(toml_edit::Item::as_float) {
            assert!(found <= below, "{found} against printed < {below}");
        }
    }
}

#[test]
fn guard_band_factors_are_normal_quantiles() {
    for row in rows(&read(CHECKS), "factor") {
        let found = guard_band_factor(number(row, "confidence")).unwrap();
        agree(text(row, "name"), found, number(row, "value"));
        assert!((found - text(row, "printed").parse::<f64>().unwrap()).abs() <= number(row, "tol"));
    }
    assert!(
        guard_band_factor(0.5).is_err()
            && guard_band_factor(1.0).is_err()
            && guard_band_factor(f64::NAN).is_err()
    );
    assert!(
        conformance_probability(1.0, 0.0, 2.0).is_err()
            && conformance_probability(f64::NAN, 1.0, 2.0).is_err()
    );
}

#[test]
fn verdicts_agree_with_the_published_rules() {
    let limit = find_limit("who-nitrate").unwrap();
    let mut count = 0;
    for row in rows(&read(CHECKS), "nitrate_verdict") {
        let (y, u) = (number(row, "y"), number(row, "u"));
        let decision = |half: f64, coverage: f64| {
            let estimate =
                Estimate::interval(mg_per_l(Species::nitrate()), y - half, y, y + half, coverage).unwrap();
            decide(&estimate, &limit).unwrap()
        };
        let guarded = decision(2.0 * u, 0.9545);
        assert_eq!(guarded.code == DecisionCode::Below, is_true(row, "guarded_accept_w_u"), "{y}");
        assert_eq!(guarded.code == DecisionCode::Above, is_true(row, "guarded_reject_w_u"), "{y}");
        let one_sided = decision(guard_band_factor(0.95).unwrap() * u, 0.90);
        assert_eq!(one_sided.code == DecisionCode::Below, is_true(row, "guarded_accept_k1_645"), "{y}");
        agree(
            "conformance probability",
            one_sided.conformance_probability.unwrap(),
            number(row, "p_conform"),
        );
        let meets = guarded.ratio.unwrap() <= 1.0;
        assert_eq!(meets, is_true(row, "simple"), "{y}");
        let non_binary = match (guarded.code, meets) {
            (DecisionCode::Below, _) => "pass",
            (DecisionCode::Above, _) => "fail",
            (_, true) => "conditional pass",
            (_, false) => "conditional fail",
        };
        assert_eq!(non_binary, text(row, "non_binary"), "{y}");
        count += 1;
    }
    assert_eq!(count, 6);
}

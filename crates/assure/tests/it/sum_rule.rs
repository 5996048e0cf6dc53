//! Nitrate and nitrite together.

use stillwell_assure::{
    AssureError, Decision, DecisionCode, Estimate, conformance_probability, decide, decide_sum, find_limit,
    find_sum,
};
use stillwell_quantity::{Analyte, ExpressedAs, Species};

use crate::checks::{is_true, mg_per_l, number, read, rows};

const CHECKS: &str = include_str!("../../../../checks/water_limits.toml");

fn interval(species: Species, value: f64, half: f64) -> Estimate {
    Estimate::interval(mg_per_l(species), value - half, value, value + half, 0.95).unwrap()
}

fn sum(id: &str, parts: &[Estimate]) -> Decision {
    decide_sum(parts, &find_sum(id).unwrap()).unwrap()
}

#[test]
fn worked_cases_of_the_three_documents() {
    let checks = read(CHECKS);
    let mut count = 0;
    for row in rows(&checks, "combined") {
        let (no3, no2) = (number(row, "no3"), number(row, "no2"));
        let nitrate = interval(Species::nitrate(), no3, 0.0);
        let nitrite = interval(Species::nitrite(), no2, 0.0);
        let parts = [nitrate.clone(), nitrite.clone()];
        let met = |id: &str, part: &Estimate| {
            decide(part, &find_limit(id).unwrap()).unwrap().code == DecisionCode::Below
        };
        let sum_met = |id: &str| sum(id, &parts).code == DecisionCode::Below;
        let ratio = sum("who-sum", &parts).ratio.unwrap();
        println!("NO3 {no3:5} NO2 {no2:5} ratio {ratio}");
        assert!((ratio - number(row, "ratio")).abs() <= 1e-12, "{ratio}");
        assert_eq!(sum_met("who-sum"), is_true(row, "who_combined_met"), "WHO {no3} {no2}");
        let eu = sum_met("eu-sum") && met("eu-nitrate", &nitrate) && met("eu-nitrite", &nitrite);
        assert_eq!(eu, is_true(row, "eu_all_met"), "EU {no3} {no2}");
        let us = sum_met("us-sum") && met("us-nitrate", &nitrate) && met("us-nitrite", &nitrite);
        assert_eq!(us, is_true(row, "us_met"), "US {no3} {no2}");
        count += 1;
    }
    assert_eq!(count, 9);
}

#[test]
fn independent_results_add_in_quadrature() {
    let checks = read(CHECKS);
    let row = checks["combined_uncertainty"].as_table().unwrap();
    // Standard uncertainties stand in for the half widths: the rule of combination is the same.
    let nitrate = interval(Species::nitrate(), number(row, "no3"), number(row, "u_no3"));
    let nitrite = interval(Species::nitrite(), number(row, "no2"), number(row, "u_no2"));
    let decision = sum("who-sum", &[nitrate, nitrite]);
    assert_eq!(decision.code, DecisionCode::TooCloseToCall);
    assert!((decision.ratio.unwrap() - number(row, "ratio")).abs() < 1e-12);
    let u = number(row, "u_ratio");
    let p_met = conformance_probability(number(row, "ratio"), u, 1.0).unwrap();
    assert!((p_met - number(row, "p_met")).abs() < 1e-12);
    // The half width itself shows in the margin, once a smaller nitrate lets the rule decide.
    let lower = interval(Species::nitrate(), 30.0, number(row, "u_no3"));
    let nitrite = interval(Species::nitrite(), number(row, "no2"), number(row, "u_no2"));
    let margin = sum("who-sum", &[lower, nitrite]).margin.unwrap();
    assert!((margin - (1.0 - 0.8 - u)).abs() < 1e-12, "{margin}");
}

#[test]
fn a_part_alone_can_only_exceed() {
    let nitrate = sum("who-sum", &[interval(Species::nitrate(), 31.0, 2.0)]);
    assert_eq!(nitrate.code, DecisionCode::NotDecidable);
    assert!(
        nitrate.words.contains("nitrate part only, nitrite not measured, ratio 0.580 to 0.660 of 1"),
        "{}",
        nitrate.words
    );
    let high = sum("who-sum", &[interval(Species::nitrate(), 60.0, 2.0)]);
    assert_eq!(high.code, DecisionCode::Above);
    let nitrite = sum("who-sum", &[interval(Species::nitrite(), 1.0, 0.1)]);
    assert!(nitrite.words.contains("nitrite part only, nitrate not measured"), "{}", nitrite.words);
    assert_eq!(sum("who-sum", &[]).code, DecisionCode::NotDecidable);
}

#[test]
fn bounds_and_refusals_enter_on_their_guarded_side() {
    let nitrite_below = |bound| Estimate::less_than(mg_per_l(Species::nitrite()), bound, 0.05).unwrap();
    let below = sum("who-sum", &[interval(Species::nitrate(), 31.0, 2.0), nitrite_below(0.3)]);
    assert_eq!((below.code, below.ratio), (DecisionCode::Below, None));
    assert!((below.risk.unwrap() - 0.075).abs() < 1e-12 && (below.margin.unwrap() - 0.24).abs() < 1e-12);
    assert_eq!(below.conformance_probability, None);
    let close = sum("who-sum", &[interval(Species::nitrate(), 45.0, 2.0), nitrite_below(0.3)]);
    assert_eq!(close.code, DecisionCode::TooCloseToCall);
    let refused = || Estimate::refused(mg_per_l(Species::nitrite()));
    let open = sum("who-sum", &[interval(Species::nitrate(), 31.0, 2.0), refused()]);
    assert_eq!(open.code, DecisionCode::NotDecidable);
    assert_eq!(
        sum("who-sum", &[interval(Species::nitrate(), 60.0, 2.0), refused()]).code,
        DecisionCode::Above
    );
    let range = Estimate::above(mg_per_l(Species::nitrate()), 55.0, 0.025).unwrap();
    assert_eq!(sum("who-sum", &[range, nitrite_below(0.3)]).code, DecisionCode::Above);
}

#[test]
fn both_in_one_signal_lie_between_all_nitrate_and_all_nitrite() {
    let both = |value, half| {
        interval(Species::new(Analyte::NitratePlusNitrite, ExpressedAs::Itself).unwrap(), value, half)
    };
    // 3 mg/L NO2- is 4.043 mg/L counted as NO3-.
    assert_eq!(sum("who-sum", &[both(3.9, 0.1)]).code, DecisionCode::Below);
    assert_eq!(sum("who-sum", &[both(30.0, 1.0)]).code, DecisionCode::NotDecidable);
    assert_eq!(sum("who-sum", &[both(55.0, 1.0)]).code, DecisionCode::Above);
    // Where both weigh the same, one signal decides fully.
    assert_eq!(sum("us-sum", &[both(40.0, 1.0)]).code, DecisionCode::Below);
}

#[test]
fn parts_are_given_once_and_belong_to_the_rule() {
    let rule = find_sum("who-sum").unwrap();
    let nitrate = || interval(Species::nitrate(), 31.0, 2.0);
    let both = interval(Species::nitrate_plus_nitrite_as_n(), 5.0, 0.2);
    assert!(matches!(decide_sum(&[nitrate(), nitrate()], &rule), Err(AssureError::PartTwice { .. })));
    assert!(matches!(decide_sum(&[nitrate(), both], &rule), Err(AssureError::PartTwice { .. })));
    let ammonium = interval(Species::itself(Analyte::Ammonium), 1.0, 0.1);
    assert!(matches!(decide_sum(&[ammonium], &rule), Err(AssureError::AnalyteNotInLimit { .. })));
}

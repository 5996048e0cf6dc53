//! Decisions from every kind of estimate.

use proptest::prelude::*;
use stillwell_assure::{AssureError, Decision, DecisionCode, Estimate, NamedLimit, decide, find_limit};
use stillwell_quantity::{Analyte, ExpressedAs, QuantityKind, Species, Unit};

use crate::checks::mg_per_l;

fn interval(species: Species, low: f64, high: f64) -> Estimate {
    Estimate::interval(mg_per_l(species), low, f64::midpoint(low, high), high, 0.95).unwrap()
}

fn against(id: &str, estimate: &Estimate) -> Decision {
    decide(estimate, &find_limit(id).unwrap()).unwrap()
}

fn close(found: Option<f64>, expected: f64) {
    let found = found.unwrap();
    assert!((found - expected).abs() < 1e-9, "{found} against {expected}");
}

#[test]
fn the_whole_interval_decides_and_equality_meets() {
    for (low, high, code) in [
        (41.0, 45.0, DecisionCode::Below),
        (41.0, 50.0, DecisionCode::Below),
        (50.0, 50.0, DecisionCode::Below),
        (41.0, 50.000001, DecisionCode::TooCloseToCall),
        (50.0, 55.0, DecisionCode::TooCloseToCall),
        (50.000001, 55.0, DecisionCode::Above),
        (-2.0, 1.0, DecisionCode::Below),
    ] {
        assert_eq!(
            against("who-nitrate", &interval(Species::nitrate(), low, high)).code,
            code,
            "{low} to {high}"
        );
    }
}

#[test]
fn risk_ratio_and_margin_are_stated() {
    let below = against("who-nitrate", &interval(Species::nitrate(), 41.0, 45.0));
    close(below.risk, 0.025);
    close(below.ratio, 0.86);
    close(below.margin, 5.0);
    assert!(below.rule_words().contains("at most 2.5 %"), "{}", below.rule_words());
    let above = against("us-nitrate", &interval(Species::nitrate(), 50.0, 60.0));
    assert_eq!(above.code, DecisionCode::Above);
    assert_eq!(above.limit_source, "40 CFR 141.62(b)");
    close(above.margin, 50.0 * 14.007 / 62.004 - 10.0);
    let open = against("who-nitrate", &interval(Species::nitrate(), 48.0, 52.0));
    assert_eq!((open.code, open.risk, open.margin), (DecisionCode::TooCloseToCall, None, None));
    close(open.conformance_probability, 0.5);
    // An interval without width has no distribution.
    assert_eq!(
        against("who-nitrate", &interval(Species::nitrate(), 50.0, 50.0)).conformance_probability,
        None
    );
}

#[test]
fn units_and_forms_are_converted() {
    let as_n = against("who-nitrate", &interval(Species::nitrate_as_n(), 10.5, 11.2));
    assert_eq!(as_n.code, DecisionCode::Below);
    assert_eq!(
        against("who-nitrate", &interval(Species::nitrate_as_n(), 11.4, 12.0)).code,
        DecisionCode::Above
    );
    let amount = QuantityKind { unit: Unit::MicromolePerLitre, species: Species::nitrate() };
    let estimate = Estimate::interval(amount, 700.0, 750.0, 800.0, 0.95).unwrap();
    assert_eq!(against("eu-nitrate", &estimate).code, DecisionCode::Below);
    assert_eq!(against("us-nitrate", &estimate).code, DecisionCode::TooCloseToCall);
}

#[test]
fn bounds_decide_on_their_own_side_only() {
    let kind = || mg_per_l(Species::nitrate());
    let above = |bound| Estimate::above(kind(), bound, 0.025).unwrap();
    let less = |bound| Estimate::less_than(kind(), bound, 0.05).unwrap();
    for (estimate, code) in [
        (above(50.5), DecisionCode::Above),
        (above(50.0), DecisionCode::NotDecidable),
        (above(30.0), DecisionCode::NotDecidable),
        (less(1.2), DecisionCode::Below),
        (less(50.0), DecisionCode::Below),
        (less(50.5), DecisionCode::NotDecidable),
    ] {
        let decision = against("who-nitrate", &estimate);
        assert_eq!(decision.code, code, "{estimate:?}");
        assert_eq!(decision.ratio, None);
    }
    assert!(against("who-nitrate", &above(30.0)).advice.iter().any(|advice| advice.contains("Dilute")));
}

#[test]
fn a_refused_determination_is_unknown() {
    let decision = against("who-nitrate", &Estimate::refused(mg_per_l(Species::nitrate())));
    assert_eq!(decision.code, DecisionCode::NotDecidable);
    assert!(decision.code.needs_attention());
    assert!(decision.words.contains("treat as unknown"));
    assert!(decision.reason.contains("a refusal is never a pass"));
    assert_eq!((decision.risk, decision.ratio, decision.margin), (None, None, None));
}

#[test]
fn a_signal_with_nitrite_is_judged_as_both() {
    let both = || Species::new(Analyte::NitratePlusNitrite, ExpressedAs::Itself).unwrap();
    let below = against("who-nitrate", &interval(both(), 41.0, 45.0));
    assert_eq!(below.words, "nitrate + nitrite below 50 mg/L as NO₃⁻ (other hazards not tested)");
    assert_eq!(against("who-nitrate", &interval(both(), 51.0, 55.0)).code, DecisionCode::Above);
    assert_eq!(against("us-total", &interval(both(), 45.0, 55.0)).code, DecisionCode::Above);
    // All of it could be nitrate: only "below" holds for nitrite. 3 mg/L NO2- is 0.9134 mg/L as N, 4.043 as NO3-.
    assert_eq!(against("who-nitrite", &interval(both(), 3.0, 4.04)).code, DecisionCode::Below);
    assert_eq!(against("who-nitrite", &interval(both(), 3.0, 4.05)).code, DecisionCode::NotDecidable);
    assert_eq!(against("who-nitrite", &interval(both(), 5.0, 6.0)).code, DecisionCode::NotDecidable);
}

#[test]
fn a_part_can_only_exceed_a_limit_on_both() {
    for (species, low, high, code) in [
        (Species::nitrate_as_n(), 4.0, 5.0, DecisionCode::NotDecidable),
        (Species::nitrate_as_n(), 9.0, 11.0, DecisionCode::NotDecidable),
        (Species::nitrate_as_n(), 10.5, 11.0, DecisionCode::Above),
        (Species::nitrite(), 30.0, 33.0, DecisionCode::NotDecidable),
        (Species::nitrite(), 33.0, 34.0, DecisionCode::Above),
    ] {
        assert_eq!(against("us-total", &interval(species, low, high)).code, code, "{low} to {high}");
    }
    let part = against("us-total", &interval(Species::nitrate_as_n(), 4.0, 5.0));
    assert!(part.reason.contains("nitrate part only, nitrite not measured"), "{}", part.reason);
}

#[test]
fn other_analytes_are_refused_or_judged_by_their_own_limit() {
    let ammonium = interval(Species::itself(Analyte::Ammonium), 0.1, 0.2);
    let refusal = decide(&ammonium, &find_limit("who-nitrate").unwrap()).unwrap_err();
    assert!(matches!(refusal, AssureError::AnalyteNotInLimit { .. }), "{refusal}");
    let dye = |mass| Species::itself(Analyte::from_name("pyocyanin", mass).unwrap());
    let kind = QuantityKind { unit: Unit::MicromolePerLitre, species: dye(Some(210.23)) };
    let limit = NamedLimit::new("ward-pyocyanin", "ward alert", 100.0, kind, "ward protocol", "").unwrap();
    let decision = decide(&interval(dye(None), 5.0, 6.0), &limit).unwrap();
    assert_eq!(decision.words, "pyocyanin below 100 µmol/L (other hazards not tested)");
    let above = decide(&interval(dye(None), 25.0, 26.0), &limit).unwrap();
    assert!(!above.cautions.iter().any(|caution| caution.contains("infant")), "{:?}", above.cautions);
}

#[test]
fn unusable_estimates_are_refused() {
    let kind = || mg_per_l(Species::nitrate());
    for (low, value, high) in
        [(2.0, 1.0, 3.0), (0.0, 4.0, 3.0), (f64::NAN, 1.0, 2.0), (0.0, 1.0, f64::INFINITY)]
    {
        assert!(matches!(
            Estimate::interval(kind(), low, value, high, 0.95),
            Err(AssureError::IntervalUnusable { .. })
        ));
    }
    for coverage in [0.5, 1.0, 95.0, f64::NAN] {
        let refusal = Estimate::interval(kind(), 1.0, 2.0, 3.0, coverage);
        assert!(matches!(refusal, Err(AssureError::CoverageUnusable { .. })), "{coverage}");
    }
    assert!(matches!(Estimate::above(kind(), f64::INFINITY, 0.025), Err(AssureError::BoundUnusable { .. })));
    assert!(matches!(Estimate::less_than(kind(), 1.0, 0.0), Err(AssureError::RiskUnusable { .. })));
}

proptest! {
    #[test]
    fn a_wider_interval_never_decides_more(low in 0.0_f64..100.0, width in 0.0_f64..50.0, more in 0.0_f64..20.0) {
        let narrow = against("who-nitrate", &interval(Species::nitrate(), low, low + width)).code;
        let wide = against("who-nitrate", &interval(Species::nitrate(), low - more, low + width + more)).code;
        prop_assert!(wide == narrow || wide == DecisionCode::TooCloseToCall);
    }

    #[test]
    fn any_numbers_give_a_decision_or_a_refusal(a in any::<f64>(), b in any::<f64>(), c in any::<f64>(), coverage in 0.0_f64..1.1) {
        if let Ok(estimate) = Estimate::interval(mg_per_l(Species::nitrate_as_n()), a, b, c, coverage)
            && let Ok(decision) = decide(&estimate, &find_limit("eu-nitrate").unwrap())
        {
            prop_assert!(!decision.words.is_empty() && !decision.reason.is_empty());
        }
    }
}

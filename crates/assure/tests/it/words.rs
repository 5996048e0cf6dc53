//! The words that people read.

use stillwell_assure::{
    Decision, DecisionCode, Estimate, GENERAL_CAUTIONS, REAGENT_CAUTION, decide, decide_sum, find_limit,
    find_sum, shipped_limits, shipped_sums,
};
use stillwell_quantity::{Analyte, QuantityKind, Species, Unit};

use crate::checks::mg_per_l;

fn estimates(kind: &QuantityKind, limit: f64) -> Vec<Estimate> {
    let interval = |low: f64, high: f64| {
        Estimate::interval(kind.clone(), low * limit, f64::midpoint(low, high) * limit, high * limit, 0.95)
            .unwrap()
    };
    vec![
        interval(0.5, 0.6),
        interval(0.9, 1.1),
        interval(1.2, 1.3),
        Estimate::above(kind.clone(), 1.5 * limit, 0.025).unwrap(),
        Estimate::above(kind.clone(), 0.5 * limit, 0.025).unwrap(),
        Estimate::less_than(kind.clone(), 0.1 * limit, 0.05).unwrap(),
        Estimate::less_than(kind.clone(), 1.5 * limit, 0.05).unwrap(),
        Estimate::refused(kind.clone()),
    ]
}

/// Every decision that any estimate of nitrate, nitrite or both can bring about.
fn every_decision() -> Vec<Decision> {
    let species = [Species::nitrate(), Species::nitrite(), Species::nitrate_plus_nitrite_as_n()];
    let mut decisions = Vec::new();
    for limit in shipped_limits() {
        for species in &species {
            let found = estimates(&mg_per_l(species.clone()), limit.value());
            decisions.extend(found.iter().filter_map(|estimate| decide(estimate, &limit).ok()));
        }
    }
    for rule in shipped_sums() {
        let nitrate = estimates(&mg_per_l(rule.nitrate().clone()), rule.nitrate_mg_per_l());
        let nitrite = estimates(&mg_per_l(rule.nitrite().clone()), rule.nitrite_mg_per_l());
        let both = estimates(&mg_per_l(Species::nitrate_plus_nitrite_as_n()), 10.0);
        for part in nitrate.iter().chain(&nitrite).chain(&both) {
            decisions.push(decide_sum(std::slice::from_ref(part), &rule).unwrap());
        }
        for nitrate in &nitrate {
            decisions.extend(
                nitrite.iter().map(|nitrite| decide_sum(&[nitrate.clone(), nitrite.clone()], &rule).unwrap()),
            );
        }
    }
    decisions
}

fn sentences(decision: &Decision) -> Vec<String> {
    let mut all = vec![
        decision.words.clone(),
        decision.reason.clone(),
        decision.rule_words(),
        decision.limit_name.clone(),
    ];
    all.extend(decision.cautions.iter().chain(&decision.advice).map(ToString::to_string));
    all
}

#[test]
fn nothing_is_called_safe() {
    let decisions = every_decision();
    assert!(decisions.len() > 300, "{}", decisions.len());
    let mut all: Vec<String> = decisions.iter().flat_map(sentences).collect();
    all.extend(GENERAL_CAUTIONS.iter().map(ToString::to_string));
    all.push(REAGENT_CAUTION.to_owned());
    // The source is read as well, so that a sentence no decision reaches is caught too.
    all.push(include_str!("../../src/wording.rs").to_owned());
    all.push(include_str!("../../src/error.rs").to_owned());
    all.push(include_str!("../../src/limit.rs").to_owned());
    for text in all {
        for word in text.split(|c: char| !c.is_alphanumeric()) {
            let word = word.to_lowercase();
            let claims = ["safe", "safely", "unsafe", "harmless", "potable", "drinkable", "clean", "pure"];
            assert!(!claims.contains(&word.as_str()), "{word} in: {text}");
        }
    }
}

#[test]
fn every_decision_says_what_its_code_demands() {
    for decision in every_decision() {
        let has = |part: &str| sentences(&decision).iter().any(|sentence| sentence.contains(part));
        let label = format!("{decision:#?}");
        assert!(has("not by itself a legal compliance statement or medical advice"), "{label}");
        assert!(has("accredited procedure"), "{label}");
        match decision.code {
            DecisionCode::Below => {
                assert!(
                    decision.words.ends_with("(other hazards not tested)") && decision.advice.is_empty(),
                    "{label}"
                );
                assert!(
                    decision.risk.is_some_and(|risk| risk > 0.0)
                        && decision.margin.is_some_and(|margin| margin >= 0.0),
                    "{label}"
                );
            }
            code => {
                assert!(
                    decision.cautions[0].contains("local code")
                        && decision.cautions[0].contains("health authority"),
                    "{label}"
                );
                assert!(has("bottle-fed infants") && has("boiling concentrates"), "{label}");
                assert!(
                    !decision.advice.is_empty() && !decision.words.contains("other hazards not tested"),
                    "{label}"
                );
                assert_eq!(
                    has("act as if the water were above the limit"),
                    code != DecisionCode::Above,
                    "{label}"
                );
                assert_eq!(decision.risk.is_some(), code == DecisionCode::Above, "{label}");
            }
        }
    }
}

#[test]
fn the_verdict_sentences_read_as_agreed() {
    let limit = find_limit("who-nitrate").unwrap();
    let words: Vec<String> =
        estimates(limit.kind(), 50.0).iter().map(|found| decide(found, &limit).unwrap().words).collect();
    assert_eq!(words[0], "nitrate below 50 mg/L as NO₃⁻ (other hazards not tested)");
    assert_eq!(words[1], "nitrate too close to 50 mg/L as NO₃⁻ to call");
    assert_eq!(words[2], "nitrate above 50 mg/L as NO₃⁻");
    assert_eq!(words[4], "nitrate not decided against 50 mg/L as NO₃⁻: treat as unknown");
    let reason = decide(&estimates(limit.kind(), 50.0)[1], &limit).unwrap().reason;
    assert_eq!(reason, "the interval 45.00 to 55.00 mg/L as NO₃⁻ holds the limit 50 mg/L as NO₃⁻");
}

#[test]
fn too_close_to_call_advises_against_measuring_until_it_passes() {
    let limit = find_limit("us-nitrate").unwrap();
    let advice = decide(&estimates(limit.kind(), 10.0)[1], &limit).unwrap().advice.join(" ");
    for part in ["new strips", "accredited laboratory", "until one result passes proves nothing"] {
        assert!(advice.contains(part), "{advice}");
    }
}

#[test]
fn sum_rule_words_carry_the_ratio() {
    let rule = find_sum("eu-sum").unwrap();
    let amount = QuantityKind { unit: Unit::MicromolePerLitre, species: Species::itself(Analyte::Nitrate) };
    let nitrate = Estimate::interval(amount, 480.0, 500.0, 520.0, 0.95).unwrap();
    let nitrite = Estimate::interval(mg_per_l(Species::nitrite()), 0.2, 0.3, 0.4, 0.95).unwrap();
    let decision = decide_sum(&[nitrate, nitrite], &rule).unwrap();
    assert_eq!(
        decision.words,
        "nitrate and nitrite together below the EU sum rule for nitrate and nitrite: ratio 0.678 to 0.762 of 1 (other hazards not tested)"
    );
}

//! Guard bands, global risks, replicates and the retest rule.

use proptest::prelude::*;
use stillwell_assure::{
    BudgetError, DecisionCode, FirstLook, Independent, PriorDistribution, ReplicateUncertainty, RetestRule,
    Shared, StatedPrior, conformance_probability, global_risk, guarded_limits, guarded_limits_relative,
    performance_requirement, posterior,
};
use stillwell_stats::random::RandomStream;

use crate::checks::{number, read, rows, text};

const CHECKS: &str = include_str!("../../../../checks/conformity.toml");

fn agree(name: &str, found: f64, value: f64) {
    println!("{name:40} found {found:<22} certified {value:<22}");
    assert!((found - value).abs() <= 1e-9 * value.abs(), "{name}: {found} against {value}");
}

#[test]
fn guard_bands_reach_the_published_values() {
    for row in rows(&read(CHECKS), "guard") {
        let [limit, u, risk] = ["limit", "relative_u", "risk"].map(|key| number(row, key));
        let guard = guarded_limits_relative(limit, u, f64::INFINITY, risk).unwrap();
        agree(text(row, "name"), guard.reject_above, number(row, "value"));
    }
    for row in rows(&read(CHECKS), "t_factor") {
        let guard = guarded_limits(50.0, 1.0, number(row, "df"), number(row, "risk")).unwrap();
        agree(text(row, "name"), guard.factor, number(row, "value"));
    }
    let error = guarded_limits_relative(50.0, 0.8, f64::INFINITY, 0.05).unwrap_err();
    assert!(error.to_string().contains("no value, however large"), "{error}");
    assert!(guarded_limits(50.0, 0.0, 5.0, 0.05).is_err() && guarded_limits(50.0, 1.0, 5.0, 0.5).is_err());
    assert!(guarded_limits(50.0, 1.0, 0.5, 0.05).is_err());
}

fn prior(mean: f64, sd: f64) -> StatedPrior {
    StatedPrior::new(PriorDistribution::Normal { mean, sd }, "an invented survey").unwrap()
}

#[test]
fn global_risks_and_posterior_reach_the_recomputed_values() {
    for row in rows(&read(CHECKS), "global_risk") {
        let [mean, sd, u, limit, accept] =
            ["prior_mean", "prior_sd", "u", "limit", "accept_up_to"].map(|key| number(row, key));
        let risk = global_risk(&prior(mean, sd), u, limit, accept).unwrap();
        agree(&format!("{}, consumer", text(row, "name")), risk.consumer, number(row, "consumer"));
        agree(&format!("{}, producer", text(row, "name")), risk.producer, number(row, "producer"));
    }
    for row in rows(&read(CHECKS), "posterior") {
        let [mean, sd, y, u, limit] =
            ["prior_mean", "prior_sd", "y", "u", "limit"].map(|key| number(row, key));
        let found = posterior(&prior(mean, sd), y, u).unwrap();
        agree("posterior mean", found.mean, number(row, "mean"));
        agree("posterior u", found.standard_uncertainty, number(row, "posterior_u"));
        let conforms = conformance_probability(found.mean, found.standard_uncertainty, limit).unwrap();
        agree("conformance after measuring", conforms, number(row, "p_conform"));
    }
}

#[test]
fn a_prior_needs_a_source() {
    let normal = PriorDistribution::Normal { mean: 40.0, sd: 6.0 };
    assert_eq!(StatedPrior::new(normal, "  ").unwrap_err(), BudgetError::PriorWithoutSource);
    let flat = PriorDistribution::Normal { mean: 40.0, sd: 0.0 };
    assert_eq!(StatedPrior::new(flat, "survey").unwrap_err(), BudgetError::PriorUnusable);
    let skewed = PriorDistribution::LogNormal { log_mean: 3.0, log_sd: 0.5 };
    let skewed = StatedPrior::new(skewed, "survey").unwrap();
    assert_eq!(posterior(&skewed, 40.0, 2.0).unwrap_err(), BudgetError::PriorNotNormal);
    // A thousand times more exact measurement: hardly any wrong call, and the water above the limit is refused.
    let risk = global_risk(&skewed, 0.002, 50.0, 50.0).unwrap();
    assert!(risk.consumer < 1e-4 && risk.producer < 1e-4, "{risk:?}");
}

proptest! {
    #[test]
    fn accepted_refused_and_wrong_make_all_water(mean in 20.0..60.0, sd in 1.0..15.0, u in 0.05..5.0, accept in 30.0..60.0) {
        // Consumer's risk + water rightly accepted = all accepted: Φ((A − mean)/√(sd² + u²)) for normal quantities.
        let risk = global_risk(&prior(mean, sd), u, 50.0, accept).unwrap();
        let below = stillwell_stats::distributions::normal_cdf((50.0 - mean) / sd);
        let accepted = stillwell_stats::distributions::normal_cdf((accept - mean) / (sd * sd + u * u).sqrt());
        prop_assert!((below - risk.producer + risk.consumer - accepted).abs() < 1e-9);
    }

    #[test]
    fn no_number_of_replicates_gets_below_what_they_share(own in 0.0..5.0, shared in 0.01..5.0, n in 1_u32..u32::MAX) {
        let u = replicates(own, shared);
        let of_mean = u.of_mean(n).unwrap();
        prop_assert!(of_mean.standard_uncertainty >= shared);
        prop_assert!(u.replicates_for(shared * 0.999).is_err());
        let target = 1.01 * shared;
        let needed = u.replicates_for(target).unwrap();
        prop_assert!(u.of_mean(needed).unwrap().standard_uncertainty <= target * (1.0 + 1e-9));
        if needed > 1 {
            prop_assert!(u.of_mean(needed - 1).unwrap().standard_uncertainty > target);
        }
    }
}

fn replicates(own: f64, shared: f64) -> ReplicateUncertainty {
    let independent = Independent { standard_uncertainty: own, degrees_of_freedom: f64::INFINITY };
    ReplicateUncertainty::new(independent, Shared { standard_uncertainty: shared }).unwrap()
}

const RULE_RISK: f64 = 0.05;

fn rule() -> RetestRule {
    RetestRule { limit: 50.0, uncertainty: replicates(1.5, 0.8), n_first: 3, n_more: 6, risk: RULE_RISK }
}

#[test]
fn a_retest_takes_exactly_what_was_agreed_and_ends() {
    for wrong in [&[48.0, 48.0][..], &[48.0; 4], &[]] {
        let error = rule().first_look(wrong).unwrap_err();
        assert!(error.to_string().contains("none may be left out and none added"), "{error}");
    }
    let FirstLook::Ended(clear) = rule().first_look(&[44.0, 45.0, 44.5]).unwrap() else { panic!("open") };
    assert!(clear.code == DecisionCode::Below && clear.is_final && clear.words("mg/L").starts_with("Below"));
    let FirstLook::Open(look, second) = rule().first_look(&[49.0, 48.5, 49.5]).unwrap() else {
        panic!("decided")
    };
    assert!(look.words("mg/L").contains("Measure the further replicates"));
    let last = second.take(&[49.9; 6]).unwrap();
    assert!(last.code == DecisionCode::TooCloseToCall && last.is_final && last.n_results == 9);
    assert!(last.words("mg/L").contains("the rule fixed beforehand ends here"), "{}", last.words("mg/L"));
    let single = RetestRule { n_more: 0, ..rule() };
    let FirstLook::Ended(only) = single.first_look(&[49.0, 48.5, 49.5]).unwrap() else { panic!("open") };
    assert!(only.is_final && only.guard.risk > look.guard.risk, "one look has the whole risk");
}

#[test]
fn two_looks_together_keep_the_stated_risk_at_the_limit() {
    let (mut wrong, n_waters) = (0_u32, 20_000);
    for water in 0..n_waters {
        let mut random = RandomStream::new(20_260_103, water);
        // Truth just above the limit: any "below" is wrong. What is shared is shared by all results of this water.
        let shared = 0.8 * random.normal();
        let mut results =
            |n: usize| -> Vec<f64> { (0..n).map(|_| 50.0 + shared + 1.5 * random.normal()).collect() };
        let code = match rule().first_look(&results(3)).unwrap() {
            FirstLook::Ended(look) => look.code,
            FirstLook::Open(_, second) => second.take(&results(6)).unwrap().code,
        };
        wrong += u32::from(code == DecisionCode::Below);
    }
    let share = f64::from(wrong) / n_waters as f64;
    println!("wrongly below: {share:.4}, stated {RULE_RISK}");
    assert!(share <= RULE_RISK && share > 0.4 * RULE_RISK);
}

#[test]
fn the_directive_s_performance_is_checked_in_words() {
    let asked = performance_requirement("eu-nitrate").unwrap();
    let good = asked.clone().check(3.0, 10.0).unwrap();
    println!("{}", good.words());
    assert!(
        good.is_met()
            && good.words().contains("expanded uncertainty (k = 2) 12.0 % of the limit, at most 15 %: met")
    );
    let bad = asked.clone().check(3.76, 15.1).unwrap();
    println!("{}", bad.words());
    assert!(!bad.uncertainty_is_met() && !bad.quantification_is_met());
    assert!(bad.words().matches("NOT met").count() == 2 && bad.words().contains("no extra allowance"));
    let at_the_edge = asked.check(3.75, 15.0).unwrap();
    assert!(at_the_edge.is_met());
    assert!(performance_requirement("eu-nitrite").unwrap().check(0.04, 0.1).unwrap().is_met());
    let error = performance_requirement("who-nitrate").unwrap_err();
    assert!(error.to_string().contains("eu-nitrate and eu-nitrite"), "{error}");
}

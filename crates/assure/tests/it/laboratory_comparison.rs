//! A method beside a laboratory: scores, bounds, bias, and what people are told.

use stillwell_assure::QualityError;
use stillwell_assure::compare::{
    BiasVerdict, BoundVerdict, ComparisonRule, MethodComparison, PairedResult, Reported, Scale, compare,
};
use stillwell_stats::random::RandomStream;

use crate::published::{Case, SCORES};

const RULE: ComparisonRule =
    ComparisonRule { largest_bias: 2.0, largest_bias_percent: 5.0, limit: Some(50.0) };

fn pair(sample: &str, ours: Reported, reference: Reported) -> PairedResult {
    PairedResult { sample: sample.to_owned(), ours, reference }
}

fn found(value: f64, standard_u: f64) -> Reported {
    Reported::Found { value, standard_u }
}

/// Waters from 3 to 70 mg/L; our result is off by `bias` and by a share of the level.
fn waters(seed: u64, n: u32, bias: f64, share: f64) -> Vec<PairedResult> {
    let mut random = RandomStream::new(seed, 0);
    (0..n)
        .map(|i| {
            let truth = 3.0 + 67.0 * f64::from(i) / f64::from(n.max(2) - 1);
            let ours = truth * (1.0 + share) + bias + 0.9 * random.normal();
            let reference = truth + 0.5 * random.normal();
            pair(&format!("W{}", i + 1), found(ours, 0.9), found(reference, 0.5))
        })
        .collect()
}

fn told(found: &MethodComparison) -> String {
    let advice = found.advice().into_iter().map(|words| format!("advice: {words}"));
    found.words().into_iter().chain(advice).collect::<Vec<_>>().join("\n")
}

#[test]
fn scores_are_those_of_the_standard() {
    let case = Case::of(SCORES, "scores");
    let one =
        pair("W1", found(case.input("x"), case.input("u_x")), found(case.input("x_pt"), case.input("u_pt")));
    let score = one.score().unwrap();
    case.agree("zeta", score.zeta, 12.0);
    case.agree("En", score.en, 12.0);
}

#[test]
fn agreement_bias_and_a_proportional_error_are_told_apart() {
    let sound = compare("mg/L", &waters(1, 30, 0.0, 0.0), RULE).unwrap();
    assert_eq!(sound.verdict, BiasVerdict::WithinMargin);
    let high = compare("mg/L", &waters(2, 30, 4.0, 0.0), RULE).unwrap();
    assert_eq!(high.verdict, BiasVerdict::BeyondMargin);
    let steep = compare("mg/L", &waters(3, 30, 0.0, -0.12), RULE).unwrap();
    let line = steep.line.unwrap();
    assert!(line.slope_interval[1] < 0.95 && line.slope_interval[0] < 0.88 + 0.01, "{line:?}");
    let few = compare("mg/L", &waters(4, 6, 0.0, 0.0), RULE).unwrap();
    assert_eq!(few.verdict, BiasVerdict::TooFew { found: 6, needed: 8 });
    let open = compare("mg/L", &waters(5, 9, 2.2, 0.0), RULE).unwrap();
    assert!(matches!(open.verdict, BiasVerdict::CannotSay { .. }), "{open:?}");
    insta::assert_snapshot!(
        [sound, high, steep, few, open].iter().map(told).collect::<Vec<_>>().join("\n\n")
    );
}

#[test]
fn differences_that_grow_are_told_in_percent() {
    let mut random = RandomStream::new(9, 0);
    let pairs: Vec<PairedResult> = (0..40)
        .map(|i| {
            let truth = 3.0 + 1.7 * f64::from(i);
            let ours = truth * (1.0 + 0.05 * random.normal());
            pair(&format!("W{i}"), found(ours, 0.05 * truth), found(truth, 0.01 * truth))
        })
        .collect();
    let compared = compare("mg/L", &pairs, RULE).unwrap();
    let agreement = compared.agreement.unwrap();
    assert_eq!(agreement.scale, Scale::Percent);
    assert!((agreement.sd - 5.0).abs() < 1.5 && agreement.bias.abs() < 2.5, "{agreement:?}");
}

#[test]
fn bounds_enter_no_mean_and_contradictions_are_named() {
    let mut pairs = waters(1, 12, 0.0, 0.0);
    let without = compare("mg/L", &pairs, RULE).unwrap();
    pairs.push(pair("low", Reported::LessThan(1.5), found(1.0, 0.2)));
    pairs.push(pair("both low", Reported::LessThan(1.5), Reported::LessThan(0.5)));
    pairs.push(pair("odd", Reported::LessThan(1.5), found(6.0, 0.5)));
    pairs.push(pair("too high", Reported::MoreThan(70.0), found(85.0, 1.0)));
    let with = compare("mg/L", &pairs, RULE).unwrap();
    assert_eq!(with.agreement, without.agreement);
    let verdicts: Vec<BoundVerdict> = with.bounds.iter().map(|found| found.verdict).collect();
    let expected = [
        BoundVerdict::Consistent,
        BoundVerdict::SaysNothing,
        BoundVerdict::Contradicts,
        BoundVerdict::Consistent,
    ];
    assert_eq!(verdicts, expected);
    insta::assert_snapshot!(told(&with));
}

#[test]
fn sound_methods_are_seldom_called_biased() {
    // The bias lies at the margin: a call "agrees" is wrong then, with a risk of 2.5 % at most.
    let n: u32 = 1000;
    let mut agreed = 0;
    for seed in 0..n {
        let compared = compare("mg/L", &waters(u64::from(seed) + 50, 20, 2.0, 0.0), RULE).unwrap();
        let is_absolute = compared.agreement.is_some_and(|found| found.scale == Scale::Absolute);
        agreed += u32::from(is_absolute && compared.verdict == BiasVerdict::WithinMargin);
    }
    println!("bias at the margin: called agreeing in {agreed} of {n}");
    assert!(agreed <= 40, "{agreed}");
}

#[test]
fn unusable_pairs_are_refused_with_their_place() {
    let mut pairs = waters(1, 12, 0.0, 0.0);
    pairs[3].ours = found(12.0, 0.0);
    assert_eq!(
        compare("mg/L", &pairs, RULE).unwrap_err(),
        QualityError::NotFinite { what: "the pairs", place: 4 }
    );
    let rule = ComparisonRule { largest_bias: 0.0, ..RULE };
    assert!(matches!(compare("mg/L", &waters(1, 12, 0.0, 0.0), rule), Err(QualityError::Unusable { .. })));
}

//! Trends, values below limits, components of variance, method comparison and equivalence against general-purpose
//! libraries and against definitions worked out another way.

use serde_json::{Value, json};
use stillwell_stats::censored::{Observation, Shape, kaplan_meier, likelihood_fit, order_regression};
use stillwell_stats::comparison::{DemingErrors, deming, signed_rank};
use stillwell_stats::components::{Component, ComponentEstimate, ComponentSettings, nested_components};
use stillwell_stats::equivalence::{
    EquivalenceDesign, Margins, Samples, equivalence_power, equivalent_mean, equivalent_means,
    equivalent_ratio,
};
use stillwell_stats::limits::{percentile_limits, prediction_limits};
use stillwell_stats::outliers::{DixonSignificance, dixon_critical};
use stillwell_stats::random::RandomStream;
use stillwell_stats::trend::{mann_kendall, theil_sen};

use crate::oracle::{Account, ask, number, numbers, settle};
use crate::spread::whole;

const SEED: u64 = 20_260_108;

/// Rounded to tenths, so that some values tie.
fn tenths(value: f64) -> f64 {
    (10.0 * value).round() / 10.0
}

#[test]
fn trends_agree_with_their_definition_and_scipy() {
    let series: Vec<(Vec<f64>, Vec<f64>)> = (0..60)
        .map(|stream| {
            let mut random = RandomStream::new(SEED, stream);
            let n = whole(&mut random, 8, 40);
            let has_ties = stream % 2 == 0;
            let value = |v: f64| if has_ties { tenths(v) } else { v };
            (0..n).map(|i| (value(0.7 * i as f64), value(3.0 + 0.02 * i as f64 + random.normal()))).unzip()
        })
        .collect();
    let case = |s: &(Vec<f64>, Vec<f64>)| json!({"kind": "trend", "t": s.0, "y": s.1, "coverage": 0.9});
    let Some(answers) = ask(&series.iter().map(case).collect::<Vec<Value>>()) else { return };
    let keys = ["score", "variance", "p", "slope", "low", "high"];
    let mut accounts = keys.map(Account::new);
    let mut exact = Account::new("exact p");
    for ((t, y), answer) in series.iter().zip(&answers) {
        let (test, line) = (mann_kendall(t, y).unwrap(), theil_sen(t, y, 0.9).unwrap());
        let (low, high) = (line.low.unwrap(), line.high.unwrap());
        let ours = [test.score as f64, test.variance, test.p_value, line.slope, low, high];
        let scale = high - low;
        for ((account, key), ours) in accounts.iter_mut().zip(keys).zip(ours) {
            let theirs = number(answer, key);
            // Slopes come from differences of near-equal values: they are compared on the width of their interval.
            let scale = if key.len() > 2 && key != "slope" && key != "low" && key != "high" {
                theirs.abs()
            } else {
                scale
            };
            account.compare_on(if theirs == 0.0 { 1.0 } else { scale }, ours, theirs, &(t, y));
        }
        if let Some(ours) = test.exact_p_value {
            exact.compare(ours, number(answer, "exact"), &y);
        }
    }
    let mut all = accounts.to_vec();
    all.push(exact);
    settle(&all);
}

/// Log-normal values; some below one of three limits, some above the range when asked.
fn hidden(stream: u64, with_above: bool) -> Vec<Observation> {
    let mut random = RandomStream::new(SEED + 1, stream);
    let n = whole(&mut random, 12, 40);
    let mut all = Vec::new();
    for i in 0..n {
        let value = tenths(libm::exp(1.5 + 0.8 * random.normal())).max(0.1);
        let limit = [1.0, 2.0, 5.0][i % 3];
        all.push(match () {
            () if i > 3 && value < limit => Observation::Below(limit),
            () if with_above && i > 3 && value > 12.0 => Observation::Above(12.0),
            () => Observation::Found(value),
        });
    }
    all
}

fn parted(observations: &[Observation]) -> (Vec<f64>, Vec<i8>) {
    let kind = |o: &Observation| match o {
        Observation::Below(_) => -1,
        Observation::Found(_) => 0,
        Observation::Above(_) => 1,
    };
    observations.iter().map(|o| (o.number(), kind(o))).unzip()
}

#[test]
fn values_below_limits_agree_with_statsmodels_and_definitions() {
    let series: Vec<Vec<Observation>> = (0..50).map(|stream| hidden(stream, false)).collect();
    let mut cases = Vec::new();
    for observations in &series {
        let (values, kinds) = parted(observations);
        let below: Vec<bool> = kinds.iter().map(|k| *k < 0).collect();
        cases.push(json!({"kind": "kaplan_meier", "values": values, "below": below}));
        cases.push(json!({"kind": "order_regression", "values": values, "below": below, "constant": 0.375}));
    }
    let Some(answers) = ask(&cases) else { return };
    let mut accounts = [
        "share at or below",
        "standard error of share",
        "mean at most",
        "mean at least",
        "line mean",
        "line sd",
        "filled mean",
        "filled sd",
    ]
    .map(Account::new);
    for (observations, answer) in series.iter().zip(answers.chunks(2)) {
        let found = kaplan_meier(observations).unwrap();
        let shares: Vec<f64> = found.steps.iter().map(|s| s.share_at_or_below).collect();
        let errors: Vec<f64> = found.steps.iter().map(|s| s.standard_error).collect();
        accounts[0].compare_curve(&shares, &numbers(&answer[0], "share"), observations);
        accounts[1].compare_curve(&errors, &numbers(&answer[0], "error"), observations);
        accounts[2].compare(found.mean().at_most, number(&answer[0], "at_most"), observations);
        accounts[3].compare(found.mean().at_least, number(&answer[0], "at_least"), observations);
        let line = order_regression(observations, Shape::Normal, 0.375).unwrap();
        accounts[4].compare_on(line.line_sd, line.line_mean, number(&answer[1], "line_mean"), observations);
        accounts[5].compare(line.line_sd, number(&answer[1], "line_sd"), observations);
        accounts[6].compare_on(line.line_sd, line.mean, number(&answer[1], "mean"), observations);
        accounts[7].compare(line.sd, number(&answer[1], "sd"), observations);
    }
    settle(&accounts);
}

#[test]
fn likelihood_agrees_with_the_root_of_its_score() {
    let series: Vec<Vec<Observation>> = (0..40).map(|stream| hidden(100 + stream, true)).collect();
    let case = |o: &Vec<Observation>| {
        let (values, kinds) = parted(o);
        json!({"kind": "censored_likelihood", "values": values, "kinds": kinds})
    };
    let Some(answers) = ask(&series.iter().map(case).collect::<Vec<Value>>()) else { return };
    let keys = ["mean", "sd", "mean_error", "sd_error", "covariance"];
    let mut accounts = keys.map(Account::new);
    for (observations, answer) in series.iter().zip(&answers) {
        let fit = likelihood_fit(observations, Shape::Normal).unwrap();
        let ours = [fit.mean, fit.sd, fit.mean_error, fit.sd_error, fit.covariance];
        let scales = [fit.sd, fit.sd, fit.mean_error, fit.sd_error, fit.mean_error * fit.sd_error];
        for (((account, key), ours), scale) in accounts.iter_mut().zip(keys).zip(ours).zip(scales) {
            account.compare_on(scale, ours, number(answer, key), observations);
        }
    }
    settle(&accounts);
}

#[test]
fn percentile_and_prediction_limits_agree_with_scipy() {
    let samples: Vec<(Vec<f64>, f64, f64)> = (0..40)
        .map(|stream| {
            let mut random = RandomStream::new(SEED + 2, stream);
            let n = whole(&mut random, 4, 40);
            let values = (0..n).map(|_| 20.0 + 3.0 * random.normal()).collect();
            (values, 0.5 + 0.49 * random.uniform(), 0.8 + 0.19 * random.uniform())
        })
        .collect();
    let case = |(values, share, confidence): &(Vec<f64>, f64, f64)| json!({"kind": "limits", "values": values, "share": share, "confidence": confidence, "n_next": 3, "n_mean": 2});
    let Some(answers) = ask(&samples.iter().map(case).collect::<Vec<Value>>()) else { return };
    let mut accounts = ["lower", "upper", "prediction"].map(Account::new);
    for (sample, answer) in samples.iter().zip(&answers) {
        let (values, share, confidence) = sample;
        let found = percentile_limits(values, *share, *confidence).unwrap();
        accounts[0].compare(found.lower, number(answer, "lower"), sample);
        accounts[1].compare(found.upper, number(answer, "upper"), sample);
        let prediction = prediction_limits(values, 3, 2, *confidence).unwrap();
        accounts[2].compare(prediction.upper, number(answer, "prediction"), sample);
    }
    settle(&accounts);
}

#[test]
fn dixon_critical_values_are_exceeded_as_often_as_they_say() {
    let designs =
        [(3, 1, 0), (5, 1, 0), (7, 1, 0), (8, 1, 1), (10, 1, 1), (12, 2, 1), (16, 2, 2), (25, 2, 2)];
    let levels = [
        (DixonSignificance::FivePercent, 0.05),
        (DixonSignificance::TwoAndAHalfPercent, 0.025),
        (DixonSignificance::OnePercent, 0.01),
        (DixonSignificance::HalfAPercent, 0.005),
    ];
    let (mut cases, mut expected) = (Vec::new(), Vec::new());
    for (n, above, below) in designs {
        for (level, alpha) in levels {
            let critical = dixon_critical(n, level).unwrap();
            cases
                .push(json!({"kind": "dixon", "n": n, "above": above, "below": below, "critical": critical}));
            expected.push(alpha);
        }
    }
    let Some(answers) = ask(&cases) else { return };
    let reason = "the table holds seven decimals, which the tail of few values magnifies";
    let mut account = Account::with_limit("alpha", 1e-5, reason);
    for ((alpha, answer), case) in expected.iter().zip(&answers).zip(&cases) {
        account.compare(*alpha, number(answer, "alpha"), case);
    }
    settle(&[account]);
}

fn layout(stream: u64) -> Vec<Vec<Vec<f64>>> {
    let mut random = RandomStream::new(SEED + 3, stream);
    let is_balanced = stream.is_multiple_of(4);
    let (n_lots, electrodes, scans) =
        (whole(&mut random, 3, 8), whole(&mut random, 2, 5), whole(&mut random, 2, 4));
    let mut lots = Vec::new();
    for lot in 0..n_lots {
        let of_lot = 50.0 + 3.0 * random.normal();
        let own = if is_balanced || lot == 0 { electrodes } else { whole(&mut random, 1, 5) };
        let mut members = Vec::new();
        for electrode in 0..own {
            let of_electrode = of_lot + 2.0 * random.normal();
            let n = if is_balanced || electrode == 0 { scans } else { whole(&mut random, 1, 4) };
            members.push((0..n).map(|_| of_electrode + random.normal()).collect());
        }
        lots.push(members);
    }
    lots
}

#[test]
fn components_agree_with_expected_quadratic_forms() {
    let layouts: Vec<Vec<Vec<Vec<f64>>>> = (0..60).map(layout).collect();
    let case = |l: &Vec<Vec<Vec<f64>>>| json!({"kind": "components", "classes": l, "coverage": 0.95});
    let Some(answers) = ask(&layouts.iter().map(case).collect::<Vec<Value>>()) else { return };
    let settings = ComponentSettings { coverage: 0.95, least_members: 2 };
    let mut accounts = ["variance", "low", "high"].map(Account::new);
    let estimated = |component: Component| component.estimate().unwrap();
    for (layout, answer) in layouts.iter().zip(&answers) {
        let found = nested_components(layout, settings).unwrap();
        let total = estimated(found.total);
        let all: [(&str, ComponentEstimate); 5] = [
            ("class", estimated(found.between_classes)),
            ("group", found.between_groups),
            ("within", found.within_groups),
            ("in_class", found.within_classes),
            ("total", total),
        ];
        for (key, ours) in all {
            // A difference of mean squares may be near zero: all on the scale of the total.
            let scale = total.variance;
            accounts[0].compare_on(scale, ours.variance, number(answer, key), layout);
            accounts[1].compare_on(scale, ours.interval.low, number(answer, &format!("{key}_low")), layout);
            accounts[2].compare_on(scale, ours.interval.high, number(answer, &format!("{key}_high")), layout);
        }
    }
    settle(&accounts);
}

#[test]
fn deming_lines_agree_with_total_least_squares() {
    let pairs: Vec<(Vec<f64>, Vec<f64>, bool, f64)> = (0..40)
        .map(|stream| {
            let mut random = RandomStream::new(SEED + 4, stream);
            let (n, is_proportional) = (whole(&mut random, 8, 30), stream % 2 == 1);
            let ratio = 0.3 + 2.0 * random.uniform();
            let mut pair = || {
                let level = 5.0 + 50.0 * random.uniform();
                let error = if is_proportional { 0.05 * level } else { 1.0 };
                (level + error * random.normal(), 1.0 + 0.9 * level + error * random.normal())
            };
            let (x, y) = (0..n).map(|_| pair()).unzip();
            (x, y, is_proportional, ratio)
        })
        .collect();
    let case = |(x, y, proportional, ratio): &(Vec<f64>, Vec<f64>, bool, f64)| json!({"kind": "deming", "x": x, "y": y, "proportional": proportional, "ratio": ratio});
    let Some(answers) = ask(&pairs.iter().map(case).collect::<Vec<Value>>()) else { return };
    let keys = ["slope", "intercept", "slope_error", "intercept_error", "covariance"];
    let mut accounts = keys.map(Account::new);
    for (pair, answer) in pairs.iter().zip(&answers) {
        let (x, y, is_proportional, ratio) = pair;
        let errors = if *is_proportional { DemingErrors::Proportional } else { DemingErrors::Constant };
        let fit = deming(x, y, errors, *ratio, 0.95).unwrap();
        let ours = [fit.slope, fit.intercept, fit.slope_error, fit.intercept_error, fit.covariance];
        let scales = [1.0, 1.0, fit.slope_error, fit.intercept_error, fit.slope_error * fit.intercept_error];
        for (((account, key), ours), scale) in accounts.iter_mut().zip(keys).zip(ours).zip(scales) {
            account.compare_on(scale, ours, number(answer, key), pair);
        }
    }
    settle(&accounts);
}

#[test]
fn signed_ranks_agree_with_all_their_signs() {
    let samples: Vec<Vec<f64>> = (0..30)
        .map(|stream| {
            let mut random = RandomStream::new(SEED + 5, stream);
            let n = whole(&mut random, 4, 11);
            (0..n).map(|_| tenths(0.4 + random.normal())).collect()
        })
        .collect();
    let case = |d: &Vec<f64>| json!({"kind": "signed_rank", "differences": d});
    let Some(answers) = ask(&samples.iter().map(case).collect::<Vec<Value>>()) else { return };
    let mut accounts = ["rank sum", "p"].map(Account::new);
    for (differences, answer) in samples.iter().zip(&answers) {
        let found = signed_rank(&vec![0.0; differences.len()], differences).unwrap();
        accounts[0].compare(found.rank_sum_above, number(answer, "above"), differences);
        accounts[1].compare(found.p_value, number(answer, "p"), differences);
    }
    settle(&accounts);
}

#[test]
fn equivalence_agrees_with_statsmodels_and_scipy() {
    let samples: Vec<(Vec<f64>, Vec<f64>)> = (0..40)
        .map(|stream| {
            let mut random = RandomStream::new(SEED + 6, stream);
            let (n, m) = (whole(&mut random, 4, 15), whole(&mut random, 4, 15));
            let mut group =
                |n: usize, sd: f64| (0..n).map(|_| 10.0 + sd * random.normal()).collect::<Vec<f64>>();
            (group(n, 0.5), group(m, 0.9))
        })
        .collect();
    let case = |(x, y): &(Vec<f64>, Vec<f64>)| {
        json!({"kind": "equivalence", "tested": x, "reference": y, "low": -1.0, "high": 1.2,
               "ratio_low": 0.9, "ratio_high": 1.1, "alpha": 0.05})
    };
    let Some(answers) = ask(&samples.iter().map(case).collect::<Vec<Value>>()) else { return };
    let keys = [
        "p_lower",
        "p_upper",
        "one_p_lower",
        "one_p_upper",
        "ratio_p_lower",
        "ratio_p_upper",
        "ratio_low",
        "ratio_high",
    ];
    let mut accounts = keys.map(Account::new);
    let margins = Margins { lower: -1.0, upper: 1.2 };
    for (sample, answer) in samples.iter().zip(&answers) {
        let (tested, reference) = sample;
        let two = equivalent_means(tested, reference, margins, 0.05).unwrap();
        let one = equivalent_mean(tested, 10.0, margins, 0.05).unwrap();
        let ratio = equivalent_ratio(tested, reference, Margins { lower: 0.9, upper: 1.1 }, 0.05).unwrap();
        let ours = [
            two.p_lower,
            two.p_upper,
            one.p_lower,
            one.p_upper,
            ratio.p_lower,
            ratio.p_upper,
            ratio.low,
            ratio.high,
        ];
        for ((account, key), ours) in accounts.iter_mut().zip(keys).zip(ours) {
            account.compare(ours, number(answer, key), sample);
        }
    }
    settle(&accounts);
}

#[test]
fn power_of_equivalence_agrees_with_quadrature() {
    let designs: Vec<(EquivalenceDesign, usize)> = (0..40)
        .map(|stream| {
            let mut random = RandomStream::new(SEED + 7, stream);
            let samples = if stream % 2 == 0 { Samples::One } else { Samples::Two };
            let margins =
                Margins { lower: -1.0 - 3.0 * random.uniform(), upper: 1.0 + 3.0 * random.uniform() };
            let true_difference = 0.8 * (random.uniform() - 0.5);
            let (sd, alpha) = (0.3 + 2.0 * random.uniform(), 0.01 + 0.09 * random.uniform());
            let n = whole(&mut random, 2, 60);
            (EquivalenceDesign { samples, margins, true_difference, sd, alpha }, n)
        })
        .collect();
    let case = |(d, n): &(EquivalenceDesign, usize)| {
        json!({"kind": "equivalence_power", "two_groups": d.samples == Samples::Two, "lower": d.margins.lower,
               "upper": d.margins.upper, "difference": d.true_difference, "sd": d.sd, "alpha": d.alpha, "n": n})
    };
    let Some(answers) = ask(&designs.iter().map(case).collect::<Vec<Value>>()) else { return };
    let mut account = Account::new("power");
    for (design, answer) in designs.iter().zip(&answers) {
        account.compare_on(
            1.0,
            equivalence_power(&design.0, design.1).unwrap(),
            number(answer, "power"),
            design,
        );
    }
    settle(&[account]);
}

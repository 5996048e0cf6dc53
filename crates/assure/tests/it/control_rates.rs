//! Published rates of false alarms: run rules counted over every pattern, moving averages by simulation.

use stillwell_assure::control::{
    ChartLimits, EwmaPoint, EwmaSettings, EwmaWidth, RISK_OF_THREE_SIGMA, RunRule, ewma, run_findings,
};
use stillwell_stats::distributions::normal_cdf;
use stillwell_stats::random::RandomStream;

use crate::published::{CONTROL_CHARTS, Case};

/// Probability that a rule fires at the last of `n` sound points: every pattern of zones, with the probability of each.
fn fires_at_last(rule: RunRule, n: u32, zones: &[(f64, f64)]) -> f64 {
    let limits = ChartLimits::stated(0.0, 1.0).unwrap();
    let n_zones = zones.len();
    let mut sum = 0.0;
    for pattern in 0..n_zones.pow(n) {
        let places = (0..n).map(|at| pattern / n_zones.pow(at) % n_zones);
        let drawn: Vec<(f64, f64)> = places.map(|zone| zones[zone]).collect();
        let values: Vec<Option<f64>> = drawn.iter().map(|(value, _)| Some(*value)).collect();
        let last = values.len() - 1;
        if run_findings(&values, &limits, &[rule]).iter().any(|found| found.fired_at == last) {
            sum += drawn.iter().map(|(_, probability)| probability).product::<f64>();
        }
    }
    sum
}

#[test]
fn run_rules_fire_as_often_by_chance_as_published() {
    let case = Case::of(CONTROL_CHARTS, "false_alarm");
    let beyond = |sigmas: f64| normal_cdf(-sigmas);
    let three = |sigmas: f64| {
        let out = beyond(sigmas);
        [(sigmas + 0.1, out), (-sigmas - 0.1, out), (0.0, 1.0 - 2.0 * out)]
    };
    let sides = [(0.5, 0.5), (-0.5, 0.5)];
    case.agree("p_beyond_2s", fires_at_last(RunRule::BeyondWarning, 1, &three(2.0)), 12.0);
    let beyond_action = fires_at_last(RunRule::BeyondAction, 1, &three(3.0));
    case.agree("p_beyond_3s", beyond_action, 12.0);
    case.agree("p_beyond_3s", RISK_OF_THREE_SIGMA, 12.0);
    case.agree("arl_3s", 1.0 / beyond_action, 12.0);
    case.agree("p_nine_one_side", fires_at_last(RunRule::NineOneSide, 9, &sides), 12.0);
    case.agree("p_seven_one_side", fires_at_last(RunRule::SevenOneSide, 7, &sides), 12.0);
    case.agree("p_2_2s", fires_at_last(RunRule::TwoInRowBeyondWarning, 2, &three(2.0)), 11.0);
    case.agree("p_4_1s", fires_at_last(RunRule::FourInRowBeyondOneThird, 4, &three(1.0)), 11.0);
}

/// Number of points until the average of a sound series is beyond its limits.
fn run_length(settings: EwmaSettings, seed: u64) -> usize {
    let limits = ChartLimits::stated(0.0, 1.0).unwrap();
    let mut random = RandomStream::new(700, seed);
    let mut values: Vec<Option<f64>> = Vec::new();
    loop {
        values.extend((0..500).map(|_| Some(random.normal())));
        let points = ewma(&values, &limits, settings).unwrap();
        if let Some(at) = points.iter().position(EwmaPoint::is_beyond) {
            return at + 1;
        }
    }
}

#[test]
fn moving_averages_run_as_long_as_published() {
    for row in Case::of(CONTROL_CHARTS, "ewma_run_lengths").rows() {
        let number = |key: &str| row[key].as_float().unwrap();
        let settings = EwmaSettings { lambda: number("lambda"), width: EwmaWidth::Sigmas(number("sigmas")) };
        let n: u32 = 2000;
        let total: usize = (0..n).map(|seed| run_length(settings, u64::from(seed))).sum();
        let found = total as f64 / f64::from(n);
        println!("lambda {}: {found} against {}", number("lambda"), number("value"));
        // Run lengths are nearly exponential: three standard errors. Ours has the exact, narrower limits at the start, the table those of
        // long after: up to 2 / lambda points less.
        let tolerance = 3.0 * number("value") / f64::from(n).sqrt();
        let missing = number("value") - found;
        assert!(missing > -tolerance && missing < tolerance + 2.0 / number("lambda"), "{found}");
    }
}

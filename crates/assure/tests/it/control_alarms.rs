//! How often charts alarm on sound runs, and how soon they find planted faults. All by simulation with known truth.
//!
//! `STILLWELL_LABORATORIES=20000 cargo test -p stillwell-assure control_alarms -- --nocapture` gives the figures with
//! narrow intervals; the suite itself takes fewer laboratories.

use stillwell_assure::QualityError;
use stillwell_assure::control::{
    Chart, ChartPoint, ChartSettings, ChartState, Charted, LimitBasis, PointValue, RunRule, Signal,
    SpreadFrom, Training, cusum, judge_chart, run_findings,
};
use stillwell_assure::control::{ChartLimits, CusumSettings};
use stillwell_stats::random::RandomStream;

use crate::published::{CONTROL_CHARTS, Case};

const TRAINING: usize = 20;
const RUNS: usize = 40;
/// Laboratories behind each delay.
const LABORATORIES: usize = 300;

fn n_laboratories() -> u64 {
    std::env::var("STILLWELL_LABORATORIES").ok().and_then(|n| n.parse().ok()).unwrap_or(1500)
}

fn points(values: impl IntoIterator<Item = f64>) -> Vec<ChartPoint> {
    let label = |(at, value)| ChartPoint::found(format!("run {}", at + 1), None, value);
    values.into_iter().enumerate().map(label).collect()
}

/// A sound series of one chart; `fault` is added to the runs after training.
fn series(seed: u64, laboratory: u64, fault: impl Fn(usize) -> f64) -> Vec<f64> {
    let mut random = RandomStream::new(seed, laboratory);
    let training: Vec<f64> = (0..TRAINING).map(|_| random.normal()).collect();
    let runs: Vec<f64> = (0..RUNS).map(|run| random.normal() + fault(run)).collect();
    training.into_iter().chain(runs).collect()
}

fn charted(values: Vec<f64>, what: Charted, settings: &ChartSettings) -> Chart {
    judge_chart(what, "σ", points(values), settings).unwrap()
}

/// Does an alarm fire at this point?
fn alarms_at(signals: &[Signal], at: usize) -> bool {
    signals.iter().any(|signal| (signal.fired_at()..=signal.until()).contains(&at))
}

/// Mean of the laboratories' own rates with its 95 % half width: runs of one laboratory share their limits and are no
/// independent trials.
fn rate(of_laboratories: &[f64]) -> (f64, f64) {
    let mean = stillwell_stats::mean(of_laboratories).unwrap();
    let sd = stillwell_stats::standard_deviation(of_laboratories).unwrap();
    (mean, 1.96 * sd / (of_laboratories.len() as f64).sqrt())
}

#[test]
fn four_gating_charts_alarm_in_fewer_than_one_sound_run_of_a_hundred() {
    let settings = ChartSettings::gating(4, Training::FirstPoints(TRAINING));
    let kinds = [Charted::Blank, Charted::CheckStandard, Charted::Duplicate, Charted::Spike];
    let of_laboratories: Vec<f64> = (0..n_laboratories())
        .map(|laboratory| {
            let charts: Vec<Chart> = (100..)
                .zip(kinds)
                .map(|(seed, kind)| charted(series(seed, laboratory, |_| 0.0), kind, &settings))
                .collect();
            let alarmed = (TRAINING..TRAINING + RUNS)
                .filter(|at| charts.iter().any(|chart| alarms_at(&chart.alarms, *at)))
                .count();
            alarmed as f64 / RUNS as f64
        })
        .collect();
    let (rate, half_width) = rate(&of_laboratories);
    println!(
        "{} laboratories with {TRAINING} training points and {RUNS} runs of four charts: {} runs, false alarms in {:.3} ± {:.3} of 100",
        of_laboratories.len(),
        of_laboratories.len() * RUNS,
        100.0 * rate,
        100.0 * half_width
    );
    assert!(rate + half_width < 0.01, "{rate} ± {half_width}");
    assert!(rate > 0.003, "a rate as low as {rate} means that the charts see nothing");
}

#[test]
fn the_published_rules_together_alarm_more_often_than_that() {
    let sets: [(&str, Vec<RunRule>); 4] = [
        ("beyond action", vec![RunRule::BeyondAction]),
        (
            "with seven on a side and seven steady",
            vec![RunRule::BeyondAction, RunRule::SevenOneSide, RunRule::SevenSteady],
        ),
        ("with nine on a side", vec![RunRule::BeyondAction, RunRule::NineOneSide]),
        (
            "tests 1 to 6",
            vec![
                RunRule::BeyondAction,
                RunRule::NineOneSide,
                RunRule::SixSteady,
                RunRule::FourteenAlternating,
                RunRule::TwoOfThreeBeyondWarning,
                RunRule::FourOfFiveBeyondOneThird,
            ],
        ),
    ];
    let mut rates = Vec::new();
    for (name, rules) in sets {
        let mut settings = ChartSettings::as_published(Training::FirstPoints(TRAINING), &rules);
        settings.spread = SpreadFrom::StandardDeviation;
        let of_laboratories: Vec<f64> = (0..n_laboratories())
            .map(|laboratory| {
                let chart = charted(series(200, laboratory, |_| 0.0), Charted::CheckStandard, &settings);
                let alarmed = (TRAINING..TRAINING + RUNS).filter(|at| alarms_at(&chart.alarms, *at)).count();
                alarmed as f64 / RUNS as f64
            })
            .collect();
        let (rate, half_width) = rate(&of_laboratories);
        println!("one chart, 3 σ as printed, {name}: {:.2} ± {:.2} of 100", 100.0 * rate, 100.0 * half_width);
        rates.push(rate - half_width);
    }
    // Why the run rules warn and do not withhold.
    assert!(rates[1] > 0.01 && rates[2] > 0.01 && rates[3] > 0.01, "{rates:?}");
}

#[test]
fn moving_ranges_keep_the_risk_as_well() {
    let risk = 0.01;
    let mut beyond = 0_u32;
    let n = 20_000;
    for laboratory in 0..n {
        let values = series(300, laboratory, |_| 0.0);
        let limits = ChartLimits::from_training(
            &values[..TRAINING],
            SpreadFrom::MovingRange,
            LimitBasis::KeepRisk(risk),
        )
        .unwrap();
        beyond += u32::from((values[TRAINING] - limits.centre).abs() > limits.action_half_width);
    }
    let found = f64::from(beyond) / n as f64;
    println!("moving ranges of {TRAINING} points, risk asked {risk}, found {found}");
    // Four standard errors of a count, and a tenth for matching two moments only.
    assert!((found - risk).abs() < 4.0 * (risk / n as f64).sqrt() + 0.1 * risk, "{found}");
}

/// Median number of runs until the first alarm, and the share found within all runs.
fn delay(seed: u64, fault: impl Fn(usize) -> f64) -> (usize, f64) {
    let settings = ChartSettings::gating(4, Training::FirstPoints(TRAINING));
    let mut delays: Vec<usize> = (0..LABORATORIES as u64)
        .map(|laboratory| {
            let chart = charted(series(seed, laboratory, &fault), Charted::Blank, &settings);
            chart.alarms.iter().map(Signal::fired_at).min().map_or(usize::MAX, |at| at - TRAINING + 1)
        })
        .collect();
    delays.sort_unstable();
    let found = delays.iter().filter(|delay| **delay <= RUNS).count();
    (delays[LABORATORIES / 2], found as f64 / LABORATORIES as f64)
}

#[test]
fn planted_shifts_and_drifts_are_found() {
    let (gross, all_gross) = delay(400, |run| if run == 0 { 6.0 } else { 0.0 });
    let (shift, all_shifts) = delay(401, |_| 2.0);
    let (drift, all_drifts) = delay(402, |run| 0.15 * (run + 1) as f64);
    println!("runs until half of the laboratories see it, share that sees it within {RUNS} runs:");
    println!("one point 6 σ off: {gross}, {all_gross}; a shift of 2 σ: {shift}, {all_shifts}");
    println!("a drift of 0.15 σ a run: {drift}, {all_drifts}");
    assert!(gross == 1 && all_gross > 0.95);
    assert!(shift <= 6 && all_shifts > 0.95);
    assert!(drift <= 16 && all_drifts > 0.99);
}

#[test]
fn combined_rules_have_the_published_run_lengths() {
    // Known centre and σ: the mean number of points until the first alarm.
    let length = |rules: &[RunRule], seed: u64| {
        let limits = ChartLimits::stated(0.0, 1.0).unwrap();
        let n = 3000;
        let total: usize = (0..n)
            .map(|chart| {
                let mut random = RandomStream::new(seed, chart);
                let mut values: Vec<Option<f64>> = Vec::new();
                loop {
                    // Long stretches at once; the rules look back fifteen points at most.
                    values.extend((0..400).map(|_| Some(random.normal())));
                    if let Some(found) = run_findings(&values, &limits, rules).first() {
                        return found.fired_at + 1;
                    }
                }
            })
            .sum();
        total as f64 / n as f64
    };
    let case = Case::of(CONTROL_CHARTS, "run_rule_run_lengths");
    for (name, rules) in [
        ("beyond_3s", vec![RunRule::BeyondAction]),
        ("beyond_3s_and_two_of_three", vec![RunRule::BeyondAction, RunRule::TwoOfThreeBeyondWarning]),
        ("beyond_3s_and_four_of_five", vec![RunRule::BeyondAction, RunRule::FourOfFiveBeyondOneThird]),
    ] {
        let found = length(&rules, 500);
        println!("{name}: {found} against {}", case.value(name));
        // Run lengths are nearly exponential: three standard errors of 3000 of them, and 2 % for what a rule does at its start.
        let tolerance = case.value(name) * (3.0 / 3000.0_f64.sqrt() + 0.02);
        assert!((found - case.value(name)).abs() < tolerance, "{name}: {found}");
    }
}

#[test]
fn a_sum_tells_since_when() {
    let limits = ChartLimits::stated(0.0, 1.0).unwrap();
    let settings = CusumSettings { reference: 0.5, decision: 5.0 };
    let mut values: Vec<Option<f64>> = [0.2, -0.4, 0.1, -0.9, 0.3].map(Some).to_vec();
    values.extend(vec![Some(1.5); 7]);
    let points = cusum(&values, &limits, settings).unwrap();
    let first = points.iter().position(|point| point.is_beyond(&settings)).unwrap();
    assert_eq!((first, points[first].high_since), (10, Some(5)));
}

#[test]
fn two_points_in_a_chart_are_too_few() {
    let settings = ChartSettings::gating(4, Training::FirstPoints(TRAINING));
    let chart = charted(vec![0.1, 0.4], Charted::Blank, &settings);
    assert_eq!(chart.state, ChartState::TooFewPoints { found: 2, needed: 21 });
    assert!(chart.limits.is_none() && chart.alarms.is_empty());
}

/// Blanks of which a share is reported as "less than": sound runs, and those after a rise of 2 σ.
struct CensoredBlanks {
    share: f64,
    rise: f64,
}

impl CensoredBlanks {
    const CENTRE: f64 = 0.4;
    const SIGMA: f64 = 0.15;

    fn bound(&self) -> f64 {
        Self::CENTRE + Self::SIGMA * stillwell_stats::distributions::normal_quantile(self.share)
    }

    /// Runs until training has its numbers, then [`RUNS`] more.
    fn points(&self, laboratory: u64) -> Vec<ChartPoint> {
        let mut random = RandomStream::new(600, laboratory);
        let (mut points, mut numbers, mut after) = (Vec::new(), 0, 0);
        while after < RUNS {
            let is_after = numbers == TRAINING;
            let rise = if is_after { self.rise } else { 0.0 };
            let value = Self::CENTRE + Self::SIGMA * (random.normal() + rise);
            let seen = if value < self.bound() {
                PointValue::LessThan(self.bound())
            } else {
                PointValue::Found(value)
            };
            numbers += usize::from(!is_after && seen.number().is_some());
            after += usize::from(is_after);
            let label = format!("run {}", points.len() + 1);
            points.push(ChartPoint { value: seen, ..ChartPoint::found(label, None, 0.0) });
        }
        points
    }

    fn chart(&self, laboratory: u64) -> Option<Chart> {
        let settings = ChartSettings::gating(4, Training::FirstPoints(TRAINING));
        judge_chart(Charted::Blank, "mg/L", self.points(laboratory), &settings).ok()
    }
}

#[test]
fn training_with_bounds_raises_no_more_false_alarms_and_takes_none_for_zero() {
    for share in [0.0, 0.1, 0.25, 0.4] {
        let blanks = CensoredBlanks { share: f64::max(share, 1e-12), rise: 0.0 };
        let charts: Vec<Chart> = (0..n_laboratories()).filter_map(|at| blanks.chart(at)).collect();
        let of_laboratories: Vec<f64> = charts
            .iter()
            .map(|chart| {
                let from = chart.points.len() - RUNS;
                let alarmed = (from..chart.points.len()).filter(|at| alarms_at(&chart.alarms, *at)).count();
                alarmed as f64 / RUNS as f64
            })
            .collect();
        let (alarms, half_width) = rate(&of_laboratories);
        let mean_of = |of: fn(&ChartLimits) -> f64| {
            let all: Vec<f64> = charts.iter().filter_map(|chart| chart.limits.as_ref()).map(of).collect();
            stillwell_stats::mean(&all).unwrap()
        };
        let (centre, sigma) = (mean_of(|limits| limits.centre), mean_of(|limits| limits.sigma));
        println!(
            "{:.0} % bounds, {} of {} laboratories could train: one chart alarms in {:.3} ± {:.3} of 100 sound runs; centre {centre:.4} (truth {}), sigma {sigma:.4} (truth {})",
            100.0 * share,
            charts.len(),
            n_laboratories(),
            100.0 * alarms,
            100.0 * half_width,
            CensoredBlanks::CENTRE,
            CensoredBlanks::SIGMA,
        );
        // Four such charts share 1 in 100.
        assert!(alarms + half_width < 0.0025, "{alarms} ± {half_width}");
        // Laboratories with mostly bounds, who could not train, are missing from the mean: it lies 0.05 σ high at 40 %.
        assert!((centre - CensoredBlanks::CENTRE).abs() < 0.1 * CensoredBlanks::SIGMA, "{centre}");
        assert!((sigma / CensoredBlanks::SIGMA - 1.0).abs() < 0.05, "{sigma}");
    }
    // What zeros in place of the bounds would give, so that the lines above can fail.
    let blanks = CensoredBlanks { share: 0.25, rise: 0.0 };
    let zeros: Vec<f64> = blanks.points(1).iter().map(|point| point.value.number().unwrap_or(0.0)).collect();
    let centre = stillwell_stats::mean(&zeros).unwrap();
    let sigma = stillwell_stats::standard_deviation(&zeros).unwrap();
    assert!(centre < 0.9 * CensoredBlanks::CENTRE && sigma > 1.2 * CensoredBlanks::SIGMA, "{centre} {sigma}");
}

#[test]
fn a_rise_is_found_although_training_held_bounds() {
    let blanks = CensoredBlanks { share: 0.25, rise: 2.0 };
    let mut found = 0;
    let mut delays: Vec<usize> = Vec::new();
    for chart in (0..LABORATORIES as u64).filter_map(|at| blanks.chart(at)) {
        let from = chart.points.len() - RUNS;
        let first = chart.alarms.iter().map(Signal::fired_at).filter(|at| *at >= from).min();
        found += usize::from(first.is_some());
        delays.push(first.map_or(usize::MAX, |at| at - from + 1));
    }
    delays.sort_unstable();
    println!("a rise of 2 σ: half of {} see it within {} runs", delays.len(), delays[delays.len() / 2]);
    assert!(delays[delays.len() / 2] <= 6 && found as f64 > 0.95 * delays.len() as f64);
}

#[test]
fn a_training_period_of_mostly_bounds_is_refused_in_words() {
    let mut points: Vec<ChartPoint> = points((0..9).map(|at| 0.4 + 0.01 * f64::from(at % 5)));
    let bound = ChartPoint { value: PointValue::LessThan(0.39), ..ChartPoint::found("early", None, 0.0) };
    points.splice(0..0, vec![bound; 9]);
    let settings = ChartSettings::gating(4, Training::FirstPoints(8));
    let refused = judge_chart(Charted::Blank, "mg/L", points.clone(), &settings).unwrap_err();
    assert_eq!(refused, QualityError::MostlyBounds { what: "the training period", found: 8, bounds: 9 });
    let trained = judge_chart(Charted::Blank, "mg/L", points.split_off(5), &settings).unwrap();
    insta::assert_snapshot!([refused.to_string(), trained.words()].join("\n"));
}

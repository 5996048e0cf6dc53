//! Standard additions and the comparison of slopes against statsmodels and bracketed crossings.

use serde_json::{Value, json};
use stillwell_calibrate::{
    Acceptance, AdditionScan, AdditionSettings, AdditionWeights, Calibration, CalibrationSettings,
    LevelDeviation, MatrixDemands, Model, StandardSignal, Weights, calibrate, matrix_comparison,
    standard_addition,
};
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, number, numbers, settle};
use crate::spread::whole;

const N_CASES: u64 = 200;

#[derive(Debug)]
struct Series {
    scans: Vec<AdditionScan>,
    is_followed: bool,
    stated_sd: Option<Vec<(f64, f64)>>,
}

impl Series {
    /// Fresh or followed electrodes, several scans each, additions that may dilute the sample; signals in tenths of a microampere.
    fn random(stream: u64) -> Self {
        let mut random = RandomStream::new(20_260_801, stream);
        let is_followed = random.uniform() < 0.5;
        let (n_additions, n_strips, n_scans) =
            (whole(&mut random, 2, 5), whole(&mut random, 3, 5), whole(&mut random, 1, 3));
        let truth = 5.0 + 40.0 * random.uniform();
        let slope = 1e-7 * (0.5 + random.uniform());
        let step_ml = if random.uniform() < 0.5 { 0.0 } else { 0.5 + random.uniform() };
        let mut vials = vec![(0.0, 1.0)];
        for step in 1..=n_additions {
            let ml = step_ml * step as f64;
            vials.push((20.0 * step as f64 * (0.9 + 0.2 * random.uniform()), 10.0 / (10.0 + ml)));
        }
        let strips: Vec<f64> = (0..n_strips).map(|_| 1.0 + 0.1 * random.normal()).collect();
        let mut scans = Vec::new();
        for (place, &(added, sample_fraction)) in vials.iter().enumerate() {
            for (strip, own) in strips.iter().enumerate() {
                let electrode =
                    if is_followed { format!("strip {strip}") } else { format!("strip {place}.{strip}") };
                let sensitivity = if is_followed { slope * own } else { slope };
                let mean = sensitivity * (truth * sample_fraction + added) + 1e-8 * random.normal();
                for scan in 0..n_scans {
                    scans.push(AdditionScan {
                        added,
                        sample_fraction,
                        signal_a: mean + 3e-9 * random.normal(),
                        electrode: electrode.clone(),
                        label: format!("additions.csv scan {place}.{strip}.{scan}"),
                        excluded: None,
                    });
                }
            }
        }
        let stated_sd = (random.uniform() < 0.5)
            .then(|| vials.iter().map(|(added, _)| (*added, 1e-8 * (1.0 + 0.05 * added))).collect());
        Self { scans, is_followed, stated_sd }
    }

    fn settings(&self) -> AdditionSettings {
        let weights = self.stated_sd.as_ref().map_or(AdditionWeights::None, |stated| {
            AdditionWeights::StandardDeviations(
                stated
                    .iter()
                    .map(|&(level, standard_deviation_a)| LevelDeviation { level, standard_deviation_a })
                    .collect(),
            )
        });
        AdditionSettings { weights, coverage: 0.95, max_excluded_fraction: 0.1 }
    }

    fn case(&self) -> Value {
        let of_scans = |value: fn(&AdditionScan) -> Value| self.scans.iter().map(value).collect::<Vec<_>>();
        json!({
            "kind": "standard_addition",
            "added": of_scans(|s| json!(s.added)),
            "fraction": of_scans(|s| json!(s.sample_fraction)),
            "electrode": of_scans(|s| json!(s.electrode)),
            "signal": of_scans(|s| json!(s.signal_a)),
            "stated_sd": self.stated_sd,
            "followed": self.is_followed,
            "coverage": 0.95,
        })
    }
}

#[test]
fn standard_additions_agree_with_statsmodels_and_bracketed_crossings() {
    let series: Vec<Series> = (0..N_CASES).map(Series::random).collect();
    let Some(answers) = ask(&series.iter().map(Series::case).collect::<Vec<_>>()) else { return };
    let names = [
        ["fresh: value", "fresh: low", "fresh: high", "fresh: slope", "fresh: slope error"],
        ["followed: value", "followed: low", "followed: high", "followed: slope", "followed: slope error"],
    ];
    let mut accounts = names.map(|names| names.map(Account::new));
    for (series, answer) in series.iter().zip(&answers) {
        let found = standard_addition(&series.scans, &series.settings()).unwrap();
        let ours = [
            ("value", found.value),
            ("low", found.low),
            ("high", found.high),
            ("slope", found.slope_a_per_level),
            ("slope_error", found.slope_standard_error_a),
        ];
        assert!((number(answer, "df") - found.degrees_of_freedom as f64).abs() < 0.5);
        let accounts = &mut accounts[usize::from(series.is_followed)];
        for (account, (key, ours)) in accounts.iter_mut().zip(ours) {
            account.compare(ours, number(answer, key), series);
        }
    }
    let [fresh, followed] = &accounts;
    settle(fresh);
    settle(followed);
}

fn external(stream: u64) -> Calibration {
    let mut random = RandomStream::new(20_260_802, stream);
    let slope = 1e-7 * (0.5 + random.uniform());
    let standards: Vec<StandardSignal> = (0..whole(&mut random, 5, 12))
        .map(|i| StandardSignal {
            level: 10.0 * i as f64,
            signal_a: slope * 10.0 * i as f64 + 2e-8 * random.normal(),
            electrode: format!("strip {i}"),
            label: format!("standards.csv scan {i}"),
            scan_number: None,
            excluded: None,
        })
        .collect();
    let settings = CalibrationSettings {
        model: Model::Line,
        weights: Weights::None,
        coverage: 0.95,
        max_excluded_fraction: 0.1,
        acceptance: Acceptance::default(),
    };
    calibrate(&standards, &settings).unwrap()
}

#[test]
fn compared_slopes_agree_with_scipy() {
    let demands = MatrixDemands { bound: 0.1, alpha: 0.05, ratio_relative_u: 0.01 };
    let pairs: Vec<_> = (0..N_CASES)
        .map(|stream| {
            let series = Series::random(stream);
            (standard_addition(&series.scans, &series.settings()).unwrap(), external(stream))
        })
        .collect();
    let cases: Vec<Value> = pairs
        .iter()
        .map(|(sample, external)| {
            let s = &external.statistics;
            json!({
                "kind": "slopes_compared",
                "sample": [sample.slope_a_per_level, sample.slope_standard_error_a, sample.degrees_of_freedom],
                "external": [s.coefficients[1], s.standard_errors[1], s.degrees_of_freedom],
                "further": demands.ratio_relative_u,
                "alpha": demands.alpha,
            })
        })
        .collect();
    let Some(answers) = ask(&cases) else { return };
    let mut accounts =
        ["t", "Welch's degrees of freedom", "p", "interval of the ratio", "equivalence interval"]
            .map(Account::new);
    for ((sample, external), answer) in pairs.iter().zip(&answers) {
        let found = matrix_comparison(sample, external, demands).unwrap();
        let [t, df, p, interval, equivalence] = &mut accounts;
        t.compare(found.t, number(answer, "t"), sample);
        df.compare(found.degrees_of_freedom, number(answer, "df"), sample);
        p.compare(found.p, number(answer, "p"), sample);
        interval.compare_curve(&found.ratio_interval, &numbers(answer, "interval"), sample);
        equivalence.compare_curve(&found.equivalence_interval, &numbers(answer, "equivalence"), sample);
    }
    settle(&accounts);
}

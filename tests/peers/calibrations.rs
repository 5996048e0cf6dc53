//! The way from standards to a sample's interval and the detection limits against statsmodels.

use serde_json::{Value, json};
use stillwell_calibrate::{
    Acceptance, Calibration, CalibrationSettings, ElectrodeSignals, LimitSettings, Model, StandardSignal,
    Weights, calibrate, concentration, detection_limits_din_32645_calibration, detection_limits_iso_11843,
};
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, number, numbers, settle};
use crate::spread::whole;

const LIMITS: LimitSettings =
    LimitSettings { alpha: 0.05, beta: 0.02, n_electrodes: 2, quantification_factor: 3.0 };

#[derive(Debug)]
struct Question {
    standards: Vec<StandardSignal>,
    settings: CalibrationSettings,
    /// Electrode means of the sample, which agree better than the standards' do.
    sample: Vec<ElectrodeSignals>,
}

impl Question {
    /// Strips with a spread of their own, several scans each; low levels and noise enough for detection limits in range.
    fn random(stream: u64) -> Self {
        let mut random = RandomStream::new(20_260_108, stream);
        let model = if random.uniform() < 0.7 { Model::Line } else { Model::Quadratic };
        let weights = if random.uniform() < 0.4 { Weights::InverseLevel } else { Weights::None };
        let (n_levels, n_strips, n_scans) =
            (whole(&mut random, 5, 8), whole(&mut random, 2, 4), whole(&mut random, 1, 4));
        let (intercept, slope) = (2e-7 * random.uniform(), 1e-7 * (0.5 + random.uniform()));
        // A bent curve needs quieter strips for an interval that ends on its branch.
        let (bend, noise) = if model == Model::Quadratic { (-1e-9, 0.1) } else { (0.0, 1.0) };
        let signal = |level: f64| intercept + slope * level + bend * level * level;
        let mut standards = Vec::new();
        for step in 1..=n_levels {
            let level = step as f64 * (0.9 + 0.2 * random.uniform());
            let sd_a =
                if weights == Weights::InverseLevel { noise * 1e-8 * level.sqrt() } else { noise * 2e-8 };
            for strip in 0..n_strips {
                let strip_a = signal(level) + sd_a * random.normal();
                for scan in 0..n_scans {
                    standards.push(StandardSignal {
                        level,
                        signal_a: strip_a + 3e-9 * random.normal(),
                        electrode: format!("strip {step}.{strip}"),
                        label: format!("standards.csv scan {step}.{strip}.{scan}"),
                        scan_number: None,
                        excluded: None,
                    });
                }
            }
        }
        let middle_a = signal(n_levels as f64 * (0.3 + 0.4 * random.uniform()));
        let sample = (0..whole(&mut random, 1, 3))
            .map(|strip| ElectrodeSignals {
                electrode: format!("well strip {strip}"),
                signals_a: vec![middle_a + 1e-9 * random.normal(); n_scans],
            })
            .collect();
        let settings = CalibrationSettings {
            model,
            weights,
            coverage: 0.95,
            max_excluded_fraction: 0.1,
            acceptance: Acceptance::default(),
        };
        Self { standards, settings, sample }
    }

    fn case(&self) -> Value {
        let of_standards =
            |value: fn(&StandardSignal) -> Value| self.standards.iter().map(value).collect::<Vec<_>>();
        let means: Vec<f64> = self.sample.iter().map(|strip| strip.signals_a[0]).collect();
        let mean = means.iter().sum::<f64>() / means.len() as f64;
        json!({
            "kind": "calibration",
            "levels": of_standards(|s| json!(s.level)),
            "electrodes": of_standards(|s| json!(s.electrode)),
            "signals": of_standards(|s| json!(s.signal_a)),
            "degree": if self.settings.model == Model::Quadratic { 2 } else { 1 },
            "inverse_level": self.settings.weights == Weights::InverseLevel,
            "coverage": self.settings.coverage,
            "sample": {"mean": mean, "electrodes": means.len()},
            "limits": {
                "alpha": LIMITS.alpha, "beta": LIMITS.beta, "electrodes": LIMITS.n_electrodes,
                "factor": LIMITS.quantification_factor,
            },
        })
    }
}

/// The single numbers of a calibration and a sample, by the oracle's names.
fn ours(question: &Question, calibration: &Calibration) -> Vec<(&'static str, f64)> {
    let estimate = concentration(calibration, &question.sample).unwrap();
    let lack = calibration.tests.lack_of_fit.unwrap();
    let mut numbers = vec![
        ("value", estimate.value().unwrap()),
        ("low", estimate.low()),
        ("high", estimate.high()),
        ("r_squared", calibration.statistics.r_squared),
        ("lack_of_fit_f", lack.f),
        ("lack_of_fit_p", lack.p),
    ];
    if let Some(linearity) = calibration.tests.linearity {
        numbers.extend([("mandel_f", linearity.test.f), ("mandel_p", linearity.test.p)]);
    }
    if question.settings.model == Model::Line && question.settings.weights == Weights::None {
        let iso = detection_limits_iso_11843(calibration, &LIMITS).unwrap();
        let din = detection_limits_din_32645_calibration(calibration, &LIMITS);
        numbers.extend([("decision", iso.decision.unwrap()), ("detection", iso.detection.unwrap())]);
        // DIN refuses a calibration that reaches far above its limit, which some of these do.
        numbers.extend(din.iter().filter_map(|limits| Some(("decision", limits.decision?))));
        numbers.extend(iso.quantification.map(|limit| ("quantification", limit.level)));
    }
    numbers
}

#[test]
fn calibrations_agree_with_statsmodels() {
    let questions: Vec<Question> = (0..120).map(Question::random).collect();
    let Some(answers) = ask(&questions.iter().map(Question::case).collect::<Vec<_>>()) else { return };
    let mut coefficients = Account::new("coefficients");
    let mut standard_errors = Account::new("standard_errors");
    let names = [
        "value",
        "low",
        "high",
        "r_squared",
        "lack_of_fit_f",
        "lack_of_fit_p",
        "mandel_f",
        "mandel_p",
        "decision",
        "detection",
        "quantification",
    ];
    let mut accounts = names.map(Account::new);
    for (question, answer) in questions.iter().zip(&answers) {
        let calibration = calibrate(&question.standards, &question.settings).unwrap();
        let statistics = &calibration.statistics;
        for (account, key, ours) in [
            (&mut coefficients, "coefficients", statistics.coefficients),
            (&mut standard_errors, "standard_errors", statistics.standard_errors),
        ] {
            for (ours, theirs) in ours.iter().zip(numbers(answer, key)) {
                account.compare(*ours, theirs, question);
            }
        }
        for (key, ours) in ours(question, &calibration) {
            let at = names.iter().position(|name| *name == key).unwrap();
            accounts[at].compare(ours, number(answer, key), question);
        }
    }
    settle(&[coefficients, standard_errors]);
    settle(&accounts);
}

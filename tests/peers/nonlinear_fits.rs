//! Nonlinear fits against `SciPy`'s trust-region search, which is given exact derivatives; ours takes them numerically.

use serde_json::{Value, json};
use stillwell_stats::nonlinear_least_squares;
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, number, numbers, settle};

const N_CASES: u64 = 160;

const MODELS: [&str; 4] = ["decay", "peak", "saturation", "bent logarithm"];

fn value(model: &str, x: f64, p: &[f64]) -> f64 {
    match model {
        "decay" => p[0] * libm::exp(-p[1] * x) + p[2],
        "peak" => {
            let far = (x - p[1]) / p[2];
            p[0] * libm::exp(-far * far) + p[3] + p[4] * x
        }
        "saturation" => p[0] * x / (p[1] + x),
        _ => p[0] + p[1] * libm::log10(x + p[2]),
    }
}

#[derive(Debug)]
struct Search {
    model: &'static str,
    x: Vec<f64>,
    y: Vec<f64>,
    weights: Option<Vec<f64>>,
    start: Vec<f64>,
}

impl Search {
    /// Points with one percent of scatter, and a start up to a fifth (peaks: a twentieth) away from the truth.
    fn random(stream: u64) -> Self {
        let mut random = RandomStream::new(20_261_126, stream);
        let model = MODELS[(stream % 4) as usize];
        let mut near = |centre: f64, share: f64| centre * (1.0 + share * (2.0 * random.uniform() - 1.0));
        let (truth, x): (Vec<f64>, Vec<f64>) = match model {
            "decay" => (
                vec![near(2.0, 0.5), near(0.5, 0.5), near(0.3, 0.5)],
                (0..20).map(|i| 0.6 * f64::from(i)).collect(),
            ),
            "peak" => (
                vec![near(1.5, 0.5), near(-0.6, 0.1), near(0.06, 0.3), near(0.2, 0.5), near(0.3, 0.5)],
                (0..60).map(|i| -1.0 + 0.013 * f64::from(i)).collect(),
            ),
            "saturation" => {
                (vec![near(4.0, 0.5), near(12.0, 0.5)], (1..16).map(|i| 2.5 * f64::from(i)).collect())
            }
            _ => (
                vec![near(0.25, 0.2), near(-0.058, 0.05), near(4e-6, 0.5)],
                (0..16).map(|i| libm::pow(10.0, -7.0 + 0.4 * f64::from(i))).collect(),
            ),
        };
        // A peak sought beside itself has other minima.
        let away = if model == "peak" { 0.05 } else { 0.2 };
        let start = truth.iter().map(|&p| near(p, away)).collect();
        let is_weighted = near(1.0, 1.0) < 1.0;
        let sds: Vec<f64> = x
            .iter()
            .map(|&x| 0.01 * if is_weighted { value(model, x, &truth).abs() } else { truth[0] })
            .collect();
        let y = x.iter().zip(&sds).map(|(&x, sd)| value(model, x, &truth) + sd * random.normal()).collect();
        let weights = is_weighted.then(|| sds.iter().map(|sd| 1.0 / (sd * sd)).collect());
        Self { model, x, y, weights, start }
    }

    fn case(&self) -> Value {
        let Self { model, x, y, weights, start } = self;
        json!({"kind": "nonlinear", "model": model, "x": x, "y": y, "weights": weights, "start": start})
    }
}

#[test]
fn nonlinear_fits_agree_with_scipy() {
    let searches: Vec<Search> = (0..N_CASES).map(Search::random).collect();
    let Some(answers) = ask(&searches.iter().map(Search::case).collect::<Vec<_>>()) else { return };
    let mut in_errors = Account::new("parameters, in standard errors");
    let keys = ["parameters", "standard_errors", "unscaled_covariance"];
    let mut accounts = keys.map(Account::new);
    let mut residual_sd = Account::new("residual sd");
    for (search, answer) in searches.iter().zip(&answers) {
        let model = |row: usize, p: &[f64]| value(search.model, search.x[row], p);
        let fit =
            nonlinear_least_squares(&model, &search.y, search.weights.as_deref(), &search.start).unwrap();
        let ours = [&fit.parameters, &fit.standard_errors, &fit.unscaled_covariance.concat()];
        for ((account, key), ours) in accounts.iter_mut().zip(keys).zip(ours) {
            for (ours, theirs) in ours.iter().zip(numbers(answer, key)) {
                account.compare(*ours, theirs, search);
            }
        }
        for ((ours, theirs), error) in
            fit.parameters.iter().zip(numbers(answer, "parameters")).zip(&fit.standard_errors)
        {
            in_errors.compare_on(*error, *ours, theirs, search);
        }
        residual_sd.compare(fit.residual_sd, number(answer, "residual_sd"), search);
    }
    settle(&[&accounts[..], &[in_errors, residual_sd]].concat());
}

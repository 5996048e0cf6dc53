//! Propagation of uncertainty against the Python package `uncertainties`, global risks against `SciPy`'s quadrature.

use serde_json::{Value, json};
use stillwell_assure::{
    Component, Distribution, InputQuantity, Measurand, MeasurementModel, PriorDistribution, StatedPrior,
    global_risk,
};
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, number, settle};

const N_CASES: u64 = 200;

fn read_off(x: &[f64]) -> f64 {
    (x[0] - x[1]) / x[2] * x[3]
}

fn exponential(x: &[f64]) -> f64 {
    x[0] * libm::exp(-x[1] * x[2]) + x[3]
}

fn root(x: &[f64]) -> f64 {
    (x[0] * x[1] + x[2] * x[2]).sqrt() / x[3]
}

const MODELS: [(&str, &dyn Measurand); 3] =
    [("read off", &read_off), ("exponential", &exponential), ("root", &root)];

struct Propagated {
    model: usize,
    means: [f64; 4],
    uncertainties: [f64; 4],
    /// Row by row; positive definite by construction.
    correlations: [[f64; 4]; 4],
}

impl Propagated {
    fn random(stream: u64) -> Self {
        let mut random = RandomStream::new(20_261_127, stream);
        let means = [(); 4].map(|()| 1.0 + 3.0 * random.uniform());
        let uncertainties = means.map(|mean| mean * (0.002 + 0.1 * random.uniform()));
        // Rows of unit length: their products are correlations.
        let rows = [(); 4].map(|()| {
            let row = [(); 4].map(|()| random.normal());
            let length = row.iter().map(|v| v * v).sum::<f64>().sqrt();
            row.map(|v| v / length)
        });
        let mut correlations = [[0.0; 4]; 4];
        for i in 0..4 {
            for j in 0..4 {
                let dot: f64 = rows[i].iter().zip(&rows[j]).map(|(a, b)| a * b).sum();
                correlations[i][j] = if i == j { 1.0 } else { dot };
            }
        }
        Self { model: (stream % 3) as usize, means, uncertainties, correlations }
    }

    fn question(&self) -> Value {
        json!({"kind": "propagation", "model": MODELS[self.model].0, "means": self.means,
            "uncertainties": self.uncertainties, "correlations": self.correlations})
    }

    fn ours(&self) -> (f64, f64) {
        let names = ["x0", "x1", "x2", "x3"];
        let input = |k: usize| {
            let known =
                Distribution::Normal { mean: self.means[k], standard_uncertainty: self.uncertainties[k] };
            InputQuantity::new(names[k], Component::Other, known, "random").unwrap()
        };
        let mut model = MeasurementModel::new((0..4).map(input).collect(), MODELS[self.model].1).unwrap();
        for i in 0..4 {
            for j in i + 1..4 {
                model = model.correlated(names[i], names[j], self.correlations[i][j]).unwrap();
            }
        }
        let budget = model.propagate().unwrap();
        (budget.value, budget.standard_uncertainty)
    }
}

#[test]
fn propagation_agrees_with_uncertainties() {
    let cases: Vec<Propagated> = (0..N_CASES).map(Propagated::random).collect();
    let questions: Vec<Value> = cases.iter().map(Propagated::question).collect();
    let Some(answers) = ask(&questions) else { return };
    let mut value = Account::new("value");
    let mut u = Account::new("combined standard uncertainty");
    for (case, (question, answer)) in cases.iter().zip(questions.iter().zip(&answers)) {
        let ours = case.ours();
        value.compare(ours.0, number(answer, "value"), question);
        u.compare(ours.1, number(answer, "u"), question);
    }
    settle(&[value, u]);
}

#[test]
fn global_risks_agree_with_scipy() {
    let mut random = RandomStream::new(20_261_127, 999);
    let cases: Vec<Value> = (0..60)
        .map(|k| {
            let is_lognormal = k % 2 == 1;
            let (mean, sd) = if is_lognormal {
                (3.0 + random.uniform(), 0.2 + 0.6 * random.uniform())
            } else {
                (25.0 + 30.0 * random.uniform(), 2.0 + 10.0 * random.uniform())
            };
            json!({"kind": "global_risk", "mean": mean, "sd": sd, "lognormal": is_lognormal,
                "u": 0.3 + 4.0 * random.uniform(), "limit": 50.0, "accept": 42.0 + 10.0 * random.uniform()})
        })
        .collect();
    let Some(answers) = ask(&cases) else { return };
    let [mut consumer, mut producer] = ["consumer's risk", "producer's risk"].map(Account::new);
    for (case, answer) in cases.iter().zip(&answers) {
        let of = |key: &str| number(case, key);
        let prior = if case["lognormal"].as_bool().unwrap() {
            PriorDistribution::LogNormal { log_mean: of("mean"), log_sd: of("sd") }
        } else {
            PriorDistribution::Normal { mean: of("mean"), sd: of("sd") }
        };
        let prior = StatedPrior::new(prior, "random").unwrap();
        let risk = global_risk(&prior, of("u"), of("limit"), of("accept")).unwrap();
        // Probabilities: apart as such, since both quadratures stop at an absolute error.
        consumer.compare_on(1.0, risk.consumer, number(answer, "consumer"), case);
        producer.compare_on(1.0, risk.producer, number(answer, "producer"), case);
    }
    settle(&[consumer, producer]);
}

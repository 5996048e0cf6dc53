//! Lines, parabolas and weighted fits against statsmodels.

use serde_json::{Value, json};
use stillwell_stats::polynomial_least_squares;
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, number, numbers, settle};
use crate::spread::whole;

const N_CASES: u64 = 120;

#[derive(Debug)]
pub(crate) struct Standards {
    pub(crate) x: Vec<f64>,
    pub(crate) y: Vec<f64>,
    pub(crate) exponents: Vec<u32>,
    pub(crate) weights: Option<Vec<f64>>,
}

impl Standards {
    /// Levels of a calibration with one or several electrodes each; signals of some tenths of a microampere.
    pub(crate) fn random(stream: u64) -> Self {
        let mut random = RandomStream::new(20_260_103, stream);
        let exponents = [vec![0, 1], vec![0, 1, 2], vec![1]][whole(&mut random, 0, 2)].clone();
        let (n_levels, n_electrodes) = (whole(&mut random, 5, 9), whole(&mut random, 1, 4));
        let is_weighted = random.uniform() < 0.5;
        let intercept = if exponents[0] == 0 { 0.02 + 0.05 * random.uniform() } else { 0.0 };
        let slope = 0.01 + 0.02 * random.uniform();
        let bend = if exponents.len() == 3 { -2e-5 * random.uniform() } else { 0.0 };
        let (mut x, mut y, mut weights) = (Vec::new(), Vec::new(), Vec::new());
        for level in 0..n_levels {
            let at = if level == 0 { 0.5 } else { 10.0 * level as f64 * (0.9 + 0.2 * random.uniform()) };
            let sd = if is_weighted { 0.001 + 0.02 * slope * at } else { 0.01 };
            for _ in 0..n_electrodes {
                x.push(at);
                y.push(intercept + slope * at + bend * at * at + sd * random.normal());
                weights.push(1.0 / (sd * sd));
            }
        }
        Self { x, y, exponents, weights: is_weighted.then_some(weights) }
    }

    pub(crate) fn case(&self) -> Value {
        json!({"kind": "fit", "x": self.x, "y": self.y, "exponents": self.exponents, "weights": self.weights})
    }
}

#[test]
fn polynomial_fits_agree_with_statsmodels() {
    let standards: Vec<Standards> = (0..N_CASES).map(Standards::random).collect();
    let cases: Vec<Value> = standards.iter().map(Standards::case).collect();
    let Some(answers) = ask(&cases) else { return };
    let curves = ["coefficients", "standard_errors", "unscaled_covariance", "residuals", "leverage"];
    let mut curve_accounts = curves.map(Account::new);
    let mut residual_sd = Account::new("residual sd");
    let mut r_squared = Account::new("r squared");
    for (standards, answer) in standards.iter().zip(&answers) {
        let Standards { x, y, exponents, weights } = standards;
        let fit = polynomial_least_squares(x, y, exponents, weights.as_deref()).unwrap();
        let ours = [
            fit.coefficients,
            fit.standard_errors,
            fit.unscaled_covariance.concat(),
            fit.residuals,
            fit.leverage,
        ];
        for ((account, key), ours) in curve_accounts.iter_mut().zip(curves).zip(&ours) {
            let theirs = numbers(answer, key);
            if key == "residuals" {
                // Differences of signals: their scale is the signals'.
                let scale = y.iter().fold(0.0_f64, |largest, y| largest.max(y.abs()));
                for (ours, theirs) in ours.iter().zip(&theirs) {
                    account.compare_on(scale, *ours, *theirs, standards);
                }
            } else {
                for (ours, theirs) in ours.iter().zip(&theirs) {
                    account.compare(*ours, *theirs, standards);
                }
            }
        }
        residual_sd.compare(fit.residual_sd, number(answer, "residual_sd"), standards);
        r_squared.compare(fit.r_squared, number(answer, "r_squared"), standards);
    }
    settle(&curve_accounts);
    settle(&[residual_sd, r_squared]);
}

//! Inverse prediction: Fieller's interval and the quadratic's band, against other ways to the same roots.

use serde_json::{Value, json};
use stillwell_evaluate::{Curve, Inverse, inverse};
use stillwell_stats::distributions::student_t_quantile;
use stillwell_stats::polynomial_least_squares;
use stillwell_stats::random::RandomStream;

use crate::fits::Standards;
use crate::oracle::{Account, ask, number, settle};
use crate::spread::whole;

#[derive(Debug)]
struct Unknown {
    curve: Curve,
    signal_a: f64,
    electrodes: u32,
    extra_variance_a2: f64,
}

impl Unknown {
    /// A random calibration and a signal from inside its range.
    fn random(stream: u64) -> Self {
        let standards = Standards::random(stream);
        let Standards { x, y, exponents, weights } = &standards;
        let fit = polynomial_least_squares(x, y, exponents, weights.as_deref()).unwrap();
        let mut curve = Curve {
            coefficients: [0.0; 3],
            n_coefficients: u8::try_from(exponents.len()).unwrap(),
            unscaled_covariance: [[0.0; 3]; 3],
            residual_sd: fit.residual_sd,
            degrees_of_freedom: u32::try_from(fit.degrees_of_freedom).unwrap(),
            t_quantile: student_t_quantile(0.975, fit.degrees_of_freedom as f64),
            relative_variance: [1.0, 0.0, 0.0],
            level_min: x.iter().copied().fold(f64::INFINITY, f64::min),
            level_max: x.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        };
        for (i, row) in exponents.iter().enumerate() {
            curve.coefficients[*row as usize] = fit.coefficients[i];
            for (j, column) in exponents.iter().enumerate() {
                curve.unscaled_covariance[*row as usize][*column as usize] = fit.unscaled_covariance[i][j];
            }
        }
        let mut random = RandomStream::new(20_260_107, stream);
        // Weighted fits: the variance at unit weight times a constant that suits the middle of the range.
        if let Some(weights) = weights {
            curve.relative_variance[0] = 1.0 / weights[weights.len() / 2];
        }
        let level = curve.level_min + (0.15 + 0.7 * random.uniform()) * (curve.level_max - curve.level_min);
        let [c0, c1, c2] = curve.coefficients;
        let signal_a = c0 + c1 * level + c2 * level * level;
        let extra_sd = if random.uniform() < 0.5 { 0.0 } else { 0.01 * signal_a };
        let electrodes = u32::try_from(whole(&mut random, 1, 5)).unwrap();
        Self { curve, signal_a, electrodes, extra_variance_a2: extra_sd * extra_sd }
    }

    fn case(&self) -> Value {
        let Self { curve, signal_a, electrodes, extra_variance_a2 } = self;
        let mut case = json!({
            "kind": "fieller", "coefficients": curve.coefficients, "covariance": curve.unscaled_covariance,
            "residual_sd": curve.residual_sd, "t": curve.t_quantile, "relative_variance": curve.relative_variance[0],
            "electrodes": electrodes, "extra": extra_variance_a2, "signal": signal_a,
        });
        if curve.n_coefficients == 3 {
            let span = curve.level_max - curve.level_min;
            case["kind"] = json!("band_of_quadratic");
            case["between"] = json!([curve.level_min, curve.level_max + 0.3 * span]);
        }
        case
    }
}

#[test]
fn inverse_prediction_agrees_with_other_ways_to_its_roots() {
    let unknowns: Vec<Unknown> = (0..200).map(Unknown::random).collect();
    let Some(answers) = ask(&unknowns.iter().map(Unknown::case).collect::<Vec<_>>()) else { return };
    let names = [
        ["line: value", "line: low", "line: high"],
        ["quadratic: value", "quadratic: low", "quadratic: high"],
    ];
    let mut accounts = names.map(|names| names.map(Account::new));
    for (unknown, answer) in unknowns.iter().zip(&answers) {
        let Unknown { curve, signal_a, electrodes, extra_variance_a2 } = unknown;
        let Inverse::Within { value, low, high } = inverse(curve, *signal_a, *electrodes, *extra_variance_a2)
        else {
            panic!("not within the range: {unknown:?}");
        };
        let accounts = &mut accounts[usize::from(curve.n_coefficients == 3)];
        for ((account, key), ours) in
            accounts.iter_mut().zip(["value", "low", "high"]).zip([value, low, high])
        {
            account.compare(ours, number(answer, key), unknown);
        }
    }
    settle(&accounts[0]);
    settle(&accounts[1]);
}

//! Smoothing against `SciPy`, asymmetric least squares against pybaselines.

use serde_json::{Value, json};
use stillwell_evaluate::{AsymmetricLeastSquares, Smoother, asymmetric_least_squares, single_scratch_len};
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, numbers, settle};
use crate::peaks::Recorded;
use crate::spread::whole;

#[test]
fn savitzky_golay_agrees_with_scipy() {
    let mut random = RandomStream::new(20_260_104, 0);
    let mut drawn = Vec::new();
    for stream in 0..60 {
        let window = 2 * whole(&mut random, 1, 25) + 1;
        let degree = whole(&mut random, 0, 5.min(window - 1));
        drawn.push((window, degree, Recorded::random(stream).current_a));
    }
    let cases: Vec<Value> = drawn
        .iter()
        .map(|(window, degree, values)| {
            json!({"kind": "savitzky_golay", "values": values, "window": window, "degree": degree})
        })
        .collect();
    let Some(answers) = ask(&cases) else { return };
    let mut account = Account::new("Savitzky-Golay, edges included");
    for ((window, degree, values), answer) in drawn.iter().zip(&answers) {
        let mut storage = vec![0.0; Smoother::storage_len(*window)];
        let smoother = Smoother::savitzky_golay(*window, *degree, &mut storage).unwrap();
        let mut smoothed = vec![0.0; values.len()];
        smoother.smooth(values, &mut smoothed).unwrap();
        account.compare_curve(&smoothed, &numbers(answer, "smoothed"), &(window, degree));
    }
    settle(&[account]);
}

#[test]
fn asymmetric_least_squares_agrees_with_pybaselines() {
    let mut random = RandomStream::new(20_260_104, 1);
    let mut drawn = Vec::new();
    for stream in 0..40 {
        let stiffness = [1e2, 1e3, 1e4, 1e5, 1e6][whole(&mut random, 0, 4)];
        let asymmetry = [0.001, 0.01, 0.05][whole(&mut random, 0, 2)];
        let recorded = Recorded::random(stream + 500);
        drawn.push((AsymmetricLeastSquares { stiffness, asymmetry, max_iterations: 200 }, recorded));
    }
    let case = |(rule, recorded): &(AsymmetricLeastSquares, Recorded)| {
        json!({"kind": "asymmetric_least_squares", "current_a": recorded.current_a, "stiffness": rule.stiffness,
               "asymmetry": rule.asymmetry, "sign": recorded.sign})
    };
    let Some(answers) = ask(&drawn.iter().map(case).collect::<Vec<_>>()) else { return };
    let mut account = Account::with_limit(
        "asymmetric least squares",
        1e-8,
        "rounding in the five-diagonal system grows with stiffness over weight, up to 1e9 here, in both programs",
    );
    for ((rule, recorded), answer) in drawn.iter().zip(&answers) {
        assert_eq!(answer["settled"], json!(true), "{rule:?}");
        let current_a = &recorded.current_a;
        let mut baseline_a = vec![0.0; current_a.len()];
        let mut scratch = vec![0.0; single_scratch_len(current_a.len())];
        asymmetric_least_squares(rule, current_a, recorded.sign, &mut baseline_a, &mut scratch).unwrap();
        account.compare_curve(&baseline_a, &numbers(answer, "baseline"), rule);
    }
    settle(&[account]);
}

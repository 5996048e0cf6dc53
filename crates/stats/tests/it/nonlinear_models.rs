//! The models of the NIST StRD nonlinear sets, with exact derivatives or without.

use stillwell_stats::NonlinearModel;

use crate::dual::{Dual, Number};

/// A model by the name of its set, with one `Vec` of explanatory values a row.
pub(crate) struct Reference {
    pub(crate) name: String,
    pub(crate) x: Vec<Vec<f64>>,
}

impl NonlinearModel for Reference {
    fn value(&self, row: usize, parameters: &[f64]) -> f64 {
        value(&self.name, &self.x[row], parameters)
    }

    fn gradient(&self, row: usize, parameters: &[f64]) -> Option<Vec<f64>> {
        let duals: Vec<Dual> = parameters.iter().enumerate().map(|(i, &p)| Dual::parameter(i, p)).collect();
        Some(value(&self.name, &self.x[row], &duals).slopes[..parameters.len()].to_vec())
    }
}

/// The formulas as printed in the sets.
pub(crate) fn value<T: Number>(name: &str, row: &[f64], b: &[T]) -> T {
    let x = T::of(row[0]);
    let one = T::of(1.0);
    match name {
        "Misra1a" | "BoxBOD" => b[0] * (one - (-b[1] * x).exp()),
        "Misra1b" => b[0] * (one - one / (one + b[1] * x / T::of(2.0)).square()),
        "Misra1c" => b[0] * (one - (one + T::of(2.0) * b[1] * x).to_the(T::of(-0.5))),
        "Misra1d" => b[0] * b[1] * x / (one + b[1] * x),
        "Chwirut1" | "Chwirut2" => (-b[0] * x).exp() / (b[1] + b[2] * x),
        "Lanczos1" | "Lanczos2" | "Lanczos3" => {
            b[0] * (-b[1] * x).exp() + b[2] * (-b[3] * x).exp() + b[4] * (-b[5] * x).exp()
        }
        "Gauss1" | "Gauss2" | "Gauss3" => {
            let peak = |height: T, at: T, width: T| height * (-((x - at) / width).square()).exp();
            b[0] * (-b[1] * x).exp() + peak(b[2], b[3], b[4]) + peak(b[5], b[6], b[7])
        }
        "DanWood" => b[0] * x.to_the(b[1]),
        "Kirby2" => polynomial(x, &b[..3]) / (one + x * polynomial(x, &b[3..])),
        "Hahn1" | "Thurber" => polynomial(x, &b[..4]) / (one + x * polynomial(x, &b[4..])),
        "Nelson" => b[0] - b[1] * x * (-b[2] * T::of(row[1])).exp(),
        "MGH17" => b[0] + b[1] * (-x * b[3]).exp() + b[2] * (-x * b[4]).exp(),
        "Roszman1" => b[0] - b[1] * x - (b[2] / (x - b[3])).atan() / T::of(std::f64::consts::PI),
        "ENSO" => {
            let turn = T::of(2.0 * std::f64::consts::PI) * x;
            let wave = |period: T, c: T, s: T| c * (turn / period).cos() + s * (turn / period).sin();
            b[0] + wave(T::of(12.0), b[1], b[2]) + wave(b[3], b[4], b[5]) + wave(b[6], b[7], b[8])
        }
        "MGH09" => b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]),
        "Rat42" => b[0] / (one + (b[1] - b[2] * x).exp()),
        "Rat43" => b[0] / (one + (b[1] - b[2] * x).exp()).to_the(one / b[3]),
        "MGH10" => b[0] * (b[1] / (x + b[2])).exp(),
        "Eckerle4" => b[0] / b[1] * (T::of(-0.5) * ((x - b[2]) / b[1]).square()).exp(),
        "Bennett5" => b[0] * (b[1] + x).to_the(-one / b[2]),
        _ => panic!("no model for {name}"),
    }
}

/// `c0 + c1 x + c2 x² + …`.
fn polynomial<T: Number>(x: T, coefficients: &[T]) -> T {
    let (highest, rest) = coefficients.split_last().unwrap();
    rest.iter().rev().fold(*highest, |sum, &c| sum * x + c)
}

//! EURACHEM/CITAC QUAM, examples A1 to A5.

use stillwell_assure::{Budget, Distribution, InputQuantity, MeasurementModel};
use stillwell_stats::{mean, polynomial_least_squares};

use crate::gum_examples::{input, normal};
use crate::published::{Case, QUAM};

fn rectangular(name: &str, middle: f64, half: f64) -> InputQuantity {
    input(name, Distribution::rectangular_about(middle, half))
}

fn triangular(name: &str, middle: f64, half: f64) -> InputQuantity {
    input(name, Distribution::triangular_about(middle, half))
}

fn budget(inputs: Vec<InputQuantity>, function: impl Fn(&[f64]) -> f64 + Sync) -> Budget {
    MeasurementModel::new(inputs, &function).unwrap().propagate().unwrap()
}

#[test]
fn a_1_calibration_standard() {
    let case = Case::of(QUAM, "quam_a1");
    let i = |key: &str| case.input(key);
    let inputs = vec![
        normal("m", i("m_mg"), i("u_m_mg")),
        rectangular("P", i("P"), i("P_half_width_rectangular")),
        triangular("V", i("V_ml"), i("V_tolerance_triangular_ml")),
        normal("filling", 0.0, i("u_V_repeatability_ml")),
        rectangular("temperature", 0.0, i("V_temperature_half_width_rectangular_ml")),
    ];
    let c = budget(inputs, |x| 1000.0 * x[0] * x[1] / (x[2] + x[3] + x[4]));
    case.agree("c_Cd_mg_per_l", c.value, 9.0);
    case.agree("u_c_mg_per_l", c.standard_uncertainty, 8.0);
    let of = |name: &str| c.lines.iter().find(|line| line.name == name).unwrap().contribution.abs();
    case.agree("contribution_m", of("m"), 8.0);
    case.agree("contribution_P", of("P"), 8.0);
    let volume = [of("V"), of("filling"), of("temperature")].iter().map(|c| c * c).sum::<f64>().sqrt();
    case.agree("contribution_V", volume, 8.0);
}

/// Inputs of the salt that A2 and A3 titrate: mass, purity, molar mass.
fn salt(case: &Case) -> Vec<InputQuantity> {
    let balance = case.input("balance_linearity_half_width_rectangular_g");
    // C8H5O4K: atoms of an element share their atomic weight.
    let atom = |name: &str, weight: f64, half: f64| rectangular(name, weight, half);
    vec![
        rectangular("filled", case.input("m_KHP_g"), balance),
        rectangular("empty", 0.0, balance),
        rectangular("P", case.input("P"), case.input("P_half_width_rectangular")),
        atom("C", 12.0107, 0.0008),
        atom("H", 1.00794, 0.00007),
        atom("O", 15.9994, 0.0003),
        atom("K", 39.0983, 0.0001),
    ]
}

fn moles(x: &[f64]) -> f64 {
    (x[0] - x[1]) * x[2] / (8.0 * x[3] + 5.0 * x[4] + 4.0 * x[5] + x[6])
}

#[test]
fn a_2_sodium_hydroxide() {
    let case = Case::of(QUAM, "quam_a2");
    let mut inputs = salt(&case);
    inputs.push(triangular("V", case.input("V_ml"), case.input("burette_tolerance_triangular_ml")));
    inputs.push(normal("temperature", 0.0, case.input("u_V_temperature_ml")));
    inputs.push(normal("R", 1.0, case.input("u_R")));
    let c = budget(inputs, |x| x[9] * 1000.0 * moles(x) / (x[7] + x[8]));
    case.agree("c_NaOH_mol_per_l", c.value, 9.0);
    case.agree("u_c_mol_per_l", c.standard_uncertainty, 8.0);
}

#[test]
fn a_3_titration_with_replicates_and_with_a_bias() {
    let (case, salt_case) = (Case::of(QUAM, "quam_a3"), Case::of(QUAM, "quam_a2"));
    let (tolerance, temperature) =
        (case.inputs("tolerance_triangular_ml"), case.inputs("temperature_half_width_rectangular_ml"));
    let inputs = |u_r: f64, bias: Option<f64>| {
        let mut all = salt(&salt_case);
        for (k, name) in ["V_T2", "V_T1", "V_HCl"].into_iter().enumerate() {
            all.push(triangular(name, case.input(&format!("{name}_ml")), tolerance[k]));
            all.push(rectangular(&format!("{name} temperature"), 0.0, temperature[k]));
        }
        all.push(normal("R", 1.0, u_r));
        if let Some(bias) = bias {
            all.push(normal("bias 1", bias, case.input("u_indicator_bias_ml")));
            all.push(normal("bias 2", bias, case.input("u_indicator_bias_ml")));
        }
        all
    };
    let plain = |x: &[f64]| x[13] * 1000.0 * moles(x) * (x[7] + x[8]) / ((x[9] + x[10]) * (x[11] + x[12]));
    let once = budget(inputs(case.input("u_R"), None), plain);
    case.agree("c_HCl_mol_per_l", once.value, 9.0);
    case.agree("u_c_mol_per_l", once.standard_uncertainty, 8.0);
    let thrice = budget(inputs(case.input("u_R") / 3.0_f64.sqrt(), None), plain);
    case.agree("u_c_triplicate", thrice.standard_uncertainty, 8.0);
    let biased =
        budget(inputs(case.input("u_R") / 3.0_f64.sqrt(), Some(case.input("indicator_bias_ml"))), |x| {
            x[13] * 1000.0 * moles(x) * (x[7] + x[8] - x[14]) / ((x[9] + x[10] - x[15]) * (x[11] + x[12]))
        });
    case.agree("c_with_indicator_bias", biased.value, 9.0);
    case.agree("u_c_with_indicator_bias", biased.standard_uncertainty, 8.0);
}

#[test]
fn a_4_relative_uncertainties_from_validation() {
    let case = Case::of(QUAM, "quam_a4");
    let relative = |key: &str| normal(key, 1.0, case.input(key));
    let inputs = vec![relative("rel_precision"), relative("rel_recovery"), relative("rel_homogeneity")];
    let found = budget(inputs, |x| x[0] * x[1] * x[2]);
    case.agree("u_rel", found.standard_uncertainty, 8.0);
    assert_eq!(found.lines[0].name, "rel_precision", "ranked by contribution");
}

#[test]
fn a_5_calibration_line_inside_a_budget() {
    let case = Case::of(QUAM, "quam_a5");
    let fit = polynomial_least_squares(&case.inputs("x_mg_per_l"), &case.inputs("absorbance"), &[0, 1], None)
        .unwrap();
    let c = &fit.unscaled_covariance;
    case.agree("B0", fit.coefficients[0], 9.0);
    case.agree("B1", fit.coefficients[1], 9.0);
    let r = c[0][1] / (c[0][0] * c[1][1]).sqrt();
    case.agree("r_B0_B1", r, 9.0);
    let sample = case.inputs("sample_absorbance");
    let u_sample = fit.residual_sd / (sample.len() as f64).sqrt();
    let of_line = || {
        vec![
            normal("A", mean(&sample).unwrap(), u_sample),
            normal("B0", fit.coefficients[0], fit.standard_errors[0]),
            normal("B1", fit.coefficients[1], fit.standard_errors[1]),
        ]
    };
    let read_off = |x: &[f64]| (x[0] - x[1]) / x[2];
    let model = MeasurementModel::new(of_line(), &read_off).unwrap().correlated("B0", "B1", r).unwrap();
    let c0 = model.propagate().unwrap();
    case.agree("c0_mg_per_l", c0.value, 9.0);
    case.agree("u_c0_mg_per_l", c0.standard_uncertainty, 8.0);
    assert!(c0.pairs[0].share < 0.0, "intercept and slope err against each other");

    let mut inputs = of_line();
    let volume = case.input("V_leachate_ml");
    inputs.extend([
        normal("volume", volume, leachate_volume_u(&case, volume)),
        normal("area", case.value("a_V_dm2"), case.value("u_a_V_dm2")),
        normal("acid", 1.0, case.input("u_f_acid")),
        rectangular("time", 1.0, case.input("f_time_rectangular")),
        rectangular("temperature", 1.0, case.input("f_temp_rectangular")),
    ]);
    let released = |x: &[f64]| (x[0] - x[1]) / x[2] * x[3] / 1000.0 / x[4] * x[5] * x[6] * x[7];
    let model = MeasurementModel::new(inputs, &released).unwrap().correlated("B0", "B1", r).unwrap();
    let found = model.propagate().unwrap();
    // The guide's own rounding of its volume part leaves the fourth digit open.
    println!("r {} u(r) {}", found.value, found.standard_uncertainty);
    case.near_print("u_r_mg_per_dm2", found.standard_uncertainty);
}

fn leachate_volume_u(case: &Case, volume: f64) -> f64 {
    let fill = case.inputs("fill")[1] * volume / 6.0_f64.sqrt();
    let reading = case.input("reading_triangular") * volume / 6.0_f64.sqrt();
    let temperature = case.input("temperature_rectangular_ml") / 3.0_f64.sqrt();
    let calibration = case.input("calibration_triangular_ml") / 6.0_f64.sqrt();
    [fill, reading, temperature, calibration].iter().map(|u| u * u).sum::<f64>().sqrt()
}

//! JCGM 100:2008, Annex H: the law of propagation on its own examples.

use stillwell_assure::{
    Budget, Component, DegreesOfFreedom, Distribution, InputQuantity, Measurand, MeasurementModel,
};
use stillwell_stats::{least_squares, mean, standard_deviation};

use crate::published::{Case, GUM};

pub(crate) fn normal(name: &str, mean: f64, standard_uncertainty: f64) -> InputQuantity {
    input(name, Distribution::Normal { mean, standard_uncertainty })
}

pub(crate) fn input(name: &str, distribution: Distribution) -> InputQuantity {
    InputQuantity::new(name, Component::Other, distribution, "published example").unwrap()
}

fn own(quantity: InputQuantity, degrees_of_freedom: f64) -> InputQuantity {
    quantity.observed(DegreesOfFreedom::Own(degrees_of_freedom)).unwrap()
}

fn line<'b>(budget: &'b Budget, name: &str) -> &'b stillwell_assure::BudgetLine {
    budget.lines.iter().find(|line| line.name == name).unwrap()
}

fn end_gauge(x: &[f64]) -> f64 {
    let [ls, d, d1, d2, dalpha, theta, cycle, alpha, dtheta] = x else { return f64::NAN };
    ls + d + d1 + d2 - ls * (dalpha * (theta + cycle) + alpha * dtheta)
}

#[test]
fn h_1_end_gauge() {
    let case = Case::of(GUM, "gum_h1");
    let (u_d, nu_d) = (case.inputs("u_d_parts_nm"), case.inputs("nu_d_parts"));
    let half = |key: &str| case.input(key);
    let inputs = vec![
        own(normal("ls", case.input("ls_nm"), case.input("u_ls_nm")), case.input("nu_ls")),
        own(normal("d", case.input("d_nm"), u_d[0]), nu_d[0]),
        own(normal("d1", 0.0, u_d[1]), nu_d[1]),
        own(normal("d2", 0.0, u_d[2]), nu_d[2]),
        input("dalpha", Distribution::rectangular_about(0.0, half("half_width_dalpha_rectangular_per_k")))
            .with_degrees_of_freedom(DegreesOfFreedom::Own(case.input("nu_dalpha")))
            .unwrap(),
        normal("theta", case.input("theta_mean_k"), case.input("u_theta_mean_k")),
        input(
            "cycle",
            Distribution::ArcSine {
                low: -half("theta_cyclic_half_width_arcsine_k"),
                high: half("theta_cyclic_half_width_arcsine_k"),
            },
        ),
        input(
            "alpha",
            Distribution::rectangular_about(case.input("alpha_per_k"), half("half_width_alpha_rectangular")),
        ),
        input("dtheta", Distribution::rectangular_about(0.0, half("half_width_dtheta_rectangular_k")))
            .with_degrees_of_freedom(DegreesOfFreedom::Own(case.input("nu_dtheta")))
            .unwrap(),
    ];
    let model = MeasurementModel::new(inputs, &end_gauge).unwrap();
    let budget = model.propagate().unwrap();
    case.agree("l_nm", budget.value, 15.0);
    case.agree("u_c_nm", budget.standard_uncertainty, 8.0);
    case.agree("component_ls_nm", line(&budget, "ls").contribution, 8.0);
    case.agree("component_delta_theta_nm", line(&budget, "dtheta").contribution.abs(), 8.0);
    // Differences of 5e7 nm leave about 1e-7 nm.
    case.agree("component_delta_alpha_nm", line(&budget, "dalpha").contribution.abs(), 7.0);
    case.agree("nu_eff_l", budget.degrees_of_freedom, 8.0);
    let expanded = budget.expanded(0.99).unwrap();
    case.agree("t_99_16", expanded.coverage_factor, 9.0);
    case.agree("U_99_nm", expanded.half_width, 8.0);
    let second = model.second_order().unwrap();
    case.agree("u_c_second_order_nm", second.standard_uncertainty, 6.0);
    assert!(second.matters());
    assert!((second.expectation_shift).abs() < 1e-6, "products have no curvature of their own");
    let parts = vec![
        own(normal("a", 0.0, u_d[0]), nu_d[0]),
        own(normal("b", 0.0, u_d[1]), nu_d[1]),
        own(normal("c", 0.0, u_d[2]), nu_d[2]),
    ];
    let sum = |x: &[f64]| x.iter().sum::<f64>();
    let d = MeasurementModel::new(parts, &sum).unwrap().propagate().unwrap();
    case.agree("u_d_nm", d.standard_uncertainty, 9.0);
    case.agree("nu_eff_d", d.degrees_of_freedom, 9.0);
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let (mean_a, mean_b) = (mean(a).unwrap(), mean(b).unwrap());
    let sum: f64 = a.iter().zip(b).map(|(a, b)| (a - mean_a) * (b - mean_b)).sum();
    sum / (a.len() as f64 - 1.0) / standard_deviation(a).unwrap() / standard_deviation(b).unwrap()
}

struct Observed {
    inputs: Vec<InputQuantity>,
    correlations: [(&'static str, &'static str, f64); 3],
}

fn impedance_inputs(case: &Case) -> Observed {
    let columns = ["V", "I", "phi"].map(|key| case.inputs(key));
    let quantity = |name: &str, values: &[f64]| {
        let u = standard_deviation(values).unwrap() / (values.len() as f64).sqrt();
        normal(name, mean(values).unwrap(), u)
    };
    let [v, i, phi] = &columns;
    Observed {
        inputs: vec![quantity("V", v), quantity("I", i), quantity("phi", phi)],
        correlations: [
            ("V", "I", correlation(v, i)),
            ("V", "phi", correlation(v, phi)),
            ("I", "phi", correlation(i, phi)),
        ],
    }
}

fn correlated<'f>(observed: &Observed, function: &'f dyn Measurand) -> MeasurementModel<'f> {
    let model = MeasurementModel::new(observed.inputs.clone(), function).unwrap();
    observed.correlations.iter().fold(model, |model, (a, b, r)| model.correlated(a, b, *r).unwrap())
}

#[test]
fn h_2_impedance_with_and_without_correlations() {
    let (case, ignored) = (Case::of(GUM, "gum_h2"), Case::of(GUM, "gum_h2_uncorrelated"));
    let observed = impedance_inputs(&case);
    case.agree("u_V", observed.inputs[0].standard_uncertainty(), 9.0);
    case.agree("r_VI", observed.correlations[0].2, 9.0);
    case.agree("r_Vphi", observed.correlations[1].2, 9.0);
    case.agree("r_Iphi", observed.correlations[2].2, 9.0);
    let resistance = |x: &[f64]| x[0] / x[1] * libm::cos(x[2]);
    let reactance = |x: &[f64]| x[0] / x[1] * libm::sin(x[2]);
    let impedance = |x: &[f64]| x[0] / x[1];
    let functions: [(&str, &dyn Measurand); 3] = [("R", &resistance), ("X", &reactance), ("Z", &impedance)];
    for (name, function) in functions {
        let budget = correlated(&observed, function).propagate().unwrap();
        case.agree(&format!("{name}_ohm"), budget.value, 12.0);
        case.agree(&format!("u_{name}_ohm"), budget.standard_uncertainty, 9.0);
        let total: f64 = budget.lines.iter().map(|line| line.share).sum::<f64>()
            + budget.pairs.iter().map(|pair| pair.share).sum::<f64>();
        assert!((total - 1.0).abs() < 1e-12, "{name}: shares make {total}");
        let alone = MeasurementModel::new(observed.inputs.clone(), function).unwrap().propagate().unwrap();
        ignored.agree(&format!("u_{name}_ohm"), alone.standard_uncertainty, 9.0);
    }
}

#[test]
fn h_3_thermometer_correction_from_a_line_and_its_covariance() {
    let case = Case::of(GUM, "gum_h3");
    let (t, b, t0) = (case.inputs("t"), case.inputs("b"), case.input("t0"));
    let design: Vec<Vec<f64>> = t.iter().map(|t| vec![1.0, t - t0]).collect();
    let fit = least_squares(&design, &b, None).unwrap();
    let c = &fit.unscaled_covariance;
    let r = c[0][1] / (c[0][0] * c[1][1]).sqrt();
    case.agree("y1", fit.coefficients[0], 9.0);
    case.agree("s_y1", fit.standard_errors[0], 9.0);
    case.agree("r_y1_y2", r, 9.0);
    let pooled =
        || DegreesOfFreedom::Pooled { spread: "scatter about the line".into(), degrees_of_freedom: 9.0 };
    let inputs = vec![
        normal("y1", fit.coefficients[0], fit.standard_errors[0]).observed(pooled()).unwrap(),
        normal("y2", fit.coefficients[1], fit.standard_errors[1]).observed(pooled()).unwrap(),
    ];
    let at_30 = |x: &[f64]| x[0] + x[1] * (30.0 - 20.0);
    let model = MeasurementModel::new(inputs, &at_30).unwrap().correlated("y1", "y2", r).unwrap();
    let budget = model.propagate().unwrap();
    case.agree("b_30", budget.value, 9.0);
    case.agree("u_b_30", budget.standard_uncertainty, 9.0);
    // Two coefficients of one fit share its degrees of freedom; they do not add up.
    case.agree("df", budget.degrees_of_freedom, 12.0);
}

#[test]
fn h_4_activity_of_a_sample_against_a_standard_with_blank() {
    let case = Case::of(GUM, "gum_h4");
    let (lambda, t0) = (case.input("lambda_per_min"), case.input("T0_min"));
    let rates = |counts: &str, times: &str| -> Vec<f64> {
        let (counts, blanks, times) = (case.inputs(counts), case.inputs("C_b"), case.inputs(times));
        let rate = |k: usize| (counts[k] - blanks[k]) / t0 * libm::exp(lambda * times[k]);
        (0..counts.len()).map(rate).collect()
    };
    let (sample, standard) = (rates("C_x", "t_x"), rates("C_s", "t_s"));
    let of_mean = |values: &[f64]| standard_deviation(values).unwrap() / (values.len() as f64).sqrt();
    let r = correlation(&sample, &standard);
    case.agree("R_x_mean", mean(&sample).unwrap(), 9.0);
    case.agree("R_s_mean", mean(&standard).unwrap(), 9.0);
    case.agree("r_Rx_Rs", r, 8.0);
    let inputs = vec![
        normal("A_S", case.input("A_S"), case.input("u_A_S")),
        normal("m_S", case.input("m_S"), case.input("u_m_S")),
        normal("m_x", case.input("m_x"), case.input("u_m_x")),
        normal("R_x", mean(&sample).unwrap(), of_mean(&sample)),
        normal("R_s", mean(&standard).unwrap(), of_mean(&standard)),
    ];
    let activity = |x: &[f64]| x[0] * x[1] / x[2] * x[3] / x[4];
    let model = MeasurementModel::new(inputs, &activity).unwrap().correlated("R_x", "R_s", r).unwrap();
    let budget = model.propagate().unwrap();
    case.agree("A_x_approach1", budget.value, 9.0);
    case.agree("u_A_x_approach1", budget.standard_uncertainty, 8.0);
}

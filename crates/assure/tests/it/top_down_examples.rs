//! Nordtest TR 537, and the two ways side by side.

use stillwell_assure::{
    BiasEvidence, BiasFinding, BudgetError, MeasurementModel, RelativeUncertainty, TopDown,
    repeatability_from_duplicates, top_down, within_laboratory,
};

use crate::gum_examples::normal;
use crate::published::{Case, NORDTEST};

fn several(biases: &[f64], reference_u_percent: f64) -> BiasEvidence {
    let finding = |bias_percent: &f64| BiasFinding { bias_percent: *bias_percent, reference_u_percent };
    BiasEvidence::Several(biases.iter().map(finding).collect())
}

fn with_known_rw(evidence: &BiasEvidence) -> TopDown {
    top_down(RelativeUncertainty::given(1.0), evidence).unwrap()
}

#[test]
fn ammonium_with_control_sample_and_ring_tests() {
    let case = Case::of(NORDTEST, "ammonium");
    let within = RelativeUncertainty::given(case.input("control_limits_2s_percent") / 2.0);
    case.agree("u_Rw_percent", within.percent, 12.0);
    let evidence = several(&case.inputs("bias_percent"), case.input("u_Cref_percent"));
    let found = top_down(within, &evidence).unwrap();
    case.agree("rms_bias_percent", found.rms_bias_percent, 12.0);
    case.agree("u_bias_percent", found.bias.percent, 12.0);
    case.agree("u_c_percent", found.combined.percent, 12.0);
    case.agree("U_percent", 2.0 * found.combined.percent, 12.0);
    // Six comparisons, of which only the biases are in doubt.
    println!(
        "degrees of freedom: bias {}, combined {}",
        found.bias.degrees_of_freedom, found.combined.degrees_of_freedom
    );
    assert!(found.bias.degrees_of_freedom > 6.0 && found.combined.degrees_of_freedom > 20.0);
    let expanded = found.combined.expanded(0.95).unwrap();
    assert!(expanded.coverage_factor > 2.0 && expanded.coverage_factor < 2.1);
}

#[test]
fn bias_from_one_and_from_several_references() {
    let one = Case::of(NORDTEST, "bias_one_crm");
    let finding = BiasFinding {
        bias_percent: 100.0 * (one.input("mean_found") / one.input("certified") - 1.0),
        reference_u_percent: 100.0 * one.input("U_95_certified") / 2.0 / one.input("certified"),
    };
    one.agree("bias_percent", finding.bias_percent, 12.0);
    one.agree("u_Cref_percent", finding.reference_u_percent, 12.0);
    let evidence = BiasEvidence::OneReference { finding, sd_percent: one.input("s_bias_percent"), n: 12 };
    one.agree("u_bias_percent", with_known_rw(&evidence).bias.percent, 12.0);

    let three = Case::of(NORDTEST, "bias_three_crm");
    let found = with_known_rw(&several(&three.inputs("bias_percent"), three.input("mean_u_Cref_percent")));
    three.agree("rms_bias_percent", found.rms_bias_percent, 12.0);
    three.agree("u_bias_percent", found.bias.percent, 12.0);

    let rounds = Case::of(NORDTEST, "bias_interlab");
    let reference = rounds.input("mean_sR_percent") / rounds.input("mean_n_laboratories").sqrt();
    let found = with_known_rw(&several(&rounds.inputs("bias_percent"), reference));
    rounds.agree("rms_bias_percent", found.rms_bias_percent, 12.0);
    rounds.agree("u_Cref_percent", found.reference_u_percent, 12.0);
    rounds.agree("u_bias_percent", found.bias.percent, 12.0);
}

#[test]
fn bias_from_recoveries() {
    let case = Case::of(NORDTEST, "bias_recovery");
    let biases: Vec<f64> = case.inputs("recoveries_percent").iter().map(|r| r - 100.0).collect();
    let volume = RelativeUncertainty::given(case.input("volume_bias_max_percent") / 3.0_f64.sqrt())
        .and(RelativeUncertainty::given(case.input("volume_repeatability_percent")));
    case.agree("u_volume_percent", volume.percent, 12.0);
    let added = volume.and(RelativeUncertainty::given(case.input("U_spike_solution_percent") / 2.0));
    case.agree("u_added_percent", added.percent, 12.0);
    let found = with_known_rw(&several(&biases, added.percent));
    case.agree("rms_bias_percent", found.rms_bias_percent, 12.0);
    case.agree("u_bias_percent", found.bias.percent, 12.0);
}

#[test]
fn duplicates_by_range_use_d2() {
    let case = Case::of(NORDTEST, "duplicates_range");
    let found = repeatability_from_duplicates(&[[99.5, 100.5]]).unwrap();
    case.agree("d2", 1.0 / found.percent, 12.0);
}

#[test]
fn the_two_ways_stand_side_by_side_and_the_larger_one_is_defended() {
    let budget = |u: f64| {
        let product = |x: &[f64]| x[0] * x[1];
        let inputs = vec![normal("signal", 50.0, 50.0 * u), normal("factor", 1.0, 0.001)];
        MeasurementModel::new(inputs, &product).unwrap().propagate().unwrap()
    };
    let rounds = several(&[2.5, 2.7, 1.9, 1.4, 1.8, 2.9], 1.52);
    let seen = top_down(within_laboratory(&[49.0, 50.5, 51.0, 49.5, 50.2, 49.9]).unwrap(), &rounds).unwrap();
    let close = seen.beside(&budget(0.031)).unwrap();
    println!("{}", close.words());
    assert!(close.agrees() && !close.has_few_findings && close.words().contains("The larger one"));
    let too_small = seen.beside(&budget(0.005)).unwrap();
    println!("{}", too_small.words());
    assert!(!too_small.agrees() && too_small.words().contains("something is missing from the budget"));
    let too_large = seen.beside(&budget(0.2)).unwrap();
    println!("{}", too_large.words());
    assert!(too_large.words().contains("counts something twice"));
    let few = top_down(RelativeUncertainty::given(2.0), &several(&[1.0, -2.0], 1.0)).unwrap();
    assert!(few.beside(&budget(0.03)).unwrap().words().contains("Fewer than six comparisons"));
}

#[test]
fn too_little_evidence_is_refused() {
    assert!(matches!(within_laboratory(&[50.0]), Err(BudgetError::TooFewResults { .. })));
    assert!(matches!(within_laboratory(&[50.0, 50.0]), Err(BudgetError::ResultsUnusable { .. })));
    assert!(repeatability_from_duplicates(&[]).is_err());
    assert!(repeatability_from_duplicates(&[[f64::NAN, 1.0]]).is_err());
    assert!(top_down(RelativeUncertainty::given(1.0), &several(&[], 1.0)).is_err());
    assert!(top_down(RelativeUncertainty::given(f64::NAN), &several(&[1.0], 1.0)).is_err());
    let one = BiasFinding { bias_percent: 1.0, reference_u_percent: 1.0 };
    let once = BiasEvidence::OneReference { finding: one, sd_percent: 1.0, n: 1 };
    assert!(top_down(RelativeUncertainty::given(1.0), &once).is_err());
}

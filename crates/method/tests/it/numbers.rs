//! The version of the chain's numbers is raised when they move.

use stillwell_method::{Hash, NUMBERS, Outcome, Report, determine};

use crate::alder_vale::Study;

/// Bits of signals, constants and results.
fn bits(report: &Report) -> Vec<u64> {
    let signals = report.scans.iter().filter_map(|link| link.signal.as_ref());
    let mut all: Vec<f64> = signals.map(|signal| signal.signal).collect();
    for made in report.calibrations.iter().filter_map(|link| link.calibration.as_ref()) {
        all.extend(made.curve.coefficients);
        all.extend(made.curve.unscaled_covariance.iter().flatten());
        all.extend([made.curve.residual_sd, made.curve.t_quantile]);
    }
    for determination in &report.determinations {
        match &determination.outcome {
            Outcome::Quantified(estimate) => {
                all.extend([estimate.value.value(), estimate.low, estimate.high])
            }
            Outcome::AboveRange(above) => all.extend([above.at_least.value(), above.range_end, above.dilute]),
            Outcome::BelowQuantification(less) | Outcome::NotDetected(less) => {
                all.extend([less.less_than.value(), less.estimate, less.low, less.high]);
            }
            Outcome::Refused => {}
        }
        all.extend(determination.decisions.iter().filter_map(|one| one.conformance_probability));
    }
    all.into_iter().map(f64::to_bits).collect()
}

#[test]
fn numbers_that_move_have_a_version_of_their_own() {
    let report = determine(&Study::input());
    let bytes: Vec<u8> = bits(&report).into_iter().flat_map(u64::to_le_bytes).collect();
    let found = (NUMBERS, Hash::of(&bytes).short());
    let known = (1, "0f58eb230a83");
    assert_eq!(
        (found.0, found.1.as_str()),
        known,
        "the chain makes other numbers: raise NUMBERS, state the new hash here, and say in CHANGELOG.md what moved and why"
    );
}

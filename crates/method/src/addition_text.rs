//! The sentences about standard additions, side by side.

use stillwell_calibrate::{AdditionDesign, AdditionEstimate, CurvatureTest, MatrixComparison, MatrixEffect};
use stillwell_quantity::round_to_uncertainty;

use crate::addition::{AdditionResult, Remark};
use crate::finding::{Effect, three_digits};
use crate::link::GroupKey;

/// Additions that reach less than half of the sample's concentration leave it far beyond the line: common practice, no source.
const SHORT_REACH: f64 = 0.5;
/// A background this sure is mentioned.
pub(crate) const BACKGROUND_ALPHA: f64 = 0.01;

/// Beside a result whose dilutions state no uncertainty.
pub(crate) const DILUTION_WITHOUT_U: &str =
    "a dilution is stated without an uncertainty; the interval holds none for it";

/// Why a line of three additions carries no verdict.
pub(crate) const BEND_NOT_TESTED: &str = "too few different additions to see whether the line bends, and a bent line extended to zero signal gives a wrong number";

fn warned(words: String) -> Remark {
    Remark { effect: Effect::Warned, words }
}

pub(crate) fn result(sample: &str, result: &AdditionResult) -> String {
    let estimate = &result.estimate;
    let value = result.value.value();
    let rounded = round_to_uncertainty(value, (value - result.low).max(result.high - value));
    let design = match estimate.design {
        AdditionDesign::FreshElectrodes => {
            format!("{} electrodes, a fresh one for each measurement", estimate.n_electrodes)
        }
        AdditionDesign::FollowedElectrodes { .. } => {
            format!("{} electrodes followed through the additions", estimate.n_electrodes)
        }
    };
    format!(
        "{sample}: {rounded} {} by standard addition ({} % interval); {design}; {} additions",
        result.value.kind(),
        percent(estimate.coverage),
        estimate.additions.len().saturating_sub(1)
    )
}

pub(crate) fn matrix(matrix: &MatrixComparison) -> String {
    let [low, high] = matrix.ratio_interval.map(|ratio| 100.0 * (ratio - 1.0));
    let bound = percent(matrix.demands.bound);
    let slopes = format!(
        "the slope in this sample differs from that of the external calibration by {:+.1} % ({low:+.1} to {high:+.1} %)",
        100.0 * (matrix.ratio - 1.0)
    );
    match matrix.effect {
        MatrixEffect::Differs => format!(
            "external calibration cannot be defended here: {slopes}; report the standard addition, and measure samples of this kind by it. Additions from another stock than stated would look the same: check that stock against a standard"
        ),
        MatrixEffect::WithinBound if matrix.p < matrix.demands.alpha => format!(
            "a matrix effect is seen, but it stays within {bound} %: {slopes}; one of {} % is ruled out",
            percent(matrix.ruled_out)
        ),
        MatrixEffect::WithinBound => format!(
            "no matrix effect seen, and one of {} % would have been seen (bound {bound} %): {slopes}",
            percent(matrix.ruled_out)
        ),
        MatrixEffect::CannotTell => format!(
            "cannot tell whether the matrix matters: {slopes}, and one of {} % is not ruled out (bound {bound} %); measure more electrodes, or add more",
            percent(matrix.ruled_out)
        ),
    }
}

pub(crate) fn matrix_cautions(matrix: &MatrixComparison, result: &AdditionResult) -> Vec<Remark> {
    let background = &matrix.background;
    let mut remarks = Vec::new();
    if background.p < BACKGROUND_ALPHA {
        remarks.push(warned(format!(
            "the external calibration has a signal at level zero (p {}); standard addition takes such a signal for {} {} of analyte",
            probability(background.p),
            three_digits(background.shift),
            result.value.kind()
        )));
    }
    if matrix.effect == MatrixEffect::Differs {
        remarks.push(Remark {
            effect: Effect::Noted,
            words: format!(
                "the external calibration would have read {} {} for the sample itself",
                three_digits(matrix.external_reading),
                result.value.kind()
            ),
        });
    }
    remarks
}

pub(crate) fn cautions(estimate: &AdditionEstimate) -> Vec<Remark> {
    let mut remarks = Vec::new();
    if !estimate.is_above_zero() {
        remarks.push(warned(
            "the interval holds zero: it is not shown that the sample holds the analyte".to_owned(),
        ));
    }
    if estimate.reach < SHORT_REACH {
        remarks.push(warned(format!(
            "the largest addition is only {:.2} of the result, which lies far beyond the line; add about as much as the sample holds",
            estimate.reach
        )));
    }
    if estimate.design == (AdditionDesign::FollowedElectrodes { is_balanced: false }) {
        remarks.push(warned(
            "not every followed electrode saw every addition; the interval is approximate".to_owned(),
        ));
    }
    remarks
}

pub(crate) fn bent(test: &CurvatureTest, alpha: f64) -> String {
    let which = if test.t < 0.0 { "flattens" } else { "steepens" };
    format!(
        "the line {which} with the additions (p {}, limit {alpha}); a bent line must not be extended to zero signal: dilute the sample, or add less",
        probability(test.p)
    )
}

pub(crate) fn without_calibration(key: &GroupKey, is_there: bool) -> String {
    let what = if is_there { "no accepted external calibration" } else { "no standards" };
    format!("{what} for {}; it cannot be told whether the matrix matters", key.label())
}

pub(crate) fn not_compared(error: &str) -> String {
    format!("slopes not compared: {error}")
}

pub(crate) fn temperatures_apart(low_c: f64, high_c: f64, tolerance_k: f64) -> String {
    format!(
        "the vials of one series were measured at {low_c:.1} to {high_c:.1} °C, tolerance {tolerance_k} K: what the correction is wrong by does not cancel between them"
    )
}

pub(crate) fn below_zero(result: &AdditionResult) -> String {
    format!("the whole interval lies below zero, up to {} {}", three_digits(result.high), result.value.kind())
}

pub(crate) fn no_peak(scan: &str) -> String {
    format!("{scan} shows no peak where the additions or the result say that there is analyte")
}

pub(crate) fn hangs_on_the_background(shift: f64, result: &AdditionResult) -> String {
    format!(
        "the external calibration's signal at level zero stands for {} {}; without it the verdict would be another",
        three_digits(shift),
        result.value.kind()
    )
}

pub(crate) fn steeper(ratio: f64) -> String {
    format!(
        "the line is {:+.0} % steeper than that of the standards, and the result below a limit: additions from a stock stronger than stated would do just this",
        100.0 * (ratio - 1.0)
    )
}

pub(crate) fn stands_against_the_calibration(reading: f64, result: &AdditionResult) -> String {
    format!(
        "below a limit by standard addition, above it by the external calibration, which reads {} {}: additions from a stock stronger than stated would do just this",
        three_digits(reading),
        result.value.kind()
    )
}

/// Said of the same sample read off the calibration.
pub(crate) fn matters(matrix: &MatrixComparison) -> String {
    let [low, high] = matrix.ratio_interval.map(|ratio| 100.0 * (ratio - 1.0));
    format!(
        "additions to this sample have a slope {:+.1} % from that of the standards ({low:+.1} to {high:+.1} %): external calibration cannot be defended here",
        100.0 * (matrix.ratio - 1.0)
    )
}

pub(crate) fn left_out(scan: &str, reason: &str) -> String {
    format!("{scan} is left out: {reason}")
}

fn percent(share: f64) -> String {
    let value = 100.0 * share;
    if (value - value.round()).abs() < 0.05 { format!("{value:.0}") } else { format!("{value:.1}") }
}

fn probability(p: f64) -> String {
    if p < 0.0001 { "below 0.0001".to_owned() } else { format!("{p:.4}") }
}

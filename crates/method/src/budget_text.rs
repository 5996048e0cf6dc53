//! The sentences beside a budget, side by side.

use stillwell_assure::Component;
use stillwell_quantity::{QuantityKind, round_down, round_up};

use crate::budget_beside::{BatchChecks, RetestOutlook};

pub(crate) const REFERENCES_WITHOUT_U: &str =
    "the method states no uncertainty of its levels (level_relative_u), so the references count as exact";

pub(crate) const SAME_STOCK: &str = "check standards and spikes of the stock that made the calibration share its error: only a reference from elsewhere shows that";

pub(crate) fn one_batch(n_checks: usize, n_batches: usize) -> String {
    format!(
        "{n_checks} check standard(s) in {n_batches} batch(es) show no reproducibility from day to day; check standards of 8 or more batches are usual, 2 are the least"
    )
}

pub(crate) fn fewer_electrodes(fewest: u32, planned: u32) -> String {
    format!(
        "check standards were measured on {fewest} strip(s), samples on {planned}: they scatter more for that alone"
    )
}

pub(crate) fn few_checks(n_checks: usize, n_batches: usize, usual: usize) -> String {
    format!("{n_checks} check standards in {n_batches} batches; {usual} or more batches are usual")
}

pub(crate) fn few_comparisons(n_spikes: usize, usual: usize) -> String {
    format!(
        "the check standards' mean and {n_spikes} spike(s) stand behind the bias; {usual} or more references or recoveries are usual"
    )
}

pub(crate) fn no_performance(limit: &str) -> String {
    format!(
        "cannot be checked against {limit}: the limit lies beyond the calibrated range, or no quantification limit can be claimed"
    )
}

/// Why a component is not counted in the interval, and what that means.
pub const fn why_not_counted(component: Component) -> &'static str {
    match component {
        Component::Blank => {
            "the same blanks are subtracted from standards and samples, so most of their error cancels; how single blanks differ stands in the scatter of the electrodes"
        }
        Component::StandardsPreparation => {
            "the method states no level_relative_u: the standards count as exact, which nobody has shown"
        }
        Component::Repeatability => {
            "no more scans than the standards': it stands in the scatter of the electrode means"
        }
        Component::BetweenElectrodes => "each lot counts once; electrodes stand in the spread between lots",
        Component::BetweenLots => {
            "each lot has its own calibration, so lots do not enter; a lot that ages is drift"
        }
        Component::Temperature => {
            "measured at the calibration's temperature, or the method states no coefficient"
        }
        Component::Drift => {
            "the method states none: strips that age between calibration and sample are not in the interval; see the check standards"
        }
        Component::Recovery => {
            "the method states none: a matrix that takes a part of the signal is not in the interval; spikes and standard addition show it"
        }
        Component::Dilution => {
            "the sample is not diluted, or the run sheet states no uncertainty of the dilution"
        }
        _ => "nothing is stated",
    }
}

impl BatchChecks {
    fn undecided(&self) -> String {
        if self.undecided_with.is_empty() {
            return String::new();
        }
        format!(
            ", and the verdict against {} would be TOO CLOSE TO CALL: measure again before anything hangs on it",
            self.undecided_with.join(", ")
        )
    }

    /// What they show that the interval does not hold.
    pub fn words(&self, unit: &QuantityKind) -> Vec<String> {
        let mut words = Vec::new();
        if let (Some(drift), Some(half)) = (self.drift_percent, self.drift_half_width_percent) {
            let percent = format!("last less first: {drift:+.1} % ± {half:.1} %");
            words.push(if self.has_drifted() {
                format!("{percent}: the batch has DRIFTED by more than chance; the interval does not hold it")
            } else {
                format!("{percent}: no drift is shown, and one of less than {half:.1} % could not be seen")
            });
        } else {
            words.push("one moment only: drift within the batch cannot be seen".to_owned());
        }
        let errors = format!(
            "their errors are {} % (root mean square); the parts of the budget make {} % of them",
            round_up(self.rms_error_percent, 2),
            round_up(self.explained_percent, 2)
        );
        words.push(if self.unexplained_percent > 0.0 {
            format!(
                "{errors}: {} % are seen in the check standards and not in the interval; with them U would be {} {unit}",
                round_up(self.unexplained_percent, 2),
                round_up(self.expanded_with, 2)
            ) + &self.undecided()
        } else {
            format!("{errors}: covered by the interval, as far as {} moment(s) can show", self.checks.len())
        });
        words
    }
}

impl RetestOutlook {
    /// What a second look would take.
    pub fn words(&self, value: f64, strips: usize, unit: &QuantityKind) -> Vec<String> {
        let shared = self.uncertainty.shared().standard_uncertainty;
        let mut words = vec![format!(
            "{:.0} % of the variance is shared by every further determination (curve, standards, temperature, dilution): however often this water is measured on this calibration, u stays above {} {unit}",
            100.0 * self.shared_share,
            round_down(shared, 2)
        )];
        words.push(match &self.enough {
            Some((further, guard)) => format!(
                "a second and last look of {further} further determination(s) of {strips} fresh strip(s) each, fixed now and averaged with this one, would call a mean that stays at {} (nothing is called from {} to {} {unit}; risk {} % a side over both looks)",
                round_up(value, 3),
                round_down(guard.accept_up_to, 4),
                round_up(guard.reject_above, 4),
                round_up(100.0 * self.risk, 2)
            ),
            None => format!(
                "no number of further determinations up to 30 on this calibration would call a mean that stays at {}: calibrate anew with more strips near the limit, or send the sample to a laboratory",
                round_up(value, 3)
            ),
        });
        words.extend(self.at_best.iter().map(|guard| {
            format!(
                "at the very best, with any number of them, nothing is called from {} to {} {unit}",
                round_down(guard.accept_up_to, 4),
                round_up(guard.reject_above, 4)
            )
        }));
        words.push("the mean will not stay: decide the number beforehand, use all results, and stop there; measuring until one passes proves nothing".to_owned());
        words
    }
}

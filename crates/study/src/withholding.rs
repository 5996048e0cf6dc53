//! Why a study withholds a verdict, as a finding among those of the chain.

use stillwell_method::{Check, Effect, Finding};

use crate::act::{DeterminationAct, Withholding};
use crate::day::{hours_between, moments_of};
use crate::numbered::Numbered;

/// The shortest and the longest time in hours between two texts' moments.
fn held_h(taken: &str, measured: &str) -> Option<[f64; 2]> {
    let ([first, last], [begin, end]) = (moments_of(taken)?, moments_of(measured)?);
    Some([hours_between(last, begin).max(0.0), hours_between(first, end)])
}

/// The finding that a result which somebody took back leaves about its sample.
pub(crate) fn not_in_force(one: &Numbered<DeterminationAct>) -> Option<Finding> {
    let standing = &one.standing;
    let taken_back = standing.taken_back().filter(|_| standing.leaves_unknown())?;
    Some(Finding {
        check: Check::ResultNotInForce,
        effect: Effect::Withheld,
        subject: one.act.result.sample.clone(),
        found: format!("result {} was {taken_back}", one.label),
        overridden: None,
    })
}

impl Withholding {
    /// Which check it is.
    pub fn check(&self) -> Check {
        match self {
            Self::CalibrationExpired { .. }
            | Self::CalibrationEnded { .. }
            | Self::CalibrationRefused { .. }
            | Self::CalibrationWithdrawn { .. } => Check::CalibrationNotInForce,
            Self::LotExpired { .. } => Check::LotExpired,
            Self::HeldTooLong { .. } | Self::TakenAfterMeasured { .. } => Check::HeldTooLong,
            Self::ControlChart { .. } => Check::ControlChart,
        }
    }

    /// What was found, with its days.
    pub fn found(&self) -> String {
        match self {
            Self::CalibrationExpired { last_day, measured } => {
                format!(
                    "the calibration's last day was {last_day}, and the sample was measured on {measured}"
                )
            }
            Self::CalibrationEnded { on, what, measured } => {
                format!("the calibration ended on {on} ({what}), and the sample was measured on {measured}")
            }
            Self::CalibrationRefused { what } => format!("the approver refused the calibration: {what}"),
            Self::CalibrationWithdrawn { what } => format!("the calibration was withdrawn: {what}"),
            Self::LotExpired { last_day, measured } => {
                format!("the lot's last day was {last_day}, and the sample was measured on {measured}")
            }
            Self::HeldTooLong { taken, holding_time_h, measured } => {
                let found =
                    format!("taken {taken}, to be measured within {holding_time_h} h, measured {measured}");
                match held_h(taken, measured) {
                    None => {
                        format!("{found}: no moment that can be read, so that nothing shows it was in time")
                    }
                    Some([least, most]) if least <= *holding_time_h => format!(
                        "{found}: by the end of that day up to {most:.0} h, so that nothing shows it was in time"
                    ),
                    Some(_) => found,
                }
            }
            Self::TakenAfterMeasured { taken, measured } => {
                format!("taken {taken} by its custody record, and measured on {measured}, before that")
            }
            Self::ControlChart { chart, what } => format!("{chart} over all series: {what}"),
        }
    }

    /// The finding about a sample, as the chain words its own.
    pub fn finding(&self, sample: &str) -> Finding {
        Finding {
            check: self.check(),
            effect: Effect::Withheld,
            subject: sample.to_owned(),
            found: self.found(),
            overridden: None,
        }
    }
}

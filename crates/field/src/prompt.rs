//! What the operator is asked to do now: which text, and how long to wait.

use crate::campaign::{Campaign, Well};
use crate::run::{Run, Stage, Work};
use crate::strip::Purpose;

/// The next step.
#[derive(Debug, Clone, PartialEq)]
pub struct Prompt {
    /// The key of its text.
    pub text: &'static str,
    /// The word of the deed that is asked for.
    pub deed: &'static str,
    /// The well, once it is chosen.
    pub well: Option<Well>,
    /// What the strip is for, once a well is chosen: `control`, `sample` or `second`.
    pub purpose: Option<&'static str>,
    /// When the step may be taken, where a timer runs.
    pub wait: Option<Wait>,
}

/// A timer of the device's steady clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wait {
    /// The steady clock at the step before, ms.
    pub since_steady_ms: u64,
    /// At least so long after it, s.
    pub least_s: f64,
    /// At most so long after it, s.
    pub most_s: f64,
}

impl Prompt {
    /// Keys of every text that a prompt may name.
    pub const TEXTS: [&'static str; 11] = [
        "step-well",
        "step-strip-control",
        "step-strip-sample",
        "step-strip-second",
        "step-temperature-control",
        "step-temperature-water",
        "step-rinse",
        "step-apply-control",
        "step-apply-water",
        "step-start",
        "step-file",
    ];

    /// What a run asks for; none where it is over.
    pub fn of(campaign: &Campaign, run: &Run) -> Option<Self> {
        match run.stage() {
            Stage::AtWell => {
                Some(Self { text: "step-well", deed: "well", well: None, purpose: None, wait: None })
            }
            Stage::AtWork { well, purpose, work, .. } => {
                let (text, deed, wait) = asked(campaign, purpose, work);
                let (well, purpose) = (Some(well.get().clone()), Some(purpose.word()));
                Some(Self { text, deed, well, purpose, wait })
            }
            Stage::Over(_) => None,
        }
    }
}

fn asked(campaign: &Campaign, purpose: &Purpose, work: &Work) -> (&'static str, &'static str, Option<Wait>) {
    let timers = &campaign.timers;
    let is_control = matches!(purpose, Purpose::Control);
    let wait = |since_steady_ms, least_s, most_s| Some(Wait { since_steady_ms, least_s, most_s });
    match work {
        Work::Strip => match purpose {
            Purpose::Control => ("step-strip-control", "strip", None),
            Purpose::Sample(_) => ("step-strip-sample", "strip", None),
            Purpose::Second(_, first) => {
                ("step-strip-second", "strip", wait(first.at().steady_ms(), 0.0, timers.second_most_s))
            }
        },
        Work::Temperature(_) if is_control => ("step-temperature-control", "temperature", None),
        Work::Temperature(_) => ("step-temperature-water", "temperature", None),
        Work::Rinse(tempered) => {
            ("step-rinse", "rinse", wait(tempered.at().steady_ms(), 0.0, timers.temperature_most_s))
        }
        Work::Apply(rinsed) => {
            let text = if is_control { "step-apply-control" } else { "step-apply-water" };
            (text, "apply", wait(rinsed.at().steady_ms(), timers.rinse_least_s, timers.rinse_most_s))
        }
        Work::Start(applied) => {
            ("step-start", "start", wait(applied.at().steady_ms(), timers.wait_least_s, timers.wait_most_s))
        }
        Work::File(started) => {
            ("step-file", "file", wait(started.at().steady_ms(), timers.scan_least_s, timers.file_most_s))
        }
    }
}

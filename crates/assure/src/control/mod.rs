//! Control charts: is the measurement today what it was when it was shown to work?
//!
//! In: points in order of time ([`ChartPoint`]) and where their limits come from ([`Training`]). Out: a [`Chart`] with its state,
//! each alarm with its rule and since when, and the words. [`release`] turns checks and charts into the determinations that must be
//! withheld, back to the last good check.
//!
//! Start at [`judge_chart`]. What is known only as a bound is never charted as zero.

mod ageing;
mod chart;
mod constants;
mod cusum;
mod ewma;
mod limits;
mod point;
mod release;
mod run_rules;
mod subgroups;
mod wording;

pub use ageing::{Ageing, AgeingState, ageing};
pub use chart::{Chart, ChartSettings, ChartState, PointState, Signal, Trained, Training, judge_chart};
pub use constants::{ChartConstants, chart_constants};
pub use cusum::{CusumPoint, CusumSettings, cusum, cusum_average_run_length};
pub use ewma::{EwmaPoint, EwmaSettings, EwmaWidth, ewma};
pub use limits::{
    ChartLimits, FEWEST_TRAINING_POINTS, GOOD_TRAINING_POINTS, LimitBasis, RISK_OF_THREE_SIGMA, SpreadFrom,
};
pub use point::{
    ChartPoint, Charted, PointValue, date_of, day_of, recovery_percent, relative_difference_percent,
    spike_recovery_percent,
};
pub use release::{CheckOutcome, QualityEvent, Reason, ReleaseRule, Withheld, release};
pub use run_rules::{RunFinding, RunRule, Side, run_findings};
pub use subgroups::{
    CentreAndLimits, SubgroupLimits, limits_from_ranges, limits_from_standard_deviations, limits_prespecified,
};

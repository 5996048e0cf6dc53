//! Which standards belong to which scans: one lot on one channel.

use crate::file::{CalibrationScope, Method};
use crate::link::GroupKey;
use crate::run_sheet::Row;

/// The calibration that a scan belongs to.
pub(crate) fn group_of(method: &Method, row: &Row) -> GroupKey {
    let lot = match method.calibration.per {
        CalibrationScope::Lot => row.lot.clone(),
        CalibrationScope::AllLots => String::new(),
    };
    GroupKey { lot, channel: row.channel.clone() }
}

/// The middle of some numbers; the lower of the two middles where their count is even.
pub(crate) fn median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len().checked_sub(1)? / 2;
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

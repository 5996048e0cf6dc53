//! `determine --show-chain SAMPLE --format json`.

use schemars::JsonSchema;
use serde::Serialize;
use stillwell_method::{Determination, Report};

use super::MethodJson;
use super::calibrations::{CalibrationJson, calibration};
use super::determinations::{DeterminationJson, determination};
use super::scans::{ScanJson, scan};

/// Determinations with every link.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    chains: Vec<ChainJson>,
}

#[derive(Serialize, JsonSchema)]
struct ChainJson {
    determination: DeterminationJson,
    scans: Vec<ScanJson>,
    calibration: Option<CalibrationJson>,
}

/// `determine --show-chain --format json`.
pub fn of(report: &Report, determinations: &[&Determination]) -> Document {
    let chain = |found: &Determination| ChainJson {
        determination: determination(report, found),
        scans: found
            .scans
            .iter()
            .filter_map(|place| report.scans.get(*place))
            .map(|link| scan(report, link))
            .collect(),
        calibration: found
            .calibration
            .and_then(|place| report.calibrations.get(place))
            .map(|link| calibration(report, link)),
    };
    Document {
        method: MethodJson::from(&report.method),
        chains: determinations.iter().map(|found| chain(found)).collect(),
    }
}

//! The chain: from raw scans to verdicts. The stranger's first file.
//!
//! Scan → signal → calibration → concentration → decision. Each link keeps what it was made from and what its checks
//! found; a check that refuses ends the chain with the reason, the numbers and the remedy.

use crate::addition::addition_links;
use crate::addition_verdict::withhold_where_the_matrix_matters;
use crate::batch::{Batch, batches};
use crate::calibration_links::calibration_links;
use crate::control::withhold_where_charts_are_out;
use crate::determination::{MethodLink, Report};
use crate::input::Input;
use crate::pairs::compare_pairs;
use crate::run_sheet::Role;
use crate::sample::SampleStep;
use crate::scan_links::scan_links;

/// Which numbers the chain makes. Raised with every change of the code that changes a bit of any number or finding, so that
/// a result of years ago that comes out otherwise today can be told from one that was changed.
pub const NUMBERS: u32 = 1;

/// Walks the chain for every sample of an input.
///
/// 1. every scan is checked as recorded, freed of its blank and turned into a signal: [`crate::ScanLink`];
/// 2. the standards of each lot and channel give a calibration on electrode means: [`crate::CalibrationLink`];
/// 3. check standards, zero standards and electrode controls release each batch, or withhold its verdicts;
/// 4. every sample gets its concentration with interval, temperature and dilution, or a bound, or a refusal;
/// 5. and a decision against each limit of the method: [`crate::Determination`]. Where standard additions to the same sample
///    show that its matrix matters, no verdict is drawn from the calibration; where a control chart is out of control, none back
///    to its last point in control.
///
/// It never fails: what cannot be determined is refused, sample by sample, with the reason.
///
/// # Units
/// Concentrations in the method's reporting unit and species.
///
/// # Source
/// Each link names its own: evaluation, calibration and decision in the rooms below.
pub fn determine(input: &Input) -> Report {
    let method = &input.method;
    let records = input.records();
    let (scans, standard_peaks) = scan_links(method, &records);
    let calibrations = calibration_links(method, &scans, &standard_peaks);
    let batches = batches(method, &scans, &calibrations);
    let step = SampleStep { method, scans: &scans, calibrations: &calibrations, batches: &batches };
    let mut determinations = step.determinations();
    compare_pairs(method, &scans, &mut determinations);
    let additions = addition_links(method, &scans, &calibrations, &batches);
    withhold_where_the_matrix_matters(&additions, &mut determinations);
    determinations.retain(|determination| determination.role != Role::Spike);
    let mut report = Report {
        method: MethodLink::from(method),
        batch_findings: batches.iter().flat_map(Batch::findings).collect(),
        scans,
        calibrations,
        determinations,
    };
    withhold_where_charts_are_out(method, &mut report);
    report
}

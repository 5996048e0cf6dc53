//! Links of the chain: each keeps what it was made from, so that a number can be walked back to its raw current.

use std::sync::Arc;

use stillwell_calibrate::Calibration;
use stillwell_evaluate::ClaimLimits;
use stillwell_quantity::Concentration;

use crate::finding::{Effect, Finding, refuses};
use crate::revision::Hash;
use crate::run_sheet::{Role, Row};

/// Where a raw scan lies: file, scan, lines, and the hash of the file's bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RawLink {
    /// File.
    pub file: String,
    /// 1-based scan within the file.
    pub scan: usize,
    /// First line of its numbers.
    pub first_line: usize,
    /// Last line of its numbers.
    pub last_line: usize,
    /// Columns of potential and current.
    pub columns: (usize, usize),
    /// BLAKE3 of the file's bytes.
    pub hash: Hash,
    /// How the file was understood, in one line.
    pub reading: String,
}

impl RawLink {
    /// `file, scan n`.
    pub fn label(&self) -> String {
        format!("{}, scan {}", self.file, self.scan)
    }
}

/// How the measured quantity was found in a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// As the maximum in the window.
    ByPeak,
    /// At the calibration's potential, without a search: zero standards and scans without a peak.
    AtFixedPotential,
}

/// The signal of one scan.
#[derive(Debug, Clone, PartialEq)]
pub struct SignalLink {
    /// The signal: A, or A·V for an area.
    pub signal: f64,
    /// The signal without the blank, for comparison.
    pub without_blank: Option<f64>,
    /// How it was found.
    pub found: Found,
    /// Potential of the vertex, V.
    pub peak_potential_v: Option<f64>,
    /// Width at half height, V.
    pub half_width_v: Option<f64>,
    /// Noise of the unsmoothed baseline residuals, A.
    pub noise_a: Option<f64>,
    /// Signal over noise.
    pub signal_to_noise: Option<f64>,
    /// Points replaced by despiking.
    pub despiked: usize,
    /// Index of the vertex, or of the fixed potential, within the scan.
    pub peak_index: usize,
    /// Baseline current under the vertex, A.
    pub baseline_at_peak_a: f64,
}

/// One scan of the run sheet on its way to a signal.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanLink {
    /// Its line of the run sheet.
    pub row: Row,
    /// Where the raw scan lies.
    pub raw: RawLink,
    /// The blanks that were subtracted; scans of one batch share the list.
    pub blanks: Arc<[RawLink]>,
    /// How many raw checks passed.
    pub checks_passed: usize,
    /// The signal, unless refused or excluded.
    pub signal: Option<SignalLink>,
    /// Checks that did not pass.
    pub findings: Vec<Finding>,
}

impl ScanLink {
    /// Whether the scan takes part in anything.
    pub fn counts(&self) -> bool {
        self.row.exclude.is_none()
    }

    /// Whether a check refuses it.
    pub fn is_refused(&self) -> bool {
        refuses(&self.findings)
    }

    /// The check that left no signal, with what it found.
    pub(crate) fn why_without_signal(&self) -> String {
        self.findings.iter().find(|finding| finding.is_in_force(Effect::Refused)).map_or_else(
            || "no signal".to_owned(),
            |finding| format!("{}: {}", finding.check.id(), finding.found),
        )
    }

    /// Whether this is a scan of `role` that takes part and has a signal.
    pub(crate) fn usable(&self, role: Role) -> bool {
        self.row.role == role && self.counts() && self.signal.is_some()
    }
}

/// The standards that belong together: one lot on one channel.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct GroupKey {
    /// Lot; empty for all lots, or where not stated.
    pub lot: String,
    /// Channel; empty where not stated.
    pub channel: String,
}

impl GroupKey {
    /// In words.
    pub fn label(&self) -> String {
        match (self.lot.is_empty(), self.channel.is_empty()) {
            (true, true) => "all standards".to_owned(),
            (false, true) => format!("lot {}", self.lot),
            (true, false) => format!("channel {}", self.channel),
            (false, false) => format!("lot {}, channel {}", self.lot, self.channel),
        }
    }
}

/// A calibration and what it rests on.
#[derive(Debug, Clone)]
pub struct CalibrationLink {
    /// Which standards.
    pub key: GroupKey,
    /// The calibration, unless it could not be made.
    pub calibration: Option<Calibration>,
    /// Hash over the standards' files and the frozen constants.
    pub hash: Hash,
    /// Places of the standards in [`crate::Report::scans`].
    pub standards: Vec<usize>,
    /// Potential of the peak, V: the median over the standards.
    pub peak_potential_v: Option<f64>,
    /// Mean temperature of the standards, °C.
    pub temperature_c: Option<f64>,
    /// Limits of detection and quantification in the reporting unit.
    pub detection: Option<DetectionClaim>,
    /// Findings: acceptance, exclusions, warnings.
    pub findings: Vec<Finding>,
}

impl CalibrationLink {
    /// Whether verdicts may rest on it: it was made, it passed its acceptance, a detection limit can be claimed, and nothing
    /// withholds what is read off it.
    pub fn is_accepted(&self) -> bool {
        let withholds = |finding: &Finding| finding.is_in_force(Effect::Withheld);
        self.calibration.is_some() && !refuses(&self.findings) && !self.findings.iter().any(withholds)
    }
}

/// The detection claim that the method makes for its results.
#[derive(Debug, Clone, PartialEq)]
pub struct DetectionClaim {
    /// Standard, clause, α, β, m and which s, in one line.
    pub basis: String,
    /// What must be read with it.
    pub notes: Vec<&'static str>,
    /// Above this an analyte is detected.
    pub decision_limit: Concentration,
    /// An amount of this size is missed with probability β only.
    pub detection_limit: Concentration,
    /// From here on a number is issued.
    pub quantification_limit: Concentration,
}

impl DetectionClaim {
    /// As the kernel takes it.
    pub(crate) fn limits(&self) -> ClaimLimits {
        ClaimLimits {
            decision_limit: self.decision_limit.value(),
            detection_limit: self.detection_limit.value(),
            quantification_limit: self.quantification_limit.value(),
        }
    }
}

//! Why a method or a calibration cannot be carried to a device.

use thiserror::Error;

/// A step that the device does not take, or constants that do not fit it.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TransferError {
    /// An iterative baseline needs several buffers of the scan's length and an unknown number of passes.
    #[error(
        "asymmetric least squares is an iterative baseline: it needs {needed_bytes} bytes of RAM beside the scan, the device has \
         none to spare; alternatives: {}", alternatives.join(", ")
    )]
    BaselineNotOnDevice {
        /// Bytes that it would need.
        needed_bytes: usize,
        /// Baselines that the device draws, as the method file names them.
        alternatives: &'static [&'static str],
    },
    /// The blank is moved along the potential before it is subtracted.
    #[error(
        "`blank = \"align\"` moves the blank scan by scan, which the device does not; alternatives: \"subtract\", \"ignore\""
    )]
    BlankAligned,
    /// An area whose limits move with the curve.
    #[error(
        "an area between the curve's own crossings is not measured on a device; alternatives: the area over the window, the height"
    )]
    AreaBetweenCrossings,
    /// The technique has no single passage of even steps, or no current.
    #[error(
        "the technique {technique} is not carried to a device; accepted: one passage of square-wave, differential-pulse, normal-pulse or linear-sweep kind"
    )]
    TechniqueNotOnDevice {
        /// As the method file names it.
        technique: &'static str,
    },
    /// One calibration for all lots.
    #[error(
        "one calibration serves all lots (`per = \"all-lots\"`); a device holds the record of one lot: accepted is `per = \"lot\"`"
    )]
    CalibrationOfAllLots,
    /// A sum of ratios over several analytes needs more than one determination.
    #[error(
        "the limit {limit} is a sum over several analytes, which one determination on a device cannot judge; leave it out of the device's method"
    )]
    LimitOnSum {
        /// The limit's identity.
        limit: String,
    },
    /// More limits than the device has places.
    #[error("{found} limits, a device judges against at most {accepted}")]
    TooManyLimits {
        /// Limits of the method.
        found: usize,
        /// Places.
        accepted: usize,
    },
    /// A limit that the method's numbers cannot be held against.
    #[error("the limit {limit} cannot be compared: {why}")]
    LimitNotComparable {
        /// The limit's identity.
        limit: String,
        /// The reason.
        why: String,
    },
    /// More electrodes a sample than the device has places.
    #[error("{found} electrodes a sample, a device takes at most {accepted}")]
    TooManyElectrodes {
        /// Electrodes of the method.
        found: u32,
        /// Places.
        accepted: u32,
    },
    /// The calibration was not made, or did not pass its acceptance.
    #[error("the calibration of {subject} is not accepted: {why}")]
    CalibrationNotAccepted {
        /// Which.
        subject: String,
        /// Its first finding in force.
        why: String,
    },
    /// Detection limits cannot be claimed for as many electrodes as the method foresees.
    #[error("no detection limit can be claimed for {electrodes} electrode(s)")]
    NoClaim {
        /// Electrodes.
        electrodes: u32,
    },
    /// The first standard cannot be evaluated on its grid, or the report belongs to another input.
    #[error("the standards of calibration {calibration} give no grid to freeze")]
    NothingToFreeze {
        /// Its place in the report.
        calibration: usize,
    },
    /// A grid that its own trust checks refuse.
    #[error("the grid of potentials does not pass its own check ({check}): found {found}, limit {limit}")]
    GridNotTrusted {
        /// The check.
        check: String,
        /// What it found.
        found: f64,
        /// What is accepted.
        limit: f64,
    },
    /// The scan is longer than the kernel counts.
    #[error("{found} points a scan, a device takes 3 to {accepted}")]
    TooManyPoints {
        /// Points.
        found: usize,
        /// Most.
        accepted: usize,
    },
    /// The kernel refuses the frozen settings.
    #[error("the kernel does not take the frozen constants: {0:?}")]
    SettingsNotUsable(stillwell_evaluate::Refusal),
    /// A lot's identity does not fit its record.
    #[error("the lot's identity \"{lot}\" has {found} bytes, its record holds {accepted}")]
    LotIdentityTooLong {
        /// The identity.
        lot: String,
        /// Bytes found.
        found: usize,
        /// Bytes accepted.
        accepted: usize,
    },
}

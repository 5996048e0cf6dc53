//! A result as a device sends it: no number without unit and species, and none that may not be shown.

use stillwell_quantity::{Concentration, QuantityKind};

use super::error::WireError;

/// Version of the record that is read and written here; `STW_WIRE_VERSION` of `c/wire.h`.
pub(crate) const VERSION: u32 = 1;

/// Most bytes of a device's name; `STW_WIRE_MOST_NAME`.
const MOST_NAME: usize = 48;

/// Most bytes of the lot's name, `stw_lot.lot`.
const MOST_LOT: usize = 32;

/// Trust checks, `STW_TRUST_CHECKS`.
const TRUST_CHECKS: u32 = 17;

/// Most limits, `STW_MOST_LIMITS`.
const MOST_LIMITS: usize = 4;

/// From here on a time is one since 1970 (RFC 8428, 4.5.3).
pub(crate) const FIRST_ABSOLUTE_TIME_S: u32 = 1 << 28;

/// One result as a device sends it.
#[derive(Debug, Clone, PartialEq)]
pub struct WireRecord {
    /// Name of the device.
    pub name: String,
    /// The device's count of its records.
    pub counter: u32,
    /// Seconds since 1970-01-01 UTC; none where the clock was not set.
    pub time_s: Option<u32>,
    /// Hash of the method revision.
    pub method: [u8; 32],
    /// The electrode lot.
    pub lot: String,
    /// Checksum of the lot record that was used: which of several of one lot.
    pub lot_checksum: u32,
    /// Hash of the calibration.
    pub calibration: [u8; 32],
    /// Unit and species of every number.
    pub kind: QuantityKind,
    /// What became of the sample, with its numbers.
    pub outcome: WireOutcome,
    /// One for each limit of the method, in its order.
    pub verdicts: Vec<WireVerdict>,
    /// `STW_WITHHELD_…`: why no verdict may be shown.
    pub withheld: u32,
    /// `STW_WARNS_…`.
    pub warnings: u32,
    /// Electrodes that the result rests on.
    pub n_electrodes: u32,
    /// Scans that the result rests on.
    pub n_scans: u32,
    /// Scans that were recorded for it, refused ones among them.
    pub n_offered: u32,
    /// Bit `i`: trust check `i` failed in some scan.
    pub trust_failed: u32,
    /// Bit `i`: trust check `i` could not be tested in some scan.
    pub trust_untested: u32,
    /// `STW_BECAUSE_…` of all scans.
    pub reasons: u32,
}

/// The numbers of a quantified sample.
#[derive(Debug, Clone, PartialEq)]
pub struct WireNumbers {
    /// Concentration in the sample.
    pub value: Concentration,
    /// Lower end of its interval.
    pub low: Concentration,
    /// Upper end.
    pub high: Concentration,
    /// Level in the measured solution, before the dilution is counted.
    pub level: Concentration,
    /// Standard uncertainty of the level, to first order.
    pub level_standard_u: Concentration,
}

/// What became of a sample. Only what may be shown has a place here.
#[derive(Debug, Clone, PartialEq)]
pub enum WireOutcome {
    /// A number.
    Quantified(Box<WireNumbers>),
    /// Less than this.
    BelowQuantification(Concentration),
    /// Not detected: less than this.
    NotDetected(Concentration),
    /// At least this.
    AboveRange(Concentration),
    /// No number.
    Refused {
        /// `STW_SAMPLE_…`.
        because: u32,
        /// `STW_FAULT_…`.
        fault: u32,
    },
}

impl WireOutcome {
    /// The code as in `STW_QUANTIFIED` and its like.
    pub fn code(&self) -> u32 {
        match self {
            Self::Quantified(_) => 1,
            Self::BelowQuantification(_) => 2,
            Self::NotDetected(_) => 3,
            Self::AboveRange(_) => 4,
            Self::Refused { .. } => 5,
        }
    }

    /// The word that stands in the line.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Quantified(_) => "quantified",
            Self::BelowQuantification(_) => "below-quantification",
            Self::NotDetected(_) => "not-detected",
            Self::AboveRange(_) => "above-range",
            Self::Refused { .. } => "refused",
        }
    }
}

/// A verdict on one limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WireVerdict {
    /// Below the limit.
    Below,
    /// Above it.
    Above,
    /// The interval holds the limit.
    TooCloseToCall,
    /// The measured substance cannot show it.
    NotDecidable,
    /// Decided, but must not be shown.
    Withheld,
}

impl WireVerdict {
    /// All of them, in the order of their codes from 1.
    pub const ALL: [Self; 5] =
        [Self::Below, Self::Above, Self::TooCloseToCall, Self::NotDecidable, Self::Withheld];

    /// The code as in `STW_BELOW` and its like.
    pub fn code(self) -> u32 {
        match self {
            Self::Below => 1,
            Self::Above => 2,
            Self::TooCloseToCall => 3,
            Self::NotDecidable => 4,
            Self::Withheld => 5,
        }
    }

    /// The word that stands in the line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Below => "below",
            Self::Above => "above",
            Self::TooCloseToCall => "too-close-to-call",
            Self::NotDecidable => "not-decidable",
            Self::Withheld => "withheld",
        }
    }
}

impl WireRecord {
    /// Whether it is one that `wire.c` could have written.
    ///
    /// # Errors
    /// The first field that is not.
    pub fn check(&self) -> Result<(), WireError> {
        check_name(&self.name)?;
        if self.lot.len() > MOST_LOT || self.lot.contains('\0') {
            return Err(WireError::unusable(
                "lot",
                format!("{:?}", self.lot),
                "at most 32 bytes, none of them zero",
            ));
        }
        if let Some(time_s) = self.time_s.filter(|time_s| *time_s < FIRST_ABSOLUTE_TIME_S) {
            return Err(WireError::unusable("bt", time_s.to_string(), "seconds since 1970, from 2^28 on"));
        }
        if self.verdicts.len() > MOST_LIMITS {
            let found = format!("{} verdicts", self.verdicts.len());
            return Err(WireError::unusable("verdicts_", found, "one for each limit, 4 at most"));
        }
        for (field, bits) in [("trust-failed", self.trust_failed), ("trust-untested", self.trust_untested)] {
            if bits >> TRUST_CHECKS != 0 {
                return Err(WireError::unusable(
                    field,
                    format!("{bits:#x}"),
                    "one bit for each of the 17 trust checks",
                ));
            }
        }
        let is_shown =
            |verdict: &WireVerdict| !matches!(verdict, WireVerdict::Withheld | WireVerdict::NotDecidable);
        if self.withheld != 0 && self.verdicts.iter().any(is_shown) {
            let found = "a verdict, although it is withheld";
            return Err(WireError::unusable("verdicts_", found, "no verdict beside a reason to withhold it"));
        }
        if matches!(self.outcome, WireOutcome::Refused { .. }) && self.verdicts.iter().any(is_shown) {
            return Err(WireError::unusable(
                "verdicts_",
                "a verdict on a refused sample",
                "none where there is no number",
            ));
        }
        Ok(())
    }
}

/// RFC 8428, 4.5.1.
fn check_name(name: &str) -> Result<(), WireError> {
    let is_allowed = |c: char| c.is_ascii_alphanumeric() || "-:./_".contains(c);
    let begins_well = name.starts_with(|c: char| c.is_ascii_alphanumeric());
    if begins_well && name.len() <= MOST_NAME && name.chars().all(is_allowed) {
        return Ok(());
    }
    let accepted = "1 to 48 of A-Z a-z 0-9 - : . / _, the first a letter or digit (RFC 8428, 4.5.1)";
    Err(WireError::unusable("bn", format!("{name:?}"), accepted))
}

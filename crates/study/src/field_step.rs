//! A step of a run in the field, as it stands in the ledger: what the operator did, when by the device's clocks, and what was
//! answered. What the steps mean is another room's matter; here they are kept.

use serde::{Deserialize, Serialize};

use crate::hash::Digest;

/// One step of one run, handed in once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FieldStep {
    /// Record of the campaign.
    pub campaign: Digest,
    /// Which run: a name that the device drew.
    pub run: String,
    /// Place in the run, from 1.
    pub place: u32,
    /// What tells a step handed in twice from two steps.
    pub key: String,
    /// Which device.
    pub device: String,
    /// When, by the device and by the receipt.
    pub when: StepTime,
    /// What was done.
    pub deed: Deed,
    /// The label that was scanned for it, where one was and it names what was chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// What was answered.
    pub answer: StepAnswer,
}

impl FieldStep {
    /// Texts in the content table that it rests on.
    pub(crate) fn contents(&self) -> Vec<Digest> {
        match &self.deed {
            Deed::File(file) => vec![file.raw],
            _ => Vec::new(),
        }
    }

    /// Readings that it rests on.
    pub(crate) fn readings(&self) -> Vec<Digest> {
        match &self.deed {
            Deed::File(file) => file.reading.into_iter().collect(),
            _ => Vec::new(),
        }
    }

    /// Records that it names.
    pub(crate) fn records(&self) -> Vec<Digest> {
        let mut named = vec![self.campaign];
        let StepAnswer::Taken { seen: Some(seen) } = &self.answer else { return named };
        if let StepSeen::Issued { series, determination } | StepSeen::Unknown { series, determination, .. } =
            seen
        {
            named.extend([*series, *determination]);
        }
        named
    }
}

/// When a step was taken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepTime {
    /// Which run of the device's steady clock: another word after each restart.
    pub boot: String,
    /// The device's steady clock at the step, ms.
    pub steady_ms: u64,
    /// The device's steady clock when the step was handed in, ms.
    pub handed_in_steady_ms: u64,
    /// The device's calendar clock at the step, ms since 1970, as the device has it; shown and never believed.
    pub device_clock_ms: i64,
    /// When it was received, ms since 1970.
    pub received_ms: i64,
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "deed", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Deed {
    /// A well was chosen by its code.
    Well {
        /// The code.
        code: String,
    },
    /// A strip was chosen by the code of its lot and its number.
    Strip {
        /// Code of the lot.
        lot: String,
        /// Number of the strip.
        number: u32,
    },
    /// The temperature of what will be measured.
    Temperature {
        /// °C.
        temperature_c: f64,
    },
    /// Rinsing was begun.
    Rinse,
    /// The drop was applied.
    Apply,
    /// The scan was started.
    Start,
    /// The file of the scan was handed in.
    File(StepFile),
    /// The run was given up.
    Abandon {
        /// Why, one of the words that the device offers.
        why: String,
    },
    /// The run was left open for too long and was closed by the receipt.
    Overdue,
}

impl Deed {
    /// The word.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Well { .. } => "well",
            Self::Strip { .. } => "strip",
            Self::Temperature { .. } => "temperature",
            Self::Rinse => "rinse",
            Self::Apply => "apply",
            Self::Start => "start",
            Self::File(_) => "file",
            Self::Abandon { .. } => "abandon",
            Self::Overdue => "overdue",
        }
    }
}

/// A raw file that was handed in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepFile {
    /// The name that it has in the study.
    pub name: String,
    /// Hash of its bytes.
    pub raw: Digest,
    /// Hash of the scans read from it; none where it could not be read.
    pub reading: Option<Digest>,
    /// Number of the scans.
    pub n_scans: usize,
}

/// What was answered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum StepAnswer {
    /// The run went on.
    Taken {
        /// What the scan showed, after a file.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        seen: Option<StepSeen>,
    },
    /// The step was not taken.
    Refused {
        /// Which refusal.
        code: String,
        /// The words and numbers that its text names.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        with: Vec<(String, String)>,
    },
}

/// What a scan showed. It holds no verdict: that stands in the determination, and may be withheld later.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "seen", rename_all = "kebab-case")]
pub enum StepSeen {
    /// The electrode control reads what it should.
    Alive {
        /// What it read, in the chain's words.
        found: String,
    },
    /// The electrode control does not.
    NotAlive {
        /// What was found.
        found: String,
    },
    /// The scan cannot be used; another strip may be taken.
    Unusable {
        /// Which check.
        check: String,
        /// What was found.
        found: String,
    },
    /// The result lies near the limit, or nothing was detected: a second strip is asked for.
    SecondStrip {
        /// What was found.
        found: String,
    },
    /// Two strips disagree.
    Disagree {
        /// What was found.
        found: String,
    },
    /// The water was determined, without a verdict that could be given out.
    Unknown {
        /// Record of the series.
        series: Digest,
        /// Record of the determination.
        determination: Digest,
        /// Which check.
        check: String,
        /// What was found.
        found: String,
    },
    /// The water was determined.
    Issued {
        /// Record of the series.
        series: Digest,
        /// Record of the determination.
        determination: Digest,
    },
}

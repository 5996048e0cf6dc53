//! What a record can say: one act each, as it stands in the ledger's JSON.
//!
//! Fields are only ever added, and new ones are optional: a record of an older version must keep its meaning.

use serde::{Deserialize, Serialize};

use crate::campaign::CampaignAct;
use crate::field_step::FieldStep;
use crate::hash::Digest;
use crate::laboratory::LaboratoryAct;
use crate::result::{CalibrationResult, DecisionText, DeterminationResult, ScanRef};

/// One act. Its JSON is the record's body; the key `act` names the kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Act {
    /// The study was made.
    Founding(Founding),
    /// The method, or a new revision of it.
    Revision(Revision),
    /// Raw files were taken in; a series names them later.
    Files(Files),
    /// A run sheet with its raw files.
    Series(Series),
    /// A scan is left out.
    Exclusion(Exclusion),
    /// A scan is used although a check did not pass.
    Override(OverrideAct),
    /// An exclusion or an override no longer holds.
    Undo(Undo),
    /// A calibration was made.
    Calibration(Box<CalibrationAct>),
    /// Until when a calibration may be used.
    Validity(Validity),
    /// Something happened that ends a calibration's validity.
    Trigger(Trigger),
    /// A determination was issued.
    Determination(Box<DeterminationAct>),
    /// Someone was given a role and a key.
    Key(KeyAct),
    /// An approver's signed word on a calibration or determination.
    Approval(Approval),
    /// An issued result or a calibration no longer counts.
    Withdrawal(Withdrawal),
    /// What is known of a lot of electrodes.
    Lot(Lot),
    /// Where a sample comes from.
    Custody(Custody),
    /// Another study's ledger was taken in.
    Merge(Merge),
    /// Which wells are measured in the field, with what.
    Campaign(CampaignAct),
    /// A step of a run in the field was handed in.
    FieldStep(Box<FieldStep>),
    /// A calibration was carried to a device.
    Transfer(Transfer),
    /// A laboratory's results in the same waters were taken in.
    Laboratory(LaboratoryAct),
}

impl Act {
    /// The kind as it stands in the ledger.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Founding(_) => "founding",
            Self::Revision(_) => "revision",
            Self::Files(_) => "files",
            Self::Series(_) => "series",
            Self::Exclusion(_) => "exclusion",
            Self::Override(_) => "override",
            Self::Undo(_) => "undo",
            Self::Calibration(_) => "calibration",
            Self::Validity(_) => "validity",
            Self::Trigger(_) => "trigger",
            Self::Determination(_) => "determination",
            Self::Key(_) => "key",
            Self::Approval(_) => "approval",
            Self::Withdrawal(_) => "withdrawal",
            Self::Lot(_) => "lot",
            Self::Custody(_) => "custody",
            Self::Merge(_) => "merge",
            Self::Campaign(_) => "campaign",
            Self::FieldStep(_) => crate::field_desk::KIND,
            Self::Transfer(_) => "transfer",
            Self::Laboratory(_) => "laboratory",
        }
    }

    /// Whom or what it is about: a sample, a lot, a series' name.
    pub fn subject(&self) -> String {
        match self {
            Self::Founding(founding) => founding.name.clone(),
            Self::Revision(revision) => revision.name.clone(),
            Self::Files(_) => String::new(),
            Self::Series(series) => series.name.clone(),
            Self::Exclusion(Exclusion { scan, .. }) | Self::Override(OverrideAct { scan, .. }) => {
                scan.label()
            }
            Self::Calibration(calibration) => calibration.result.lot.clone(),
            Self::Validity(Validity { calibration: target, .. })
            | Self::Trigger(Trigger { calibration: target, .. })
            | Self::Approval(Approval { target, .. })
            | Self::Withdrawal(Withdrawal { target, .. })
            | Self::Undo(Undo { target })
            | Self::Transfer(Transfer { calibration: target, .. }) => target.to_string(),
            Self::Determination(determination) => determination.result.sample.clone(),
            Self::Key(key) => key.name.clone(),
            Self::Lot(lot) => lot.lot.clone(),
            Self::Custody(custody) => custody.sample.clone(),
            Self::Merge(merge) => merge.chain.to_string(),
            Self::Campaign(campaign) => campaign.name.clone(),
            Self::FieldStep(step) => step.run.clone(),
            Self::Laboratory(laboratory) => laboratory.file.clone(),
        }
    }

    /// Texts in the content table that the act rests on.
    pub(crate) fn contents(&self) -> Vec<Digest> {
        match self {
            Self::Revision(revision) => vec![revision.text],
            Self::Files(files) => files.files.iter().map(|file| file.raw).collect(),
            Self::Series(series) => {
                let raw = series.files.iter().map(|file| file.raw);
                raw.chain([series.run_sheet]).collect()
            }
            Self::Campaign(campaign) => vec![campaign.text],
            Self::Laboratory(laboratory) => vec![laboratory.text],
            Self::FieldStep(step) => step.contents(),
            _ => Vec::new(),
        }
    }

    /// Readings of raw files that the act rests on.
    pub(crate) fn readings(&self) -> Vec<Digest> {
        match self {
            Self::Files(Files { files }) | Self::Series(Series { files, .. }) => {
                files.iter().map(|file| file.reading).collect()
            }
            Self::FieldStep(step) => step.readings(),
            _ => Vec::new(),
        }
    }

    /// Earlier records that the act names.
    pub(crate) fn records(&self) -> Vec<Digest> {
        match self {
            Self::Exclusion(Exclusion { series, .. }) | Self::Override(OverrideAct { series, .. }) => {
                vec![*series]
            }
            Self::Calibration(act) => vec![act.series, act.revision],
            Self::Validity(Validity { calibration, .. }) | Self::Trigger(Trigger { calibration, .. }) => {
                vec![*calibration]
            }
            Self::Determination(act) => {
                let own = [Some(act.series), Some(act.revision), act.calibration, act.lot, act.custody];
                own.into_iter().flatten().chain(act.borrowed.iter().copied()).chain(act.replaces).collect()
            }
            Self::Key(act) => act.voucher.iter().map(|voucher| voucher.key).collect(),
            Self::Approval(act) => vec![act.target, act.signature.key],
            Self::Withdrawal(Withdrawal { target, .. }) | Self::Undo(Undo { target }) => vec![*target],
            Self::Lot(act) => vec![act.signature.key],
            Self::Campaign(act) => act.calibrations.iter().copied().chain([act.revision]).collect(),
            Self::FieldStep(step) => step.records(),
            Self::Transfer(act) => vec![act.revision, act.calibration, act.lot, act.signature.key],
            _ => Vec::new(),
        }
    }
}

/// The study was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Founding {
    /// The study's name.
    pub name: String,
    /// Drawn at random, so that no two studies begin alike.
    pub nonce: String,
    /// Version of the software.
    pub software: String,
}

/// The method, or a new revision of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Revision {
    /// Name of the method.
    pub name: String,
    /// Revision as the laboratory counts it.
    pub revision: String,
    /// Hash of the method's canonical form: its identity.
    pub method: Digest,
    /// Hash of the file's text.
    pub text: Digest,
}

/// A raw file as it was taken in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileEntry {
    /// Name, as the run sheet has it. Data, never a path.
    pub name: String,
    /// Hash of the bytes.
    pub raw: Digest,
    /// Hash of the scans that were read from it.
    pub reading: Digest,
}

/// Raw files that were taken in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Files {
    /// The files.
    pub files: Vec<FileEntry>,
}

/// A run sheet with its raw files: what was measured together and is evaluated together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Series {
    /// Name: that of the folder.
    pub name: String,
    /// Hash of the run sheet's text.
    pub run_sheet: Digest,
    /// The raw files, sorted by name.
    pub files: Vec<FileEntry>,
    /// Number of scans.
    pub n_scans: usize,
}

impl Series {
    /// What makes two series the same: run sheet and files, not the folder's name.
    pub(crate) fn is_same_as(&self, other: &Self) -> bool {
        self.run_sheet == other.run_sheet && self.files == other.files
    }
}

/// A scan is left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Exclusion {
    /// Record of the series.
    pub series: Digest,
    /// Which scan.
    pub scan: ScanRef,
    /// Whether it stood in the run sheet from the start.
    pub from_run_sheet: bool,
}

/// A scan is used although a check did not pass.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OverrideAct {
    /// Record of the series.
    pub series: Digest,
    /// Which scan.
    pub scan: ScanRef,
    /// Identity of the check.
    pub check: String,
    /// Whether it stood in the run sheet from the start.
    pub from_run_sheet: bool,
}

/// An exclusion or an override no longer holds; its record stays.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Undo {
    /// Hash of its record.
    pub target: Digest,
}

/// A calibration was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalibrationAct {
    /// Record of the series that holds its standards.
    pub series: Digest,
    /// Record of the method revision.
    pub revision: Digest,
    /// Everything about it.
    pub result: CalibrationResult,
    /// Version of the software.
    pub software: String,
    /// Which numbers that software makes; 0 where it did not yet say so.
    #[serde(default, skip_serializing_if = "is_not_said")]
    pub numbers: u32,
}

/// Until when a calibration may be used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Validity {
    /// Record of the calibration.
    pub calibration: Digest,
    /// Last day on which a sample may be measured, `2026-06-11`.
    pub last_day: String,
    /// What ends it earlier, in words: "new reference electrode".
    pub triggers: Vec<String>,
    /// An approver's, where one signed; without it the statement cannot extend what was stated before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signature: Option<Signature>,
}

/// Something happened that ends a calibration's validity.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Trigger {
    /// Record of the calibration.
    pub calibration: Digest,
    /// Day on which it happened, `2026-06-01`: samples from that day on are without a valid calibration.
    pub on: String,
}

/// A determination was issued.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DeterminationAct {
    /// Record of the series.
    pub series: Digest,
    /// Record of the method revision.
    pub revision: Digest,
    /// Record of the calibration, where there is one.
    pub calibration: Option<Digest>,
    /// Calibrations of other series whose standards were evaluated with this one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub borrowed: Vec<Digest>,
    /// Exclusions and overrides count up to this record of each ledger.
    pub as_of: Vec<AsOf>,
    /// Record of the lot, where it is known.
    pub lot: Option<Digest>,
    /// Record of the sample's custody, where it is known.
    pub custody: Option<Digest>,
    /// The result with all its numbers.
    pub result: DeterminationResult,
    /// Why the study lets no verdict be drawn from it.
    pub withheld: Vec<Withholding>,
    /// The result that this one takes the place of.
    pub replaces: Option<Digest>,
    /// Version of the software.
    pub software: String,
    /// Which numbers that software makes; 0 where it did not yet say so.
    #[serde(default, skip_serializing_if = "is_not_said")]
    pub numbers: u32,
}

impl DeterminationAct {
    /// The decisions that may be shown: none while the study or the chain withholds them.
    pub fn verdicts(&self) -> &[DecisionText] {
        if self.withheld.is_empty() { self.result.verdicts() } else { &[] }
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "so it is asked")]
fn is_not_said(numbers: &u32) -> bool {
    *numbers == 0
}

/// How far a ledger had grown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct AsOf {
    /// Which ledger: hash of its first record.
    pub chain: Digest,
    /// Number of its records.
    pub seq: u64,
}

/// Why the study lets no verdict be drawn although the chain would.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "because", rename_all = "kebab-case")]
pub enum Withholding {
    /// The sample was measured after the calibration's last day.
    CalibrationExpired {
        /// Its last day.
        last_day: String,
        /// The day of the measurement.
        measured: String,
    },
    /// Something ended the calibration's validity before the sample was measured.
    CalibrationEnded {
        /// The day.
        on: String,
        /// What happened.
        what: String,
        /// The day of the measurement.
        measured: String,
    },
    /// The approver refused the calibration.
    CalibrationRefused {
        /// Why.
        what: String,
    },
    /// The calibration was withdrawn.
    CalibrationWithdrawn {
        /// Why.
        what: String,
    },
    /// The lot was past its expiry.
    LotExpired {
        /// Its last day.
        last_day: String,
        /// The day of the measurement.
        measured: String,
    },
    /// The sample was measured later than its preservation allows.
    HeldTooLong {
        /// The day it was taken.
        taken: String,
        /// The longest time allowed, in hours.
        holding_time_h: f64,
        /// The day of the measurement.
        measured: String,
    },
    /// The custody record says that the sample was taken after it was measured.
    TakenAfterMeasured {
        /// When it was taken, by the record.
        taken: String,
        /// Day of the measurement.
        measured: String,
    },
    /// A control chart over several series is out of control.
    ControlChart {
        /// Which: "check standard recovery chart".
        chart: String,
        /// Why it withholds this sample, with the last good point.
        what: String,
    },
}

/// What someone may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StudyRole {
    /// Records, and signs lots.
    Analyst,
    /// Approves what others recorded.
    Approver,
}

impl StudyRole {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Analyst => "analyst",
            Self::Approver => "approver",
        }
    }
}

/// Someone was given a role and a key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeyAct {
    /// Who.
    pub name: String,
    /// What they may do.
    pub role: StudyRole,
    /// Ed25519 public key, 64 hexadecimal digits.
    pub public_key: Digest,
    /// An approver who was there before; only the first approver has none.
    pub voucher: Option<Signature>,
}

/// A signature and the key that made it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signature {
    /// Record of the key.
    pub key: Digest,
    /// Ed25519, 128 hexadecimal digits.
    pub signature: String,
}

/// An approver's word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Word {
    /// It may be relied on.
    Approved,
    /// It may not.
    Refused,
}

/// An approver's signed word on a calibration or determination.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Approval {
    /// Hash of the record.
    pub target: Digest,
    /// Approved or refused.
    pub word: Word,
    /// Over target, word, reason and study.
    pub signature: Signature,
}

/// An issued result, a calibration, a campaign, a key or a laboratory's results no longer count.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Withdrawal {
    /// Hash of the record.
    pub target: Digest,
    /// An approver's over target, reason and study, where one signed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signature: Option<Signature>,
}

/// What is known of a lot of electrodes, apart from the method, so that a new lot never means a new method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Lot {
    /// Identity of the lot, as the run sheet has it.
    pub lot: String,
    /// What it is of and who made it, in words.
    pub identity: String,
    /// Last day of use, `2027-03-31`.
    pub last_day: String,
    /// How it is to be stored.
    pub storage: String,
    /// Stated sensitivity, A per unit of the method's results.
    pub sensitivity_a_per_unit: Option<f64>,
    /// Stated signal of the blank, A.
    pub blank_a: Option<f64>,
    /// Over all of the above and the study.
    pub signature: Signature,
}

/// Where a sample comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Custody {
    /// Identity of the sample, as the run sheet has it.
    pub sample: String,
    /// Where it was taken.
    pub place: String,
    /// When it was taken: a day, or a moment `2026-05-12T08:30:00Z`.
    pub taken: String,
    /// Who took it.
    pub taken_by: String,
    /// How it was preserved.
    pub preservation: String,
    /// The longest time until it must be measured, in hours.
    pub holding_time_h: Option<f64>,
    /// Dilution in the field or on receipt, in words.
    pub dilution: String,
}

/// Another study's ledger was taken in, up to its head.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Merge {
    /// Hash of the other ledger's first record.
    pub chain: Digest,
    /// Number of records that this study holds of it.
    pub seq: u64,
    /// Hash of the last of them.
    pub head: Digest,
}

/// A calibration was carried to a device: a package of C with the lot's record was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Transfer {
    /// Record of the method revision.
    pub revision: Digest,
    /// Record of the calibration.
    pub calibration: Digest,
    /// Record of the lot.
    pub lot: Digest,
    /// Hash of the package's list of checksums: it stands for every byte of it.
    pub package: Digest,
    /// Last day on which the device may use the lot's record, `2026-06-11`.
    pub last_day: String,
    /// Version of the software.
    pub software: String,
    /// An approver's, over all of the above and the study.
    pub signature: Signature,
}

//! What the chain yields: for every sample a determination, or a refusal, and the links it came by.

use stillwell_assure::Decision;
use stillwell_quantity::{Concentration, QuantityKind};

use crate::check::Check;
use crate::file::Method;
use crate::finding::{Effect, Finding};
use crate::link::{CalibrationLink, ScanLink};
use crate::revision::Hash;
use crate::run_sheet::Role;

/// Everything that one input yields.
#[derive(Debug, Clone)]
pub struct Report {
    /// The revision that was used.
    pub method: MethodLink,
    /// Every scan of the run sheet, in its order.
    pub scans: Vec<ScanLink>,
    /// One for each lot and channel that has standards.
    pub calibrations: Vec<CalibrationLink>,
    /// Findings about batches: check standards, controls, bracketing.
    pub batch_findings: Vec<Finding>,
    /// One for each sample and duplicate, in the order of the run sheet.
    pub determinations: Vec<Determination>,
}

/// The method revision that a number came by.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodLink {
    /// Name.
    pub name: String,
    /// Revision as the laboratory counts it.
    pub revision: String,
    /// Hash of the canonical form.
    pub hash: Hash,
    /// Name of the analyte.
    pub analyte: String,
    /// Unit and species of every reported number.
    pub reported_as: QuantityKind,
}

impl From<&Method> for MethodLink {
    fn from(method: &Method) -> Self {
        Self {
            name: method.name.clone(),
            revision: method.revision.clone(),
            hash: method.hash,
            analyte: method.analyte.name.clone(),
            reported_as: method.analyte.reported_as.clone(),
        }
    }
}

/// What a determination came from. There is no determination without it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Provenance {
    /// The method revision.
    pub method: Hash,
    /// The calibration: a hash over its standards' scans and constants.
    pub calibration: Hash,
    /// The raw files of the sample's scans, each once.
    pub raw_files: Vec<(String, Hash)>,
}

/// A sample's result.
#[derive(Debug, Clone)]
pub struct Determination {
    /// Identity of the sample.
    pub sample: String,
    /// Sample, duplicate or spike.
    pub role: Role,
    /// Batch; empty where not stated.
    pub batch: String,
    /// Electrode lot; empty where not stated.
    pub lot: String,
    /// What was added to a spike.
    pub added: Option<Concentration>,
    /// Places of its scans in [`Report::scans`].
    pub scans: Vec<usize>,
    /// Place of its calibration in [`Report::calibrations`], where there is one.
    pub calibration: Option<usize>,
    /// The result, or the refusal.
    pub outcome: Outcome,
    /// Decision against each limit of the method; open where refused. While a verdict is withheld these are not to be shown.
    pub decisions: Vec<Decision>,
    /// Checks that did not pass.
    pub findings: Vec<Finding>,
}

impl Determination {
    /// Why no verdict is drawn although there is a number.
    pub fn withheld(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|finding| finding.is_in_force(Effect::Withheld))
    }

    /// Checks that refused a scan of it and were overridden by the analyst, each once, with the reason.
    pub fn overridden_refusals(&self) -> Vec<(Check, &str)> {
        let mut all: Vec<(Check, &str)> = Vec::new();
        for finding in self.findings.iter().filter(|finding| finding.effect == Effect::Refused) {
            let Some(reason) = finding.overridden.as_deref() else { continue };
            if !all.contains(&(finding.check, reason)) {
                all.push((finding.check, reason));
            }
        }
        all
    }

    /// Why no number is issued.
    pub fn refusals(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|finding| finding.is_in_force(Effect::Refused))
    }
}

/// The result of a sample.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// A concentration with its interval.
    Quantified(Estimate),
    /// More than the calibration covers.
    AboveRange(AboveRange),
    /// Detected, but too little to be quantified.
    BelowQuantification(LessThan),
    /// Not detected, with a living electrode control in the batch.
    NotDetected(LessThan),
    /// No number is issued; the findings say why.
    Refused,
}

impl Outcome {
    /// The word for a machine.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Quantified(_) => "quantified",
            Self::AboveRange(_) => "above-range",
            Self::BelowQuantification(_) => "below-quantification",
            Self::NotDetected(_) => "not-detected",
            Self::Refused => "refused",
        }
    }

    /// What it came from, unless refused.
    pub fn provenance(&self) -> Option<&Provenance> {
        match self {
            Self::Quantified(estimate) => Some(&estimate.provenance),
            Self::AboveRange(above) => Some(&above.provenance),
            Self::BelowQuantification(less) | Self::NotDetected(less) => Some(&less.provenance),
            Self::Refused => None,
        }
    }
}

/// A concentration in the original sample, with its interval at the stated coverage.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// Best estimate.
    pub value: Concentration,
    /// Lower end of the interval, in the same unit.
    pub low: f64,
    /// Upper end of the interval, in the same unit.
    pub high: f64,
    /// Coverage of the interval, two-sided.
    pub coverage: f64,
    /// Electrodes that the estimate rests on.
    pub electrodes: usize,
    /// Half widths of the interval's parts, in the same unit.
    pub parts: Vec<Part>,
    /// What it came from.
    pub provenance: Provenance,
}

impl Estimate {
    /// The expanded uncertainty: the larger half of the interval, so that value ± U covers it.
    pub fn expanded_u(&self) -> f64 {
        (self.high - self.value.value()).max(self.value.value() - self.low)
    }
}

/// One part of the interval's half width, in the unit of the estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What it comes from.
    pub name: &'static str,
    /// Its share of the half width below the estimate.
    pub below: f64,
    /// Its share of the half width above the estimate.
    pub above: f64,
}

/// More than the calibration covers.
#[derive(Debug, Clone, PartialEq)]
pub struct AboveRange {
    /// The sample holds at least this much.
    pub at_least: Concentration,
    /// Highest standard times the dilution.
    pub range_end: f64,
    /// Dilute the sample this many times more to get a number.
    pub dilute: f64,
    /// What it came from.
    pub provenance: Provenance,
}

/// Less than a bound.
#[derive(Debug, Clone, PartialEq)]
pub struct LessThan {
    /// The sample holds less than this.
    pub less_than: Concentration,
    /// The estimate behind it, kept for statistics, never shown as a result.
    pub estimate: f64,
    /// Lower end of the estimate's interval.
    pub low: f64,
    /// Upper end of the estimate's interval.
    pub high: f64,
    /// What it came from.
    pub provenance: Provenance,
}

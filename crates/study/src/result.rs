//! What calibrations and determinations look like in the ledger: every number whole, and what it came from.
//!
//! JSON numbers here are the shortest text that reads back as the same 64 bits; what JSON cannot say (no number,
//! infinite) is `null`. Constants of a calibration also stand as their bits.

use serde::{Deserialize, Serialize};
use stillwell_evaluate::Curve;
use stillwell_method::{
    CalibrationLink, Check, Determination, Estimate, Finding, Hash, LessThan, Outcome, RawLink, Report,
    ScanLink,
};
use stillwell_quantity::Concentration;

use crate::hash::Digest;

/// A scan of a raw file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ScanRef {
    /// Name of the file in its series.
    pub file: String,
    /// Number of the scan within the file, from 1.
    pub scan: usize,
}

impl ScanRef {
    /// `file, scan n`.
    pub fn label(&self) -> String {
        format!("{}, scan {}", self.file, self.scan)
    }
}

/// Why overridden checks no longer withhold a verdict.
pub(crate) const SIGNED: &str = "an approver signed the result";

/// A check that did not pass.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FindingText {
    /// Identity of the check.
    pub check: String,
    /// note, warning, withheld or refused.
    pub effect: String,
    /// What it is about.
    pub subject: String,
    /// What was found, with its numbers.
    pub found: String,
    /// Why the analyst uses it all the same, if so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub overridden: Option<String>,
}

impl FindingText {
    /// Whether it keeps a verdict from being drawn.
    pub fn is_withholding(&self) -> bool {
        self.effect == "withheld" && self.overridden.is_none()
    }

    /// An approver's signature stands for the checks that the analyst overrode: it is what the verdict waited for.
    pub(crate) fn lift_if_signed(&mut self) {
        if self.check == Check::OverriddenChecks.id() && self.is_withholding() {
            self.overridden = Some(SIGNED.to_owned());
        }
    }

    fn of(finding: &Finding) -> Self {
        Self {
            check: finding.check.id().to_owned(),
            effect: finding.effect.word().to_owned(),
            subject: finding.subject.clone(),
            found: finding.found.clone(),
            overridden: finding.overridden.clone(),
        }
    }
}

/// A calibration with its constants.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalibrationResult {
    /// Lot; empty for all lots, or where not stated.
    pub lot: String,
    /// Channel; empty where not stated.
    pub channel: String,
    /// The chain's hash over the standards' scans and the constants.
    pub hash: Digest,
    /// Whether samples may be read off it.
    pub accepted: bool,
    /// The constants; none where it could not be made.
    pub constants: Option<Constants>,
    /// Potential of the peak, V.
    pub peak_potential_v: Option<f64>,
    /// Mean temperature of the standards, °C.
    pub temperature_c: Option<f64>,
    /// Decision limit, detection limit, limit of quantification, in the unit of the results.
    pub limits: Option<[f64; 3]>,
    /// The standards.
    pub standards: Vec<ScanUsed>,
    /// Acceptance criteria that did not pass, and cautions.
    pub findings: Vec<FindingText>,
}

/// The frozen constants of a calibration, as numbers and as bits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Constants {
    /// `c0, c1, c2`.
    pub coefficients: [f64; 3],
    /// Lowest and highest level.
    pub levels: [f64; 2],
    /// Residual standard deviation, A.
    pub residual_sd_a: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: u32,
    /// All constants of the kernel in its order, 16 hexadecimal digits each.
    pub bits: Vec<String>,
}

impl Constants {
    fn of(curve: &Curve) -> Self {
        let all = curve
            .coefficients
            .iter()
            .chain(curve.unscaled_covariance.iter().flatten())
            .chain([&curve.residual_sd, &curve.t_quantile])
            .chain(&curve.relative_variance)
            .chain([&curve.level_min, &curve.level_max]);
        Self {
            coefficients: curve.coefficients,
            levels: [curve.level_min, curve.level_max],
            residual_sd_a: curve.residual_sd,
            degrees_of_freedom: curve.degrees_of_freedom,
            bits: all.map(|value| format!("{:016x}", value.to_bits())).collect(),
        }
    }
}

/// A scan that a number rests on, and the signal it gave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScanUsed {
    /// Which scan.
    #[serde(flatten)]
    pub scan: ScanRef,
    /// Hash of the raw file's bytes.
    pub raw: Digest,
    /// Electrode.
    pub electrode: String,
    /// Level of a standard.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<f64>,
    /// Signal, A or A·V; none where refused or left out.
    pub signal: Option<f64>,
    /// The blanks that were subtracted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub blanks: Vec<ScanRef>,
}

/// The result of a sample with everything it came from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DeterminationResult {
    /// Identity of the sample.
    pub sample: String,
    /// sample or duplicate.
    pub role: String,
    /// Batch; empty where not stated.
    pub batch: String,
    /// Lot; empty where not stated.
    pub lot: String,
    /// quantified, above-range, below-quantification, not-detected or refused.
    pub outcome: String,
    /// Unit and species of the numbers; empty where refused.
    pub unit: String,
    /// The numbers; none where refused.
    pub numbers: Option<Numbers>,
    /// Hash of the method that the chain used.
    pub method: Digest,
    /// The chain's hash of the calibration.
    pub calibration: Option<Digest>,
    /// The scans.
    pub scans: Vec<ScanUsed>,
    /// Decisions against the limits of the method.
    pub decisions: Vec<DecisionText>,
    /// Checks that did not pass.
    pub findings: Vec<FindingText>,
}

impl DeterminationResult {
    /// The decisions that may be shown: none while the chain withholds them.
    pub fn verdicts(&self) -> &[DecisionText] {
        if self.findings.iter().any(FindingText::is_withholding) { &[] } else { &self.decisions }
    }

    /// What makes two results results of the same thing.
    pub(crate) fn identity(&self) -> (&str, &str, &str, &str) {
        (&self.sample, &self.role, &self.batch, &self.lot)
    }
}

/// The numbers of a result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Numbers {
    /// Best estimate; above the range the least that the sample holds; below quantification the bound.
    pub value: f64,
    /// Lower end of the interval.
    pub low: Option<f64>,
    /// Upper end of the interval.
    pub high: Option<f64>,
    /// Coverage of the interval.
    pub coverage: Option<f64>,
    /// Electrodes that the estimate rests on.
    pub electrodes: Option<usize>,
    /// Parts of the interval's half widths: name, below, above.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<(String, f64, f64)>,
    /// Estimate behind a bound, kept for statistics, never a result.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub estimate: Option<f64>,
    /// Above the range: highest standard times the dilution, and how much more to dilute.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_end_and_dilute: Option<[f64; 2]>,
}

impl Numbers {
    /// The expanded uncertainty: the larger half of the interval, so that value ± U covers it.
    pub fn expanded_u(&self) -> Option<f64> {
        Some((self.high? - self.value).max(self.value - self.low?))
    }
}

/// A decision against a limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DecisionText {
    /// Identity of the limit.
    pub limit: String,
    /// below, above, too-close-to-call or not-decidable.
    pub code: String,
    /// The verdict in one sentence.
    pub words: String,
    /// Why, with the numbers.
    pub reason: String,
    /// Probability that the truth lies at or below the limit.
    pub conformance_probability: Option<f64>,
}

/// The method room's hash as ours.
pub(crate) fn digest_of(hash: &Hash) -> Digest {
    Digest::of_bytes(*hash.as_bytes())
}

pub(crate) fn calibration_result(report: &Report, link: &CalibrationLink) -> CalibrationResult {
    let standards = link.standards.iter().filter_map(|place| report.scans.get(*place));
    CalibrationResult {
        lot: link.key.lot.clone(),
        channel: link.key.channel.clone(),
        hash: digest_of(&link.hash),
        accepted: link.is_accepted(),
        constants: link.calibration.as_ref().map(|calibration| Constants::of(&calibration.curve)),
        peak_potential_v: link.peak_potential_v,
        temperature_c: link.temperature_c,
        limits: link.detection.as_ref().map(|claim| {
            [&claim.decision_limit, &claim.detection_limit, &claim.quantification_limit]
                .map(Concentration::value)
        }),
        standards: standards.map(scan_used).collect(),
        findings: link.findings.iter().map(FindingText::of).collect(),
    }
}

pub(crate) fn determination_result(report: &Report, found: &Determination) -> DeterminationResult {
    let scans = found.scans.iter().filter_map(|place| report.scans.get(*place));
    let calibration = found.calibration.and_then(|place| report.calibrations.get(place));
    DeterminationResult {
        sample: found.sample.clone(),
        role: found.role.word().to_owned(),
        batch: found.batch.clone(),
        lot: found.lot.clone(),
        outcome: found.outcome.word().to_owned(),
        unit: match found.outcome {
            Outcome::Refused => String::new(),
            _ => report.method.reported_as.to_string(),
        },
        numbers: numbers(&found.outcome),
        method: digest_of(&report.method.hash),
        calibration: calibration.map(|link| digest_of(&link.hash)),
        scans: scans.map(scan_used).collect(),
        decisions: found
            .decisions
            .iter()
            .map(|decision| DecisionText {
                limit: decision.limit_id.clone(),
                code: decision.code.code().to_owned(),
                words: decision.words.clone(),
                reason: decision.reason.clone(),
                conformance_probability: decision.conformance_probability,
            })
            .collect(),
        findings: found.findings.iter().map(FindingText::of).collect(),
    }
}

fn scan_used(link: &ScanLink) -> ScanUsed {
    let reference = |raw: &RawLink| ScanRef { file: raw.file.clone(), scan: raw.scan };
    ScanUsed {
        scan: reference(&link.raw),
        raw: digest_of(&link.raw.hash),
        electrode: link.row.electrode.clone(),
        level: link.row.level.as_ref().map(Concentration::value),
        signal: link.signal.as_ref().map(|signal| signal.signal),
        blanks: link.blanks.iter().map(reference).collect(),
    }
}

fn numbers(outcome: &Outcome) -> Option<Numbers> {
    match outcome {
        Outcome::Quantified(estimate) => Some(of_estimate(estimate)),
        Outcome::AboveRange(above) => Some(Numbers {
            value: above.at_least.value(),
            range_end_and_dilute: Some([above.range_end, above.dilute]),
            ..bare(above.at_least.value())
        }),
        Outcome::BelowQuantification(less) | Outcome::NotDetected(less) => Some(of_bound(less)),
        Outcome::Refused => None,
    }
}

fn bare(value: f64) -> Numbers {
    Numbers {
        value,
        low: None,
        high: None,
        coverage: None,
        electrodes: None,
        parts: Vec::new(),
        estimate: None,
        range_end_and_dilute: None,
    }
}

fn of_estimate(estimate: &Estimate) -> Numbers {
    let parts = estimate.parts.iter().map(|part| (part.name.to_owned(), part.below, part.above)).collect();
    Numbers {
        low: Some(estimate.low),
        high: Some(estimate.high),
        coverage: Some(estimate.coverage),
        electrodes: Some(estimate.electrodes),
        parts,
        ..bare(estimate.value.value())
    }
}

fn of_bound(less: &LessThan) -> Numbers {
    Numbers {
        low: Some(less.low),
        high: Some(less.high),
        estimate: Some(less.estimate),
        ..bare(less.less_than.value())
    }
}

//! The table and its rows.

use super::evidence::{ValidationEvidence, ValidationRequirements};
use super::{rows, wording};

/// A criterion of validation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Criterion {
    /// Levels that the calibration covers.
    WorkingRange,
    /// How far signals keep to the curve.
    Linearity,
    /// Detection limit.
    DetectionLimit,
    /// Quantification limit.
    QuantificationLimit,
    /// Standard deviation within a day.
    Repeatability,
    /// Standard deviation of one determination on a day of its own.
    IntermediatePrecision,
    /// Bias against references.
    Trueness,
    /// Recovery of additions.
    Recovery,
    /// Interferents.
    Selectivity,
}

/// What a row says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowVerdict {
    /// The requirement is met, with the doubt of the evidence.
    Met,
    /// It is not met, with the doubt of the evidence.
    NotMet,
    /// Neither is shown.
    NotShown {
        /// What would show it.
        would_show: String,
    },
}

/// One row: criterion, evidence, requirement, verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct ValidationRow {
    /// The criterion.
    pub criterion: Criterion,
    /// What exactly: a reference, an interferent; empty where there is only one.
    pub subject: String,
    /// What was found, in `unit`.
    pub found: Option<f64>,
    /// Its 95 % interval, where there is one.
    pub interval: Option<[f64; 2]>,
    /// Unit of what was found.
    pub unit: String,
    /// Determinations, days or levels behind it.
    pub n: usize,
    /// Lowest and highest that is allowed, and who asks.
    pub requirement: Option<([f64; 2], String)>,
    /// The verdict.
    pub verdict: RowVerdict,
    /// Advice: outliers among the evidence, and the like. Nothing was left out on its account.
    pub advice: Vec<String>,
}

/// The whole table.
#[derive(Debug, Clone, PartialEq)]
pub struct ValidationTable {
    /// Its rows in the order of the criteria; every criterion has one at least.
    pub rows: Vec<ValidationRow>,
}

/// Makes the table.
///
/// # Units
/// Levels and limits in `unit`; the rest in %.
///
/// # Source
/// Criteria: ISO/IEC 17025:2017, 7.2.2, and the Eurachem guide on fitness for purpose of methods (2014). Precision: components of
/// variance after ISO 5725-3:1994 (factor: day), their intervals against the requirement. Trueness: ISO 5725-4 and JCGM 100 for the
/// reference's own uncertainty. Advice: ISO 5725-2:1994, Cochran and Grubbs.
///
/// # Example
/// ```
/// use stillwell_assure::validate::{Requirement, RowVerdict, ValidationEvidence, ValidationRequirements, validation_table};
/// let evidence = ValidationEvidence { quantification_limit: Some(6.0), ..ValidationEvidence::default() };
/// let asked = ValidationRequirements {
///     quantification_limit: Some(Requirement::new(15.0, "Directive (EU) 2020/2184, Annex III")),
///     ..ValidationRequirements::default()
/// };
/// let table = validation_table(&evidence, &asked, "mg/L");
/// assert_eq!(table.rows[3].verdict, RowVerdict::Met);
/// assert!(matches!(table.rows[0].verdict, RowVerdict::NotShown { .. }));
/// ```
pub fn validation_table(
    evidence: &ValidationEvidence,
    asked: &ValidationRequirements,
    unit: &str,
) -> ValidationTable {
    let mut rows = vec![
        rows::working_range(evidence, asked, unit),
        rows::linearity(evidence, asked),
        rows::limit(
            Criterion::DetectionLimit,
            evidence.detection_limit,
            asked.detection_limit.as_ref(),
            unit,
        ),
        rows::limit(
            Criterion::QuantificationLimit,
            evidence.quantification_limit,
            asked.quantification_limit.as_ref(),
            unit,
        ),
    ];
    rows.extend(rows::precision(evidence, asked));
    rows.extend(rows::trueness(evidence, asked));
    rows.push(rows::recovery(evidence, asked));
    rows.extend(rows::selectivity(evidence, asked));
    ValidationTable { rows }
}

impl ValidationTable {
    /// Whether every row is met.
    pub fn is_met(&self) -> bool {
        self.rows.iter().all(|row| row.verdict == RowVerdict::Met)
    }
}

impl ValidationRow {
    /// What was found, with its interval.
    pub fn evidence_words(&self) -> String {
        wording::evidence(self)
    }

    /// What is asked, and by whom.
    pub fn requirement_words(&self) -> String {
        wording::requirement(self)
    }

    /// The verdict, and what would show it.
    pub fn verdict_words(&self) -> String {
        wording::verdict(self)
    }
}

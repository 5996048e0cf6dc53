//! Are lots equivalent to the approved calibration, may they be adjusted, and what do strips scatter by? For all scans of a place.

use std::collections::BTreeSet;

use stillwell_assure::QualityError;
use stillwell_assure::lots::{
    AdjustmentRefused, EquivalenceRule, LotScatter, LotVerdict, OnePointAdjustment, OnePointRule,
    PartVerdict, lot_equivalence, lot_scatter, one_point_adjustment,
};

use crate::determination::Report;
use crate::file::Method;
use crate::link::GroupKey;
use crate::lot_reading::{LotReading, LotScans, lot_reading, readings_by_lot};
use crate::walks::{Walk, side_by_side};

/// Coverage of the intervals of the components of scatter.
const COVERAGE: f64 = 0.95;

/// What a person asks; what is not said is taken from the method.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LotAsked {
    /// The lot; all lots but the approved one where it is not said.
    pub lot: Option<String>,
    /// The lot of the approved calibration; that of the first accepted one where it is not said.
    pub approved: Option<String>,
    /// Margin of the sensitivity, %.
    pub margin_percent: Option<f64>,
    /// Margin of zeros, in the reporting unit.
    pub zero_margin: Option<f64>,
    /// Level of the adjustment; without it the highest level with four strips or more.
    pub level: Option<f64>,
}

/// Why no lot could be looked at.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum LotRefusal {
    /// No margin was stated before the lot was measured.
    #[error(
        "no margin is stated: how far may a lot's sensitivity lie from that of the approved calibration?"
    )]
    NoMargin,
    /// All lots share one calibration.
    #[error("the method calibrates all lots together, so no lot is approved by itself")]
    AllLotsTogether,
    /// No calibration that could be approved.
    #[error("there is no accepted calibration{}; lots: {}", .wanted.as_ref().map_or_else(String::new, |lot| format!(" of lot \"{lot}\"")), .known.join(", "))]
    NoCalibration {
        /// The lot that was named.
        wanted: Option<String>,
        /// Lots of the run sheet.
        known: Vec<String>,
    },
    /// One lot only.
    #[error("there is only one lot, {lot}, and it is the approved one: nothing to compare it with")]
    OneLotOnly {
        /// The lot.
        lot: String,
    },
    /// A lot that the run sheet does not name.
    #[error("there is no lot \"{wanted}\"; lots: {}", .known.join(", "))]
    NoSuchLot {
        /// What was named.
        wanted: String,
        /// Lots of the run sheet.
        known: Vec<String>,
    },
}

impl LotRefusal {
    /// What to do.
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::NoMargin => {
                "give --margin 5% for this once, or state lot_margin_percent under [calibration.acceptance] of the method"
            }
            Self::AllLotsTogether => "state per = \"lot\" under [calibration] to judge lots one by one",
            Self::NoCalibration { .. } => {
                "measure the standards of the lot that is to be the approved one; stillwell calibrate shows why one was not accepted"
            }
            Self::OneLotOnly { .. } => {
                "measure strips of another lot at known levels: role standard or check-standard, with the lot in column lot"
            }
            Self::NoSuchLot { .. } => "name one of them, or leave --lot out to see all",
        }
    }
}

/// What one lot shows.
#[derive(Debug, Clone, PartialEq)]
pub struct LotFound {
    /// The lot.
    pub lot: String,
    /// Its strips on the approved calibration; none where no strip at a known level could be read.
    pub reading: Option<LotReading>,
    /// The verdict, or why there is none.
    pub verdict: Option<Result<LotVerdict, QualityError>>,
    /// The adjustment, or why it is not allowed; none where nothing can be adjusted.
    pub adjustment: Option<Result<OnePointAdjustment, Vec<AdjustmentRefused>>>,
}

/// All lots of a place beside the approved calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct LotReview {
    /// Lot and channel of the approved calibration.
    pub approved: GroupKey,
    /// What was asked.
    pub rule: EquivalenceRule,
    /// The reporting unit, as it is shown.
    pub unit: String,
    /// One for each lot.
    pub lots: Vec<LotFound>,
    /// One solution on strips of several lots.
    pub scans: Option<LotScans>,
    /// What its readings scatter by, or why that cannot be told.
    pub scatter: Option<Result<LotScatter, QualityError>>,
}

impl LotReview {
    /// Whether every lot is shown to be equivalent.
    pub fn all_equivalent(&self) -> bool {
        let is_equivalent = |found: &LotFound| matches!(&found.verdict, Some(Ok(verdict)) if verdict.verdict == PartVerdict::Equivalent);
        self.lots.iter().all(is_equivalent)
    }
}

/// Holds lots against the approved calibration.
///
/// # Units
/// Levels and readings in the method's reporting unit.
///
/// # Errors
/// [`LotRefusal`]: no margin, no approved calibration, one lot only, a lot that is not there.
///
/// # Source
/// [`lot_equivalence`], [`one_point_adjustment`], [`lot_scatter`].
pub fn lot_review(method: &Method, walks: &[Walk<'_>], asked: &LotAsked) -> Result<LotReview, LotRefusal> {
    let acceptance = &method.calibration.acceptance;
    let margin = asked.margin_percent.or(acceptance.lot_margin_percent).ok_or(LotRefusal::NoMargin)?;
    let zero_margin = asked.zero_margin.or(acceptance.lot_zero_margin);
    let rule = EquivalenceRule::new(margin, zero_margin);
    let none = || LotRefusal::NoCalibration { wanted: asked.approved.clone(), known: Vec::new() };
    let all = side_by_side(walks).ok_or_else(none)?;
    let (approved, names) = chosen(&all, asked)?;
    let unit = method.analyte.reported_as.to_string();
    let lots =
        names.iter().map(|lot| found(method, &all, (lot, &approved), (rule, &unit), asked.level)).collect();
    let scans = readings_by_lot(method, &all, &approved);
    let scatter = scans.as_ref().map(|scans| lot_scatter(&scans.lots, COVERAGE));
    Ok(LotReview { approved, rule, unit, lots, scans, scatter })
}

/// The approved calibration, and the lots that are asked about.
fn chosen(all: &Report, asked: &LotAsked) -> Result<(GroupKey, Vec<String>), LotRefusal> {
    let known: BTreeSet<&str> =
        all.scans.iter().map(|link| link.row.lot.as_str()).filter(|lot| !lot.is_empty()).collect();
    let known: Vec<String> = known.into_iter().map(str::to_owned).collect();
    let is_wanted = |lot: &str| asked.approved.as_ref().is_none_or(|wanted| wanted == lot);
    let mut accepted = all.calibrations.iter().filter(|link| link.is_accepted());
    let approved = accepted.find(|link| is_wanted(&link.key.lot)).map(|link| link.key.clone());
    let Some(approved) = approved else {
        return Err(LotRefusal::NoCalibration { wanted: asked.approved.clone(), known });
    };
    if approved.lot.is_empty() {
        return Err(LotRefusal::AllLotsTogether);
    }
    if let Some(wanted) = &asked.lot {
        if !known.contains(wanted) {
            return Err(LotRefusal::NoSuchLot { wanted: wanted.clone(), known });
        }
        return Ok((approved, vec![wanted.clone()]));
    }
    let others: Vec<String> = known.into_iter().filter(|lot| *lot != approved.lot).collect();
    if others.is_empty() {
        return Err(LotRefusal::OneLotOnly { lot: approved.lot });
    }
    Ok((approved, others))
}

fn found(
    method: &Method,
    all: &Report,
    (lot, approved): (&str, &GroupKey),
    (rule, unit): (EquivalenceRule, &str),
    level: Option<f64>,
) -> LotFound {
    let reading = lot_reading(method, all, lot, approved);
    let verdict = reading.as_ref().map(|read| lot_equivalence(lot, unit, &read.strips, read.shared, rule));
    let adjustment = match (&reading, &verdict) {
        (Some(read), Some(Ok(verdict))) => adjusted(method, read, verdict, level),
        _ => None,
    };
    LotFound { lot: lot.to_owned(), reading, verdict, adjustment }
}

fn adjusted(
    method: &Method,
    read: &LotReading,
    verdict: &LotVerdict,
    level: Option<f64>,
) -> Option<Result<OnePointAdjustment, Vec<AdjustmentRefused>>> {
    if verdict.verdict == PartVerdict::Equivalent {
        return None;
    }
    let rule = OnePointRule::default();
    let level = level.or_else(|| best_level(read, rule.fewest_strips))?;
    let at_level = (level, method.calibration.level_relative_u);
    one_point_adjustment(verdict, &read.strips, at_level, (read.range_top, read.approved?), rule).ok()
}

/// The level with the most strips, and of these the highest.
fn best_level(read: &LotReading, fewest: usize) -> Option<f64> {
    let strips_at = |level: f64| {
        read.strips.iter().filter(|strip| strip.level.total_cmp(&level).is_eq()).count().min(fewest)
    };
    let levels = read.strips.iter().map(|strip| strip.level).filter(|level| *level > 0.0);
    levels.max_by(|a, b| strips_at(*a).cmp(&strips_at(*b)).then(a.total_cmp(b)))
}

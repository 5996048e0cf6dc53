//! `[calibration]`: the curve, how it is accepted, and which detection limit is claimed.

use super::section::{Bounds, Reader, Section};

/// What the method demands of a calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationPlan {
    /// Form of the curve.
    pub model: ModelPlan,
    /// Weights of the fit.
    pub weights: WeightsPlan,
    /// Levels that the method foresees, in the reporting unit.
    pub levels: Vec<f64>,
    /// Electrodes on each level.
    pub electrodes: u32,
    /// Which standards belong to one calibration.
    pub per: CalibrationScope,
    /// Coverage of the intervals, two-sided.
    pub coverage: f64,
    /// Which detection and quantification limits are claimed.
    pub detection: DetectionWay,
    /// Risk of calling a blank detected.
    pub alpha: f64,
    /// Risk of missing what stands at the detection limit.
    pub beta: f64,
    /// Factor of the quantification limit: the half width of the interval is the level over this.
    pub quantification_factor: f64,
    /// Relative standard uncertainty that all standards share (stock, glassware).
    pub level_relative_u: f64,
    /// What must hold before the calibration is used.
    pub acceptance: AcceptancePlan,
}

/// Form of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ModelPlan {
    /// signal = c₀ + c₁ x.
    Line,
    /// signal = c₀ + c₁ x + c₂ x².
    Quadratic,
    /// signal = c₁ x; warned of.
    LineThroughOrigin,
}

/// Weights of the fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WeightsPlan {
    /// The same spread at all levels.
    None,
    /// A variance function of the level, fitted to the electrodes' spread.
    VarianceFunction,
    /// 1/x, refused where a standard stands at zero.
    InverseLevel,
    /// 1/x², refused where a standard stands at zero.
    InverseLevelSquared,
}

/// Which standards belong to one calibration.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CalibrationScope {
    /// Each electrode lot stands on its own standards.
    Lot,
    /// All lots together; the spread between lots is then in the residuals.
    AllLots,
}

/// Which detection and quantification limits are claimed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DetectionWay {
    /// ISO 11843-2, from the calibration.
    Iso11843,
    /// DIN 32645, from blank replicates.
    Din32645Blank,
    /// DIN 32645, from a low-level calibration.
    Din32645Calibration,
    /// 40 CFR 136 Appendix B, revision 2.
    Cfr136,
    /// 3.3 · s / slope, the common shorthand.
    Shorthand,
    /// The prediction band, for curves that are no straight line with intercept.
    PredictionBand,
}

/// What must hold before a calibration, or a batch, is used. What is not stated is not demanded.
#[derive(Debug, Clone, PartialEq)]
pub struct AcceptancePlan {
    /// Largest error of a back-calculated standard, % of its level.
    pub back_calculated_percent: Option<f64>,
    /// Smallest probability of the lack-of-fit test.
    pub lack_of_fit_alpha: Option<f64>,
    /// Smallest probability of Mandel's test of linearity.
    pub linearity_alpha: Option<f64>,
    /// Smallest probability of the tests of equal spread.
    pub homogeneity_alpha: Option<f64>,
    /// Smallest probability of a trend of the residuals with scan number.
    pub trend_alpha: Option<f64>,
    /// Largest process standard deviation, % of the mean level.
    pub process_sd_percent: Option<f64>,
    /// Largest error of a check standard, % of its level.
    pub check_standard_percent: f64,
    /// Every batch needs a check standard before and after its samples.
    pub bracketing: bool,
    /// Largest zero standard of a batch, as a fraction of the quantification limit.
    pub blank_fraction: f64,
    /// Largest error of an electrode control, % of its level.
    pub control_percent: f64,
    /// Accepted recovery of a spike, %.
    pub spike_recovery_percent: [f64; 2],
    /// Largest difference between duplicates, % of their mean.
    pub duplicate_percent: f64,
    /// Points that make the limits of each control chart; without it charts withhold nothing.
    pub chart_training_points: Option<u32>,
    /// Difference of a lot's sensitivity from that of the approved calibration that does not matter, %.
    pub lot_margin_percent: Option<f64>,
    /// Reading of a lot's zeros on the approved calibration that does not matter, in the reporting unit.
    pub lot_zero_margin: Option<f64>,
}

/// The detection ways by the word that the method file uses.
pub(crate) const DETECTION_WAYS: [(&str, DetectionWay); 6] = [
    ("iso-11843-2", DetectionWay::Iso11843),
    ("din-32645-blank", DetectionWay::Din32645Blank),
    ("din-32645-calibration", DetectionWay::Din32645Calibration),
    ("cfr-136-appendix-b", DetectionWay::Cfr136),
    ("shorthand-3.3", DetectionWay::Shorthand),
    ("prediction-band", DetectionWay::PredictionBand),
];

pub(super) fn calibration(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<CalibrationPlan> {
    let mut section = root.section(reader, "calibration");
    let model = section.choice(
        reader,
        "model",
        &[
            ("line", ModelPlan::Line),
            ("quadratic", ModelPlan::Quadratic),
            ("line-through-origin", ModelPlan::LineThroughOrigin),
        ],
    );
    if model.is_none() && section.raw("model").is_none() {
        section.missing(reader, "model", "\"line\"");
    }
    let weights = section.choice(
        reader,
        "weights",
        &[
            ("none", WeightsPlan::None),
            ("variance-function", WeightsPlan::VarianceFunction),
            ("1/x", WeightsPlan::InverseLevel),
            ("1/x2", WeightsPlan::InverseLevelSquared),
        ],
    );
    let levels = levels(reader, &mut section);
    let electrodes = section.count(reader, "electrodes", 1, 1000).unwrap_or(1);
    let per = section.choice(
        reader,
        "per",
        &[("lot", CalibrationScope::Lot), ("all-lots", CalibrationScope::AllLots)],
    );
    let coverage = section.number(reader, "coverage", Bounds::COVERAGE).unwrap_or(0.95);
    let detection = section.choice(reader, "detection", &DETECTION_WAYS);
    let alpha = section.number(reader, "alpha", Bounds::PROBABILITY).unwrap_or(0.05);
    let beta = section.number(reader, "beta", Bounds::PROBABILITY).unwrap_or(0.05);
    let quantification_factor =
        section.number(reader, "quantification_factor", Bounds::THREE_OR_MORE).unwrap_or(3.0);
    let level_relative_u = section.number(reader, "level_relative_u", Bounds::RELATIVE_U).unwrap_or(0.0);
    let acceptance = acceptance(reader, &mut section);
    section.finish(reader);
    Some(CalibrationPlan {
        model: model?,
        weights: weights.unwrap_or(WeightsPlan::None),
        levels,
        electrodes,
        per: per.unwrap_or(CalibrationScope::Lot),
        coverage,
        detection: detection.unwrap_or(DetectionWay::Iso11843),
        alpha,
        beta,
        quantification_factor,
        level_relative_u,
        acceptance,
    })
}

fn levels(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Vec<f64> {
    let levels = section.numbers(reader, "levels").unwrap_or_default();
    if levels.iter().any(|level| *level < 0.0) {
        let span = section.raw("levels").and_then(toml_edit::Item::span);
        reader.complain(span, "a level below zero", "accepted: levels of 0 and above");
    }
    levels
}

// Defaults of the batch are common practice, no source; each can be set by the method.
fn acceptance(reader: &mut Reader<'_>, section: &mut Section<'_>) -> AcceptancePlan {
    let mut inner = section.section(reader, "acceptance");
    let positive = Bounds::POSITIVE;
    let probability = Bounds::PROBABILITY;
    let plan = AcceptancePlan {
        back_calculated_percent: inner.number(reader, "back_calculated_percent", positive),
        lack_of_fit_alpha: inner.number(reader, "lack_of_fit_alpha", probability),
        linearity_alpha: inner.number(reader, "linearity_alpha", probability),
        homogeneity_alpha: inner.number(reader, "homogeneity_alpha", probability),
        trend_alpha: inner.number(reader, "trend_alpha", probability),
        process_sd_percent: inner.number(reader, "process_sd_percent", positive),
        check_standard_percent: inner.number(reader, "check_standard_percent", positive).unwrap_or(10.0),
        bracketing: inner.flag(reader, "bracketing").unwrap_or(true),
        blank_fraction: inner.number(reader, "blank_fraction", Bounds::FRACTION).unwrap_or(0.5),
        control_percent: inner.number(reader, "control_percent", positive).unwrap_or(20.0),
        spike_recovery_percent: inner.span_of(reader, "spike_recovery_percent").unwrap_or([80.0, 120.0]),
        duplicate_percent: inner.number(reader, "duplicate_percent", positive).unwrap_or(20.0),
        chart_training_points: inner.count(reader, "chart_training_points", 8, 1000),
        lot_margin_percent: inner.number(reader, "lot_margin_percent", positive),
        lot_zero_margin: inner.number(reader, "lot_zero_margin", positive),
    };
    inner.finish(reader);
    plan
}

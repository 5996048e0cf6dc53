//! Relative sensitivities of the prepared solutions to everything that may be off, and what follows from them.

use super::glassware::Bench;
use super::{Draw, Tool};

/// One thing that may be off; places count within the bench's lists and the sheet's solutions.
///
/// A piece of glass is off by the same amount whenever it is used, filling and delivery anew each time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum UncertaintySource {
    /// The stated concentration of a bought stock solution.
    StockConcentration,
    /// The weighed mass.
    Mass,
    /// Purity of the salt.
    Purity,
    /// Molar masses behind the analyte's share of the salt.
    AnalyteShare,
    /// Temperature of the stock against that of the flasks' calibration. Later dilutions cancel it: pipette and flask expand alike.
    Temperature,
    /// Calibration of a flask.
    FlaskCalibration(usize),
    /// Calibration of a glass pipette.
    PipetteCalibration(usize),
    /// Systematic error of an adjustable pipette.
    PistonCalibration(usize),
    /// Filling a solution to its mark.
    Filling(usize),
    /// Delivery of what a solution is made from.
    Delivery(usize),
}

/// Volume expansion of water, per K.
///
/// # Source
/// EURACHEM QUAM:2012, A1 (2.1e-4 per °C; the flask's own expansion is neglected).
pub(super) const WATER_EXPANSION_PER_K: f64 = 2.1e-4;

/// A standard uncertainty and how strongly, relatively, a solution depends on what it belongs to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Term {
    pub(super) source: UncertaintySource,
    /// In the source's own unit.
    pub(super) standard_u: f64,
    /// Relative change of the concentration per unit.
    pub(super) sensitivity: f64,
}

/// Triangular: values near the middle are likelier than those near the tolerance (QUAM A1).
fn triangular(half_width: f64) -> f64 {
    half_width / libm::sqrt(6.0)
}

pub(super) fn rectangular(half_width: f64) -> f64 {
    half_width / libm::sqrt(3.0)
}

/// Terms of filling one solution's flask.
pub(super) fn flask_terms(bench: &Bench, flask: usize, solution: usize) -> [Term; 2] {
    let (volume, tolerance, filling) = bench
        .flasks
        .get(flask)
        .map_or((f64::NAN, f64::NAN, f64::NAN), |f| (f.volume_ml, f.tolerance_ml, f.filling_sd_ml));
    let term = |source, standard_u| Term { source, standard_u, sensitivity: -1.0 / volume };
    [
        term(UncertaintySource::FlaskCalibration(flask), triangular(tolerance)),
        term(UncertaintySource::Filling(solution), filling),
    ]
}

/// Terms of drawing what one solution is made from.
pub(super) fn draw_terms(bench: &Bench, draw: &Draw, solution: usize) -> [Term; 2] {
    let (source, calibration, delivery) = match draw.tool {
        Tool::Pipette(place) => {
            let (tolerance, sd) = bench
                .pipettes
                .get(place)
                .map_or((f64::NAN, f64::NAN), |p| (p.tolerance_ml, p.delivery_sd_ml));
            (UncertaintySource::PipetteCalibration(place), triangular(tolerance), sd)
        }
        Tool::PistonPipette(place) => {
            let (systematic, sd) = bench
                .piston_pipettes
                .get(place)
                .map_or((f64::NAN, f64::NAN), |p| (p.systematic_ml, p.random_ml));
            (UncertaintySource::PistonCalibration(place), rectangular(systematic), sd)
        }
    };
    let n = f64::from(draw.aliquots);
    [
        Term { source, standard_u: calibration, sensitivity: 1.0 / draw.volume_ml },
        Term {
            source: UncertaintySource::Delivery(solution),
            standard_u: delivery,
            sensitivity: 1.0 / (draw.volume_ml * libm::sqrt(n)),
        },
    ]
}

/// Relative covariance of two solutions: terms of the same source belong together, others are independent.
pub(super) fn relative_covariance(a: &[Term], b: &[Term]) -> f64 {
    let mut sum = 0.0;
    for of_a in a {
        for of_b in b.iter().filter(|term| term.source == of_a.source) {
            sum += of_a.sensitivity * of_b.sensitivity * of_a.standard_u * of_b.standard_u;
        }
    }
    sum
}

//! The stock: weighed salt in a flask, or a bought solution with its certificate.

use super::budget::{
    Term, UncertaintySource, WATER_EXPANSION_PER_K, flask_terms, rectangular, relative_covariance,
};
use super::error::PreparationError;
use super::glassware::{Balance, Bench, Flask};

/// A salt that is weighed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Salt {
    /// Mass of analyte per mass of pure salt, from molar masses.
    pub analyte_share: f64,
    /// Relative standard uncertainty of it; that of tabulated molar masses is far below the rest.
    pub analyte_share_relative_u: f64,
    /// Mass of pure salt per mass weighed.
    pub purity: f64,
    /// Half width of its rectangular distribution.
    pub purity_half_width: f64,
    /// Stock concentrations that may be prepared, mg/L of analyte: at most what dissolves.
    pub stock_range_mg_per_l: [f64; 2],
}

/// Where the analyte comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StockSource {
    /// Weighed.
    Salt(Salt),
    /// A solution with a certificate.
    Solution {
        /// Its concentration.
        concentration_mg_per_l: f64,
        /// Standard uncertainty of it.
        standard_u_mg_per_l: f64,
    },
}

/// A stock made from a weighed salt.
#[derive(Debug, Clone, PartialEq)]
pub struct WeighedStock {
    /// Concentration of the analyte.
    pub concentration_mg_per_l: f64,
    /// Standard uncertainty of it.
    pub standard_u_mg_per_l: f64,
    /// Contributions to it.
    pub parts: Vec<(UncertaintySource, f64)>,
}

/// Concentration and standard uncertainty of a stock: `c = 1000 m P f / V`.
///
/// Purity rectangular, calibration of the flask triangular, temperature rectangular through the expansion of water.
///
/// # Units
/// Mass in mg, volumes in mL, temperature half width in K, result in mg/L of analyte.
///
/// # Errors
/// [`PreparationError::NotUsable`] for a mass, purity or volume that is none.
///
/// # Source
/// EURACHEM QUAM:2012, A1.
///
/// # Example
/// ```
/// use stillwell_calibrate::{Balance, Flask, Salt, weighed_stock};
/// let metal = Salt { analyte_share: 1.0, analyte_share_relative_u: 0.0, purity: 0.9999, purity_half_width: 0.0001,
///     stock_range_mg_per_l: [1.0, 1e5] };
/// let balance = Balance { readability_mg: 0.0, linearity_mg: 0.0, repeatability_mg: 0.05, smallest_mass_mg: 10.0 };
/// let flask = Flask { volume_ml: 100.0, tolerance_ml: 0.1, filling_sd_ml: 0.02 };
/// let stock = weighed_stock(&metal, &balance, 100.28, flask, 4.0)?;
/// assert!((stock.concentration_mg_per_l - 1002.7).abs() < 0.05 && (stock.standard_u_mg_per_l - 0.835).abs() < 0.001);
/// # Ok::<(), stillwell_calibrate::PreparationError>(())
/// ```
pub fn weighed_stock(
    salt: &Salt,
    balance: &Balance,
    mass_mg: f64,
    flask: Flask,
    temperature_half_width_k: f64,
) -> Result<WeighedStock, PreparationError> {
    if !(mass_mg.is_finite() && mass_mg > 0.0) {
        let (what, accepted) = ("the weighed mass in mg", "a number above 0");
        return Err(PreparationError::NotUsable { what, found: mass_mg, accepted });
    }
    let source = StockSource::Salt(*salt);
    check(&source)?;
    let bench =
        Bench { flasks: vec![flask], pipettes: Vec::new(), piston_pipettes: Vec::new(), balance: *balance };
    super::demands::check_bench(&bench)?;
    let terms = terms(&source, &bench, mass_mg, 0, temperature_half_width_k);
    let concentration_mg_per_l = 1000.0 * mass_mg * salt.purity * salt.analyte_share / flask.volume_ml;
    let parts = terms
        .iter()
        .map(|term| (term.source, concentration_mg_per_l * term.sensitivity.abs() * term.standard_u))
        .collect();
    let standard_u_mg_per_l = concentration_mg_per_l * libm::sqrt(relative_covariance(&terms, &terms));
    Ok(WeighedStock { concentration_mg_per_l, standard_u_mg_per_l, parts })
}

/// Terms of the stock's concentration; mass and flask are meaningless for a bought solution.
pub(super) fn terms(
    source: &StockSource,
    bench: &Bench,
    mass_mg: f64,
    flask: usize,
    temperature_half_width_k: f64,
) -> Vec<Term> {
    let temperature = Term {
        source: UncertaintySource::Temperature,
        standard_u: rectangular(temperature_half_width_k),
        sensitivity: -WATER_EXPANSION_PER_K,
    };
    match source {
        StockSource::Salt(salt) => {
            let mut terms = vec![
                Term {
                    source: UncertaintySource::Mass,
                    standard_u: bench.balance.standard_u_mg(),
                    sensitivity: 1.0 / mass_mg,
                },
                Term {
                    source: UncertaintySource::Purity,
                    standard_u: rectangular(salt.purity_half_width),
                    sensitivity: 1.0 / salt.purity,
                },
                Term {
                    source: UncertaintySource::AnalyteShare,
                    standard_u: salt.analyte_share_relative_u,
                    sensitivity: 1.0,
                },
                temperature,
            ];
            terms.extend(flask_terms(bench, flask, 0));
            terms
        }
        StockSource::Solution { concentration_mg_per_l, standard_u_mg_per_l } => vec![
            Term {
                source: UncertaintySource::StockConcentration,
                standard_u: *standard_u_mg_per_l,
                sensitivity: 1.0 / concentration_mg_per_l,
            },
            temperature,
        ],
    }
}

pub(super) fn check(source: &StockSource) -> Result<(), PreparationError> {
    let refused = |what, found, accepted| Err(PreparationError::NotUsable { what, found, accepted });
    let is_positive = |value: f64| value.is_finite() && value > 0.0;
    let is_uncertainty = |value: f64| value.is_finite() && value >= 0.0;
    match *source {
        StockSource::Salt(salt) => {
            let [low, high] = salt.stock_range_mg_per_l;
            if !(salt.analyte_share > 0.0 && salt.analyte_share <= 1.0) {
                refused("the analyte's share of the salt", salt.analyte_share, "a number above 0, at most 1")
            } else if !(salt.purity > 0.0 && salt.purity <= 1.0) {
                refused("the purity", salt.purity, "a number above 0, at most 1")
            } else if !(salt.purity_half_width >= 0.0 && salt.purity_half_width < salt.purity) {
                refused("the half width of the purity", salt.purity_half_width, "0 or more, below the purity")
            } else if !is_uncertainty(salt.analyte_share_relative_u) {
                refused("the uncertainty of the analyte's share", salt.analyte_share_relative_u, "0 or more")
            } else if !(is_positive(low) && is_positive(high)) || low > high {
                refused("the range of stock concentrations", low, "two numbers above 0, the smaller first")
            } else {
                Ok(())
            }
        }
        StockSource::Solution { concentration_mg_per_l, standard_u_mg_per_l } => {
            if !is_positive(concentration_mg_per_l) {
                refused("the concentration of the stock", concentration_mg_per_l, "a number above 0")
            } else if !is_uncertainty(standard_u_mg_per_l) {
                refused("the standard uncertainty of the stock", standard_u_mg_per_l, "0 or more")
            } else {
                Ok(())
            }
        }
    }
}

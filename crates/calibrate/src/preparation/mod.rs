//! Standards preparation: from a weighed salt or a bought solution to the levels of a calibration, with their uncertainty.
//!
//! [`prepare_standards`] tries every stock, pipette and flask at hand and returns the scheme with the fewest solutions and the fewest
//! deliveries that meets the accuracy asked for. Levels of one stock are off together: the sheet holds their covariance.

mod budget;
mod demands;
mod error;
mod glassware;
mod search;
mod stock;

pub use budget::UncertaintySource;
pub use demands::PreparationDemands;
pub use error::PreparationError;
pub use glassware::{
    Balance, Bench, CLASS_A_FLASKS_ML, CLASS_A_PIPETTES_ML, Flask, PISTON_PIPETTES_ML, Pipette, PistonPipette,
};
pub use stock::{Salt, StockSource, WeighedStock, weighed_stock};

use budget::{Term, draw_terms, flask_terms, relative_covariance};
use search::{Made, Scheme, Search};

/// Which pipette, by its place on the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tool {
    /// A glass pipette.
    Pipette(usize),
    /// An adjustable pipette.
    PistonPipette(usize),
}

/// What is delivered into a flask.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Draw {
    /// With which pipette.
    pub tool: Tool,
    /// Volume of one delivery.
    pub volume_ml: f64,
    /// Number of deliveries.
    pub aliquots: u32,
}

impl Draw {
    /// Volume of all deliveries.
    pub fn total_ml(&self) -> f64 {
        self.volume_ml * f64::from(self.aliquots)
    }
}

/// One step of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Weigh the salt into the flask.
    Weigh {
        /// Mass, as the balance shows it.
        mass_mg: f64,
    },
    /// The bought solution, as it is.
    Bought,
    /// Deliver from another solution into the flask.
    Dilute {
        /// Place of that solution in [`BenchSheet::solutions`].
        from: usize,
        /// What is delivered.
        draw: Draw,
    },
}

/// One solution of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solution {
    /// How it is made.
    pub step: Step,
    /// Place of its flask on the bench; none for a bought solution.
    pub flask: Option<usize>,
    /// Concentration of the analyte.
    pub concentration_mg_per_l: f64,
    /// Relative standard uncertainty of it.
    pub relative_u: f64,
    /// The level that was wanted; none for stock and intermediate.
    pub level_mg_per_l: Option<f64>,
}

/// How to prepare the levels, and how well they are then known.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchSheet {
    /// Stock first, then the intermediate where there is one, then the levels in their order.
    pub solutions: Vec<Solution>,
    /// Whether level 0 was asked for: the electrolyte alone.
    pub has_zero_level: bool,
    /// Covariance of the levels above zero, (mg/L)², in their order.
    pub covariance: Vec<Vec<f64>>,
    /// Parts of each level's relative standard uncertainty, largest first.
    pub parts: Vec<Vec<(UncertaintySource, f64)>>,
}

impl BenchSheet {
    /// The prepared levels above zero, in their order.
    pub fn levels(&self) -> impl Iterator<Item = &Solution> {
        self.solutions.iter().filter(|solution| solution.level_mg_per_l.is_some())
    }
}

/// A scheme that prepares the levels with what stands on the bench.
///
/// Tried are all round stock concentrations, then those that meet the highest level exactly, then round ones with one
/// intermediate solution from all glass pipettes and flasks; each with all flasks for the stock, and for each level all pipettes, numbers
/// of deliveries and flasks. Among schemes that are accurate enough the one with the fewest deliveries is taken, then that with
/// the least volume, the roundest stock, the smallest uncertainty. Adjustable volumes and the mass are rounded to what can be set.
///
/// # Units
/// Concentrations in mg/L of analyte, volumes in mL, masses in mg, temperature in K.
///
/// # Errors
/// [`PreparationError`] for unusable numbers, an empty bench, a level that cannot be met, or not accurately enough.
///
/// # Source
/// Uncertainty of volumes and masses: EURACHEM QUAM:2012, A1 and A2. The search and its order: common practice, no source.
///
/// # Example
/// ```
/// use stillwell_calibrate::{Balance, Bench, Flask, Pipette, PreparationDemands, Salt, StockSource, prepare_standards};
/// let bench = Bench {
///     flasks: vec![Flask::class_a(100.0)?, Flask::class_a(250.0)?],
///     pipettes: vec![Pipette::class_a(1.0)?, Pipette::class_a(5.0)?, Pipette::class_a(10.0)?],
///     piston_pipettes: vec![],
///     balance: Balance { readability_mg: 0.1, linearity_mg: 0.2, repeatability_mg: 0.1, smallest_mass_mg: 100.0 },
/// };
/// let nitrate = StockSource::Salt(Salt { analyte_share: 62.004 / 101.102, analyte_share_relative_u: 0.0, purity: 0.999,
///     purity_half_width: 0.001, stock_range_mg_per_l: [100.0, 10000.0] });
/// let demands = PreparationDemands { levels_mg_per_l: vec![0.0, 10.0, 50.0, 100.0], largest_relative_u: 0.01,
///     level_tolerance: 0.002, volume_ml: 50.0, temperature_half_width_k: 4.0, most_aliquots: 2 };
/// let sheet = prepare_standards(&nitrate, &bench, &demands)?;
/// assert!(sheet.has_zero_level && sheet.levels().count() == 3);
/// assert!(sheet.levels().all(|level| level.relative_u < 0.01));
/// # Ok::<(), stillwell_calibrate::PreparationError>(())
/// ```
pub fn prepare_standards(
    source: &StockSource,
    bench: &Bench,
    demands: &PreparationDemands,
) -> Result<BenchSheet, PreparationError> {
    demands::check_bench(bench)?;
    demands::check_demands(bench, demands)?;
    stock::check(source)?;
    let levels: Vec<f64> = demands.levels_mg_per_l.iter().copied().filter(|level| *level > 0.0).collect();
    let allowed = demands.largest_relative_u * demands.largest_relative_u;
    let search = Search { source, bench, demands, levels: &levels, largest_relative_variance: allowed };
    match search.best() {
        Some(scheme) => sheet(bench, demands, &levels, &scheme),
        None => Err(reason(&search, demands)),
    }
}

fn reason(search: &Search<'_>, demands: &PreparationDemands) -> PreparationError {
    for level in search.levels {
        let alone = Search { levels: std::slice::from_ref(level), ..*search };
        match alone.least_relative_variance(*level) {
            None => {
                let tolerance_percent = 100.0 * demands.level_tolerance;
                return PreparationError::LevelNotMet { level: *level, tolerance_percent };
            }
            Some(least) if least > search.largest_relative_variance => {
                return PreparationError::NotAccurateEnough {
                    level: *level,
                    allowed_percent: 100.0 * demands.largest_relative_u,
                    best_percent: 100.0 * libm::sqrt(least),
                };
            }
            Some(_) => {}
        }
    }
    PreparationError::NotTogether
}

fn sheet(
    bench: &Bench,
    demands: &PreparationDemands,
    levels: &[f64],
    scheme: &Scheme,
) -> Result<BenchSheet, PreparationError> {
    let relative_u = |terms: &[Term]| libm::sqrt(relative_covariance(terms, terms));
    let stock = &scheme.stock;
    let mut solutions = vec![Solution {
        step: stock.weighed.map_or(Step::Bought, |(mass_mg, _)| Step::Weigh { mass_mg }),
        flask: stock.weighed.map(|(_, flask)| flask),
        concentration_mg_per_l: stock.concentration,
        relative_u: relative_u(&stock.terms),
        level_mg_per_l: None,
    }];
    let mut of_intermediate = Vec::new();
    if let Some(made) = &scheme.intermediate {
        of_intermediate = extended(bench, &stock.terms, made, 1);
        solutions.push(diluted(made, 0, relative_u(&of_intermediate), None));
    }
    let mut of_levels: Vec<Vec<Term>> = Vec::new();
    for (made, level) in scheme.levels.iter().zip(levels) {
        let (from, base) = if made.from_intermediate { (1, &of_intermediate) } else { (0, &stock.terms) };
        let terms = extended(bench, base, made, solutions.len());
        solutions.push(diluted(made, from, relative_u(&terms), Some(*level)));
        of_levels.push(terms);
    }
    let values: Vec<f64> = scheme.levels.iter().map(|made| made.concentration).collect();
    let covariance = of_levels
        .iter()
        .zip(&values)
        .map(|(a, x)| of_levels.iter().zip(&values).map(|(b, y)| x * y * relative_covariance(a, b)).collect())
        .collect();
    if solutions.iter().any(|s| !(s.concentration_mg_per_l.is_finite() && s.relative_u.is_finite())) {
        return Err(PreparationError::OutOfRange);
    }
    Ok(BenchSheet {
        solutions,
        has_zero_level: demands.levels_mg_per_l.iter().any(|level| *level <= 0.0),
        covariance,
        parts: of_levels.iter().map(|terms| parts(terms)).collect(),
    })
}

fn extended(bench: &Bench, base: &[Term], made: &Made, solution: usize) -> Vec<Term> {
    let mut terms = base.to_vec();
    terms.extend(draw_terms(bench, &made.draw, solution));
    terms.extend(flask_terms(bench, made.flask, solution));
    terms
}

fn diluted(made: &Made, from: usize, relative_u: f64, level_mg_per_l: Option<f64>) -> Solution {
    Solution {
        step: Step::Dilute { from, draw: made.draw },
        flask: Some(made.flask),
        concentration_mg_per_l: made.concentration,
        relative_u,
        level_mg_per_l,
    }
}

/// One a source: a flask used twice counts with both uses.
fn parts(terms: &[Term]) -> Vec<(UncertaintySource, f64)> {
    let mut sources: Vec<UncertaintySource> = terms.iter().map(|term| term.source).collect();
    sources.sort_unstable();
    sources.dedup();
    let mut parts: Vec<(UncertaintySource, f64)> = sources
        .into_iter()
        .map(|source| {
            let own: Vec<Term> = terms.iter().filter(|term| term.source == source).copied().collect();
            (source, libm::sqrt(relative_covariance(&own, &own)))
        })
        .filter(|(_, part)| *part > 0.0)
        .collect();
    parts.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    parts
}

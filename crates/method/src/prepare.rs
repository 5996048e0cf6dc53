//! The bench sheet of a method: how its levels are prepared from what stands in the laboratory.

use stillwell_assure::REAGENT_CAUTION;
use stillwell_calibrate::{
    Bench, BenchSheet, PreparationDemands, PreparationError, Salt, Solution, Step, StockSource, Tool,
    UncertaintySource, prepare_standards,
};
use stillwell_quantity::{Concentration, QuantityError, Unit, formula_molar_mass};

use crate::bench_file::{BenchPlan, StockPlan};
use crate::file::Method;

/// Tabulated molar masses agree to about this, relatively: common practice, no source.
const MOLAR_MASS_RELATIVE_U: f64 = 2e-5;

/// Where neither the bench nor the method says how well levels must be known: common practice, no source.
const USUAL_RELATIVE_U: f64 = 0.01;

/// Why no bench sheet was made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PrepareError {
    /// A formula, unit or molar mass is not known.
    #[error("the stock cannot be computed: {0}")]
    Quantity(#[from] QuantityError),
    /// The method states no levels.
    #[error("the method states no levels; add `levels = [0, 10, …]` under [calibration]")]
    NoLevels,
    /// The analyte's molar mass is not known.
    #[error(
        "the molar mass of {analyte} is not known; state the analyte with its molar mass, or buy a certified stock"
    )]
    MolarMassUnknown {
        /// The analyte.
        analyte: String,
    },
    /// The scheme was refused.
    #[error(transparent)]
    Preparation(#[from] PreparationError),
}

/// A bench sheet with its sentences.
#[derive(Debug, Clone, PartialEq)]
pub struct Preparation {
    /// The scheme.
    pub sheet: BenchSheet,
    /// What it was made for.
    pub bench: Bench,
    /// Unit and species of all its concentrations.
    pub unit: String,
    /// Numbered steps.
    pub steps: Vec<String>,
    /// For each level above zero, what its standard uncertainty is mostly made of.
    pub largest_parts: Vec<String>,
    /// How far levels are off together, in a sentence.
    pub correlation: String,
    /// Largest relative standard uncertainty of a level: what `level_relative_u` of the method must not be below.
    pub largest_relative_u: f64,
    /// What `level_relative_u` of the method states; zero where it states nothing.
    pub stated_relative_u: f64,
    /// Cautions, always shown.
    pub cautions: [&'static str; 3],
}

impl Preparation {
    /// Whether every level is known as well as the method states; nothing is missed where it states nothing.
    pub fn meets_the_method(&self) -> bool {
        self.stated_relative_u <= 0.0 || self.largest_relative_u <= self.stated_relative_u
    }
}

/// The scheme that prepares a method's levels from what stands on the bench.
///
/// Levels and stock are counted in the method's own species, in mg/L: the share of analyte in a salt is that of the form in
/// which the method reports.
///
/// # Units
/// mg/L, mL, mg.
///
/// # Errors
/// [`PrepareError`] for unknown formulas and units, a method without levels, and what
/// [`stillwell_calibrate::prepare_standards`] refuses.
///
/// # Source
/// [`stillwell_calibrate::prepare_standards`]; molar masses from [`stillwell_quantity::ATOMIC_WEIGHTS_SOURCE`].
pub fn prepare(method: &Method, plan: &BenchPlan) -> Result<Preparation, PrepareError> {
    let kind = &method.analyte.reported_as;
    if method.calibration.levels.is_empty() {
        return Err(PrepareError::NoLevels);
    }
    let mut levels_mg_per_l = Vec::new();
    for level in &method.calibration.levels {
        let level = Concentration::of_kind(*level, kind.clone())?;
        levels_mg_per_l.push(level.to(Unit::MilligramPerLitre, &kind.species)?.value());
    }
    let stated = method.calibration.level_relative_u;
    let largest_relative_u =
        plan.largest_relative_u.unwrap_or(if stated > 0.0 { stated } else { USUAL_RELATIVE_U });
    let demands = PreparationDemands {
        levels_mg_per_l,
        largest_relative_u,
        level_tolerance: plan.level_tolerance,
        volume_ml: plan.volume_ml,
        temperature_half_width_k: plan.temperature_half_width_k,
        most_aliquots: plan.most_deliveries,
    };
    let sheet = prepare_standards(&source(method, &plan.stock)?, &plan.bench, &demands)?;
    let form = kind.species.form().map_or_else(String::new, |form| format!(" as {form}"));
    let unit = format!("mg/L{form}");
    let words = Words { bench: &plan.bench, sheet: &sheet, unit: &unit, stock: &plan.stock };
    Ok(Preparation {
        steps: words.steps(),
        largest_parts: words.largest_parts(),
        correlation: correlation(&sheet),
        stated_relative_u: stated,
        largest_relative_u: sheet.levels().map(|level| level.relative_u).fold(0.0, f64::max),
        bench: plan.bench.clone(),
        unit,
        sheet,
        cautions: [
            REAGENT_CAUTION,
            "Write down the mass that the balance shows and correct the levels by it; label each flask with level, unit, date and initials. How long the solutions keep is for the laboratory to show.",
            "Dispose of leftovers as local rules say.",
        ],
    })
}

fn source(method: &Method, stock: &StockPlan) -> Result<StockSource, PrepareError> {
    let species = &method.analyte.reported_as.species;
    match stock {
        StockPlan::Salt { formula, analyte_count, purity, purity_half_width, range_mg_per_l } => {
            let of_analyte = species
                .molar_mass_g_per_mol()
                .ok_or_else(|| PrepareError::MolarMassUnknown { analyte: method.analyte.name.clone() })?;
            Ok(StockSource::Salt(Salt {
                analyte_share: f64::from(*analyte_count) * of_analyte / formula_molar_mass(formula)?,
                analyte_share_relative_u: MOLAR_MASS_RELATIVE_U,
                purity: *purity,
                purity_half_width: *purity_half_width,
                stock_range_mg_per_l: *range_mg_per_l,
            }))
        }
        StockPlan::Solution { certified_mg_per_l, certified_u_mg_per_l } => Ok(StockSource::Solution {
            concentration_mg_per_l: *certified_mg_per_l,
            standard_u_mg_per_l: *certified_u_mg_per_l,
        }),
    }
}

/// The sheet in sentences.
struct Words<'a> {
    bench: &'a Bench,
    sheet: &'a BenchSheet,
    unit: &'a str,
    stock: &'a StockPlan,
}

impl Words<'_> {
    fn steps(&self) -> Vec<String> {
        let mut steps: Vec<String> = Vec::new();
        for (place, solution) in self.sheet.solutions.iter().enumerate() {
            steps.push(format!("{}. {}", place + 1, self.step(place, solution)));
        }
        if self.sheet.has_zero_level {
            steps.push(format!("{}. Level 0 is the supporting electrolyte alone.", steps.len() + 1));
        }
        steps
    }

    fn step(&self, place: usize, solution: &Solution) -> String {
        let flask = solution
            .flask
            .and_then(|flask| self.bench.flasks.get(flask))
            .map_or(f64::NAN, |flask| flask.volume_ml);
        let made = format!("{} {}", five_digits(solution.concentration_mg_per_l), self.unit);
        match solution.step {
            Step::Weigh { mass_mg } => {
                let salt = match self.stock {
                    StockPlan::Salt { formula, .. } => formula.as_str(),
                    StockPlan::Solution { .. } => "salt",
                };
                format!(
                    "{}: weigh {mass_mg} mg of {salt} into the {flask} mL flask, fill to the mark with supporting electrolyte: {made}",
                    self.name(place)
                )
            }
            Step::Bought => format!(
                "{}: the certified solution, {made}; it brings no electrolyte, and makes up {:.0} % of the highest level",
                self.name(place),
                100.0 * self.highest_level() / solution.concentration_mg_per_l
            ),
            Step::Dilute { from, draw } => {
                let with = match draw.tool {
                    Tool::Pipette(_) => String::new(),
                    Tool::PistonPipette(place) => {
                        let to_ml = self.bench.piston_pipettes.get(place).map_or(f64::NAN, |p| p.to_ml);
                        format!(" with the {to_ml} mL adjustable pipette")
                    }
                };
                let times =
                    if draw.aliquots == 1 { String::new() } else { format!("{} times ", draw.aliquots) };
                format!(
                    "{}: {times}{} mL of the {}{with} into the {flask} mL flask, fill to the mark with supporting electrolyte: {made}",
                    self.name(place),
                    draw.volume_ml,
                    self.name(from).to_lowercase()
                )
            }
        }
    }

    fn highest_level(&self) -> f64 {
        self.sheet.levels().map(|level| level.concentration_mg_per_l).fold(0.0, f64::max)
    }

    fn name(&self, place: usize) -> String {
        match (place, self.sheet.solutions.get(place).and_then(|solution| solution.level_mg_per_l)) {
            (_, Some(level)) => format!("Level {}", five_digits(level)),
            (0, None) => "Stock".to_owned(),
            _ => "Intermediate".to_owned(),
        }
    }

    fn largest_parts(&self) -> Vec<String> {
        self.sheet
            .parts
            .iter()
            .map(|parts| {
                parts.first().map_or_else(String::new, |(source, part)| {
                    format!("{} ({:.2} %)", self.source(*source), 100.0 * part)
                })
            })
            .collect()
    }

    fn source(&self, source: UncertaintySource) -> String {
        let volume = |found: Option<f64>| found.map_or_else(String::new, |ml| format!("{ml} mL "));
        match source {
            UncertaintySource::StockConcentration => "the certificate of the stock".to_owned(),
            UncertaintySource::Mass => "weighing".to_owned(),
            UncertaintySource::Purity => "the salt's purity".to_owned(),
            UncertaintySource::AnalyteShare => "molar masses".to_owned(),
            UncertaintySource::Temperature => "temperature".to_owned(),
            UncertaintySource::FlaskCalibration(place) => {
                format!("the {}flask's tolerance", volume(self.bench.flasks.get(place).map(|f| f.volume_ml)))
            }
            UncertaintySource::PipetteCalibration(place) => {
                format!(
                    "the {}pipette's tolerance",
                    volume(self.bench.pipettes.get(place).map(|p| p.volume_ml))
                )
            }
            UncertaintySource::PistonCalibration(place) => format!(
                "the {}adjustable pipette's systematic error",
                volume(self.bench.piston_pipettes.get(place).map(|p| p.to_ml))
            ),
            UncertaintySource::Filling(_) => "filling to the mark".to_owned(),
            UncertaintySource::Delivery(_) => "delivery".to_owned(),
        }
    }
}

/// Correlation coefficients between the levels, from their covariance.
fn correlation(sheet: &BenchSheet) -> String {
    let at = |i: usize, j: usize| sheet.covariance.get(i).and_then(|row| row.get(j)).copied().unwrap_or(0.0);
    let n = sheet.covariance.len();
    let pairs = (0..n).flat_map(|i| (0..i).map(move |j| (i, j)));
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for (i, j) in pairs {
        let coefficient = at(i, j) / libm::sqrt(at(i, i) * at(j, j));
        (least, most) = (least.min(coefficient), most.max(coefficient));
    }
    if n < 2 {
        return "There is one level; its error is the whole calibration's.".to_owned();
    }
    format!(
        "All levels come from one stock and are off together (correlation {least:.2} to {most:.2}): \
         more strips do not average this away, a second stock shows it."
    )
}

/// What the tolerances of glass are taken from where a bench names volumes alone.
pub const TOLERANCE_SOURCES: &str = "Class A flasks by ISO 1042:1998 and pipettes by ISO 648:2008, adjustable pipettes by ISO 8655-2 (that of \
     1 mL read in an article that quotes it): all other tolerances from memory. Check them against the marks on the glass.";

/// Five significant digits without trailing zeros.
fn five_digits(value: f64) -> String {
    let magnitude = if value > 0.0 { libm::floor(libm::log10(value)) } else { 0.0 };
    let scale = libm::pow(10.0, 4.0 - magnitude);
    format!("{}", (value * scale).round() / scale)
}

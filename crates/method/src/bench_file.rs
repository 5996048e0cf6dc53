//! The bench file: what stands in the laboratory, as a person writes it.
//!
//! Volumes alone stand for class A glass; a tolerance beside them replaces the table's.

use stillwell_calibrate::{Balance, Bench, Flask, Pipette, PistonPipette, PreparationError};
use stillwell_quantity::Analyte;

use crate::file::section::{Bounds, Reader, Section};
use crate::problem::Problems;

/// Where the analyte comes from, as written.
#[derive(Debug, Clone, PartialEq)]
pub enum StockPlan {
    /// A salt that is weighed.
    Salt {
        /// Its formula, such as `KNO3`.
        formula: String,
        /// Analyte units in one formula unit.
        analyte_count: u32,
        /// Mass of pure salt per mass weighed.
        purity: f64,
        /// Half width of it.
        purity_half_width: f64,
        /// Stock concentrations that may be prepared, mg/L in the method's species.
        range_mg_per_l: [f64; 2],
    },
    /// A solution with a certificate, in the method's species.
    Solution {
        /// Its concentration.
        certified_mg_per_l: f64,
        /// Standard uncertainty of it.
        certified_u_mg_per_l: f64,
    },
}

/// What stands in the laboratory and what is asked of the standards.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchPlan {
    /// Glass, pipettes and balance.
    pub bench: Bench,
    /// Where the analyte comes from.
    pub stock: StockPlan,
    /// Volume needed of each level.
    pub volume_ml: f64,
    /// Largest relative standard uncertainty of a level; none takes the method's `level_relative_u`.
    pub largest_relative_u: Option<f64>,
    /// How far, relatively, a prepared level may lie from the one wanted.
    pub level_tolerance: f64,
    /// Half width of the laboratory's temperature about 20 °C.
    pub temperature_half_width_k: f64,
    /// Most deliveries of one pipette into one flask.
    pub most_deliveries: u32,
}

/// Stocks between these are tried where the file says nothing: common practice, no source.
const USUAL_STOCKS_MG_PER_L: [f64; 2] = [100.0, 10_000.0];
/// A level prepared within 0.2 % of the one wanted is that level: common practice, no source.
const USUAL_TOLERANCE: f64 = 0.002;
/// As in EURACHEM QUAM:2012, A1.
const USUAL_TEMPERATURE_K: f64 = 4.0;
const USUAL_DELIVERIES: u32 = 3;

/// What stands in many laboratories, for those who name no bench of their own. Common practice, no source; the salt's purity is
/// that of a usual label.
const USUAL_BENCH: &str = r#"
[stock]
salt = "SALT"
purity = 0.99
purity_half_width = 0.005
[balance]
readability_mg = 0.1
linearity_mg = 0.2
repeatability_mg = 0.1
smallest_mass_mg = 100
[glass]
flasks_ml = [50, 100, 250, 500, 1000]
pipettes_ml = [1, 2, 5, 10, 20, 25]
[need]
volume_ml = 50
"#;

impl BenchPlan {
    /// Class A glass, a balance that shows 0.1 mg and a usual salt of the analyte; `None` for an analyte without a usual salt.
    ///
    /// # Source
    /// Common practice, no source.
    pub fn usual(analyte: &Analyte) -> Option<Self> {
        let salt = match analyte {
            Analyte::Nitrate => "KNO3",
            Analyte::Nitrite => "NaNO2",
            Analyte::Ammonium => "NH4Cl",
            Analyte::NitratePlusNitrite | Analyte::Named(_) => return None,
        };
        Self::parse("the usual bench", &USUAL_BENCH.replace("SALT", salt)).ok()
    }

    /// Reads a bench file.
    ///
    /// # Errors
    /// Everything that is wrong, each with its place and what would be accepted.
    ///
    /// # Example
    /// ```
    /// let bench = stillwell_method::BenchPlan::parse("bench.toml", r#"
    /// [stock]
    /// salt = "KNO3"
    /// purity = 0.999
    /// purity_half_width = 0.001
    /// [balance]
    /// readability_mg = 0.1
    /// linearity_mg = 0.2
    /// repeatability_mg = 0.1
    /// smallest_mass_mg = 100
    /// [glass]
    /// flasks_ml = [50, 100, 250]
    /// pipettes_ml = [1, 2, 5, 10, 20]
    /// [need]
    /// volume_ml = 50
    /// "#)?;
    /// assert_eq!(bench.bench.flasks[1].tolerance_ml, 0.10);
    /// # Ok::<(), stillwell_method::Problems>(())
    /// ```
    pub fn parse(file_name: &str, source: &str) -> Result<Self, Problems> {
        Reader::read(file_name, source, read)
    }
}

fn read(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<BenchPlan> {
    let stock = stock(reader, root);
    let balance = balance(reader, root);
    let bench = glass(reader, root, balance);
    let mut need = root.section(reader, "need");
    let volume_ml = need.required_number(reader, "volume_ml", Bounds::POSITIVE);
    let largest_relative_u = need.number(reader, "relative_u", Bounds::FRACTION);
    let level_tolerance = need.number(reader, "level_tolerance", Bounds::NOT_NEGATIVE);
    let temperature = need.number(reader, "temperature_half_width_k", Bounds::NOT_NEGATIVE);
    let most_deliveries = need.count(reader, "most_deliveries", 1, 5);
    need.finish(reader);
    Some(BenchPlan {
        bench: bench?,
        stock: stock?,
        volume_ml: volume_ml?,
        largest_relative_u,
        level_tolerance: level_tolerance.unwrap_or(USUAL_TOLERANCE),
        temperature_half_width_k: temperature.unwrap_or(USUAL_TEMPERATURE_K),
        most_deliveries: most_deliveries.unwrap_or(USUAL_DELIVERIES),
    })
}

fn stock(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<StockPlan> {
    let mut section = root.section(reader, "stock");
    let formula = section.text(reader, "salt");
    let analyte_count = section.count(reader, "analyte_count", 1, 12);
    let purity = section.number(reader, "purity", Bounds::FRACTION);
    let half_width = section.number(reader, "purity_half_width", Bounds::NOT_NEGATIVE);
    let range = section.span_of(reader, "range_mg_per_l");
    let certified = section.number(reader, "certified_mg_per_l", Bounds::POSITIVE);
    let certified_u = section.number(reader, "certified_u_mg_per_l", Bounds::NOT_NEGATIVE);
    section.finish(reader);
    let plan = match (formula, purity, half_width, certified, certified_u) {
        (Some(formula), Some(purity), Some(purity_half_width), None, None) => StockPlan::Salt {
            formula,
            analyte_count: analyte_count.unwrap_or(1),
            purity,
            purity_half_width,
            range_mg_per_l: range.unwrap_or(USUAL_STOCKS_MG_PER_L),
        },
        (None, None, None, Some(certified_mg_per_l), Some(certified_u_mg_per_l)) => {
            StockPlan::Solution { certified_mg_per_l, certified_u_mg_per_l }
        }
        _ => {
            let cure =
                "either salt, purity and purity_half_width, or certified_mg_per_l and certified_u_mg_per_l";
            reader.complain(
                section.span(),
                "[stock] names neither a salt nor a certified solution in full",
                cure,
            );
            return None;
        }
    };
    Some(plan)
}

fn balance(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<Balance> {
    let mut section = root.section(reader, "balance");
    if !section.is_present() {
        // A bought stock needs none.
        let unused =
            Balance { readability_mg: 0.0, linearity_mg: 0.0, repeatability_mg: 0.0, smallest_mass_mg: 0.0 };
        return root.table().is_some_and(stock_is_bought).then_some(unused).or_else(|| {
            section.missing(reader, "readability_mg", "0.1");
            None
        });
    }
    let readability_mg = section.required_number(reader, "readability_mg", Bounds::NOT_NEGATIVE);
    let linearity_mg = section.required_number(reader, "linearity_mg", Bounds::NOT_NEGATIVE);
    let repeatability_mg = section.required_number(reader, "repeatability_mg", Bounds::NOT_NEGATIVE);
    let smallest_mass_mg = section.required_number(reader, "smallest_mass_mg", Bounds::NOT_NEGATIVE);
    section.finish(reader);
    Some(Balance {
        readability_mg: readability_mg?,
        linearity_mg: linearity_mg?,
        repeatability_mg: repeatability_mg?,
        smallest_mass_mg: smallest_mass_mg?,
    })
}

fn stock_is_bought(table: &dyn toml_edit::TableLike) -> bool {
    table
        .get("stock")
        .and_then(|item| item.as_table_like())
        .is_some_and(|stock| stock.contains_key("certified_mg_per_l"))
}

fn glass(reader: &mut Reader<'_>, root: &mut Section<'_>, balance: Option<Balance>) -> Option<Bench> {
    let mut section = root.section(reader, "glass");
    if !section.is_present() {
        section.missing(reader, "flasks_ml", "[50, 100]");
    }
    let mut flasks = of_class_a(reader, &mut section, "flasks_ml", Flask::class_a);
    let mut pipettes = of_class_a(reader, &mut section, "pipettes_ml", Pipette::class_a);
    let mut piston_pipettes =
        of_class_a(reader, &mut section, "adjustable_pipettes_ml", PistonPipette::within_iso_8655);
    section.finish(reader);
    flasks.extend(
        stated(reader, root, "flask").into_iter().map(|[volume_ml, tolerance_ml, filling_sd_ml]| Flask {
            volume_ml,
            tolerance_ml,
            filling_sd_ml,
        }),
    );
    pipettes.extend(stated(reader, root, "pipette").into_iter().map(
        |[volume_ml, tolerance_ml, delivery_sd_ml]| Pipette { volume_ml, tolerance_ml, delivery_sd_ml },
    ));
    piston_pipettes.extend(adjustable(reader, root));
    Some(Bench { flasks, pipettes, piston_pipettes, balance: balance? })
}

fn of_class_a<T>(
    reader: &mut Reader<'_>,
    section: &mut Section<'_>,
    key: &'static str,
    make: impl Fn(f64) -> Result<T, PreparationError>,
) -> Vec<T> {
    let volumes = section.numbers(reader, key).unwrap_or_default();
    let mut made = Vec::new();
    for volume_ml in volumes {
        match make(volume_ml) {
            Ok(piece) => made.push(piece),
            Err(error) => {
                let span = section.table().and_then(|table| table.get(key)).and_then(toml_edit::Item::span);
                reader.complain(
                    span,
                    error.to_string(),
                    "a volume of the table, or a piece with its own tolerance",
                );
            }
        }
    }
    made
}

/// Pieces with their own tolerance: volume, half width, standard deviation of one use.
fn stated(reader: &mut Reader<'_>, root: &mut Section<'_>, key: &'static str) -> Vec<[f64; 3]> {
    let mut pieces = Vec::new();
    for mut entry in root.entries(reader, key) {
        let volume = entry.required_number(reader, "volume_ml", Bounds::POSITIVE);
        let tolerance = entry.required_number(reader, "tolerance_ml", Bounds::NOT_NEGATIVE);
        let sd = entry.required_number(reader, "repeatability_ml", Bounds::NOT_NEGATIVE);
        entry.finish(reader);
        if let (Some(volume), Some(tolerance), Some(sd)) = (volume, tolerance, sd) {
            pieces.push([volume, tolerance, sd]);
        }
    }
    pieces
}

fn adjustable(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Vec<PistonPipette> {
    let mut pieces = Vec::new();
    for mut entry in root.entries(reader, "adjustable_pipette") {
        let from = entry.required_number(reader, "from_ml", Bounds::POSITIVE);
        let to = entry.required_number(reader, "to_ml", Bounds::POSITIVE);
        let step = entry.required_number(reader, "step_ml", Bounds::POSITIVE);
        let systematic = entry.required_number(reader, "systematic_ml", Bounds::NOT_NEGATIVE);
        let random = entry.required_number(reader, "repeatability_ml", Bounds::NOT_NEGATIVE);
        entry.finish(reader);
        if let (Some(from_ml), Some(to_ml), Some(step_ml), Some(systematic_ml), Some(random_ml)) =
            (from, to, step, systematic, random)
        {
            pieces.push(PistonPipette { from_ml, to_ml, step_ml, systematic_ml, random_ml });
        }
    }
    pieces
}

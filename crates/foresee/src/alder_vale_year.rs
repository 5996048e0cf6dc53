//! The invented scenario "Alder Vale, a year": one lot of strips from January to December, two wells a month, blanks that creep up
//! from October on, a new lot in December, two interferents, and an accredited laboratory that measured the same waters.
//!
//! In: the plan below, the strip and the handheld of `examples/cells`, one seed. Out: every file of `examples/alder-vale-year`, as
//! bytes, the same every time. No district, well, lot, laboratory, person or product is meant.

use stillwell_method::{Method, NamedText, RawFile, Role};
use stillwell_scan::{Arrangement, CurrentUnit, DecimalMark, Delimiter, Encoding, PotentialUnit, TextForm};
use stillwell_stats::random::RandomStream;
use stillwell_twin::Fault;

use crate::alder_vale::{CELL_TEXT, CIRCUIT_TEXT};
use crate::bench::Bench;
use crate::error::ForeseeError;
use crate::model::{CellModel, CircuitModel};
use crate::plan::{Batch, Measurement, Water};
use crate::record::simulate_plan;

/// The method file of the scenario.
pub const METHOD_TEXT: NamedText<'static> =
    NamedText { name: "method.toml", text: include_str!("../../../examples/alder-vale-year/method.toml") };

/// The story with the true values.
pub const README: &str = include_str!("../../../examples/alder-vale-year/README.md");

const SEED: u64 = 2025;
const BENCH_C: f64 = 21.0;
const STRIPS: u32 = 3;
/// Days of the month on which the wells were measured.
const DAYS: [u32; 12] = [14, 11, 11, 15, 13, 10, 15, 12, 9, 14, 11, 9];
/// What AV-11 and AV-12 truly hold in each month, mg/L as NO₃⁻.
pub const TRUTH_MG_PER_L: [[f64; 12]; 2] = [
    [22.0, 24.5, 28.0, 31.0, 34.0, 30.5, 27.0, 24.0, 22.5, 21.0, 23.0, 25.5],
    [36.0, 41.0, 58.0, 63.0, 66.0, 61.0, 57.0, 40.0, 38.0, 35.5, 60.0, 64.0],
];
/// The month in which the blanks begin to rise, counted from 0, and by how much each month, mg/L.
const BLANKS_RISE_FROM: usize = 9;
const BLANKS_RISE_MG_PER_L: f64 = 0.5;
/// Share of the signal that the new lot gives.
const NEW_LOT_SHARE: f64 = 0.95;
/// Selectivity: level of nitrate, and strips of each solution.
const SELECTIVITY_MG_PER_L: f64 = 50.0;
const SELECTIVITY_STRIPS: u32 = 6;
/// Chloride as much as the method allows, 2.5 times what its electrolyte is made with: the printed reference shifts by 23 mV.
const CHLORIDE_MG_PER_L: f64 = 250.0;
const CHLORIDE_RATIO: f64 = 2.5;
/// Nitrite, and how much of it the copper reads as nitrate: this strip does not tell them apart.
const NITRITE_MG_PER_L: f64 = 15.0;
const NITRITE_READS_AS: f64 = 0.7;
/// The laboratory's standard uncertainty, relative.
const LABORATORY_RELATIVE_U: f64 = 0.02;

/// Every file that is simulated: the raw files, then `run-sheet.csv`, then `comparison.csv`. `progress` is called after each scan.
///
/// # Errors
/// None that a user could cause: a fault in the texts beside this room would show here.
pub fn files(progress: impl Fn() + Sync) -> Result<Vec<RawFile>, ForeseeError> {
    let method = Method::parse(METHOD_TEXT.name, METHOD_TEXT.text)?;
    let cell = CellModel::parse(CELL_TEXT.name, CELL_TEXT.text)?;
    let circuit = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text)?;
    let bench = Bench { cell: &cell, circuit: &circuit, technique: &method.technique, seed: SEED };
    let batches = batches();
    let traces = simulate_plan(bench, &batches, &method.analyte.reported_as, progress)?;
    let recorded = traces.recorded(&circuit.circuit)?;
    let mut files = recorded.files;
    files.push(RawFile { name: "run-sheet.csv".to_owned(), bytes: recorded.run_sheet.into_bytes() });
    files.push(RawFile { name: "comparison.csv".to_owned(), bytes: laboratory().into_bytes() });
    Ok(files)
}

/// Month by month on one lot, whose strips are used up one after the other; then the new lot.
fn batches() -> Vec<Batch> {
    let mut used = 0;
    let mut batches: Vec<Batch> = (0..DAYS.len())
        .map(|number| {
            let batch = Batch { strips_used: used, ..month(number) };
            used += batch.files.iter().flat_map(|(_, work)| work).map(|one| one.strips).sum::<u32>();
            batch
        })
        .collect();
    batches.push(new_lot());
    batches.push(Batch { strips_used: used, ..selectivity() });
    batches
}

fn date(month: usize) -> String {
    format!("2025-{:02}-{:02}", month + 1, DAYS.get(month).copied().unwrap_or(1))
}

fn month(month: usize) -> Batch {
    let mut files = vec![("blanks".to_owned(), vec![Measurement::new(Role::Blank, 0.0, 2)])];
    if month == 0 {
        files.push(("standards".to_owned(), standards(2, &[])));
    }
    let mut work = vec![Measurement::known(Role::CheckStandard, 50.0, 2, 1), zero(month)];
    for (well, of_well) in ["AV-11", "AV-12"].into_iter().zip(TRUTH_MG_PER_L) {
        let truth = of_well.get(month).copied().unwrap_or(0.0);
        work.push(in_water(Measurement::sample(&sample_name(well, month), truth, STRIPS, 1)));
    }
    let first = TRUTH_MG_PER_L.first().and_then(|of_well| of_well.get(month)).copied().unwrap_or(0.0);
    let name = sample_name("AV-11", month);
    let again = Measurement { role: Role::Duplicate, ..Measurement::sample(&name, first, STRIPS, 1) };
    let spiked = Measurement {
        role: Role::Spike,
        level: Some(25.0),
        ..Measurement::sample(&name, first + 25.0, 2, 1)
    };
    work.extend([in_water(again), in_water(spiked), Measurement::known(Role::CheckStandard, 50.0, 2, 1)]);
    files.push(("work".to_owned(), work));
    batch(&format!("{}", month + 1), date(month), "L30", files)
}

fn sample_name(well: &str, month: usize) -> String {
    format!("{well}-{:02}", month + 1)
}

/// What stands in for water without nitrate: from October on its water is not what it was.
fn zero(month: usize) -> Measurement {
    let risen = (month + 1).saturating_sub(BLANKS_RISE_FROM) as f64;
    let zero = Measurement::known(Role::CheckStandard, 0.0, 2, 1);
    Measurement { at_strip: BLANKS_RISE_MG_PER_L * risen, ..zero }
}

/// The usual levels on three strips each; the new lot's strips all have a fault.
fn standards(scans: u32, faults: &[(Fault, u32)]) -> Vec<Measurement> {
    let levels = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];
    let known = |level: f64| {
        // A new lot is adjusted with four strips at one level, or not at all.
        let strips = if (level - 50.0).abs() < 1.0 { STRIPS + 1 } else { STRIPS };
        Measurement { faults: faults.to_vec(), ..Measurement::known(Role::Standard, level, strips, scans) }
    };
    levels.map(known).to_vec()
}

fn new_lot() -> Batch {
    let low = Fault::PartialCoverage { wetted_share: NEW_LOT_SHARE };
    let files = vec![
        ("blanks".to_owned(), vec![Measurement::new(Role::Blank, 0.0, 2)]),
        ("standards".to_owned(), standards(1, &[(low, STRIPS + 1)])),
    ];
    batch("13", "2025-12-16".to_owned(), "L31", files)
}

/// Selectivity, on strips of the first lot: one level of nitrate by itself, with chloride, with nitrite.
fn selectivity() -> Batch {
    let solution = |interferent: Option<(&str, f64)>| Measurement {
        interferent: interferent.map(|(name, mg_per_l)| (name.to_owned(), mg_per_l)),
        ..Measurement::known(Role::Interference, SELECTIVITY_MG_PER_L, SELECTIVITY_STRIPS, 1)
    };
    let chloride = Measurement {
        faults: vec![(Fault::ChlorideShift { ratio: CHLORIDE_RATIO }, SELECTIVITY_STRIPS)],
        ..solution(Some(("chloride", CHLORIDE_MG_PER_L)))
    };
    let nitrite = Measurement {
        at_strip: SELECTIVITY_MG_PER_L + NITRITE_READS_AS * NITRITE_MG_PER_L,
        ..solution(Some(("nitrite", NITRITE_MG_PER_L)))
    };
    let files = vec![
        ("blanks".to_owned(), vec![Measurement::new(Role::Blank, 0.0, 2)]),
        ("selectivity".to_owned(), vec![solution(None), chloride, nitrite]),
    ];
    batch("14", "2025-12-18".to_owned(), "L30", files)
}

fn batch(name: &str, date: String, lot: &str, files: Vec<(String, Vec<Measurement>)>) -> Batch {
    let at_bench = |measurement: Measurement| Measurement { temperature_c: Some(BENCH_C), ..measurement };
    Batch {
        name: name.to_owned(),
        date,
        lot: lot.to_owned(),
        strips_used: 0,
        lot_number: if lot == "L30" { 30 } else { 31 },
        form: form(),
        extension: "csv",
        files: files
            .into_iter()
            .map(|(stem, measurements)| (stem, measurements.into_iter().map(at_bench).collect()))
            .collect(),
    }
}

fn in_water(measurement: Measurement) -> Measurement {
    let [ph, chloride_mg_per_l, conductivity_us_per_cm] = ["3.0", "31", "540"].map(str::to_owned);
    Measurement { water: Water { ph, chloride_mg_per_l, conductivity_us_per_cm }, ..measurement }
}

/// The laboratory's results: the truth with its own error. It reports one water as a bound, as laboratories do.
fn laboratory() -> String {
    let mut lines = vec!["sample,value,unit,u,date\n".to_owned()];
    let mut random = RandomStream::new(SEED, 0);
    for month in 0..DAYS.len() {
        for (well, of_well) in ["AV-11", "AV-12"].into_iter().zip(TRUTH_MG_PER_L) {
            let truth = of_well.get(month).copied().unwrap_or(0.0);
            let found = truth * (1.0 + LABORATORY_RELATIVE_U * random.normal());
            let (name, date) = (sample_name(well, month), date(month));
            if month == 7 && well == "AV-11" {
                lines.push(format!("{name},<25,mg/L as NO3-,,{date}\n"));
                continue;
            }
            let u = LABORATORY_RELATIVE_U * truth;
            lines.push(format!("{name},{found:.1},mg/L as NO3-,{u:.2},{date}\n"));
        }
    }
    lines.concat()
}

/// Semicolon, decimal comma, UTF-8: one potential column in mV, the scans side by side.
fn form() -> TextForm {
    TextForm {
        arrangement: Arrangement::SharedPotential,
        delimiter: Delimiter::Semicolon,
        decimal_mark: DecimalMark::Comma,
        encoding: Encoding::Utf8,
        has_carriage_returns: false,
        potential_unit: PotentialUnit::Millivolt,
        potential_decimals: 0,
        current_unit: CurrentUnit::Microampere,
        // Three after a comma could be read as digits in groups.
        current_decimals: 4,
        settings: Vec::new(),
    }
}

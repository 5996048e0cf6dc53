//! What was measured in Alder Vale, in the order of the work: three batches, each with a lot of strips of its own.

use stillwell_method::Role;
use stillwell_scan::{Arrangement, CurrentUnit, DecimalMark, Delimiter, Encoding, PotentialUnit, TextForm};
use stillwell_twin::Fault;

use crate::plan::{Batch, Measurement, Water};

const SCANS: u32 = 2;
const STRIPS: u32 = 3;
const BENCH_C: f64 = 21.0;

pub(super) fn batches() -> Vec<Batch> {
    vec![
        batch("B1", "2026-05-12", 21, &comma_form(), "csv", blanks(), wells_1()),
        batch("B2", "2026-05-19", 22, &pairs_form(), "txt", blanks(), wells_2()),
        batch("B3", "2026-05-27", 23, &tab_form(), "tsv", blanks_3(), wells_3()),
    ]
}

fn batch(
    name: &str,
    date: &str,
    lot: u64,
    form: &TextForm,
    extension: &'static str,
    blanks: Vec<Measurement>,
    wells: Vec<Measurement>,
) -> Batch {
    let control = Measurement::known(Role::ElectrodeControl, 25.0, 2, SCANS);
    let files = [
        ("blanks", blanks),
        ("standards", standards()),
        ("opening-checks", vec![check("before the wells"), at_bench(control)]),
        ("wells", wells),
        ("closing-checks", vec![check("after the wells")]),
    ];
    let has_settings = form.arrangement == Arrangement::Pairs;
    Batch {
        name: name.to_owned(),
        date: date.to_owned(),
        lot: format!("L{lot}"),
        lot_number: lot,
        strips_used: 0,
        form: TextForm { settings: if has_settings { settings(date) } else { Vec::new() }, ..form.clone() },
        extension,
        files: files.into_iter().map(|(stem, measurements)| (stem.to_owned(), measurements)).collect(),
    }
}

fn at_bench(measurement: Measurement) -> Measurement {
    Measurement { temperature_c: Some(BENCH_C), ..measurement }
}

fn blanks() -> Vec<Measurement> {
    vec![at_bench(Measurement::new(Role::Blank, 0.0, STRIPS))]
}

fn blanks_3() -> Vec<Measurement> {
    let cold = Measurement {
        temperature_c: Some(12.0),
        note: "electrolyte at the well's temperature, for AV-08".to_owned(),
        ..Measurement::new(Role::Blank, 0.0, STRIPS)
    };
    let mut all = blanks();
    all.push(cold);
    all
}

fn standards() -> Vec<Measurement> {
    let levels = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];
    levels.map(|level| at_bench(Measurement::known(Role::Standard, level, STRIPS, SCANS))).to_vec()
}

fn check(note: &str) -> Measurement {
    let check = Measurement::known(Role::CheckStandard, 50.0, 2, SCANS);
    Measurement { note: note.to_owned(), ..at_bench(check) }
}

/// A well at the strip, with pH, chloride in mg/L and conductivity in µS/cm as the run sheet states them.
fn well(name: &str, at_strip_mg_per_l: f64, temperature_c: f64, water: [&str; 3]) -> Measurement {
    let [ph, chloride, conductivity] = water.map(str::to_owned);
    Measurement {
        temperature_c: Some(temperature_c),
        water: Water { ph, chloride_mg_per_l: chloride, conductivity_us_per_cm: conductivity },
        ..Measurement::sample(name, at_strip_mg_per_l, STRIPS, SCANS)
    }
}

fn noted(note: &str, measurement: Measurement) -> Measurement {
    Measurement { note: note.to_owned(), ..measurement }
}

fn wells_1() -> Vec<Measurement> {
    let water = ["3.0", "31", "540"];
    let duplicate = Measurement { role: Role::Duplicate, ..well("AV-01", 17.6, 20.8, water) };
    let spike = Measurement {
        role: Role::Spike,
        level: Some(25.0),
        ..well("AV-01", 42.6, 20.9, ["3.0", "31", "545"])
    };
    vec![
        well("AV-01", 17.6, 20.8, water),
        noted("second vial from the same bottle", duplicate),
        noted("25 mg/L added to the same bottle", spike),
        well("AV-05", 0.0, 20.9, ["2.9", "12", "310"]),
    ]
}

fn wells_2() -> Vec<Measurement> {
    let small_range = Measurement {
        faults: vec![(Fault::Clipped { range_a: 10e-6 }, STRIPS)],
        ..well("AV-04", 71.0, 21.1, ["3.0", "66", "790"])
    };
    vec![
        well("AV-02", 49.3, 21.1, ["3.1", "58", "720"]),
        noted("conductivity probe flat, not read", well("AV-03", 78.0, 21.2, ["3.0", "74", ""])),
        noted("range left at 10 µA after the electrode test", small_range),
    ]
}

fn wells_3() -> Vec<Measurement> {
    let diluted = Measurement {
        dilution: Some(("2".to_owned(), "0.01".to_owned())),
        ..well("AV-07", 30.5, 21.0, ["2.9", "88", "860"])
    };
    let cold = well("AV-08", 31.0, 12.0, ["3.0", "45", "610"]);
    vec![
        well("AV-06", 148.0, 20.9, ["3.1", "112", "1080"]),
        noted("one part water, one part electrolyte", diluted),
        noted("measured at the well, not warmed up", cold),
    ]
}

/// Comma, decimal point, UTF-8: one potential column, the scans side by side.
fn comma_form() -> TextForm {
    TextForm { potential_decimals: 3, ..TextForm::plain(3) }
}

/// Semicolon, decimal comma, UTF-8: one potential column in mV, the scans side by side.
pub(crate) fn decimal_comma_form() -> TextForm {
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

/// The same in Latin-1 with settings first, then a pair of columns a scan.
fn pairs_form() -> TextForm {
    TextForm { arrangement: Arrangement::Pairs, encoding: Encoding::Windows1252, ..decimal_comma_form() }
}

/// Tab, UTF-16 with byte order mark, CRLF: scans stacked, with forward, reverse and difference current.
fn tab_form() -> TextForm {
    TextForm {
        arrangement: Arrangement::Stacked,
        delimiter: Delimiter::Tab,
        encoding: Encoding::Utf16Le,
        has_carriage_returns: true,
        ..comma_form()
    }
}

fn settings(date: &str) -> Vec<(String, String)> {
    let lines = [
        ("Date", date),
        ("Technique", "square wave"),
        ("Start", "-300 mV"),
        ("End", "-900 mV"),
        ("Step", "4 mV"),
        ("Amplitude", "25 mV"),
        ("Frequency", "25 Hz"),
    ];
    lines.map(|(key, value)| (key.to_owned(), value.to_owned())).to_vec()
}

//! The run sheet of a plan: one line a scan, in the order of the work; an empty cell means "not stated".

use stillwell_method::COLUMNS;
use stillwell_quantity::QuantityKind;

use crate::plan::PlannedScan;

/// The run sheet's first columns; what stands behind them says how a file is read, and these files say it themselves.
const N_COLUMNS: usize = 21;

/// Written only where a measurement names an interferent.
const INTERFERENT: [&str; 2] = ["interferent", "interferent_mg_per_l"];

/// The run sheet: comma-separated UTF-8. `cell_k` is the temperature where a measurement states none.
pub(crate) fn text(scans: &[PlannedScan<'_>], kind: &QuantityKind, cell_k: f64) -> String {
    let unit = plain_unit(kind);
    let names_interferents = scans.iter().any(|scan| scan.measurement.interferent.is_some());
    let mut header: Vec<&str> = COLUMNS.into_iter().take(N_COLUMNS).collect();
    if names_interferents {
        header.extend(INTERFERENT);
    }
    let mut text = header.join(",") + "\n";
    for scan in scans {
        let mut cells = cells(scan, &unit, cell_k - 273.15).to_vec();
        if names_interferents {
            cells.extend(interferent(scan));
        }
        let cells: Vec<String> = cells.iter().map(|cell| quoted_where_needed(cell)).collect();
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    text
}

fn interferent(scan: &PlannedScan<'_>) -> [String; 2] {
    let added = scan.measurement.interferent.as_ref();
    added.map_or_else(Default::default, |(name, mg_per_l)| [name.clone(), mg_per_l.to_string()])
}

fn cells(scan: &PlannedScan<'_>, unit: &str, cell_c: f64) -> [String; N_COLUMNS] {
    let measurement = scan.measurement;
    let temperature_c = measurement.stated_temperature_c.or(measurement.temperature_c).unwrap_or(cell_c);
    let (dilution, dilution_u) = measurement.dilution.clone().unwrap_or_default();
    [
        scan.file_name(),
        scan.ordinal.to_string(),
        measurement.role.word().to_owned(),
        measurement.sample.clone(),
        measurement.level.map_or_else(String::new, |level| level.to_string()),
        measurement.level.map_or_else(String::new, |_| unit.to_owned()),
        scan.batch.lot.clone(),
        scan.strip_name(),
        scan.electrode_scan.to_string(),
        "1".to_owned(),
        scan.batch.name.clone(),
        scan.batch.date.clone(),
        format!("{temperature_c:.1}"),
        measurement.water.ph.clone(),
        measurement.water.chloride_mg_per_l.clone(),
        measurement.water.conductivity_us_per_cm.clone(),
        dilution,
        dilution_u,
        String::new(),
        String::new(),
        measurement.note.clone(),
    ]
}

/// Unit and species without raised or lowered digits, as a person types them: `mg/L as NO3-`.
fn plain_unit(kind: &QuantityKind) -> String {
    kind.to_string()
        .chars()
        .map(|character| match character {
            '₀' => '0',
            '₁' => '1',
            '₂' => '2',
            '₃' => '3',
            '₄' => '4',
            '₅' => '5',
            '₆' => '6',
            '₇' => '7',
            '₈' => '8',
            '₉' => '9',
            '⁺' => '+',
            '⁻' => '-',
            other => other,
        })
        .collect()
}

fn quoted_where_needed(cell: &str) -> String {
    if cell.contains([',', '"', '\n']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

//! The run sheet: one line a scan, in the order of the work; an empty cell means "not stated".

use super::PlannedScan;

const HEADER: &str = "file,scan,role,sample,level,unit,lot,electrode,electrode_scan,channel,batch,date,temperature_c,\
                      ph,chloride_mg_per_l,conductivity_us_per_cm,dilution,dilution_u,exclude,override,note";

/// The run sheet of all scans: comma-separated UTF-8.
pub(crate) fn bytes(scans: &[PlannedScan]) -> Vec<u8> {
    let mut text = format!("{HEADER}\n");
    for scan in scans {
        let cells: Vec<String> = cells(scan).iter().map(|cell| quoted_where_needed(cell)).collect();
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    text.into_bytes()
}

fn cells(scan: &PlannedScan) -> [String; 21] {
    let measurement = scan.measurement;
    let [ph, chloride, conductivity] = measurement.water.map(str::to_owned);
    let [dilution, dilution_u] = measurement.dilution.map(str::to_owned);
    let unit = if measurement.level.is_empty() { "" } else { "mg/L as NO3-" };
    [
        scan.file.clone(),
        scan.ordinal.to_string(),
        measurement.role.to_owned(),
        measurement.sample.to_owned(),
        measurement.level.to_owned(),
        unit.to_owned(),
        scan.batch.lot.to_owned(),
        format!("{}-{:02}", scan.batch.lot, scan.strip),
        scan.electrode_scan.to_string(),
        "1".to_owned(),
        scan.batch.name.to_owned(),
        scan.batch.date.to_owned(),
        format!("{:.1}", measurement.temperature_c),
        ph,
        chloride,
        conductivity,
        dilution,
        dilution_u,
        String::new(),
        String::new(),
        measurement.note.to_owned(),
    ]
}

fn quoted_where_needed(cell: &str) -> String {
    if cell.contains([',', '"', '\n']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

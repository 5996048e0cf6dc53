//! The run sheet of a run, as an analyst would have written it.

use stillwell_method::{COLUMNS, Role};

use crate::campaign::{Campaign, Well};
use crate::strip::Measured;

/// One strip of the run sheet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Strip<'a> {
    pub(crate) role: Role,
    pub(crate) measured: &'a Measured,
}

/// The text of a run sheet with these strips of a well. No batch is stated, so that the blanks of the calibration serve.
pub(crate) fn text(
    campaign: &Campaign,
    well: &Well,
    channel: &str,
    run: &str,
    strips: &[Strip<'_>],
) -> String {
    let mut text = COLUMNS.join(",") + "\n";
    for strip in strips {
        for scan in 1..=strip.measured.file().n_scans {
            let cells: Vec<String> = COLUMNS
                .iter()
                .map(|column| cell(column, campaign, well, channel, run, strip, scan))
                .collect();
            text += &cells.join(",");
            text.push('\n');
        }
    }
    text
}

fn cell(
    column: &str,
    campaign: &Campaign,
    well: &Well,
    channel: &str,
    run: &str,
    Strip { role, measured }: &Strip<'_>,
    scan: usize,
) -> String {
    let is_control = *role == Role::ElectrodeControl;
    let of_water = |number: Option<f64>| {
        number.filter(|_| !is_control).map_or_else(String::new, |number| format!("{number:?}"))
    };
    match column {
        "file" => measured.file().name.clone(),
        "scan" | "electrode_scan" => scan.to_string(),
        "role" => role.word().to_owned(),
        "sample" if !is_control => well.name.clone(),
        "level" if is_control => format!("{:?}", campaign.control_level),
        "unit" if is_control => campaign.unit.clone(),
        "lot" => measured.strip().lot.lot.clone(),
        "electrode" => measured.strip().electrode(),
        "channel" => channel.to_owned(),
        "date" => measured.scanned_at().day(),
        "temperature_c" => format!("{:?}", measured.temperature_c()),
        "ph" => of_water(well.water.ph),
        "chloride_mg_per_l" => of_water(well.water.chloride_mg_per_l),
        "conductivity_us_per_cm" => of_water(well.water.conductivity_us_per_cm),
        "note" => format!("field run {run}"),
        _ => String::new(),
    }
}

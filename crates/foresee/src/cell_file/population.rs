//! `[population]` of CELL.toml: how electrodes of this kind differ, by lot, by electrode and by scan.

use stillwell_method::toml_file::{Reader, Section};
use stillwell_twin::{Population, Spread, TwinError};

use crate::judged::Key;

/// The three keys of a spread as shares and as potentials.
const PERCENT: [Key; 3] =
    [Key::percent("lot_sd_percent"), Key::percent("electrode_sd_percent"), Key::percent("scan_sd_percent")];
const VOLTS: [Key; 3] = [Key::same("lot_sd_v"), Key::same("electrode_sd_v"), Key::same("scan_sd_v")];

type Part = fn(&mut Population) -> &mut Spread;

pub(super) fn population(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Population {
    let mut section = root.section(reader, "population");
    let mut population = Population::default();
    let parts: [(&'static str, Part); 4] = [
        ("area", |population| &mut population.area),
        ("rate_constant", |population| &mut population.rate_constant),
        ("double_layer", |population| &mut population.double_layer),
        ("sensitivity", |population| &mut population.sensitivity),
    ];
    for (name, part) in parts {
        let mut spread = section.section(reader, name);
        *part(&mut population) = read_spread(reader, &mut spread, PERCENT, part);
        spread.finish(reader);
    }
    let mut reference = section.section(reader, "reference");
    population.reference_v =
        read_spread(reader, &mut reference, VOLTS, |population| &mut population.reference_v);
    let drift = Key::same("drift_v_per_electrode").read(&mut reference, reader, |drift_v| {
        sound(Population { drift_v_per_electrode: drift_v, ..Population::default() })
    });
    population.drift_v_per_electrode = drift.unwrap_or(0.0);
    reference.finish(reader);
    section.finish(reader);
    population
}

fn read_spread(
    reader: &mut Reader<'_>,
    section: &mut Section<'_>,
    [lot, electrode, scan]: [Key; 3],
    part: Part,
) -> Spread {
    let judge = |sd| {
        let mut population = Population::default();
        *part(&mut population) = Spread { lot_sd: sd, ..Spread::default() };
        sound(population)
    };
    let mut read = |key: Key| key.read(section, reader, judge).unwrap_or(0.0);
    Spread { lot_sd: read(lot), electrode_sd: read(electrode), scan_sd: read(scan) }
}

fn sound(population: Population) -> Result<(), TwinError> {
    population.draw(0, 0, 0, 0).map(|_| ())
}

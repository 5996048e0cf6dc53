//! `twin` for people: what is true in the folder, and what was written.

use std::path::Path;

use stillwell_method::RawFile;
use stillwell_report::json::truth::Made;

use super::wrapped;

/// TRUTH.md.
pub(crate) fn page(made: &Made<'_>) -> String {
    let unit = made.unit();
    let mut text = String::from("# What is true in this folder\n\n");
    line!(
        text,
        "Every scan here is simulated. No water, strip or instrument is meant: not for real water.\n"
    );
    line!(text, "| | |\n| --- | --- |");
    line!(text, "| method | {}, revision {} |", cell(&made.method.name), cell(&made.method.revision));
    line!(text, "| cell | {} |", cell(made.cell_name));
    line!(text, "| circuit | {} |", cell(made.circuit_name));
    line!(text, "| seed | {} |", made.truth.seed);
    line!(text, "| temperature | {} °C |", made.temperature_c());
    line!(text, "| standards | {} {unit}, {} strip(s) each |", levels(made), made.truth.replicates);
    line!(text, "\n| sample | truth / {unit} |\n| --- | ---: |");
    for (name, level) in &made.truth.samples {
        line!(text, "| {} | {level} |", cell(name));
    }
    text.push_str(
        "\nStandards, check standards and the control hold exactly what the run sheet states. pH, chloride and conductivity on\n\
         the run sheet are made up within what the method covers; the physics does not know them. Strips differ as the cell's\n\
         file says, and the circuit adds its noise. The same method, cell, circuit, levels, samples and seed give the same\n\
         bytes again.\n",
    );
    text
}

/// A name must not end a cell of the table.
fn cell(text: &str) -> String {
    text.replace('|', "\\|").replace(['\n', '\r'], " ")
}

/// What was written, and what to do with it.
pub(crate) fn summary(made: &Made<'_>, folder: &Path, files: &[RawFile]) -> String {
    let unit = made.unit();
    let folder = folder.display();
    let mut text = format!("{folder}: {} simulated scans, {} files\n", made.n_scans, files.len());
    line!(text, "{}", wrapped("  circuit    ", made.circuit_name));
    line!(text, "  standards  {} {unit}, {} strip(s) each", levels(made), made.truth.replicates);
    for (index, (name, level)) in made.truth.samples.iter().enumerate() {
        line!(text, "  {}  {name} holds {level} {unit}", if index == 0 { "samples  " } else { "         " });
    }
    line!(text, "  seed       {}", made.truth.seed);
    line!(text, "TRUTH.md says what is true. Simulated: not for real water.\n");
    line!(text, "next: stillwell determine {folder}");
    text
}

fn levels(made: &Made<'_>) -> String {
    let levels: Vec<String> = made.truth.levels.iter().map(f64::to_string).collect();
    levels.join(", ")
}

//! How often the check of drop coverage speaks, technique by technique, under the twin's own physics.
//!
//! `cargo run --release -p stillwell-foresee --example coverage -- 300`
//!
//! 300 laboratories, each with a lot and a calibration of its own. The table is that of `crates/method/coverage.md`.

use std::process::ExitCode;

use stillwell_foresee::alder_vale::{CELL_TEXT, CIRCUIT_TEXT, METHOD_TEXT};
use stillwell_foresee::score::{Subject, coverage_table};
use stillwell_foresee::{CellModel, CircuitModel};
use stillwell_method::{Method, NamedText};

type Failure = Box<dyn std::error::Error>;

const SEED: u64 = 77;
const MOST: f64 = 100.0;
const SQUARE_WAVE: &str = "kind = \"square-wave\"\nstart_v = -0.300\nend_v = -0.900\nstep_v = 0.004\namplitude_v = 0.025\nfrequency_hz = 25.0\n";
const DIFFERENTIAL_PULSE: &str = "kind = \"differential-pulse\"\nstart_v = -0.300\nend_v = -0.900\nstep_v = 0.004\namplitude_v = 0.050\npulse_s = 0.02\npulse_period_s = 0.1\n";
const LINEAR_SWEEP: &str =
    "kind = \"linear-sweep\"\nstart_v = -0.300\nend_v = -0.900\nstep_v = 0.004\nscan_rate_v_per_s = 0.1\n";
/// The same techniques stopped before the edge of the solvent, where the difference current holds no background.
const SHORT: [(&str, &str); 2] =
    [("end_v = -0.900", "end_v = -0.760"), ("right_v = [-0.84, -0.80]", "right_v = [-0.755, -0.735]")];

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            #[expect(clippy::print_stderr, reason = "an example reports to the person who runs it")]
            {
                eprintln!("{error}");
            }
            ExitCode::from(2)
        }
    }
}

fn run() -> Result<(), Failure> {
    let laboratories: u32 = std::env::args().nth(1).ok_or("usage: coverage LABORATORIES")?.parse()?;
    let base = METHOD_TEXT
        .text
        .replace("\r\n", "\n")
        .replace("[trust]", "[trust]\ncoverage = [0.75, 1.35]")
        .replace("offset_a = 12.0e-6", "");
    let short = |text: &str| SHORT.iter().fold(text.to_owned(), |text, (from, to)| text.replace(from, to));
    let swept = base.replace(SQUARE_WAVE, LINEAR_SWEEP);
    let pulsed = base.replace(SQUARE_WAVE, DIFFERENTIAL_PULSE);
    let trials = [
        ("square wave, difference current", base.clone(), false),
        ("square wave, forward and reverse", base.clone(), true),
        ("square wave that ends before the edge, difference", short(&base), false),
        ("square wave that ends before the edge, forward and reverse", short(&base), true),
        ("differential pulse", pulsed.clone(), false),
        ("differential pulse that ends before the edge", short(&pulsed), false),
        ("linear sweep at 0.1 V/s", swept.clone(), false),
        (
            "linear sweep at 1 V/s that ends before the edge",
            short(&swept).replace("= 0.1\n", "= 1.0\n"),
            false,
        ),
    ];
    for (name, text, has_both) in trials {
        table(name, &text, has_both, laboratories)?;
    }
    Ok(())
}

#[expect(clippy::print_stdout, reason = "an example reports to the person who runs it")]
fn table(name: &str, text: &str, has_both: bool, laboratories: u32) -> Result<(), Failure> {
    let method = Method::parse("method.toml", text)?;
    let cell = CellModel::parse(CELL_TEXT.name, CELL_TEXT.text)?;
    let circuit = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text)?;
    let method_text = NamedText { name: "method.toml", text };
    let subject = Subject { method: &method, method_text, cell: &cell, circuit: &circuit, seed: SEED };
    println!("\n### {name}\n");
    println!(
        "| electrode | scans | refused for coverage | refused by another check | cannot be told | passed |"
    );
    println!("| --- | --- | --- | --- | --- | --- |");
    for row in coverage_table(&subject, laboratories, MOST, has_both)? {
        let share = |n: usize| format!("{n} = {:.1} %", 100.0 * n as f64 / row.scans.max(1) as f64);
        println!(
            "| {} | {} | {} | {} | {} | {} |",
            row.state.name(),
            row.scans,
            share(row.refused),
            share(row.refused_otherwise),
            share(row.untold),
            share(row.passed)
        );
    }
    Ok(())
}

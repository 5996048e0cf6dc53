//! The project's honest score, under the twin's own physics: the round trip of sound scans and the table of faults.
//!
//! `cargo run --release -p stillwell-foresee --example score -- 5000 200`
//!
//! 5000 studies of sound scans, 200 of spoilt ones. The tables are those of the README.

use std::process::ExitCode;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Instant;

use stillwell_foresee::alder_vale::{CELL_TEXT, CIRCUIT_TEXT, METHOD_TEXT};
use stillwell_foresee::score::{Subject, fault_table, round_trip};
use stillwell_foresee::{CellModel, CircuitModel};
use stillwell_method::Method;

type Failure = Box<dyn std::error::Error>;

const SEED: u64 = 31;

/// Near the detection limit, at a quarter of the range, at the limit of 50 mg/L, a little and clearly above it, beyond the range.
const TRUTHS: [f64; 6] = [1.5, 25.0, 50.0, 52.0, 65.0, 150.0];

const LIMIT: f64 = 50.0;

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

#[expect(clippy::print_stdout, clippy::print_stderr, reason = "an example reports to the person who runs it")]
fn run() -> Result<(), Failure> {
    let numbers: Vec<u32> = std::env::args().skip(1).map(|word| word.parse()).collect::<Result<_, _>>()?;
    let &[studies, spoilt] = numbers.as_slice() else {
        return Err("usage: score STUDIES SPOILT    (for instance 5000 200)".into());
    };
    let method = Method::parse(METHOD_TEXT.name, METHOD_TEXT.text)?;
    let cell = CellModel::parse(CELL_TEXT.name, CELL_TEXT.text)?;
    let circuit = CircuitModel::parse(CIRCUIT_TEXT.name, CIRCUIT_TEXT.text)?;
    let subject =
        Subject { method: &method, method_text: METHOD_TEXT, cell: &cell, circuit: &circuit, seed: SEED };
    let started = Instant::now();
    let done = AtomicU32::new(0);
    let tick = || {
        let done = done.fetch_add(1, Ordering::Relaxed) + 1;
        if done.is_multiple_of(100) {
            eprintln!("{done} studies, {:.0} s", started.elapsed().as_secs_f64());
        }
    };
    let found = round_trip(&subject, studies, &TRUTHS, tick)?;
    println!("{} studies, {:.0} s\n", found.studies, started.elapsed().as_secs_f64());
    println!(
        "| strips | truth, mg/L | samples | refused | withheld | numbers held | bounds held | bias in U | falsely below | falsely above |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for s in &found.strata {
        let held = |held: usize, of: usize| {
            if of == 0 {
                "–".to_owned()
            } else {
                format!("{held}/{of} = {:.1} %", 100.0 * held as f64 / of as f64)
            }
        };
        println!(
            "| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            s.state.name(),
            s.truth,
            s.samples,
            s.refused,
            s.withheld,
            held(s.numbers_held, s.numbers),
            held(s.bounds_held, s.bounds),
            s.bias_in_u.map_or("–".to_owned(), |bias| format!("{bias:+.2}")),
            s.falsely_below,
            s.falsely_above
        );
    }
    let (made, refused) = found.good_scans;
    println!("\ngood scans refused: {refused} of {made} = {:.2} %", 100.0 * refused as f64 / made as f64);
    println!("samples above a limit: {}\n", found.above_a_limit);

    let started = Instant::now();
    println!(
        "| fault | sizes | on | identity | samples | refused | flagged | right | wrong | falsely below |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for row in fault_table(&subject, spoilt, LIMIT, || {})? {
        println!(
            "| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            row.name,
            row.sizes,
            row.scope.name(),
            if row.needs_identity { "needed" } else { "" },
            row.samples,
            row.refused,
            row.flagged,
            row.right,
            row.wrong,
            row.falsely_below
        );
    }
    println!("\n{spoilt} studies, {:.0} s", started.elapsed().as_secs_f64());
    Ok(())
}

//! Writes the raw files and the run sheet of an invented scenario: "Alder Vale", its two wells measured by additions, or a year of it.
//!
//! `cargo run --release -p stillwell-foresee --example alder_vale -- wells examples/alder-vale`
//! `cargo run --release -p stillwell-foresee --example alder_vale -- additions examples/alder-vale-addition`
//! `cargo run --release -p stillwell-foresee --example alder_vale -- year examples/alder-vale-year`
//!
//! The same bytes come out every time; `method.toml` and `README.md` of those folders are written by people.

use std::path::PathBuf;
use std::process::ExitCode;

use stillwell_foresee::{alder_vale, alder_vale_addition, alder_vale_year};

type Failure = Box<dyn std::error::Error>;

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
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let (files, folder) = match words.as_slice() {
        ["wells", folder] => (alder_vale::files(|| {})?, PathBuf::from(folder)),
        ["additions", folder] => (alder_vale_addition::files(|| {})?, PathBuf::from(folder)),
        ["year", folder] => (alder_vale_year::files(|| {})?, PathBuf::from(folder)),
        _ => return Err("usage: alder_vale wells|additions|year FOLDER    (an existing folder)".into()),
    };
    for file in files {
        let path = folder.join(&file.name);
        std::fs::write(&path, &file.bytes).map_err(|error| format!("{}: {error}", path.display()))?;
        #[expect(clippy::print_stdout, reason = "an example reports to the person who runs it")]
        {
            println!("{:>8} bytes  {}", file.bytes.len(), path.display());
        }
    }
    Ok(())
}

//! Writes the raw files and the run sheet of the invented scenario "Alder Vale, two more wells".
//!
//! `cargo run --release -p stillwell-foresee --example alder_vale_addition -- examples/alder-vale-addition`
//!
//! The same bytes come out every time; `method.toml` and `README.md` of that folder are written by people.

use std::path::PathBuf;
use std::process::ExitCode;

#[expect(clippy::print_stdout, clippy::print_stderr, reason = "an example reports to the person who runs it")]
fn main() -> ExitCode {
    let mut arguments = std::env::args_os().skip(1);
    let (Some(folder), None) = (arguments.next().map(PathBuf::from), arguments.next()) else {
        eprintln!("usage: alder_vale_addition FOLDER    (an existing folder)");
        return ExitCode::from(2);
    };
    let files = match stillwell_foresee::alder_vale_addition::files(|| {}) {
        Ok(files) => files,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    };
    for file in files {
        let path = folder.join(&file.name);
        if let Err(error) = std::fs::write(&path, &file.bytes) {
            eprintln!("{} cannot be written: {error}", path.display());
            return ExitCode::from(2);
        }
        println!("{:>8} bytes  {}", file.bytes.len(), path.display());
    }
    ExitCode::SUCCESS
}

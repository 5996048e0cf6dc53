//! Times reading one file: `bench_read FILE --repeat R` prints one JSON line (median seconds per read, rows, checksum).
//!
//! The checksum is the sum of all potentials plus the sum of all currents, in the order of the file and in SI units: a
//! rival that reads the same numbers gets the same sum. The benchmark's files are written by these formulas, for point i
//! from 0 of scan s from 0:
//!
//! - potential in V: `0.1 - 0.001 * (i % 600)`, written with three decimals;
//! - current in µA: `-(1 + 0.5 * ((i * 7919 + s * 104729) % 10007) / 10007)`, written with six decimals.
//!
//! `plain`: header `E/V,I/uA`, comma, point, LF, scans stacked. `semicolon`: the same with `;`, decimal comma and CRLF.
//! `blank`: three comment lines, columns parted by several blanks, decimal comma, every tenth current in exponent notation.
#![expect(clippy::print_stdout, clippy::print_stderr, reason = "a command-line example")]

use std::process::ExitCode;
use std::time::Instant;

use stillwell_scan::{ReadingPin, read};

fn main() -> ExitCode {
    match run() {
        Ok(line) => {
            println!("{line}");
            ExitCode::SUCCESS
        }
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}

fn run() -> Result<String, String> {
    let mut arguments = std::env::args().skip(1);
    let usage = "usage: bench_read FILE --repeat R";
    let file = arguments.next().ok_or(usage)?;
    let n_reads: usize = match (arguments.next().as_deref(), arguments.next()) {
        (Some("--repeat"), Some(count)) => count.parse().map_err(|error| format!("{usage}: {error}"))?,
        (None, _) => 5,
        _ => return Err(usage.to_owned()),
    };
    let bytes = std::fs::read(&file).map_err(|error| format!("{file}: {error}"))?;
    let mut seconds = Vec::new();
    let mut summary = (0, 0.0);
    for _ in 0..n_reads.max(1) {
        let start = Instant::now();
        let read = read(&bytes, &file, &ReadingPin::default()).map_err(|error| error.to_string())?;
        seconds.push(start.elapsed().as_secs_f64());
        let n_rows: usize = read.scans.iter().map(stillwell_scan::Scan::n_points).sum();
        let potentials: f64 = read.scans.iter().flat_map(|scan| &scan.potential_v).sum();
        let currents: f64 = read.scans.iter().flat_map(|scan| &scan.current_a).sum();
        summary = (n_rows, potentials + currents);
    }
    seconds.sort_by(f64::total_cmp);
    let median = seconds.get(seconds.len() / 2).copied().unwrap_or(f64::NAN);
    let (n_rows, checksum) = summary;
    Ok(format!(
        "{{\"seconds_per_read\":{median:.6},\"bytes\":{},\"rows\":{n_rows},\"checksum\":{checksum:e}}}",
        bytes.len()
    ))
}

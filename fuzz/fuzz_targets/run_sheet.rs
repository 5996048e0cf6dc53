//! The run sheet: any text is a sheet that holds together or a list of problems, each with a place; never a panic.
//!
//! The first byte chooses the unit that levels are reported in, the rest is the sheet.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillwell_method::RunSheet;
use stillwell_quantity::{Analyte, QuantityKind};

const REPORTED_AS: [&str; 4] = ["mg/L as NO3-", "mg/L as N", "umol/L", "nmol/L"];

fuzz_target!(|bytes: &[u8]| {
    let Some((choice, bytes)) = bytes.split_first() else { return };
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let words = REPORTED_AS[usize::from(*choice) % REPORTED_AS.len()];
    let Ok(kind) = QuantityKind::parse(words, Some(&Analyte::Nitrate)) else { return };
    let n_lines = text.lines().count().max(1);
    match RunSheet::parse("run-sheet.csv", text, &kind.value) {
        Err(problems) => {
            assert!(!problems.problems.is_empty());
            for problem in &problems.problems {
                assert!(!problem.found.is_empty() && !problem.cure.is_empty(), "{problem:?}");
                assert!(problem.place.line <= n_lines, "{problem:?}");
            }
        }
        Ok(sheet) => {
            assert!(!sheet.rows.is_empty());
            for row in &sheet.rows {
                assert!(row.scan > 0 && !row.file.is_empty() && row.place.line > 1, "{row:?}");
                let level = row.level.as_ref().map(stillwell_quantity::Concentration::value);
                assert!(level.is_none_or(|level| level.is_finite() && level >= 0.0), "{row:?}");
                let numbers = [row.temperature_c, row.ph, row.chloride_mg_per_l, row.conductivity_us_per_cm];
                assert!(numbers.into_iter().flatten().all(f64::is_finite), "{row:?}");
            }
        }
    }
});

//! A station file: any text is stations whose review ends, or a list of problems, each with a place; never a panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillwell_method::{StationAsked, StationFile, station_review};

fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let n_lines = text.lines().count().max(1);
    match StationFile::parse("readings.csv", text) {
        Err(problems) => {
            assert!(!problems.problems.is_empty());
            for problem in &problems.problems {
                assert!(!problem.found.is_empty() && !problem.cure.is_empty(), "{problem:?}");
                assert!(problem.place.line <= n_lines, "{problem:?}");
            }
        }
        Ok(file) => {
            for station in &file.stations {
                let review = station_review(station, &StationAsked::default());
                assert!(review.is_ok(), "{review:?}");
            }
        }
    }
});

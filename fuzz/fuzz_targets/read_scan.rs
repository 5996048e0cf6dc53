//! The reader of scans: any bytes are read or refused, never a panic, and what is read is whole.
//!
//! The first byte chooses what is pinned, the rest is the file.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillwell_scan::{
    ColumnChoice, CurrentUnit, DecimalMark, Delimiter, Encoding, Layout, PotentialUnit, ReadingPin,
    ReductionCurrent, read,
};

fn pin(mode: u8) -> ReadingPin {
    let bit = |index: u8| mode >> index & 1 == 1;
    let mut pin = ReadingPin::default();
    if bit(0) {
        pin.current_unit = Some(CurrentUnit::Microampere);
        pin.potential_unit = Some(PotentialUnit::Volt);
    }
    if bit(1) {
        pin.delimiter = Some([Delimiter::Comma, Delimiter::Blank][usize::from(bit(2))]);
        pin.decimal_mark = Some([DecimalMark::Comma, DecimalMark::Point][usize::from(bit(3))]);
    }
    if bit(4) {
        pin.potential_column = Some(ColumnChoice::Number(1));
        pin.current_columns = Some(vec![ColumnChoice::Number(2 + usize::from(bit(2)))]);
        pin.reduction_current = Some(ReductionCurrent::Positive);
    }
    if bit(5) {
        pin.layout = Some([Layout::Rows, Layout::Stacked][usize::from(bit(3))]);
    }
    if bit(6) {
        pin.header_lines = Some(usize::from(mode & 3));
    }
    if bit(7) {
        pin.encoding = Some([Encoding::Utf16Le, Encoding::Windows1252][usize::from(bit(2))]);
    }
    pin
}

fuzz_target!(|bytes: &[u8]| {
    let Some((&mode, bytes)) = bytes.split_first() else { return };
    let pin = pin(mode);
    match read(bytes, "strip_nA.csv", &pin) {
        Err(error) => assert!(!error.to_string().is_empty()),
        Ok(file) => {
            assert!(!file.scans.is_empty());
            for scan in &file.scans {
                assert!(scan.n_points() > 0);
                assert_eq!(scan.n_points(), scan.current_a.len());
                assert!(scan.potential_v.iter().all(|value| value.is_finite()));
                let n_nan = scan.current_a.iter().filter(|value| value.is_nan()).count();
                assert_eq!(n_nan, scan.overload_points.len());
                assert!(scan.first_line <= scan.last_line);
                let points: usize = scan.segments().iter().map(|segment| segment.points.len()).sum();
                assert!(points <= 2 * scan.n_points());
            }
            // A reading pinned as it was said gives the same scans, or says why not; never other numbers.
            if let Ok(again) = read(bytes, "strip_nA.csv", &file.reading.to_pin()) {
                assert_eq!(format!("{:?}", again.scans), format!("{:?}", file.scans));
            }
        }
    }
});

//! Sizes and bytes at which reading stops with a number, not with the machine.

use stillwell_scan::{MAX_BYTES, MAX_CELLS, MAX_COLUMNS, ReadError, ReadingPin, read};

fn refusal(bytes: &[u8]) -> ReadError {
    read(bytes, "strip.txt", &ReadingPin::default()).expect_err("refused")
}

#[test]
fn no_bytes_are_an_empty_file() {
    assert!(matches!(refusal(b""), ReadError::Empty { .. }));
    assert!(matches!(refusal(b"\xef\xbb\xbf"), ReadError::Empty { .. }));
    assert!(matches!(refusal(b"\xff\xfe"), ReadError::Empty { .. }));
}

#[test]
fn a_binary_file_is_refused_with_its_offset() {
    let bytes = b"E/V,I/uA\n0.1,\x001\n0.2,2\n";
    assert!(matches!(refusal(bytes), ReadError::Binary { offset: 13, byte: 0, .. }));
    let bytes = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR";
    assert!(matches!(refusal(bytes), ReadError::Binary { byte: 0, .. }));
}

#[test]
fn more_bytes_than_the_limit_are_refused_before_they_are_read() {
    let error = refusal(&vec![b'1'; MAX_BYTES + 1]);
    let message = error.to_string();
    assert!(message.contains("67108865 bytes, more than the limit of 67108864"), "{message}");
}

#[test]
fn ten_million_lines_are_refused_by_size_or_read_within_the_cells_limit() {
    let mut text = b"E/V,I/uA\n".to_vec();
    text.extend(b"0.1,1.5\n".repeat(10_000_000));
    assert!(matches!(refusal(&text), ReadError::TooLarge { what: "bytes", .. }));
    // Short lines fit 64 MiB, three cells each are too many.
    let mut text = b"E/V,I/uA\n".to_vec();
    text.extend(b"1,2,3\n".repeat(MAX_CELLS / 3 + 10));
    let error = refusal(&text);
    assert!(
        matches!(error, ReadError::TooLarge { what: "cells", limit: MAX_CELLS, .. })
            || matches!(error, ReadError::ExtraCell { .. }),
        "{error}"
    );
    let mut text = b"a,b,c\n".to_vec();
    text.extend(b"1,2,3\n".repeat(MAX_CELLS / 3 + 10));
    assert!(matches!(refusal(&text), ReadError::TooLarge { what: "cells", limit: MAX_CELLS, .. }));
}

#[test]
fn one_very_long_line_is_refused_by_its_columns() {
    let line = "1,".repeat(MAX_COLUMNS + 2);
    let text = format!("{line}\n{line}\n");
    assert!(matches!(refusal(text.as_bytes()), ReadError::TooLarge { what: "columns", .. }));
    let text = "x".repeat(8 << 20);
    let message = refusal(text.as_bytes()).to_string();
    assert!(message.len() < 400, "{message}");
}

#[test]
fn bytes_outside_the_pinned_encoding_are_refused() {
    let pin = ReadingPin { encoding: Some(stillwell_scan::Encoding::Utf8), ..ReadingPin::default() };
    let error = read(b"E/V;i/\xb5A\n0.1;1\n", "strip.txt", &pin).expect_err("refused");
    assert!(matches!(error, ReadError::NotInEncoding { offset: 6, .. }), "{error}");
}

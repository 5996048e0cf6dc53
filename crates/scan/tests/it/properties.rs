//! What must hold for any bytes, and for any scan written in any dialect.

use proptest::prelude::*;
use stillwell_scan::{
    CurrentUnit, DecimalMark, Delimiter, Layout, PotentialUnit, ReadingPin, ReductionCurrent, read,
};

/// How a test writes a scan file.
#[expect(clippy::struct_excessive_bools, reason = "independent switches of a writer")]
#[derive(Debug, Clone)]
struct Style {
    delimiter: &'static str,
    decimal_comma: bool,
    is_quoted: bool,
    line_end: &'static str,
    encoding: usize,
    exponent: bool,
    header: usize,
    trailing: bool,
    n_scans: usize,
    layout: usize,
}

fn style() -> impl Strategy<Value = Style> {
    (
        0..4_usize,
        any::<bool>(),
        0..3_usize,
        0..4_usize,
        any::<bool>(),
        0..3_usize,
        any::<bool>(),
        1..4_usize,
        0..3_usize,
    )
        .prop_map(
            |(delimiter, comma, line_end, encoding, exponent, header, trailing, n_scans, layout)| {
                let delimiter = [",", ";", "\t", "  "][delimiter];
                Style {
                    delimiter,
                    decimal_comma: comma,
                    is_quoted: comma && delimiter == ",",
                    line_end: ["\n", "\r\n", "\r"][line_end],
                    encoding,
                    exponent,
                    header,
                    trailing: trailing && delimiter != "  ",
                    n_scans,
                    layout,
                }
            },
        )
}

fn number(value: f64, style: &Style) -> String {
    let text = if style.exponent { format!("{value:E}") } else { format!("{value}") };
    let text = if style.decimal_comma { text.replace('.', ",") } else { text };
    if style.is_quoted { format!("\"{text}\"") } else { text }
}

/// The file, scan by scan in columns, in pairs or stacked.
fn written(potentials: &[f64], scans: &[Vec<f64>], style: &Style) -> Vec<u8> {
    let mut lines: Vec<String> = Vec::new();
    for index in 0..style.header {
        lines.push(format!("# note: {index}"));
    }
    let join = |cells: Vec<String>| {
        let end = if style.trailing { style.delimiter } else { "" };
        format!("{}{end}", cells.join(style.delimiter))
    };
    let pair = |row: usize, scan: &Vec<f64>| vec![number(potentials[row], style), number(scan[row], style)];
    let names = |n_pairs: usize| (0..n_pairs).flat_map(|_| ["E/V".into(), "I/uA".into()]).collect();
    match style.layout {
        0 => {
            let mut header = vec!["E/V".to_owned()];
            header.extend(scans.iter().map(|_| "I/uA".to_owned()));
            lines.push(join(header));
            for row in 0..potentials.len() {
                let mut cells = vec![number(potentials[row], style)];
                cells.extend(scans.iter().map(|scan| number(scan[row], style)));
                lines.push(join(cells));
            }
        }
        1 => {
            lines.push(join(names(scans.len())));
            for row in 0..potentials.len() {
                lines.push(join(scans.iter().flat_map(|scan| pair(row, scan)).collect()));
            }
        }
        _ => {
            for scan in scans {
                lines.push(join(names(1)));
                lines.extend((0..potentials.len()).map(|row| join(pair(row, scan))));
                lines.push(String::new());
            }
        }
    }
    let text = lines.join(style.line_end) + style.line_end;
    match style.encoding {
        0 => text.into_bytes(),
        1 => format!("\u{feff}{text}").into_bytes(),
        2 => format!("\u{feff}{text}").encode_utf16().flat_map(u16::to_le_bytes).collect(),
        _ => format!("\u{feff}{text}").encode_utf16().flat_map(u16::to_be_bytes).collect(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Only a decimal mark in every number or another delimiter keeps whole numbers between commas apart, so currents
    /// have a fraction here; every finite value but that is drawn.
    #[test]
    fn every_dialect_gives_back_the_same_bits(
        style in style(),
        start in -100_i32..100,
        steps in prop::collection::vec(prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL | prop::num::f64::ZERO, 5..40),
    ) {
        let n_points = steps.len();
        let potentials: Vec<f64> = (0..n_points).map(|i| (f64::from(start) - i as f64 + 0.5) / 100.0).collect();
        let scans: Vec<Vec<f64>> = (0..style.n_scans)
            .map(|scan| steps.iter().map(|value| if scan == 0 { *value } else { value / (scan as f64 + 0.5) }).collect())
            .collect();
        let bytes = written(&potentials, &scans, &style);
        let file = read(&bytes, "scan.txt", &ReadingPin::default());
        let file = match file {
            Ok(file) => file,
            Err(error) => return Err(TestCaseError::fail(format!("{error}\n{}", String::from_utf8_lossy(&bytes)))),
        };
        prop_assert_eq!(file.scans.len(), scans.len(), "{}", file.reading);
        for (found, expected) in file.scans.iter().zip(&scans) {
            let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<u64>>();
            prop_assert_eq!(bits(&found.potential_v), bits(&potentials));
            let expected: Vec<f64> = expected.iter().map(|value| value / 1e6).collect();
            prop_assert_eq!(bits(&found.current_a), bits(&expected));
        }
        let again = read(&bytes, "scan.txt", &file.reading.to_pin());
        prop_assert_eq!(again.map(|again| again.scans), Ok(file.scans));
    }

    #[test]
    fn numbers_have_the_bits_of_the_standard_library(
        text in "[+-]?[0-9]{1,25}(\\.[0-9]{0,25})?([eE][+-]?[0-9]{1,3})?",
    ) {
        let file = format!("E/V,I/A\n0.2,1.5\n0.1,{text}\n0.0,1.5\n");
        let expected: f64 = text.parse().unwrap();
        match read(file.as_bytes(), "scan.csv", &ReadingPin::default()) {
            Ok(read) => prop_assert_eq!(read.scans[0].current_a[1].to_bits(), expected.to_bits(), "{}", text),
            Err(error) => prop_assert!(expected.is_infinite(), "{}: {}", text, error),
        }
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..400), pin in pin()) {
        if let Err(error) = read(&bytes, "any", &pin) {
            prop_assert!(!error.to_string().is_empty());
        }
    }

    #[test]
    fn any_text_of_a_scan_s_characters_is_read_or_refused(
        text in "([0-9]{0,3}[-+.,;\t \"#=:/µEVIunAa\n\r]){0,120}",
        pin in pin(),
    ) {
        match read(text.as_bytes(), "any", &pin) {
            Ok(file) => {
                let is_whole = file.scans.iter().all(|scan| {
                scan.n_points() > 0
                    && scan.current_a.len() == scan.n_points()
                    && scan.potential_v.iter().all(|value| value.is_finite())
                    && scan.first_line <= scan.last_line
                });
                prop_assert!(is_whole);
            }
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }

    /// A broken number is refused, or read as another number: it never vanishes into a header, a title or a footer.
    #[test]
    fn a_broken_number_never_loses_a_point(
        style in style(),
        at in any::<prop::sample::Index>(),
        wrong in prop::sample::select(vec!['x', 'O', 'l', 'E', '\n', ' ', '=', ':', '#', '"', '.']),
        is_inserted in any::<bool>(),
        n_points in 3..9_i32,
    ) {
        let style = Style { encoding: 0, ..style };
        // A line end within a line of several scans leaves what shorter scans look like; the potentials then step
        // unevenly, which the checks of a raw scan see.
        if wrong == '\n' && style.n_scans > 1 && style.layout != 2 {
            return Ok(());
        }
        let potentials: Vec<f64> = (0..n_points).map(|i| 0.15 - f64::from(i) / 100.0).collect();
        let current: Vec<f64> = (0..n_points).map(|i| 1.25 + f64::from(i * i % 7) / 8.0).collect();
        let currents = vec![current; style.n_scans];
        let text = String::from_utf8(written(&potentials, &currents, &style)).unwrap();
        let body = text.find(&number(potentials[0], &style)).unwrap();
        let place = body + at.index(text.len() - body - style.line_end.len());
        let rest = if is_inserted { &text[place..] } else { &text[place + 1..] };
        let mutated = format!("{}{wrong}{rest}", &text[..place]);
        if let Ok(file) = read(mutated.as_bytes(), "any", &ReadingPin::default()) {
            let found: usize = file.scans.iter().map(stillwell_scan::Scan::n_points).sum();
            prop_assert!(found >= potentials.len() * style.n_scans, "{found} points, {}\n{mutated}", file.reading);
        }
    }

    #[test]
    fn a_mutated_file_is_read_or_refused(
        style in style(),
        at in any::<prop::sample::Index>(),
        byte in any::<u8>(),
        cut in any::<prop::sample::Index>(),
        pin in pin(),
    ) {
        let potentials: Vec<f64> = (0..9).map(|i| 0.1 - f64::from(i) / 100.0).collect();
        let mut bytes = written(&potentials, &vec![vec![1.25; 9]; style.n_scans], &style);
        let place = at.index(bytes.len());
        bytes[place] = byte;
        bytes.truncate(cut.index(bytes.len()) + 1);
        if let Err(error) = read(&bytes, "any", &pin) {
            prop_assert!(!error.to_string().is_empty());
        }
    }
}

fn pin() -> impl Strategy<Value = ReadingPin> {
    use prop::option::of;
    use prop::sample::select;
    (
        of(select(vec![Delimiter::Comma, Delimiter::Semicolon, Delimiter::Tab, Delimiter::Blank])),
        of(select(vec![DecimalMark::Point, DecimalMark::Comma])),
        of(select(vec![Layout::Columns, Layout::Pairs, Layout::Stacked, Layout::Rows])),
        of(0..5_usize),
        of(0..4_usize),
        any::<bool>(),
    )
        .prop_map(|(delimiter, decimal_mark, layout, header_lines, column, is_stated)| ReadingPin {
            delimiter,
            decimal_mark,
            layout,
            header_lines,
            potential_column: column.map(stillwell_scan::ColumnChoice::Number),
            potential_unit: is_stated.then_some(PotentialUnit::Millivolt),
            current_unit: is_stated.then_some(CurrentUnit::Nanoampere),
            reduction_current: is_stated.then_some(ReductionCurrent::Positive),
            ..ReadingPin::default()
        })
}

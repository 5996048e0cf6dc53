//! Three ways to lay the same kind of readings out as text, one a batch, as three instruments would.

use super::plan::Batch;
use super::shape::{N_POINTS, Reading};

/// How the scans of one file stand in it.
#[derive(Clone, Copy)]
pub(crate) enum Dialect {
    /// Comma, decimal point, UTF-8: one potential column, the scans side by side.
    SharedPotential,
    /// Semicolon, decimal comma, Latin-1: settings first, then a pair of columns a scan, potential in mV.
    PairsWithSettings,
    /// Tab, UTF-16LE with byte order mark, CRLF: scans stacked, each with its header.
    Stacked,
}

impl Dialect {
    pub(crate) fn extension(self) -> &'static str {
        match self {
            Self::SharedPotential => "csv",
            Self::PairsWithSettings => "txt",
            Self::Stacked => "tsv",
        }
    }

    /// The bytes of a file with these scans.
    pub(crate) fn bytes(self, batch: &Batch, scans: &[Vec<Reading>]) -> Vec<u8> {
        match self {
            Self::SharedPotential => shared_potential(scans).into_bytes(),
            Self::PairsWithSettings => latin_1(&pairs_with_settings(batch, scans)),
            Self::Stacked => utf_16_le(&stacked(scans)),
        }
    }
}

fn shared_potential(scans: &[Vec<Reading>]) -> String {
    let mut lines = vec![format!("E / V{}", ",i / µA".repeat(scans.len()))];
    for row in rows(scans) {
        let mut cells: Vec<String> =
            row.first().map(|at| thousandths(at.potential_mv.into(), '.')).into_iter().collect();
        cells.extend(row.iter().map(|at| thousandths(at.difference_na, '.')));
        lines.push(cells.join(","));
    }
    lines.join("\n") + "\n"
}

fn pairs_with_settings(batch: &Batch, scans: &[Vec<Reading>]) -> String {
    let mut lines = vec![
        format!("Date: {}", batch.date),
        "Technique: square wave".to_owned(),
        "Start: -300 mV".to_owned(),
        "End: -900 mV".to_owned(),
        "Step: 4 mV".to_owned(),
        "Amplitude: 25 mV".to_owned(),
        "Frequency: 25 Hz".to_owned(),
        String::new(),
        vec!["E / mV;i / µA"; scans.len()].join(";"),
    ];
    for row in rows(scans) {
        let cells: Vec<String> = row
            .iter()
            // Four decimals: three after a comma could be read as digits in groups.
            .map(|at| format!("{};{}0", at.potential_mv, thousandths(at.difference_na, ',')))
            .collect();
        lines.push(cells.join(";"));
    }
    lines.join("\n") + "\n"
}

fn stacked(scans: &[Vec<Reading>]) -> String {
    let blocks: Vec<String> = scans.iter().map(|scan| stacked_block(scan)).collect();
    blocks.join("\r\n")
}

fn stacked_block(scan: &[Reading]) -> String {
    let mut lines = vec!["Potential [V]\tForward [µA]\tReverse [µA]\tDifference [µA]".to_owned()];
    lines.extend(scan.iter().map(|at| {
        let potential = thousandths(at.potential_mv.into(), '.');
        let forward = thousandths(at.difference_na + at.reverse_na, '.');
        let reverse = thousandths(at.reverse_na, '.');
        format!("{potential}\t{forward}\t{reverse}\t{}", thousandths(at.difference_na, '.'))
    }));
    lines.join("\r\n") + "\r\n"
}

/// The scans of a file point by point: one row holds the same point of every scan.
fn rows(scans: &[Vec<Reading>]) -> impl Iterator<Item = Vec<&Reading>> {
    (0..N_POINTS as usize).map(move |point| scans.iter().filter_map(|scan| scan.get(point)).collect())
}

/// A count of thousandths (nA in µA, mV in V) as a decimal number with three digits.
fn thousandths(count: i64, decimal_mark: char) -> String {
    let sign = if count < 0 { "-" } else { "" };
    let size = count.unsigned_abs();
    format!("{sign}{}{decimal_mark}{:03}", size / 1000, size % 1000)
}

/// Every character of these texts lies in Latin-1; any other would become a question mark.
fn latin_1(text: &str) -> Vec<u8> {
    text.chars().map(|character| u8::try_from(u32::from(character)).unwrap_or(b'?')).collect()
}

fn utf_16_le(text: &str) -> Vec<u8> {
    let mut bytes = vec![0xFF, 0xFE];
    bytes.extend(text.encode_utf16().flat_map(u16::to_le_bytes));
    bytes
}

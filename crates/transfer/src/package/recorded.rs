//! Vectors of a package: the study's own scans and the twin's, walked through the kernel as the device will walk them.

use std::collections::BTreeSet;

use stillwell_evaluate::{Conditions, Point, ScanResult};
use stillwell_method::{Input, Report, ScanLink};
use stillwell_scan::Scan;

use crate::error::TransferError;
use crate::frozen::Frozen;
use crate::vectors::{Vectors, Word, run_sample, run_scan};

/// Electrodes and scans of one electrode that a device takes; `STW_MOST_ELECTRODES`, `STW_MOST_SCANS`.
const MOST_ELECTRODES: usize = 6;
const MOST_SCANS: usize = 4;

/// A finished vector file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recorded {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Scans in it.
    pub n_scans: usize,
    /// Samples in it.
    pub n_samples: usize,
    /// Scans that are left out, since they do not have the grid's number of points.
    pub n_left_out: usize,
    /// Names of the words of a scan and of a sample, in their order; none where there is no such thing in it.
    pub words: [Vec<String>; 2],
}

impl Recorded {
    /// The names as a text: `scan` or `sample`, the word's number, its name.
    pub(super) fn words_text(&self) -> String {
        let mut text = String::new();
        for (kind, names) in ["scan", "sample"].into_iter().zip(&self.words) {
            text.extend(names.iter().enumerate().map(|(i, name)| format!("{kind} {i} {name}\n")));
        }
        text
    }
}

/// Points as a converter would deliver them.
pub fn points_of(scan: &Scan) -> Vec<Point> {
    let at = |column: &Option<Vec<f64>>, i: usize| {
        column.as_ref().and_then(|values| values.get(i)).copied().unwrap_or(0.0)
    };
    let point = |(i, current_a): (usize, &f64)| Point {
        current_a: *current_a,
        forward_a: at(&scan.forward_a, i),
        reverse_a: at(&scan.reverse_a, i),
        overload: scan.overload_points.contains(&i),
    };
    scan.current_a.iter().enumerate().map(point).collect()
}

struct Writer<'w> {
    frozen: &'w Frozen,
    vectors: Vectors,
    n_left_out: usize,
    words: [Vec<String>; 2],
}

fn names(words: &[Word]) -> Vec<String> {
    words.iter().map(|(name, _)| name.clone()).collect()
}

impl<'w> Writer<'w> {
    fn new(frozen: &'w Frozen) -> Result<Self, TransferError> {
        let mut vectors = Vectors::default();
        vectors.method(frozen, None)?;
        Ok(Self { frozen, vectors, n_left_out: 0, words: [Vec::new(), Vec::new()] })
    }

    fn scan(&mut self, scan: &Scan, electrode: Option<usize>) -> Result<Option<ScanResult>, TransferError> {
        if scan.n_points() != self.frozen.n_points() {
            self.n_left_out += 1;
            return Ok(None);
        }
        let points = points_of(scan);
        let (result, words) = run_scan(self.frozen, self.frozen.blank_a(), &points)?;
        self.vectors.scan(&points, self.frozen.freeze.has_reverse, electrode, &words);
        self.words[0] = names(&words);
        Ok(Some(result))
    }

    fn finish(self) -> Recorded {
        Recorded {
            n_scans: self.vectors.n_scans(),
            n_samples: self.vectors.n_samples(),
            n_left_out: self.n_left_out,
            words: self.words,
            bytes: self.vectors.finish(),
        }
    }
}

/// Every scan of a report, and every sample of it, with the blank of the lot's record. A batch with blanks of its own reads
/// otherwise on the desktop: what stands here is what the device computes.
///
/// # Errors
/// As [`run_scan`].
pub fn recorded(
    frozen: &Frozen,
    input: &Input,
    report: &Report,
    today: u32,
) -> Result<Recorded, TransferError> {
    let mut writer = Writer::new(frozen)?;
    let mut in_samples = BTreeSet::new();
    for found in &report.determinations {
        let links: Vec<(usize, &ScanLink)> = found
            .scans
            .iter()
            .filter_map(|place| Some((*place, report.scans.get(*place)?)))
            .filter(|(_, link)| scan_of(input, link).is_some_and(|scan| scan.n_points() == frozen.n_points()))
            .collect();
        let Some(electrodes) = electrodes(&links) else { continue };
        let Some((_, first)) = links.first() else { continue };
        let conditions = Conditions {
            temperature_c: first.row.temperature_c,
            dilution_factor: first.row.dilution.map_or(1.0, |dilution| dilution.factor),
            dilution_u: first.row.dilution.map_or(0.0, |dilution| dilution.standard_u),
            today: Some(today),
            control_alive: true,
        };
        writer.vectors.sample_begin(&conditions);
        let mut results = Vec::new();
        for (place, link) in &links {
            let Some(scan) = scan_of(input, link) else { continue };
            let electrode = electrodes.iter().position(|name| *name == link.row.electrode).unwrap_or(0);
            in_samples.insert(*place);
            if let Some(result) = writer.scan(scan, Some(electrode))? {
                results.push((electrode, result));
            }
        }
        // Where the conditions are impossible the device refuses the sample at its begin, and has no words for it.
        if let Some((_, words)) = run_sample(frozen, &conditions, &results)? {
            writer.vectors.sample_end(&words);
            writer.words[1] = names(&words);
        }
    }
    let others = report.scans.iter().enumerate().filter(|(place, _)| !in_samples.contains(place));
    for scan in others.filter_map(|(_, link)| scan_of(input, link)) {
        writer.scan(scan, None)?;
    }
    Ok(writer.finish())
}

/// The names of a sample's electrodes as the desktop sorts them; none where a device has no places for so many.
fn electrodes<'l>(links: &[(usize, &'l ScanLink)]) -> Option<Vec<&'l str>> {
    let names: BTreeSet<&str> = links.iter().map(|(_, link)| link.row.electrode.as_str()).collect();
    let n_most = names
        .iter()
        .map(|name| links.iter().filter(|(_, link)| link.row.electrode == *name).count())
        .max()
        .unwrap_or(0);
    (!names.is_empty() && names.len() <= MOST_ELECTRODES && n_most <= MOST_SCANS)
        .then(|| names.into_iter().collect())
}

fn scan_of<'i>(input: &'i Input, link: &ScanLink) -> Option<&'i Scan> {
    input.files.get(&link.row.file)?.scans.get(link.row.scan.checked_sub(1)?)
}

/// Scans by themselves, such as the twin's.
///
/// # Errors
/// As [`run_scan`].
pub fn simulated<'s>(
    frozen: &Frozen,
    scans: impl IntoIterator<Item = &'s Scan>,
) -> Result<Recorded, TransferError> {
    let mut writer = Writer::new(frozen)?;
    for scan in scans {
        writer.scan(scan, None)?;
    }
    Ok(writer.finish())
}

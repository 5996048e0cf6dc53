//! The blank of a scan: which blanks match, and their mean on the scan's grid.

use std::collections::BTreeMap;
use std::sync::Arc;

use stillwell_evaluate::{IndexRange, estimate_shift, resample_shifted};

use crate::check::Check;
use crate::file::{BlankUse, Method};
use crate::finding::{Effect, Finding, refuses, si};
use crate::grid::index_range;
use crate::grids::Grids;
use crate::input::Record;
use crate::link::{RawLink, ScanLink};
use crate::run_sheet::Role;
use crate::sweep::Sweep;

/// What is to be subtracted from a scan.
pub(crate) struct Background {
    /// The mean of the matching blanks, point by point; `None` where the method uses no blank.
    pub(crate) current_a: Option<Arc<[f64]>>,
    /// The blanks it is the mean of.
    pub(crate) blanks: Arc<[RawLink]>,
}

/// A blank that may be used.
struct Usable<'a> {
    record: &'a Record<'a>,
    sweep: Sweep<'a>,
    raw: RawLink,
    /// Place in [`Blanks::grids`] of its potentials.
    grid: usize,
}

/// The mean of some blanks, and where they lie.
#[derive(Clone)]
struct Mean {
    current_a: Arc<[f64]>,
    blanks: Arc<[RawLink]>,
}

/// All blanks of the run sheet with their sweeps.
pub(crate) struct Blanks<'a> {
    method: &'a Method,
    usable: Vec<Usable<'a>>,
    refused: Vec<&'a Record<'a>>,
    /// Every grid of potentials on which a blank was recorded, once.
    grids: Vec<&'a [f64]>,
    /// The means so far, by the places in `usable` of their blanks: most scans share theirs with others.
    means: BTreeMap<Vec<usize>, Mean>,
}

impl<'a> Blanks<'a> {
    /// The blanks that may be used; those refused by their own checks are kept for the message.
    pub(crate) fn among(
        method: &'a Method,
        records: &'a [Record<'a>],
        grids: &Grids<'a>,
        links: &[ScanLink],
    ) -> Self {
        let mut blanks = Self {
            method,
            usable: Vec::new(),
            refused: Vec::new(),
            grids: Vec::new(),
            means: BTreeMap::new(),
        };
        let all = records.iter().zip(links).enumerate();
        for (place, (record, link)) in all.filter(|(_, (record, _))| record.row.role == Role::Blank) {
            if !link.counts() {
                continue;
            }
            match grids.at(place).and_then(|(_, grid)| grid.sweep(record.scan)) {
                Some(sweep) if !refuses(&link.findings) => {
                    let grid = blanks.grid(sweep.potential_v);
                    blanks.usable.push(Usable { record, sweep, raw: link.raw.clone(), grid });
                }
                _ => blanks.refused.push(record),
            }
        }
        blanks
    }

    fn grid(&mut self, potential_v: &'a [f64]) -> usize {
        let known =
            self.grids.iter().position(|grid| std::ptr::eq(*grid, potential_v) || *grid == potential_v);
        known.unwrap_or_else(|| {
            self.grids.push(potential_v);
            self.grids.len() - 1
        })
    }

    /// The background of one scan, with what there is to say about it. `None` where the scan is refused.
    pub(crate) fn background(
        &mut self,
        record: &Record<'_>,
        sweep: &Sweep<'_>,
        findings: &mut Vec<Finding>,
    ) -> Option<Background> {
        if self.method.evaluation.blank == BlankUse::Ignore {
            return Some(Background { current_a: None, blanks: Arc::default() });
        }
        let usable = self.usable.iter().enumerate();
        let matching: Vec<(usize, &Usable<'a>)> =
            usable.filter(|(_, blank)| belongs(blank.record, record)).collect();
        if matching.is_empty() {
            findings.push(self.no_blank(record));
            return None;
        }
        let matching = self.nearest_in_temperature(record, matching, findings);
        let is_same: Vec<bool> = self.grids.iter().map(|grid| same_grid(grid, sweep.potential_v)).collect();
        let on_grid: Vec<usize> = matching
            .iter()
            .filter(|(_, blank)| is_same.get(blank.grid) == Some(&true))
            .map(|(place, _)| *place)
            .collect();
        if on_grid.is_empty() {
            let found = matching.first().map_or_else(String::new, |(_, blank)| {
                let label = blank.record.row.scan_label();
                format!("the blank {label} was recorded on another grid of potentials")
            });
            findings.push(Finding::new(Check::BlankMatch, Effect::Refused, record.row.scan_label(), found));
            return None;
        }
        let Mean { current_a, blanks } = self.mean(on_grid);
        let current_a = match self.method.evaluation.blank {
            BlankUse::Align => self.aligned(record, sweep, &current_a, findings)?.into(),
            BlankUse::Subtract | BlankUse::Ignore => current_a,
        };
        Some(Background { current_a: Some(current_a), blanks })
    }

    fn mean(&mut self, places: Vec<usize>) -> Mean {
        if let Some(mean) = self.means.get(&places) {
            return mean.clone();
        }
        let blanks: Vec<&Usable<'a>> = places.iter().filter_map(|place| self.usable.get(*place)).collect();
        let mean = Mean {
            current_a: mean_of(&blanks.iter().map(|blank| blank.sweep.current_a).collect::<Vec<_>>()).into(),
            blanks: blanks.iter().map(|blank| blank.raw.clone()).collect(),
        };
        self.means.insert(places, mean.clone());
        mean
    }

    fn no_blank(&self, record: &Record<'_>) -> Finding {
        let refused: Vec<String> = self
            .refused
            .iter()
            .filter(|blank| belongs(blank, record))
            .map(|blank| blank.row.scan_label())
            .collect();
        if !refused.is_empty() {
            let found = format!("its blank did not pass its own checks: {}", refused.join("; "));
            return Finding::new(Check::BlankRefused, Effect::Refused, record.row.scan_label(), found);
        }
        let wanted =
            [("batch", &record.row.batch), ("lot", &record.row.lot), ("channel", &record.row.channel)]
                .into_iter()
                .filter(|(_, value)| !value.is_empty())
                .map(|(name, value)| format!("{name} {value}"))
                .collect::<Vec<_>>()
                .join(", ");
        let found = if wanted.is_empty() {
            "the run sheet names no blank".to_owned()
        } else {
            format!("no blank of {wanted} among {} blank scan(s)", self.usable.len())
        };
        Finding::new(Check::BlankMatch, Effect::Refused, record.row.scan_label(), found)
    }

    /// The blanks recorded at the scan's temperature; where there are none, all of them, with a warning.
    fn nearest_in_temperature<'b>(
        &self,
        record: &Record<'_>,
        matching: Vec<(usize, &'b Usable<'a>)>,
        findings: &mut Vec<Finding>,
    ) -> Vec<(usize, &'b Usable<'a>)> {
        let Some(rule) = &self.method.sample.temperature else { return matching };
        let Some(scan_c) = record.row.temperature_c else { return matching };
        let near = |blank: &Usable<'_>| {
            let blank_c = blank.record.row.temperature_c;
            blank_c.is_none_or(|blank_c| (blank_c - scan_c).abs() <= rule.tolerance_k)
        };
        let at_temperature: Vec<_> = matching.iter().copied().filter(|(_, blank)| near(blank)).collect();
        if !at_temperature.is_empty() {
            return at_temperature;
        }
        let stated: Vec<f64> =
            matching.iter().filter_map(|(_, blank)| blank.record.row.temperature_c).collect();
        let blank_c = mean(&stated).unwrap_or(f64::NAN);
        let found = format!("blank recorded at {blank_c:.1} °C, scan at {scan_c:.1} °C");
        findings.push(Finding::new(Check::BlankMatch, Effect::Warned, record.row.scan_label(), found));
        matching
    }

    /// Moves the blank along the potential by the estimated shift of the reference, within its limit.
    fn aligned(
        &self,
        record: &Record<'_>,
        sweep: &Sweep<'_>,
        blank_a: &[f64],
        findings: &mut Vec<Finding>,
    ) -> Option<Vec<f64>> {
        let step_v = sweep.step_v()?;
        let limit_v = self.method.reference.shift_limit_v;
        // Whole points only bound the search; counts of points are small.
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small positive count")]
        let most = (limit_v / step_v).ceil().clamp(1.0, 1e6) as usize;
        let refused = |found: String| {
            Finding::new(Check::BlankShifted, Effect::Refused, record.row.scan_label(), found)
        };
        let shift = compared_range(sweep, self.method.evaluation.peak.window_v, most)
            .and_then(|range| estimate_shift(sweep.current_a, blank_a, most, range).ok());
        let Some(shift) = shift else {
            findings.push(refused("the scan is too short to find the shift against its blank".to_owned()));
            return None;
        };
        let shift_v = shift.points.abs() * step_v;
        if shift.at_bound || shift_v > limit_v {
            let found =
                format!("scan and blank differ by {} or more, limit {}", si(shift_v, "V"), si(limit_v, "V"));
            findings.push(refused(found));
            return None;
        }
        let mut moved = vec![0.0; blank_a.len()];
        if resample_shifted(blank_a, shift.points, &mut moved).is_err() {
            findings.push(refused("the blank holds points that are no numbers".to_owned()));
            return None;
        }
        if shift_v > step_v / 2.0 {
            let found = format!("the blank was moved by {}", si(shift_v, "V"));
            findings.push(Finding::new(Check::BlankShifted, Effect::Warned, record.row.scan_label(), found));
        }
        Some(moved)
    }
}

/// The longer stretch outside the peak's window that can be moved by `most` points either way.
fn compared_range(sweep: &Sweep<'_>, window_v: [f64; 2], most: usize) -> Option<IndexRange> {
    let window = index_range(sweep.potential_v, window_v)?;
    let last_usable = sweep.potential_v.len().checked_sub(most + 1)?;
    let before = (most, window.first.saturating_sub(1).min(last_usable));
    let after = ((window.last + 1).max(most), last_usable);
    let (first, last) =
        [before, after].into_iter().max_by_key(|(first, last)| last.saturating_sub(*first))?;
    (first + 3 <= last).then_some(IndexRange { first, last })
}

/// Batch, lot and channel must agree as far as both are stated.
fn belongs(blank: &Record<'_>, record: &Record<'_>) -> bool {
    let agree = |a: &str, b: &str| a.is_empty() || b.is_empty() || a == b;
    agree(&blank.row.batch, &record.row.batch)
        && agree(&blank.row.lot, &record.row.lot)
        && agree(&blank.row.channel, &record.row.channel)
}

/// A microvolt: potentials are set by converters far coarser than that.
fn same_grid(a: &[f64], b: &[f64]) -> bool {
    let near = |(a, b): &(&f64, &f64)| (*a - *b).abs() <= 1e-6;
    std::ptr::eq(a, b) || (a.len() == b.len() && a.iter().zip(b).filter(near).count() == a.len())
}

fn mean_of(scans: &[&[f64]]) -> Vec<f64> {
    let n_points = scans.first().map_or(0, |scan| scan.len());
    (0..n_points)
        .map(|point| {
            let sum = scans.iter().filter_map(|scan| scan.get(point)).fold(0.0, |sum, value| sum + value);
            sum / scans.len() as f64
        })
        .collect()
}

/// The plain mean, if there is anything to average.
pub(crate) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().fold(0.0, |sum, value| sum + value) / values.len() as f64)
}

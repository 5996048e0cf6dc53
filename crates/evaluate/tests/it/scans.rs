//! Scans and settings that the tests of the signal pipeline share.

use stillwell_evaluate::{
    Baseline, Direction, Evaluator, IndexRange, Measure, PeakLimits, PeakSettings, Placement, Refusal,
    Settings, Signal, Workspace,
};
use toml_edit::Table;

pub(crate) fn range(first: usize, last: usize) -> IndexRange {
    IndexRange { first, last }
}

/// Peak height, no smoothing, no limits; tests change what they are about.
pub(crate) fn plain_settings<'a>(
    window: IndexRange,
    direction: Direction,
    baseline: Baseline,
) -> Settings<'a> {
    Settings {
        despike: None,
        smoother: None,
        baseline,
        peak: PeakSettings { window, direction, placement: Placement::Search, measure: Measure::Height },
        noise: [None, None],
        limits: PeakLimits::NONE,
    }
}

pub(crate) fn evaluate(
    potential_v: &[f64],
    settings: &Settings<'_>,
    scan: &[f64],
    blank: Option<&[f64]>,
) -> Result<Signal, Refusal> {
    let mut storage = vec![0.0; Workspace::storage_len(potential_v.len())];
    let mut workspace = Workspace::new(&mut storage, potential_v.len())?;
    Evaluator::new(potential_v, *settings)?.evaluate(scan, blank, &mut workspace)
}

/// A falling grid of potentials.
pub(crate) fn falling_grid(n: usize) -> Vec<f64> {
    (0..n).map(|i| -0.2 - 0.005 * i as f64).collect()
}

/// A smooth peak of unit height at point `centre`, without exp.
pub(crate) fn bump(i: f64, centre: f64, width: f64) -> f64 {
    let t = (i - centre) / width;
    let lorentz = 1.0 / (1.0 + t * t);
    lorentz * lorentz
}

/// Repeatable noise between −0.5 and 0.5.
pub(crate) fn noise(seed: u64, i: usize) -> f64 {
    let mut h = (seed ^ (i as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    h ^= h >> 31;
    h = h.wrapping_mul(0x94d0_49bb_1331_11eb);
    h ^= h >> 29;
    (h >> 11) as f64 / 9007199254740992.0 - 0.5
}

pub(crate) fn number(table: &Table, key: &str) -> f64 {
    let item = &table[key];
    item.as_float()
        .or_else(|| item.as_integer().map(|i| i as f64))
        .unwrap_or_else(|| panic!("{key} is no number"))
}

pub(crate) fn count(table: &Table, key: &str) -> usize {
    usize::try_from(table[key].as_integer().unwrap()).unwrap()
}

pub(crate) fn numbers(table: &Table, key: &str) -> Vec<f64> {
    let array = table[key].as_array().unwrap_or_else(|| panic!("{key} is no array"));
    array.iter().map(|v| v.as_float().or_else(|| v.as_integer().map(|i| i as f64)).unwrap()).collect()
}

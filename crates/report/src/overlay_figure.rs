//! Many scans over one another: the range they fill, and a few by name.

use stillwell_method::{Method, ScanCurves};

use crate::figure::Figure;
use crate::mark::{KeyEntry, Mark, Plot};
use crate::scale::Spacing;
use crate::scan_figure::{current_axis, points, potential_axis};
use crate::style::Look;
use crate::words::harmless;

/// Draws many scans: their smoothed currents fill a band, and those at the places `named` are drawn as lines.
///
/// Scans without curves (refused before their evaluation, left out, blanks) and scans on another grid of potentials than
/// the first are counted, not drawn.
///
/// # Units
/// V, and A with a prefix.
pub fn overlay_figure(method: &Method, title: &str, scans: &[ScanCurves<'_>], named: &[usize]) -> String {
    let first = scans.iter().find(|scan| scan.evaluated.is_some());
    let potential_v = first.map_or(&[][..], |scan| scan.potential_v);
    let smoothed = |scan: &ScanCurves<'_>| -> Option<Vec<f64>> {
        let evaluated = scan.evaluated.as_ref()?;
        (scan.potential_v == potential_v).then(|| evaluated.smoothed_a.clone())
    };
    let all: Vec<Vec<f64>> = scans.iter().filter_map(smoothed).collect();
    let mut marks = vec![Mark::Band { points: envelope(potential_v, &all) }];
    let mut key = vec![KeyEntry::Shade("band", "between the lowest and the highest of all".to_owned())];
    let chosen = named.iter().filter_map(|place| scans.get(*place));
    for (index, scan) in chosen.enumerate() {
        let Some(current_a) = smoothed(scan) else { continue };
        marks.push(Mark::Line {
            look: Look::of_series(index),
            points: points(potential_v, &current_a),
            label: String::new(),
        });
        key.push(KeyEntry::Stroke(format!("line {}", Look::of_series(index).class()), name_of(scan)));
    }
    let n_left = scans.len() - all.len();
    let mut remark = format!("{} scan(s), less their blanks and smoothed.", all.len());
    if n_left > 0 {
        remark += " Others without curves or on another grid are not drawn: ";
        remark += &n_left.to_string();
        remark.push('.');
    }
    let plot = Plot {
        x: potential_axis(method),
        y: current_axis("current"),
        x_spacing: Spacing::Linear,
        y_spacing: Spacing::Linear,
        height: 260.0,
        shows_x: true,
        x_ticks: Vec::new(),
        marks,
    };
    Figure {
        title: title.to_owned(),
        description: remark.clone(),
        remarks: vec![remark],
        plots: vec![plot],
        key,
        ..Figure::default()
    }
    .svg()
}

/// Place, lowest and highest of all scans.
fn envelope(potential_v: &[f64], all: &[Vec<f64>]) -> Vec<(f64, f64, f64)> {
    let span_at = |index: usize| {
        let here = all.iter().filter_map(|scan| scan.get(index)).copied();
        here.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
    };
    potential_v
        .iter()
        .enumerate()
        .map(|(index, at_v)| {
            let (low, high) = span_at(index);
            (*at_v, low, high)
        })
        .collect()
}

fn name_of(scan: &ScanCurves<'_>) -> String {
    let row = &scan.link.row;
    match &row.level {
        _ if !row.sample.is_empty() => harmless(&row.sample),
        Some(level) => level.to_string(),
        None => row.scan_label(),
    }
}

//! Many scans over one another: the range they fill, their middle, and a few by name.

use stillwell_method::{Method, ScanCurves};

use crate::axis::AxisText;
use crate::figure::Figure;
use crate::mark::{Hair, KeyEntry, Mark, Plot};
use crate::scan_figure::{current_axis, points, potential_axis};
use crate::style::Look;
use crate::table::{Cell, Table};
use crate::words::harmless;

/// From this many scans on, the range that holds nine of ten is shown besides the range of all.
const MANY: usize = 20;

/// The table shows at most about so many potentials.
const MOST_ROWS: usize = 120;

/// Draws many scans: their smoothed currents fill a band, and those at the places `named` are drawn as lines.
///
/// At each potential the band reaches from the lowest to the highest current; from twenty scans on a second band leaves out the
/// twentieth part at either end, and a line shows the middle scan there (of an even number the lower of both), each of them a current
/// that was recorded. On a page every scan can be pointed at: its hair has the trace `scan-` and its place in `scans`.
///
/// Scans without curves (refused before their evaluation, left out, blanks) and scans on another grid of potentials than
/// the first are counted, not drawn.
///
/// # Units
/// V, and A with a prefix.
pub fn overlay_figure(method: &Method, title: &str, scans: &[ScanCurves<'_>], named: &[usize]) -> Figure {
    let first = scans.iter().find(|scan| scan.evaluated.is_some());
    let potential_v = first.map_or(&[][..], |scan| scan.potential_v);
    let drawn: Vec<(usize, &ScanCurves<'_>, &[f64])> = scans
        .iter()
        .enumerate()
        .filter(|(_, scan)| scan.potential_v == potential_v)
        .filter_map(|(place, scan)| Some((place, scan, scan.evaluated.as_ref()?.smoothed_a.as_slice())))
        .collect();
    let spread =
        Spread::of(potential_v, &drawn.iter().map(|(_, _, current_a)| *current_a).collect::<Vec<_>>());
    let (mut marks, mut key) = spread.drawn();
    let names: Vec<String> = named.iter().filter_map(|place| scans.get(*place)).map(name_of).collect();
    let chosen = named.iter().filter_map(|place| drawn.iter().find(|(at, _, _)| at == place));
    for (index, (place, scan, current_a)) in chosen.enumerate() {
        let look = Look::of_series(index);
        marks.push(Mark::traced(look, points(potential_v, current_a), "", &trace(*place)));
        let name = name_of(scan);
        let is_shared = names.iter().filter(|other| **other == name).count() > 1;
        let name = if is_shared { scan.link.row.scan_label() } else { name };
        key.push(KeyEntry::Stroke(format!("line {}", look.class()), name));
    }
    let hairs = drawn.iter().map(|(place, scan, current_a)| Hair {
        trace: trace(*place),
        title: format!("{}: {}", scan.link.row.scan_label(), name_of(scan)),
        points: points(potential_v, current_a),
    });
    marks.push(Mark::Hairs { lines: hairs.collect() });
    let remark = remark(drawn.len(), scans.len() - drawn.len());
    Figure {
        title: title.to_owned(),
        description: remark.clone(),
        remarks: vec![remark],
        plots: vec![Plot::new("overlay", potential_axis(method), current_axis("current"), 260.0, marks)],
        key,
        tables: vec![spread.table(potential_axis(method))],
        ..Figure::default()
    }
}

fn trace(place: usize) -> String {
    format!("scan-{place}")
}

fn remark(n_drawn: usize, n_left: usize) -> String {
    let mut remark = format!("{n_drawn} scan(s), less their blanks and smoothed.");
    if n_left > 0 {
        remark += " Others without curves or on another grid are not drawn: ";
        remark += &n_left.to_string();
        remark.push('.');
    }
    remark
}

/// The currents of all scans at each potential, in rising order.
struct Spread {
    n_scans: usize,
    potential_v: Vec<f64>,
    ordered_a: Vec<Vec<f64>>,
}

impl Spread {
    fn of(potential_v: &[f64], all: &[&[f64]]) -> Self {
        let at = |index: usize| {
            let mut here: Vec<f64> = all.iter().filter_map(|scan| scan.get(index)).copied().collect();
            here.retain(|current_a| current_a.is_finite());
            here.sort_by(f64::total_cmp);
            here
        };
        let ordered_a = (0..potential_v.len()).map(at).collect();
        Self { n_scans: all.len(), potential_v: potential_v.to_vec(), ordered_a }
    }

    fn has_middle(&self) -> bool {
        self.n_scans >= MANY
    }

    /// The current that so many twentieths of the scans lie below.
    fn at(&self, index: usize, twentieths: usize) -> f64 {
        let ordered = self.ordered_a.get(index).map_or(&[][..], Vec::as_slice);
        let rank = ordered.len().saturating_sub(1) * twentieths / 20;
        ordered.get(rank).copied().unwrap_or(f64::NAN)
    }

    fn between(&self, low: usize, high: usize) -> Vec<(f64, f64, f64)> {
        let places = self.potential_v.iter().enumerate();
        places.map(|(index, at_v)| (*at_v, self.at(index, low), self.at(index, high))).collect()
    }

    fn drawn(&self) -> (Vec<Mark>, Vec<KeyEntry>) {
        let mut marks = vec![Mark::Band { class: "w1", points: self.between(0, 20) }];
        let mut key = vec![KeyEntry::Shade("w1", "between the lowest and the highest of all".to_owned())];
        if self.has_middle() {
            let middle = self.between(10, 10).into_iter().map(|(at_v, low, _)| (at_v, low)).collect();
            marks.push(Mark::Band { class: "band", points: self.between(1, 19) });
            marks.push(Mark::traced(Look::Quiet, middle, "", "middle"));
            key.push(KeyEntry::Shade("band", "without the twentieth part at either end".to_owned()));
            key.push(KeyEntry::Stroke(
                "line quiet".to_owned(),
                "the middle scan at each potential".to_owned(),
            ));
        }
        (marks, key)
    }

    fn table(&self, potential: AxisText) -> Table {
        let chosen: &[(&str, usize)] = if self.has_middle() {
            &[
                ("lowest", 0),
                ("a twentieth lies below", 1),
                ("middle", 10),
                ("a twentieth lies above", 19),
                ("highest", 20),
            ]
        } else {
            &[("lowest", 0), ("highest", 20)]
        };
        let columns = chosen.iter().map(|(name, _)| current_axis(&format!("current, {name}")));
        let apart = (self.potential_v.len() / MOST_ROWS).max(1);
        let row = |(index, at_v): (usize, &f64)| {
            let numbers = chosen.iter().map(|(_, twentieths)| Cell::from(self.at(index, *twentieths)));
            [Cell::from(*at_v)].into_iter().chain(numbers).collect()
        };
        Table {
            title: if apart > 1 {
                format!("Range of the scans, every {apart}th potential")
            } else {
                "Range of the scans".to_owned()
            },
            columns: [potential].into_iter().chain(columns).collect(),
            rows: self.potential_v.iter().enumerate().step_by(apart).map(row).collect(),
        }
    }
}

fn name_of(scan: &ScanCurves<'_>) -> String {
    let row = &scan.link.row;
    match &row.level {
        _ if !row.sample.is_empty() => harmless(&row.sample),
        Some(level) => level.to_string(),
        None => row.scan_label(),
    }
}

//! The strip and the handheld of `examples/cells` give what their files promise, under the method of Alder Vale.

use stillwell_foresee::{CellModel, CircuitModel};
use stillwell_method::Method;
use stillwell_scan::Technique;
use stillwell_stats::random::RandomStream;
use stillwell_stats::standard_deviation;
use stillwell_twin::{Recording, measure, simulate};

const NITRATE_G_PER_MOL: f64 = 62.0049;

fn strip() -> CellModel {
    let source = include_str!("../../../../examples/cells/copper-strip.toml");
    CellModel::parse("copper-strip.toml", source).unwrap_or_else(|problems| panic!("{problems}"))
}

fn handheld() -> CircuitModel {
    let source = include_str!("../../../../examples/cells/handheld.toml");
    CircuitModel::parse("handheld.toml", source).unwrap_or_else(|problems| panic!("{problems}"))
}

fn technique() -> Technique {
    let source = include_str!("../../../../examples/alder-vale/method.toml");
    Method::parse("method.toml", source).unwrap_or_else(|problems| panic!("{problems}")).technique
}

fn recording() -> Recording {
    Recording { sampling_window_s: handheld().sampling_window_s, ..Recording::default() }
}

/// A scan less its blank, upwards.
struct Net {
    potential_v: Vec<f64>,
    current_a: Vec<f64>,
}

fn net(strip: &CellModel, mg_per_l: f64, temperature_k: f64) -> Net {
    let scan = |mg_per_l: f64| {
        let mut cell = strip.with_analyte(mg_per_l / NITRATE_G_PER_MOL);
        cell.temperature_k = temperature_k;
        simulate(&cell, &technique(), &recording()).unwrap()
    };
    let (with, without) = (scan(mg_per_l), scan(0.0));
    let current_a = without.current_a.iter().zip(&with.current_a).map(|(blank, scan)| blank - scan).collect();
    Net { potential_v: with.potential_v, current_a }
}

impl Net {
    /// The same over the line through the means of the method's two baseline windows.
    fn over_line(&self) -> Self {
        let mean = |low: f64, high: f64| {
            let is_in = |pair: &(&f64, &f64)| (low - 1e-9..=high + 1e-9).contains(pair.0);
            let inside: Vec<_> = self.potential_v.iter().zip(&self.current_a).filter(is_in).collect();
            let n = inside.len() as f64;
            let (x, y) = inside.iter().fold((0.0, 0.0), |(x, y), pair| (x + pair.0, y + pair.1));
            (x / n, y / n)
        };
        let (left, right) = (mean(-0.42, -0.38), mean(-0.84, -0.80));
        let slope = (right.1 - left.1) / (right.0 - left.0);
        let line = |x: &f64| left.1 + slope * (x - left.0);
        let current_a = self.potential_v.iter().zip(&self.current_a).map(|(x, y)| y - line(x)).collect();
        Self { potential_v: self.potential_v.clone(), current_a }
    }

    fn top(&self) -> usize {
        (0..self.current_a.len()).max_by(|a, b| self.current_a[*a].total_cmp(&self.current_a[*b])).unwrap()
    }

    fn height_a(&self) -> f64 {
        self.current_a[self.top()]
    }

    fn width_v(&self) -> f64 {
        let half_a = self.height_a() / 2.0;
        let above: Vec<f64> = self
            .potential_v
            .iter()
            .zip(&self.current_a)
            .filter(|pair| *pair.1 >= half_a)
            .map(|pair| *pair.0)
            .collect();
        above.first().unwrap() - above.last().unwrap()
    }
}

#[test]
fn the_strip_gives_the_peak_that_its_file_promises() {
    let net = net(&strip(), 50.0, 294.15);
    let over_line = net.over_line();
    let height_ua_per_mg = over_line.height_a() * 1e6 / 50.0;
    let peak_v = over_line.potential_v[over_line.top()];
    println!("peak at {peak_v:.3} V, {height_ua_per_mg:.4} µA per mg/L, width {:.3} V", over_line.width_v());
    println!("without the line: {:.4} µA per mg/L, width {:.3} V", net.height_a() * 2e4, net.width_v());
    assert!((-0.62..=-0.60).contains(&peak_v));
    assert!((0.28..=0.32).contains(&height_ua_per_mg));
    assert!((0.10..=0.13).contains(&over_line.width_v()));
}

/// The difference current takes its drop over the resistance away from the pulse: 31 µA of 15 Ω are 0.5 mV of 50.
#[test]
fn only_the_resistance_bends_the_line() {
    let ratio = |uncompensated_ohm: f64| {
        let mut strip = strip();
        strip.cell.uncompensated_ohm = uncompensated_ohm;
        let height_a = |mg_per_l| net(&strip, mg_per_l, 294.15).over_line().height_a() / mg_per_l;
        height_a(100.0) / height_a(5.0)
    };
    let (as_stated, without) = (ratio(strip().cell.uncompensated_ohm), ratio(0.0));
    let uncompensated = ratio(100.0);
    println!(
        "sensitivity at 100 over that at 5 mg/L: {as_stated:.5}; at 100 Ω {uncompensated:.5}; without resistance {without:.5}"
    );
    assert!((0.990..=0.995).contains(&as_stated));
    assert!((0.94..=0.96).contains(&uncompensated));
    assert!((without - 1.0).abs() < 1e-3);
}

#[test]
fn the_peak_grows_by_about_1_8_percent_a_kelvin() {
    let height_a = |celsius: f64| net(&strip(), 50.0, 273.15 + celsius).over_line().height_a();
    let per_kelvin = |low: f64, high: f64| libm::log(height_a(high) / height_a(low)) / (high - low);
    let near_21 = per_kelvin(19.0, 23.0);
    println!("a kelvin: {near_21:.5} near 21 °C, {:.5} from 12 to 21 °C", per_kelvin(12.0, 21.0));
    assert!((near_21 - 0.018).abs() < 0.0005);
}

#[test]
fn hydrogen_rises_at_the_end_of_the_window() {
    let blank = simulate(&strip().with_analyte(0.0), &technique(), &recording()).unwrap();
    let (first, last) = (blank.current_a[0], *blank.current_a.last().unwrap());
    println!("blank: {first:e} A at first, {last:e} A at last");
    assert!(first.abs() < 1e-8);
    assert!((-5e-6..=-2e-6).contains(&last));
}

#[test]
fn a_difference_point_of_the_handheld_scatters_by_about_30_na() {
    let model = handheld();
    let trace = simulate(&strip().with_analyte(0.0), &technique(), &recording()).unwrap();
    let scans = 40;
    let errors_a: Vec<f64> = (0..scans)
        .flat_map(|index| {
            let scan = measure(&trace, &model.circuit, &mut RandomStream::new(5, index)).unwrap();
            let errors: Vec<f64> =
                scan.current_a.iter().zip(&trace.current_a).map(|(read, true_a)| read - true_a).collect();
            errors
        })
        .collect();
    let sd_a = standard_deviation(&errors_a).unwrap();
    println!("standard deviation of a difference point: {sd_a:e} A");
    assert!((sd_a - 30e-9).abs() < 2e-9);
    // The handheld can read what the method asks for: the largest forward current of 100 mg/L keeps away from the ends.
    let strong =
        simulate(&strip().with_analyte(100.0 / NITRATE_G_PER_MOL), &technique(), &recording()).unwrap();
    let most_a = strong.forward_a.iter().flatten().fold(0.0_f64, |most, a| most.max(a.abs()));
    println!("largest forward current at 100 mg/L: {most_a:e} A of {:e} A", model.circuit.range_a);
    assert!(most_a < 0.8 * model.circuit.range_a);
}

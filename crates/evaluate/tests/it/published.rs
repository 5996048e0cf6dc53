//! Smoothing, baselines and peak measures against the tables in `checks/`; the digits found are printed.

use stillwell_evaluate::{
    AreaLimits, AsymmetricLeastSquares, Baseline, Direction, Evaluator, LANES, Measure, Smoother, Workspace,
    asymmetric_least_squares, asymmetric_least_squares_side_by_side, lane_scratch_len, single_scratch_len,
};
use toml_edit::{DocumentMut, Table};

use crate::scans::{count, evaluate, number, numbers, plain_settings, range};

fn load(name: &str) -> DocumentMut {
    let path = format!("{}/../../checks/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).unwrap().parse().unwrap()
}

fn entries<'a>(document: &'a DocumentMut, key: &str) -> impl Iterator<Item = &'a Table> {
    document[key].as_array_of_tables().unwrap().iter()
}

/// −log10 of the largest error relative to the largest expected value, at most 16.
fn digits(found: &[f64], expected: &[f64]) -> f64 {
    assert_eq!(found.len(), expected.len());
    let scale = expected.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let error = found.iter().zip(expected).fold(0.0_f64, |m, (a, b)| m.max((a - b).abs()));
    (-libm::log10(error / scale)).min(16.0)
}

fn report(entry: &Table, digits: f64) {
    let (name, required) = (entry["name"].as_str().unwrap(), number(entry, "digits"));
    println!("{name:60} {digits:5.1} digits (at least {required})");
    assert!(digits >= required, "{name}: {digits} digits");
}

#[test]
fn savitzky_golay_1964_and_gorry_1990_weights_match() {
    let document = load("savitzky_golay.toml");
    let mut n_rows = 0;
    for entry in entries(&document, "weights") {
        let (window, row) = (count(entry, "window"), count(entry, "row"));
        let mut storage = vec![0.0; Smoother::storage_len(window)];
        let smoother = Smoother::savitzky_golay(window, count(entry, "degree"), &mut storage).unwrap();
        let norm = number(entry, "norm");
        let expected: Vec<f64> = numbers(entry, "weights").iter().map(|w| w / norm).collect();
        // Rows beyond the centre are the mirror images of those before it.
        let found: Vec<f64> = if row <= window / 2 {
            smoother.row(row).to_vec()
        } else {
            smoother.row(window - 1 - row).iter().rev().copied().collect()
        };
        report(entry, digits(&found, &expected));
        n_rows += 1;
    }
    assert_eq!(n_rows, 29);
}

#[test]
fn savitzky_golay_filters_twelve_points_with_their_edges() {
    let document = load("savitzky_golay.toml");
    for entry in entries(&document, "filtered") {
        let window = count(entry, "window");
        let mut storage = vec![0.0; Smoother::storage_len(window)];
        let smoother = Smoother::savitzky_golay(window, count(entry, "degree"), &mut storage).unwrap();
        let values = numbers(entry, "values");
        let mut smoothed = vec![0.0; values.len()];
        smoother.smooth(&values, &mut smoothed).unwrap();
        report(entry, digits(&smoothed, &numbers(entry, "smoothed")));
    }
}

#[test]
fn savitzky_golay_keeps_the_stated_part_of_a_gaussian() {
    let document = load("savitzky_golay.toml");
    for entry in entries(&document, "height_kept") {
        let window = count(entry, "window");
        let mut storage = vec![0.0; Smoother::storage_len(window)];
        let smoother = Smoother::savitzky_golay(window, count(entry, "degree"), &mut storage).unwrap();
        let values: Vec<f64> = (-60..=60).map(|x| libm::exp(-f64::from(x * x) / 50.0)).collect();
        let mut smoothed = vec![0.0; values.len()];
        smoother.smooth(&values, &mut smoothed).unwrap();
        report(entry, digits(&smoothed[60..61], &[number(entry, "height")]));
    }
}

#[test]
fn weights_sum_to_one_at_every_window_and_degree() {
    for window in (1..=101).step_by(2) {
        for degree in 0..window.min(6) {
            let mut storage = vec![0.0; Smoother::storage_len(window)];
            let smoother = Smoother::savitzky_golay(window, degree, &mut storage).unwrap();
            for r in 0..=window / 2 {
                let sum: f64 = smoother.row(r).iter().sum();
                assert!((sum - 1.0).abs() < 3e-14, "window {window}, degree {degree}, row {r}: {sum}");
            }
        }
    }
}

fn scan(document: &DocumentMut) -> (Vec<f64>, Vec<f64>) {
    let table = document["scan"].as_table().unwrap();
    (numbers(table, "potential_v"), numbers(table, "current_ua"))
}

fn near(name: &str, found: f64, expected: f64, tolerance: f64) {
    println!("{name:40} found {found:.12} expected {expected:.12} tolerance {tolerance:e}");
    assert!((found - expected).abs() <= tolerance, "{name}: {found} instead of {expected}");
}

#[test]
fn eilers_baselines_match_alone_and_side_by_side() {
    let document = load("baseline.toml");
    let (_, y) = scan(&document);
    for entry in entries(&document, "asymmetric_least_squares") {
        let name = entry["name"].as_str().unwrap();
        let rule = AsymmetricLeastSquares {
            stiffness: number(entry, "stiffness"),
            asymmetry: number(entry, "asymmetry"),
            max_iterations: 50,
        };
        let mut baseline = vec![0.0; y.len()];
        let mut scratch = vec![0.0; single_scratch_len(y.len())];
        let n = asymmetric_least_squares(&rule, &y, 1.0, &mut baseline, &mut scratch).unwrap();
        let tolerance = number(entry, "tolerance");
        assert_eq!(usize::try_from(n), Ok(count(entry, "solutions")), "{name}");
        let expected = numbers(entry, "baseline_ua");
        let error = baseline.iter().zip(&expected).fold(0.0_f64, |m, (z, e)| m.max((z - e).abs()));
        near(&format!("{name}: largest error"), error, 0.0, tolerance);
        let height = (0..y.len()).fold(0.0_f64, |m, i| m.max(y[i] - baseline[i]));
        near(name, height, number(entry, "height_ua"), tolerance);

        let lanes: Vec<f64> = y.iter().flat_map(|y| [*y; LANES]).collect();
        let mut baselines = vec![0.0; lanes.len()];
        let mut scratch = vec![0.0; lane_scratch_len(y.len())];
        let counts = asymmetric_least_squares_side_by_side(&rule, &lanes, 1.0, &mut baselines, &mut scratch);
        assert_eq!(counts.unwrap(), [Ok(n); LANES]);
        for (i, row) in baselines.chunks_exact(LANES).enumerate() {
            assert!(row.iter().all(|z| z.to_bits() == baseline[i].to_bits()));
        }
    }
}

/// Index of a potential that lies on the grid.
fn index_of(potential_v: &[f64], v: f64) -> usize {
    potential_v.iter().position(|x| (x - v).abs() < 1e-9).unwrap()
}

#[test]
fn polynomial_outside_the_peak_matches() {
    let document = load("baseline.toml");
    let (x, y) = scan(&document);
    for entry in entries(&document, "polynomial") {
        let name = entry["name"].as_str().unwrap();
        let side = |key: &str| {
            let ends = numbers(entry, key);
            range(index_of(&x, ends[0]), index_of(&x, ends[1]))
        };
        let (before, after) = (side("before_v"), side("after_v"));
        let baseline = Baseline::Polynomial { degree: count(entry, "degree"), before, after };
        let window = range(before.last + 1, after.first - 1);
        let evaluator = Evaluator::new(&x, plain_settings(window, Direction::Oxidation, baseline)).unwrap();
        let mut storage = vec![0.0; Workspace::storage_len(x.len())];
        let mut workspace = Workspace::new(&mut storage, x.len()).unwrap();
        let signal = evaluator.evaluate(&y, None, &mut workspace).unwrap();
        let tolerance = number(entry, "tolerance");
        let coefficients = numbers(entry, "coefficients");
        for (x, found) in x.iter().zip(workspace.baseline_a()) {
            let expected = coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c);
            assert!((found - expected).abs() <= tolerance, "{name} at {x} V: {found} instead of {expected}");
        }
        let at_highest = workspace.corrected_a()[signal.peak_index];
        near(name, at_highest, number(entry, "height_ua"), tolerance);
        near(name, x[signal.peak_index], number(entry, "peak_potential_v"), 1e-12);
    }
}

#[test]
fn line_through_two_points_matches() {
    let document = load("baseline.toml");
    let (x, y) = scan(&document);
    for entry in entries(&document, "line") {
        let anchors: Vec<usize> = numbers(entry, "anchors_v").iter().map(|v| index_of(&x, *v)).collect();
        let [before, after] = [range(anchors[0], anchors[0]), range(anchors[1], anchors[1])];
        let settings = plain_settings(
            range(anchors[0] + 1, anchors[1] - 1),
            Direction::Oxidation,
            Baseline::Line { before, after },
        );
        let mut storage = vec![0.0; Workspace::storage_len(x.len())];
        let mut workspace = Workspace::new(&mut storage, x.len()).unwrap();
        let signal = Evaluator::new(&x, settings).unwrap().evaluate(&y, None, &mut workspace).unwrap();
        let found = workspace.corrected_a()[signal.peak_index];
        near("line", found, number(entry, "height_ua"), number(entry, "tolerance"));
    }
}

#[test]
fn peak_measures_match_on_the_baseline_free_curve() {
    let document = load("baseline.toml");
    let (x, y) = scan(&document);
    let blank: Vec<f64> = x.iter().map(|x| 2.0 + 1.5 * (x + 0.5) + 3.0 * (x + 0.5) * (x + 0.5)).collect();
    for entry in entries(&document, "measures") {
        let mut settings = plain_settings(range(0, x.len() - 1), Direction::Oxidation, Baseline::None);
        let tolerance = number(entry, "tolerance");
        let signal = evaluate(&x, &settings, &y, Some(&blank)).unwrap();
        near("height", signal.signal_a, number(entry, "height_ua"), tolerance);
        near(
            "potential",
            signal.peak_potential_v.unwrap(),
            number(entry, "peak_potential_v"),
            3.0 * tolerance,
        );
        near("half width", signal.half_width_v.unwrap(), number(entry, "half_width_v"), tolerance);
        settings.peak.measure = Measure::Area(AreaLimits::Window);
        let signal = evaluate(&x, &settings, &y, Some(&blank)).unwrap();
        near("area", signal.signal_a, number(entry, "area_ua_v"), tolerance);
    }
}

//! Variance components that come back out of what was drawn. Seeds are fixed.

use stillwell_stats::distributions::chi_squared_quantile;
use stillwell_stats::{analysis_of_variance, nested_analysis_of_variance, standard_deviation};
use stillwell_twin::{Cell, Couple, Geometry, Population, Species, Spread, TwinError, Variation};

const SEED: u64 = 2027;
const LOTS: u64 = 400;
const ELECTRODES: u64 = 6;
const SCANS: u64 = 4;

fn population() -> Population {
    Population {
        area: Spread { lot_sd: 0.04, electrode_sd: 0.03, scan_sd: 0.01 },
        rate_constant: Spread { lot_sd: 0.3, electrode_sd: 0.2, scan_sd: 0.1 },
        double_layer: Spread { lot_sd: 0.1, electrode_sd: 0.05, scan_sd: 0.02 },
        sensitivity: Spread { lot_sd: 0.06, electrode_sd: 0.04, scan_sd: 0.02 },
        reference_v: Spread { lot_sd: 0.004, electrode_sd: 0.003, scan_sd: 0.001 },
        drift_v_per_electrode: 0.0,
    }
}

/// A property, drawn for every scan: lots of electrodes of scans.
fn layout(property: impl Fn(&Variation) -> f64) -> Vec<Vec<Vec<f64>>> {
    let population = population();
    let scans = |lot, electrode| {
        (0..SCANS).map(|scan| property(&population.draw(SEED, lot, electrode, scan).unwrap())).collect()
    };
    (0..LOTS).map(|lot| (0..ELECTRODES).map(|electrode| scans(lot, electrode)).collect()).collect()
}

/// A mean square over its expectation lies between these chi-squared quantiles in all but 1 of 500,000 cases (a cut
/// normal has lighter tails than a normal one, hence fewer).
fn assert_mean_square(what: &str, found: f64, expected: f64, df: usize) {
    let df = df as f64;
    let (low, high) = (chi_squared_quantile(1e-6, df) / df, chi_squared_quantile(1.0 - 1e-6, df) / df);
    let ratio = found / expected;
    println!("{what}: mean square over expected {ratio:.4}, allowed {low:.4} to {high:.4}");
    assert!((low..=high).contains(&ratio), "{what}: {ratio}");
}

fn assert_components(what: &str, spread: Spread, values: &[Vec<Vec<f64>>]) {
    let square = |sd: f64| sd * sd;
    let (n_scans, n_electrodes) = (SCANS as f64, ELECTRODES as f64);
    let nested = nested_analysis_of_variance(values).unwrap();
    assert_mean_square(
        &format!("{what}, scans"),
        nested.within_variance,
        square(spread.scan_sd),
        nested.df_within,
    );
    let electrode_mean_square = nested.ss_between / nested.df_between as f64;
    let expected = square(spread.scan_sd) + n_scans * square(spread.electrode_sd);
    assert_mean_square(&format!("{what}, electrodes"), electrode_mean_square, expected, nested.df_between);
    let electrode_means = |lot: &Vec<Vec<f64>>| -> Vec<f64> {
        lot.iter().map(|scans| scans.iter().sum::<f64>() / n_scans).collect()
    };
    let between_lots = analysis_of_variance(&values.iter().map(electrode_means).collect::<Vec<_>>()).unwrap();
    let lot_mean_square = between_lots.ss_between / between_lots.df_between as f64;
    let expected = expected / n_scans + n_electrodes * square(spread.lot_sd);
    assert_mean_square(&format!("{what}, lots"), lot_mean_square, expected, between_lots.df_between);
}

#[test]
fn nested_variance_components_come_back_at_all_three_levels() {
    let stated = population();
    assert_components("area", stated.area, &layout(|v| libm::log(v.area)));
    assert_components("rate constant", stated.rate_constant, &layout(|v| libm::log(v.rate_constant)));
    assert_components("double layer", stated.double_layer, &layout(|v| libm::log(v.double_layer)));
    assert_components("sensitivity", stated.sensitivity, &layout(|v| libm::log(v.sensitivity)));
    assert_components("reference", stated.reference_v, &layout(|v| v.reference_v));
}

#[test]
fn properties_and_levels_are_drawn_independently() {
    let first: Vec<f64> = layout(|v| libm::log(v.area)).into_iter().flatten().flatten().collect();
    let second: Vec<f64> = layout(|v| libm::log(v.rate_constant)).into_iter().flatten().flatten().collect();
    let product: f64 = first.iter().zip(&second).map(|(a, b)| a * b).sum::<f64>() / first.len() as f64;
    let correlation = product / (standard_deviation(&first).unwrap() * standard_deviation(&second).unwrap());
    // Lots count as the independent values: 6/√400.
    assert!(correlation.abs() < 0.3, "{correlation}");
    // Lot 1's draw is not that of electrode 1 of lot 0.
    let only = |lot_sd, electrode_sd| Population {
        area: Spread { lot_sd, electrode_sd, scan_sd: 0.0 },
        ..Population::default()
    };
    let of_lot = only(0.1, 0.0).draw(SEED, 1, 0, 0).unwrap().area;
    let of_electrode = only(0.0, 0.1).draw(SEED, 0, 1, 0).unwrap().area;
    assert_ne!(of_lot.to_bits(), of_electrode.to_bits());
}

#[test]
fn a_draw_depends_on_its_numbers_only() {
    let population = population();
    let draw = |k: u64| population.draw(SEED, k % 3, k / 3 % 5, k / 15).unwrap();
    let forwards: Vec<Variation> = (0..60).map(draw).collect();
    let backwards: Vec<Variation> = (0..60).rev().map(draw).collect();
    assert!(forwards.iter().eq(backwards.iter().rev()));
    let on_threads: Vec<Variation> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..60).map(|k| scope.spawn(move || draw(k))).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    assert_eq!(forwards, on_threads);
    assert_ne!(population.draw(SEED, 0, 0, 0).unwrap(), population.draw(SEED + 1, 0, 0, 0).unwrap());
}

#[test]
fn deviates_are_cut_and_the_stated_spread_is_that_of_the_cut_distribution() {
    let area = Spread { scan_sd: 0.1, ..Spread::default() };
    let population = Population { area, ..Population::default() };
    let values: Vec<f64> =
        (0..40_000).map(|scan| libm::log(population.draw(SEED, 0, 0, scan).unwrap().area)).collect();
    // Cut at 3, variance 1 − 2·3·φ(3)/(2Φ(3) − 1) = 0.97334 (recomputed by hand), hence 3/√0.97334 = 3.0408.
    // Some seven of 40,000 lie beyond 0.302; without the scaling none could.
    let largest = values.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    assert!(largest < 0.30409 && largest > 0.302, "{largest}");
    let ratio = standard_deviation(&values).unwrap() / 0.1;
    assert!((ratio * ratio - 1.0).abs() < 6.0 * (2.0 / 40_000.0_f64).sqrt(), "{ratio}");
}

#[test]
fn the_reference_drifts_from_electrode_to_electrode() {
    let population = Population { drift_v_per_electrode: -0.0005, ..Population::default() };
    let drawn_v = |electrode| population.draw(SEED, 3, electrode, 1).unwrap().reference_v;
    assert_eq!(drawn_v(0).to_bits(), 0.0_f64.to_bits());
    assert!((drawn_v(20) + 0.01).abs() < 1e-15);
}

#[test]
fn a_variation_changes_the_cell_and_nothing_else() {
    let mut cell = Cell::new(Geometry::Disc { radius_m: 1e-3 });
    cell.double_layer_f_per_m2 = 0.4;
    let oxidised = cell.add(Species::dissolved("oxidised", 1.0, 1e-9));
    let reduced = cell.add(Species::dissolved("reduced", 0.0, 1e-9));
    cell.couples.push(Couple::new(oxidised, reduced, 0.0, 1e-5));
    assert_eq!(Variation::NONE.applied_to(&cell), cell);
    let variation =
        Variation { area: 1.2, rate_constant: 3.0, double_layer: 0.5, sensitivity: 1.1, reference_v: 0.01 };
    let varied = variation.applied_to(&cell);
    let charging = |cell: &Cell| cell.geometry.area_m2() * cell.double_layer_f_per_m2;
    assert!((varied.geometry.area_m2() / cell.geometry.area_m2() - 1.32).abs() < 1e-12);
    assert!((charging(&varied) / charging(&cell) - 0.6).abs() < 1e-12);
    assert!((varied.couples[0].rate_constant_m_per_s - 3e-5).abs() < 1e-18);
    assert!((varied.reference.offset_v - 0.01).abs() < 1e-15);
    assert_eq!(varied.species, cell.species);
}

#[test]
fn impossible_spreads_are_refused_with_the_range() {
    let spread = |lot_sd| Spread { lot_sd, ..Spread::default() };
    let none = Population::default();
    let bad = [
        Population { area: spread(-0.1), ..none },
        Population { rate_constant: spread(f64::NAN), ..none },
        Population { double_layer: spread(1.5), ..none },
        Population { sensitivity: Spread { scan_sd: f64::INFINITY, ..none.sensitivity }, ..none },
        Population { reference_v: Spread { electrode_sd: 0.6, ..none.reference_v }, ..none },
        Population { drift_v_per_electrode: f64::NAN, ..none },
    ];
    assert_eq!(none.draw(1, 1, 1, 1).unwrap(), Variation::NONE);
    for population in bad {
        assert!(matches!(population.draw(1, 1, 1, 1), Err(TwinError::OutOfRange { .. })), "{population:?}");
    }
}

//! Errors fall with the square of the refinement, in time and space together.

use stillwell_twin::{Recording, Resolution, simulate};

use crate::check_values::expected;
use crate::scenes::{
    AREA_M2, D, REVERSIBLE, constant, cottrell_a, linear_sweep, one_couple, per_volt, ramp, square_wave,
};

/// Observed orders between refinements 1, 2, 4 and 8 of a quantity's relative error.
fn hold_order(name: &str, error: impl Fn(u32) -> f64) {
    let errors = [1, 2, 4, 8].map(error);
    let orders: Vec<f64> = errors.windows(2).map(|pair| libm::log2((pair[0] / pair[1]).abs())).collect();
    println!("{name:30} errors {errors:?} orders {orders:.2?}");
    let n = orders.len();
    assert!(orders[n - 1] > 1.8 && orders[n - 2] > 1.7, "{name}: orders {orders:?} of errors {errors:?}");
}

fn refined(factor: u32) -> Recording {
    Recording { resolution: Resolution::default().finer(factor), ..Recording::default() }
}

#[test]
fn potential_step_is_second_order() {
    hold_order("Cottrell at the first point", |factor| {
        let recording = Recording { interval_s: Some(0.1), ..refined(factor) };
        let trace = simulate(&one_couple(REVERSIBLE), &constant(-0.8, 1.0), &recording).unwrap();
        -trace.current_a[0] / cottrell_a(0.1) - 1.0
    });
}

#[test]
fn sweep_is_second_order() {
    let exact = expected("nicholson_shain_table", "chi_p0");
    hold_order("current function at E1/2", |factor| {
        let sweep = linear_sweep(0.4, -0.05, 0.005, 0.1);
        let trace = simulate(&one_couple(REVERSIBLE), &sweep, &ramp(factor)).unwrap();
        let point = trace.potential_v.iter().position(|v| v.abs() < 1e-9).unwrap();
        let scale = stillwell_twin::FARADAY_C_PER_MOL * AREA_M2 * libm::sqrt(D * per_volt() * 0.1);
        -trace.current_a[point] / scale / exact - 1.0
    });
}

#[test]
fn square_wave_is_second_order() {
    let exact = expected("swv_wave", "dPsi_peak");
    hold_order("square-wave peak", |factor| {
        let technique = square_wave(0.4, -0.1, 0.05, 0.01, 25.0);
        let trace = simulate(&one_couple(REVERSIBLE), &technique, &refined(factor)).unwrap();
        let top_a = trace.current_a.iter().fold(f64::MIN, |top, current| top.max(-current));
        top_a / cottrell_a(0.02) / exact - 1.0
    });
}

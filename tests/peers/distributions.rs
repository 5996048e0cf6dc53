//! Distribution functions and quantiles against `SciPy`.

use serde_json::{Value, json};
use stillwell_stats::distributions as ours;
use stillwell_stats::random::RandomStream;

use crate::oracle::{Account, ask, number, settle};

const N_CASES: usize = 200;

/// Between two ends, most of them near the lower one.
fn spread_out(random: &mut RandomStream, low: f64, high: f64) -> f64 {
    let share = random.uniform();
    low + (high - low) * share * share * share
}

type Compared = (&'static str, fn(&Value) -> f64);

/// Draws cases, asks, and compares each named answer with our function of the case.
fn compare(stream: u64, draw: impl Fn(&mut RandomStream) -> Value, compared: &[Compared]) {
    let mut random = RandomStream::new(20_260_101, stream);
    let cases: Vec<Value> = (0..N_CASES).map(|_| draw(&mut random)).collect();
    let Some(answers) = ask(&cases) else { return };
    let mut accounts = Vec::new();
    for (key, our_function) in compared {
        let mut account = Account::new(key);
        for (case, answer) in cases.iter().zip(&answers) {
            account.compare(our_function(case), number(answer, key), case);
        }
        accounts.push(account);
    }
    settle(&accounts);
}

fn of(case: &Value, key: &str) -> f64 {
    number(case, key)
}

#[test]
fn student_t_agrees_with_scipy() {
    let draw = |random: &mut RandomStream| json!({"kind": "student_t", "t": 4.0 * random.normal(), "p": random.uniform(), "df": spread_out(random, 1.0, 500.0)});
    compare(
        1,
        draw,
        &[
            ("cdf", |c| ours::student_t_cdf(of(c, "t"), of(c, "df"))),
            ("sf", |c| ours::student_t_sf(of(c, "t"), of(c, "df"))),
            ("quantile", |c| ours::student_t_quantile(of(c, "p"), of(c, "df"))),
        ],
    );
}

#[test]
fn fisher_f_agrees_with_scipy() {
    let draw = |random: &mut RandomStream| {
        let (d1, d2) = (spread_out(random, 1.0, 60.0), spread_out(random, 1.0, 300.0));
        json!({"kind": "fisher_f", "f": spread_out(random, 0.01, 30.0), "p": random.uniform(), "d1": d1, "d2": d2})
    };
    compare(
        2,
        draw,
        &[
            ("cdf", |c| ours::f_cdf(of(c, "f"), of(c, "d1"), of(c, "d2"))),
            ("sf", |c| ours::f_sf(of(c, "f"), of(c, "d1"), of(c, "d2"))),
            ("quantile", |c| ours::f_quantile(of(c, "p"), of(c, "d1"), of(c, "d2"))),
        ],
    );
}

#[test]
fn chi_squared_agrees_with_scipy() {
    let draw = |random: &mut RandomStream| {
        let df = spread_out(random, 0.5, 400.0);
        json!({"kind": "chi_squared", "x": df * spread_out(random, 0.1, 5.0), "p": random.uniform(), "df": df})
    };
    compare(
        3,
        draw,
        &[
            ("cdf", |c| ours::chi_squared_cdf(of(c, "x"), of(c, "df"))),
            ("sf", |c| ours::chi_squared_sf(of(c, "x"), of(c, "df"))),
            ("quantile", |c| ours::chi_squared_quantile(of(c, "p"), of(c, "df"))),
        ],
    );
}

#[test]
fn normal_agrees_with_scipy() {
    let draw = |random: &mut RandomStream| json!({"kind": "normal", "z": 4.0 * random.normal(), "p": random.uniform()});
    compare(
        4,
        draw,
        &[
            ("cdf", |c| ours::normal_cdf(of(c, "z"))),
            ("density", |c| ours::normal_density(of(c, "z"))),
            ("quantile", |c| ours::normal_quantile(of(c, "p"))),
        ],
    );
}

#[test]
fn incomplete_functions_agree_with_scipy() {
    let draw = |random: &mut RandomStream| {
        let (a, b) = (spread_out(random, 0.2, 80.0), spread_out(random, 0.2, 80.0));
        json!({"kind": "incomplete", "a": a, "b": b, "x": random.uniform(), "g": a * spread_out(random, 0.2, 4.0)})
    };
    compare(
        5,
        draw,
        &[
            ("beta", |c| ours::incomplete_beta(of(c, "a"), of(c, "b"), of(c, "x"))),
            ("gamma", |c| ours::incomplete_gamma(of(c, "a"), of(c, "g"))),
            ("ln_gamma", |c| ours::ln_gamma(of(c, "a"))),
        ],
    );
}

#[test]
fn noncentral_t_agrees_with_scipy() {
    let draw = |random: &mut RandomStream| {
        let (df, delta) = (spread_out(random, 2.0, 100.0), 6.0 * random.uniform());
        // Not below zero: there `SciPy` keeps absolute digits only, and checks/quantiles.toml has mpmath's.
        let t = (delta + 2.0 * random.normal()).abs();
        json!({"kind": "noncentral_t", "t": t, "df": df, "delta": delta})
    };
    compare(6, draw, &[("cdf", |c| ours::noncentral_t_cdf(of(c, "t"), of(c, "df"), of(c, "delta")))]);
}

#[test]
fn noncentrality_agrees_with_scipy() {
    let draw = |random: &mut RandomStream| {
        let (alpha, beta) = (0.01 + 0.09 * random.uniform(), 0.01 + 0.09 * random.uniform());
        json!({"kind": "noncentrality", "df": spread_out(random, 2.0, 100.0), "alpha": alpha, "beta": beta})
    };
    compare(7, draw, &[("delta", |c| ours::noncentrality_delta(of(c, "df"), of(c, "alpha"), of(c, "beta")))]);
}

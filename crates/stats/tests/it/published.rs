//! Certified reference sets: how many digits each kind of result reaches.

use stillwell_stats::{
    Fit, analysis_of_variance, cochran_critical, lag_1_autocorrelation, least_squares, levene_test, mean,
    nested_analysis_of_variance, polynomial_least_squares, pooled_standard_deviation, standard_deviation,
};
use toml_edit::Table;

use crate::checks::{declared_digits, digits, load, number, number_rows, numbers, rows, tables, text};

fn fit(set: &Table) -> Fit {
    let y = numbers(set, "y");
    if set.contains_key("exponents") {
        let exponents: Vec<u32> = set["exponents"]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_integer().unwrap().try_into().unwrap())
            .collect();
        return polynomial_least_squares(&numbers(set, "x"), &y, &exponents, None).unwrap();
    }
    let columns = number_rows(set, "columns");
    let rows: Vec<Vec<f64>> =
        (0..y.len()).map(|i| std::iter::once(1.0).chain(columns.iter().map(|c| c[i])).collect()).collect();
    least_squares(&rows, &y, None).unwrap()
}

/// One line a result, worst digits of each kind held against what the set declares.
struct DigitsTable {
    misses: Vec<String>,
}

impl DigitsTable {
    fn line(&mut self, set: &Table, kind: &str, found: &[f64], certified: &[f64]) {
        assert_eq!(found.len(), certified.len());
        let name = text(set, "name");
        let declared = declared_digits(set, kind);
        for (found, certified) in found.iter().zip(certified) {
            let reached = digits(*found, *certified);
            println!("{name:9} {kind:16} {found:23.15e} {certified:23.15e} {reached:5.1}");
            if reached < declared {
                self.misses.push(format!("{name} {kind}: {reached:.1} of {declared} digits"));
            }
        }
    }
}

#[test]
fn nist_strd_linear_sets_reach_their_declared_digits() {
    let document = load("nist_linear.toml");
    println!("{:9} {:16} {:>23} {:>23} digits", "set", "kind", "found", "certified");
    let mut table = DigitsTable { misses: Vec::new() };
    for set in tables(&document, "set") {
        let fit = fit(set);
        table.line(set, "coefficients", &fit.coefficients, &numbers(set, "coefficients"));
        table.line(set, "standard_errors", &fit.standard_errors, &numbers(set, "standard_errors"));
        table.line(set, "residual_sd", &[fit.residual_sd], &[number(set, "residual_sd")]);
        table.line(set, "r_squared", &[fit.r_squared], &[number(set, "r_squared")]);
        assert_eq!(fit.degrees_of_freedom, whole(number(set, "degrees_of_freedom")));
    }
    assert!(table.misses.is_empty(), "{:#?}", table.misses);
}

#[test]
fn weighted_fits_match_rational_arithmetic() {
    let document = load("weighted_fits.toml");
    let [x, y, weights] = ["x", "y", "weights"].map(|key| numbers(&document, key));
    let declared = number(&document, "digits");
    for set in tables(&document, "fit") {
        let exponents: Vec<u32> =
            numbers(set, "exponents").into_iter().map(|e| whole(e).try_into().unwrap()).collect();
        let fit = polynomial_least_squares(&x, &y, &exponents, Some(&weights)).unwrap();
        let found = [
            ("coefficients", fit.coefficients),
            ("standard_errors", fit.standard_errors),
            ("residuals", fit.residuals),
            ("leverage", fit.leverage),
            ("residual_sd", vec![fit.residual_sd]),
            ("residual_sum_of_squares", vec![fit.residual_sum_of_squares]),
            ("total_sum_of_squares", vec![fit.total_sum_of_squares]),
            ("r_squared", vec![fit.r_squared]),
            ("unscaled_covariance", fit.unscaled_covariance.concat()),
        ];
        for (key, found) in found {
            let expected = match set[key].as_array() {
                Some(_) if key == "unscaled_covariance" => number_rows(set, key).concat(),
                Some(_) => numbers(set, key),
                None => vec![number(set, key)],
            };
            assert_eq!(found.len(), expected.len(), "{key}");
            for (found, expected) in found.iter().zip(&expected) {
                assert!(
                    digits(*found, *expected) >= declared,
                    "{exponents:?} {key}: {found:e}, {expected:e}"
                );
            }
        }
    }
}

/// Recomputed here: pins our own bits, so that another processor, compiler or `libm` cannot move them unseen.
#[test]
fn bits_stay_what_they_are() {
    use stillwell_stats::distributions as d;
    let document = load("nist_linear.toml");
    let filip = tables(&document, "set").iter().find(|set| text(set, "name") == "Filip").unwrap();
    let found = [
        fit(filip).coefficients[10],
        fit(filip).residual_sd,
        polynomial_least_squares(&[0.1, 0.7, 2.3, 5.9], &[1.3, 2.9, 8.1, 19.7], &[0, 1], None)
            .unwrap()
            .residual_sd,
        d::student_t_quantile(0.975, 7.3),
        d::student_t_quantile(0.975, 16.0),
        d::f_quantile(0.99, 2.0, 11.0),
        d::chi_squared_quantile(0.05, 9.0),
        d::normal_quantile(0.999),
        d::noncentrality_delta(8.0, 0.05, 0.05),
    ];
    let pinned = [
        13764443538874028425,
        4569866409163053384,
        4595170281602430386,
        4612463039640454999,
        4611956021157834203,
        4619798930417402517,
        4614669907280517687,
        4614141003331290224,
        4615327463711434307,
    ];
    assert_eq!(found.map(f64::to_bits), pinned, "{found:?}");
}

#[test]
fn quantiles_and_probabilities_reach_their_declared_digits() {
    let document = load("quantiles.toml");
    let mut misses = Vec::new();
    println!("{:28} {:>6} worst digits", "family", "values");
    for family in tables(&document, "family") {
        let name = text(family, "name");
        let declared = number(family, "digits");
        let rows = number_rows(family, "rows");
        let mut worst = f64::INFINITY;
        for row in &rows {
            let (expected, arguments) = row.split_last().unwrap();
            let found = evaluate(name.trim_end_matches("_tail"), arguments);
            let reached = digits(found, *expected);
            worst = worst.min(reached);
            if reached < declared {
                misses.push(format!(
                    "{name} {arguments:?}: {found:e}, expected {expected:e}: {reached:.1} digits"
                ));
            }
        }
        println!("{name:28} {:6} {worst:5.1}", rows.len());
    }
    assert!(misses.is_empty(), "{misses:#?}");
}

fn evaluate(name: &str, arguments: &[f64]) -> f64 {
    use stillwell_stats::distributions as d;
    match (name, arguments) {
        ("normal_quantile", &[p]) => d::normal_quantile(p),
        ("normal_cdf", &[z]) => d::normal_cdf(z),
        ("student_t_quantile", &[p, df]) => d::student_t_quantile(p, df),
        ("student_t_sf", &[t, df]) => d::student_t_sf(t, df),
        ("chi_squared_quantile", &[p, df]) => d::chi_squared_quantile(p, df),
        ("chi_squared_sf", &[x, df]) => d::chi_squared_sf(x, df),
        ("f_quantile", &[p, d1, d2]) => d::f_quantile(p, d1, d2),
        ("f_sf", &[f, d1, d2]) => d::f_sf(f, d1, d2),
        ("ln_gamma", &[x]) => d::ln_gamma(x),
        ("noncentrality_delta", &[df, alpha, beta]) => d::noncentrality_delta(df, alpha, beta),
        ("noncentral_t_cdf", &[t, df, delta]) => d::noncentral_t_cdf(t, df, delta),
        _ => panic!("no function for {name}{arguments:?}"),
    }
}

fn repeated_pair(first: f64, pair: &[f64], pairs: f64) -> Vec<f64> {
    let mut values = vec![first];
    let mut left = pairs;
    while left > 0.0 {
        values.extend_from_slice(pair);
        left -= 1.0;
    }
    values
}

#[test]
fn nist_strd_univariate_sets_reach_their_declared_digits() {
    let document = load("nist_univariate.toml");
    let mut table = DigitsTable { misses: Vec::new() };
    for set in tables(&document, "univariate") {
        let y = if set.contains_key("y") {
            numbers(set, "y")
        } else {
            repeated_pair(number(set, "first"), &numbers(set, "pair"), number(set, "pairs"))
        };
        table.line(set, "mean", &[mean(&y).unwrap()], &[number(set, "mean")]);
        table.line(set, "sd", &[standard_deviation(&y).unwrap()], &[number(set, "sd")]);
        table.line(set, "lag_1", &[lag_1_autocorrelation(&y).unwrap()], &[number(set, "lag_1")]);
    }
    assert!(table.misses.is_empty(), "{:#?}", table.misses);
}

#[test]
fn nist_strd_analysis_of_variance_sets_reach_their_declared_digits() {
    let document = load("nist_univariate.toml");
    let mut table = DigitsTable { misses: Vec::new() };
    for set in tables(&document, "anova") {
        let groups = if set.contains_key("groups") {
            number_rows(set, "groups")
        } else {
            let firsts = numbers(set, "first_of_group");
            let pairs = number_rows(set, "pair_of_group");
            firsts.iter().zip(&pairs).map(|(&f, p)| repeated_pair(f, p, number(set, "pairs"))).collect()
        };
        let anova = analysis_of_variance(&groups).unwrap();
        table.line(set, "ss_between", &[anova.ss_between], &[number(set, "ss_between")]);
        table.line(set, "ss_within", &[anova.ss_within], &[number(set, "ss_within")]);
        table.line(set, "f_statistic", &[anova.f_statistic], &[number(set, "f_statistic")]);
        let (sd, df) = pooled_standard_deviation(&groups).unwrap();
        table.line(set, "residual_sd", &[sd], &[number(set, "residual_sd")]);
        assert_eq!(anova.df_within, df);
        assert_eq!(anova.df_between, whole(number(set, "df_between")));
        assert_eq!(anova.df_within, whole(number(set, "df_within")));
    }
    assert!(table.misses.is_empty(), "{:#?}", table.misses);
}

#[test]
fn levene_cochran_and_nested_components_match() {
    let document = load("homogeneity.toml");
    let levene = document["levene_median_centred"].as_table().unwrap();
    let found = levene_test(&number_rows(levene, "groups")).unwrap();
    assert!(digits(found.f_statistic, number(levene, "f_statistic")) >= 12.0);

    let cochran = document["cochran_critical"].as_table().unwrap();
    for row in number_rows(cochran, "rows") {
        let [alpha, groups, replicates, value, printed] = row[..] else { panic!("{row:?}") };
        let found = cochran_critical(whole(groups), whole(replicates), alpha).unwrap();
        assert!(digits(found, value) >= 12.0, "{row:?}: {found}");
        assert!((found - printed).abs() <= number(cochran, "printed_tolerance"), "{row:?}: {found}");
    }

    let nested = document["nested"].as_table().unwrap();
    let classes: Vec<Vec<Vec<f64>>> =
        nested["classes"].as_array().unwrap().iter().map(|c| rows(c.as_array().unwrap())).collect();
    let found = nested_analysis_of_variance(&classes).unwrap();
    for (key, value) in [
        ("ss_between", found.ss_between),
        ("ss_within", found.ss_within),
        ("effective_replicates", found.effective_replicates),
        ("within_variance", found.within_variance),
        ("between_variance", found.between_variance),
        ("f_statistic", found.f_statistic),
        ("df_between", found.df_between as f64),
        ("df_within", found.df_within as f64),
    ] {
        assert!(digits(value, number(nested, key)) >= 13.0, "{key}: {value:e}");
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small counts written as floats")]
fn whole(count: f64) -> usize {
    count as usize
}

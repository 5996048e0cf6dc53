//! The bench file: any text is a bench or a list of problems with places; a bench gives a sheet or a reason, never a panic.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use stillwell_method::{BenchPlan, Method, prepare};

static METHOD: LazyLock<Method> = LazyLock::new(|| {
    let text = include_str!("../../examples/alder-vale/method.toml");
    Method::parse("method.toml", text).expect("the example's method")
});

fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match BenchPlan::parse("bench.toml", text) {
        Err(problems) => {
            assert!(!problems.problems.is_empty());
            let n_lines = text.matches('\n').count() + 1;
            for problem in &problems.problems {
                assert!(!problem.found.is_empty() && !problem.cure.is_empty(), "{problem:?}");
                assert!(problem.place.line <= n_lines, "{problem:?}");
            }
        }
        Ok(bench) => match prepare(&METHOD, &bench) {
            Err(error) => assert!(!error.to_string().is_empty()),
            Ok(made) => {
                for level in made.sheet.levels() {
                    let wanted = level.level_mg_per_l.expect("a level");
                    let off = (level.concentration_mg_per_l / wanted - 1.0).abs();
                    assert!(off <= bench.level_tolerance + 1e-9, "{level:?}");
                    assert!(level.relative_u.is_finite() && level.relative_u >= 0.0, "{level:?}");
                }
                assert!(made.largest_relative_u <= bench.largest_relative_u.unwrap_or(0.01) * (1.0 + 1e-9));
            }
        },
    }
});

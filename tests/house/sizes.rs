//! File sizes: one idea fits in 800 lines, and long tests stand in a file of their own.

use crate::repository;
use crate::source::{Source, sources};

const MAX_PRODUCT_LINES: usize = 800;
const MAX_INLINE_TEST_LINES: usize = 200;

fn oversize(source: &Source) -> Vec<String> {
    let n_tests = source.is_test.iter().filter(|is_test| **is_test).count();
    let n_product = source.is_test.len() - n_tests;
    let mut findings = Vec::new();
    if n_product > MAX_PRODUCT_LINES {
        findings.push(format!("{}: {n_product} lines, at most {MAX_PRODUCT_LINES}", source.path));
    }
    if n_product > 0 && n_tests > MAX_INLINE_TEST_LINES {
        findings.push(format!(
            "{}: {n_tests} lines of tests, from {MAX_INLINE_TEST_LINES} in their own file",
            source.path
        ));
    }
    findings
}

#[test]
fn files_hold_one_idea() {
    repository::expect_none(&sources().iter().flat_map(oversize).collect::<Vec<_>>());
}

#[test]
fn planted_sizes_are_found() {
    let n = |path: &str, text: &str| oversize(&Source::new(path, text)).len();
    let tests =
        |n_lines: usize| format!("fn a() {{}}\n#[cfg(test)]\nmod tests {{\n{}}}\n", "\n".repeat(n_lines));
    assert_eq!(n("crates/x/src/a.rs", &"fn a() {}\n".repeat(800)), 0);
    assert_eq!(n("crates/x/src/a.rs", &"fn a() {}\n".repeat(801)), 1);
    assert_eq!(n("crates/x/src/a.rs", &tests(190)), 0);
    assert_eq!(n("crates/x/src/a.rs", &tests(210)), 1);
    assert_eq!(n("crates/x/src/a/tests.rs", &"fn a() {}\n".repeat(900)), 0);
}

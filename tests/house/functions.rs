//! Function lengths: a function fits a screen, and nine in ten fit half of one.

use crate::repository;
use crate::source::{Source, item_end, sources};

const MAX_LINES: usize = 100;
const P90_LINES: usize = 35;

/// One function with a body: where it stands and how many lines it takes, from `fn` to its closing brace.
#[derive(Debug)]
pub(crate) struct Function {
    pub(crate) name: String,
    /// From 1.
    pub(crate) line: usize,
    pub(crate) n_lines: usize,
    /// From the name to the opening brace, comments blanked.
    pub(crate) signature: String,
    /// From there to the closing brace, comments and literals blanked.
    pub(crate) body: String,
}

/// All functions with a body in the product code of a file.
pub(crate) fn functions(source: &Source) -> Vec<Function> {
    let code = &source.code;
    let mut found = Vec::new();
    for (at, _) in code.match_indices("fn ") {
        let is_keyword = code[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric() && c != '_');
        let rest = &code[at + 3..];
        let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        let index = code[..at].matches('\n').count();
        if !is_keyword || name.is_empty() || source.is_test[index] {
            continue;
        }
        let item = &rest[..item_end(rest)];
        let Some((signature, body)) = item.split_once('{') else { continue };
        let n_lines = item.matches('\n').count() + 1;
        found.push(Function {
            name,
            line: index + 1,
            n_lines,
            signature: signature.to_owned(),
            body: body.to_owned(),
        });
    }
    found
}

/// The length that `share` of the functions do not exceed.
fn quantile(lengths: &mut [usize], share: f64) -> usize {
    lengths.sort_unstable();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a count")]
    let rank = (share * lengths.len() as f64).ceil() as usize;
    lengths[rank.clamp(1, lengths.len()) - 1]
}

#[test]
fn functions_fit_a_screen() {
    let mut findings = Vec::new();
    let mut lengths = Vec::new();
    for source in sources() {
        for function in functions(&source) {
            lengths.push(function.n_lines);
            if function.n_lines > MAX_LINES {
                let Function { name, line, n_lines, .. } = function;
                findings
                    .push(format!("{}:{line}: {name} has {n_lines} lines, at most {MAX_LINES}", source.path));
            }
        }
    }
    let (median, p90) = (quantile(&mut lengths, 0.5), quantile(&mut lengths, 0.9));
    println!(
        "{} functions: median {median}, p90 {p90}, longest {}",
        lengths.len(),
        quantile(&mut lengths, 1.0)
    );
    if p90 > P90_LINES {
        findings.push(format!("one function in ten has more than {p90} lines; the mark is {P90_LINES}"));
    }
    repository::expect_none(&findings);
}

#[test]
fn planted_functions_are_measured() {
    let text = "//! x\nfn a() -> Result<(), E> {\n    if x { y } else { z }\n}\ntrait T { fn none(&self); }\n\
                impl X {\n    pub fn b(f: impl Fn(f64) -> f64, v: [f64; 3])\n    where\n        T: U,\n    {\n    }\n}\n\
                #[cfg(test)]\nmod tests { fn t() {} }\n// fn comment() {}\n";
    let found = functions(&Source::new("crates/x/src/a.rs", text));
    let seen: Vec<(&str, usize, usize)> =
        found.iter().map(|f| (f.name.as_str(), f.line, f.n_lines)).collect();
    assert_eq!(seen, [("a", 2, 3), ("b", 7, 5)]);
    assert!(found[0].signature.contains("-> Result"));
}

#[test]
fn quantiles_are_order_statistics() {
    let mut lengths: Vec<usize> = (1..=10).rev().collect();
    assert_eq!(
        [quantile(&mut lengths, 0.5), quantile(&mut lengths, 0.9), quantile(&mut lengths, 1.0)],
        [5, 9, 10]
    );
}

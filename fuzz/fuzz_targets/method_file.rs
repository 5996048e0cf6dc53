//! The method file: any text is a method or a list of problems, each with a place in the file; never a panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillwell_method::{Method, Problems};

fn check_problems(problems: &Problems, text: &str) {
    assert!(!problems.problems.is_empty());
    let n_lines = text.matches('\n').count() + 1;
    for problem in &problems.problems {
        assert!(!problem.found.is_empty() && !problem.cure.is_empty(), "{problem:?}");
        assert!(problem.place.line <= n_lines, "{problem:?}");
    }
    assert!(!problems.to_string().is_empty());
}

fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match Method::parse("method.toml", text) {
        Err(problems) => check_problems(&problems, text),
        Ok(method) => {
            assert_eq!(Method::parse("method.toml", text).as_ref(), Ok(&method));
            // A remark is not part of a revision.
            let remarked = Method::parse("method.toml", &format!("{text}\n# a remark\n"));
            assert_eq!(remarked.map(|again| again.hash), Ok(method.hash));
        }
    }
});

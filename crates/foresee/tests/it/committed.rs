//! What holds of every scenario: the twin makes the committed files byte for byte, and the folder holds nothing else.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use stillwell_method::RawFile;

fn folder(example: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(example)
}

pub(crate) fn assert_is_what_the_twin_makes(example: &str, made: &[RawFile]) {
    for file in made {
        let committed = std::fs::read(folder(example).join(&file.name)).unwrap();
        let differs_at = committed.iter().zip(&file.bytes).position(|(old, new)| old != new);
        assert_eq!(differs_at, None, "{}: first differing byte", file.name);
        assert_eq!(committed.len(), file.bytes.len(), "{}: length", file.name);
    }
}

/// Beside what the twin makes stands only what people wrote.
pub(crate) fn assert_is_small_and_holds_nothing_else(example: &str, made: &[RawFile], most_bytes: usize) {
    let mut expected: BTreeSet<String> = made.iter().map(|file| file.name.clone()).collect();
    expected.extend(["README.md", "method.toml"].map(str::to_owned));
    let found: BTreeSet<String> = std::fs::read_dir(folder(example))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert_eq!(found, expected);
    let bytes: usize = made.iter().map(|file| file.bytes.len()).sum();
    assert!(bytes < most_bytes, "{bytes} bytes");
}

/// The row of a page's table that begins with this cell.
pub(crate) fn row_of<'p>(page: &'p str, first_cell: &str) -> &'p str {
    page.lines().find(|line| line.starts_with(&format!("| {first_cell} |"))).unwrap()
}

/// The number in the third cell of a row.
pub(crate) fn truth_in(row: &str) -> f64 {
    row.split('|').nth(3).unwrap().trim().parse().unwrap()
}

//! Recorded series of a real instrument (`../shared/realdata/swv-pyocyanin-soak-transfer`) through Rust and C.

use std::fmt::Write as _;

use stillwell_method::RawFile;
use stillwell_transfer::run_scan;

use crate::build::{Package, host_compilers};
use crate::scene::{Folder, points_of};
use crate::vectors::Writer;

const METHOD: &str = include_str!("../../../method/tests/it/pyocyanin.toml");

/// One channel: five standards and a few hundred scans of a carry-over decay.
fn folder(name: &str) -> Option<Folder> {
    let data = stillwell_house::shared_file("realdata/swv-pyocyanin-soak-transfer")?;
    let file = format!("i{name}_uA_wide.csv");
    let bytes = std::fs::read(data.join(&file)).expect("the wide file is there");
    let text = String::from_utf8(bytes.clone()).expect("the wide file is UTF-8");
    let mut sheet = String::from("file,scan,role,sample,level,unit,electrode,channel\n");
    for (index, scan_id) in text.lines().next().expect("a header").split(',').skip(1).enumerate() {
        let level = scan_id.split('_').nth(1).expect("a level").trim_end_matches("uM").to_owned();
        let what = if scan_id.starts_with("soak") {
            format!("standard,,{level},µmol/L")
        } else {
            format!("sample,{scan_id},,")
        };
        writeln!(sheet, "{file},{},{what},E1,{name}", index + 1).expect("a String takes it");
    }
    Some(Folder { method: METHOD.to_owned(), sheet, files: vec![RawFile { name: file, bytes }] })
}

#[test]
fn recorded_series_give_the_same_bits() {
    let mut writer = Writer::new();
    for name in ["1", "2"] {
        let Some(folder) = folder(name) else { return };
        let scene = folder.scene();
        let frozen = match scene.frozen(0) {
            Ok(frozen) => frozen,
            Err(error) => panic!("channel {name}: {error}"),
        };
        writer.vectors.method(&frozen, None).expect("a method of the device");
        for place in 0..scene.report.scans.len() {
            let points = points_of(scene.scan(place));
            let (_, words) = run_scan(&frozen, frozen.blank_a(), &points).expect("the grid fits");
            writer.vectors.scan(&points, frozen.has_reverse(), None, &words);
        }
    }
    let n_scans = writer.vectors.n_scans();
    let bytes = writer.vectors.finish();
    for compiler in host_compilers() {
        let package = Package::new();
        let outcome = package.run(&package.program(compiler, &["-O2"]), &bytes);
        println!("{compiler}: {}", outcome.text.trim());
        outcome.assert_same(compiler, n_scans, 0);
    }
}

//! The package: whole, the same bytes each time, built without a warning, and every changed file found by its name.

use std::path::Path;
use std::process::Command;

use stillwell_house::require_or_skip;
use stillwell_transfer::package::{
    Changed, FIRMWARE_SOURCES, LOT_FILE, LotFault, LotFile, PackageFile, Parts, inspect, left_out, package,
    recorded,
};
use stillwell_transfer::{C_FILES, alternatives};

use crate::build::{M3, is_there};
use crate::scene::{FIRST_DAY, Folder, LAST_DAY, Scene};

fn files(scene: &Scene) -> Vec<PackageFile> {
    let frozen = scene.frozen(2).expect("the calibration is accepted");
    let lot = scene.report.calibrations[2].key.lot.clone();
    let recorded = recorded(&frozen, &scene.input, &scene.report, FIRST_DAY).expect("the scans fit");
    assert!(recorded.n_scans > 200 && recorded.n_samples >= 9, "{} {}", recorded.n_scans, recorded.n_samples);
    let lot_record = frozen.lot_record(true).expect("the lot fits").signed([7; 64]);
    let parts = Parts {
        frozen: &frozen,
        method: &scene.input.method,
        calibration: "3",
        lot: [&lot, "2026-01-01", "2027-12-31"],
        signed_by: "Tomas Reed",
        lot_record: &lot_record,
        recorded: &recorded,
        simulated: None,
    };
    package(&parts).expect("a package")
}

fn text<'f>(files: &'f [PackageFile], name: &str) -> &'f str {
    let file = files.iter().find(|file| file.name == name).expect(name);
    std::str::from_utf8(&file.bytes).expect("text")
}

fn write(files: &[PackageFile], folder: &Path) {
    for file in files {
        let path = folder.join(&file.name);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        std::fs::write(path, &file.bytes).expect("a file");
    }
}

#[test]
fn the_same_parts_give_the_same_bytes_and_nothing_is_missing() {
    let scene = Folder::alder_vale().scene();
    let made = files(&scene);
    assert_eq!(made, files(&scene));
    for file in C_FILES {
        assert_eq!(text(&made, file.name), file.text);
    }
    for source in FIRMWARE_SOURCES {
        assert!(text(&made, "Makefile").contains(source), "{source}");
    }
    let readme = text(&made, "README.md");
    assert!(readme.contains(text(&made, "example.c").trim_end()), "the example is the compiled one");
    assert!(!readme.contains('@'), "every place is filled");
    assert!(readme.contains("**It does not verify the\nsignature.**"));
    assert_eq!(inspect(&made).changed, []);
}

#[test]
fn every_changed_file_is_found_by_its_name() {
    let made = files(&Folder::alder_vale().scene());
    for at in 0..made.len() {
        let mut changed = made.clone();
        let name = changed[at].name.clone();
        let middle = changed[at].bytes.len() / 2;
        changed[at].bytes[middle] ^= 1;
        let found = inspect(&changed).changed;
        if name == "CHECKSUMS" {
            assert!(!found.is_empty());
        } else {
            assert!(
                matches!(found.as_slice(), [Changed::Bytes { name: found, .. }] if *found == name),
                "{name}: {found:?}"
            );
        }
        let removed = changed.remove(at).name;
        let found = inspect(&changed).changed;
        let is_named = matches!(found.as_slice(), [Changed::Missing { name }] if *name == removed);
        assert!(is_named || found == [Changed::NoList], "{removed}: {found:?}");
    }
    let mut more = made.clone();
    more.push(PackageFile { name: "more.c".to_owned(), bytes: Vec::new() });
    assert_eq!(inspect(&more).changed, [Changed::NotListed { name: "more.c".to_owned() }]);
}

#[test]
fn a_lot_record_is_read_back_and_a_changed_byte_is_found() {
    let scene = Folder::alder_vale().scene();
    let made = files(&scene);
    let bytes = &made.iter().find(|file| file.name == LOT_FILE).expect("the record").bytes;
    let read = LotFile::read(bytes).expect("a record");
    assert_eq!(read.lot, scene.report.calibrations[2].key.lot);
    assert_eq!((read.days, read.signature), ([FIRST_DAY, LAST_DAY], [7; 64]));
    assert_eq!(read.method_hash, *scene.input.method.hash.as_bytes());
    assert_eq!(read.calibration_hash, *scene.report.calibrations[2].hash.as_bytes());
    // Checksum, what fills it up, and signature stand outside of what is summed.
    for at in (0..bytes.len()).filter(|at| !(544..616).contains(at)) {
        let mut changed = bytes.clone();
        changed[at] ^= 0x10;
        assert!(LotFile::read(&changed).is_err(), "byte {at}");
    }
    let mut changed = bytes.clone();
    changed[544] ^= 1;
    assert!(matches!(LotFile::read(&changed), Err(LotFault::Checksum { .. })));
    assert!(matches!(LotFile::read(&bytes[..600]), Err(LotFault::Length { .. })));
    assert!(LotFile::read(&[]).is_err());
}

#[test]
fn it_builds_by_make_without_a_warning_and_tests_itself() {
    if !is_there("make") {
        return;
    }
    let made = files(&Folder::alder_vale().scene());
    assert!(!left_out(text(&made, "Makefile")).is_empty(), "the scenario needs no tangent");
    for compiler in ["gcc", "clang"] {
        if !is_there(compiler) {
            continue;
        }
        let folder = tempfile::tempdir().expect("a folder");
        write(&made, folder.path());
        let output = Command::new("make")
            .current_dir(folder.path())
            .args(["-s", "all", "test", &format!("CC={compiler}")])
            .output()
            .expect("make");
        let said =
            String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{said}");
        assert!(!said.contains("warning:") && said.contains("differing 0 errors 0"), "{said}");
        println!("{compiler}: {}", said.lines().next().unwrap_or_default());
    }
}

#[test]
fn the_readme_tells_the_sizes_that_the_compiler_gives() {
    if !is_there("arm-none-eabi-gcc") {
        return;
    }
    let made = files(&Folder::alder_vale().scene());
    let folder = tempfile::tempdir().expect("a folder");
    write(&made, folder.path());
    let names = ["stw_scan", "stw_scan_result", "stw_sample", "stw_sample_result", "stw_wire"];
    // An array of the size gives its symbol that size.
    let source = names.map(|name| format!("char size_of_{name}[sizeof({name})];\n")).concat();
    std::fs::write(folder.path().join("sizes.c"), format!("#include \"wire.h\"\n{source}")).expect("a file");
    let mut command = Command::new("arm-none-eabi-gcc");
    command.current_dir(folder.path()).args(M3).args(["-std=c99", "-c", "sizes.c", "-o", "sizes.o"]);
    assert!(command.status().expect("the compiler").success());
    let output = Command::new("arm-none-eabi-nm")
        .current_dir(folder.path())
        .args(["-S", "sizes.o"])
        .output()
        .expect("the symbols");
    let symbols = String::from_utf8(output.stdout).expect("symbols");
    let readme = text(&made, "README.md");
    for name in names {
        let line = symbols.lines().find(|line| line.ends_with(&format!("size_of_{name}"))).expect(name);
        let size =
            u32::from_str_radix(line.split_whitespace().nth(1).expect("a size"), 16).expect("a number");
        assert!(readme.contains(&format!("`{name}` {size}")), "{name} is {size}");
    }
}

#[test]
fn what_a_device_cannot_do_has_alternatives_that_it_can() {
    let line = "{ kind = \"line\", left_v = [-0.42, -0.38], right_v = [-0.84, -0.80] }";
    let als = Folder::alder_vale().edited(&[(line, "{ kind = \"asymmetric-least-squares\" }")]);
    let scene = als.scene();
    assert!(scene.frozen(2).is_err());
    let others = alternatives(&scene.input.method, &als.method);
    assert_eq!(others.len(), 4);
    for other in others {
        let folder = Folder { method: other.method_text, ..Folder::alder_vale() };
        folder.scene().frozen(2).unwrap_or_else(|error| panic!("{}: {error}", other.step));
    }
    let aligned = Folder::alder_vale().edited(&[("blank = \"subtract\"", "blank = \"align\"")]);
    let steps = alternatives(&aligned.scene().input.method, &aligned.method);
    assert_eq!(
        steps.iter().map(|one| one.step.as_str()).collect::<Vec<_>>(),
        ["blank = \"subtract\"", "blank = \"ignore\""]
    );
    let plain = Folder::alder_vale();
    assert_eq!(alternatives(&plain.scene().input.method, &plain.method), []);
}

/// The device's own guard: a byte of the lot record or of the constants that changes after the package was proven.
#[test]
fn a_changed_byte_is_caught_when_a_scan_begins() {
    if !is_there("cc") {
        require_or_skip("a C compiler named cc");
        return;
    }
    let made = files(&Folder::alder_vale().scene());
    let folder = tempfile::tempdir().expect("a folder");
    write(&made, folder.path());
    let built = Command::new("make").current_dir(folder.path()).args(["-s", "build/pc/selfcheck"]).output();
    assert!(built.is_ok_and(|output| output.status.success()));
    let sample = |bytes: &[u8]| {
        std::fs::write(folder.path().join("lot.bin"), bytes).expect("a file");
        let output = Command::new("build/pc/selfcheck").current_dir(folder.path()).arg("lot.bin").output();
        let text = String::from_utf8(output.expect("it runs").stdout).expect("text");
        let code = text.lines().find_map(|line| line.strip_prefix("sample ")).map(str::to_owned);
        u32::from_str_radix(&code.expect("a code"), 16).expect("a number")
    };
    let bytes = made.iter().find(|file| file.name == LOT_FILE).expect("the record").bytes.clone();
    assert_eq!(sample(&bytes), 0);
    for at in [0, 100, 400, 460, 543, 544, 616, bytes.len() - 1] {
        let mut changed = bytes.clone();
        changed[at] ^= 4;
        assert!(matches!(sample(&changed), 33..=36), "byte {at}: {}", sample(&changed));
    }
    // A constant of the method, as a flash that ages would change it.
    let method = text(&made, "method.c").replacen("0x1p+3", "0x1p+2", 1);
    assert_ne!(method, text(&made, "method.c"));
    std::fs::write(folder.path().join("method.c"), method).expect("a file");
    let built = Command::new("make").current_dir(folder.path()).args(["-s", "build/pc/selfcheck"]).output();
    assert!(built.is_ok_and(|output| output.status.success()));
    assert_eq!(sample(&bytes), 32);
}

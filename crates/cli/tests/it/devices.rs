//! An approved calibration on its way to a device: made, proven, changed, refused.

use std::fs;
use std::process::Command;

use stillwell_house::require_or_skip;

use crate::command::{assert_bad_input, root};
use crate::documents::fields;
use crate::examples::{examples_of, words};
use crate::pages::assert_looks;
use crate::studies::Desk;

const SIGNED: &str = "--as approver --passphrase-file words.txt";

/// A study of which lot L21 may be carried.
fn ready() -> Desk {
    let desk = Desk::with_results();
    desk.printed(
        0,
        &format!(
            "study approve wells.study --method --calibration 1 --reason \"seen with its chain\" {SIGNED}"
        ),
    );
    desk.printed(
        0,
        &format!(
            "study lot wells.study --lot L21 --identity \"copper strips, invented\" --last-day 2099-12-31 --storage dry \
             --reason \"from the sheet\" {SIGNED}"
        ),
    );
    desk
}

fn is_there(program: &str) -> bool {
    let there = Command::new(program).arg("--version").output().is_ok_and(|output| output.status.success());
    if !there {
        require_or_skip(program);
    }
    there
}

#[test]
fn three_commands_from_a_study_to_a_proven_device() {
    let desk = ready();
    let examples: Vec<String> = ["transfer", "prove"].into_iter().flat_map(examples_of).collect();
    let [make, prove, prove_m3] = examples.as_slice() else { panic!("{examples:?}") };
    assert_looks("transfer", &desk.printed(0, make));
    if !is_there("cc") {
        return;
    }
    assert_looks("prove", &desk.printed(0, prove));
    let with_study = desk.json(0, "prove device --study wells.study");
    assert_eq!(with_study["proven"], true);
    assert_looks("fields-prove", &fields(&with_study));
    let recorded = &with_study["built"][0]["runs"][0];
    assert!(recorded["n_scans"].as_u64() > Some(200) && recorded["n_differing"] == 0, "{recorded}");
    if !is_there("arm-none-eabi-gcc") || !is_there("qemu-system-arm") {
        return;
    }
    let page = desk.printed(0, prove_m3);
    println!("{page}");
    for measured in
        ["kernel, bytes of flash", "worst stack", "stack seen", "instructions of a scan's finish, most"]
    {
        assert!(page.contains(measured), "{measured} in\n{page}");
    }
    assert_eq!(page.matches("the same 64 bits\n").count(), 4, "{page}");
}

#[test]
fn the_same_study_gives_the_same_bytes_and_one_record() {
    let desk = ready();
    let first = desk.json(0, &format!("transfer wells.study --out one --lot L21 {SIGNED}"));
    let second = desk.json(0, &format!("transfer wells.study --out two --lot L21 {SIGNED}"));
    assert_eq!(
        (&first["was_recorded_before"], &second["was_recorded_before"]),
        (&false.into(), &true.into())
    );
    assert_eq!(first["package_blake3"], second["package_blake3"]);
    assert_eq!(first["ledger_record"], second["ledger_record"]);
    assert_looks("fields-transfer", &fields(&first));
    for entry in fs::read_dir(desk.path().join("one")).expect("the package") {
        let path = entry.expect("an entry").path();
        if path.is_file() {
            let other = desk.path().join("two").join(path.file_name().expect("a name"));
            assert_eq!(fs::read(&path).expect("read"), fs::read(other).expect("read"), "{}", path.display());
        }
    }
    let history = desk.printed(0, "study history wells.study");
    assert!(history.contains("carried to a device until 2099-12-31: package "), "{history}");
    desk.printed(0, "study verify wells.study");
    let run = desk.run(&format!("transfer wells.study --out one --lot L21 {SIGNED}"));
    assert_bad_input(&run, &["one is not empty", "nothing is overwritten"]);
}

#[test]
fn what_is_not_approved_or_not_known_is_refused() {
    let desk = Desk::with_results();
    let make = format!("transfer wells.study --out device --lot L21 {SIGNED}");
    assert_bad_input(&desk.run(&make), &["the method revision is not approved", "--method"]);
    desk.printed(0, &format!("study approve wells.study --method --reason \"seen as a whole\" {SIGNED}"));
    assert_bad_input(&desk.run(&make), &["the calibration 1 is not approved", "--calibration 1"]);
    let any = format!("transfer wells.study --out device {SIGNED}");
    assert_bad_input(&desk.run(&any), &["there are calibrations of 3 lots", "L21, L22, L23"]);
    desk.printed(
        0,
        &format!("study approve wells.study --calibration 1 --reason \"seen as a whole\" {SIGNED}"),
    );
    assert_bad_input(&desk.run(&make), &["nothing is known of lot L21", "study lot"]);
    assert!(!desk.path().join("device").exists());
}

#[test]
fn a_step_that_no_device_takes_is_refused_with_the_cost_of_each_other() {
    let desk = Desk::new();
    let method = fs::read_to_string(root().join("examples/alder-vale/method.toml")).expect("the method");
    let line = method.lines().find(|line| line.starts_with("baseline")).expect("a baseline");
    let method = method.replace(line, "baseline = { kind = \"asymmetric-least-squares\" }");
    let series = desk.path().join("series");
    fs::create_dir(&series).expect("a folder");
    for entry in fs::read_dir(root().join("examples/alder-vale")).expect("the scenario") {
        let path = entry.expect("an entry").path();
        fs::copy(&path, series.join(path.file_name().expect("a name"))).expect("copied");
    }
    fs::write(series.join("method.toml"), &method).expect("written");
    for line in [
        "study new wells.study --method series --as ines",
        "study add wells.study series --as ines",
        "study key make approver --passphrase-file words.txt",
        "study key add wells.study --key approver.key --role approver --as ines --reason \"from the founding on\"",
    ] {
        desk.printed(0, line);
    }
    desk.printed(1, "study determine wells.study --as ines");
    desk.printed(
        0,
        &format!(
            "study approve wells.study --method --calibration 1 --reason \"seen with its chain\" {SIGNED}"
        ),
    );
    desk.printed(
        0,
        &format!(
            "study lot wells.study --lot L21 --identity invented --last-day 2099-12-31 --storage dry --reason \"from the sheet\" \
             {SIGNED}"
        ),
    );
    let run = desk.run(&format!("transfer wells.study --out device --lot L21 {SIGNED}"));
    assert_eq!(run.code, Some(2));
    assert_looks("transfer-refused", &run.stderr);
}

#[test]
fn what_was_changed_is_named_and_not_built() {
    let desk = ready();
    desk.printed(0, &format!("transfer wells.study --out device --lot L21 {SIGNED}"));
    let place = |name: &str| desk.path().join("device").join(name);
    for name in
        ["method.c", "lot.bin", "vectors/recorded.bin", "kernel.h", "README.md", "CHECKSUMS", "SIGNATURE"]
    {
        let whole = fs::read(place(name)).expect("a file");
        let mut changed = whole.clone();
        // In the signature the last digit, elsewhere the middle.
        let at = if name == "SIGNATURE" { changed.len() - 3 } else { changed.len() / 2 };
        changed[at] ^= 1;
        fs::write(place(name), changed).expect("written");
        let page = desk.printed(1, "prove device");
        assert!(page.contains(name) && page.contains("WRONG"), "{name}\n{page}");
        assert!(page.contains("not proven") && !page.contains("built by"), "{name}\n{page}");
        fs::write(place(name), whole).expect("written");
    }
    fs::remove_file(place("order.c")).expect("removed");
    fs::write(place("more.c"), "int more;").expect("written");
    let page = desk.printed(1, "prove device");
    assert!(page.contains("order.c is missing") && page.contains("more.c does not belong"), "{page}");
}

#[test]
fn a_missing_compiler_is_said_with_what_was_proven_without_it() {
    let desk = ready();
    desk.printed(0, &format!("transfer wells.study --out device --lot L21 {SIGNED}"));
    assert_bad_input(
        &desk.run("prove device --host-cc no-such-cc"),
        &["there is no no-such-cc", "install no-such-cc"],
    );
    if is_there("cc") {
        let run = desk.run("prove device --cc no-such-gcc");
        assert_bad_input(&run, &["there is no no-such-gcc", "on this machine all bits are the same"]);
    }
    assert_bad_input(&desk.run("prove ."), &["has no CHECKSUMS", "stillwell transfer"]);
    assert!(words(&examples_of("transfer")[0]).len() > 5);
}

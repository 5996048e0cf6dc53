//! The vectors under the compiler's own checks, the square root against the processor's, and a static look.

use std::process::Command;

use crate::build::{Package, is_there};
use crate::device::some_vectors;
use crate::vectors::{Writer, root_numbers};

#[test]
fn the_vectors_pass_under_address_and_behaviour_checks() {
    if !is_there("clang") {
        return;
    }
    let writer = some_vectors(16);
    let (n_scans, n_samples) = (writer.vectors.n_scans(), writer.vectors.n_samples());
    let package = Package::new();
    let options = ["-O1", "-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all"];
    let outcome = package.run(&package.program("clang", &options), &writer.vectors.finish());
    outcome.assert_same("clang with its checks", n_scans, n_samples);
}

#[test]
fn the_square_root_is_the_processors_on_ten_million_numbers() {
    if !is_there("gcc") {
        return;
    }
    let numbers = root_numbers(0);
    let mut writer = Writer::new();
    writer.vectors.roots(&numbers);
    let package = Package::new();
    let outcome = package.run(&package.program("gcc", &["-O2"]), &writer.vectors.finish());
    assert_eq!(outcome.number("differing"), Some(0), "{}", outcome.text);
    // Ten million more, drawn and compared inside the process: the processor's root is rounded as IEEE 754 asks.
    std::fs::write(package.path().join("roots.c"), ROOTS).expect("a file");
    let mut command = Command::new("gcc");
    command.current_dir(package.path()).args([
        "-std=c99",
        "-O2",
        "-ffp-contract=off",
        "roots.c",
        "arithmetic.c",
        "-lm",
    ]);
    let built = command.args(["-o", "roots"]).output().expect("the compiler starts");
    assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
    let output = Command::new(package.path().join("roots")).output().expect("the program starts");
    assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), "10000000 roots, 0 differ");
}

const ROOTS: &str = r#"
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include "kernel.h"
int main(void) {
    uint64_t state = 88172645463325252u;
    uint64_t differ = 0u;
    uint32_t i;
    for (i = 0u; i < 10000000u; i++) {
        union { double number; uint64_t bits; } x, ours, theirs;
        state ^= state << 13; state ^= state >> 7; state ^= state << 17;
        x.bits = state & 0x7fffffffffffffffu;
        if ((i & 3u) == 0u) { x.number = 1e-12 * (double)(state >> 40); }
        if ((i & 15u) == 1u) { x.number = (double)(state >> 38) * (double)(state >> 38); x.bits += (i >> 4) % 3u; }
        if ((i & 31u) == 2u) { x.bits = state & 0x000fffffffffffffu; }
        ours.number = stw_sqrt(x.number);
        theirs.number = sqrt(x.number);
        if ((ours.bits != theirs.bits) && !((ours.number != ours.number) && (theirs.number != theirs.number))) { differ++; }
    }
    printf("10000000 roots, %llu differ\n", (unsigned long long)differ);
    return 0;
}
"#;

#[test]
fn a_static_look_finds_nothing() {
    if !is_there("cppcheck") {
        return;
    }
    let package = Package::new();
    let mut command = Command::new("cppcheck");
    command.current_dir(package.path()).args([
        "--enable=warning,style,performance,portability",
        "--std=c99",
        "--error-exitcode=1",
        "--suppress=missingIncludeSystem",
        "--quiet",
    ]);
    command.args(stillwell_transfer::KERNEL_SOURCES).args(["check.c", "port_pc.c"]);
    let output = command.output().expect("the checker starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && said.is_empty(), "{said}");
}

/// Each changed byte of constants or record is caught when a scan begins.
#[test]
fn a_changed_byte_is_caught() {
    if !is_there("gcc") {
        return;
    }
    let writer = some_vectors(0);
    let n_scans = writer.vectors.n_scans() as u64;
    let bytes = writer.vectors.finish();
    let package = Package::new();
    let program = package.program("gcc", &["-O1"]);
    // Behind the file's head and the roots' block stand the constants: the first block of kind 1.
    let word = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().expect("four bytes"));
    let mut block = 8;
    while word(block) != 1 {
        block += 8 + word(block + 4) as usize;
    }
    for offset in [8, 16, 100, 500, 900, 1000, 1040, 1400] {
        let mut changed = bytes.clone();
        changed[block + offset] ^= 0x10;
        let outcome = package.run(&program, &changed);
        assert!(outcome.number("errors").is_some_and(|errors| errors > 0), "{offset}: {}", outcome.text);
        assert!(outcome.number("scans").is_some_and(|scans| scans < n_scans), "{offset}: {}", outcome.text);
    }
}

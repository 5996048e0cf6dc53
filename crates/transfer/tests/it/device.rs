//! The C against the Rust kernel, every word of every result.

use crate::build::{M3, Package, host_compilers, is_there};
use crate::scene::Twin;
use crate::vectors::{Writer, root_numbers, variants};

/// Recorded scans, twin-made ones and samples over all variants.
pub(crate) fn some_vectors(twins: u64) -> Writer {
    let twin = Twin::new();
    let mut writer = Writer::new();
    writer.vectors.roots(&root_numbers(2_000));
    for (index, variant) in variants().iter().enumerate() {
        let first = 1_000 * index as u64;
        writer.vectors.method(&variant.frozen, None).expect("a method of the device");
        writer.recorded(variant, 7);
        writer.twin(variant, &twin, first..first + twins);
        writer.samples(variant, &twin, first..first + twins / 6);
    }
    writer
}

#[test]
fn every_compiler_and_level_gives_the_bits_of_the_rust_kernel() {
    let writer = some_vectors(48);
    writer.census.assert_complete();
    println!("{:?}", writer.census);
    let (n_scans, n_samples) = (writer.vectors.n_scans(), writer.vectors.n_samples());
    let bytes = writer.vectors.finish();
    for compiler in host_compilers() {
        for level in ["-O0", "-O2", "-Os"] {
            let package = Package::new();
            let outcome = package.run(&package.program(compiler, &[level]), &bytes);
            println!("{compiler} {level}: {}", outcome.text.trim());
            outcome.assert_same(&format!("{compiler} {level}"), n_scans, n_samples);
        }
    }
    if !is_there("arm-none-eabi-gcc") || !is_there("qemu-system-arm") {
        return;
    }
    // The emulator is slow: all vectors on the build that firmware uses, some on the others.
    let some = some_vectors(6);
    let (some_scans, some_samples) = (some.vectors.n_scans(), some.vectors.n_samples());
    let some_bytes = some.vectors.finish();
    for (level, scans, samples, bytes) in [
        ("-O0", some_scans, some_samples, &some_bytes),
        ("-O2", some_scans, some_samples, &some_bytes),
        ("-Os", n_scans, n_samples, &bytes),
    ] {
        let package = Package::new();
        let image = package.image("arm-none-eabi-gcc", &[level], M3);
        let outcome = package.emulate(&image, bytes);
        println!("Cortex-M3 {level}: {}", outcome.text.trim());
        outcome.assert_same(&format!("Cortex-M3 {level}"), scans, samples);
    }
}

//! The long proof: 10,000 twin scans through Rust and the emulated Cortex-M3, 500 through every other compiler and level,
//! with sizes, stack and instruction counts. `cargo run --release -p stillwell-transfer --example prove_all [scans]`
#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::needless_for_each,
    dead_code,
    reason = "a program for people; it shares the tests' modules and stops at the first surprise"
)]

#[path = "../tests/it/build.rs"]
mod build;
#[path = "../tests/it/scene.rs"]
mod scene;
#[path = "../tests/it/vectors.rs"]
mod vectors;

use std::time::Instant;

use build::{M3, Package};
use scene::Twin;
use vectors::{Writer, root_numbers, variants};

/// All recorded scans of the scenario, and twin-made ones and samples, over all variants.
fn writer(twins: u64) -> Writer {
    let twin = Twin::new();
    let variants = variants();
    let mut writer = Writer::new();
    writer.vectors.roots(&root_numbers(20_000));
    let each = twins / variants.len() as u64;
    for (index, variant) in variants.iter().enumerate() {
        let first = 100_000 * index as u64;
        writer.vectors.method(&variant.frozen, None).expect("a method of the device");
        writer.recorded(variant, if twins > 1000 { 1 } else { 16 });
        writer.twin(variant, &twin, first..first + each);
        writer.samples(variant, &twin, first..first + each / 20);
    }
    writer
}

fn main() {
    let twins = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(10_000);
    let begun = Instant::now();
    let many = writer(twins);
    many.census.assert_complete();
    println!(
        "{} scans, {} samples made in {:.0?}",
        many.vectors.n_scans(),
        many.vectors.n_samples(),
        begun.elapsed()
    );
    println!("checks (number, passed) and how often: {:?}", many.census.trust);
    println!(
        "outcomes {:?}, reasons {:?}, refusals {:?}",
        many.census.outcomes, many.census.reasons, many.census.refusals
    );
    println!("samples {:?}", many.census.samples);
    let (n_scans, n_samples) = (many.vectors.n_scans(), many.vectors.n_samples());
    let bytes = many.vectors.finish();
    let few = writer(500);
    let (few_scans, few_samples) = (few.vectors.n_scans(), few.vectors.n_samples());
    let few_bytes = few.vectors.finish();
    for compiler in ["gcc", "clang"] {
        for level in ["-O0", "-O2", "-Os"] {
            let package = Package::new();
            let program = package.program(compiler, &[level]);
            let outcome = package.run(&program, &few_bytes);
            println!("{compiler} {level}: {}", outcome.text.trim());
            outcome.assert_same(compiler, few_scans, few_samples);
            if level == "-O2" {
                let outcome = package.run(&program, &bytes);
                println!("{compiler} {level}: {}", outcome.text.trim());
                outcome.assert_same(compiler, n_scans, n_samples);
            }
        }
    }
    for (level, scans, samples, bytes) in [
        ("-O0", few_scans, few_samples, &few_bytes),
        ("-O2", few_scans, few_samples, &few_bytes),
        ("-Os", n_scans, n_samples, &bytes),
    ] {
        let package = Package::new();
        let image = package.image("arm-none-eabi-gcc", &[level], M3);
        let outcome = package.emulate(&image, bytes);
        println!("Cortex-M3 {level}: {}", outcome.text.trim());
        outcome.assert_same(level, scans, samples);
    }
    println!("all in {:.0?}", begun.elapsed());
}

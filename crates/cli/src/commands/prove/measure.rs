//! What the package takes of a Cortex-M3: flash, stack, instructions.

use std::path::PathBuf;
use std::process::Command;

use stillwell_transfer::CallGraph;
use stillwell_transfer::package::FIRMWARE_SOURCES;

use super::build::{Bench, Run};

/// The calls of `kernel.h` and `wire.h` that firmware makes.
const CALLS: [&str; 9] = [
    "stw_scan_begin",
    "stw_scan_push",
    "stw_scan_finish",
    "stw_sample_begin",
    "stw_sample_add",
    "stw_sample_finish",
    "stw_wire_begin",
    "stw_wire_cbor",
    "stw_wire_json",
];

type Measured = Vec<(String, String)>;

/// Code and constants; nothing where the compiler's own tool for it is not there.
pub(super) fn flash(bench: &Bench, cc: &str, objects: &[PathBuf]) -> Measured {
    let Some(tool) = cc.strip_suffix("gcc").map(|prefix| format!("{prefix}size")) else { return Vec::new() };
    let Ok(output) = Command::new(tool).current_dir(bench.path()).args(objects).output() else {
        return Vec::new();
    };
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let (mut code, mut constants, mut wire, mut state) = (0, 0, 0, 0);
    for line in text.lines().skip(1) {
        let columns: Vec<&str> = line.split_whitespace().collect();
        let number = |k: usize| columns.get(k).and_then(|text| text.parse::<u64>().ok()).unwrap_or(0);
        let bytes = number(0) + number(1);
        let name = columns.last().copied().unwrap_or_default();
        match name.rsplit('/').next().unwrap_or_default() {
            "method.c.o" | "basis.c.o" => constants += bytes,
            "wire.c.o" | "decimal.c.o" => wire += bytes,
            _ => code += bytes,
        }
        state += number(1) + number(2);
    }
    let arithmetic = runtime(bench, objects);
    let mut measured = vec![
        ("kernel, bytes of flash".to_owned(), code.to_string()),
        ("constants of the method, bytes of flash".to_owned(), constants.to_string()),
        ("record of a result, bytes of flash".to_owned(), wire.to_string()),
        ("state of their own, bytes of RAM".to_owned(), state.to_string()),
    ];
    measured.extend(
        arithmetic.map(|bytes| ("64-bit arithmetic of the compiler, flash".to_owned(), bytes.to_string())),
    );
    measured
}

/// The compiler's own arithmetic: what linking adds to the objects.
fn runtime(bench: &Bench, objects: &[PathBuf]) -> Option<u64> {
    let whole = bench.link(objects, &["-nostdlib", "-r", "-lgcc"], "whole.o").ok();
    // A relocatable link takes the needed members of the library in.
    let size = |path: &PathBuf| {
        let output = Command::new("arm-none-eabi-size").arg(path).output().ok()?;
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        let line = text.lines().nth(1)?.split_whitespace().next()?.parse::<u64>().ok()?;
        Some(line)
    };
    let whole = size(&whole?)?;
    let parts: Option<u64> = objects.iter().map(size).sum();
    whole.checked_sub(parts?)
}

/// The worst case from the call graph, and what was seen.
pub(super) fn stack(bench: &Bench, runs: &[Run]) -> Measured {
    let mut measured = Vec::new();
    if bench.objects(FIRMWARE_SOURCES, &["-ffreestanding", "-fcallgraph-info=su"]).is_ok() {
        let texts: Vec<String> = FIRMWARE_SOURCES
            .iter()
            .filter_map(|source| std::fs::read_to_string(bench.path().join(format!("{source}.ci"))).ok())
            .collect();
        let graph = CallGraph::read(texts.iter().map(String::as_str));
        let bounds: Vec<_> = CALLS.iter().filter_map(|call| graph.deepest(call).ok()).collect();
        if let Some(deepest) =
            bounds.iter().max_by_key(|bound| bound.bytes).filter(|_| bounds.len() == CALLS.len())
        {
            let name = deepest.path.first().map_or("", String::as_str);
            measured.push((format!("worst stack, {name}"), deepest.bytes.to_string()));
        } else {
            measured.push(("worst stack".to_owned(), "not told".to_owned()));
        }
    }
    if let Some(seen) = runs.iter().filter_map(|run| run.painted_stack).max() {
        measured.push(("stack seen, the test's own included".to_owned(), seen.to_string()));
    }
    measured
}

/// Instructions, not cycles: the emulator counts nothing else.
pub(super) fn instructions(runs: &[Run]) -> Measured {
    let found: Vec<[u64; 2]> = runs.iter().filter_map(|run| run.instructions).collect();
    let most = found.iter().map(|[_, most]| *most).max();
    let Some(most) = most else { return Vec::new() };
    let mean = found.first().map_or(0, |[mean, _]| *mean);
    vec![
        ("instructions of a scan's finish, mean".to_owned(), mean.to_string()),
        ("instructions of a scan's finish, most".to_owned(), most.to_string()),
    ]
}

//! Building the package and running it: on this machine, and on the emulated Cortex-M3.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use stillwell_report::json::devices;
use stillwell_transfer::package::{FIRMWARE_SOURCES, LOT_FILE, PackageFile, VECTOR_FOLDER, WORDS, left_out};

use super::{Proof, measure};
use crate::exit::Failure;
use crate::progress::during;

/// As in the package's Makefile.
const STRICT: [&str; 8] =
    ["-std=c99", "-ffp-contract=off", "-Wall", "-Wextra", "-Wconversion", "-Wshadow", "-pedantic", "-Werror"];
const M3: [&str; 2] = ["-mcpu=cortex-m3", "-mthumb"];
const EMULATOR: &str = "qemu-system-arm";
/// An instruction lasts 64 ns of the emulated time: so the board's timer counts them.
const BOARD: [&str; 11] = [
    "-M",
    "mps2-an385",
    "-nographic",
    "-monitor",
    "none",
    "-serial",
    "none",
    "-icount",
    "shift=6",
    "-semihosting-config",
    "enable=on,target=native",
];

/// One build and what it gave.
pub(crate) struct Built {
    pub(crate) what: String,
    pub(crate) runs: Vec<Run>,
    pub(crate) measured: Vec<(String, String)>,
}

/// One vector file, walked.
#[derive(Default)]
pub(crate) struct Run {
    pub(crate) vectors: String,
    pub(crate) n_scans: u64,
    pub(crate) n_samples: u64,
    pub(crate) n_words: u64,
    pub(crate) n_differing: u64,
    pub(crate) n_errors: u64,
    /// The first differences: vector, step, both bits.
    pub(crate) different: Vec<String>,
    pub(crate) painted_stack: Option<u64>,
    pub(crate) instructions: Option<[u64; 2]>,
}

impl Run {
    pub(crate) fn same(&self) -> bool {
        self.n_scans > 0 && self.n_differing == 0 && self.n_errors == 0
    }
}

impl Built {
    pub(super) fn plain(&self) -> devices::Build<'_> {
        let runs = self.runs.iter().map(Run::plain).collect();
        devices::Build { on: &self.what, runs, measured: &self.measured }
    }
}

impl Run {
    fn plain(&self) -> devices::Run<'_> {
        devices::Run {
            vectors: &self.vectors,
            n_scans: self.n_scans,
            n_samples: self.n_samples,
            n_words: self.n_words,
            n_differing: self.n_differing,
            n_errors: self.n_errors,
            different: &self.different,
        }
    }
}

/// The package's files in a folder of their own.
pub(super) struct Bench {
    folder: tempfile::TempDir,
    compiler: String,
    options: Vec<&'static str>,
    left_out: Vec<String>,
}

impl Bench {
    fn new(files: &[PackageFile], compiler: &str, options: &[&'static str]) -> Result<Self, Failure> {
        let folder = tempfile::tempdir().map_err(|error| no_room(&error))?;
        for file in files {
            let path = folder.path().join(&file.name);
            let parent = path.parent().unwrap_or(folder.path());
            fs::create_dir_all(parent).map_err(|error| no_room(&error))?;
            fs::write(&path, &file.bytes).map_err(|error| no_room(&error))?;
        }
        let makefile = files.iter().find(|file| file.name == "Makefile").map_or(&[][..], |file| &file.bytes);
        let left_out = left_out(&String::from_utf8_lossy(makefile));
        Ok(Self { folder, compiler: compiler.to_owned(), options: options.to_vec(), left_out })
    }

    pub(super) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Compiles sources to objects beside them.
    pub(super) fn objects(&self, sources: &[&str], more: &[&str]) -> Result<Vec<PathBuf>, Failure> {
        let mut objects = Vec::new();
        for source in sources {
            let object = self.path().join(format!("{source}.o"));
            let mut command = Command::new(&self.compiler);
            command.current_dir(self.path()).args(STRICT).args(&self.options).args(&self.left_out).args(more);
            command.args(["-Os", "-c", source, "-o"]).arg(&object);
            done(&mut command, &self.compiler, "a C compiler")?;
            objects.push(object);
        }
        Ok(objects)
    }

    pub(super) fn link(&self, objects: &[PathBuf], more: &[&str], name: &str) -> Result<PathBuf, Failure> {
        let program = self.path().join(name);
        let mut command = Command::new(&self.compiler);
        command.current_dir(self.path()).args(&self.options).args(objects).args(more).arg("-o").arg(&program);
        done(&mut command, &self.compiler, "a C compiler")?;
        Ok(program)
    }
}

fn no_room(error: &io::Error) -> Failure {
    Failure::NotThere {
        what: format!("no folder to build in: {error}"),
        cure: "make room where temporary files go".to_owned(),
    }
}

/// Runs a program that must be there and succeed.
pub(super) fn done(command: &mut Command, name: &str, what: &str) -> Result<Output, Failure> {
    let output = command.output().map_err(|_not_there| missing(name, what))?;
    if output.status.success() {
        return Ok(output);
    }
    let said = String::from_utf8_lossy(&output.stderr);
    let said: Vec<&str> = said.lines().take(8).collect();
    Err(Failure::NotThere {
        what: format!("{name} does not build the package: {}", said.join("\n    ")),
        cure: "use a compiler of C99 that keeps to IEEE 754, such as gcc or clang".to_owned(),
    })
}

fn missing(name: &str, what: &str) -> Failure {
    Failure::NotThere {
        what: format!("there is no {name}, and without {what} nothing is proven"),
        cure: format!("install {name} or name another one; nothing of the package was touched"),
    }
}

fn vector_files(files: &[PackageFile]) -> impl Iterator<Item = &PackageFile> {
    files.iter().filter(|file| file.name.starts_with(VECTOR_FOLDER) && file.name != WORDS)
}

pub(super) fn on_this_machine(files: &[PackageFile], cc: &str, proof: &mut Proof) -> Result<(), Failure> {
    let bench = Bench::new(files, cc, &[])?;
    let (check, selfcheck) = during("building for this machine", || {
        let kernel = bench.objects(FIRMWARE_SOURCES, &["-ffreestanding"])?;
        let port = bench.objects(&["port_pc.c"], &[])?;
        let tested = bench.objects(&["check.c"], &["-ffreestanding"])?;
        let own = bench.objects(&["example.c", "selfcheck.c"], &["-ffreestanding"])?;
        let check = bench.link(&[&kernel, &tested, &port].map(Vec::as_slice).concat(), &[], "check")?;
        let selfcheck = bench.link(&[&kernel, &own, &port].map(Vec::as_slice).concat(), &[], "selfcheck")?;
        Ok::<_, Failure>((check, selfcheck))
    })?;
    let mut runs = Vec::new();
    for file in vector_files(files) {
        let mut command = Command::new(&check);
        command.current_dir(bench.path()).arg(&file.name);
        let output =
            during("running the vectors here", || command.output()).map_err(|error| no_room(&error))?;
        runs.push(run_of(&file.name, &output, &names(files)));
    }
    let mut command = Command::new(&selfcheck);
    let output = command.current_dir(bench.path()).arg(LOT_FILE).output().map_err(|error| no_room(&error))?;
    self_checked("this machine", &output, proof);
    proof.built.push(Built { what: format!("on this machine, built by {cc}"), runs, measured: Vec::new() });
    Ok(())
}

pub(super) fn on_cortex_m3(files: &[PackageFile], cc: &str, proof: &mut Proof) -> Result<(), Failure> {
    let bench = Bench::new(files, cc, &M3)?;
    let built = during("building for the Cortex-M3", || {
        let kernel = bench.objects(FIRMWARE_SOURCES, &["-ffreestanding"])?;
        let port = bench.objects(&["port_m3.c", "startup_m3.c"], &["-ffreestanding"])?;
        let tested = bench.objects(&["check.c"], &["-ffreestanding"])?;
        let own = bench.objects(&["example.c", "selfcheck.c"], &["-ffreestanding"])?;
        let script = ["-nostdlib", "-T", "m3.ld", "-lgcc"];
        let check =
            bench.link(&[&kernel, &tested, &port].map(Vec::as_slice).concat(), &script, "check.elf")?;
        let selfcheck =
            bench.link(&[&kernel, &own, &port].map(Vec::as_slice).concat(), &script, "selfcheck.elf")?;
        Ok::<_, Failure>((check, selfcheck, kernel))
    });
    let (check, selfcheck, kernel) = built.map_err(|failure| after(failure, proof))?;
    let mut measured = measure::flash(&bench, cc, &kernel);
    let mut runs = Vec::new();
    for file in vector_files(files) {
        let output = emulated(&bench, &check, &file.bytes, proof)?;
        runs.push(run_of(&file.name, &output, &names(files)));
    }
    let lot = files.iter().find(|file| file.name == LOT_FILE).map_or(&[][..], |file| &file.bytes);
    let output = emulated(&bench, &selfcheck, lot, proof)?;
    let work = self_checked("the emulated Cortex-M3", &output, proof);
    if let Some(bytes) = work {
        measured.push(("RAM of one sample, bytes".to_owned(), bytes.to_string()));
    }
    measured.extend(measure::stack(&bench, &runs));
    measured.extend(measure::instructions(&runs));
    proof.built.push(Built { what: format!("on the emulated Cortex-M3, built by {cc}"), runs, measured });
    Ok(())
}

/// Says with the failure what was proven before it.
fn after(failure: Failure, proof: &Proof) -> Failure {
    match failure {
        Failure::NotThere { what, cure } => {
            let here = if proof.holds() {
                "on this machine all bits are the same"
            } else {
                "on this machine some bits differ"
            };
            Failure::NotThere { what, cure: format!("{cure}; {here}") }
        }
        other => other,
    }
}

fn emulated(bench: &Bench, image: &Path, input: &[u8], proof: &Proof) -> Result<Output, Failure> {
    fs::write(bench.path().join("vectors.bin"), input).map_err(|error| no_room(&error))?;
    let mut command = Command::new(EMULATOR);
    command.current_dir(bench.path()).args(BOARD).arg("-kernel").arg(image);
    let output = during("running the emulated Cortex-M3", || command.output());
    output.map_err(|_not_there| after(missing(EMULATOR, "an emulator"), proof))
}

/// The names of words: `scan` or `sample`, number, name.
fn names(files: &[PackageFile]) -> Vec<(String, String)> {
    let text = files.iter().find(|file| file.name == WORDS).map_or(&[][..], |file| &file.bytes);
    let text = String::from_utf8_lossy(text);
    let pair = |line: &str| {
        let mut parts = line.splitn(3, ' ');
        let (kind, number, name) = (parts.next()?, parts.next()?, parts.next()?);
        Some((format!("{kind} {number}"), name.to_owned()))
    };
    text.lines().filter_map(pair).collect()
}

fn run_of(vectors: &str, output: &Output, names: &[(String, String)]) -> Run {
    let text =
        String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    let last = text.lines().rfind(|line| line.starts_with("scans ")).unwrap_or_default();
    let number = |word: &str| -> Option<u64> {
        let mut words = last.split_whitespace();
        words.find(|found| *found == word)?;
        words.next()?.parse().ok()
    };
    let said = text.lines().filter(|line| line.starts_with("DIFFERENT ") || line.starts_with("ERROR "));
    let different: Vec<String> = said.take(10).map(|line| named(line, names)).collect();
    let instructions = number("finish-instructions-mean").zip(number("finish-instructions-most"));
    let is_finished = !last.is_empty();
    Run {
        vectors: vectors.to_owned(),
        n_scans: number("scans").unwrap_or(0),
        n_samples: number("samples").unwrap_or(0),
        n_words: number("words").unwrap_or(0),
        n_differing: number("differing").unwrap_or(0),
        // Where it did not come to its end, that is an error whatever it said before.
        n_errors: number("errors").unwrap_or(0) + u64::from(!is_finished),
        different: if is_finished {
            different
        } else {
            vec![format!("it did not come to its end: {}", text.trim())]
        },
        painted_stack: number("stack"),
        instructions: instructions.map(|(mean, most)| [mean, most]),
    }
}

/// `DIFFERENT scan 3 word 17: …` with the name of the word.
fn named(line: &str, names: &[(String, String)]) -> String {
    let words: Vec<&str> = line.split_whitespace().collect();
    let kind = words.get(1).copied().unwrap_or_default();
    let number = words.iter().position(|word| *word == "word").and_then(|at| words.get(at + 1));
    let number = number.map_or("", |number| number.trim_end_matches(':'));
    let key = format!("{kind} {number}");
    match names.iter().find(|(one, _)| *one == key) {
        Some((_, name)) => format!("{line} ({name})"),
        None => line.to_owned(),
    }
}

/// Method, basis and lot record fit together; gives the bytes of RAM that one sample takes.
fn self_checked(place: &str, output: &Output, proof: &mut Proof) -> Option<u32> {
    let text =
        String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    let value = |name: &str| {
        text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' ').map(str::to_owned))
    };
    let number = |name: &str| value(name).and_then(|digits| u32::from_str_radix(&digits, 16).ok());
    let pairs = [
        ("method-checksum-stated", "method-checksum", "the checksum of the method's constants"),
        ("lot-checksum-stated", "lot-checksum", "the checksum of the lot's record"),
        ("method-hash", "basis-hash", "the method of the basis"),
        ("method-hash", "lot-method-hash", "the method of the lot's record"),
    ];
    let wrong: Vec<&str> = pairs
        .into_iter()
        .filter(|(one, other, _)| value(one).is_none() || value(one) != value(other))
        .map(|(_, _, words)| words)
        .collect();
    let line = value("line").unwrap_or_default();
    let is_read = stillwell_transfer::wire::from_line(&line);
    let runs = number("sample") == Some(0);
    match (&is_read, runs, wrong.as_slice()) {
        (Ok(record), true, []) => proof.say(
            true,
            format!(
                "on {place} constants, basis and lot record fit together; a dead strip is {}, and its line is read",
                record.outcome.word()
            ),
        ),
        (_, _, [_, ..]) => proof.say(false, format!("on {place}: {} is not what it should be", wrong.join(", "))),
        (_, false, _) => {
            let code = number("sample").map_or_else(|| "no code".to_owned(), |code| format!("code {code}"));
            proof.say(false, format!("on {place} a sample does not run: {code}"));
        }
        (Err(error), _, _) => proof.say(false, format!("on {place} the line of a result is not read: {error}")),
    }
    number("work-size")
}

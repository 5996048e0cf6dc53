//! The C compiled and run: on this machine, and on the emulated Cortex-M3.

use std::path::{Path, PathBuf};
use std::process::Command;

use stillwell_transfer::{C_FILES, KERNEL_SOURCES};

/// What every build gets: the language, no fused operations, every warning an error.
const FLAGS: &[&str] = &[
    "-std=c99",
    "-ffp-contract=off",
    "-Wall",
    "-Wextra",
    "-Wconversion",
    "-Wshadow",
    "-Wstrict-prototypes",
    "-Wdouble-promotion",
    "-pedantic",
    "-Werror",
];

pub(crate) const M3: &[&str] = &["-mcpu=cortex-m3", "-mthumb"];

/// A folder with all hand-written files.
pub(crate) struct Package {
    folder: tempfile::TempDir,
}

impl Package {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        for file in C_FILES {
            std::fs::write(folder.path().join(file.name), file.text).expect("a file");
        }
        Self { folder }
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    fn compiler(&self, name: &str) -> Command {
        let mut command = Command::new(name);
        command.current_dir(self.path()).args(FLAGS);
        command
    }

    /// Objects of the kernel, and of any further sources.
    pub(crate) fn objects(&self, compiler: &str, options: &[&str], more: &[&str]) -> Vec<PathBuf> {
        let mut objects = Vec::new();
        for source in KERNEL_SOURCES.iter().chain(more) {
            let object = self.path().join(format!("{source}.o"));
            let mut command = self.compiler(compiler);
            command.arg("-ffreestanding").args(options).args(["-c", source, "-o"]).arg(&object);
            succeed(&mut command);
            objects.push(object);
        }
        objects
    }

    /// The test program of this machine.
    pub(crate) fn program(&self, compiler: &str, options: &[&str]) -> PathBuf {
        let program = self.path().join("check");
        let objects = self.objects(compiler, options, &["check.c"]);
        let mut command = self.compiler(compiler);
        command.args(options).arg("port_pc.c").args(objects).arg("-o").arg(&program);
        succeed(&mut command);
        program
    }

    /// The test image of the emulated Cortex-M3: no library but the compiler's own arithmetic.
    pub(crate) fn image(&self, compiler: &str, options: &[&str], compiler_options: &[&str]) -> PathBuf {
        let image = self.path().join("check.elf");
        let both: Vec<&str> = compiler_options.iter().chain(options).copied().collect();
        let objects = self.objects(compiler, &both, &["check.c", "port_m3.c", "startup_m3.c"]);
        let mut command = Command::new("arm-none-eabi-gcc");
        command.current_dir(self.path()).args(M3).args(["-nostdlib", "-Wl,--gc-sections", "-T", "m3.ld"]);
        command.args(objects).arg("-lgcc").arg("-o").arg(&image);
        succeed(&mut command);
        image
    }

    /// Runs the program on a vector file.
    pub(crate) fn run(&self, program: &Path, vectors: &[u8]) -> Outcome {
        std::fs::write(self.path().join("vectors.bin"), vectors).expect("the vectors");
        let mut command = Command::new(program);
        outcome(command.current_dir(self.path()).arg("vectors.bin"))
    }

    /// Runs the image on the emulated board, which counts instructions.
    pub(crate) fn emulate(&self, image: &Path, vectors: &[u8]) -> Outcome {
        std::fs::write(self.path().join("vectors.bin"), vectors).expect("the vectors");
        let mut command = Command::new("qemu-system-arm");
        command.current_dir(self.path());
        command.args(["-M", "mps2-an385", "-nographic", "-monitor", "none", "-serial", "none"]);
        command.args(["-icount", "shift=6", "-semihosting-config", "enable=on,target=native", "-kernel"]);
        outcome(command.arg(image))
    }
}

/// What a test program said at its end.
#[derive(Debug, Clone, Default)]
pub(crate) struct Outcome {
    pub(crate) text: String,
}

impl Outcome {
    /// The number behind a word of the last line.
    pub(crate) fn number(&self, word: &str) -> Option<u64> {
        let last = self.text.lines().rfind(|line| line.starts_with("scans "))?;
        let mut words = last.split_whitespace();
        words.find(|found| *found == word)?;
        words.next()?.parse().ok()
    }

    /// Everything was compared and nothing differed.
    pub(crate) fn assert_same(&self, what: &str, n_scans: usize, n_samples: usize) {
        assert_eq!(self.number("differing"), Some(0), "{what}: {}", self.text);
        assert_eq!(self.number("errors"), Some(0), "{what}: {}", self.text);
        assert_eq!(self.number("scans"), Some(n_scans as u64), "{what}: {}", self.text);
        assert_eq!(self.number("samples"), Some(n_samples as u64), "{what}: {}", self.text);
    }
}

fn outcome(command: &mut Command) -> Outcome {
    let output = command.output().expect("the program starts");
    let text = [output.stdout, output.stderr].concat();
    Outcome { text: String::from_utf8_lossy(&text).into_owned() }
}

fn succeed(command: &mut Command) {
    let output = command.output().expect("the compiler starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && said.is_empty(), "{command:?}: {said}");
}

/// Whether a program is there; else the skip is announced, or the test fails where nothing may be missing.
pub(crate) fn is_there(program: &str) -> bool {
    let there = Command::new(program).arg("--version").output().is_ok_and(|output| output.status.success());
    if !there {
        stillwell_house::require_or_skip(program);
    }
    there
}

/// The compilers of this machine that are there.
pub(crate) fn host_compilers() -> Vec<&'static str> {
    ["gcc", "clang"].into_iter().filter(|compiler| is_there(compiler)).collect()
}

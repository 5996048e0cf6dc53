//! Every command's help has an example, and every example runs and ends as its help says.

use std::fs;
use std::path::Path;

use crate::command::{root, stillwell, stillwell_in};

/// The commands that the help lists.
fn commands() -> Vec<String> {
    let commands = listed_in(&["--help"]);
    assert!(commands.contains(&"determine".to_owned()), "{commands:?}");
    commands
}

/// The commands under `Commands:` in a help.
fn listed_in(help: &[&str]) -> Vec<String> {
    let help = stillwell(help);
    assert_eq!(help.code, Some(0));
    let listed = help.stdout.split("Commands:\n").nth(1).and_then(|rest| rest.split("\n\n").next());
    listed
        .expect("a list of commands")
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .map(str::to_owned)
        .collect()
}

/// The command lines under `Example:` in the help of a command.
pub(crate) fn examples_of(command: &str) -> Vec<String> {
    examples_in(&[command, "--help"])
}

fn examples_in(command: &[&str]) -> Vec<String> {
    let help = stillwell(command);
    assert_eq!(help.code, Some(0));
    let after =
        help.stdout.split("Example:\n").nth(1).unwrap_or_else(|| panic!("{command:?} has no example"));
    // A long command goes on in the next line, as a shell reads it.
    let whole = after.replace(" \\\n     ", "");
    let examples: Vec<String> =
        whole.lines().map_while(|line| line.strip_prefix("  stillwell ")).map(str::to_owned).collect();
    assert!(!examples.is_empty(), "{command:?} has no example");
    examples
}

/// A working folder as the examples suppose it: the scenario, the cells, a raw file and a method.
fn workplace() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for examples in [
        "examples/alder-vale",
        "examples/alder-vale-addition",
        "examples/alder-vale-campaign",
        "examples/alder-vale-campaign/standards",
        "examples/alder-vale-year",
        "examples/benches",
        "examples/cells",
        "examples/stations",
    ] {
        let copied = folder.path().join(examples);
        fs::create_dir_all(&copied).expect("made");
        for entry in fs::read_dir(root().join(examples)).expect("the examples") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                continue;
            }
            copy(&path, &copied.join(path.file_name().expect("a name")));
        }
    }
    let scenario = folder.path().join("examples/alder-vale");
    copy(&scenario.join("opening-checks-B1.csv"), &folder.path().join("scans.csv"));
    copy(&scenario.join("method.toml"), &folder.path().join("method.toml"));
    private(&folder.path().join("words.txt"), "four plain invented words\n");
    folder
}

fn copy(from: &Path, to: &Path) {
    fs::copy(from, to).expect("copied");
}

/// A file that only its owner may read, as passphrases need it.
pub(crate) fn private(path: &Path, text: &str) {
    fs::write(path, text).expect("written");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        fs::set_permissions(path, fs::Permissions::from_mode(0o600)).expect("made private");
    }
}

/// Words as a shell splits them, quotes taken off.
pub(crate) fn words(line: &str) -> Vec<String> {
    let in_quotes = line.split('"').enumerate().map(|(index, part)| (index % 2 == 1, part));
    in_quotes
        .flat_map(|(is_quoted, part)| -> Vec<String> {
            if is_quoted {
                vec![part.to_owned()]
            } else {
                part.split_whitespace().map(str::to_owned).collect()
            }
        })
        .collect()
}

/// One after the other on one study, in the order of the help.
#[test]
fn every_study_command_has_an_example_that_runs_as_documented() {
    let folder = workplace();
    let mut ended = Vec::new();
    for command in listed_in(&["study", "--help"]) {
        for example in examples_in(&["study", &command, "--help"]) {
            let words = words(&example);
            let run = stillwell_in(folder.path(), &words.iter().map(String::as_str).collect::<Vec<_>>());
            assert_eq!(run.stderr, "", "{example}");
            assert!(!run.stdout.is_empty(), "{example}");
            ended.push(format!("{command} {}", run.code.expect("an exit code")));
        }
    }
    assert_eq!(
        ended.join(", "),
        "new 0, add 0, determine 1, show 1, chain 1, key 0, key 0, approve 0, campaign 0, campaign 0, campaign 1, \
         campaign 0, labels 0, labels 0, laboratory 0, withdraw 1, correct 1, exclude 0, override 0, lot 0, custody 0, validity 0, validity 0, history 0, history 0, verify 0, verify 0, anchor 0, \
         reevaluate 0, reevaluate 0, export 0, import 0, merge 0, archive 0"
    );
}

/// Every example of the help with the exit code that it ends with, and why where that is not plain.
const DOCUMENTED: [(&str, i32); 47] = [
    // A well is not below the limit, and one is refused.
    ("determine examples/alder-vale", 1),
    ("determine examples/alder-vale --show-chain AV-02", 1),
    // Without a method there are no limits to check against.
    ("inspect examples/alder-vale/wells-B2.txt", 0),
    ("inspect scans.csv --method method.toml", 0),
    ("evaluate examples/alder-vale", 1),
    ("evaluate examples/alder-vale --figure scan.svg --scan wells-B2.txt:13", 1),
    ("calibrate examples/alder-vale", 0),
    ("calibrate examples/alder-vale --figure calibration.svg --lot L21", 0),
    // Too close to call, and check standards show more than the interval holds.
    ("budget examples/alder-vale", 1),
    ("budget examples/alder-vale --sample AV-07 --draws 100000 --figure budget.svg", 1),
    // The matrix of one well matters.
    ("addition examples/alder-vale-addition", 1),
    ("addition examples/alder-vale-addition --sample AV-09 --figure addition.svg", 1),
    // Blanks creep up, and without a training period nothing can be judged yet.
    ("control examples/alder-vale-year", 1),
    ("control examples/alder-vale --training 8", 1),
    ("control examples/alder-vale-year --figure chart.svg", 1),
    ("lot examples/alder-vale-year", 1),
    ("lot examples/alder-vale --lot L22 --margin 5 --zero-margin 2 --figure lot.svg", 1),
    // The strips read nitrite as nitrate.
    ("validate examples/alder-vale-year", 1),
    ("validate examples/alder-vale --figure validation.svg", 1),
    // Withheld results find no partner.
    ("compare examples/alder-vale-year", 1),
    (
        "compare examples/alder-vale-year --with examples/alder-vale-year/comparison.csv --margin 8 --figure \
         pairs.svg",
        1,
    ),
    // Days above a limit and a stuck sensor; a sensor that remembers.
    ("station examples/stations/brook.csv", 1),
    ("station examples/stations/brook.csv --limit us-nitrate --figure brook.svg", 1),
    ("station examples/stations/trial.csv --figure trial.svg", 1),
    ("tour", 0),
    ("tour --out district", 0),
    ("twin examples/alder-vale --cell examples/cells/copper-strip.toml --out practice", 0),
    (
        "twin examples/alder-vale --cell examples/cells/copper-strip.toml --out trial --levels \
         0,10,25,50,75,100 --replicates 3 --sample low=12 --sample high=80 --seed 7",
        0,
    ),
    (
        "foresee examples/alder-vale --cell examples/cells/copper-strip.toml --circuit \
         examples/cells/handheld.toml --trials 2",
        0,
    ),
    // 8 bit are too coarse for the method.
    (
        "foresee examples/alder-vale --cell examples/cells/copper-strip.toml --circuit \
         examples/cells/handheld.toml --trials 2 --vary adc_bits=8,16 --figure trade.svg",
        1,
    ),
    ("plan examples/alder-vale --target-u 10% --at 50mg/L", 0),
    (
        "plan examples/alder-vale/method.toml --target-u 5% --at 11.3mgN/L --cell \
         examples/cells/copper-strip.toml --lots 3",
        0,
    ),
    // Standards and temperature alone are more.
    ("plan examples/alder-vale --target-u 1% --at 50mgNO3/L", 1),
    ("prepare examples/alder-vale --bench examples/benches/alder-vale.toml", 0),
    ("prepare examples/alder-vale --volume 100mL --accuracy 0.5%", 0),
    ("study new wells.study --method method.toml --as ines", 0),
    ("study add wells.study examples/alder-vale --as ines", 0),
    // Nothing is approved yet.
    ("study determine wells.study --as ines", 1),
    ("study show wells.study", 1),
    ("study history wells.study --of AV-02", 0),
    ("study verify wells.study", 0),
    // Nothing is approved in it.
    ("dossier wells.study", 1),
    ("dossier wells.study --series last --out well-report.html", 1),
    ("explain clipped-scan", 0),
    ("explain", 0),
    ("completions bash > ~/.local/share/bash-completion/completions/stillwell", 0),
    ("man ./man", 0),
];

#[test]
fn every_command_has_an_example_that_runs_as_documented() {
    let folder = workplace();
    let mut ended = Vec::new();
    // Those of a device need approvals first, and a server does not end: see devices.rs and serving.rs.
    let elsewhere = |name: &&String| matches!(name.as_str(), "transfer" | "prove" | "serve");
    for command in commands().iter().filter(|name| !elsewhere(name)) {
        for example in examples_of(command) {
            // The shell's redirection is not ours.
            let line = example.split(" > ").next().expect("a command");
            let run = stillwell_in(folder.path(), &line.split_whitespace().collect::<Vec<_>>());
            assert_eq!(run.stderr, "", "{example}");
            assert!(!run.stdout.is_empty(), "{example}");
            ended.push((example, run.code.expect("an exit code")));
        }
    }
    let ended: Vec<(&str, i32)> = ended.iter().map(|(example, code)| (example.as_str(), *code)).collect();
    assert_eq!(ended, DOCUMENTED);
    let pages = fs::read_dir(folder.path().join("man")).expect("pages").count();
    let inner = listed_in(&["study", "--help"]).len() + listed_in(&["study", "key", "--help"]).len();
    assert_eq!(
        pages,
        1 + commands().len() + inner,
        "one page for the command and one for each of its commands"
    );
}

#[test]
fn every_shell_has_completions_that_name_every_command() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let run = stillwell(&["completions", shell]);
        assert_eq!(run.code, Some(0));
        for command in commands() {
            assert!(run.stdout.contains(&command), "{shell} lacks {command}");
        }
    }
}

#[test]
fn every_check_has_its_page() {
    let list = stillwell(&["explain"]).stdout;
    let ids: Vec<&str> = list
        .lines()
        .filter_map(|line| line.strip_prefix("  "))
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert!(ids.len() > 40 && ids.contains(&"clipped-scan"), "{ids:?}");
    for id in ids {
        let page = stillwell(&["explain", id]);
        assert_eq!(page.code, Some(0), "{id}");
        for part in ["looks at:", "why:", "if it does not pass:", "override"] {
            assert!(page.stdout.contains(part), "{id} lacks {part:?}");
        }
    }
}

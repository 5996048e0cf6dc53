//! A study from the first folder to the colleague's bundle, as a person types it.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::command::{Run, assert_bad_input, root, stillwell_in};
use crate::examples::private;
use crate::pages::assert_looks;

/// A folder to work in, with a passphrase and the scenario's study.
pub(crate) struct Desk(tempfile::TempDir);

impl Desk {
    pub(crate) fn new() -> Self {
        let desk = Self(tempfile::tempdir().expect("a temporary folder"));
        private(&desk.0.path().join("words.txt"), "four plain invented words\n");
        desk
    }

    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }

    pub(crate) fn run(&self, line: &str) -> Run {
        let scenario = root().join("examples/alder-vale");
        let words: Vec<String> = crate::examples::words(line)
            .iter()
            .map(|word| word.replace("ALDER-VALE", scenario.to_str().expect("UTF-8")))
            .collect();
        stillwell_in(self.path(), &words.iter().map(String::as_str).collect::<Vec<_>>())
    }

    /// What is printed; the exit code must be this one and nothing may stand on the other output.
    pub(crate) fn printed(&self, code: i32, line: &str) -> String {
        let run = self.run(line);
        assert_eq!((run.code, run.stderr.as_str()), (Some(code), ""), "{line}\n{}", run.stdout);
        run.stdout
    }

    pub(crate) fn json(&self, code: i32, line: &str) -> Value {
        serde_json::from_str(&self.printed(code, &format!("{line} --format json"))).expect("JSON")
    }

    /// A study that holds the scenario, determined, with an approver who has said nothing yet.
    pub(crate) fn with_results() -> Self {
        let desk = Self::new();
        desk.printed(0, "study new wells.study --method ALDER-VALE --as ines");
        desk.printed(0, "study add wells.study ALDER-VALE --as ines");
        desk.printed(1, "study determine wells.study --as ines");
        desk.printed(0, "study key make approver --passphrase-file words.txt");
        desk.printed(
            0,
            "study key add wells.study --key approver.key --role approver --as ines --reason \"from the founding on\"",
        );
        desk
    }
}

/// Times of day become `TIME`: they are another each day.
fn without_times(text: &str) -> String {
    let is_time = |part: &str| {
        let pattern = b"0000-00-00 00:00:00";
        part.len() == pattern.len()
            && part.bytes().zip(pattern).all(|(found, shape)| match shape {
                b'0' => found.is_ascii_digit(),
                _ => found == *shape,
            })
    };
    let mut out = String::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        match rest.get(..19) {
            Some(part) if is_time(part) => {
                out.push_str("TIME");
                rest = &rest[19..];
            }
            _ => {
                out.push(first);
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    out
}

fn looks(name: &str, text: &str) {
    assert!(text.contains("head of the ledger: record #"), "{name} shows no head of the ledger\n{text}");
    assert_looks(&format!("study-{name}"), &without_times(text));
}

const WITHDRAW: &str =
    "study withdraw wells.study --calibration 2 --as ines --reason \"standard 50 was mixed up\"";

#[test]
fn from_a_folder_to_an_approved_result_and_back() {
    let desk = Desk::new();
    looks("new", &desk.printed(0, "study new wells.study --method ALDER-VALE --as ines"));
    looks("add", &desk.printed(0, "study add wells.study ALDER-VALE --as ines"));
    let again = desk.printed(0, "study add wells.study ALDER-VALE --as ines");
    assert!(again.contains("nothing was done") && again.contains("record #4"), "{again}");
    looks("determine", &desk.printed(1, "study determine wells.study --as ines"));
    let again = desk.printed(1, "study determine wells.study --as ines");
    assert!(again.contains("9 stood on record already") && again.contains("record #16"), "{again}");
    looks("key", &{
        desk.printed(0, "study key make approver --passphrase-file words.txt");
        desk.printed(
            0,
            "study key add wells.study --key approver.key --role approver --as ines --reason \"from the founding on\"",
        )
    });
    looks(
        "approve",
        &desk.printed(
            0,
            "study approve wells.study --calibration 2 --result 1,4 --as approver --reason \"residuals without trend\" \
             --passphrase-file words.txt",
        ),
    );
    looks("withdraw", &desk.printed(1, WITHDRAW));
    looks("show", &desk.printed(1, "study show wells.study"));
    looks("history", &desk.printed(0, "study history wells.study"));
    looks("history-of", &desk.printed(0, "study history wells.study --of AV-02"));
    looks("verify", &desk.printed(0, "study verify wells.study --recompute 1,4"));
    looks("anchor", &desk.printed(0, "study anchor wells.study"));
    looks("determine-from-it", &{
        let page = desk.printed(1, "determine wells.study");
        let table: Vec<&str> = page.lines().take(14).collect();
        let foot: Vec<&str> = page.lines().skip_while(|line| !line.starts_with("from wells")).collect();
        [table, vec!["…"], foot].concat().join("\n")
    });
    let chain = desk.printed(1, "study chain wells.study --result 4");
    let record: Vec<&str> = chain.lines().skip_while(|line| !line.starts_with("verdict")).collect();
    looks("chain", &record.join("\n"));
}

#[test]
fn only_another_person_with_the_key_and_the_passphrase_approves() {
    let desk = Desk::with_results();
    let approve = |who: &str, rest: &str| {
        desk.run(&format!(
            "study approve wells.study --calibration 1 --as {who} --reason \"looks right\" {rest}"
        ))
    };
    assert_bad_input(&approve("approver", ""), &["gives no passphrase", "--passphrase-file"]);
    assert_bad_input(&approve("ines", "--key approver.key"), &["is the key of approver, not of ines"]);
    private(&desk.path().join("wrong.txt"), "some other words\n");
    assert_bad_input(&approve("approver", "--passphrase-file wrong.txt"), &["does not open it"]);
    fs::write(desk.path().join("open.txt"), "four plain invented words\n").expect("written");
    assert_bad_input(&approve("approver", "--passphrase-file open.txt"), &["others may read it"]);
    desk.printed(0, "study key make ines --passphrase-file words.txt");
    desk.printed(
        0,
        "study key add wells.study --key ines.key --role analyst --as ines --reason \"for signing lots\"",
    );
    assert_bad_input(
        &approve("ines", "--passphrase-file words.txt"),
        &["ines recorded this and cannot approve it", "another person"],
    );
    let refuse = "study approve wells.study --calibration 1 --refuse --as approver --reason \"the residuals bend\" \
                  --passphrase-file words.txt";
    looks("refuse", &desk.printed(0, refuse));
    let unnamed = desk.run("study approve wells.study --calibration 1 --reason \"looks right\"");
    assert_bad_input(&unnamed, &["--as <NAME>"]);
    let known = desk.run(
        "study approve wells.study --calibration 9 --as approver --reason \"looks right\" --passphrase-file words.txt",
    );
    assert_bad_input(&known, &["no calibration 9", "one of 1, 2, 3"]);
    assert_eq!(
        desk.json(1, "study show wells.study")["calibrations"][0]["standing"],
        "refused by the approver"
    );
    let withdraw = |who: &str| {
        format!("study withdraw wells.study --key-of approver --reason \"left the laboratory\" --as {who}")
    };
    assert_bad_input(&desk.run(&withdraw("ines")), &["the last approver's key in force", "--signed"]);
    desk.printed(0, &withdraw("approver --signed --passphrase-file words.txt"));
    assert_bad_input(
        &approve("approver", "--passphrase-file words.txt"),
        &["this key of approver was withdrawn"],
    );
    let keys = desk.json(1, "study show wells.study")["keys"].clone();
    assert_eq!((&keys[0]["in_force"], &keys[1]["in_force"]), (&Value::Bool(false), &Value::Bool(true)));
}

#[test]
fn a_withdrawn_calibration_takes_every_verdict_with_it_in_every_document() {
    let desk = Desk::with_results();
    let before = desk.json(1, "determine wells.study");
    assert_eq!(before["determinations"][4]["verdicts"][0]["verdict"], "above");
    assert_eq!(before["study"]["determinations"][4]["standing"], "not approved");
    desk.printed(1, WITHDRAW);
    let after = desk.json(1, "determine wells.study");
    assert_eq!(after["determinations"][4]["verdicts"][0]["verdict"], "withheld");
    assert_eq!(after["determinations"][0]["verdicts"][0]["verdict"], "below", "another lot");
    let show = desk.json(1, "study show wells.study");
    assert_eq!(show["results"][4]["verdicts"], Value::Array(Vec::new()));
    assert_eq!(show["results"][4]["verdict_withheld"], true);
    let history = desk.printed(0, "study history wells.study --format json");
    let of_lot = history.split("\"entries\"").nth(1).expect("entries");
    assert!(
        !of_lot.contains("lies wholly above the limit 50 mg/L as NO₃⁻\",\n          \"sample\": \"AV-03")
    );
    assert!(!history.contains("\"decisions\""), "decisions that are withheld today stand in the history");
    // A new revision must not give them back.
    desk.revise();
    let under = desk
        .json(1, "study reevaluate wells.study --method revised.toml --as ines --reason \"closer levels\"");
    assert_eq!(under["recorded"], true);
    let show = desk.json(1, "study show wells.study");
    let anew = show["results"].as_array().expect("a list").iter();
    let anew: Vec<&Value> =
        anew.filter(|one| one["sample"] == "AV-03" && one["standing"] == "not approved").collect();
    assert_eq!(anew.len(), 1);
    assert_eq!(anew[0]["verdict_withheld"], true, "{}", anew[0]);
}

impl Desk {
    /// The scenario's method with a tighter demand on chloride and better known levels, as a new revision.
    fn revise(&self) {
        let text = fs::read_to_string(root().join("examples/alder-vale/method.toml")).expect("the method");
        let revised = text
            .replace("revision = \"3\"", "revision = \"4\"")
            .replace("chloride_mg_per_l_max = 250.0", "chloride_mg_per_l_max = 100.0")
            .replace("level_relative_u = 0.010", "level_relative_u = 0.004");
        assert_eq!(revised.lines().zip(text.lines()).filter(|(a, b)| a != b).count(), 3);
        fs::write(self.path().join("revised.toml"), revised).expect("written");
    }
}

#[test]
fn a_new_revision_shows_changed_verdicts_and_keeps_the_old_numbers() {
    let desk = Desk::with_results();
    desk.revise();
    let before = desk.printed(0, "study anchor wells.study");
    looks("reevaluate-dry", &desk.printed(1, "study reevaluate wells.study --method revised.toml --dry-run"));
    assert_eq!(desk.printed(0, "study anchor wells.study"), before, "a dry run records nothing");
    let again = desk.run("study reevaluate wells.study --method revised.toml");
    assert_bad_input(&again, &["--dry-run|--as"]);
    let words =
        "study reevaluate wells.study --method revised.toml --as ines --reason \"chloride hurts earlier\"";
    looks("reevaluate", &desk.printed(1, words));
    let show = desk.json(1, "study show wells.study");
    let results = show["results"].as_array().expect("a list");
    assert_eq!(results.len(), 18);
    assert_eq!(results[6]["standing"], "replaced");
    assert_eq!(results[6]["at_least_mg_per_l_as_no3"].as_f64().map(f64::floor), Some(97.0));
    let chain = desk.printed(1, "study chain wells.study --result 7");
    assert!(
        chain.contains("revision 3") && chain.starts_with("result 7 is replaced and no longer"),
        "{chain}"
    );
    desk.printed(0, "study verify wells.study --recompute all");
}

#[test]
fn a_flipped_byte_a_cut_off_tail_and_a_foreign_file_are_told_apart() {
    let desk = Desk::with_results();
    let anchor = desk.json(0, "study anchor wells.study")["head_blake3"].as_str().expect("a hash").to_owned();
    fs::copy(desk.path().join("wells.study"), desk.path().join("earlier.study")).expect("copied");
    desk.printed(1, WITHDRAW);
    let anchored = desk.printed(0, &format!("study verify wells.study --anchor {anchor}"));
    assert!(anchored.contains("up to record #17"), "{anchored}");
    // Whoever puts the earlier file in its place has cut the tail off: only a later head shows it.
    let later = desk.json(0, "study anchor wells.study")["head_blake3"].as_str().expect("a hash").to_owned();
    desk.printed(0, "study verify earlier.study");
    let cut = desk.printed(1, &format!("study verify earlier.study --anchor {later}"));
    assert!(cut.contains("CHANGED") && cut.contains("cut off or rewritten"), "{cut}");
    assert_bad_input(&desk.run("study verify wells.study --anchor 12ab"), &["all 64 digits"]);

    let path = desk.path().join("wells.study");
    let mut bytes = fs::read(&path).expect("the study");
    let said = b"standard 50 was mixed up";
    let place =
        bytes.windows(said.len()).position(|part| part == said).expect("the reason stands in the file");
    bytes[place + 9] ^= 1;
    fs::write(&path, bytes).expect("written");
    looks("verify-changed", &desk.printed(1, "study verify wells.study"));
    let document = desk.json(1, "study verify wells.study");
    assert_eq!(
        (&document["sound"], &document["damages"][0]["record"]),
        (&Value::Bool(false), &Value::from(18))
    );

    fs::write(desk.path().join("note.txt"), "no study at all\n").expect("written");
    assert_bad_input(&desk.run("study verify note.txt"), &["is not a study"]);
    assert_bad_input(&desk.run("study verify nothing.study"), &["no such file"]);
    assert_bad_input(&desk.run("determine note.txt"), &["note.txt"]);
}

#[test]
fn a_colleague_takes_the_bundle_adds_a_folder_and_it_comes_back_without_a_clash() {
    let desk = Desk::with_results();
    desk.printed(0, "study export wells.study for-mara.study");
    looks("import", &desk.printed(0, "study import for-mara.study mara.study --as mara"));
    let thursday = desk.path().join("thursday");
    fs::create_dir(&thursday).expect("made");
    for entry in fs::read_dir(root().join("examples/alder-vale")).expect("the scenario") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name");
        if name != "README.md" && name != "method.toml" {
            // Measured anew: other bytes, whose scans count beside the first.
            let line_end: &[u8] =
                if path.extension().is_some_and(|kind| kind == "tsv") { b"\n\0" } else { b"\n" };
            let text = fs::read(&path).expect("a file");
            fs::write(thursday.join(name), [text.as_slice(), line_end].concat()).expect("written");
        }
    }
    let sheet = thursday.join("run-sheet.csv");
    let text = fs::read_to_string(&sheet).expect("the run sheet");
    fs::write(&sheet, text.replace("AV-0", "TH-0")).expect("written");
    desk.printed(0, "study add mara.study thursday --as mara");
    desk.printed(1, "study determine mara.study --series last --as mara");
    looks("merge", &desk.printed(0, "study merge wells.study mara.study --as ines"));
    let again = desk.printed(0, "study merge wells.study mara.study --as ines");
    assert!(again.contains("nothing was done"), "{again}");
    desk.printed(0, "study verify wells.study");
    assert_bad_input(
        &desk.run("determine wells.study"),
        &["holds 2 series", "--series last", "1 (alder-vale)"],
    );
    let last = desk.printed(1, "determine wells.study --series last");
    assert!(last.contains("TH-02"), "{last}");
    let how = last.lines().find_map(|line| line.strip_prefix("how a number came about: stillwell "));
    let chain = desk.printed(1, how.expect("the way to the chain"));
    assert!(chain.starts_with("chain of TH-"), "{chain}");
    let inspected = desk.printed(0, "inspect wells.study --series last");
    assert!(inspected.contains("wells.study: wells-B1.csv"), "{inspected}");
    desk.printed(0, "prepare wells.study");
    let planned = desk.run("plan wells.study --target-u 10% --at 50mg/L");
    assert_bad_input(&planned, &["holds 2 series"]);
    desk.printed(0, "plan for-mara.study --target-u 10% --at 50mg/L");
    for line in ["evaluate wells.study --series 1", "calibrate wells.study --series 1"] {
        let page = desk.run(line);
        assert!(page.stdout.contains("head of the ledger"), "{line}: {}", page.stderr);
        assert!(page.stdout.contains("not approved"), "{line}");
    }
    let document = desk.json(1, "budget wells.study --series 1 --sample AV-02 --draws 10000");
    assert_eq!(document["study"]["series"], "1");
    assert_bad_input(&desk.run("determine ALDER-VALE --series 1"), &["is no study"]);
}

#[test]
fn lots_custody_and_validity_withhold_and_a_correction_names_what_it_replaces() {
    let desk = Desk::with_results();
    let lot = "study lot wells.study --lot L21 --identity \"copper strips\" --last-day 2026-04-30 --storage dry \
               --as approver --reason \"from the lot's sheet\" --passphrase-file words.txt";
    looks("lot", &desk.printed(1, lot));
    let custody = "study custody wells.study --sample AV-02 --place \"well 2\" --taken 2026-05-01 --taken-by ines \
                   --holding-time-h 48 --as ines --reason \"from the field book\"";
    looks("custody", &desk.printed(0, custody));
    let ended = "study validity wells.study --calibration 3 --ended-on 2026-05-01 --as ines \
                 --reason \"the reference electrode was changed\"";
    looks("validity", &desk.printed(1, ended));
    let document = desk.json(1, "determine wells.study");
    for (place, check) in [(0, "lot-expired"), (3, "held-too-long"), (7, "calibration-not-in-force")] {
        let of_one = &document["determinations"][place];
        assert_eq!(of_one["verdict_withheld"], true, "{of_one}");
        let findings = of_one["findings"].as_array().expect("a list");
        assert!(findings.iter().any(|one| one["check"] == check), "{of_one}");
    }
    let correct = "study correct wells.study --result 9 --exclude wells-B3.tsv:13 --as ines \
                   --reason \"air bubble, seen by eye\"";
    let page = desk.printed(1, correct);
    assert!(page.contains("is left out from now on"), "{page}");
    let history = desk.json(0, "study history wells.study");
    let entries = history["entries"].as_array().expect("a list");
    assert!(entries.iter().any(|one| one["kind"] == "exclusion"), "{page}");
    assert!(
        history["results"]
            .as_array()
            .expect("a list")
            .iter()
            .any(|one| one["replaces_record_blake3"].is_string())
    );
    desk.printed(0, "study verify wells.study --recompute all");
}

#[test]
fn the_fields_of_every_document_of_a_study() {
    let desk = Desk::with_results();
    desk.revise();
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    for (name, code, line) in [
        (
            "approve",
            0,
            "study approve wells.study --calibration 1 --result 1 --as approver --reason \"as it should be\" --passphrase-file words.txt",
        ),
        ("withdraw", 1, WITHDRAW),
        ("show", 1, "study show wells.study"),
        ("chain", 0, "study chain wells.study --result 1"),
        ("history", 0, "study history wells.study"),
        ("verify", 0, "study verify wells.study --recompute 1"),
        ("anchor", 0, "study anchor wells.study"),
        ("reevaluate", 1, "study reevaluate wells.study --method revised.toml --dry-run"),
        ("determine-from-it", 1, "determine wells.study"),
    ] {
        let found = crate::documents::fields(&desk.json(code, line));
        assert!(found.contains("head_blake3: text"), "{name}: {found}");
        settings.bind(|| insta::assert_snapshot!(format!("fields-study-{name}"), found));
    }
}

#[test]
fn the_archive_is_plain_files_with_their_sums() {
    let desk = Desk::with_results();
    looks("archive", &desk.printed(0, "study archive wells.study archive"));
    let folder = desk.path().join("archive");
    let scan = fs::read(root().join("examples/alder-vale/wells-B1.csv")).expect("a raw file");
    let mut found = false;
    let mut open = vec![folder.clone()];
    while let Some(at) = open.pop() {
        for entry in fs::read_dir(at).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                open.push(path);
            } else {
                found |= fs::read(&path).expect("a file") == scan;
            }
        }
    }
    assert!(found, "the raw file is not in the archive byte for byte");
    assert!(folder.join("README.txt").is_file());
    assert_bad_input(&desk.run("study archive wells.study archive"), &["is there already"]);
}

#[test]
fn a_well_that_was_taken_back_reads_unknown_on_every_page() {
    let desk = Desk::with_results();
    let withdraw =
        "study withdraw wells.study --result 1 --as ines --reason \"the bottle was another well's\"";
    desk.printed(0, withdraw);
    let document = desk.json(1, "determine wells.study");
    let of_one = &document["determinations"][0];
    assert_eq!(of_one["verdict_withheld"], true, "{of_one}");
    assert!(of_one.to_string().contains("result-not-in-force"), "{of_one}");
    let again = desk.printed(1, "study determine wells.study --as otto");
    let again = again.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(again.contains("1 withdrawn and not issued anew: treat as unknown"), "{again}");
    assert!(again.contains("the bottle was another well's") && again.contains("study correct"), "{again}");
    assert!(!again.contains("by otto"), "{again}");
    let dossier = desk.printed(1, "dossier wells.study");
    assert!(!dossier.contains("nothing speaks against"), "{dossier}");
    let written = fs::read_to_string(desk.path().join("dossier.html")).expect("a dossier");
    assert!(written.contains("No longer counts: treat as unknown"));
}

//! `tour` for people: the scenario step by step, in plain words.

use std::collections::BTreeSet;

use stillwell_foresee::alder_vale::{WELLS, Well};
use stillwell_method::{Determination, Effect, Finding, Report, Role, ScanLink};
use stillwell_quantity::{Concentration, round_up};
use stillwell_report::json::tour::Tour;
use stillwell_study::shell_path;

use super::super::commands::tour::STUDY_FILE;
use super::determinations::{self, cautions};
use super::numbers::{current, potential, result};
use super::table::table;
use super::{findings, indented, wrapped};

pub(crate) fn text(tour: &Tour<'_>) -> String {
    let mut text = String::from(
        "Alder Vale: a tour. The district is invented and its scans are simulated; nothing here is for real water.\n",
    );
    for (number, (title, body)) in steps(tour).iter().enumerate() {
        line!(text, "\n{}. {title}\n", number + 1);
        text.push_str(body);
    }
    text.push_str(&cautions(tour.report));
    text.push_str(&next(tour));
    text
}

fn steps(tour: &Tour<'_>) -> [(&'static str, String); 7] {
    [
        ("Three boxes of strips, eight wells", strips(tour)),
        ("Are the strips alive, and did the day hold?", controls(tour)),
        ("From a scan to a signal", signal(tour)),
        ("What the standards say", standards(tour)),
        ("The verdicts, beside the truth that only a simulation knows", verdicts(tour)),
        ("A refusal is a result", refusal(tour)),
        ("Why a number may be believed", evidence(tour)),
    ]
}

fn paragraph(words: &str) -> String {
    let mut text = String::new();
    for line in wrapped("   ", words).lines() {
        line!(text, "   {}", line.trim_start());
    }
    text
}

fn figure(tour: &Tour<'_>, name: &str) -> String {
    let mut text = String::new();
    for path in tour.figures.iter().filter(|path| path.contains(name)) {
        line!(text, "   figure: {}", tour.folder.join(path).display());
    }
    text
}

fn electrodes(report: &Report, role: Role) -> usize {
    let of_role = report.scans.iter().filter(|link| link.row.role == role);
    of_role.map(|link| &link.row.electrode).collect::<BTreeSet<_>>().len()
}

fn strips(tour: &Tour<'_>) -> String {
    let report = tour.report;
    let lots: BTreeSet<&str> = report.scans.iter().map(|link| link.row.lot.as_str()).collect();
    let files: BTreeSet<&str> = report.scans.iter().map(|link| link.raw.file.as_str()).collect();
    let electrodes: BTreeSet<&str> = report.scans.iter().map(|link| link.row.electrode.as_str()).collect();
    let mut text = paragraph(&format!(
        "An analyst measured nitrate in eight farm wells on three days, each day with a new lot of disposable strips: {}. The run \
         sheet says of every scan which solution, which lot and which strip it was. A strip serves one solution only, and two \
         scans of one strip are not two strips: what is sure of a number is counted in strips.",
        lots.into_iter().collect::<Vec<_>>().join(", ")
    ));
    text.push_str(&paragraph(&format!(
        "{} scans on {} strips lie in {} files, in three dialects as three instruments write them. How each was read can be \
         seen with `stillwell inspect`.",
        report.scans.len(),
        electrodes.len(),
        files.len()
    )));
    text
}

fn controls(tour: &Tour<'_>) -> String {
    let report = tour.report;
    let failed: Vec<&Finding> =
        report.batch_findings.iter().filter(|finding| finding.effect >= Effect::Withheld).collect();
    let mut text = paragraph(&format!(
        "Before the wells and after them, {} strips saw a solution of known level (check standards), and {} more showed that the \
         lot still reacts to nitrate at all (electrode controls). A dead strip reads \"no nitrate\": without a living control \
         that would look like clean water. {}",
        electrodes(report, Role::CheckStandard),
        electrodes(report, Role::ElectrodeControl),
        if failed.is_empty() { "All of them passed." } else { "Not all of them passed:" }
    ));
    text.push_str(&findings(&failed, "   "));
    text
}

fn signal(tour: &Tour<'_>) -> String {
    let report = tour.report;
    let is_it = |link: &&ScanLink| link.row.role == Role::Sample && link.row.sample == tour.followed;
    let Some((link, signal)) =
        report.scans.iter().filter(is_it).find_map(|link| Some((link, link.signal.as_ref()?)))
    else {
        return String::new();
    };
    let mut text = paragraph(&format!(
        "{}: {} checks of the raw scan passed. The mean of {} blanks was subtracted, a baseline drawn under the peak, and the \
         peak found at {} V, {} high over a noise of {}. A check that fails stops here; nothing is mended silently.",
        link.raw.label(),
        link.checks_passed,
        link.blanks.len(),
        potential(signal.peak_potential_v),
        current(Some(signal.signal)),
        current(signal.noise_a)
    ));
    text.push_str(&figure(tour, &format!("scan-{}", tour.followed)));
    text
}

fn standards(tour: &Tour<'_>) -> String {
    let mut text = paragraph(
        "Each lot stands on its own standards: lots differ in sensitivity. The line is drawn through strips, not through scans, \
         and says from which level on nitrate is detected and from which on it is a number.",
    );
    let unit = tour.report.method.reported_as.to_string();
    let rows: Vec<Vec<String>> = tour
        .report
        .calibrations
        .iter()
        .map(|link| {
            let slope = link.calibration.as_ref().map(|calibration| calibration.statistics.coefficients[1]);
            let level = |of: fn(&stillwell_method::DetectionClaim) -> &Concentration| {
                link.detection.as_ref().map_or("–".to_owned(), |claim| round_up(of(claim).value(), 2))
            };
            vec![
                link.key.lot.clone(),
                current(slope),
                level(|claim| &claim.detection_limit),
                level(|claim| &claim.quantification_limit),
                if link.is_accepted() { "accepted" } else { "REFUSED" }.to_owned(),
            ]
        })
        .collect();
    let header = ["lot", ">signal per unit", ">detection limit", ">quantification limit", "calibration"];
    text.push('\n');
    text.push_str(&indented(&table(&header, &rows), "   "));
    line!(text, "   unit: {unit}");
    text.push_str(&figure(tour, "calibration-"));
    text
}

fn verdicts(tour: &Tour<'_>) -> String {
    let report = tour.report;
    let row = |well: &Well| {
        let found = determination(report, well.name);
        let decision = found.and_then(|found| Some((found, found.decisions.first()?)));
        vec![
            well.name.to_owned(),
            well.truth_mg_per_l.to_string(),
            found.map_or("–".to_owned(), |found| result(&found.outcome)),
            decision.map_or("–", |(found, decision)| determinations::verdict(found, decision)).to_owned(),
            well.shows.to_owned(),
        ]
    };
    let limit = report.determinations.first().and_then(|first| first.decisions.first());
    let against = limit.map_or("verdict", |decision| decision.limit_id.as_str());
    let rows: Vec<Vec<String>> = WELLS.iter().map(row).collect();
    let mut text = indented(&table(&["well", ">truth", "found", against, "what it is"], &rows), "   ");
    line!(text, "   {}; ± at a coverage of 95 %", report.method.reported_as);
    if let Some(limit) = limit {
        text.push_str(&paragraph(&format!(
            "{}: {}; {}",
            limit.limit_id, limit.limit_name, limit.limit_source
        )));
    }
    text
}

fn refusal(tour: &Tour<'_>) -> String {
    let Some(found) = determination(tour.report, tour.refused) else { return String::new() };
    let truth =
        WELLS.iter().find(|well| well.name == tour.refused).map_or(f64::NAN, |well| well.truth_mg_per_l);
    let mut text = paragraph(&format!(
        "{} truly holds {truth}, far over the limit. Its current range was left too small, both half waves were cut off, and \
         their difference still looks like a peak: a smaller one. Read off the calibration it would be well below the limit. \
         Two checks see that the peak is not that of the standards, and no number is issued:",
        tour.refused
    ));
    let all: Vec<&Finding> = found.refusals().collect();
    text.push_str(&indented(&findings(&all, ""), "   "));
    text.push_str(&figure(tour, &format!("scan-{}", tour.refused)));
    text
}

fn evidence(tour: &Tour<'_>) -> String {
    let report = tour.report;
    let Some(found) = determination(report, tour.followed) else { return String::new() };
    let Some(provenance) = found.outcome.provenance() else { return String::new() };
    let mut text = paragraph(&format!(
        "{} = {} {} came from:",
        tour.followed,
        result(&found.outcome),
        report.method.reported_as
    ));
    line!(
        text,
        "     method       {}, revision {} (blake3 {})",
        report.method.name,
        report.method.revision,
        provenance.method.short()
    );
    line!(text, "     calibration  of {} (blake3 {})", found.lot, provenance.calibration.short());
    for (file, hash) in &provenance.raw_files {
        line!(text, "     raw scans    {file}, {} of them (blake3 {})", found.scans.len(), hash.short());
    }
    text.push_str(&paragraph(
        "The same files give the same number to the last bit, and any changed byte gives another hash. Every link, down to line \
         and column of the raw file, is shown by --show-chain.",
    ));
    text
}

fn determination<'r>(report: &'r Report, sample: &str) -> Option<&'r Determination> {
    report.determinations.iter().find(|found| found.sample == sample && found.role == Role::Sample)
}

fn next(tour: &Tour<'_>) -> String {
    let folder = shell_path(tour.folder);
    let mut text = format!(
        "\nall of it lies in {folder}: change a file, and see what is said\n\nwhat to try next (from the source folder: `cargo run --release --` in the place of `stillwell`)\n"
    );
    for (command, why) in [
        (
            format!("stillwell serve {}", shell_path(&tour.folder.join(STUDY_FILE))),
            "the same in a browser: may I trust this number? every link of its chain, one click away",
        ),
        (format!("stillwell determine {folder}"), "the verdicts in full"),
        (
            format!("stillwell determine {folder} --show-chain {}", tour.followed),
            "one number, down to the raw scans",
        ),
        ("stillwell explain peak-width".to_owned(), "what a check looks at, and what to do"),
        (
            format!(
                "stillwell foresee {folder} --cell {folder}/cells/copper-strip.toml --circuit {folder}/cells/handheld.toml"
            ),
            "what another circuit would give",
        ),
    ] {
        line!(text, "  {command}\n      {why}");
    }
    text
}

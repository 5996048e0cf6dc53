//! Names that a stranger made: markup, three hundred letters, letters that run the other way, formulas.

use stillwell_study::{By, Clock, Delivery, Study};

use crate::browser::Browser;
use crate::study;

/// The scenario with hostile names for samples, electrodes, batches, notes, files and people.
fn hostile(folder: &std::path::Path) -> std::path::PathBuf {
    let from = folder.join("from");
    std::fs::create_dir(&from).unwrap();
    let long = "w".repeat(150) + "\"><img src=x onerror=alert(1)>" + &"é".repeat(120);
    let sheet = std::fs::read_to_string(study::alder_vale().join("run-sheet.csv")).unwrap();
    let file = "<script>alert(2)<script>.csv";
    let sheet = sheet
        .replace("wells-B1.csv", file)
        .replace("AV-01", "<script>alert(1)</script>")
        .replace("AV-02", &format!("\"{}\"", long.replace('"', "\"\"")))
        .replace("AV-03", "\u{202e}tnereffid\u{2066}")
        .replace("AV-05", "'=HYPERLINK(1)")
        .replace("AV-06", "=1+1")
        .replace("L21-", "<b>L21-")
        .replace("second vial from the same bottle", "</td></table><script>alert(3)</script>");
    std::fs::write(from.join("run-sheet.csv"), sheet).unwrap();
    for entry in std::fs::read_dir(study::alder_vale()).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().unwrap();
        let is_raw = name.contains("-B");
        if is_raw {
            let to = if name == "wells-B1.csv" { file.to_owned() } else { name };
            std::fs::copy(entry.path(), from.join(to)).unwrap();
        }
    }
    let path = folder.join("<script>alert(4)<script>.study");
    let method = std::fs::read_to_string(study::alder_vale().join("method.toml")).unwrap();
    let by = By::new("</span><script>alert(5)</script>", "<img src=x onerror=alert(6)>").unwrap();
    let mut study = Study::create(&path, "<script>alert(7)</script>", &method, &by, Clock::system()).unwrap();
    let added = study.add(&Delivery::of_folder(&from).unwrap(), &by, |_| {}).unwrap();
    study.determine(&added.series, &by).unwrap();
    let reported = format!(
        "sample,value,unit,u\n<script>alert(1)</script>,20,mg/L as NO3-,1\n\"{}\",21,mg/L as NO3-,1\n",
        long.replace('"', "\"\"")
    );
    let laboratory = "<script>alert(8)</script>\u{202e}";
    study
        .record_laboratory("<img src=x onerror=alert(9)>.csv", reported.as_bytes(), laboratory, &by)
        .unwrap();
    path
}

#[test]
fn no_name_becomes_markup() {
    let folder = tempfile::tempdir().unwrap();
    let path = hostile(folder.path());
    let browser = Browser::on(&path);
    let results: Vec<String> = (1..=9).map(|n| format!("/results/{n}")).collect();
    let more = ["/series/1/scans/60", "/series/1/scans/60/figure.svg", "/series/1/overlay.svg", "/about"];
    let ways = crate::pages::PAGES.iter().copied().chain(more).chain(results.iter().map(String::as_str));
    let mut n_escaped = 0;
    for way in ways {
        let page = browser.get(way);
        assert!(page.status.is_success(), "{way}: {}", page.status);
        let bare = page.body.replace("<script src=\"/assets/", "");
        assert!(!bare.contains("<script"), "{way}: a script");
        assert!(!page.body.contains("<img"), "{way}: an image");
        assert!(!page.body.contains("<b>"), "{way}: markup");
        n_escaped += page.body.matches("&lt;script&gt;alert").count();
    }
    assert!(n_escaped > 20, "the names were shown {n_escaped} times");
    let table = browser.get("/results.csv").body;
    assert!(table.contains("'=1+1"), "a formula is none: {table}");
    assert!(!table.lines().any(|line| line.split(',').any(|cell| cell.starts_with('='))), "{table}");
}

#[test]
fn what_is_asked_for_never_becomes_markup() {
    let (_folder, path) = study::copy();
    let browser = Browser::on(&path);
    for way in [
        "/results?of=%22%3E%3Cscript%3Ealert(1)%3C/script%3E",
        "/ledger?of=%3Cscript%3Ealert(1)%3C/script%3E",
        "/results/%3Cscript%3Ealert(1)%3C%2Fscript%3E",
        "/calibrations/%22%20onload=%22alert(1)",
        "/scans?series=%3Cscript%3E",
        "/%3Cscript%3Ealert(1)",
    ] {
        let body = browser.get(way).body.replace("<script src=\"/assets/", "");
        assert!(!body.contains("<script") && !body.contains("\" onload"), "{way}: {body}");
    }
    let name = "</p><script>alert(1)</script>";
    let done = browser.post("/results/1/withdraw", &[("actor", name), ("reason", name)]);
    assert!(done.status.is_success());
    assert!(!done.body.replace("<script src", "").contains("<script"), "{}", done.body);
}

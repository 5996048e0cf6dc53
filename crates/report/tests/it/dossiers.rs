//! The dossier as an assessor gets it: what stands in it, that it stands alone, and that nobody's name breaks it.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use scraper::{ElementRef, Html, Selector};
use stillwell_report::dossier::{DossierInput, dossier};
use stillwell_study::{By, Clock, Delivery, Study};

const HOSTILE: &str = "<script>alert('w')</script>";

fn analyst() -> By {
    By::new("Ines Field", "routine measurement").unwrap()
}

fn scenario() -> PathBuf {
    stillwell_house::repository().join("examples/alder-vale")
}

/// A study of that folder, determined, with one correction, and its dossier.
fn made(folder: &Path, by: &By, spoil: impl Fn(&str) -> String) -> (tempfile::TempDir, String) {
    let place = tempfile::tempdir().unwrap();
    let copied = place.path().join("copied");
    fs::create_dir(&copied).unwrap();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let to = copied.join(path.file_name().unwrap());
        match path.extension().and_then(|extension| extension.to_str()) {
            Some("toml") => fs::write(to, spoil(&fs::read_to_string(&path).unwrap())).unwrap(),
            Some("csv") if path.ends_with("run-sheet.csv") => {
                fs::write(to, spoil(&fs::read_to_string(&path).unwrap())).unwrap();
            }
            _ => drop(fs::copy(&path, to).unwrap()),
        }
    }
    let method = fs::read_to_string(copied.join("method.toml")).unwrap();
    let path = place.path().join("wells.study");
    let mut study = Study::create(&path, "wells", &method, by, Clock::system()).unwrap();
    let added = study.add(&Delivery::of_folder(&copied).unwrap(), by, |_| {}).unwrap();
    study.determine(&added.series, by).unwrap();
    (place, of(&path))
}

fn of(path: &Path) -> String {
    let study = Study::open_to_read(path).unwrap();
    let series = study.series().unwrap();
    dossier(&DossierInput::gather(&study, &series[0]).unwrap())
}

/// The scenario's dossier, made once.
fn whole() -> &'static (tempfile::TempDir, String) {
    static MADE: OnceLock<(tempfile::TempDir, String)> = OnceLock::new();
    MADE.get_or_init(|| made(&scenario(), &analyst(), str::to_owned))
}

/// The invented year with what a laboratory reported on record, made once.
fn year() -> &'static (tempfile::TempDir, String) {
    static MADE: OnceLock<(tempfile::TempDir, String)> = OnceLock::new();
    MADE.get_or_init(|| {
        let folder = stillwell_house::repository().join("examples/alder-vale-year");
        let (place, _) = made(&folder, &analyst(), str::to_owned);
        let path = place.path().join("wells.study");
        let bytes = fs::read(folder.join("comparison.csv")).unwrap();
        let mut study = Study::open_now(&path).unwrap();
        study.record_laboratory("comparison.csv", &bytes, "Invented Laboratory", &analyst()).unwrap();
        (place, of(&path))
    })
}

/// Both, for what must hold of every dossier.
fn both() -> [&'static str; 2] {
    [&whole().1, &year().1]
}

fn all<'d>(document: &'d Html, selector: &str) -> Vec<ElementRef<'d>> {
    document.select(&Selector::parse(selector).unwrap()).collect()
}

fn words(element: ElementRef<'_>) -> String {
    element.text().collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Headings, captions and column heads in their order.
fn outline(document: &Html) -> String {
    let mut lines = Vec::new();
    for element in all(document, "h1, h2, h3, h4, caption, thead tr, figcaption") {
        let line = match element.value().name() {
            "h1" => words(element),
            "h2" => format!("  {}", words(element)),
            "h3" => format!("    {}", words(element)),
            "h4" => format!("      {}", words(element)),
            "tr" => {
                let heads = all_in(element, "th").into_iter().map(words).collect::<Vec<_>>();
                format!("        | {}", heads.join(" | "))
            }
            name => format!("      {name}: {}", words(element)),
        };
        lines.push(line);
    }
    lines.join("\n")
}

fn all_in<'d>(element: ElementRef<'d>, selector: &str) -> Vec<ElementRef<'d>> {
    element.select(&Selector::parse(selector).unwrap()).collect()
}

#[test]
fn the_outline() {
    insta::assert_snapshot!("dossier-outline", outline(&Html::parse_document(&whole().1)));
    insta::assert_snapshot!("dossier-outline-year", outline(&Html::parse_document(&year().1)));
}

#[test]
fn it_stands_alone() {
    both().into_iter().for_each(stands_alone);
}

fn stands_alone(text: &str) {
    let document = Html::parse_document(text);
    for forbidden in ["script", "link", "img", "iframe", "object", "embed", "base", "form", "image", "use"] {
        assert!(all(&document, forbidden).is_empty(), "{forbidden}");
    }
    for element in all(&document, "*") {
        for (name, value) in element.value().attrs() {
            assert!(!name.starts_with("on"), "{name}");
            let leads_out = value.contains("://") && name != "xmlns";
            assert!(!leads_out, "{name}={value}");
            assert!(name != "href" || value.starts_with('#'), "{name}={value}");
            assert!(!["src", "srcset", "style"].contains(&name), "{name}={value}");
        }
    }
    let sheet = words(all(&document, "style")[0]);
    assert!(!sheet.contains("url(") && !sheet.contains("@import") && !sheet.contains("//"));
}

#[test]
fn it_is_sound_html_with_headings_in_order_and_heads_on_every_table() {
    both().into_iter().for_each(is_sound_html);
}

fn is_sound_html(text: &str) {
    let document = Html::parse_document(text);
    assert!(document.errors.is_empty(), "{:?}", document.errors);
    assert_eq!(all(&document, "html[lang=en]").len(), 1);
    assert_eq!((all(&document, "h1").len(), all(&document, "main").len()), (1, 1));
    let mut deepest = 1;
    for heading in all(&document, "h1, h2, h3, h4, h5") {
        let level = heading.value().name()[1..].parse::<u32>().unwrap();
        assert!(level <= deepest + 1, "{} skips a level", words(heading));
        assert!(!words(heading).is_empty());
        deepest = level;
    }
    let tables = all(&document, "table");
    assert!(tables.len() > 15);
    for table in tables {
        assert_eq!(all_in(table, "caption").len(), 1);
        let n_columns = all_in(table, "thead th[scope=col]").len();
        for row in all_in(table, "tbody tr") {
            assert_eq!(all_in(row, "th, td").len(), n_columns, "{}", words(row));
            assert_eq!(all_in(row, "th[scope=row]").len(), 1);
        }
    }
    for drawing in all(&document, "figure svg") {
        assert!(drawing.value().attr("aria-labelledby").is_some() && !all_in(drawing, "title").is_empty());
    }
}

#[test]
fn every_link_leads_to_something_and_every_name_is_its_own() {
    both().into_iter().for_each(links_lead_to_something);
}

fn links_lead_to_something(text: &str) {
    let document = Html::parse_document(text);
    let ids: Vec<&str> = all(&document, "[id]").iter().filter_map(|one| one.value().attr("id")).collect();
    let mut once = ids.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "an id stands twice");
    let links = all(&document, "a[href]");
    assert!(links.len() > 20);
    for link in links {
        let to = link.value().attr("href").unwrap().trim_start_matches('#').to_owned();
        assert!(ids.contains(&to.as_str()), "#{to} leads nowhere");
    }
}

#[test]
fn the_same_study_gives_the_same_bytes_and_they_are_few() {
    let (place, text) = whole();
    assert_eq!(of(&place.path().join("wells.study")), *text);
    assert!(text.len() < 300_000, "{} bytes", text.len());
}

#[test]
fn nothing_withheld_or_refused_has_a_verdict_in_it_and_what_is_not_approved_says_so_first() {
    let document = Html::parse_document(&whole().1);
    assert!(words(all(&document, "header .stamp")[0]).contains("Not approved"));
    let refused: Vec<String> = all(&document, "#samples tbody tr")
        .into_iter()
        .map(words)
        .filter(|row| row.starts_with("AV-04"))
        .collect();
    assert!(refused.iter().any(|row| row.contains("unknown (refused)")), "{refused:?}");
    assert!(!refused.iter().any(|row| row.contains("below 50") || row.contains("● below")), "{refused:?}");
}

fn chapter<'d>(document: &'d Html, id: &str) -> (ElementRef<'d>, String) {
    let chapter = all(document, &format!("section#{id}"))[0];
    (chapter, words(chapter))
}

#[test]
fn quality_over_time_stands_in_it_with_its_evidence() {
    let document = Html::parse_document(&year().1);
    let (control, said) = chapter(&document, "control");
    assert!(said.contains("Out of control: blank") && said.contains("OUT OF CONTROL"), "{said}");
    assert!(said.contains("Since batch 10 of 2025-10-14."), "{said}");
    let held: Vec<String> = all_in(control, "tbody td").into_iter().map(words).collect();
    let names = |wanted: &str| held.iter().any(|cell| cell.contains(wanted));
    assert!(names("AV-12-12 (batch 12)") && !names("AV-11-08"), "{held:?}");
    let (lots, said) = chapter(&document, "lots");
    assert!(said.contains("Not equivalent: L31") && said.contains("one-point adjustment"), "{said}");
    assert_eq!(all_in(lots, "figure svg").len(), 1);
    let (comparison, said) = chapter(&document, "comparison");
    assert!(said.contains("Agrees with the laboratory") && said.contains("Invented Laboratory"), "{said}");
    assert!(said.contains("its verdict is withheld"), "what finds no partner, and why: {said}");
    assert_eq!(all_in(comparison, "figure svg").len(), 1);
    let (_, said) = chapter(&document, "ledger");
    assert!(said.contains("comparison.csv with 24 results"), "{said}");
    let (validation, said) = chapter(&document, "validation");
    assert!(said.contains("check standards on 12 days"), "{said}");
    assert_eq!(all_in(validation, "figure svg").len(), 1);
}

#[test]
fn what_quality_over_time_lacks_is_said_in_words() {
    let document = Html::parse_document(&whole().1);
    let (lots, said) = chapter(&document, "lots");
    assert!(
        said.contains("Not compared: the method states no margin")
            && said.contains("State lot_margin_percent"),
        "{said}"
    );
    assert!(all_in(lots, "figure").is_empty());
    let (comparison, said) = chapter(&document, "comparison");
    assert!(
        said.contains("no laboratory's results are on record") && said.contains("record its file"),
        "{said}"
    );
    assert!(all_in(comparison, "figure, table").is_empty());
}

#[test]
fn hostile_names_stay_words() {
    let by = By::new(&format!("Ines {HOSTILE}"), "\u{202e}</style><b>why</b>").unwrap();
    let spoil = |text: &str| {
        text.replace("AV-02", HOSTILE)
            .replace("Nitrate by copper-modified strips", "</style></title><script>x</script>")
            .replace("printed silver / silver chloride", "</desc><script>y</script>")
    };
    let (_place, text) = made(&scenario(), &by, spoil);
    let document = Html::parse_document(&text);
    assert!(document.errors.is_empty(), "{:?}", document.errors);
    assert!(all(&document, "script, b").is_empty());
    assert!(!text.contains('\u{202e}'));
    assert_eq!(words(all(&document, "h1")[0]), "</style></title><script>x</script>");
    let samples: Vec<String> = all(&document, "#samples tbody th").into_iter().map(words).collect();
    assert!(samples.contains(&HOSTILE.to_owned()), "{samples:?}");
}

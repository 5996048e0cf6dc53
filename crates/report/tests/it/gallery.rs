//! Every kind of figure: a snapshot for the eye, ids that differ, hooks, tables, bytes.

use stillwell_method::{curves, determine};
use stillwell_report::{
    Figure, calibration_figure, comparison_figure, control_figure, lot_figure, overlay_figure,
};
use stillwell_report::{budget_figure, scan_figure, technique_figure, trade_figure};

use crate::samples::{
    comparison, control_chart, lots, potentials, replaced, scattered, stations, sums, techniques,
    weighted_mean,
};
use crate::scenario;
use crate::snapshots::{assert_seen, budget, keep, study};
use crate::well_formed::complaint;

#[test]
fn control_charts() {
    assert_seen("control-chart", &control_figure(&control_chart()));
    assert_seen("control-weighted", &control_figure(&weighted_mean()));
    assert_seen("control-sums", &control_figure(&sums()));
}

#[test]
fn lots_and_methods() {
    assert_seen("lots", &lot_figure(&lots()));
    assert_seen("comparison", &comparison_figure(&comparison()));
}

#[test]
fn sensors_in_the_water() {
    let [series, step] = stations();
    assert_seen("station-series", &series);
    assert_seen("sensor-step", &step);
}

#[test]
fn every_technique_is_drawn_or_says_what_is_missing() {
    for (index, technique) in techniques().iter().enumerate() {
        let figure = technique_figure(technique);
        let name = format!("technique-{index}-{}", technique.kind.word());
        let file = figure.standalone();
        assert_eq!(complaint(&file), None, "{name}");
        assert!(file.len() < 16 * 1024, "{name}: {}", file.len());
        keep(&name, &file);
        let is_drawn = file.contains("class=\"plot") || file.contains("class=\"frame");
        assert_eq!(is_drawn, technique.waveform().is_ok(), "{name}");
    }
    assert_seen("technique", &technique_figure(&techniques()[0]));
}

/// Every kind of figure, by name.
fn all() -> Vec<(&'static str, Figure)> {
    let input = scenario::input(|_| {});
    let report = determine(&input);
    let scans: Vec<_> = (0..report.scans.len()).filter_map(|place| curves(&input, &report, place)).collect();
    let [series, step] = stations();
    vec![
        ("station", series),
        ("step", step),
        ("scan", scan_figure(&input.method, &scans[13])),
        ("overlay", overlay_figure(&input.method, "All scans", &scans, &[4, 13, 22])),
        ("calibration", calibration_figure(&input.method, report.calibrations.first().unwrap())),
        ("technique", technique_figure(&techniques()[0])),
        ("control", control_figure(&control_chart())),
        ("lots", lot_figure(&lots())),
        ("comparison", comparison_figure(&comparison())),
        ("budget", budget_figure(&budget())),
        ("trade", trade_figure(&study())),
    ]
}

fn values_of<'a>(document: &'a str, attribute: &str) -> Vec<&'a str> {
    let beginning = format!(" {attribute}=\"");
    let parts = document.split(beginning.as_str()).skip(1);
    parts.filter_map(|rest| rest.split('"').next()).collect::<Vec<_>>()
}

#[test]
fn figures_of_one_page_share_no_id_and_carry_no_style() {
    let figures = all();
    // The same figure may stand twice on a page.
    let page: Vec<String> = ["first", "again"]
        .iter()
        .flat_map(|time| figures.iter().map(move |(name, figure)| figure.inline(&format!("{name}-{time}"))))
        .collect();
    let page = page.concat();
    assert_eq!(complaint(&page), None);
    assert!(!page.contains("<style") && !page.contains("style=\""));
    let mut ids = values_of(&page, "id");
    let n_ids = ids.len();
    assert_eq!(n_ids, 2 * 2 * figures.len());
    for labels in values_of(&page, "aria-labelledby") {
        assert!(labels.split(' ').all(|label| ids.contains(&label)));
    }
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), n_ids);
}

#[test]
fn every_figure_has_its_numbers_as_a_table() {
    for (name, figure) in all() {
        assert!(!figure.tables().is_empty(), "{name}");
        assert!(!figure.title().is_empty() && !figure.description().is_empty(), "{name}");
        for table in figure.tables() {
            let text = table.in_words();
            assert!(!text.rows.is_empty() && text.headers.len() > 1, "{name}: {}", table.title);
            assert!(text.rows.iter().all(|row| row.len() == text.headers.len()), "{name}: {}", table.title);
        }
    }
}

/// From a place on the drawing to a number, as a page's script does it.
fn number_at(group: &str, axis: &str, ends: [&str; 2], place: f64) -> f64 {
    let of = |name: &str| -> f64 { values_of(group, &format!("data-{name}"))[0].parse().unwrap() };
    let share = (place - of(ends[0])) / (of(ends[1]) - of(ends[0]));
    of(&format!("{axis}-from")) + share * (of(&format!("{axis}-to")) - of(&format!("{axis}-from")))
}

#[test]
fn a_page_finds_potentials_and_handles_by_proportion() {
    let input = scenario::input(|_| {});
    let report = determine(&input);
    let curves = curves(&input, &report, 13).unwrap();
    let page = scan_figure(&input.method, &curves).inline("scan");
    let measured = page.split("data-plot=\"measured\"").nth(1).unwrap();
    assert!(measured.contains("data-x-unit=\"V\"") && measured.contains("data-y-unit=\"A\""));
    let grips: Vec<&str> = measured.split("class=\"grip\"").skip(1).collect();
    assert_eq!(grips.len(), 2 * curves.windows.len());
    for (grip, window) in grips.chunks(2).zip(&curves.windows) {
        for (grip, at_v) in grip.iter().zip(window.window_v) {
            assert_eq!(values_of(grip, "data-x")[0].parse::<f64>().unwrap().to_bits(), at_v.to_bits());
            let place: f64 = values_of(grip, "d")[0][1..].split([' ', 'l']).next().unwrap().parse().unwrap();
            let found_v = number_at(measured, "x", ["left", "right"], place);
            // A tenth of a unit on some 320 units for 0.6 V.
            assert!((found_v - at_v).abs() < 2e-4, "{found_v} {at_v}");
        }
    }
    assert!(grips[0].contains("data-handle=\"peak\" data-end=\"from\""));
    assert!(
        measured.contains("data-handle=\"anchor-1\"") == curves.evaluated.unwrap().baseline_points.is_some()
    );
    assert!(page.contains("data-trace=\"blank\"") && measured.contains("data-handle=\"height\""));
    let tip = measured.split("data-handle=\"height\"").nth(1).unwrap();
    let (foot, tip) = (values_of(tip, "data-foot")[0], values_of(tip, "data-tip")[0]);
    let height_a = foot.parse::<f64>().unwrap() - tip.parse::<f64>().unwrap();
    assert!((height_a - curves.mark.unwrap().signal).abs() < 1e-15);
}

#[test]
fn long_scans_and_many_scans_stay_small() {
    let input = scenario::input(|_| {});
    let report = determine(&input);
    let of = curves(&input, &report, 13).unwrap();
    let potential_v = potentials(600);
    let current_a: Vec<f64> =
        potential_v.iter().enumerate().map(|(index, at_v)| 2e-6 * at_v + 2e-7 * scattered(index)).collect();
    let scans: Vec<_> = (0..500).map(|seed| replaced(&of, &potential_v, &current_a, seed)).collect();
    let one = scan_figure(&input.method, &scans[0]);
    let all = overlay_figure(&input.method, "Five hundred scans", &scans, &[0, 100, 200, 300]);
    keep("scan-600", &one.standalone());
    keep("overlay-500", &all.standalone());
    let sizes = [one.standalone(), one.inline("a"), all.standalone(), all.inline("a")].map(|text| text.len());
    println!(
        "600 points: {} B as a file, {} B on a page; 500 scans: {} B, {} B",
        sizes[0], sizes[1], sizes[2], sizes[3]
    );
    assert!(sizes[0] < 30_000 && sizes[1] < 30_000 && sizes[2] < 30_000 && sizes[3] < 150_000, "{sizes:?}");
    let page = all.inline("a");
    let traces = values_of(&page, "data-trace");
    assert!((0..500).all(|place| traces.contains(&format!("scan-{place}").as_str())));
}

/// A page under a policy without inline style, to be looked at in a browser.
#[test]
fn a_page_of_all_figures_needs_no_inline_style() {
    let figures = all();
    let drawn = |(name, figure): &(&str, Figure)| format!("<figure>{}</figure>", figure.inline(name));
    let page = |theme: &str| {
        let figures: String = figures.iter().map(drawn).collect();
        format!(
            "<!DOCTYPE html><html lang=\"en\" data-theme=\"{theme}\"><head><meta charset=\"utf-8\"><title>figures</title>\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'self' file:\">\
             <meta name=\"viewport\" content=\"width=device-width\">\
             <link rel=\"stylesheet\" href=\"figures.css\"></head><body>{figures}</body></html>"
        )
    };
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("figures");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("figures.css"), stillwell_report::figure_stylesheet()).unwrap();
    for theme in ["", "light", "dark"] {
        let page = page(theme);
        assert!(!page.contains("<style") && !page.contains(" style=") && !page.contains("<script"));
        std::fs::write(folder.join(format!("page-{theme}.html")), page).unwrap();
    }
}

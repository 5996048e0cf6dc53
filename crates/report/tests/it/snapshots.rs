//! Figures for the eye: a change shows as a difference to be looked at, rendered.

use stillwell_report::{
    AxisText, AxisUnit, Figure, Spacing, TradePoint, TradeSeries, TradeStudy, trade_figure,
};
use stillwell_report::{
    BudgetBar, BudgetBars, budget_figure, calibration_figure, figure_stylesheet, scan_figure,
};

use stillwell_method::{curves, determine};

use crate::scenario;
use crate::well_formed::complaint;

/// More than this is no snapshot anybody looks at.
const LARGEST: usize = 20 * 1024;

pub(crate) fn assert_seen(name: &str, figure: &Figure) {
    let file = figure.standalone();
    assert_eq!(complaint(&file), None, "{name}");
    assert!(file.len() <= LARGEST, "{name}: {} bytes", file.len());
    keep(name, &file);
    // The style sheet is the same in all of them: one snapshot shows it.
    let (before, rest) = file.split_once("<style>").unwrap();
    let (sheet, after) = rest.split_once("</style>").unwrap();
    if name == "trade-study" {
        insta::assert_snapshot!("style-sheet", sheet.replace('}', "}\n"));
    }
    insta::assert_snapshot!(name, format!("{before}<style>…</style>{after}"));
}

/// Leaves a figure in the build folder for whoever wants to look at it.
pub(crate) fn keep(name: &str, file: &str) {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("figures");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(format!("{name}.svg")), file).unwrap();
}

#[test]
fn style_sheet_of_a_page() {
    insta::assert_snapshot!("page-style-sheet", figure_stylesheet());
}

pub(crate) fn study() -> TradeStudy {
    let point =
        |varied, outcome: f64| TradePoint { varied, outcome, interval: Some([0.9 * outcome, 1.1 * outcome]) };
    let series = |name: &str, points: &[(f64, f64)]| TradeSeries {
        name: name.to_owned(),
        points: points.iter().map(|(varied, outcome)| point(*varied, *outcome)).collect(),
    };
    TradeStudy {
        title: "Detection limit against the resolution of the converter".to_owned(),
        remarks: vec!["Invented numbers.".to_owned()],
        varied: AxisText {
            quantity: "resolution of the converter".to_owned(),
            unit: AxisUnit::Plain("bit".to_owned()),
        },
        varied_spacing: Spacing::Linear,
        outcome: AxisText {
            quantity: "detection limit".to_owned(),
            unit: AxisUnit::Plain("mg/L as NO₃⁻".to_owned()),
        },
        outcome_spacing: Spacing::Logarithmic,
        series: vec![
            series("1 µA", &[(10.0, 1.4), (12.0, 0.62), (16.0, 0.55), (24.0, 0.54)]),
            series("100 µA", &[(10.0, 32.0), (12.0, 8.2), (16.0, 0.91), (24.0, 0.56)]),
        ],
    }
}

pub(crate) fn budget() -> BudgetBars {
    let bar = |name: &str, share, is_observed| BudgetBar {
        name: name.to_owned(),
        share,
        detail: "u 0.66; 16 degrees of freedom".to_owned(),
        is_observed,
    };
    BudgetBars {
        title: "Budget of W1".to_owned(),
        remarks: vec!["Invented numbers.".to_owned()],
        bars: vec![
            bar("electrodes of the sample", 0.65, true),
            bar("levels of the standards", 0.349, false),
            bar("temperature", 0.001, false),
        ],
        intervals_title: "95 % intervals, mg/L as NO₃⁻".to_owned(),
        intervals: vec![
            ("reported".to_owned(), [48.6, 50.5, 52.4]),
            ("check standards and spikes alone".to_owned(), [47.0, 50.5, 54.0]),
        ],
        limits: vec![("limit 50".to_owned(), 50.0)],
    }
}

#[test]
fn budget_of_a_sample() {
    assert_seen("budget", &budget_figure(&budget()));
}

#[test]
fn trade_study() {
    assert_seen("trade-study", &trade_figure(&study()));
}

#[test]
fn current_ranges_have_their_prefix_at_each_tick() {
    let mut study = study();
    study.varied =
        AxisText { quantity: "current range".to_owned(), unit: AxisUnit::Prefixed("A".to_owned()) };
    study.varied_spacing = Spacing::Logarithmic;
    for series in &mut study.series {
        for (point, range_a) in series.points.iter_mut().zip([1e-6, 1e-5, 1e-4, 1e-3]) {
            point.varied = range_a;
        }
    }
    let figure = trade_figure(&study).standalone();
    for label in [">1 µA<", ">10 µA<", ">100 µA<", ">1 mA<"] {
        assert!(figure.contains(label), "{label}");
    }
}

#[test]
fn scan_and_calibration_of_the_scenario() {
    let input = scenario::input(|_| {});
    let report = determine(&input);
    let place = |file: &str, scan: usize| {
        report.scans.iter().position(|link| link.row.file == file && link.row.scan == scan).unwrap()
    };
    for (name, file, scan) in [("scan", "standards-B1.csv", 11), ("scan-refused", "wells-B2.txt", 13)] {
        let curves = curves(&input, &report, place(file, scan)).unwrap();
        assert_seen(name, &scan_figure(&input.method, &curves));
    }
    assert_seen("calibration", &calibration_figure(&input.method, report.calibrations.first().unwrap()));
}

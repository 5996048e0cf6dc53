//! Names that would break a page, numbers that are none, nothing at all.

use stillwell_method::{curves, determine};
use stillwell_report::{AxisUnit, Spacing, TradePoint, TradeSeries};
use stillwell_report::{BudgetBars, TradeStudy, budget_figure, trade_figure};
use stillwell_report::{Figure, Table, calibration_figure, overlay_figure, scan_figure};

use crate::scenario;
use crate::snapshots::{budget, study};
use crate::well_formed::complaint;

pub(crate) fn hostile_names() -> [String; 6] {
    [
        "<script>alert(1)</script>".to_owned(),
        "\"></text><a href=\"x\">".to_owned(),
        "بئر رقم سبعة \u{202e}txt.exe".to_owned(),
        "W".repeat(300),
        "a\u{0}b\u{1b}[31m\u{ffff}\u{2028}&amp;".to_owned(),
        String::new(),
    ]
}

pub(crate) fn assert_harmless(figure: &Figure) {
    let page = figure.inline("here");
    assert!(!page.contains("<style") && !page.contains("style="));
    for drawing in [figure.standalone(), page] {
        assert_drawing_harmless(&drawing);
    }
    for text in figure.tables().iter().map(Table::in_words) {
        assert!(text.rows.iter().all(|row| row.len() == text.headers.len()));
        let all = text.rows.iter().flatten().chain(&text.headers);
        assert!(all.clone().all(|words| words.chars().count() < 400), "{text:?}");
        assert!(all.clone().all(|words| !words.contains("NaN") && !words.contains("inf")));
    }
}

fn assert_drawing_harmless(figure: &str) {
    assert_eq!(complaint(figure), None);
    assert!(!figure.contains("<script") && !figure.contains("<a "));
    assert!(!figure.contains('\u{202e}') && !figure.contains('\u{ffff}'));
    assert!(!figure.contains(&"W".repeat(200)));
    for no_number in ["NaN", "inf"] {
        let found = figure.split(no_number).next().filter(|before| before.len() < figure.len());
        assert_eq!(found.map(|before| before.chars().rev().take(80).collect::<String>()), None);
    }
}

#[test]
pub(crate) fn hostile_names_are_escaped_and_cut() {
    for name in hostile_names() {
        let mut input = scenario::input(|_| {});
        for row in &mut input.run_sheet.rows {
            row.sample.clone_from(&name);
            row.lot.clone_from(&name);
            row.exclude = row.exclude.clone().map(|_| name.clone());
        }
        input.method.reference.kind.clone_from(&name);
        input.method.analyte.name.clone_from(&name);
        let report = determine(&input);
        let all: Vec<_> = [0, 13, 135].iter().filter_map(|place| curves(&input, &report, *place)).collect();
        assert_eq!(all.len(), 3);
        for curves in &all {
            assert_harmless(&scan_figure(&input.method, curves));
        }
        assert_harmless(&overlay_figure(&input.method, &name, &all, &[0, 1, 2, 3]));
        for link in &report.calibrations {
            assert_harmless(&calibration_figure(&input.method, link));
        }
        let mut study = study();
        study.title.clone_from(&name);
        study.remarks = vec![name.clone()];
        study.varied.quantity.clone_from(&name);
        study.outcome.unit = AxisUnit::Plain(name.clone());
        study.series.iter_mut().for_each(|series| series.name.clone_from(&name));
        assert_harmless(&trade_figure(&study));
    }
}

fn with_points(points: &[(f64, f64)], spacing: Spacing) -> TradeStudy {
    let points = points.iter().map(|(varied, outcome)| TradePoint {
        varied: *varied,
        outcome: *outcome,
        interval: Some([-outcome, *varied]),
    });
    let series = vec![TradeSeries { name: "odd".to_owned(), points: points.collect() }];
    TradeStudy { series, varied_spacing: spacing, outcome_spacing: spacing, ..study() }
}

#[test]
fn numbers_that_are_none_are_left_out() {
    let odd = [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        0.0,
        -0.0,
        1.0,
        -1.0,
        f64::MAX,
        f64::MIN,
        f64::MIN_POSITIVE,
        5e-324,
        1e-300,
        1e300,
        1e150,
        1e-150,
        1.0 + f64::EPSILON,
        123456.789,
    ];
    for spacing in [Spacing::Linear, Spacing::Logarithmic] {
        assert_harmless(&trade_figure(&with_points(&[], spacing)));
        for a in odd {
            assert_harmless(&trade_figure(&with_points(&[(a, a)], spacing)));
            for b in odd {
                for unit in [AxisUnit::None, AxisUnit::Prefixed("A".to_owned())] {
                    let mut study = with_points(&[(a, b), (b, a), (1.0, 2.0)], spacing);
                    study.outcome.unit = unit.clone();
                    study.varied.unit = unit;
                    assert_harmless(&trade_figure(&study));
                }
            }
        }
    }
}

#[test]
fn nothing_to_draw_says_so() {
    let empty = TradeStudy { series: Vec::new(), ..study() };
    for figure in [trade_figure(&empty), trade_figure(&with_points(&[(f64::NAN, 1.0)], Spacing::Linear))] {
        assert!(figure.standalone().contains("no data"));
    }
    let input = scenario::input(|_| {});
    assert!(overlay_figure(&input.method, "none", &[], &[0]).standalone().contains("no data"));
}

#[test]
fn a_budget_of_hostile_names_and_no_numbers_is_harmless() {
    for name in hostile_names() {
        let mut bars = budget();
        bars.title.clone_from(&name);
        bars.intervals_title.clone_from(&name);
        for bar in &mut bars.bars {
            bar.name.clone_from(&name);
            bar.detail.clone_from(&name);
        }
        bars.limits[0].0.clone_from(&name);
        bars.intervals[0].0.clone_from(&name);
        assert_harmless(&budget_figure(&bars));
    }
    for number in [f64::NAN, f64::INFINITY, -1e300] {
        let mut bars = budget();
        bars.bars[0].share = number;
        bars.intervals[0].1 = [number; 3];
        bars.limits[0].1 = number;
        assert_harmless(&budget_figure(&bars));
    }
    assert_harmless(&budget_figure(&BudgetBars::default()));
}

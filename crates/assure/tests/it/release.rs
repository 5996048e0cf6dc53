//! Which determinations are withheld, and back to where.

use proptest::prelude::*;
use stillwell_assure::control::{
    ChartPoint, ChartSettings, Charted, CheckOutcome, PointValue, QualityEvent, Reason, ReleaseRule,
    Training, judge_chart, release,
};

fn well(id: &str) -> QualityEvent {
    QualityEvent::Determination { id: id.to_owned() }
}

fn check(kind: &str, id: &str, outcome: CheckOutcome) -> QualityEvent {
    QualityEvent::Check { kind: kind.to_owned(), id: id.to_owned(), outcome }
}

fn bad() -> CheckOutcome {
    CheckOutcome::Bad { found: "recovery 88.1 %".to_owned() }
}

fn bracket() -> [ReleaseRule; 1] {
    [ReleaseRule { kind: "check standard".to_owned(), before: true, after: true }]
}

fn ids(events: &[QualityEvent], rules: &[ReleaseRule]) -> Vec<String> {
    let mut ids: Vec<String> = release(events, rules).into_iter().map(|one| one.id).collect();
    ids.dedup();
    ids
}

#[test]
fn between_good_checks_everything_is_released() {
    let c = |id| check("check standard", id, CheckOutcome::Good);
    assert!(release(&[c("C1"), well("W1"), well("W2"), c("C2")], &bracket()).is_empty());
}

#[test]
fn a_failed_check_withholds_back_to_the_last_good_one_and_on_to_the_next() {
    let c = |id, outcome| check("check standard", id, outcome);
    let events = [
        c("C1", CheckOutcome::Good),
        well("W1"),
        c("C2", CheckOutcome::Good),
        well("W2"),
        c("C3", bad()),
        well("W3"),
        c("C4", CheckOutcome::Good),
        well("W4"),
        c("C5", CheckOutcome::Good),
    ];
    let found = release(&events, &bracket());
    let words: Vec<String> = found.iter().map(|one| format!("{}: {}", one.id, one.words())).collect();
    insta::assert_snapshot!(words.join("\n"));
    let expected = Reason::FailedAfter {
        check: "C3".to_owned(),
        found: "recovery 88.1 %".to_owned(),
        last_good: Some("C2".to_owned()),
    };
    assert_eq!(found[0].reason, expected);
}

#[test]
fn a_missing_side_of_the_bracket_withholds_where_it_is_asked_for() {
    let events = [well("W1"), check("check standard", "C1", CheckOutcome::Good), well("W2")];
    assert_eq!(ids(&events, &bracket()), ["W1", "W2"]);
    assert!(ids(&events, &[]).is_empty());
    let reasons: Vec<Reason> = release(&events, &bracket()).into_iter().map(|one| one.reason).collect();
    assert_eq!(reasons, [Reason::NoneBefore, Reason::NoneAfter]);
    // A silent check brackets nothing.
    let silent = [check("check standard", "C1", CheckOutcome::Silent), well("W1")];
    assert_eq!(release(&silent, &bracket()).len(), 2);
}

#[test]
fn a_good_check_of_one_kind_says_nothing_of_another() {
    let events = [
        check("blank", "B1", CheckOutcome::Good),
        well("W1"),
        check("check standard", "C1", CheckOutcome::Good),
        check("blank", "B2", CheckOutcome::Bad { found: "reads 3.1".to_owned() }),
    ];
    let found = release(&events, &[]);
    assert_eq!((found.len(), found[0].kind.as_str()), (1, "blank"));
}

#[test]
fn a_chart_out_of_control_withholds_from_the_first_point_of_the_pattern() {
    let mut values = vec![99.2, 101.0, 100.4, 98.8, 100.9, 99.6, 100.2, 99.9, 100.8, 99.1];
    values.extend([100.3, 97.6, 97.4, 97.5, 97.2, 97.6, 97.3]);
    let points =
        values.iter().enumerate().map(|(i, v)| ChartPoint::found(format!("run {}", i + 1), None, *v));
    let settings = ChartSettings::gating(1, Training::FirstPoints(10));
    let chart = judge_chart(Charted::CheckStandard, "%", points.collect(), &settings).unwrap();
    let events: Vec<QualityEvent> = chart
        .outcomes()
        .into_iter()
        .enumerate()
        .flat_map(|(at, outcome)| {
            let run = at + 1;
            [well(&format!("W{run}")), check("check standard chart", &format!("run {run}"), outcome)]
        })
        .collect();
    // Run 11 is the last point in control; W12 was measured between it and the first low one.
    let expected: Vec<String> = (12..=17).map(|run| format!("W{run}")).collect();
    assert_eq!(ids(&events, &[]), expected);
}

#[test]
fn a_censored_blank_is_never_a_zero() {
    let mut points: Vec<ChartPoint> =
        (0..12).map(|i| ChartPoint::found(format!("run {i}"), None, 2.0 + 0.1 * f64::from(i % 4))).collect();
    points.push(ChartPoint { value: PointValue::LessThan(3.0), ..ChartPoint::found("run 12", None, 0.0) });
    points.push(ChartPoint { value: PointValue::MoreThan(9.0), ..ChartPoint::found("run 13", None, 0.0) });
    points.push(ChartPoint { value: PointValue::LessThan(0.5), ..ChartPoint::found("run 14", None, 0.0) });
    let settings = ChartSettings::gating(1, Training::FirstPoints(12));
    let untested = judge_chart(Charted::Blank, "mg/L", points.clone(), &settings).unwrap();
    // Twelve numbers train, and no number is left to judge.
    assert!(untested.limits.is_none());
    points.insert(12, ChartPoint::found("run 11b", None, 2.1));
    let chart = judge_chart(Charted::Blank, "mg/L", points, &settings).unwrap();
    let outcomes = chart.outcomes();
    assert_eq!(outcomes[12], CheckOutcome::Good);
    // Taken as 0 or 1.5 it would have been far below the limits.
    assert_eq!(outcomes[13], CheckOutcome::Silent);
    assert!(
        matches!(outcomes[14], CheckOutcome::Bad { .. }) && matches!(outcomes[15], CheckOutcome::Bad { .. })
    );
}

fn any_event() -> impl Strategy<Value = QualityEvent> {
    (0_u8..5, 0_u8..2).prop_map(|(which, kind)| {
        let kind = if kind == 0 { "check standard" } else { "blank" };
        match which {
            0 => check(kind, "c", CheckOutcome::Good),
            1 => check(kind, "c", bad()),
            2 => check(kind, "c", CheckOutcome::Silent),
            _ => well("w"),
        }
    })
}

proptest! {
    /// A check that is added and passes never withholds more; one that fails never releases more.
    #[test]
    fn a_failure_never_releases(events in proptest::collection::vec(any_event(), 0..14), at in 0_usize..14) {
        let at = at.min(events.len());
        let with = |outcome| {
            let mut events = events.clone();
            events.insert(at, check("check standard", "new", outcome));
            release(&events, &bracket()).len()
        };
        prop_assert!(with(bad()) >= with(CheckOutcome::Silent) || with(CheckOutcome::Silent) > 0);
        let withheld = |outcome| {
            let mut events: Vec<QualityEvent> = events.iter().enumerate().map(|(i, event)| match event {
                QualityEvent::Determination { .. } => well(&i.to_string()),
                other @ QualityEvent::Check { .. } => other.clone(),
            }).collect();
            events.insert(at, check("check standard", "new", outcome));
            ids(&events, &bracket())
        };
        let (failed, passed) = (withheld(bad()), withheld(CheckOutcome::Good));
        prop_assert!(passed.iter().all(|id| failed.contains(id)), "{passed:?} {failed:?}");
    }
}

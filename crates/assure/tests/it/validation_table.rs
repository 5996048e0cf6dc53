//! The validation table: each verdict with the doubt of its evidence, and what would show the rest.

use stillwell_assure::validate::{
    Criterion, Interference, LinearityEvidence, ReferenceCheck, Requirement, RowVerdict, ValidationEvidence,
    ValidationRequirements, ValidationTable, validation_table,
};
use stillwell_stats::random::RandomStream;

fn asked() -> ValidationRequirements {
    let own = |value: f64| Some(Requirement::new(value, "method, revision 1"));
    ValidationRequirements {
        range: Some(Requirement::new([5.0, 75.0], "method, revision 1")),
        deviation_percent: own(10.0),
        detection_limit: own(5.0),
        quantification_limit: Some(Requirement::new(15.0, "Directive (EU) 2020/2184, Annex III")),
        repeatability_percent: own(5.0),
        intermediate_percent: own(8.0),
        bias_percent: own(5.0),
        recovery_percent: Some(Requirement::new([90.0, 110.0], "method, revision 1")),
        interference_percent: own(5.0),
    }
}

fn draws(seed: u64, n: usize, mean: f64, sd: f64) -> Vec<f64> {
    let mut random = RandomStream::new(seed, 0);
    (0..n).map(|_| mean + sd * random.normal()).collect()
}

fn evidence() -> ValidationEvidence {
    let day = |day: u64| draws(100 + day, 3, 50.0 + draws(200 + day, 1, 0.0, 1.0)[0], 1.2);
    ValidationEvidence {
        calibrated_range: Some([0.0, 100.0]),
        linearity: Some(LinearityEvidence {
            largest_deviation_percent: 4.2,
            lack_of_fit_p: Some(0.004),
            n_levels: 5,
        }),
        detection_limit: Some(2.1),
        quantification_limit: Some(6.3),
        days: (0..10).map(day).collect(),
        references: vec![
            ReferenceCheck {
                name: "reference water".to_owned(),
                reference: 50.0,
                reference_u: 0.5,
                found: draws(300, 8, 50.3, 1.5),
            },
            ReferenceCheck {
                name: "river water".to_owned(),
                reference: 12.0,
                reference_u: 0.1,
                found: draws(301, 8, 13.4, 0.4),
            },
            ReferenceCheck {
                name: "well water".to_owned(),
                reference: 30.0,
                reference_u: 1.2,
                found: draws(302, 3, 30.5, 1.0),
            },
        ],
        recoveries_percent: draws(400, 9, 98.0, 5.0),
        interferences: vec![
            Interference {
                name: "chloride 250 mg/L".to_owned(),
                level: 50.0,
                without: draws(500, 6, 50.0, 1.0),
                with: draws(501, 6, 49.6, 1.0),
                n_refused: 0,
            },
            Interference {
                name: "nitrite 5 mg/L".to_owned(),
                level: 50.0,
                without: draws(502, 6, 50.0, 1.0),
                with: draws(503, 6, 55.5, 1.0),
                n_refused: 0,
            },
        ],
    }
}

fn told(table: &ValidationTable) -> String {
    let row = |row: &stillwell_assure::validate::ValidationRow| {
        let mut lines = vec![format!(
            "{} | {} | {} | {}",
            row.criterion.name(),
            row.evidence_words(),
            row.requirement_words(),
            row.verdict_words()
        )];
        lines.extend(row.advice.iter().map(|advice| format!("    {advice}")));
        lines.join("\n")
    };
    table.rows.iter().map(row).collect::<Vec<_>>().join("\n")
}

#[test]
fn a_validated_method_row_by_row() {
    let table = validation_table(&evidence(), &asked(), "mg/L");
    insta::assert_snapshot!(told(&table));
    let verdict = |criterion: Criterion, subject: &str| {
        let found = table.rows.iter().find(|row| row.criterion == criterion && row.subject == subject);
        found.unwrap().verdict.clone()
    };
    assert_eq!(verdict(Criterion::WorkingRange, ""), RowVerdict::Met);
    assert_eq!(verdict(Criterion::Repeatability, ""), RowVerdict::Met);
    assert_eq!(verdict(Criterion::Trueness, "river water"), RowVerdict::NotMet);
    assert!(matches!(verdict(Criterion::Trueness, "well water"), RowVerdict::NotShown { .. }));
    assert_eq!(verdict(Criterion::Selectivity, "chloride 250 mg/L"), RowVerdict::Met);
    assert_eq!(verdict(Criterion::Selectivity, "nitrite 5 mg/L"), RowVerdict::NotMet);
    assert!(!table.is_met());
}

#[test]
fn nothing_known_is_nothing_shown() {
    let table = validation_table(&ValidationEvidence::default(), &asked(), "mg/L");
    assert_eq!(table.rows.len(), Criterion::ALL.len());
    assert!(table.rows.iter().all(|row| matches!(row.verdict, RowVerdict::NotShown { .. })));
    insta::assert_snapshot!(told(&table));
}

#[test]
fn nothing_asked_is_nothing_met() {
    let table = validation_table(&evidence(), &ValidationRequirements::default(), "mg/L");
    assert!(
        table.rows.iter().all(|row| matches!(row.verdict, RowVerdict::NotShown { .. })),
        "{}",
        told(&table)
    );
}

#[test]
fn five_days_are_too_few_and_an_odd_day_is_told_but_counts() {
    let mut few = evidence();
    few.days.truncate(5);
    let table = validation_table(&few, &asked(), "mg/L");
    let row = table.rows.iter().find(|row| row.criterion == Criterion::IntermediatePrecision).unwrap();
    assert!(row.verdict_words().contains("6 days") && row.verdict_words().contains("5 are there"), "{row:?}");
    let mut odd = evidence();
    odd.days[4] = vec![44.0, 50.0, 61.0];
    let with = validation_table(&odd, &asked(), "mg/L");
    let row = with.rows.iter().find(|row| row.criterion == Criterion::Repeatability).unwrap();
    assert!(row.advice.iter().any(|advice| advice.contains("Day 5 scatters more")), "{:?}", row.advice);
    assert_eq!(row.n, 30);
}

#[test]
fn single_values_and_unusable_numbers_show_nothing() {
    let mut odd = evidence();
    odd.recoveries_percent = vec![98.0];
    odd.references[0].found = vec![50.0];
    odd.references[1].reference = 0.0;
    odd.days = vec![vec![50.0, f64::NAN]; 8];
    odd.interferences[0].with = vec![];
    let table = validation_table(&odd, &asked(), "mg/L");
    for criterion in [Criterion::Repeatability, Criterion::IntermediatePrecision, Criterion::Recovery] {
        let row = table.rows.iter().find(|row| row.criterion == criterion).unwrap();
        assert!(matches!(row.verdict, RowVerdict::NotShown { .. }), "{row:?}");
    }
    let of = |subject: &str| table.rows.iter().find(|row| row.subject == subject).unwrap();
    for subject in ["reference water", "river water", "chloride 250 mg/L"] {
        assert!(matches!(of(subject).verdict, RowVerdict::NotShown { .. }), "{subject}");
    }
}

#[test]
fn two_strips_show_no_interference_and_refused_ones_are_told() {
    let mut few = evidence();
    few.interferences[0].with.truncate(2);
    few.interferences[1].n_refused = 3;
    let table = validation_table(&few, &asked(), "mg/L");
    let of = |subject: &str| table.rows.iter().find(|row| row.subject == subject).unwrap();
    assert!(of("chloride 250 mg/L").verdict_words().contains("three or more with the substance"));
    assert_eq!(of("nitrite 5 mg/L").verdict, RowVerdict::NotMet);
    let told = of("nitrite 5 mg/L").advice.concat();
    assert!(told.contains("3 results were refused and not counted"), "{told}");
}

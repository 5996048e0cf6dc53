//! Other ways to evaluate and calibrate the same scenario: whatever a method chooses, no well may come out wrong and be
//! believed.

use crate::alder_vale::{Came, Study, TRUTH, came, of, wrongly_below};

const LINE: &str = r#"baseline = { kind = "line", left_v = [-0.42, -0.38], right_v = [-0.84, -0.80] }"#;
const PEAK: &str = r#"measure = "height" }"#;

/// Name, and texts of the method to replace.
const VARIANTS: &[(&str, &[(&str, &str)])] = &[
    ("as it stands", &[]),
    ("area", &[(PEAK, r#"measure = "area" }"#)]),
    ("height at -0.61 V", &[(PEAK, r#"measure = "height-at", at_v = -0.61 }"#)]),
    ("tangent", &[(LINE, r#"baseline = { kind = "tangent", window_v = [-0.84, -0.38] }"#)]),
    (
        "minima",
        &[(LINE, r#"baseline = { kind = "minima", left_v = [-0.46, -0.38], right_v = [-0.84, -0.76] }"#)],
    ),
    (
        "polynomial",
        &[(
            LINE,
            r#"baseline = { kind = "polynomial", degree = 2, left_v = [-0.46, -0.34], right_v = [-0.86, -0.76] }"#,
        )],
    ),
    (
        "asymmetric",
        &[(LINE, r#"baseline = { kind = "asymmetric-least-squares", stiffness = 1e6, asymmetry = 0.001 }"#)],
    ),
    ("no baseline", &[(LINE, r#"baseline = { kind = "none" }"#)]),
    ("no blank", &[(r#"blank = "subtract""#, r#"blank = "ignore""#)]),
    ("aligned blank", &[(r#"blank = "subtract""#, r#"blank = "align""#)]),
    (
        "no blank, no baseline",
        &[(r#"blank = "subtract""#, r#"blank = "ignore""#), (LINE, r#"baseline = { kind = "none" }"#)],
    ),
    ("quadratic", &[(r#"model = "line""#, r#"model = "quadratic""#)]),
    ("through the origin", &[(r#"model = "line""#, r#"model = "line-through-origin""#)]),
    (
        "quadratic, prediction band",
        &[
            (r#"model = "line""#, r#"model = "quadratic""#),
            (r#"detection = "iso-11843-2""#, r#"detection = "prediction-band""#),
        ],
    ),
    (
        "through the origin, prediction band",
        &[
            (r#"model = "line""#, r#"model = "line-through-origin""#),
            (r#"detection = "iso-11843-2""#, r#"detection = "prediction-band""#),
        ],
    ),
    ("prediction band", &[(r#"detection = "iso-11843-2""#, r#"detection = "prediction-band""#)]),
    ("no weights", &[(r#"weights = "variance-function""#, r#"weights = "none""#)]),
    ("1/x", &[(r#"weights = "variance-function""#, r#"weights = "1/x""#)]),
    ("all lots", &[(r#"per = "lot""#, r#"per = "all-lots""#)]),
    ("99 %", &[("coverage = 0.95", "coverage = 0.99")]),
    ("din blank", &[(r#"detection = "iso-11843-2""#, r#"detection = "din-32645-blank""#)]),
    ("din calibration", &[(r#"detection = "iso-11843-2""#, r#"detection = "din-32645-calibration""#)]),
    ("shorthand", &[(r#"detection = "iso-11843-2""#, r#"detection = "shorthand-3.3""#)]),
    ("cfr", &[(r#"detection = "iso-11843-2""#, r#"detection = "cfr-136-appendix-b""#)]),
    (
        "no smoothing",
        &[(
            r#"smooth = { kind = "savitzky-golay", window = 11, degree = 2 }"#,
            r#"smooth = { kind = "none" }"#,
        )],
    ),
    (
        "moving average",
        &[(r#"kind = "savitzky-golay", window = 11, degree = 2"#, r#"kind = "moving-average", window = 31"#)],
    ),
    ("degree 5 of 7", &[("window = 11, degree = 2", "window = 7, degree = 5")]),
    ("wide peak window", &[("window_v = [-0.50, -0.72]", "window_v = [-0.44, -0.78]")]),
    ("wrong peak window", &[("window_v = [-0.50, -0.72]", "window_v = [-0.40, -0.52]")]),
    ("oxidation", &[(r#"direction = "reduction""#, r#"direction = "oxidation""#)]),
];

#[test]
fn no_choice_of_a_method_makes_a_well_over_the_limit_one_below_it() {
    let mut bad = Vec::new();
    for (name, replacements) in VARIANTS {
        let mut study = Study::read();
        for (from, to) in *replacements {
            study.in_method(from, to);
        }
        let report = match study.outcome() {
            Ok(report) => report,
            Err(problems) => {
                println!("{name:<24} not read: {}", problems.problems[0].found);
                continue;
            }
        };
        let words: Vec<String> = TRUTH
            .iter()
            .map(|(sample, truth)| {
                let came = came(of(&report, sample), *truth);
                format!("{:<9}", format!("{came:?}"))
            })
            .collect();
        let below = wrongly_below(&report);
        println!("{name:<24} {} {}", words.join(" "), below.join(" "));
        if !below.is_empty() {
            bad.push(format!("{name}: {below:?}"));
        }
        let n_wrong =
            TRUTH.iter().filter(|(sample, truth)| came(of(&report, sample), *truth) == Came::Wrong).count();
        // Eight intervals of 95 %: one may miss by chance, two hardly.
        if n_wrong > 1 {
            bad.push(format!("{name}: {n_wrong} wells wrong"));
        }
    }
    assert!(bad.is_empty(), "{}", bad.join("\n"));
}

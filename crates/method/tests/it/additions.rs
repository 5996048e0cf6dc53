//! Standard addition through the chain: made-up scans with known truth, a matrix that takes a part of the slope, refusals.

use std::fmt::Write as _;

use stillwell_calibrate::{AdditionDesign, MatrixEffect};
use stillwell_method::{AdditionReport, Effect, Input, NamedText, RawFile, addition, determine};
use stillwell_stats::random::RandomStream;

const METHOD: &str = r#"[method]
name = "Nitrate by test strips"
revision = "1"

[method.analyte]
name = "nitrate"
reported_as = "mg/L as NO3-"

[technique]
kind = "square-wave"
start_v = -0.300
end_v = -0.900
step_v = 0.004
amplitude_v = 0.025
frequency_hz = 25.0

[electrode]
material = "copper-modified carbon"
single_use = true

[reference]
kind = "printed silver / silver chloride"
shift_limit_v = 0.030

[sample]
electrolyte = "0.1 mol/L sodium sulphate, pH 3"
electrodes = 3
temperature_c = [10.0, 30.0]
temperature_tolerance_k = 1.0

[evaluation]
blank = "subtract"
smooth = { kind = "savitzky-golay", window = 11, degree = 2 }
baseline = { kind = "line", left_v = [-0.42, -0.38], right_v = [-0.84, -0.80] }
peak = { window_v = [-0.50, -0.72], direction = "reduction", measure = "height" }

[calibration]
model = "line"
weights = "none"

[calibration.acceptance]
back_calculated_percent = 20.0
"#;

/// One scan: what the strip sees in mg/L times the matrix's factor, and its cells of the run sheet.
struct Scan {
    file: &'static str,
    seen: f64,
    role: &'static str,
    sample: &'static str,
    level: Option<f64>,
    electrode: String,
    dilution: Option<f64>,
}

struct Study {
    scans: Vec<Scan>,
}

impl Study {
    fn new() -> Self {
        let mut study = Self { scans: Vec::new() };
        study.add("blanks.csv", 0.0, "blank", "", None, "B1", None);
        study.add("blanks.csv", 0.0, "blank", "", None, "B2", None);
        for level in [0.0, 25.0, 50.0, 75.0, 100.0] {
            for strip in ["a", "b", "c"] {
                study.add(
                    "standards.csv",
                    level,
                    "standard",
                    "",
                    Some(level),
                    &format!("S{level}{strip}"),
                    None,
                );
            }
        }
        study
    }

    #[expect(clippy::too_many_arguments, reason = "one a column of the run sheet")]
    fn add(
        &mut self,
        file: &'static str,
        seen: f64,
        role: &'static str,
        sample: &'static str,
        level: Option<f64>,
        electrode: &str,
        dilution: Option<f64>,
    ) {
        let electrode = electrode.to_owned();
        self.scans.push(Scan { file, seen, role, sample, level, electrode, dilution });
    }

    /// Fresh strips, three an addition.
    fn fresh(&mut self, sample: &'static str, truth: f64, slope: f64) {
        for added in [0.0, 20.0, 40.0, 60.0] {
            for strip in ["a", "b", "c"] {
                let electrode = format!("{sample}-{added}{strip}");
                let seen = slope * (truth + added);
                self.add("additions.csv", seen, "addition", sample, Some(added), &electrode, None);
            }
        }
    }

    /// Four strips, each through all additions, which dilute the sample: 1 mL of a standard at 200 mg/L each time to 10 mL.
    fn followed(&mut self, sample: &'static str, truth: f64, slope: f64) {
        for strip in ["a", "b", "c", "d"] {
            for ml in [0.0, 1.0, 2.0, 3.0] {
                let dilution = (10.0 + ml) / 10.0;
                let added = 200.0 * ml / (10.0 + ml);
                let seen = slope * (truth / dilution + added);
                let electrode = format!("{sample}-{strip}");
                self.add("additions.csv", seen, "addition", sample, Some(added), &electrode, Some(dilution));
            }
        }
    }

    fn input(&self) -> Input {
        let mut sheet =
            "file,scan,role,sample,level,unit,lot,electrode,batch,temperature_c,dilution,dilution_u\n"
                .to_owned();
        let mut files: Vec<(&str, Vec<Vec<f64>>)> = Vec::new();
        for (index, scan) in (0..).zip(&self.scans) {
            let place = files.iter().position(|(name, _)| *name == scan.file).unwrap_or_else(|| {
                files.push((scan.file, Vec::new()));
                files.len() - 1
            });
            files[place].1.push(currents_a(scan, index));
            let level = scan.level.map_or_else(String::new, |level| level.to_string());
            let unit = if scan.level.is_some() { "mg/L as NO3-" } else { "" };
            let (dilution, u) =
                scan.dilution.map_or_else(Default::default, |d| (d.to_string(), "0.001".to_owned()));
            let Scan { file, role, sample, electrode, .. } = scan;
            let number = files[place].1.len();
            writeln!(
                sheet,
                "{file},{number},{role},{sample},{level},{unit},L1,{electrode},D1,21,{dilution},{u}"
            )
            .expect("a text");
        }
        let raw: Vec<RawFile> = files
            .iter()
            .map(|(name, scans)| RawFile { name: (*name).to_owned(), bytes: raw_text(scans).into_bytes() })
            .collect();
        Input::assemble(
            NamedText { name: "method.toml", text: METHOD },
            NamedText { name: "run-sheet.csv", text: &sheet },
            &raw,
            |_| {},
        )
        .expect("the study holds together")
    }

    fn report(&self) -> AdditionReport {
        addition(&self.input())
    }
}

fn potentials_v() -> impl Iterator<Item = f64> {
    (0..151).map(|point| -0.3 - 0.004 * f64::from(point))
}

/// Strips differ by 2 %, scans by 0.4 %; the shape of the peak is no physics.
fn currents_a(scan: &Scan, index: u64) -> Vec<f64> {
    let name = scan.electrode.bytes().fold(7, |sum: u64, byte| (sum * 31 + u64::from(byte)) % 1_000_003);
    let strip = 1.0 + 0.02 * RandomStream::new(43, name).normal();
    let mut random = RandomStream::new(44, index);
    let height_a = -0.30e-6 * scan.seen * strip * (1.0 + 0.004 * random.normal());
    potentials_v()
        .map(|at_v| {
            let cosh = libm::cosh((at_v + 0.61) / 0.0624);
            let background_a = -1.2e-6 + 1.5e-6 * (at_v + 0.3);
            background_a + height_a / (cosh * cosh) + 0.02e-6 * random.normal()
        })
        .collect()
}

fn raw_text(scans: &[Vec<f64>]) -> String {
    let mut text = format!("E / V{}\n", ",i / µA".repeat(scans.len()));
    for (point, at_v) in potentials_v().enumerate() {
        let cells: Vec<String> = scans.iter().map(|scan| format!("{:.4}", 1e6 * scan[point])).collect();
        writeln!(text, "{at_v:.3},{}", cells.join(",")).expect("a text");
    }
    text
}

fn in_words(report: &AdditionReport) -> String {
    let of_series = report.series.iter().map(|series| {
        let remarks = series.remarks.iter().map(|r| format!("  {}: {}", r.effect.word(), r.words));
        series.sentences.iter().cloned().chain(remarks).collect::<Vec<_>>().join("\n")
    });
    of_series.collect::<Vec<_>>().join("\n")
}

#[test]
fn a_matrix_that_takes_a_quarter_of_the_slope_does_not_take_it_from_the_result() {
    let mut study = Study::new();
    study.fresh("W1", 30.0, 0.75);
    study.followed("W2", 45.0, 0.75);
    study.fresh("W3", 30.0, 1.0);
    let report = study.report();
    println!("{}", in_words(&report));
    assert_eq!(report.series.len(), 3);
    for (series, truth) in report.series.iter().zip([30.0, 45.0, 30.0]) {
        let result = series.result.as_ref().expect("a result");
        assert!(result.low <= truth && truth <= result.high, "{}: {result:?}", series.sample);
        assert!(result.high - result.low < 0.4 * truth, "{}: {result:?}", series.sample);
    }
    let [w1, w2, w3] = report.series.as_slice() else { unreachable!("three series") };
    let effect = |series: &stillwell_method::AdditionLink| series.matrix.map(|matrix| matrix.effect);
    assert_eq!(effect(w1), Some(MatrixEffect::Differs));
    assert_eq!(effect(w2), Some(MatrixEffect::Differs));
    assert_eq!(effect(w3), Some(MatrixEffect::WithinBound));
    assert!(w1.sentences[1].starts_with("external calibration cannot be defended here"));
    assert!(w3.sentences[1].starts_with("no matrix effect seen, and one of"));
    // The external calibration would have read a quarter too little.
    let external = w1.matrix.map(|matrix| matrix.external_reading).expect("a comparison");
    assert!((external - 22.5).abs() < 2.0, "{external}");
    let design = w2.result.as_ref().map(|result| result.estimate.design);
    assert_eq!(design, Some(AdditionDesign::FollowedElectrodes { is_balanced: true }));
}

#[test]
fn additions_are_no_samples_and_change_no_determination() {
    let mut study = Study::new();
    for strip in ["a", "b", "c"] {
        study.add("wells.csv", 30.0, "sample", "W1", None, &format!("W1{strip}"), None);
    }
    let before = determine(&study.input());
    study.fresh("W1", 30.0, 1.0);
    let after = determine(&study.input());
    assert_eq!(before.determinations.len(), 1);
    assert_eq!(
        format!("{:?}", before.determinations[0].outcome),
        format!("{:?}", after.determinations[0].outcome)
    );
    assert_eq!(after.determinations.len(), 1);
    // Following a strip through the additions to one sample is no reuse.
    study.followed("W2", 45.0, 1.0);
    let report = study.report();
    assert!(report.scans.iter().all(|scan| scan.findings.iter().all(|f| f.check.id() != "electrode-reused")));
}

#[test]
fn without_standards_the_result_stands_and_the_matrix_is_left_open() {
    let mut study = Study::new();
    study.scans.retain(|scan| scan.role != "standard");
    study.fresh("W1", 30.0, 0.75);
    let report = study.report();
    println!("{}", in_words(&report));
    let series = &report.series[0];
    let result = series.result.as_ref().expect("a result");
    assert!(result.low <= 30.0 && 30.0 <= result.high && series.matrix.is_none());
    assert!(
        series.remarks.iter().any(|remark| remark.words.contains("it cannot be told whether the matrix"))
    );
}

#[test]
fn what_carries_no_line_is_refused_in_words() {
    let refusal = |study: &Study| {
        let report = study.report();
        println!("{}", in_words(&report));
        let series = &report.series[0];
        assert!(series.is_refused() && series.sentences.is_empty());
        let refused = series.remarks.iter().find(|remark| remark.effect == Effect::Refused);
        refused.expect("a reason").words.clone()
    };
    let mut one = Study::new();
    one.followed("W1", 30.0, 1.0);
    one.scans.retain(|scan| scan.role != "addition" || scan.electrode == "W1-a");
    assert!(refusal(&one).contains("1 electrode(s) followed"));
    let mut two = Study::new();
    two.fresh("W1", 30.0, 1.0);
    two.scans.retain(|scan| scan.role != "addition" || scan.level.is_some_and(|level| level < 30.0));
    assert!(refusal(&two).contains("2 different additions"));
    let mut bent = Study::new();
    bent.fresh("W1", 30.0, 1.0);
    for scan in bent.scans.iter_mut().filter(|scan| scan.role == "addition") {
        scan.seen -= 0.004 * scan.seen * scan.seen;
    }
    assert!(refusal(&bent).contains("the line flattens"));
}

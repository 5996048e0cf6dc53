//! The invented scenario `examples/alder-vale` in memory, with its true values, ready to be spoilt.

use stillwell_assure::DecisionCode;
use stillwell_house::ExampleFolder;
use stillwell_method::{
    Determination, Input, NamedText, Outcome, Problems, RawFile, Report, Role, Row, determine,
};

/// Well and true value, mg/L as NO3-: the table of the scenario's README.
pub(crate) const TRUTH: [(&str, f64); 8] = [
    ("AV-01", 17.6),
    ("AV-02", 49.3),
    ("AV-03", 78.0),
    ("AV-04", 71.0),
    ("AV-05", 0.0),
    ("AV-06", 148.0),
    ("AV-07", 61.0),
    ("AV-08", 31.0),
];

pub(crate) fn truth(sample: &str) -> f64 {
    TRUTH.iter().find(|(name, _)| *name == sample).map(|(_, value)| *value).expect("a well of the scenario")
}

/// Method, run sheet and raw files as texts and bytes.
#[derive(Clone)]
pub(crate) struct Study {
    pub(crate) method: String,
    pub(crate) sheet: String,
    pub(crate) files: Vec<RawFile>,
}

impl Study {
    pub(crate) fn read() -> Self {
        let ExampleFolder { method, sheet, raw } = stillwell_house::example("alder-vale");
        let files = raw.into_iter().map(|(name, bytes)| RawFile { name, bytes }).collect();
        Self { method, sheet, files }
    }

    pub(crate) fn assembled(&self) -> Result<Input, Problems> {
        Input::assemble(
            NamedText { name: "method.toml", text: &self.method },
            NamedText { name: "run-sheet.csv", text: &self.sheet },
            &self.files,
            |_| {},
        )
    }

    /// The scenario as it stands, assembled.
    pub(crate) fn input() -> Input {
        Self::read().assembled().expect("the scenario holds together")
    }

    pub(crate) fn bytes_of(&mut self, file: &str) -> &mut Vec<u8> {
        let found = self.files.iter_mut().find(|raw| raw.name == file);
        &mut found.expect("a file of the scenario").bytes
    }

    /// Rewrites a Latin-1 file line by line.
    pub(crate) fn rewrite(&mut self, file: &str, line: impl Fn(usize, &str) -> String) {
        let bytes = self.bytes_of(file);
        let text: String = bytes.iter().map(|byte| char::from(*byte)).collect();
        let lines: Vec<String> = text.lines().enumerate().map(|(n, content)| line(n, content)).collect();
        *bytes = lines.join("\n").chars().map(|c| u8::try_from(u32::from(c)).expect("Latin-1")).collect();
    }

    /// Replaces a text of the method file that must be there.
    pub(crate) fn in_method(&mut self, from: &str, to: &str) {
        assert!(self.method.contains(from), "{from} is not in the method");
        self.method = self.method.replace(from, to);
    }

    pub(crate) fn outcome(&self) -> Result<Report, Problems> {
        self.assembled().map(|input| determine(&input))
    }
}

/// The rows that `wanted` picks, for changing.
pub(crate) fn rows_mut(input: &mut Input, wanted: impl Fn(&Row) -> bool) -> impl Iterator<Item = &mut Row> {
    input.run_sheet.rows.iter_mut().filter(move |row| wanted(row))
}

/// File and place (from 0) of every scan that `wanted` picks.
pub(crate) fn scans_where(input: &Input, wanted: impl Fn(&Row) -> bool) -> Vec<(String, usize)> {
    let rows = input.run_sheet.rows.iter().filter(|row| wanted(row));
    rows.map(|row| (row.file.clone(), row.scan - 1)).collect()
}

pub(crate) fn is_sample(row: &Row, sample: &str) -> bool {
    row.role == Role::Sample && row.sample == sample
}

/// Changes the currents of every scan that `wanted` picks; the closure gets currents and the scan's place in the sample.
pub(crate) fn change(
    input: &mut Input,
    wanted: impl Fn(&Row) -> bool,
    mut edit: impl FnMut(&mut Vec<f64>, usize),
) {
    for (nth, (file, place)) in scans_where(input, wanted).into_iter().enumerate() {
        let scan = &mut input.files.get_mut(&file).expect("the file").scans[place];
        edit(&mut scan.current_a, nth);
        // Forward and reverse are rebuilt so that they stay consistent with the difference.
        if let Some(reverse) = &scan.reverse_a {
            let forward = scan.current_a.iter().zip(reverse).map(|(current, reverse)| current + reverse);
            scan.forward_a = Some(forward.collect());
        }
    }
}

pub(crate) fn currents(input: &Input, file: &str, scan: usize) -> Vec<f64> {
    input.files[file].scans[scan].current_a.clone()
}

pub(crate) fn of<'r>(report: &'r Report, sample: &str) -> &'r Determination {
    let is_it = |d: &&Determination| d.sample == sample && d.role == Role::Sample;
    report.determinations.iter().find(is_it).expect("the sample is determined")
}

/// What became of one sample, held against its truth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Came {
    /// No number.
    Refused,
    /// A number, but no verdict.
    Withheld,
    /// A number or bound that holds the truth.
    Right,
    /// A number or bound that does not.
    Wrong,
}

pub(crate) fn came(determination: &Determination, truth: f64) -> Came {
    let holds = match &determination.outcome {
        Outcome::Refused => {
            assert!(
                determination.refusals().next().is_some(),
                "refused without a reason: {determination:#?}"
            );
            return Came::Refused;
        }
        Outcome::Quantified(estimate) => estimate.low <= truth && truth <= estimate.high,
        Outcome::AboveRange(above) => truth >= above.at_least.value(),
        Outcome::BelowQuantification(less) | Outcome::NotDetected(less) => truth <= less.less_than.value(),
    };
    match (determination.withheld().next().is_some(), holds) {
        (true, _) => Came::Withheld,
        (false, true) => Came::Right,
        (false, false) => Came::Wrong,
    }
}

/// Samples said to be below a limit that they exceed.
pub(crate) fn wrongly_below(report: &Report) -> Vec<String> {
    let limits = [("who-nitrate", 50.0), ("us-nitrate", 10.0 * 62.0049 / 14.0067)];
    let mut wrong = Vec::new();
    for determination in report.determinations.iter().filter(|d| d.withheld().next().is_none()) {
        for decision in determination.decisions.iter().filter(|d| d.code == DecisionCode::Below) {
            let limit = limits.iter().find(|(id, _)| *id == decision.limit_id).expect("a known limit").1;
            if truth(&determination.sample) > limit {
                wrong.push(format!("{} {}", determination.sample, decision.limit_id));
            }
        }
    }
    wrong
}

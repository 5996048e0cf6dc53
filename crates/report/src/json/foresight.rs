//! `foresee --format json`: one circuit, or the circuits of a trade study.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};
use stillwell_foresee::{
    Choice, CircuitModel, Comparison, LIMITS_FROM, LevelOutlook, Outlook, Question, Share, Spread, Varied,
};

use super::{FindingJson, MethodJson, in_unit};

/// What was asked, and under which names.
pub struct Asked<'a> {
    /// Method, cell and circuit, trials and seed.
    pub question: &'a Question<'a>,
    /// The cell file's name.
    pub cell_name: &'a str,
    /// The circuit file's name.
    pub circuit_name: &'a str,
    /// The circuit before anything is varied.
    pub circuit: &'a CircuitModel,
}

impl Asked<'_> {
    /// The unit of every level.
    pub fn unit(&self) -> String {
        self.question.method.analyte.reported_as.to_string()
    }
}

/// A trade study and what came of it.
pub struct Trade<'a> {
    /// What was asked.
    pub asked: &'a Asked<'a>,
    /// The numbers that were varied.
    pub varied: &'a [Varied],
    /// The circuits that were tried.
    pub choices: &'a [Choice],
    /// What each promises, in the order of the choices.
    pub outlooks: &'a [Outlook],
    /// How they compare.
    pub comparison: &'a Comparison,
    /// Place of the best circuit, with what limits it.
    pub best: Option<(usize, Vec<Share>)>,
    /// The same of the worst, where it is another.
    pub worst: Option<(usize, Vec<Share>)>,
}

/// What circuits promise.
#[derive(Serialize, JsonSchema)]
pub struct Document {
    method: MethodJson,
    simulated: bool,
    cell: String,
    circuit: String,
    trials: u32,
    seed: u64,
    /// A part limits where the detection limit falls by this share without it.
    limits_from_share: f64,
    varied: Vec<&'static str>,
    circuits: Vec<CircuitJson>,
}

/// One circuit. Parts are tried for a single circuit, and for the best and the worst of several.
#[derive(Serialize, JsonSchema)]
struct CircuitJson {
    /// The varied numbers by their keys, which name their units.
    varied: Map<String, Value>,
    calibrated: u32,
    not_calibrated_because: Option<FindingJson>,
    /// Limits over the calibrated trials.
    #[serde(flatten)]
    in_levels: Map<String, Value>,
    times_best: Option<f64>,
    noise_a: Option<f64>,
    n_scans: usize,
    n_scans_refused: usize,
    scans_refused_mostly_by: Option<&'static str>,
    levels: Vec<LevelJson>,
    parts: Option<Vec<PartJson>>,
}

#[derive(Serialize, JsonSchema)]
struct LevelJson {
    #[serde(flatten)]
    in_levels: Map<String, Value>,
    n_numbers: usize,
    n_bounds: usize,
    n_refused: usize,
    n_held: usize,
    n_falsely_below: usize,
}

#[derive(Serialize, JsonSchema)]
struct PartJson {
    taken_as_perfect: &'static str,
    #[serde(flatten)]
    in_levels: Map<String, Value>,
    fall_share: Option<f64>,
    calibrated: u32,
    not_calibrated_because: Option<FindingJson>,
    limits: bool,
}

/// One circuit.
pub fn of_one(asked: &Asked<'_>, outlook: &Outlook, shares: &[Share]) -> Document {
    let unit = asked.question.method.analyte.reported_as.suffix();
    let times_best = outlook.detection_limit.map(|_| 1.0);
    document(asked, Vec::new(), vec![circuit(&unit, Map::new(), outlook, times_best, Some(shares))])
}

/// The circuits of a trade study.
pub fn of_trade(trade: &Trade<'_>) -> Document {
    let unit = trade.asked.question.method.analyte.reported_as.suffix();
    let keys: Vec<&'static str> = trade.varied.iter().map(|one| one.key.name()).collect();
    let tried = [&trade.best, &trade.worst];
    let circuits = trade.choices.iter().zip(trade.outlooks).enumerate().map(|(place, (choice, outlook))| {
        let named = keys.iter().zip(&choice.values);
        let varied = named.map(|(key, value)| ((*key).to_owned(), Value::from(*value))).collect();
        let of_place = tried.into_iter().flatten().find(|(of, _)| *of == place);
        let times_best = trade.comparison.times_best.get(place).copied().flatten();
        circuit(&unit, varied, outlook, times_best, of_place.map(|(_, shares)| shares.as_slice()))
    });
    document(trade.asked, keys.clone(), circuits.collect())
}

fn document(asked: &Asked<'_>, varied: Vec<&'static str>, circuits: Vec<CircuitJson>) -> Document {
    Document {
        method: MethodJson::from(asked.question.method),
        simulated: true,
        cell: asked.cell_name.to_owned(),
        circuit: asked.circuit_name.to_owned(),
        trials: asked.question.trials,
        seed: asked.question.seed,
        limits_from_share: LIMITS_FROM,
        varied,
        circuits,
    }
}

fn circuit(
    unit: &str,
    varied: Map<String, Value>,
    outlook: &Outlook,
    times_best: Option<f64>,
    shares: Option<&[Share]>,
) -> CircuitJson {
    let of = |spread: Option<Spread>, part: fn(Spread) -> f64| spread.map(part);
    let (detection, quantification) = (outlook.detection_limit, outlook.quantification_limit);
    CircuitJson {
        varied,
        calibrated: outlook.calibrated,
        not_calibrated_because: outlook
            .obstacle
            .as_ref()
            .map(|obstacle| FindingJson::from(&obstacle.finding)),
        in_levels: in_unit(
            unit,
            [
                ("detection_limit_median", of(detection, |limit| limit.median)),
                ("detection_limit_lowest", of(detection, |limit| limit.low)),
                ("detection_limit_highest", of(detection, |limit| limit.high)),
                ("quantification_limit_median", of(quantification, |limit| limit.median)),
                ("quantification_limit_lowest", of(quantification, |limit| limit.low)),
                ("quantification_limit_highest", of(quantification, |limit| limit.high)),
            ],
        ),
        times_best,
        noise_a: outlook.noise_a,
        n_scans: outlook.scans.0,
        n_scans_refused: outlook.scans.1,
        scans_refused_mostly_by: outlook.scan_obstacle.map(|(check, _)| check.id()),
        levels: outlook.levels.iter().map(|level| level_of(unit, level)).collect(),
        parts: shares.map(|shares| shares.iter().map(|share| part(unit, share)).collect()),
    }
}

fn level_of(unit: &str, level: &LevelOutlook) -> LevelJson {
    LevelJson {
        in_levels: in_unit(
            unit,
            [
                ("truth", Some(level.truth)),
                ("bias", level.bias),
                ("standard_deviation", level.standard_deviation),
                ("expanded_u_median", level.expanded_u),
            ],
        ),
        n_numbers: level.quantified,
        n_bounds: level.bounded,
        n_refused: level.refused,
        n_held: level.held,
        n_falsely_below: level.falsely_below,
    }
}

fn part(unit: &str, share: &Share) -> PartJson {
    PartJson {
        taken_as_perfect: share.part.name(),
        in_levels: in_unit(unit, [("detection_limit_median", share.detection_limit)]),
        fall_share: share.fall,
        calibrated: share.calibrated,
        not_calibrated_because: share.obstacle.as_ref().map(|obstacle| FindingJson::from(&obstacle.finding)),
        limits: share.limits,
    }
}

//! What keeps a method from a lower detection limit: each part in turn is taken as perfect, on the same strips.

use stillwell_method::Check;
use stillwell_twin::{Part, Population};

use crate::error::ForeseeError;
use crate::model::CircuitModel;
use crate::outlook::{Obstacle, Outlook, Question};

/// A part limits where the detection limit falls by at least this share without it. Chosen by this project (common practice,
/// no source): less would hardly be worth a better part, and with a dozen trials hardly be told from chance.
pub const LIMITS_FROM: f64 = 0.20;

/// What becomes of the detection limit without one part.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// The part that is taken as perfect.
    pub part: Limiting,
    /// Median detection limit without it, over all trials whose calibration states one, accepted or not.
    pub detection_limit: Option<f64>,
    /// By which share the detection limit falls without it (below zero: it rises); `None` where one of the two is missing.
    pub fall: Option<f64>,
    /// Trials that are calibrated without it. Fewer than with it, where it hides something else that is wrong.
    pub calibrated: u32,
    /// Why the others are not.
    pub obstacle: Option<Obstacle>,
    /// The check that refused most of the refused scans.
    pub scan_obstacle: Option<Check>,
    /// Whether it limits: the limit falls by [`LIMITS_FROM`] without it, or trials are calibrated only without it.
    pub limits: bool,
}

/// Something that can limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limiting {
    /// A part of the circuit.
    Circuit(Part),
    /// The differences between strips and between scans.
    Strips,
}

impl Limiting {
    /// Its name, for tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Circuit(part) => part.name(),
            Self::Strips => "differences between strips and scans",
        }
    }
}

impl Question<'_> {
    /// The detection limit with each part in turn taken as perfect, the most limiting first. Parts that the circuit does
    /// not have are left out. `outlook` is what [`Question::outlooks`] gives for the same circuit.
    ///
    /// # Errors
    /// As [`Question::outlooks`].
    pub fn shares(
        &self,
        circuit: &CircuitModel,
        outlook: &Outlook,
        progress: impl Fn() + Sync,
    ) -> Result<Vec<Share>, ForeseeError> {
        let parts = parts_of(circuit);
        let without: Vec<CircuitModel> = parts
            .iter()
            .map(|part| CircuitModel { circuit: circuit.circuit.without(*part), ..circuit.clone() })
            .collect();
        let outlooks = self.outlooks(&without, &progress)?;
        let mut shares: Vec<Share> = parts
            .into_iter()
            .zip(&outlooks)
            .map(|(part, without)| share(Limiting::Circuit(part), outlook, without))
            .collect();
        let mut alike = self.cell.clone();
        alike.population = Population::default();
        let alike = Question { cell: &alike, ..*self };
        let outlooks = alike.outlooks(core::slice::from_ref(circuit), &progress)?;
        shares.extend(outlooks.first().map(|without| share(Limiting::Strips, outlook, without)));
        let size = |share: &Share| share.detection_limit.unwrap_or(f64::INFINITY);
        shares.sort_by(|a, b| b.limits.cmp(&a.limits).then(size(a).total_cmp(&size(b))));
        Ok(shares)
    }

    /// How often `progress` of [`Question::shares`] will be called.
    pub fn n_share_steps(&self, circuit: &CircuitModel) -> u64 {
        self.n_steps(parts_of(circuit).len() + 1)
    }
}

fn share(part: Limiting, with: &Outlook, without: &Outlook) -> Share {
    let detection_limit = without.stated_detection_limit;
    let fall = with.stated_detection_limit.zip(detection_limit).map(|(with, without)| 1.0 - without / with);
    let falls = fall.is_some_and(|fall| fall >= LIMITS_FROM);
    Share {
        part,
        detection_limit,
        fall,
        calibrated: without.calibrated,
        obstacle: without.obstacle.clone(),
        scan_obstacle: without.scan_obstacle.map(|(check, _)| check),
        limits: if with.calibrated == 0 { without.calibrated > 0 } else { falls },
    }
}

fn parts_of(circuit: &CircuitModel) -> Vec<Part> {
    Part::ALL.into_iter().filter(|part| has(circuit, *part)).collect()
}

/// Whether a circuit has this part at all.
fn has(model: &CircuitModel, part: Part) -> bool {
    match part {
        Part::ConverterSteps | Part::Johnson | Part::Shot => true,
        Part::Flicker => model.circuit.flicker_a_per_root_hz > 0.0,
        Part::Mains => model.circuit.mains.is_some_and(|mains| mains.amplitude_a > 0.0),
        Part::PotentialSteps => model.circuit.potential_step_v > 0.0,
    }
}

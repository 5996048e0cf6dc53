//! What the interval of one determination is made of: the chain's own uncertainty, component by component, ranked, with Monte
//! Carlo beside it.

use stillwell_assure::{
    Budget, BudgetError, Component, DegreesOfFreedom, Distribution, InputQuantity, IntervalKind,
    MeasurementModel, MonteCarlo, MonteCarloPlan, RunBlocks, Validation,
};
use stillwell_calibrate::{Calibration, ConcentrationEstimate};
use stillwell_evaluate::LevelUncertainty;
use thiserror::Error;

use crate::conditions::temperature_correction;
use crate::curve_chain::{CurveChain, Slot};
use crate::determination::{Determination, Outcome, Report};
use crate::estimate::{measured, measured_across_lots};
use crate::file::CalibrationScope;
use crate::input::Input;
use crate::link::ScanLink;

/// Why a determination has no budget.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum NoBudget {
    /// There is no value whose uncertainty could be parted.
    #[error(
        "sample \"{sample}\" is {outcome}: only a quantified result has a budget, since it alone is a number with an uncertainty"
    )]
    NotQuantified {
        /// The sample.
        sample: String,
        /// Its outcome.
        outcome: &'static str,
    },
    /// The report does not belong to the input.
    #[error("sample \"{sample}\": the report does not belong to this input, so its links lead nowhere")]
    LinksMissing {
        /// The sample.
        sample: String,
    },
    /// The parts cannot be put together.
    #[error(transparent)]
    Uncertainty(#[from] BudgetError),
}

/// The budget of one determination.
#[derive(Debug, Clone, PartialEq)]
pub struct DeterminationBudget {
    /// The sample.
    pub sample: String,
    /// First-order propagation, in the unit of the report.
    pub budget: Budget,
    /// Monte Carlo of the same model.
    pub monte_carlo: MonteCarlo,
    /// The two intervals against each other; both are reported where they disagree.
    pub validation: Validation,
    /// The interval that the chain reports.
    pub reported: [f64; 2],
    /// Components that the method states nothing about: they count as nothing, which nobody has shown.
    pub not_counted: Vec<Component>,
}

/// Components that every determination could have.
const EXPECTED: [Component; 10] = [
    Component::Calibration,
    Component::Blank,
    Component::StandardsPreparation,
    Component::Repeatability,
    Component::BetweenElectrodes,
    Component::BetweenLots,
    Component::Temperature,
    Component::Drift,
    Component::Recovery,
    Component::Dilution,
];

/// The spread that all of the chain's type A parts rest on.
const SPREAD: &str = "scatter of electrode means about the curve";

/// Parts the uncertainty of one determination, and lets Monte Carlo confirm or contradict it. `run` does the blocks of trials,
/// on several processors for instance, without changing the bits.
///
/// The combined standard uncertainty is the chain's own: that of [`LevelUncertainty`] with the relative parts
/// of levels, temperature and dilution.
///
/// # Units
/// The method's reporting unit; `determination` is one of the report's.
///
/// # Errors
/// [`NoBudget`].
///
/// # Source
/// JCGM 100:2008, equation 13; JCGM 101:2008 for Monte Carlo and 8.1 for the comparison.
pub fn budget(
    input: &Input,
    report: &Report,
    determination: &Determination,
    plan: &MonteCarloPlan,
    run: &RunBlocks<'_>,
) -> Result<DeterminationBudget, NoBudget> {
    let sample = determination.sample.clone();
    let Outcome::Quantified(estimate) = &determination.outcome else {
        return Err(NoBudget::NotQuantified { sample, outcome: determination.outcome.word() });
    };
    let parts =
        Parts::of(input, report, determination).ok_or(NoBudget::LinksMissing { sample: sample.clone() })?;
    let chain = parts.chain();
    let (inputs, slots) = parts.inputs(&chain)?;
    let not_counted = EXPECTED.into_iter().filter(|expected| !parts.counts(*expected)).collect::<Vec<_>>();
    let function = |x: &[f64]| chain.level(&slots, x);
    let model = MeasurementModel::new(inputs, &function)?;
    let budget = model.propagate()?;
    let monte_carlo = model.monte_carlo_by(plan, run)?;
    let validation = budget.against(&monte_carlo, IntervalKind::Symmetric, 1)?;
    Ok(DeterminationBudget {
        sample,
        budget,
        monte_carlo,
        validation,
        reported: [estimate.low, estimate.high],
        not_counted,
    })
}

/// What the chain knew when it determined the sample.
struct Parts<'a> {
    made: &'a Calibration,
    label: String,
    files: String,
    level_key: String,
    read: ConcentrationEstimate,
    in_levels: LevelUncertainty,
    is_across_lots: bool,
    level_relative_u: f64,
    temperature_relative_u: f64,
    dilution: f64,
    dilution_u: f64,
}

impl<'a> Parts<'a> {
    fn of(input: &Input, report: &'a Report, determination: &Determination) -> Option<Self> {
        let method = &input.method;
        let calibration = report.calibrations.get(determination.calibration?)?;
        let made = calibration.calibration.as_ref()?;
        let mut scans: Vec<(&ScanLink, f64)> = Vec::new();
        let mut temperature_relative_u: f64 = 0.0;
        for index in &determination.scans {
            let link = report.scans.get(*index)?;
            if !link.counts() || link.signal.is_none() {
                continue;
            }
            let correction = temperature_correction(method, &link.row, calibration.temperature_c).ok()?;
            temperature_relative_u = temperature_relative_u.max(correction.relative_u);
            scans.push((link, correction.factor));
        }
        let is_across_lots = method.calibration.per == CalibrationScope::AllLots;
        let read =
            if is_across_lots { measured_across_lots(made, &scans) } else { measured(made, &scans) }.ok()?;
        let in_levels = read.uncertainty?;
        let (first, _) = scans.first()?;
        Some(Self {
            made,
            label: calibration.key.label(),
            files: files_of(&scans),
            level_key: format!(
                "method file, [calibration] level_relative_u = {}",
                method.calibration.level_relative_u
            ),
            read,
            in_levels,
            is_across_lots,
            level_relative_u: method.calibration.level_relative_u,
            temperature_relative_u,
            dilution: first.row.dilution_factor(),
            dilution_u: first.row.dilution.map_or(0.0, |dilution| dilution.standard_u),
        })
    }

    fn chain(&self) -> CurveChain {
        CurveChain::new(
            &self.made.curve,
            self.read.mean_signal_a,
            self.read.value().unwrap_or_default(),
            self.dilution,
        )
    }

    fn counts(&self, component: Component) -> bool {
        match component {
            Component::Calibration => true,
            Component::BetweenElectrodes => !self.is_across_lots || self.in_levels.of_disagreement > 0.0,
            Component::BetweenLots => self.is_across_lots,
            // An electrode mean scatters with its scans in it.
            Component::Repeatability => {
                self.made.components.scans_per_electrode > 1.0 || !self.is_across_lots
            }
            Component::StandardsPreparation => self.level_relative_u > 0.0,
            Component::Temperature => self.temperature_relative_u > 0.0,
            Component::Dilution => self.dilution_u > 0.0,
            _ => false,
        }
    }

    /// The inputs of the model and what each of them moves; a part of no size is none of them.
    fn inputs(&self, chain: &CurveChain) -> Result<(Vec<InputQuantity>, Vec<Slot>), BudgetError> {
        let df = f64::from(self.made.curve.degrees_of_freedom);
        let mut inputs = Vec::new();
        let mut slots = Vec::new();
        for part in self.of_signal(chain).into_iter().chain(self.of_curve(chain)) {
            let pooled = DegreesOfFreedom::Pooled { spread: SPREAD.to_owned(), degrees_of_freedom: df };
            if let Some(quantity) = part.quantity()? {
                inputs.push(quantity.observed(pooled)?);
                slots.push(part.slot);
            }
        }
        for part in self.stated() {
            if let Some(quantity) = part.quantity()? {
                inputs.push(quantity);
                slots.push(part.slot);
            }
        }
        Ok((inputs, slots))
    }

    /// Parts of the sample's mean signal.
    fn of_signal(&self, chain: &CurveChain) -> Vec<Part> {
        let n = self.read.n_electrodes;
        let (component, repeats) = if self.is_across_lots {
            (Component::BetweenLots, format!("{n} lot(s) of the sample"))
        } else {
            (Component::BetweenElectrodes, format!("{n} electrode(s) of the sample"))
        };
        let part = |name, component, of_level: f64, source: String| Part {
            name,
            component,
            mean: 0.0,
            u: of_level * chain.slope_a_per_level().abs(),
            source,
            slot: Slot::Signal,
        };
        let levels = &self.in_levels;
        let spread = format!("{SPREAD} ({}), {repeats}, {}", self.label, self.files);
        let fewer = "scans that the sample's electrodes have fewer than the standards'".to_owned();
        let own = format!(
            "the sample's own electrodes in {}, which differ more than the calibration's",
            self.files
        );
        vec![
            part("electrodes of the sample", component, levels.of_electrodes, spread),
            part("fewer scans", Component::Repeatability, levels.of_fewer_scans, fewer),
            part("disagreement of the electrodes", component, levels.of_disagreement, own),
        ]
    }

    /// The ways in which the curve may be wrong, each one standard uncertainty wide.
    fn of_curve(&self, chain: &CurveChain) -> Vec<Part> {
        let (n, label) = (self.made.statistics.n_points, &self.label);
        let source = format!("{n} electrode means of the standards, {label}");
        let directions = chain.directions.iter().enumerate();
        directions
            .map(|(at, direction)| Part {
                name: direction.name,
                component: Component::Calibration,
                mean: 0.0,
                u: 1.0,
                source: source.clone(),
                slot: Slot::Direction(at),
            })
            .collect()
    }

    /// What method file and run sheet state.
    fn stated(&self) -> [Part; 3] {
        let part = |name, component, mean, u, source: &str, slot| Part {
            name,
            component,
            mean,
            u,
            source: source.to_owned(),
            slot,
        };
        [
            part(
                "levels of the standards",
                Component::StandardsPreparation,
                1.0,
                self.level_relative_u,
                &self.level_key,
                Slot::Factor,
            ),
            part(
                "temperature",
                Component::Temperature,
                1.0,
                self.temperature_relative_u,
                "method file, [sample] temperature_coefficient_per_k and its uncertainty; run sheet, temperature_c",
                Slot::Factor,
            ),
            part(
                "dilution",
                Component::Dilution,
                self.dilution,
                self.dilution_u,
                "run sheet, dilution and dilution_u",
                Slot::Dilution,
            ),
        ]
    }
}

/// The raw files of the scans, each once.
fn files_of(scans: &[(&ScanLink, f64)]) -> String {
    let mut files: Vec<&str> = scans.iter().map(|(link, _)| link.raw.file.as_str()).collect();
    files.sort_unstable();
    files.dedup();
    files.join(", ")
}

/// One part before it is known to have any size.
struct Part {
    name: &'static str,
    component: Component,
    mean: f64,
    u: f64,
    source: String,
    slot: Slot,
}

impl Part {
    fn quantity(&self) -> Result<Option<InputQuantity>, BudgetError> {
        if self.u <= 0.0 {
            return Ok(None);
        }
        let known = Distribution::Normal { mean: self.mean, standard_uncertainty: self.u };
        InputQuantity::new(self.name, self.component, known, &self.source).map(Some)
    }
}

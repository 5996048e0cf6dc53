//! Standards to calibration, signals to concentrations, and the limits below which nothing is said.
//!
//! In go the signals of standards ([`StandardSignal`]) and what the method demands ([`CalibrationSettings`]); out comes a
//! [`Calibration`]: the kernel's frozen constants, the statistics behind them, and findings that say whether to believe it.
//! Start with [`calibrate`], then [`concentration`] for a sample and one of the `detection_limits_…` functions; ion-selective
//! electrodes, whose potential follows the logarithm, start with [`log_line`].
//!
//! Beside the calibration stand [`standard_addition`] (the sample's own matrix), [`prepare_standards`] (levels from a stock, with
//! their covariance) and [`plan_design`] (how many standards, strips and scans reach a target).
//!
//! The electrode is a level of its own: scans of one electrode are averaged and count once, in standards and in samples.
//! A calibration that cannot carry a number is refused with a typed error ([`CalibrateError`]); one that can but should not is
//! returned with its findings. r² decides nothing.
//!
//! Never in this room: files, units and species (levels are plain numbers in one unit), verdicts and their wording.

mod acceptance;
mod addition;
mod back_calculation;
mod calibration;
mod check;
mod concentration;
mod curve_tests;
mod din_32645;
mod electrode;
mod error;
mod iso_11843;
mod limits;
mod method_detection_limit;
mod planning;
mod potentiometry;
mod prediction_band;
mod preparation;
mod replicates;
mod shorthand;
mod standard;
mod weights;

pub use acceptance::check_standard_recovery;
pub use addition::{
    AdditionDesign, AdditionError, AdditionEstimate, AdditionPoint, AdditionScan, AdditionSettings,
    AdditionWeights, BackgroundTest, CurvatureTest, ElectrodeLine, MatrixComparison, MatrixDemands,
    MatrixEffect, matrix_comparison, standard_addition,
};
pub use back_calculation::{LevelCheck, StandardPoint};
pub use calibration::{Calibration, Statistics, calibrate};
pub use check::{Check, Finding, Outcome, Role};
pub use concentration::{
    ConcentrationEstimate, ElectrodeReading, ElectrodeSignals, EstimatedLevel, concentration,
};
pub use curve_tests::{CurveTests, FTest, LinearityTest, SpreadTest, TrendTest};
pub use din_32645::{detection_limits_din_32645_blank, detection_limits_din_32645_calibration};
pub use electrode::{ElectrodeComponents, ExcludedStandard};
pub use error::{CalibrateError, ConcentrationError, LimitError};
pub use iso_11843::detection_limits_iso_11843;
pub use limits::{DetectionLimits, LimitNote, LimitSettings, LimitSpread, Procedure, Quantification};
pub use method_detection_limit::{DatedResult, MethodDetectionLimit, method_detection_limit};
pub use planning::{
    Design, Layout, LevelPlan, Limiting, LotUse, PartOfVariance, Plan, PlanDemands, PlanError, PlannedDesign,
    SpreadComponents, plan_design, promised_by,
};
pub use potentiometry::{
    Interferent, IntersectionLimit, IntervalEstimate, IonActivity, IonReading, LogLine, LowLevelBend,
    NernstComparison, NernstConditions, NernstVerdict, NikolskyEisenman, Plateau, PlateauSettings,
    PlateauVerdict, PotentiometryError, Selectivity, SelectivityFit, compare_with_nernst,
    fixed_interference_selectivity, intersection_limit, log_line, low_level_bend, nernst_slope_v_per_decade,
    nikolsky_eisenman, plateau,
};
pub use prediction_band::detection_limits_prediction_band;
pub use preparation::{
    Balance, Bench, BenchSheet, CLASS_A_FLASKS_ML, CLASS_A_PIPETTES_ML, Draw, Flask, PISTON_PIPETTES_ML,
    Pipette, PistonPipette, PreparationDemands, PreparationError, Salt, Solution, Step, StockSource, Tool,
    UncertaintySource, WeighedStock, prepare_standards, weighed_stock,
};
pub use shorthand::{ShorthandSpread, detection_limits_shorthand};
pub use standard::{
    Acceptance, CalibrationSettings, LevelDeviation, Model, StandardSignal, USUAL_EXCLUDED_FRACTION, Weights,
};
pub use weights::VarianceFunction;

//! The method file, the run sheet, and the one function that walks the chain from raw scans to verdicts.
//!
//! In go texts and bytes ([`Input::assemble`]); out comes a [`Report`] ([`determine`]): every scan, calibration and
//! determination with its links, checks and hashes. Start reading at `determine.rs`.
//!
//! A [`Method`] is everything that turns scans into verdicts, identified by the hash of its canonical form; a
//! [`RunSheet`] says which scan is what. Everything wrong in either is a [`Problem`] with place and cure, all at once.
//! A [`Check`] has its words in one place.
//!
//! This room never touches a file, knows no time of day, and shows no number that a check has refused.
#![warn(clippy::indexing_slicing)]

mod determine;

mod file;
mod input;
mod interferences;
mod run_sheet;
mod sheet_row;
mod sheet_text;

mod blank;
mod coverage;
mod cross_checks;
mod dates;
mod grid;
mod grids;
mod raw_checks;
mod scan_links;
mod signal;
mod standard_peak;
mod sweep;

mod calibration_links;
mod detection;
mod foreseen_levels;
mod group;

mod batch;
mod budget;
mod budget_beside;
mod budget_text;
mod chart_review;
mod check_history;
mod comparison_file;
mod comparison_review;
mod conditions;
mod control;
mod curve_chain;
mod estimate;
mod pairs;
mod sample;
mod station_file;
mod station_review;
mod usable;
mod validation_review;
mod walks;

mod determination;
mod link;
mod lot_reading;
mod lot_review;

mod check;
mod check_text;
mod finding;
mod problem;
mod revision;

mod curves;
mod freeze;
mod inspect;
mod placement;

mod addition;
mod addition_text;
mod addition_verdict;
mod bench_file;
mod plan;
mod plan_basis;
mod prepare;

/// Reading a TOML file that a person writes: typed keys with their place, everything wrong at once.
pub mod toml_file {
    pub use crate::file::section::{Bounds, Reader, Section};
    pub use crate::problem::nearest;
}

pub use addition::{AdditionLink, AdditionReport, AdditionResult, Remark, addition};
pub use bench_file::{BenchPlan, StockPlan};
pub use budget::{DeterminationBudget, NoBudget, budget};
pub use budget_beside::{
    BatchChecks, Beside, RetestOutlook, TopDownSide, beside, limits_in_reporting_unit, most_in_need,
};
pub use budget_text::why_not_counted;
pub use chart_review::{
    AgeingFound, ChartContribution, ChartHeld, ChartReview, HeldPlace, chart_contribution, chart_review,
    held_by_charts,
};
pub use check::{Check, CheckText};
pub use check_history::{CheckHistory, CheckedLevel, RecoveredSpike, check_history};
pub use comparison_file::{COMPARISON_COLUMNS, LaboratoryResult, LaboratoryResults};
pub use comparison_review::{ComparedAlone, ComparisonAsked, ComparisonReview, comparison_review};
pub use control::{ChartRefused, ControlChart, ControlPoint, GATING_CHARTS, control_charts, control_points};
pub use curves::{EvaluatedCurves, EvaluationWindow, ScanCurves, SignalMark, WindowPurpose, curves};
pub use detection::METHOD_BLANK;
pub use determination::{
    AboveRange, Determination, Estimate, LessThan, MethodLink, Outcome, Part, Provenance, Report,
};
pub use determine::{NUMBERS, determine};
pub use file::{
    AcceptancePlan, AnalytePlan, BaselinePlan, BlankUse, CalibrationPlan, CalibrationScope, DespikePlan,
    DetectionWay, Electrode, EvaluationPlan, LimitPlan, MeasurePlan, Method, ModelPlan, PeakDirection,
    PeakPlan, Reference, SampleConditions, SmoothPlan, TrustPlan, WeightsPlan,
};
pub use finding::{Effect, Finding, si, three_digits};
pub use freeze::{Freeze, freeze};
pub use input::{Input, NamedText, RawFile};
pub use inspect::{Inspection, inspect};
pub use link::{CalibrationLink, DetectionClaim, Found, GroupKey, RawLink, ScanLink, SignalLink};
pub use lot_reading::{LotReading, LotScans, lot_reading, readings_by_lot};
pub use lot_review::{LotAsked, LotFound, LotRefusal, LotReview, lot_review};
pub use placement::Placement;
pub use plan::{PlanRefusal, PlanReport, PlanRequest, layout_words, plan};
pub use plan_basis::{NoBasis, PlanBasis, determine_lot_by_lot, plan_basis, scan_minutes};
pub use prepare::{Preparation, PrepareError, TOLERANCE_SOURCES, prepare};
pub use problem::{Place, Problem, Problems};
pub use raw_checks::RawChecked;
pub use revision::Hash;
pub use run_sheet::{COLUMNS, Dilution, Interferent, Override, Role, Row, RunSheet, StatedReading};
pub use sheet_text::SheetCells;
pub use station_file::{STATION_COLUMNS, Station, StationFile, StationReadings, StationUnit};
pub use station_review::{SeriesReview, StationAsked, StationFound, StationReview, station_review};
pub use validation_review::{ValidationReview, validation_review};
pub use walks::Walk;

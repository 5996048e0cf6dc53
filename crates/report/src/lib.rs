//! Figures, drawn as SVG, and the documents that machines read ([`json`]): what the chain found, in the form that leaves us.
//!
//! In go the curves of a scan ([`scan_figure`]) or of many ([`overlay_figure`]), a technique ([`technique_figure`]), a calibration
//! ([`calibration_figure`]), a series of additions ([`addition_figure`]), the ranked parts of an uncertainty ([`budget_figure`]), a
//! control chart ([`control_figure`]), lots ([`lot_figure`]), two methods ([`comparison_figure`]), a station ([`station_figure`]) or
//! the table of a trade study ([`trade_figure`]); out comes a [`Figure`]: one drawing for a file, a page and print, and the same numbers
//! as tables. Start reading at `scan_figure.rs`; `figure.rs` lays out what `mark.rs` names, `style.rs` colours it for light, dark and print.
//!
//! A study as one printable document is [`dossier`]; quality over time, reviewed for page and document, is [`quality`]; words that
//! page, command line and document share are [`wording`].
//!
//! The same input gives the same bytes. Whatever is no number is left out, and strangers' names are escaped.
//!
//! This room never computes a signal, a curve or a limit, and never mends a number: it draws what other rooms found.
#![warn(clippy::indexing_slicing)]

pub mod dossier;
pub mod json;
pub mod quality;
pub mod wording;

mod addition_figure;
mod budget_bars;
mod budget_figure;
mod calibration_figure;
mod comparison_figure;
mod control_figure;
mod lot_figure;
mod overlay_figure;
mod reviewed;
mod reviewed_station;
mod scan_figure;
mod station_figure;
mod technique_figure;
mod trade_figure;

mod axis;
mod figure;
mod mark;
mod on_axes;
pub mod page_script;
mod path;
mod plot;
mod scale;
mod style;
mod svg;
mod table;
mod words;

pub use addition_figure::addition_figure;
pub use axis::{AxisText, AxisUnit};
pub use budget_bars::budget_bars;
pub use budget_figure::{BudgetBar, BudgetBars, budget_figure};
pub use calibration_figure::calibration_figure;
pub use comparison_figure::{Agreement, ComparedLine, ComparedPair, MethodComparison, comparison_figure};
pub use control_figure::{ChartLine, ChartPanel, ChartPoint, ChartSeries, ChartValue, ControlChart};
pub use control_figure::{LineCourse, LineRole, control_figure};
pub use figure::Figure;
pub use lot_figure::{ComparedLot, LotComparison, LotJudgement, lot_figure};
pub use overlay_figure::overlay_figure;
pub use reviewed::{newest_points, reviewed_chart, reviewed_comparison, reviewed_days, reviewed_lots};
pub use reviewed_station::station_figures;
pub use scale::Spacing;
pub use scan_figure::scan_figure;
pub use station_figure::{FollowedStep, StationSeries, station_figure, step_figure};
pub use style::figure_stylesheet;
pub use table::{Cell, Table, TableText};
pub use technique_figure::technique_figure;
pub use trade_figure::{TradePoint, TradeSeries, TradeStudy, trade_figure};

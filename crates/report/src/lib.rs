//! Figures, drawn as SVG, and the documents that machines read ([`json`]): what the chain found, in the form that leaves us.
//!
//! In go the curves of a scan ([`scan_figure`]) or of many ([`overlay_figure`]), a calibration ([`calibration_figure`]), a
//! series of additions ([`addition_figure`]), the ranked parts of an uncertainty ([`budget_figure`]) or the table of a trade study ([`trade_figure`]); out comes one text that a page, a dossier and the command line show
//! alike. Start reading at `scan_figure.rs`; `figure.rs` lays out what `mark.rs` names, `style.rs` colours it for light, dark and print.
//!
//! The same input gives the same bytes. Whatever is no number is left out, and strangers' names are escaped.
//!
//! This room never computes a signal, a curve or a limit, and never mends a number: it draws what other rooms found.
#![warn(clippy::indexing_slicing)]

pub mod json;

mod addition_figure;
mod budget_figure;
mod calibration_figure;
mod overlay_figure;
mod scan_figure;
mod trade_figure;

mod axis;
mod figure;
mod mark;
mod plot;
mod scale;
mod style;
mod svg;
mod words;

pub use addition_figure::addition_figure;
pub use axis::{AxisText, AxisUnit};
pub use budget_figure::{BudgetBar, BudgetBars, budget_figure};
pub use calibration_figure::calibration_figure;
pub use overlay_figure::overlay_figure;
pub use scale::Spacing;
pub use scan_figure::scan_figure;
pub use trade_figure::{TradePoint, TradeSeries, TradeStudy, trade_figure};

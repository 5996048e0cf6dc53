//! One file a page.

pub(crate) mod about;
pub(crate) mod budget;
pub(crate) mod calibration;
pub(crate) mod calibrations;
pub(crate) mod concentrations;
pub(crate) mod downloads;
pub(crate) mod figures;
pub(crate) mod keys;
pub(crate) mod ledger;
pub(crate) mod result;
mod result_chain;
pub(crate) mod results;
pub(crate) mod scan;
mod scan_words;
pub(crate) mod scans;
pub(crate) mod signals;
pub(crate) mod start;
pub(crate) mod study_spine;

pub(crate) use figures::Drawn;

//! One file a page.

pub(crate) mod start;
mod study_spine;

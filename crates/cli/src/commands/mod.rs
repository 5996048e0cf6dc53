//! One file a command.

pub(crate) mod addition;
pub(crate) mod budget;
pub(crate) mod calibrate;
pub(crate) mod compare;
pub(crate) mod completions;
pub(crate) mod control;
pub(crate) mod determine;
pub(crate) mod evaluate;
pub(crate) mod explain;
mod figure;
pub(crate) mod foresee;
pub(crate) mod inspect;
pub(crate) mod lot;
pub(crate) mod man;
mod new_folder;
pub(crate) mod plan;
pub(crate) mod prepare;
pub(crate) mod prove;
pub(crate) mod serve;
pub(crate) mod source;
pub(crate) mod study;
mod text_files;
pub(crate) mod tour;
pub(crate) mod transfer;
pub(crate) mod twin;
pub(crate) mod validate;

//! What every page has around its content: head, spine, foot; and how a refusal looks.

mod refusal;
mod shell;
mod spine;
mod theme;

pub(crate) use refusal::Refusal;
pub(crate) use shell::{Page, shell};
pub(crate) use spine::{Link, LinkState, Spine};
pub(crate) use theme::{Theme, choose};

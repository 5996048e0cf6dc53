//! What every page has around its content: head, spine, foot; and how forms, findings and refusals look.

mod findings;
mod form;
mod leaf;
mod refusal;
mod shell;
mod spine;
mod theme;

pub(crate) use findings::findings;
pub(crate) use form::{ActForm, text_field};
pub(crate) use leaf::Leaf;
pub(crate) use refusal::{Refusal, RefusalJson};
pub(crate) use shell::{Page, shell};
pub(crate) use spine::{Link, LinkState, Spine, sign};
pub(crate) use theme::{Theme, choose};

//! Who may ask at all: the launch's own browser, at the server's own address, from its own pages.
//!
//! A page on the web, or another program's page on this computer, can make a browser send requests here. Four things keep them
//! out, and each would do alone in most cases: the session of this launch, the `Host` that was asked for, where the request
//! came from (`Origin`, `Sec-Fetch-Site`), and for every act a token that only our own form holds.

mod form;
mod headers;
mod launch;
mod origin;
mod parts;
mod visitor;

pub(crate) use form::{FormFields, Posted, TOKEN_FIELD};
pub(crate) use headers::with_headers;
pub(crate) use launch::enter;
pub(crate) use origin::{Stranger, check};
pub(crate) use parts::{admit_parts, bytes_of};
pub(crate) use visitor::{Visitor, actor_cookie, admit, cookie};

//! The chain as the spine of every page: scan, signal, calibration, concentration, verdict; each with its state in words.

use maud::{Markup, html};

/// How a link stands. The shape says the same as the colour, and the words say it in full.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum LinkState {
    /// Nothing is there yet.
    Open,
    /// It holds.
    Holds,
    /// Something must be looked at.
    Attention,
    /// The chain ends here.
    Stops,
}

impl LinkState {
    /// The class, and the word for those who do not see the shape.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Holds => "holds",
            Self::Attention => "look",
            Self::Stops => "stops",
        }
    }
}

/// One link.
#[derive(Debug, Clone)]
pub(crate) struct Link {
    /// Its name.
    pub(crate) name: &'static str,
    /// How it stands.
    pub(crate) state: LinkState,
    /// The same in words, with the numbers.
    pub(crate) words: String,
    /// Where its evidence is.
    pub(crate) evidence: String,
}

/// The chain, and where on it the page is.
#[derive(Debug, Clone)]
pub(crate) struct Spine {
    /// Whose chain it is.
    pub(crate) of: String,
    /// The links in their order.
    pub(crate) links: Vec<Link>,
    /// The link that the page shows, if it shows one.
    pub(crate) here: Option<&'static str>,
}

impl Spine {
    pub(crate) fn drawn(&self) -> Markup {
        html! {
            nav class="spine" aria-label="The chain of every number" {
                p class="spine-of" { (self.of) }
                ol {
                    @for link in &self.links {
                        @let is_here = self.here == Some(link.name);
                        li class=(link.state.word()) {
                            (sign(link.state))
                            a href=(link.evidence) aria-current=[is_here.then_some("step")] { (link.name) }
                            span class="words" { (link.words) }
                        }
                    }
                }
            }
        }
    }
}

/// The shape of a state: a disc, a diamond, a barred square, a ring.
pub(crate) fn sign(state: LinkState) -> Markup {
    html! {
        svg class={ "sign " (state.word()) } viewBox="0 0 16 16" width="16" height="16" role="img" aria-label=(state.word()) {
            @match state {
                LinkState::Holds => { circle cx="8" cy="8" r="5" {} }
                LinkState::Attention => { path d="M8 1.5 14.5 8 8 14.5 1.5 8Z" {} }
                LinkState::Stops => {
                    rect x="2" y="2" width="12" height="12" {}
                    path class="bar" d="M4.5 8h7" {}
                }
                LinkState::Open => { circle class="ring" cx="8" cy="8" r="5" {} }
            }
        }
    }
}

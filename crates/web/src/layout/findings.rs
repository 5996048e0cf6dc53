//! What checks found: what, why it matters, what to do.

use maud::{Markup, html};
use stillwell_method::{Check, Effect, Finding};

use super::spine::{LinkState, sign};

/// Findings, the gravest first; notes are folded away.
pub(crate) fn findings<'a>(all: impl IntoIterator<Item = &'a Finding>) -> Markup {
    let mut all: Vec<&Finding> = all.into_iter().collect();
    all.sort_by_key(|finding| (finding.overridden.is_some(), std::cmp::Reverse(finding.effect)));
    let (notes, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|one| one.effect == Effect::Noted);
    html! {
        @if !others.is_empty() {
            ul class="findings" { @for finding in others { (one(finding)) } }
        }
        @if !notes.is_empty() {
            details {
                summary { (notes.len()) " noted, which change nothing" }
                ul class="findings" { @for finding in notes { (one(finding)) } }
            }
        }
    }
}

/// What a finding does to the chain.
pub(crate) fn state_of(finding: &Finding) -> LinkState {
    match finding.effect {
        _ if finding.overridden.is_some() => LinkState::Attention,
        Effect::Noted => LinkState::Open,
        Effect::Warned => LinkState::Attention,
        Effect::Withheld | Effect::Refused => LinkState::Stops,
    }
}

fn one(finding: &Finding) -> Markup {
    let words = finding.check.text();
    html! {
        li class=(state_of(finding).word()) {
            p class="lead" {
                (sign(state_of(finding))) " "
                strong { (finding.effect.word()) } " "
                a href=(check_address(finding.check)) { (finding.check.id()) } " "
                span class="subject" dir="auto" { (finding.subject) }
            }
            dl {
                dt { "Found" } dd dir="auto" { (finding.found) }
                dt { "Why it matters" } dd { (words.why) }
                dt { "What to do" } dd { (words.remedy) }
                @if let Some(reason) = &finding.overridden {
                    dt { "Used all the same" } dd dir="auto" { (reason) }
                }
            }
        }
    }
}

/// Where a check is explained.
pub(crate) fn check_address(check: Check) -> String {
    format!("/about#{}", check.id())
}

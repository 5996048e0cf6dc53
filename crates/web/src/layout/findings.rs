//! What checks found: what, why it matters, what to do.

use maud::{Markup, html};
use stillwell_method::{Check, Effect, Finding};

use super::spine::{LinkState, sign};

/// Findings, the gravest first, those of one check together; notes are folded away.
pub(crate) fn findings<'a>(all: impl IntoIterator<Item = &'a Finding>) -> Markup {
    let mut all: Vec<&Finding> = all.into_iter().collect();
    all.sort_by_key(|finding| (finding.overridden.is_some(), std::cmp::Reverse(finding.effect)));
    let (notes, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|one| one.effect == Effect::Noted);
    html! {
        (list(&others))
        @if !notes.is_empty() {
            details {
                summary { (notes.len()) " noted, which change nothing" }
                (list(&notes))
            }
        }
    }
}

fn list(all: &[&Finding]) -> Markup {
    let mut alike: Vec<Vec<&Finding>> = Vec::new();
    for finding in all {
        let is_alike = |group: &&mut Vec<&Finding>| {
            group.first().is_some_and(|first| {
                (first.check, first.effect, &first.overridden)
                    == (finding.check, finding.effect, &finding.overridden)
            })
        };
        match alike.iter_mut().find(is_alike) {
            Some(group) => group.push(finding),
            None => alike.push(vec![finding]),
        }
    }
    html! {
        @if !alike.is_empty() {
            ul class="findings" { @for group in &alike { @if let Some(first) = group.first() { (one(first, group)) } } }
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

fn one(first: &Finding, alike: &[&Finding]) -> Markup {
    let words = first.check.text();
    html! {
        li class=(state_of(first).word()) {
            p class="lead" {
                (sign(state_of(first))) " "
                strong { (first.effect.word()) } " "
                a href=(check_address(first.check)) { (first.check.id()) }
                @if alike.len() > 1 { ", " (alike.len()) " times" }
            }
            dl {
                dt { "Found" }
                dd {
                    @for finding in alike {
                        div dir="auto" { span class="subject" { (finding.subject) } ": " (finding.found) }
                    }
                }
                dt { "Why it matters" } dd { (words.why) }
                dt { "What to do" } dd { (words.remedy) }
                @if let Some(reason) = &first.overridden {
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

//! The end of a run: one number with its basis and one verdict, or no number at all; and whom to call.

use maud::{Markup, html};
use stillwell_field::{Campaign, Outcome};

use super::frame::Look;
use super::icons::icon;

/// What is said at the end. The first sentences are the largest.
pub(super) fn end(look: &Look<'_>, campaign: &Campaign, outcome: &Outcome) -> Markup {
    let said = look.texts.outcome(outcome);
    let whom = &campaign.whom;
    html! {
        @match (outcome, said.as_slice()) {
            (Outcome::Known(result), [number, verdict, basis, to_do, others @ ..]) => {
                section class={ "verdict " (result.verdict.word()) } aria-labelledby="verdict" {
                    p class="number" { (number) }
                    h1 id="verdict" { (icon(result.verdict.word())) span { (verdict) } }
                }
                p class="basis" { (basis) }
                p class="next" { (to_do) }
                (call(look, campaign))
                div class="fine" {
                    @for sentence in others { @if !sentence.contains(&whom.number) { p { (sentence) } } }
                    p { (result.strips.join(", ")) }
                }
            }
            (_, [unknown, others @ ..]) => {
                section class="verdict unknown" aria-labelledby="verdict" { h1 id="verdict" { (icon("unknown")) span { (unknown) } } }
                @for sentence in others { p class="next" { (sentence) } }
                (call(look, campaign))
            }
            _ => {}
        }
        div class="reach after" { a class="press" href="/field/new" { (icon("well")) span { (look.say("page-new")) } } }
    }
}

/// Whom to call, as a number that a phone can dial.
pub(super) fn call(look: &Look<'_>, campaign: &Campaign) -> Markup {
    let whom = &campaign.whom;
    let digits: String = whom.number.chars().filter(|c| c.is_ascii_digit() || *c == '+').collect();
    html! {
        a class="press plain call" href={ "tel:" (digits) } {
            (icon("call"))
            span { (look.texts.say("call", &[("name".to_owned(), whom.name.clone()), ("number".to_owned(), whom.number.clone())])) }
        }
    }
}

//! One result: may it be trusted, what it says, and every link that it came by.

use axum::extract::{Path, State};
use maud::{Markup, html};
use stillwell_assure::Decision;
use stillwell_method::{Check, Determination, Finding};
use stillwell_study::Shown;

use super::ledger::record_address;
use super::result_chain::{chain, result_spine};
use crate::acts::result_acts;
use crate::guard::Visitor;
use crate::layout::{LinkState, Page, Refusal, findings, shell, sign};
use crate::site::Site;
use crate::trust::{Trust, trust};
use crate::view::{AsIssued, View};
use crate::wording::{Said, moment, number, sample};

pub(crate) async fn page(
    State(site): State<Site>,
    visitor: Visitor,
    Path(label): Path<String>,
) -> Result<Markup, Refusal> {
    site.look(visitor, move |view| Ok(shell(view, &whole(view, &label)?))).await
}

/// A result beside its chain.
pub(super) struct Told<'a> {
    pub(super) view: &'a View,
    pub(super) shown: &'a Shown,
    pub(super) issued: &'a AsIssued,
    pub(super) found: &'a Determination,
    /// What the study says against a verdict, as findings.
    pub(super) of_study: Vec<Finding>,
}

fn whole(view: &View, label: &str) -> Result<Page, Refusal> {
    let shown = view.result(label)?;
    let issued = view.as_issued(shown)?;
    let found = issued.found(shown)?;
    let told = Told { view, shown, issued: &issued, found, of_study: shown.findings() };
    let result = &shown.one.act.result;
    Ok(Page {
        title: format!("{} {}", sample(result), number(result)),
        spine: result_spine(&told),
        body: html! {
            h1 dir="auto" { (sample(result)) }
            p class="big" { (number(result)) " " span class="unit" { (result.unit) } " " (stamp(shown)) }
            (answer(&trust(shown)))
            (verdicts(&told))
            (found_by_checks(&told))
            (charts(&told))
            (chain(&told))
            (record(shown))
            (result_acts(view, shown))
        },
    })
}

/// The way to the charts, where one of them withholds this verdict.
fn charts(told: &Told<'_>) -> Markup {
    let is_of_chart = |finding: &Finding| finding.check == Check::ControlChart;
    let own = told.found.findings.iter().any(is_of_chart);
    html! {
        @if own || told.of_study.iter().any(is_of_chart) {
            p { "The chart that withholds it, its points and since when: " a href="/quality/control#withheld" { "control charts" } "." }
        }
    }
}

/// `approved`, `not approved`, `withdrawn`: beside the number, always.
fn stamp(shown: &Shown) -> Markup {
    let standing = &shown.one.standing;
    let class = match (standing.is_approved(), standing.counts()) {
        (true, _) => "stamp holds",
        (false, true) => "stamp",
        (false, false) => "stamp stops",
    };
    html! { span class=(class) { (standing.word()) } }
}

pub(super) fn answer(trust: &Trust) -> Markup {
    html! {
        div class={ "answer " (trust.state.word()) } {
            (sign(trust.state)) " May I trust this number? " strong { (trust.answer) }
            @if !trust.because.is_empty() {
                ul class="because" { @for why in &trust.because { li dir="auto" { (why) } } }
            }
        }
    }
}

/// One card for each limit; nothing of a verdict that is withheld.
fn verdicts(told: &Told<'_>) -> Markup {
    let (shown, found) = (told.shown, told.found);
    if found.decisions.is_empty() {
        return html! { p class="empty" { "The method names no limit to judge against." } };
    }
    html! {
        ul class="verdicts" { @for decision in &found.decisions { (verdict(shown, decision)) } }
        (in_mind(shown, found))
    }
}

/// What to keep in mind with any of the verdicts, each once.
fn in_mind(shown: &Shown, found: &Determination) -> Markup {
    let mut all: Vec<&str> = Vec::new();
    if shown.one.standing.counts() {
        for words in found.decisions.iter().flat_map(|decision| &decision.cautions) {
            if !all.contains(words) {
                all.push(words);
            }
        }
    }
    html! {
        @if !all.is_empty() {
            section class="mind" { h2 { "Keep in mind" } ul { @for words in all { li { (words) } } } }
        }
    }
}

fn verdict(shown: &Shown, decision: &Decision) -> Markup {
    let said = Said::of(shown, &decision.limit_id);
    let is_said = matches!(said, Said::Below | Said::Above | Said::TooClose);
    html! {
        li class=(said.class()) {
            h2 dir="auto" { (decision.limit_name) }
            @if is_said || said == Said::Refused {
                p { strong { (decision.words) } }
                p { (decision.reason) }
                @if !decision.advice.is_empty() {
                    p class="cue" { "What to do" }
                    ul { @for words in &decision.advice { li { (words) } } }
                }
            } @else {
                p { strong { (if said == Said::Nothing { "No verdict: it no longer counts" } else { "Verdict withheld" }) } }
                @for why in shown.reasons() { p dir="auto" { (why) } }
            }
            p class="soft" dir="auto" { (decision.limit_id) " · " (decision.limit_source) }
        }
    }
}

fn found_by_checks(told: &Told<'_>) -> Markup {
    let all = told.of_study.iter().chain(&told.found.findings);
    html! {
        section id="findings" {
            h2 { "What checks found" }
            @if told.of_study.is_empty() && told.found.findings.is_empty() {
                p { (sign(LinkState::Holds)) " Every check of the chain passed." }
            } @else {
                (findings(all))
            }
        }
    }
}

fn record(shown: &Shown) -> Markup {
    let one = &shown.one;
    html! {
        section id="record" {
            h2 { "On record" }
            dl {
                dt { "Result" }
                dd { (one.label) ", record " a href=(record_address(one.record.seq)) { "#" (one.record.seq) } ", issued by "
                    span dir="auto" { (one.record.actor) } " at " (moment(&one.record.at_utc)) " UTC with " (one.act.software) }
                @if let Some((_, said)) = &one.standing.approval {
                    dt { "Approver's word" }
                    dd dir="auto" { (one.standing.word()) " by " (said.by) " at " (moment(&said.at_utc)) " UTC: " (said.reason) }
                }
                dt { "Hash" } dd class="hash" { (one.record.hash) }
                dt { "Chain for programs" } dd { a href={ "/api/results/" (one.label) } { "JSON, full precision" } }
            }
        }
    }
}

//! The form of each step: what is asked, and one thing to press at the bottom. With a link and without, the same.

use maud::{Markup, html};
use stillwell_field::{AbandonReason, Campaign, Lot, Picked, Well};

use super::frame::Look;
use super::icons::icon;

/// A step that is asked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked<'a> {
    /// The key of its text.
    pub(super) text: &'a str,
    /// The word of its deed.
    pub(super) deed: &'a str,
    /// What the strip is for, once a well is chosen.
    pub(super) purpose: Option<&'a str>,
    /// What is left of the wait, s, and within how many seconds it must be done.
    pub(super) wait_s: Option<(f64, f64)>,
    /// What a label picked, and the label: it stands alone in the list.
    pub(super) picked: Option<(&'a Picked, &'a str)>,
}

/// Where a form goes, and what tells it from another; empty in a form that waits on the phone.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Addressed<'a> {
    pub(super) run: &'a str,
    pub(super) place: u32,
    pub(super) key: &'a str,
    pub(super) token: &'a str,
}

/// The step: heading, form, and the button within reach of a thumb.
pub(super) fn form(look: &Look<'_>, campaign: &Campaign, asked: &Asked<'_>, to: &Addressed<'_>) -> Markup {
    let words = look.words(asked.text);
    html! {
        @if let Some(purpose) = asked.purpose { p class="purpose" { (look.say(&format!("page-{purpose}"))) } }
        h1 { (icon(asked.deed)) span { (words.says) } }
        @if asked.picked.is_none() {
            p class="todo" { (words.to_do) }
            @if matches!(asked.deed, "well" | "strip") { (scan(look, asked.deed, to)) }
        }
        form class="step" method="post" action={ "/field/run/" (to.run) } enctype="multipart/form-data" {
            (hidden(asked.deed, to))
            @if let Some((_, label)) = asked.picked { input type="hidden" name="label" value=(label); }
            (fields(look, campaign, asked, !to.run.is_empty()))
            @if let Some(wait_s) = asked.wait_s { (wait(look, wait_s)) }
            @if asked.deed != "well" {
                div class=(if asked.deed == "strip" { "reach after" } else { "reach" }) {
                    button class="press" { (icon(asked.deed)) span { (look.say(&format!("page-go-{}", asked.deed))) } }
                }
            }
        }
        @if asked.picked.is_some() {
            a class="press plain list" href={ "/field/run/" (to.run) } { (icon("list")) span { (look.say("page-whole-list")) } }
        }
    }
}

fn hidden(deed: &str, to: &Addressed<'_>) -> Markup {
    html! {
        input type="hidden" name="form-token" value=(to.token);
        input type="hidden" name="place" value=(to.place);
        input type="hidden" name="key" value=(to.key);
        input type="hidden" name="deed" value=(deed);
    }
}

/// A photo of the label; where there is no link, the words that the list is the way.
fn scan(look: &Look<'_>, deed: &str, to: &Addressed<'_>) -> Markup {
    if to.run.is_empty() {
        return html! { p class="no-scan" { (icon("no-link")) span { (look.say("page-scan-no-link")) } } };
    }
    html! {
        form class="scan" method="post" action={ "/field/run/" (to.run) "/scan" } enctype="multipart/form-data"
            data-busy=(look.say("page-scan-busy")) data-no-link=(look.say("page-scan-no-link")) {
            input type="hidden" name="form-token" value=(to.token);
            div class="shot" {
                input id="photo" name="photo" type="file" accept="image/*" capture="environment" required;
                label class="press" for="photo" { (icon("scan")) span { (look.say("page-scan")) } }
            }
            button class="press plain" { (icon("go")) span { (look.say("page-scan-go")) } }
            p role="status" {}
        }
        // The list of strips says so itself.
        @if deed == "well" { p class="or" { (look.say("page-scan-list")) } }
    }
}

fn fields(look: &Look<'_>, campaign: &Campaign, asked: &Asked<'_>, has_link: bool) -> Markup {
    match asked.deed {
        "well" => match asked.picked {
            Some((Picked::Well(well), _)) => wells(std::slice::from_ref(well.get()), "press picked"),
            _ => wells(&campaign.wells, "press plain"),
        },
        "strip" => match asked.picked {
            Some((Picked::Strip(strip), _)) => {
                html! { input type="hidden" name="code" value=(strip.get().code()); }
            }
            Some((Picked::Box(lot), _)) => strips(look, std::slice::from_ref(lot), "page-strip"),
            _ => strips(look, &campaign.lots, if has_link { "page-scan-list" } else { "page-strip" }),
        },
        "temperature" => html! {
            label for="temperature" { (look.say("page-temperature")) }
            input id="temperature" name="temperature" inputmode="decimal" autocomplete="off" required maxlength="6"
                pattern="-?[0-9]{1,3}([.,][0-9]{1,2})?";
        },
        "file" => html! {
            label for="file" { (look.say("page-file")) }
            input id="file" name="file" type="file" required;
        },
        _ => html! {},
    }
}

fn wells(wells: &[Well], class: &str) -> Markup {
    html! {
        ul class="wells" {
            @for well in wells {
                li { button class=(class) name="code" value=(well.code) {
                    (icon("well"))
                    span { b { (well.code) } " " span dir="auto" { (well.place) } }
                } }
            }
        }
    }
}

fn strips(look: &Look<'_>, lots: &[Lot], label: &str) -> Markup {
    html! {
        label for="strip" { (look.say(label)) }
        select id="strip" name="code" required {
            option value="" { (look.say("page-pick")) }
            @for lot in lots {
                optgroup label=(look.say_with("page-box", "lot", &lot.code)) {
                    @for number in lot.numbers[0]..=lot.numbers[1] {
                        option { (lot.code) "-" (number) }
                    }
                }
            }
        }
    }
}

/// The wait in words; the script makes a clock of it. It is judged when the step is handed in, whatever the page shows.
fn wait(look: &Look<'_>, (least_s, most_s): (f64, f64)) -> Markup {
    let text = |seconds: &str| look.say_with("page-wait", "seconds", seconds);
    html! {
        @if least_s > 0.0 {
            p class="clock" role="timer" data-text=(text("#")) { (icon("start")) span { (text(&format!("{:.0}", least_s.ceil()))) } }
        }
        @if most_s > 0.0 && most_s.is_finite() {
            p class="within" { (look.say_with("page-within", "minutes", &format!("{:.0}", (most_s / 60.0).floor().max(1.0)))) }
        }
    }
}

/// Giving up: behind one more touch, and with a reason.
pub(super) fn stop(look: &Look<'_>, to: &Addressed<'_>) -> Markup {
    html! {
        details class="stop" {
            summary { (icon("stop")) span { (look.say("page-stop")) } }
            form class="step" method="post" action={ "/field/run/" (to.run) } enctype="multipart/form-data" {
                (hidden("abandon", to))
                p id="stop-why" { (look.say("abandon")) }
                @for reason in AbandonReason::ALL {
                    button class="press plain" name="why" value=(reason.word()) aria-describedby="stop-why" {
                        span { (look.say(&format!("abandon-{}", reason.word()))) }
                    }
                }
            }
        }
    }
}

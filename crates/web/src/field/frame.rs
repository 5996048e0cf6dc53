//! The page around a step: what it is called, language and ground, the step, and what a thumb reaches at the bottom.

use maud::{DOCTYPE, Markup, html};
use stillwell_field::{Language, Texts, Words};

use super::icons::icon;
use super::trouble::Trouble;
use crate::assets;
use crate::layout::Theme;

/// How a page speaks and looks.
#[derive(Clone, Copy)]
pub(super) struct Look<'a> {
    pub(super) texts: &'a Texts,
    pub(super) ground: Theme,
}

impl Look<'_> {
    /// A text without variables.
    pub(super) fn say(&self, key: &str) -> String {
        self.texts.say(key, &[])
    }

    /// A text and what to do.
    pub(super) fn words(&self, key: &str) -> Words {
        self.texts.words(key, &[])
    }

    /// A text with one variable.
    pub(super) fn say_with(&self, key: &str, name: &str, value: &str) -> String {
        self.texts.say(key, &[(name.to_owned(), value.to_owned())])
    }
}

/// A whole page. `body` holds its own `main`.
pub(super) fn document(look: &Look<'_>, title: &str, body: &Markup) -> Markup {
    let ground = look.ground;
    html! {
        (DOCTYPE)
        html lang=(look.texts.language().tag()) data-theme=(ground.word()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover";
                meta name="color-scheme" content=(match ground { Theme::System => "light dark", other => other.word() });
                title { (title) " · " (look.say("page-title")) }
                link rel="manifest" href="/field/manifest.webmanifest";
                link rel="icon" href=(assets::address("field.svg")) type="image/svg+xml";
                link rel="apple-touch-icon" href=(assets::address("field-192.png"));
                link rel="stylesheet" href=(assets::address("field.css"));
                script src=(assets::address("field.js")) defer {}
            }
            body {
                a class="skip" href="#step" { (look.say("page-skip")) }
                header class="head" {
                    a class="name" href="/field" { (look.say("page-title")) }
                    nav class="choices" aria-label=(look.say("page-title")) {
                        @let other = other_language(look.texts.language());
                        a href={ "/field/language?to=" (other) } lang=(other) hreflang=(other) { (look.say("page-language")) }
                        @let to = if ground == Theme::Dark { Theme::Light } else { Theme::Dark };
                        a href={ "/field/ground?to=" (to.word()) } { (look.say(&format!("page-{}", to.word()))) }
                    }
                }
                p class="link-lost" role="status" hidden { (icon("no-link")) span { (look.say("page-no-link")) } " " b {} }
                (body)
            }
        }
    }
}

fn other_language(language: Language) -> &'static str {
    Language::ALL.into_iter().find(|other| *other != language).map_or("en", Language::tag)
}

/// What is so, and what to do.
pub(super) fn said(class: &str, name: &str, words: &Words) -> Markup {
    html! {
        div class={ "said " (class) } role="status" {
            (icon(name))
            div {
                p class="so" { (words.says) }
                @if !words.to_do.is_empty() { p { (words.to_do) } }
            }
        }
    }
}

/// A page that says what stands in the way.
pub(super) fn of_trouble(look: &Look<'_>, trouble: Trouble) -> Markup {
    let words = look.words(trouble.text());
    let (way, key) = match trouble {
        Trouble::NotPaired => ("/field/pair", "page-pair"),
        _ => ("/field", "page-to-start"),
    };
    let body = html! {
        main id="step" tabindex="-1" {
            h1 { (icon("stop")) span { (words.says) } }
            p { (words.to_do) }
            div class="reach" { a class="press" href=(way) { (icon("go")) span { (look.say(key)) } } }
        }
    };
    document(look, &words.says, &body)
}

//! The page around its content: where you are, the spine, the content, and what stands under every page.

use maud::{DOCTYPE, Markup, html};

use super::spine::Spine;
use super::theme::Theme;
use crate::assets;
use crate::guard::TOKEN_FIELD;
use crate::view::View;
use crate::wording::CAUTIONS;

/// A page before its shell is put around it.
pub(crate) struct Page {
    /// For the window's title.
    pub(crate) title: String,
    /// The chain, where the page has one.
    pub(crate) spine: Spine,
    /// The content.
    pub(crate) body: Markup,
}

/// Pages beside the chain.
const BESIDE: [(&str, &str); 7] = [
    ("/", "Start"),
    ("/intake", "Take in"),
    ("/method", "Method"),
    ("/quality", "Quality"),
    ("/ledger", "Ledger"),
    ("/keys", "Keys"),
    ("/about", "About"),
];

/// A whole page.
pub(crate) fn shell(view: &View, page: &Page) -> Markup {
    let theme = view.visitor.theme;
    let name = view.site.study_path().file_name().unwrap_or_default().to_string_lossy().into_owned();
    let title = format!("{} · {name}", page.title);
    let content = html! {
        header class="top" {
            p class="name" { a href="/" { "Stillwell" } span class="study" dir="auto" { (name) } }
            nav class="beside" aria-label="Pages" {
                @for (path, words) in BESIDE {
                    a href=(path) aria-current=[(view.visitor.path == path).then_some("page")] { (words) }
                }
            }
            (theme_choice(view))
        }
        div class="frame" {
            (page.spine.drawn())
            main id="content" tabindex="-1" { (page.body) }
        }
        (foot(view))
    };
    document(&title, theme, &content)
}

/// A page that shows nothing of a study.
pub(super) fn bare(title: &str, body: &Markup) -> Markup {
    let content = html! {
        header class="top" { p class="name" { a href="/" { "Stillwell" } } }
        div class="frame alone" { main id="content" tabindex="-1" { (body) } }
    };
    document(title, Theme::System, &content)
}

fn document(title: &str, theme: Theme, content: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme=(theme.word()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content=(match theme { Theme::System => "light dark", other => other.word() });
                title { (title) }
                link rel="icon" href=(assets::address("mark.svg")) type="image/svg+xml";
                link rel="stylesheet" href=(assets::address(assets::FIGURES));
                link rel="stylesheet" href=(assets::address("page.css"));
                script src=(assets::address("page.js")) type="module" {}
            }
            body {
                a class="skip" href="#content" { "To the content" }
                (content)
            }
        }
    }
}

fn theme_choice(view: &View) -> Markup {
    html! {
        form class="theme" method="post" action="/theme" {
            input type="hidden" name=(TOKEN_FIELD) value=(view.form_token("/theme"));
            input type="hidden" name="back" value=(view.visitor.path);
            fieldset {
                legend { "Ground" }
                @for theme in Theme::ALL {
                    button name="theme" value=(theme.word()) aria-pressed=(view.visitor.theme == theme) { (theme.word()) }
                }
            }
        }
    }
}

/// The head of the ledger, so that every printed page can be held against the study later; and the cautions.
fn foot(view: &View) -> Markup {
    let anchor = &view.overview.anchor;
    html! {
        footer class="foot" {
            p class="head-of-ledger" {
                "Head of the ledger: record #" (anchor.seq) ", "
                a class="hash" href="/ledger#head" { (anchor.head) }
            }
            ul class="cautions" { @for caution in CAUTIONS { li { (caution) } } }
        }
    }
}

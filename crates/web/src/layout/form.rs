//! Forms of acts: who, why, and what is to be done; each with the token of its address.

use maud::{Markup, html};

use crate::guard::TOKEN_FIELD;
use crate::view::View;

/// A form that does something to the study. `fields` stand before the person and the reason.
pub(crate) struct ActForm<'a> {
    /// The address.
    pub(crate) path: &'a str,
    /// What is asked for beside person and reason.
    pub(crate) fields: Markup,
    /// Why somebody would do it, as an example.
    pub(crate) example: &'a str,
    /// The button.
    pub(crate) button: &'a str,
    /// Whose name the act will bear, where it is not free to say.
    pub(crate) person: Option<&'a str>,
}

impl ActForm<'_> {
    pub(crate) fn drawn(&self, view: &View) -> Markup {
        let id = |field: &str| format!("{}-{field}", self.path.trim_matches('/').replace(['/', ':'], "-"));
        html! {
            form class="act" method="post" action=(self.path) {
                input type="hidden" name=(TOKEN_FIELD) value=(view.form_token(self.path));
                (self.fields)
                @match self.person {
                    Some(person) => { p class="person" { "As " strong dir="auto" { (person) } ", the owner of the key" } }
                    None => {
                        p {
                            label for=(id("actor")) { "Who" }
                            input id=(id("actor")) name="actor" required maxlength="200" autocomplete="name" value=(view.visitor.actor);
                        }
                    }
                }
                p {
                    label for=(id("reason")) { "Why" }
                    input id=(id("reason")) name="reason" required maxlength="2000" autocomplete="off" placeholder={ "such as: " (self.example) };
                }
                p { button class="do" { (self.button) } }
            }
        }
    }
}

/// A line of text with its label.
pub(crate) fn text_field(id: &str, name: &str, words: &str, hint: &str, required: bool) -> Markup {
    html! {
        p {
            label for=(id) { (words) }
            input id=(id) name=(name) required[required] maxlength="500" autocomplete="off" placeholder=(hint);
        }
    }
}

//! Long tables leaf by leaf: a series may hold a hundred thousand scans.

use maud::{Markup, html};

/// One leaf of a long table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Leaf {
    /// From 1.
    pub(crate) number: usize,
    /// Lines of a leaf.
    pub(crate) lines: usize,
}

impl Leaf {
    /// The leaf that was asked for; nothing asked is the first.
    pub(crate) fn of(asked: usize, lines: usize) -> Self {
        Self { number: asked.max(1), lines }
    }

    /// How many lines stand before it.
    pub(crate) fn skipped(self) -> usize {
        (self.number - 1).saturating_mul(self.lines)
    }

    /// Its lines among all.
    pub(crate) fn part<T>(self, all: &[T]) -> &[T] {
        let rest = all.get(self.skipped()..).unwrap_or_default();
        rest.get(..self.lines).unwrap_or(rest)
    }

    /// The way to the other leaves of one table among several: `name` is what its page is asked for by.
    pub(crate) fn turning_named(self, name: &str, path: &str, n_lines: usize) -> Markup {
        let n_leaves = n_lines.div_ceil(self.lines);
        let address = |number: usize| format!("{path}?{name}={number}");
        html! {
            @if n_leaves > 1 {
                nav class="leaves" aria-label={ "Pages of " (name) } {
                    @if self.number > 1 { a href=(address(self.number - 1)) rel="prev" { "before" } }
                    span { "page " (self.number) " of " (n_leaves) }
                    @if self.number < n_leaves { a href=(address(self.number + 1)) rel="next" { "after" } }
                }
            }
        }
    }

    /// The way to the other leaves. `query` is what else was asked, name by name.
    pub(crate) fn turning(self, path: &str, query: &[(&str, &str)], n_lines: usize) -> Markup {
        let n_leaves = n_lines.div_ceil(self.lines);
        let address = |number: usize| {
            let others: Vec<String> = query
                .iter()
                .filter(|(_, value)| !value.is_empty())
                .map(|(name, value)| format!("{name}={}&", encoded(value)))
                .collect();
            let others = others.concat();
            format!("{path}?{others}page={number}")
        };
        html! {
            @if n_leaves > 1 {
                nav class="leaves" aria-label="Pages of this table" {
                    @if self.number > 1 { a href=(address(self.number - 1)) rel="prev" { "before" } }
                    span { "page " (self.number) " of " (n_leaves) }
                    @if self.number < n_leaves { a href=(address(self.number + 1)) rel="next" { "after" } }
                }
            }
        }
    }
}

fn encoded(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            byte if byte.is_ascii_alphanumeric() => char::from(byte).to_string(),
            byte => format!("%{byte:02X}"),
        })
        .collect()
}

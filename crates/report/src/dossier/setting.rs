//! Tables, figures and lists as the dossier sets them.

use maud::{Markup, PreEscaped, Render, html};
use stillwell_method::{Check, Finding};

use crate::figure::Figure;
use crate::quality::{Holds, WordsTable};
use crate::words::clean;

/// A table of so many rows is not parted between pages.
const MOST_WHOLE: usize = 18;

/// How a column is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Set {
    Words,
    Numbers,
}

/// A stranger's text: without characters that turn the reading order, its direction its own.
pub(super) fn said(text: &str) -> Markup {
    html! { span dir="auto" { (clean(text)) } }
}

/// A table with its caption; the first cell of a row is its head. Nothing without rows.
pub(super) fn table(caption: &str, columns: &[(&str, Set)], rows: &[Vec<Markup>]) -> Markup {
    let class =
        |column: usize| columns.get(column).is_some_and(|(_, set)| *set == Set::Numbers).then_some("num");
    html! {
        @if !rows.is_empty() {
            table class=[(rows.len() <= MOST_WHOLE).then_some("whole")] {
                caption { (clean(caption)) }
                thead { tr { @for (place, (title, _)) in columns.iter().enumerate() { th scope="col" class=[class(place)] { (clean(title)) } } } }
                tbody {
                    @for row in rows {
                        tr {
                            @for (place, cell) in row.iter().enumerate() {
                                @if place == 0 { th scope="row" class=[class(place)] { (cell) } } @else { td class=[class(place)] { (cell) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A table of words, as the reviews of quality make them.
pub(super) fn words_table(made: &WordsTable) -> Markup {
    let set = |holds: Holds| if holds == Holds::Numbers { Set::Numbers } else { Set::Words };
    let columns: Vec<(&str, Set)> = made.columns.iter().map(|(title, holds)| (*title, set(*holds))).collect();
    let rows: Vec<Vec<Markup>> = made.rows.iter().map(|row| row.iter().map(cell).collect()).collect();
    table(&made.caption, &columns, &rows)
}

/// A cell of plain words or a stranger's text.
pub(super) fn cell(text: impl AsRef<str>) -> Markup {
    said(text.as_ref())
}

/// A drawing; `place` is a name that no other has.
pub(super) fn figure(figure: &Figure, place: &str, caption: &str) -> Markup {
    html! {
        figure {
            // The drawing escapes every name of a stranger in it.
            (PreEscaped(figure.inline(place)))
            figcaption { (clean(caption)) }
        }
    }
}

/// Terms with what is said of each.
pub(super) fn list<T: Render>(entries: &[(&str, T)]) -> Markup {
    html! { dl { @for (term, words) in entries { dt { (clean(term)) } dd { (words) } } } }
}

/// Findings of the chain, the gravest first, with what to do.
pub(super) fn findings(all: &[Finding], caption: &str) -> Markup {
    let mut all: Vec<&Finding> = all.iter().collect();
    all.sort_by_key(|finding| (finding.overridden.is_some(), std::cmp::Reverse(finding.effect)));
    let rows: Vec<Vec<Markup>> = all
        .iter()
        .map(|finding| {
            let effect = html! {
                (finding.effect.word())
                @if let Some(reason) = &finding.overridden { ", used all the same: " (said(reason)) }
            };
            vec![
                check(finding.check),
                effect,
                said(&finding.subject),
                said(&finding.found),
                cell(finding.remedy()),
            ]
        })
        .collect();
    let words = |title| (title, Set::Words);
    table(
        caption,
        &[words("Check"), words("Effect"), words("About"), words("Found"), words("What to do")],
        &rows,
    )
}

/// A check by its name, as a link to its words.
pub(super) fn check(check: Check) -> Markup {
    html! { a href={ "#check-" (check.id()) } { (check.id()) } }
}

/// The same where only the name is known.
pub(super) fn check_named(id: &str) -> Markup {
    Check::of_id(id).map_or_else(|| said(id), check)
}

/// A number that a method states, with its unit.
pub(super) fn stated(value: f64, unit: &str) -> String {
    format!("{value} {unit}").trim_end().replace('-', "−")
}

/// Two numbers that a method states, with their unit.
pub(super) fn span([low, high]: [f64; 2], unit: &str) -> String {
    format!("{low} to {high} {unit}").trim_end().replace('-', "−")
}

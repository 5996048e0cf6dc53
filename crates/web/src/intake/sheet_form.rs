//! The run sheet as a form: one line a scan, what is wrong beside it, page by page.

use maud::{Markup, html};
use stillwell_method::{COLUMNS, Role, SheetCells};

use super::check::Checked;
use super::desk::Staging;
use super::page::{Typed, problem};
use crate::guard::TOKEN_FIELD;
use crate::layout::Leaf;
use crate::view::View;
use crate::wording::counted;

/// Lines of one page.
pub(super) const LINES: usize = 30;

/// Columns that every run sheet of ours is asked for; others show where they are used.
const USUAL: [&str; 10] =
    ["role", "sample", "level", "unit", "lot", "electrode", "electrode_scan", "batch", "date", "note"];
/// What files may leave open.
const STATED: [&str; 3] = ["potential_unit", "current_unit", "reduction_current"];

/// A page of the run sheet.
pub(super) struct SheetForm<'a> {
    pub(super) view: &'a View,
    pub(super) staging: &'a Staging,
    pub(super) checked: &'a Checked,
    pub(super) only_wrong: bool,
    pub(super) leaf: Leaf,
    /// Cells that take the place of the sheet's own.
    pub(super) typed: &'a Typed,
}

impl SheetForm<'_> {
    pub(super) fn drawn(&self) -> Markup {
        let cells = self.staging.cells();
        let address = format!("/intake/{}", self.staging.id);
        let rows: Vec<usize> = (0..cells.rows.len())
            .filter(|row| !self.only_wrong || self.checked.of_line.contains_key(&(row + 2)))
            .collect();
        let n_wrong = self.checked.of_line.len();
        html! {
            (self.add_lines(&cells))
            @if n_wrong > 0 {
                p { (counted(n_wrong, "line")) " with a problem: "
                    @if self.only_wrong { a href={ (address) "#sheet" } { "show all lines" } }
                    @else { a href={ (address) "?only=wrong#sheet" } { "show only these" } } }
            }
            @if !rows.is_empty() {
                (self.form(&cells, self.leaf.part(&rows)))
                (self.leaf.turning(&address, &[("only", if self.only_wrong { "wrong" } else { "" })], rows.len()))
            }
        }
    }

    fn add_lines(&self, cells: &SheetCells) -> Markup {
        let path = format!("/intake/{}/lines", self.staging.id);
        let n_missing = self.checked.n_scans().saturating_sub(cells.rows.len());
        html! {
            @if n_missing > 0 {
                form method="post" action=(path) {
                    input type="hidden" name=(TOKEN_FIELD) value=(self.view.form_token(&path));
                    input type="hidden" name="seen" value=(self.staging.version());
                    button class="do" { "Add a line for every scan that has none" }
                    " " span class="soft" { "What each scan is of stays for you to say." }
                }
            }
        }
    }

    fn form(&self, cells: &SheetCells, rows: &[usize]) -> Markup {
        let path = format!("/intake/{}/sheet", self.staging.id);
        let columns = self.columns(cells);
        html! {
            form method="post" action=(path) class="sheet" {
                input type="hidden" name=(TOKEN_FIELD) value=(self.view.form_token(&path));
                input type="hidden" name="seen" value=(self.staging.version());
                input type="hidden" name="page" value=(self.leaf.number);
                @if self.only_wrong { input type="hidden" name="only" value="wrong"; }
                div class="wide" tabindex="0" role="region" aria-label="Run sheet" { table {
                    thead { tr { th scope="col" { "Line" } th scope="col" { "Scan" } @for column in &columns { th scope="col" { (column.replace('_', " ")) } } } }
                    tbody { @for row in rows { (self.line(cells, *row, &columns)) } }
                } }
                p { button class="do" { "Save these lines" } }
            }
        }
    }

    /// The usual columns, those that are used, and those that a file needs.
    fn columns(&self, cells: &SheetCells) -> Vec<&'static str> {
        let is_used = |name: &str| {
            let place = cells.header.iter().position(|known| known == name);
            place.is_some_and(|place| {
                cells.rows.iter().any(|row| row.get(place).is_some_and(|cell| !cell.is_empty()))
            })
        };
        let needs_units = self.checked.files.iter().any(|(_, read)| read.is_err());
        let named = |name: &str| {
            self.checked
                .of_line
                .values()
                .flatten()
                .any(|problem| problem.found.contains(name) || problem.cure.contains(name))
        };
        let shown = COLUMNS.iter().copied().filter(|name| !["file", "scan"].contains(name));
        shown
            .filter(|name| {
                USUAL.contains(name) || is_used(name) || (needs_units && STATED.contains(name)) || named(name)
            })
            .collect()
    }

    fn line(&self, cells: &SheetCells, row: usize, columns: &[&'static str]) -> Markup {
        let cell = |name: &str| {
            let place = cells.header.iter().position(|known| known == name)?;
            cells.rows.get(row)?.get(place).cloned()
        };
        let of = |name: &'static str| {
            self.typed.get(&(row, name)).cloned().or_else(|| cell(name)).unwrap_or_default()
        };
        let problems = self.checked.of_line.get(&(row + 2));
        let wrong = format!("wrong-{}", row + 2);
        let scan = format!("{}, scan {}", of("file"), of("scan"));
        html! {
            tr id={ "line-" (row + 2) } class=[problems.map(|_| "wrong")] {
                td class="num" { (row + 2) }
                th scope="row" dir="auto" { (scan) }
                @for name in columns {
                    @let value = of(name);
                    td {
                        @if *name == "role" {
                            select name={ "r" (row) "_role" } aria-label={ "role of " (scan) } aria-describedby=[problems.map(|_| &wrong)] {
                                option value="" selected[value.is_empty()] { "not said" }
                                @for (word, _) in Role::WORDS { option value=(word) selected[value == word] { (word) } }
                                @if !value.is_empty() && !Role::WORDS.iter().any(|(word, _)| *word == value) { option value=(value) selected { (value) } }
                            }
                        } @else {
                            input name={ "r" (row) "_" (name) } aria-label={ (name.replace('_', " ")) " of " (scan) } aria-describedby=[problems.map(|_| &wrong)] value=(value) maxlength="2000" autocomplete="off" dir="auto" size=(size_of(name));
                        }
                    }
                }
            }
            @if let Some(problems) = problems {
                tr class="wrong" { td {} td id=(wrong) colspan=(columns.len() + 1) { @for one in problems { (problem(one)) } } }
            }
        }
    }
}

fn size_of(name: &str) -> u8 {
    match name {
        "note" | "exclude" | "override" => 22,
        "sample" | "electrode" | "unit" | "date" => 12,
        _ => 6,
    }
}

/// One value on many lines.
pub(super) fn set_many(view: &View, staging: &Staging, page: usize) -> Markup {
    let path = format!("/intake/{}/set", staging.id);
    let last = staging.cells().rows.len() + 1;
    html! {
        details { summary { "One value on many lines" }
            form class="act" method="post" action=(path) {
                input type="hidden" name=(TOKEN_FIELD) value=(view.form_token(&path));
                input type="hidden" name="seen" value=(staging.version());
                input type="hidden" name="page" value=(page.max(1));
                p { label for="set-first" { "From line" } input id="set-first" name="first" type="number" min="2" max=(last) required value="2"; }
                p { label for="set-last" { "To line" } input id="set-last" name="last" type="number" min="2" max=(last) required value=(last); }
                p { label for="set-column" { "Column" } select id="set-column" name="column" {
                    @for name in COLUMNS.iter().filter(|name| !["file", "scan"].contains(name)) { option value=(name) { (name.replace('_', " ")) } }
                } }
                p { label for="set-value" { "Value; empty clears the cells" } input id="set-value" name="value" maxlength="2000" autocomplete="off"; }
                p { button class="do" { "Put it there" } }
            }
        }
    }
}

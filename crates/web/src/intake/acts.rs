//! What a person does with a staging: tidies its run sheet, takes it into the study, or throws it away.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{LOCATION, SET_COOKIE};
use axum::response::{IntoResponse as _, Response};
use maud::html;
use stillwell_method::{COLUMNS, SheetCells};
use stillwell_study::{By, Study};

use super::desk::Changed;
use super::page::{Typed, conflicted};
use crate::guard::{FormFields, Posted, Visitor, actor_cookie};
use crate::jobs::{self, Outcome};
use crate::layout::Refusal;
use crate::site::Site;
use crate::view::View;

fn to(address: String) -> Response {
    (StatusCode::SEE_OTHER, [(LOCATION, address)]).into_response()
}

fn not_accepted(found: &str, cure: &str) -> Refusal {
    Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, found, cure)
}

/// `/intake/{staging}/sheet`: the cells of a page of the run sheet.
pub(super) async fn save(
    State(site): State<Site>,
    visitor: Visitor,
    Path(id): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let typed = typed(&fields);
    let (desk, of, seen, cells_typed) =
        (site.clone(), id.clone(), fields.text("seen").to_owned(), typed.clone());
    let tidied = crate::site::apart(move || {
        desk.desk().tidy(&of, &seen, |_, cells| {
            for ((row, column), value) in &cells_typed {
                put(cells, *row, column, value);
            }
            Ok(())
        })
    });
    match tidied.await? {
        Ok(()) => Ok(to(back(&id, &fields))),
        Err(Changed) => conflicted(site, visitor, id, fields.text("page").parse().unwrap_or(1), typed).await,
    }
}

/// The page of the run sheet that was being tidied.
fn back(id: &str, fields: &FormFields) -> String {
    let page: usize = fields.text("page").parse().unwrap_or(1);
    let only = if fields.text("only") == "wrong" { "&only=wrong" } else { "" };
    format!("/intake/{id}?page={page}{only}#sheet")
}

/// Cells as they were typed: `r12_role`.
fn typed(fields: &FormFields) -> Typed {
    let cell = |name: &str| {
        let (row, column) = name.strip_prefix('r')?.split_once('_')?;
        let column = COLUMNS.iter().find(|known| **known == column)?;
        Some((row.parse().ok()?, *column))
    };
    fields
        .all()
        .into_iter()
        .filter_map(|(name, value)| Some((cell(&name)?, value.trim().to_owned())))
        .collect()
}

/// Puts a cell, with its column where the sheet has none yet.
fn put(cells: &mut SheetCells, row: usize, column: &str, value: &str) {
    let place = cells.header.iter().position(|name| name == column).or_else(|| {
        (!value.is_empty()).then(|| {
            cells.header.push(column.to_owned());
            cells.header.len() - 1
        })
    });
    let (Some(place), Some(row)) = (place, cells.rows.get_mut(row)) else { return };
    if row.len() <= place {
        row.resize(place + 1, String::new());
    }
    if let Some(cell) = row.get_mut(place) {
        value.clone_into(cell);
    }
}

/// `/intake/{staging}/lines`: a line for each scan that the run sheet does not name. What the scan is stays open.
pub(super) async fn add_lines(
    State(site): State<Site>,
    visitor: Visitor,
    Path(id): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let of = id.clone();
    site.look(visitor, move |view| {
        let staging = view.site.desk().open(&of)?;
        let method = view.study.method()?.method;
        let checked = view.site.readings().check(&staging, &method)?;
        let changed = view.site.desk().tidy(&of, fields.text("seen"), |_, cells| {
            let place = |name: &str| cells.header.iter().position(|known| known == name);
            let (Some(file), Some(scan)) = (place("file"), place("scan")) else {
                return Err(not_accepted(
                    "the run sheet has no columns file and scan",
                    "name them in its first line",
                ));
            };
            let cell = |row: &Vec<String>, place: usize| row.get(place).cloned().unwrap_or_default();
            let named: std::collections::BTreeSet<(String, String)> =
                cells.rows.iter().map(|row| (cell(row, file), cell(row, scan))).collect();
            let scans = checked.files.iter().flat_map(|(staged, read)| {
                let n_scans = read.as_ref().as_ref().map_or(0, |read| read.n_scans);
                (1..=n_scans).map(|number| (staged.name.clone(), number.to_string()))
            });
            for (name, number) in scans.filter(|one| !named.contains(one)) {
                cells.rows.push(vec![String::new(); cells.header.len()]);
                let row = cells.rows.len() - 1;
                put(cells, row, "file", &name);
                put(cells, row, "scan", &number);
            }
            Ok(())
        })?;
        changed.map_err(|Changed| changed_meanwhile())
    })
    .await?;
    Ok(to(format!("/intake/{id}#sheet")))
}

fn changed_meanwhile() -> Refusal {
    let cure = "go back, reload the page and do it again";
    Refusal::new(
        StatusCode::CONFLICT,
        "the run sheet was changed in another tab meanwhile; nothing was changed now",
        cure,
    )
}

/// `/intake/{staging}/set`: one value on many lines.
pub(super) async fn set(
    State(site): State<Site>,
    Path(id): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let line = |name: &str| fields.text(name).parse::<usize>().ok().filter(|line| *line >= 2);
    let (Some(first), Some(last)) = (line("first"), line("last")) else {
        return Err(not_accepted(
            "which lines was not said",
            "numbers of lines, from 2: line 1 holds the names of the columns",
        ));
    };
    let column =
        COLUMNS.iter().find(|known| **known == fields.text("column") && !["file", "scan"].contains(known));
    let Some(column) = column.copied() else {
        return Err(not_accepted("there is no such column", "choose one of the list"));
    };
    let (of, seen, value) = (id.clone(), fields.text("seen").to_owned(), fields.text("value").to_owned());
    let changed = crate::site::apart(move || {
        site.desk().tidy(&of, &seen, |_, cells| {
            let rows = first - 2..cells.rows.len().min(last.saturating_sub(1));
            rows.for_each(|row| put(cells, row, column, &value));
            Ok(())
        })
    });
    changed.await?.map_err(|Changed| changed_meanwhile())?;
    Ok(to(back(&id, &fields)))
}

/// `/intake/{staging}/remove`
pub(super) async fn remove(
    State(site): State<Site>,
    Path(id): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    site.desk().remove(&id, fields.text("name"))?;
    Ok(to(format!("/intake/{id}")))
}

/// `/intake/{staging}/discard`
pub(super) async fn discard(
    State(site): State<Site>,
    Path(id): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    if fields.text("sure") != "yes" {
        return Err(not_accepted(
            "it was not confirmed",
            "tick the box beside the button; nothing was thrown away",
        ));
    }
    crate::site::apart(move || site.desk().discard(&id)).await?;
    Ok(to("/intake".to_owned()))
}

/// `/intake/{staging}/take`: into the study, as long work. The same files and run sheet again are nothing new.
pub(super) async fn take(
    State(site): State<Site>,
    Path(id): Path<String>,
    Posted(fields): Posted,
) -> Result<Response, Refusal> {
    let by = By::new(fields.text("actor"), fields.text("reason"))?;
    let staging = site.desk().open(&id)?;
    let name = match fields.text("name") {
        "" => return Err(not_accepted("the series has no name", "such as the day and the place")),
        name if name.chars().count() > 200 || name.chars().any(char::is_control) => {
            return Err(not_accepted(
                "that name cannot stand in the ledger",
                "up to 200 printable characters",
            ));
        }
        name => name.to_owned(),
    };
    let delivery = staging.delivery(&name);
    let n_files = delivery.raw_files.len();
    let cookie = actor_cookie(by.actor());
    let path = site.study_path().to_owned();
    let number = site.jobs().begin(format!("Taking in {name}"), "files", move |ticket| {
        let mut study = Study::open_now(&path)?;
        let added = study.add_while(&delivery, &by, |kept| ticket.at(kept, n_files))?;
        let label = study.series()?.into_iter().find(|one| one.record.hash == added.series).map(|one| one.label);
        let label = label.unwrap_or_default();
        Ok(Box::new(move |_: &View| {
            html! {
                div class="done" {
                    @if added.was_there {
                        p { "The same files with the same run sheet are there already as series " (label) ": nothing was recorded." }
                    } @else {
                        p { "Series " (label) ": " (added.n_files) " raw files, " (added.n_new_files) " of them new, " (added.n_scans) " scans, kept whole." }
                    }
                }
                p { a href={ "/scans?series=" (label) } { "The scans of series " (label) } " · " a href={ "/intake/" (id) } { "The intake, to be discarded when it is not needed any more" } }
            }
        }) as Outcome)
    })?;
    Ok((StatusCode::SEE_OTHER, [(LOCATION, jobs::address(number)), (SET_COOKIE, cookie)]).into_response())
}

//! One scan a row: potentials across the first row (or the header), a label and the currents in each row below.

use crate::blocks::Block;
use crate::cells::{Cell, cell_from_text};
use crate::error::{Place, ReadError};
use crate::pin::{DecimalMark, Layout, ReadingPin};
use crate::roles::{ColumnHead, Role};
use crate::steps::{is_even_one_way, is_plausible_potential};

/// Fewer columns than this are never taken for a row of potentials unless pinned.
const FEWEST_POTENTIALS: usize = 8;

/// Where the potentials of a file with one scan a row stand.
pub(crate) struct RowsLayout {
    /// First column of potentials, from 0.
    pub(crate) first_column: usize,
    pub(crate) potentials: Vec<f64>,
    /// Row of the first block at which the currents begin: 1 where the potentials are the first row of numbers.
    pub(crate) first_row: usize,
}

/// Recognises the layout; `None` where scans stand in columns.
pub(crate) fn rows_layout(
    block: &Block<'_>,
    heads: &[ColumnHead],
    is_text: &[bool],
    mark: DecimalMark,
    pin: &ReadingPin,
    place: &Place,
) -> Result<Option<RowsLayout>, ReadError> {
    if pin.layout.is_some_and(|layout| layout != Layout::Rows) || pin.potential_column.is_some() {
        return Ok(None);
    }
    let is_pinned = pin.layout == Some(Layout::Rows);
    let first_number = is_text.iter().position(|is_text| !is_text).unwrap_or(0);
    // A label before the numbers is a text column, or one number.
    let labels = if first_number == 0 { 0..=1 } else { first_number..=first_number };
    let candidates: Vec<RowsLayout> =
        [in_header(heads, mark).filter(|rows| labels.contains(&rows.first_column))]
            .into_iter()
            .chain(labels.clone().map(|first_column| in_first_row(block, first_column, is_text)))
            .flatten()
            .collect();
    let is_long = |rows: &RowsLayout| is_pinned || rows.potentials.len() >= FEWEST_POTENTIALS;
    let steps_strictly = |rows: &RowsLayout| is_long(rows) && is_even_one_way(&rows.potentials);
    let steps_mostly = |rows: &RowsLayout| is_pinned && is_plausible_potential(&rows.potentials, None);
    let strict = candidates.iter().position(steps_strictly);
    let chosen = strict.or_else(|| candidates.iter().position(steps_mostly));
    let Some(rows) = chosen.and_then(|index| candidates.into_iter().nth(index)) else {
        if is_pinned {
            return Err(ReadError::LayoutContradicted {
                place: place.clone(),
                pinned: Layout::Rows.word(),
                found: "neither its header nor its first row of numbers steps evenly like a potential"
                    .to_owned(),
            });
        }
        return Ok(None);
    };
    if is_pinned {
        return Ok(Some(rows));
    }
    let stated = heads.iter().find_map(|head| match (head.role, head.unit) {
        (Role::Potential, Some(crate::units::UnitWord::Potential(unit))) => Some(unit),
        _ => None,
    });
    let column = block.columns.iter().zip(is_text).position(|(values, is_text)| {
        let below = values.get(rows.first_row..).unwrap_or_default();
        !is_text && is_plausible_potential(below, stated)
    });
    match column {
        None => Ok(Some(rows)),
        Some(column) if heads.get(column).is_some_and(|head| head.role == Role::Potential) => Ok(None),
        Some(column) => Err(ReadError::Ambiguous {
            place: place.clone(),
            first: format!("potentials down column {}", column + 1),
            second: "potentials across the first row".to_owned(),
            key: "layout",
        }),
    }
}

/// Numbers across the header, with at most one label cell before them.
fn in_header(heads: &[ColumnHead], mark: DecimalMark) -> Option<RowsLayout> {
    let number = |head: &ColumnHead| match cell_from_text(&head.text, mark.byte()) {
        Cell::Number(value) => Some(value),
        _ => None,
    };
    let first_column = heads.iter().position(|head| number(head).is_some())?;
    // `0.l0` in the first place is a broken potential, not a label.
    let label_has_digits =
        heads.iter().take(first_column).any(|head| head.text.contains(|c: char| c.is_ascii_digit()));
    if label_has_digits {
        return None;
    }
    let potentials: Option<Vec<f64>> = heads.iter().skip(first_column).map(number).collect();
    Some(RowsLayout { first_column, potentials: potentials?, first_row: 0 })
}

fn in_first_row(block: &Block<'_>, first_column: usize, is_text: &[bool]) -> Option<RowsLayout> {
    if is_text.iter().skip(first_column).any(|is_text| *is_text) || block.n_rows() < 2 {
        return None;
    }
    let potentials: Option<Vec<f64>> = block
        .columns
        .iter()
        .skip(first_column)
        .map(|values| values.first().copied().filter(|value| value.is_finite()))
        .collect();
    Some(RowsLayout { first_column, potentials: potentials?, first_row: 1 })
}

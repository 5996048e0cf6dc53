//! Tables for people: columns aligned, numbers to the right, no lines but one under the header.

use comfy_table::{CellAlignment, ContentArrangement, LineStyle, Table, TableStyle};

/// A table from its header and rows. A header that begins with `>` marks a column that is aligned to the right.
pub(super) fn table(header: &[&str], rows: &[Vec<String>]) -> String {
    let mut table = Table::new();
    table.load_style(TableStyle::new().header_separator(LineStyle::none().fill('─')));
    table.set_content_arrangement(ContentArrangement::Disabled);
    table.set_header(header.iter().map(|name| name.trim_start_matches('>')));
    for row in rows {
        table.add_row(row);
    }
    for (index, name) in header.iter().enumerate() {
        if let Some(column) = table.column_mut(index) {
            column.set_padding((0, 2));
            if name.starts_with('>') {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
    }
    table.lines().map(|line| line.trim_end().to_owned() + "\n").collect()
}

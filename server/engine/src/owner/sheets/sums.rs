//! All sums by site, variant and month, a column a counter: for whoever computes on.

use super::OwnerContext;
use super::tables::{count, row_withheld, text};
use crate::owner::sums::Counter;
use crate::sheet::{Column, Row, Sheet, Table};
use crate::site::tally::TallyError;
use crate::text::{Sentence, sentence};

/// Makes the sheet.
pub(super) fn sheet(context: &OwnerContext<'_>, _about: &str) -> Result<Sheet, TallyError> {
    let words = ["site", "variant", "month"];
    let mut columns: Vec<Column> =
        words.iter().map(|key| Column::words(key, sentence::owner_column(*key))).collect();
    // Counters are for programs; their names are their headings.
    let heading = |counter: &Counter| -> Sentence { sentence::period(counter.name()) };
    columns.extend(Counter::ALL.iter().map(|counter| Column::numbers(counter.name(), heading(counter))));
    let mut rows = Vec::new();
    for (key, sums) in &context.figures.by_variant {
        let mut cells = vec![text(context.site_name(&key.site)), text(&key.of), text(&key.month)];
        if sums.withheld() {
            cells = row_withheld(cells, columns.len());
        } else {
            cells.extend(Counter::ALL.iter().map(|counter| count(sums.get(*counter))));
        }
        rows.push(Row { cells, job: None });
    }
    let heading = sentence::owner_heading_sums();
    Ok(Sheet {
        tally: "owner-sums",
        title: context.title(None),
        said: Vec::new(),
        tables: vec![Table { heading, columns, rows, empty: sentence::owner_no_work() }],
        notes: vec![sentence::owner_note_people()],
    })
}

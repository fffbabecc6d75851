//! Before and after: only what was looked at.

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::page::COLUMN;
use crate::paragraph::Style;
use crate::strip::Strip;
use crate::table::{Align, Column, Row, Table};

/// The section; nothing if nothing was looked at.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    if view.before_and_after.is_empty() {
        return Ok(Vec::new());
    }
    let mut rows = Vec::new();
    for row in &view.before_and_after {
        let cells = vec![
            composer.cell(Some(&row.label), Style::LABEL)?,
            composer.cell(row.before.as_ref(), Style::TEXT)?,
            composer.cell(row.after.as_ref(), Style::TEXT)?,
        ];
        rows.push(Row { cells, ..Row::default() });
    }
    let column = |share: f64| Column { share, align: Align::Left };
    let head = vec![
        String::new(),
        composer.say(&sentence::record_before())?,
        composer.say(&sentence::record_after())?,
    ];
    let table = Table { columns: vec![column(1.0), column(1.7), column(1.7)], head, rows, ruled_below: true };
    let body = table.strips(composer.faces(), COLUMN)?;
    composer.section(&sentence::record_before_and_after(), body)
}

//! Done and fitted: what was put in, a line each, with its lot and its amount.

use std::rc::Rc;

use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::paragraph::Style;
use crate::strip::Strip;
use crate::table::{Align, Column, Row, Table};

/// The section; nothing if nothing was put in.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut rows = Vec::new();
    for row in &view.done {
        let cells = vec![
            composer.cell(Some(&row.what), Style::TEXT)?,
            composer.cell(row.detail.as_ref(), Style::LABEL)?,
            composer.cell(row.amount.as_ref(), Style::TEXT)?,
        ];
        rows.push(Row { cells, ..Row::default() });
    }
    let columns = vec![
        Column { share: 2.0, align: Align::Left },
        Column { share: 2.0, align: Align::Left },
        Column { share: 1.3, align: Align::Right },
    ];
    let body = Table { columns, rows, ..Table::default() }.strips(composer.faces(), composer.column())?;
    let mut strips = composer.section(&sentence::record_done_and_fitted(), body)?;
    // Where a long list goes on, its heading stands above it again.
    if let [heading, rows @ ..] = strips.as_mut_slice() {
        let heading = Rc::new(heading.clone());
        rows.iter_mut().for_each(|row| row.head = Some(Rc::clone(&heading)));
    }
    Ok(strips)
}

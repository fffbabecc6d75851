//! Before and after: only what was looked at, and one sentence on the fluid with its reason.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::BeforeAfterRow;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::Given;
use crate::paragraph::Style;
use crate::section::words;
use crate::strip::Strip;
use crate::table::{Align, Column, Row, Table};

/// The section; nothing if nothing was looked at.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut rows = Vec::new();
    for row in with_drivers_words(given) {
        let cells = vec![
            composer.cell(Some(&row.label), Style::LABEL)?,
            composer.cell(row.before.as_ref(), Style::TEXT)?,
            composer.cell(row.after.as_ref(), Style::TEXT)?,
        ];
        rows.push(Row { cells, ..Row::default() });
    }
    let mut advice = composer.running(given.view.condition_advice.as_slice(), |_| false)?;
    if rows.is_empty() {
        return composer.section(&sentence::record_before_and_after(), advice);
    }
    let column = |share: f64| Column { share, align: Align::Left };
    let head = vec![
        String::new(),
        composer.say(&sentence::record_before())?,
        composer.say(&sentence::record_after())?,
    ];
    let table = Table { columns: vec![column(1.3), column(1.6), column(1.6)], head, rows, ruled_below: true };
    let mut body = table.strips(composer.faces(), composer.column())?;
    if let Some(first) = advice.first_mut() {
        first.space_above = 3.0;
    }
    body.extend(advice);
    composer.section(&sentence::record_before_and_after(), body)
}

/// The rows of the view; what the driver said of the drive stands in its row, word for word.
fn with_drivers_words(given: &Given<'_>) -> Vec<BeforeAfterRow> {
    let mut rows = given.view.before_and_after.clone();
    let before = words::about(given, "drive-before");
    let after = words::about(given, "drive-after");
    if before.is_empty() && after.is_empty() {
        return rows;
    }
    let drive = sentence::row_drive();
    if !rows.iter().any(|row| row.label.key() == drive.key()) {
        rows.push(BeforeAfterRow { label: drive.clone(), before: None, after: None });
    }
    for row in rows.iter_mut().filter(|row| row.label.key() == drive.key()) {
        row.before = joined(row.before.take(), &before);
        row.after = joined(row.after.take(), &after);
    }
    rows
}

fn joined(seen: Option<Sentence>, words: &[Sentence]) -> Option<Sentence> {
    let said: Vec<Sentence> = seen.into_iter().chain(words.iter().cloned()).collect();
    (!said.is_empty()).then(|| sentence::record_seen_and_said(said))
}

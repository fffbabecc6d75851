//! The level: every look with its clock time, the one that counts in bold, and the window.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::paragraph::{Span, Style};
use crate::strip::Strip;
use crate::table::{Align, Column, Row, Table};

/// The section; nothing if there is nothing to say of the level.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut rows = Vec::new();
    let counts = view.level.attempts.iter().rposition(|attempt| attempt.valid);
    for (place, attempt) in view.level.attempts.iter().enumerate() {
        let style = if counts == Some(place) { Style::STRONG } else { Style::TEXT };
        let clock = Span::new(composer.stated(&attempt.clock), Style::LABEL);
        let cells = vec![vec![clock], composer.cell(Some(&attempt.text), style)?];
        rows.push(Row { cells, ..Row::default() });
    }
    let column = |share: f64| Column { share, align: Align::Left };
    let table = Table { columns: vec![column(1.0), column(11.0)], rows, ..Table::default() };
    let mut body = table.strips(composer.faces(), composer.column())?;
    let said: Vec<Sentence> = view.level.remarks.iter().chain(&view.level.drip).cloned().collect();
    let mut remarks = composer.running(&said, |_| false)?;
    if let Some(first) = remarks.first_mut().filter(|_| !body.is_empty()) {
        first.space_above = 3.0;
    }
    body.extend(remarks);
    composer.section(&sentence::record_level(), body)
}

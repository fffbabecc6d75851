//! Condition of the fluid: what was seen, what it speaks for and why, and the rule that decided, before and after.

use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::{ConditionView, JobView};

use crate::compose::Composer;
use crate::error::ReportError;
use crate::paragraph::Style;
use crate::strip::Strip;
use crate::table::{Align, Column, Row, Table};

/// The section; nothing if nothing was seen.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut body = Vec::new();
    for side in &view.condition {
        body.extend(of_side(side, composer)?);
    }
    composer.section(&sentence::record_condition(), body)
}

fn of_side(side: &ConditionView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut rows = Vec::new();
    for line in &side.lines {
        let cell = |said: &Sentence, composer: &mut Composer<'_>| composer.cell(Some(said), Style::TEXT);
        let cells =
            vec![cell(&line.seen, composer)?, cell(&line.speaks_for, composer)?, cell(&line.why, composer)?];
        rows.push(Row { cells, ..Row::default() });
    }
    let column = |share: f64| Column { share, align: Align::Left };
    let head = vec![
        composer.say(&sentence::record_condition_seen(side.moment.clone()))?,
        composer.say(&sentence::record_condition_speaks_for())?,
        composer.say(&sentence::record_condition_why())?,
    ];
    let table =
        Table { columns: vec![column(2.2), column(1.2), column(2.0)], head, rows, ..Table::default() };
    let mut strips = table.strips(composer.faces(), composer.column())?;
    let mut conclusion = composer.running(std::slice::from_ref(&side.conclusion), |_| false)?;
    if let Some(first) = conclusion.first_mut() {
        first.space_above = 3.0;
    }
    strips.extend(conclusion);
    Ok(strips)
}

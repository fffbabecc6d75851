//! Fluid in and out: what was read, side by side, with the sums and what their difference means.

use standpipe_engine::quantity::Estimate;
use standpipe_engine::text::{Sentence, number, sentence};
use standpipe_engine::view::{BalanceRow, JobView};

use crate::compose::Composer;
use crate::error::ReportError;
use crate::paragraph::{Span, Style};
use crate::strip::Strip;
use crate::table::{Align, Column, Row, Table};

/// The section; nothing if nothing was measured.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let Some(balance) = &view.balance else { return Ok(Vec::new()) };
    let mut rows = Vec::new();
    for index in 0..balance.went_in.len().max(balance.came_out.len()) {
        let mut cells = half(balance.went_in.get(index), composer)?;
        cells.push(Vec::new());
        cells.extend(half(balance.came_out.get(index), composer)?);
        rows.push(Row { cells, ..Row::default() });
    }
    // A sum that lacks what nobody measured would be read as if it were all.
    if balance.difference.is_some() {
        let sum = |words: String, total: &Estimate| {
            [vec![Span::new(words, Style::STRONG)], vec![Span::new(litres(total), Style::STRONG)]]
        };
        let mut cells = Vec::from(sum(composer.say(&sentence::record_in())?, &balance.total_in));
        cells.push(Vec::new());
        cells.extend(sum(composer.say(&sentence::record_out())?, &balance.total_out));
        rows.push(Row { cells, ruled_above: true });
    }
    // The narrow column in the middle holds the two halves apart.
    let columns = [
        (2.0, Align::Left),
        (0.55, Align::Decimal),
        (0.02, Align::Left),
        (2.8, Align::Left),
        (0.55, Align::Decimal),
    ];
    let columns = columns.into_iter().map(|(share, align)| Column { share, align }).collect();
    let table = Table { columns, rows, ..Table::default() };
    let mut body = table.strips(composer.faces(), composer.column())?;
    let said: Vec<Sentence> =
        std::iter::once(sentence::record_balance_basis()).chain(balance.said().cloned()).collect();
    let mut remarks = composer.running(&said, |_| false)?;
    if let Some(first) = remarks.first_mut() {
        first.space_above = 3.0;
    }
    body.extend(remarks);
    composer.section(&sentence::record_fluid_in_and_out(), body)
}

fn half(row: Option<&BalanceRow>, composer: &mut Composer<'_>) -> Result<Vec<Vec<Span>>, ReportError> {
    match row {
        Some(row) => {
            let label = composer.cell(Some(&row.label), Style::TEXT)?;
            Ok(vec![label, vec![Span::text(litres(&row.litres))]])
        }
        None => Ok(vec![Vec::new(), Vec::new()]),
    }
}

/// Two decimals in every row, so that the column can be added up by eye.
fn litres(estimate: &Estimate) -> String {
    number::litres(estimate.value, 2)
}

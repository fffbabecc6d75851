//! A tally and what a code belongs to, as messages. Jobs are named by their printed number.

use super::{all_words, words};
use crate::status::Cause;
use standpipe_engine::kind::words::Part;
use standpipe_engine::sheet::{Cell, Row, Sheet, Table};
use standpipe_engine::site::{Found, FoundWhat};
use standpipe_engine::text::Language;
use standpipe_proto::v1;

/// The printed number of a job by its identity; nothing if it has none.
pub(crate) type NumberOf<'a> = &'a dyn Fn(&str) -> Option<String>;

/// A tally; the time that it was made for and how far it reaches are the caller's.
pub(crate) fn sheet(language: Language, sheet: &Sheet, number_of: NumberOf<'_>) -> Result<v1::Sheet, Cause> {
    let tables = sheet.tables.iter().map(|it| table(language, it, number_of));
    Ok(v1::Sheet {
        tally: sheet.tally.to_owned(),
        title: words(language, &sheet.title)?,
        said: all_words(language, &sheet.said)?,
        tables: tables.collect::<Result<_, _>>()?,
        notes: all_words(language, &sheet.notes)?,
        as_of: None,
        last_seq: 0,
    })
}

fn table(language: Language, table: &Table, number_of: NumberOf<'_>) -> Result<v1::SheetTable, Cause> {
    let columns = table.columns.iter().map(|column| {
        let heading = words(language, &column.heading)?;
        Ok(v1::SheetColumn { key: column.key.to_owned(), heading, numeric: column.numeric })
    });
    Ok(v1::SheetTable {
        heading: words(language, &table.heading)?,
        columns: columns.collect::<Result<_, Cause>>()?,
        rows: table.rows.iter().map(|it| row(language, it, number_of)).collect::<Result<_, _>>()?,
        empty: words(language, &table.empty)?,
    })
}

fn row(language: Language, row: &Row, number_of: NumberOf<'_>) -> Result<v1::SheetRow, Cause> {
    Ok(v1::SheetRow {
        cells: row.cells.iter().map(|it| cell(language, it)).collect::<Result<_, _>>()?,
        job: row.job.as_deref().and_then(number_of).unwrap_or_default(),
    })
}

fn cell(language: Language, cell: &Cell) -> Result<v1::SheetCell, Cause> {
    let said = |text: String| v1::SheetCell { text, number: None, unit: String::new() };
    Ok(match cell {
        Cell::Empty => said(String::new()),
        Cell::Words(sentence) => said(words(language, sentence)?),
        Cell::Text(text) => said(text.clone()),
        Cell::Number { value, shown, unit } => v1::SheetCell {
            text: shown.clone(),
            number: Some(*value).filter(|value| value.is_finite()),
            unit: (*unit).to_owned(),
        },
    })
}

/// One thing that a code belongs to.
pub(crate) fn found(
    language: Language,
    found: &Found,
    number_of: NumberOf<'_>,
) -> Result<v1::FoundCode, Cause> {
    let what = match found.what {
        FoundWhat::Part => v1::FoundWhat::Part,
        FoundWhat::Lot => v1::FoundWhat::Lot,
        FoundWhat::Tool => v1::FoundWhat::Tool,
        FoundWhat::Equipment => v1::FoundWhat::Equipment,
        FoundWhat::Job => v1::FoundWhat::Job,
    };
    Ok(v1::FoundCode {
        what: what.into(),
        code: found.code.clone(),
        text: words(language, &found.text)?,
        part: found.part.map_or(v1::Part::Unspecified, part).into(),
        lot: found.lot.clone(),
        job: number_of(&found.job).unwrap_or_default(),
    })
}

fn part(part: Part) -> v1::Part {
    match part {
        Part::FluidContainer => v1::Part::FluidContainer,
        Part::Filter => v1::Part::Filter,
        Part::TransmissionPlate => v1::Part::TransmissionPlate,
        Part::Standpipe => v1::Part::Standpipe,
        Part::OldFilter => v1::Part::OldFilter,
    }
}

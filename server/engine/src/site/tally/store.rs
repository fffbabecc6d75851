//! The store: each code and lot, what came in, was drawn, was counted, and what is there.

use super::cells::{Kind::Numbers, Kind::Words, amount, columns, container, remarks, row, supply, text};
use super::{Asked, TallyError};
use crate::sheet::{Cell, Row, Sheet, Table};
use crate::site::SiteContext;
use crate::site::exact::Exact;
use crate::site::lot_good::lot_named;
use crate::site::lots::Lots;
use crate::site::store::{Balance, Count, Shelf, Store};
use crate::text::{Sentence, sentence};
use jiff::civil::Date;

/// Makes the sheet.
pub(super) fn sheet(context: &SiteContext<'_>, _asked: &Asked) -> Result<Sheet, TallyError> {
    let store = Store::of(context.revision, context.facts);
    let today = context.date(context.as_of_us);
    let lots = Lots::new(context.revision, context.facts, u64::MAX);
    let mut said = Vec::new();
    let mut rows = Vec::new();
    for shelf in &store.shelves {
        for lot in &shelf.lots {
            let remarked = of_lot(&lots, shelf, lot, today);
            let worth = remarked.iter().filter(|(_, first)| *first).map(|(remark, _)| remark.clone());
            let worth: Vec<Sentence> = worth.collect();
            if !worth.is_empty() {
                said.push(sentence::store_first(worth, named(shelf, lot)));
            }
            let remarked = remarked.into_iter().map(|(remark, _)| remark).collect();
            rows.push(lot_row(context, shelf, lot, remarks(remarked)));
        }
        if shelf.lots.len() > 1 || !shelf.counts.is_empty() {
            rows.push(sum_row(context, shelf));
        }
    }
    said.extend(store.shelves.iter().flat_map(|shelf| differences(context, shelf)));
    Ok(Sheet {
        tally: "store",
        title: sentence::store_title(context.site_name),
        said,
        tables: vec![Table {
            heading: sentence::store_heading(),
            columns: columns(&[
                ("code", Words, sentence::column_code),
                ("name", Words, sentence::column_name),
                ("lot", Words, sentence::column_lot),
                ("what", Words, sentence::column_what),
                ("container", Words, sentence::column_container),
                ("received", Numbers, sentence::column_received),
                ("drawn", Numbers, sentence::column_drawn),
                ("counted", Numbers, sentence::column_counted),
                ("counted_on", Words, sentence::column_counted_on),
                ("difference", Numbers, sentence::column_difference),
                ("there", Numbers, sentence::column_there),
                ("last_day", Words, sentence::column_last_day),
                ("said", Words, sentence::column_said),
            ]),
            rows,
            empty: sentence::store_empty(),
        }],
        notes: vec![sentence::store_note_litres(), sentence::store_note_counts()],
    })
}

fn named(shelf: &Shelf, lot: &Balance) -> Sentence {
    let code = if shelf.name.is_empty() { &shelf.code } else { &shelf.name };
    if lot.lot.is_empty() { sentence::store_without_lot(code) } else { lot_named(code, &lot.lot) }
}

/// Remarks on a lot, each with whether it stands above the table too.
fn of_lot(lots: &Lots<'_>, shelf: &Shelf, lot: &Balance, today: Date) -> Vec<(Sentence, bool)> {
    let mut said = Vec::new();
    let left = lot.there() > Exact::ZERO;
    if lot.lot.is_empty() {
        if lot.drawn != Exact::ZERO && shelf.is_kept() {
            said.push((sentence::store_drawn_without_lot(lot.drawn.said(shelf.unit)), false));
        }
    } else if lots.recalled(&lot.lot, &shelf.code).is_some() {
        said.push((sentence::store_recalled(), true));
    }
    if !lot.last_day.is_empty() && lot.last_day < today.to_string() {
        said.push((sentence::store_past_last_day(), left));
    }
    match (shelf.is_kept(), lot.is_received()) {
        (false, _) => said.push((sentence::store_not_kept(), false)),
        (true, false) if !lot.lot.is_empty() && lot.counts.is_empty() => {
            said.push((sentence::store_never_received(), true));
        }
        // Of what is drawn without a lot the sum over all lots says whether it is too much.
        (true, true) if lot.there().is_negative() => {
            said.push((sentence::store_overdrawn(lot.there().magnitude().said(shelf.unit)), true));
        }
        _ => {}
    }
    said
}

fn lot_row(context: &SiteContext<'_>, shelf: &Shelf, lot: &Balance, said: Cell) -> Row {
    let last = lot.counts.last();
    let there = if shelf.is_kept() { amount(lot.there(), shelf.unit) } else { Cell::Empty };
    row(vec![
        code(shelf),
        text(&shelf.name),
        if lot.lot.is_empty() { Cell::Words(sentence::store_no_lot()) } else { text(&lot.lot) },
        supply(shelf.what),
        container(lot.container),
        amount(lot.received, shelf.unit),
        amount(lot.drawn, shelf.unit),
        counted(shelf, last),
        counted_on(context, last),
        found(
            shelf,
            lot.difference,
            !lot.counts.is_empty() || (lot.lot.is_empty() && !shelf.counts.is_empty()),
        ),
        there,
        text(&lot.last_day),
        said,
    ])
}

fn sum_row(context: &SiteContext<'_>, shelf: &Shelf) -> Row {
    let last = shelf.counts.last();
    let there = shelf.sum(Balance::there);
    let overdrawn = shelf.is_kept() && there.is_negative();
    let said = overdrawn.then(|| sentence::store_overdrawn(there.magnitude().said(shelf.unit)));
    let any = !shelf.counts.is_empty() || shelf.lots.iter().any(|lot| !lot.counts.is_empty());
    row(vec![
        code(shelf),
        text(&shelf.name),
        Cell::Words(sentence::store_all_lots()),
        supply(shelf.what),
        Cell::Empty,
        amount(shelf.sum(|lot| lot.received), shelf.unit),
        amount(shelf.sum(|lot| lot.drawn), shelf.unit),
        counted(shelf, last),
        counted_on(context, last),
        found(shelf, shelf.sum(|lot| lot.difference), any),
        if shelf.is_kept() { amount(there, shelf.unit) } else { Cell::Empty },
        Cell::Empty,
        remarks(said.into_iter().collect()),
    ])
}

fn code(shelf: &Shelf) -> Cell {
    if shelf.code.is_empty() { Cell::Words(sentence::store_unnamed()) } else { text(&shelf.code) }
}

fn counted(shelf: &Shelf, count: Option<&Count>) -> Cell {
    count.map_or(Cell::Empty, |count| amount(count.counted, shelf.unit))
}

fn counted_on(context: &SiteContext<'_>, count: Option<&Count>) -> Cell {
    count.map_or(Cell::Empty, |count| text(context.date(count.time_us).to_string()))
}

fn found(shelf: &Shelf, difference: Exact, counted: bool) -> Cell {
    if counted { amount(difference, shelf.unit) } else { Cell::Empty }
}

/// The last count of each lot, and of all lots together, that did not find what was computed.
fn differences(context: &SiteContext<'_>, shelf: &Shelf) -> Vec<Sentence> {
    let code = if shelf.name.is_empty() { &shelf.code } else { &shelf.name };
    let together = shelf.counts.last().map(|count| (sentence::store_all_of(code), count));
    let lots = shelf.lots.iter().filter_map(|lot| Some((named(shelf, lot), lot.counts.last()?)));
    let off = lots.chain(together).filter(|(_, count)| count.counted != count.computed);
    off.map(|(what, count)| difference(context, shelf, what, count)).collect()
}

/// A count that did not find what was computed, in a sentence.
pub(super) fn difference(
    context: &SiteContext<'_>,
    shelf: &Shelf,
    what: Sentence,
    count: &Count,
) -> Sentence {
    let day = |us: i64| context.date(us).strftime("%-d %B %Y").to_string();
    let computed = count.computed.said(shelf.unit);
    let counted = count.counted.said(shelf.unit);
    let off = count.difference();
    let way = if off.is_negative() { "less" } else { "more" };
    let off = off.magnitude().said(shelf.unit);
    match count.since_us {
        Some(since) => sentence::store_difference_since(
            computed,
            counted,
            day(count.time_us),
            off,
            day(since),
            way,
            what,
        ),
        None => sentence::store_difference(computed, counted, day(count.time_us), off, way, what),
    }
}

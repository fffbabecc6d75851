//! Month end on one page: jobs and records that are open, store, waste, what is due in the coming month.

use super::cells::{Kind::Numbers, Kind::Words, amount, columns, job_row, plain, row, text};
use super::period::Period;
use super::{Asked, TallyError, tools, waste};
use crate::sheet::{Cell, Row, Sheet, Table};
use crate::site::SiteContext;
use crate::site::account::JobAccount;
use crate::site::store::{Balance, Count, Shelf, Store};
use crate::text::{Sentence, sentence};
use std::collections::BTreeMap;

/// One part of the page: what it says first, and its table.
pub(in crate::site) type Part = (Vec<Sentence>, Table);

/// THE table of its parts, in the order in which they are printed.
const PARTS: &[fn(&SiteContext<'_>, &Period) -> Part] =
    &[jobs_open, records_open, stock, waste_by_code, services_due, tools_due];

/// Makes the sheet.
pub(super) fn sheet(context: &SiteContext<'_>, asked: &Asked) -> Result<Sheet, TallyError> {
    let period = Period::of(context, asked)?;
    let parts = PARTS.iter().map(|part| part(context, &period));
    let (said, tables): (Vec<Vec<Sentence>>, Vec<Table>) = parts.unzip();
    Ok(Sheet {
        tally: "month",
        title: sentence::month_title(period.said(), context.site_name),
        said: said.into_iter().flatten().collect(),
        tables,
        notes: vec![sentence::month_note()],
    })
}

/// Accounts that fit, in the order in which the jobs were opened.
fn accounts<'a>(
    context: &SiteContext<'a>,
    fits: impl Fn(&JobAccount) -> bool,
) -> Vec<(&'a str, &'a JobAccount)> {
    let mut found: Vec<_> = context.facts.accounts().filter(|(_, account)| fits(account)).collect();
    found.sort_by_key(|(_, account)| (account.opened_us, &account.number));
    found
}

/// Jobs that are open now, whatever month is asked for.
fn jobs_open(context: &SiteContext<'_>, _: &Period) -> Part {
    let opened = |account: &JobAccount| context.date(account.opened_us);
    let open = accounts(context, |it| it.closed_us.is_none());
    let rows: Vec<Row> = open
        .into_iter()
        .map(|(job, account)| {
            let cells = vec![text(&account.number), text(&account.plate), text(opened(account).to_string())];
            job_row(job, cells)
        })
        .collect();
    let said = (!rows.is_empty()).then(|| sentence::month_jobs_open(rows.len() as u64));
    let table = Table {
        heading: sentence::month_jobs(),
        columns: columns(&[
            ("job", Words, sentence::column_job),
            ("plate", Words, sentence::column_plate),
            ("opened_on", Words, sentence::column_opened_on),
        ]),
        rows,
        empty: sentence::month_all_closed(),
    };
    (said.into_iter().collect(), table)
}

/// Records that are not handed over now, whatever month is asked for.
fn records_open(context: &SiteContext<'_>, _: &Period) -> Part {
    let closed = |account: &JobAccount| account.closed_us.map(|us| context.date(us));
    let open = accounts(context, |it| it.record_open && it.closed_us.is_some());
    let rows: Vec<Row> = open
        .into_iter()
        .map(|(job, account)| {
            let lacking = match (account.issued, account.handed_over) {
                (false, _) => sentence::month_not_issued(),
                (true, false) => sentence::month_not_handed_over(),
                (true, true) => sentence::month_newer_edition(),
            };
            let day = closed(account).map(|day| day.to_string()).unwrap_or_default();
            job_row(job, vec![text(&account.number), text(&account.plate), text(day), Cell::Words(lacking)])
        })
        .collect();
    let said = (!rows.is_empty()).then(|| sentence::month_records_open(rows.len() as u64));
    let table = Table {
        heading: sentence::month_records(),
        columns: columns(&[
            ("job", Words, sentence::column_job),
            ("plate", Words, sentence::column_plate),
            ("closed_on", Words, sentence::column_closed_on),
            ("lacking", Words, sentence::column_lacking),
        ]),
        rows,
        empty: sentence::month_all_handed_over(),
    };
    (said.into_iter().collect(), table)
}

/// Every count of the period, and what was not counted in it.
fn stock(context: &SiteContext<'_>, period: &Period) -> Part {
    let store = Store::of(context.revision, context.facts);
    let (mut rows, mut said) = (Vec::new(), Vec::new());
    for shelf in store.shelves.iter().filter(|shelf| shelf.is_kept()) {
        let of_lots =
            shelf.lots.iter().flat_map(|lot| lot.counts.iter().map(|count| (lot.lot.as_str(), count)));
        let together = shelf.counts.iter().map(|count| ("", count));
        let counts = of_lots.chain(together);
        let mut counts: Vec<(&str, &Count)> =
            counts.filter(|(_, count)| period.days.contains(&context.date(count.time_us))).collect();
        counts.sort_by_key(|(_, count)| count.time_us);
        if counts.is_empty() {
            rows.push(uncounted(shelf));
        }
        for (lot, count) in counts {
            if count.counted != count.computed {
                let code = if shelf.name.is_empty() { &shelf.code } else { &shelf.name };
                let what = if lot.is_empty() {
                    sentence::store_all_of(code)
                } else {
                    crate::site::lot_good::lot_named(code, lot)
                };
                said.push(super::store::difference(context, shelf, what, count));
            }
            rows.push(counted(context, shelf, lot, count));
        }
    }
    let table = Table {
        heading: sentence::month_stock(),
        columns: columns(&[
            ("code", Words, sentence::column_code),
            ("name", Words, sentence::column_name),
            ("lot", Words, sentence::column_lot),
            ("counted_on", Words, sentence::column_counted_on),
            ("computed", Numbers, sentence::column_computed),
            ("counted", Numbers, sentence::column_counted),
            ("difference", Numbers, sentence::column_difference),
            ("there", Numbers, sentence::column_there_now),
        ]),
        rows,
        empty: sentence::store_empty(),
    };
    (said, table)
}

fn uncounted(shelf: &Shelf) -> Row {
    row(vec![
        text(&shelf.code),
        text(&shelf.name),
        Cell::Words(sentence::store_all_lots()),
        Cell::Words(sentence::month_not_counted()),
        Cell::Empty,
        Cell::Empty,
        Cell::Empty,
        amount(shelf.sum(Balance::there), shelf.unit),
    ])
}

fn counted(context: &SiteContext<'_>, shelf: &Shelf, lot: &str, count: &Count) -> Row {
    let balance = shelf.lots.iter().find(|known| !lot.is_empty() && known.lot == lot);
    let there = balance.map_or_else(|| shelf.sum(Balance::there), Balance::there);
    row(vec![
        text(&shelf.code),
        text(&shelf.name),
        if lot.is_empty() { Cell::Words(sentence::store_all_lots()) } else { text(lot) },
        text(context.date(count.time_us).to_string()),
        amount(count.computed, shelf.unit),
        amount(count.counted, shelf.unit),
        amount(count.difference(), shelf.unit),
        amount(there, shelf.unit),
    ])
}

/// Checks that are due up to the end of the coming month.
fn tools_due(context: &SiteContext<'_>, period: &Period) -> Part {
    (Vec::new(), tools::due(context, period.coming_month().end))
}

fn waste_by_code(context: &SiteContext<'_>, period: &Period) -> Part {
    let register = waste::register(context);
    let warnings = register.warnings(&period.days, context.workshop().waste_codes.is_some());
    (warnings, waste::by_code(context, &register, period))
}

/// The last job of each vehicle, where its next service is due in the coming month.
fn services_due(context: &SiteContext<'_>, period: &Period) -> Part {
    let mut last: BTreeMap<&str, (&str, &JobAccount)> = BTreeMap::new();
    for (job, account) in accounts(context, |it| !it.due_on.is_empty()) {
        // Without a VIN the plate is what is known of the vehicle.
        let vehicle = if account.vin.is_empty() { &account.plate } else { &account.vin };
        last.insert(vehicle, (job, account));
    }
    let coming = period.coming_month();
    let (from, to) = (coming.start.to_string(), coming.end.to_string());
    let mut due: Vec<(&str, &JobAccount)> = last.into_values().collect();
    due.sort_by_key(|(_, account)| (&account.due_on, &account.number));
    let passed = due.iter().filter(|(_, account)| account.due_on < from).count();
    let coming = due.into_iter().filter(|(_, account)| account.due_on >= from && account.due_on < to);
    let rows: Vec<Row> = coming
        .map(|(job, account)| {
            let kilometres = account.due_kilometres.map_or(Cell::Empty, |km| plain(km, 0, "km"));
            let cells = vec![
                text(&account.number),
                text(&account.plate),
                text(&account.vin),
                text(&account.due_on),
                kilometres,
            ];
            job_row(job, cells)
        })
        .collect();
    let said = (passed > 0).then(|| sentence::month_due_passed(passed as u64));
    let table = Table {
        heading: sentence::month_due(super::period::month_said(&period.coming_month())),
        columns: columns(&[
            ("job", Words, sentence::column_last_job),
            ("plate", Words, sentence::column_plate),
            ("vin", Words, sentence::column_vin),
            ("due_on", Words, sentence::column_due_on),
            ("due_kilometres", Numbers, sentence::column_due_kilometres),
        ]),
        rows,
        empty: sentence::month_nothing_due(),
    };
    (said.into_iter().collect(), table)
}

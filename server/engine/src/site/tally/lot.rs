//! One lot: its deliveries and counts, and which vehicles got it; or one vehicle, and which lots it got.

use super::cells::{
    Kind::Numbers, Kind::Words, amount, columns, container, job_row, remarks, row, supply, text,
};
use super::{Asked, TallyError};
use crate::catalogue::same_code;
use crate::kind::lot_received::{LotReceived, StoreAmount};
use crate::kind::stock_counted::StockCounted;
use crate::sheet::{Cell, Row, Sheet, Table};
use crate::site::account::{COMPARED, JobAccount, Use, UseOf};
use crate::site::exact::{Exact, Unit};
use crate::site::lot_good::day_in_words;
use crate::site::lots::Lots;
use crate::site::{SiteContext, SiteStated};
use crate::text::{Sentence, sentence};

/// Makes the sheet.
pub(super) fn sheet(context: &SiteContext<'_>, asked: &Asked) -> Result<Sheet, TallyError> {
    let about = asked.about.trim();
    if about.is_empty() {
        return Err(TallyError::AboutNothing { name: "lot", what: "lot, job, plate or VIN" });
    }
    let lots = Lots::new(context.revision, context.facts, u64::MAX);
    let used = used_by(context, |_, used| same_code(&used.lot, about));
    let is_lot =
        !used.is_empty() || lots.numbered(about).next().is_some() || lots.recalled(about, "").is_some();
    let of_vehicle = |account: &JobAccount| {
        [&account.number, &account.plate, &account.vin].into_iter().any(|known| same_code(known, about))
    };
    let got = used_by(context, |account, used| of_vehicle(account) && !used.lot.is_empty());
    if !is_lot && context.facts.accounts().any(|(_, account)| of_vehicle(account)) {
        return Ok(Sheet {
            tally: "lot",
            title: sentence::lot_vehicle_title(about),
            said: Vec::new(),
            tables: vec![vehicles(context, sentence::lot_vehicle_heading(), &got)],
            notes: vec![sentence::lot_note_compared()],
        });
    }
    Ok(Sheet {
        tally: "lot",
        title: sentence::lot_title(about),
        said: said(context, &lots, about, &used),
        tables: vec![deliveries(context, &lots, about), vehicles(context, sentence::lot_vehicles(), &used)],
        notes: vec![sentence::lot_note_compared()],
    })
}

/// Fluid and parts that fit, with their jobs.
fn used_by<'a>(
    context: &SiteContext<'a>,
    fits: impl Fn(&JobAccount, &Use) -> bool,
) -> Vec<(&'a str, &'a JobAccount, &'a Use)> {
    let mut found: Vec<(&str, &JobAccount, &Use)> = Vec::new();
    for (job, account) in context.facts.accounts() {
        let uses = account.uses.iter().filter(|used| matches!(used.of, UseOf::Fluid | UseOf::Part));
        found.extend(uses.filter(|used| fits(account, used)).map(|used| (job, account, used)));
    }
    found.sort_by_key(|(_, _, used)| used.seq);
    found
}

fn said(
    context: &SiteContext<'_>,
    lots: &Lots<'_>,
    about: &str,
    used: &[(&str, &JobAccount, &Use)],
) -> Vec<Sentence> {
    let mut said = Vec::new();
    if let Some((stated, recall)) = lots.recalled(about, "") {
        let day = context.date(stated.time_us).strftime("%-d %B %Y").to_string();
        said.push(sentence::lot_is_recalled(day, &recall.reason));
    }
    let today = context.date(context.as_of_us).to_string();
    if let Some(last) = lots.last_day(about, "") {
        let day = day_in_words(last);
        said.push(if *last < *today { sentence::lot_is_past(day) } else { sentence::lot_until(day) });
    }
    let jobs = |fits: &dyn Fn(&str, &Use) -> bool| {
        let mut jobs: Vec<&str> =
            used.iter().filter(|(job, _, used)| fits(job, used)).map(|(job, ..)| *job).collect();
        jobs.sort_unstable();
        jobs.dedup();
        jobs
    };
    let drew = jobs(&|_, used| used.purpose != COMPARED);
    let read = jobs(&|job, used| used.purpose == COMPARED && !drew.contains(&job));
    said.push(sentence::lot_job_count(drew.len() as u64));
    said.extend((!read.is_empty()).then(|| sentence::lot_read_count(read.len() as u64)));
    said
}

fn deliveries(context: &SiteContext<'_>, lots: &Lots<'_>, about: &str) -> Table {
    let came = lots.numbered(about).map(|(stated, lot)| delivery(context, stated, lot));
    let counts = context.facts.each::<StockCounted>(u64::MAX);
    let counts = counts.filter(|(_, count)| same_code(&count.lot, about));
    let mut rows: Vec<(u64, Row)> = came.collect();
    rows.extend(counts.map(|(stated, count)| (stated.seq, counted(context, stated, count))));
    rows.sort_by_key(|(seq, _)| *seq);
    Table {
        heading: sentence::lot_deliveries(),
        columns: columns(&[
            ("date", Words, sentence::column_date),
            ("event", Words, sentence::column_event),
            ("code", Words, sentence::column_code),
            ("what", Words, sentence::column_what),
            ("amount", Numbers, sentence::column_amount),
            ("container", Words, sentence::column_container),
            ("containers", Numbers, sentence::column_containers),
            ("last_day", Words, sentence::column_last_day),
            ("document", Words, sentence::column_document),
            ("person", Words, sentence::column_person),
        ]),
        rows: rows.into_iter().map(|(_, row)| row).collect(),
        empty: sentence::lot_no_delivery(),
    }
}

fn delivery(context: &SiteContext<'_>, stated: &SiteStated, lot: &LotReceived) -> (u64, Row) {
    let containers = lot.container_count.map(|count| Exact::new(f64::from(count)));
    let cells = vec![
        text(context.date(stated.time_us).to_string()),
        Cell::Words(sentence::lot_event_received()),
        text(&lot.code),
        supply(lot.what),
        stored(lot.amount.as_ref()),
        container(lot.container),
        containers.map_or(Cell::Empty, |count| super::cells::plain(count.value(), 0, "")),
        text(&lot.expires_on),
        text(&lot.document),
        Cell::Words(context.person(&stated.person)),
    ];
    (stated.seq, row(cells))
}

fn counted(context: &SiteContext<'_>, stated: &SiteStated, count: &StockCounted) -> Row {
    row(vec![
        text(context.date(stated.time_us).to_string()),
        Cell::Words(sentence::lot_event_counted()),
        text(&count.code),
        supply(count.what),
        stored(count.amount.as_ref()),
        Cell::Empty,
        Cell::Empty,
        Cell::Empty,
        Cell::Empty,
        Cell::Words(context.person(&stated.person)),
    ])
}

fn stored(given: Option<&StoreAmount>) -> Cell {
    use crate::amount::Read;
    match given {
        None => Cell::Words(sentence::store_unstated()),
        Some(StoreAmount::Pieces(count)) => amount(Exact::new(f64::from(*count)), Unit::Pieces),
        Some(StoreAmount::Fluid(fluid)) => match fluid.read() {
            Read::Litres(litres) => amount(Exact::new(litres), Unit::Litres),
            Read::Kilograms(kilograms) => amount(Exact::new(kilograms), Unit::Kilograms),
        },
    }
}

fn vehicles(context: &SiteContext<'_>, heading: Sentence, used: &[(&str, &JobAccount, &Use)]) -> Table {
    let rows = used.iter().map(|(job, account, used)| {
        let unit = if used.of == UseOf::Fluid { Unit::Litres } else { Unit::Pieces };
        // Without an amount only the lot is known.
        let given = (used.amount > 0.0).then(|| Exact::new(used.amount));
        let cells = vec![
            text(&account.number),
            text(&account.plate),
            text(&account.vin),
            text(context.date(used.done_us).to_string()),
            text(&used.code),
            text(&used.lot),
            super::cells::amount_if(given, unit),
            purpose(used),
        ];
        job_row(job, cells)
    });
    Table {
        heading,
        columns: columns(&[
            ("job", Words, sentence::column_job),
            ("plate", Words, sentence::column_plate),
            ("vin", Words, sentence::column_vin),
            ("date", Words, sentence::column_date),
            ("code", Words, sentence::column_code),
            ("lot", Words, sentence::column_lot),
            ("amount", Numbers, sentence::column_amount),
            ("purpose", Words, sentence::column_purpose),
        ]),
        rows: rows.collect(),
        empty: sentence::lot_nobody(),
    }
}

/// What something was used for, in words.
fn purpose(used: &Use) -> Cell {
    let known = ["exchange", "refill", "level", "compared", "kit", "filter"];
    let word = if known.contains(&used.purpose.as_str()) { used.purpose.as_str() } else { "other" };
    remarks(vec![sentence::use_purpose(word)])
}

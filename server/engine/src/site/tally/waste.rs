//! The register of waste of a month or a year: lines, collections, and what is held by code.

use super::cells::{Kind::Numbers, Kind::Words, amount, amount_if, columns, job_row, plain, row, text};
use super::period::{Period, month_said};
use super::{Asked, TallyError};
use crate::kind::equipment_contents::EquipmentContents;
use crate::kind::waste_collected::WasteCollected;
use crate::kind::words::WasteKind;
use crate::sheet::{Cell, Row, Sheet, Table};
use crate::site::account::{JobAccount, Use, UseOf};
use crate::site::density::{density_15, printed_density};
use crate::site::exact::{Exact, Unit};
use crate::site::store::rinsed_litres;
use crate::site::waste::{Collection, Line, Register, same_waste};
use crate::site::{SiteContext, SiteStated};
use crate::text::{Sentence, sentence};
use jiff::civil::Date;
use std::ops::Range;

/// Makes the sheet.
pub(super) fn sheet(context: &SiteContext<'_>, asked: &Asked) -> Result<Sheet, TallyError> {
    let period = Period::of(context, asked)?;
    let register = register(context);
    let mut tables = vec![
        by_code(context, &register, &period),
        lines(context, &register, &period.days),
        collections(context, &register, &period.days),
    ];
    if period.is_year {
        tables.insert(1, by_month(context, &register, &period));
    }
    Ok(Sheet {
        tally: "waste",
        title: sentence::waste_title(period.said(), context.site_name),
        said: register.warnings(&period.days, context.workshop().waste_codes.is_some()),
        tables,
        notes: notes(context),
    })
}

/// Everything of the site that made waste or took it away.
pub(super) fn register(context: &SiteContext<'_>) -> Register {
    let mut lines: Vec<Line> = Vec::new();
    for (job, account) in context.facts.accounts() {
        let made = account.uses.iter().filter(|used| used.of == UseOf::Waste);
        lines.extend(made.map(|used| line(context, job, account, used)));
    }
    let rinses = context.facts.each::<EquipmentContents>(u64::MAX);
    lines.extend(rinses.filter_map(|(stated, contents)| rinse(context, stated, contents)));
    let taken = context.facts.each::<WasteCollected>(u64::MAX);
    Register::new(lines, taken.map(|(stated, taken)| collection(context, stated, taken)).collect())
}

fn line(context: &SiteContext<'_>, job: &str, account: &JobAccount, used: &Use) -> Line {
    let exact = Exact::new(used.amount);
    let (litres, pieces) = match used.unit.as_str() {
        "L" => (Some(exact), None),
        "pieces" => (None, Some(exact)),
        _ => (None, None),
    };
    let weighed = (used.unit == "kg").then_some(exact);
    Line {
        date: context.date(used.done_us),
        seq: used.seq,
        job_id: Some(job.to_owned()),
        job: account.number.clone(),
        code: if used.waste_code.is_empty() { code(context, &used.code) } else { used.waste_code.clone() },
        what: used.code.clone(),
        litres,
        pieces,
        // A bench scale shows 10 g; what is computed is given no finer.
        kilograms: weighed.or_else(|| Some(Exact::hundredths(litres?.value() * used.density?))),
        density: used.density,
        container: used.container.clone(),
        person: used.person.clone(),
    }
}

/// Fluid that rinsed equipment is used fluid afterwards.
fn rinse(context: &SiteContext<'_>, stated: &SiteStated, contents: &EquipmentContents) -> Option<Line> {
    let litres = rinsed_litres(contents)?;
    let density = printed_density(density_15(context.revision, &contents.fluid_code));
    let what = WasteKind::UsedFluid.word();
    Some(Line {
        date: context.date(stated.time_us),
        seq: stated.seq,
        job_id: None,
        job: String::new(),
        code: code(context, what),
        what: what.to_owned(),
        litres: Some(litres),
        pieces: None,
        kilograms: Some(Exact::hundredths(litres.value() * density)),
        density: Some(density),
        container: String::new(),
        person: stated.person.clone(),
    })
}

fn collection(context: &SiteContext<'_>, stated: &SiteStated, taken: &WasteCollected) -> Collection {
    Collection {
        date: context.date(stated.time_us),
        seq: stated.seq,
        code: taken.waste_code.clone(),
        kilograms: Exact::new(taken.kilograms),
        carrier: taken.carrier.clone(),
        document: taken.document.clone(),
        destination: taken.destination.clone(),
        container: taken.container.clone(),
        person: stated.person.clone(),
    }
}

/// The code that is set for a kind; without one its word stands.
fn code(context: &SiteContext<'_>, kind: &str) -> String {
    let set = context.workshop().waste_codes.as_ref().and_then(|codes| codes.code(kind));
    set.unwrap_or(kind).to_owned()
}

/// What a code is, in words: as the lines under it say, else by the settings.
fn what(context: &SiteContext<'_>, register: &Register, code: &str) -> Cell {
    if let Some(word) = register.what(code) {
        return Cell::Words(sentence::waste_kind(word));
    }
    let kinds = [WasteKind::UsedFluid, WasteKind::Filter, WasteKind::Cloths, WasteKind::EmptyCans];
    let of = |kind: &WasteKind| same_waste(&self::code(context, kind.word()), code);
    kinds
        .iter()
        .find(|kind| of(kind))
        .map_or(Cell::Empty, |kind| Cell::Words(sentence::waste_kind(kind.word())))
}

/// A code as it stands in a table: where none is set, what it is in words.
fn code_cell(code: &str) -> Cell {
    match code {
        "used-fluid" | "filter" | "cloths" | "empty-cans" | "unknown" => {
            Cell::Words(sentence::waste_no_code())
        }
        code => text(code),
    }
}

/// What each code comes to, with what is held at the end.
pub(super) fn by_code(context: &SiteContext<'_>, register: &Register, period: &Period) -> Table {
    let days = &period.days;
    let rows = register.codes(days.end).into_iter().map(|code| {
        let kilograms = |of: Exact| amount(of, Unit::Kilograms);
        let pieces = register.unweighed(code, days);
        row(vec![
            code_cell(code),
            what(context, register, code),
            kilograms(register.generated(code, days)),
            if pieces == Exact::ZERO { Cell::Empty } else { amount(pieces, Unit::Pieces) },
            kilograms(register.collected(code, days)),
            kilograms(register.held(code, days.end)),
        ])
    });
    Table {
        heading: sentence::waste_by_code(),
        columns: columns(&[
            ("code", Words, sentence::column_waste_code),
            ("what", Words, sentence::column_what),
            ("generated", Numbers, sentence::column_generated),
            ("not_weighed", Numbers, sentence::column_not_weighed),
            ("collected", Numbers, sentence::column_collected),
            ("held", Numbers, sentence::column_held),
        ]),
        rows: rows.collect(),
        empty: sentence::waste_nothing(),
    }
}

fn by_month(context: &SiteContext<'_>, register: &Register, period: &Period) -> Table {
    let mut rows: Vec<Row> = Vec::new();
    for month in period.months() {
        for code in register.codes(month.end) {
            let (made, taken) = (register.generated(code, &month), register.collected(code, &month));
            if (made, taken) == (Exact::ZERO, Exact::ZERO) {
                continue;
            }
            rows.push(row(vec![
                Cell::Words(month_said(&month)),
                code_cell(code),
                what(context, register, code),
                amount(made, Unit::Kilograms),
                amount(taken, Unit::Kilograms),
                amount(register.held(code, month.end), Unit::Kilograms),
            ]));
        }
    }
    Table {
        heading: sentence::waste_by_month(),
        columns: columns(&[
            ("month", Words, sentence::column_month),
            ("code", Words, sentence::column_waste_code),
            ("what", Words, sentence::column_what),
            ("generated", Numbers, sentence::column_generated),
            ("collected", Numbers, sentence::column_collected),
            ("held", Numbers, sentence::column_held),
        ]),
        rows,
        empty: sentence::waste_nothing(),
    }
}

fn lines(context: &SiteContext<'_>, register: &Register, days: &Range<Date>) -> Table {
    let rows = register.lines(days).map(|line| {
        let cells = vec![
            text(line.date.to_string()),
            if line.job.is_empty() { Cell::Words(sentence::waste_of_rinse()) } else { text(&line.job) },
            code_cell(&line.code),
            Cell::Words(sentence::waste_kind(line.what.as_str())),
            amount_if(line.litres, Unit::Litres),
            amount_if(line.pieces, Unit::Pieces),
            amount_if(line.kilograms, Unit::Kilograms),
            line.density.map_or(Cell::Empty, |density| plain(density, 3, "kg/L")),
            text(&line.container),
            Cell::Words(context.person(&line.person)),
        ];
        match &line.job_id {
            Some(job) => job_row(job, cells),
            None => row(cells),
        }
    });
    Table {
        heading: sentence::waste_lines(),
        columns: columns(&[
            ("date", Words, sentence::column_date),
            ("job", Words, sentence::column_job),
            ("code", Words, sentence::column_waste_code),
            ("what", Words, sentence::column_what),
            ("litres", Numbers, sentence::column_litres),
            ("pieces", Numbers, sentence::column_pieces),
            ("kilograms", Numbers, sentence::column_kilograms),
            ("density", Numbers, sentence::column_density),
            ("container", Words, sentence::column_container),
            ("person", Words, sentence::column_person),
        ]),
        rows: rows.collect(),
        empty: sentence::waste_nothing(),
    }
}

fn collections(context: &SiteContext<'_>, register: &Register, days: &Range<Date>) -> Table {
    let rows = register.collections(days).map(|taken| {
        row(vec![
            text(taken.date.to_string()),
            text(&taken.code),
            amount(taken.kilograms, Unit::Kilograms),
            text(&taken.carrier),
            text(&taken.document),
            text(&taken.destination),
            text(&taken.container),
            Cell::Words(context.person(&taken.person)),
        ])
    });
    Table {
        heading: sentence::waste_collections(),
        columns: columns(&[
            ("date", Words, sentence::column_date),
            ("code", Words, sentence::column_waste_code),
            ("kilograms", Numbers, sentence::column_kilograms),
            ("carrier", Words, sentence::column_carrier),
            ("document", Words, sentence::column_document),
            ("destination", Words, sentence::column_destination),
            ("container", Words, sentence::column_container),
            ("person", Words, sentence::column_person),
        ]),
        rows: rows.collect(),
        empty: sentence::waste_no_collection(),
    }
}

fn notes(context: &SiteContext<'_>) -> Vec<Sentence> {
    let codes = match &context.workshop().waste_codes {
        Some(codes) => sentence::waste_note_codes(&codes.source),
        None => sentence::waste_note_no_codes(),
    };
    vec![codes, sentence::waste_note_kilograms(), sentence::waste_note_law()]
}

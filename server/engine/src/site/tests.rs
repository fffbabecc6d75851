//! The store, lots, recalls, waste and the month of an invented workshop.

use super::account::{JobAccount, Use, UseOf};
use super::tally::{Asked, TallyError, tally};
use super::{SiteContext, SiteFacts};
use crate::catalogue::Revision;
use crate::job::Recorded;
use crate::sheet::{Cell, Sheet, Table};
use crate::text::{Language, Sentence, render};
use jiff::civil::Date;
use prost::Message as _;
use standpipe_proto::v1::{self, fact::Kind, header::Subject};
use std::collections::BTreeMap;
use std::sync::Arc;

mod found;
mod month;
mod pages;
mod recall;
mod store;
mod waste;

const WORKSHOP: &str = include_str!("../../../../deploy/catalogue/workshop.toml");
const ALDER: &str = include_str!("../../../../deploy/catalogue/alder-8.toml");
const CODES: &str = "\n[waste_codes]\nused_fluid = \"13 02 06*\"\nfilter = \"16 01 07*\"\ncloths = \"15 02 02*\"\n\
    source = \"agreed with the collector, January 2026\"\n";

/// A site whose entries and jobs come in the order in which they are stated.
pub(super) struct Shop {
    pub revision: Revision,
    entries: Vec<Vec<u8>>,
    accounts: BTreeMap<String, JobAccount>,
    seq: u64,
    day: String,
}

impl Shop {
    pub fn new() -> Self {
        Self::with_settings(CODES)
    }

    pub fn with_settings(more: &str) -> Self {
        // The demo's own codes give way to those of the test.
        let (before, codes) = WORKSHOP.split_once("[waste_codes]").unwrap();
        let (_, after) = codes.split_once("\n[").unwrap();
        let workshop = format!("{before}[{after}{more}");
        let files = [("workshop.toml", workshop.as_str()), ("alder-8.toml", ALDER)];
        let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
        Self {
            revision: Revision::parse(files.to_vec()).unwrap(),
            entries: Vec::new(),
            accounts: BTreeMap::new(),
            seq: 0,
            day: "2026-11-02".to_owned(),
        }
    }

    /// The day of what is stated from now on.
    pub fn on(&mut self, day: &str) -> &mut Self {
        day.clone_into(&mut self.day);
        self
    }

    fn time_us(&self) -> i64 {
        let noon = self.day.parse::<Date>().unwrap().at(12, 0, 0, 0);
        noon.to_zoned_datetime(jiff::tz::TimeZone::UTC).unwrap().timestamp().as_microsecond()
    }

    /// An entry of the site; journal places of jobs and of the site are one row of numbers.
    pub fn state(&mut self, kind: Kind) -> &mut Self {
        self.seq += 1;
        let entry = v1::Entry {
            header: Some(v1::Header {
                entry_id: format!("01890a5d-ac96-774b-bcce-{:012x}", self.seq),
                subject: Some(Subject::SiteId("01890a5d-ac96-774b-bcce-eeeeeeeeeeee".into())),
                station_id: "office-1".into(),
                station_epoch: "0".repeat(32),
                station_number: i64::try_from(self.seq).unwrap(),
                person_code: "B".into(),
                station_time: Some(prost_types::Timestamp { seconds: self.time_us() / 1_000_000, nanos: 0 }),
                boot_id: "0".repeat(32),
                ..v1::Header::default()
            }),
            fact: Some(v1::Fact { kind: Some(kind) }),
        };
        standpipe_proto::check::entry(&entry).unwrap();
        self.entries.push(entry.encode_to_vec());
        self
    }

    /// Identity of the entry stated last.
    pub fn last_id(&self) -> String {
        format!("01890a5d-ac96-774b-bcce-{:012x}", self.seq)
    }

    /// A job opened today.
    pub fn job(&mut self, number: &str, plate: &str, vin: &str) -> &mut JobAccount {
        let account = JobAccount {
            number: number.into(),
            plate: plate.into(),
            vin: vin.into(),
            opened_us: self.time_us(),
            ..JobAccount::default()
        };
        self.accounts.entry(number.to_owned()).or_insert(account)
    }

    /// What a job used or made today.
    pub fn uses(&mut self, number: &str, of: UseOf, used: Use) -> &mut Self {
        self.seq += 1;
        let (seq, done_us, person) = (self.seq, self.time_us(), "A".to_owned());
        self.accounts.entry(number.to_owned()).or_default().uses.push(Use {
            seq,
            done_us,
            person,
            of,
            ..used
        });
        self
    }

    pub fn drew(&mut self, number: &str, code: &str, lot: &str, litres: f64) -> &mut Self {
        let used = Use {
            code: code.into(),
            lot: lot.into(),
            amount: litres,
            purpose: "exchange".into(),
            ..Use::default()
        };
        self.uses(number, UseOf::Fluid, used)
    }

    pub fn facts(&self) -> SiteFacts {
        let recorded: Vec<Recorded<'_>> = self
            .entries
            .iter()
            .map(|bytes| {
                let entry = v1::Entry::decode(bytes.as_slice()).unwrap();
                let seq = u64::try_from(entry.header.unwrap().station_number).unwrap();
                Recorded { seq, received_us: 0, leaf_hash: [7; 32], bytes }
            })
            .collect();
        let accounts = self.accounts.iter().map(|(id, account)| (id.clone(), Arc::new(account.clone())));
        SiteFacts::of(&recorded).with_accounts(accounts.collect())
    }

    pub fn with<T>(&self, read: impl FnOnce(&SiteContext<'_>) -> T) -> T {
        let names = [("A".to_owned(), "technician A".to_owned()), ("B".to_owned(), "office B".to_owned())];
        let facts = self.facts();
        read(&SiteContext {
            revision: &self.revision,
            site_name: "Harbour Lane",
            facts: &facts,
            names: &names,
            as_of_us: self.time_us(),
        })
    }

    pub fn asked(&self, name: &str, about: &str, period: &str) -> Result<Sheet, TallyError> {
        self.with(|context| tally(context, name, &Asked { about: about.into(), period: period.into() }))
    }

    pub fn sheet(&self, name: &str, about: &str, period: &str) -> Sheet {
        let sheet = self.asked(name, about, period).unwrap();
        for table in &sheet.tables {
            let snake = |key: &str| key.bytes().all(|letter| letter.is_ascii_lowercase() || letter == b'_');
            assert!(table.columns.iter().all(|column| snake(column.key)));
            assert!(table.rows.iter().all(|row| row.cells.len() == table.columns.len()), "a cell a column");
        }
        sheet
    }
}

pub(super) fn said(sentence: &Sentence) -> String {
    render(Language::English, sentence).unwrap().replace(['\u{a0}', '\u{202f}'], " ")
}

pub(super) fn all(sentences: &[Sentence]) -> String {
    sentences.iter().map(said).collect::<Vec<_>>().join(" ")
}

pub(super) fn shown(cell: &Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Words(sentence) => said(sentence),
        Cell::Text(text) => text.clone(),
        Cell::Number { shown, unit, .. } => format!("{shown} {unit}").trim_end().replace('\u{202f}', " "),
    }
}

/// The rows of a table, the cells set apart by bars.
pub(super) fn rows(table: &Table) -> Vec<String> {
    table.rows.iter().map(|row| row.cells.iter().map(shown).collect::<Vec<_>>().join("|")).collect()
}

/// A sheet as an office person reads it.
pub(super) fn page(sheet: &Sheet) -> String {
    let mut lines = vec![said(&sheet.title)];
    lines.extend(sheet.said.iter().map(said));
    for table in &sheet.tables {
        lines.push(format!("\n{}", said(&table.heading)));
        let headings: Vec<String> = table.columns.iter().map(|column| said(&column.heading)).collect();
        lines.push(headings.join("|"));
        if table.rows.is_empty() {
            lines.push(said(&table.empty));
        }
        lines.extend(rows(table));
    }
    lines.push(String::new());
    lines.extend(sheet.notes.iter().map(said));
    lines.join("\n")
}

pub(super) fn received(code: &str, lot: &str, litres: f64, expires_on: &str) -> Kind {
    Kind::LotReceived(v1::LotReceived {
        lot: lot.into(),
        what: 1,
        code: code.into(),
        amount: Some(v1::lot_received::Amount::VolumeLitres(litres)),
        container: 1,
        container_count: Some(1),
        expires_on: expires_on.into(),
        document: "DN-118".into(),
    })
}

pub(super) fn counted(code: &str, lot: &str, litres: f64) -> Kind {
    let amount = Some(v1::stock_counted::Amount::VolumeLitres(litres));
    Kind::StockCounted(v1::StockCounted { what: 1, code: code.into(), lot: lot.into(), amount })
}

pub(super) fn recalled(lot: &str, code: &str, lifted: bool) -> Kind {
    let reason = "water in the drum".to_owned();
    Kind::LotRecalled(v1::LotRecalled { lot: lot.into(), code: code.into(), reason, lifted })
}

pub(super) const VINS: [&str; 2] = ["AZTWA8M47LA042317", "AZTWA8M45LA017206"];

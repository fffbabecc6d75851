//! What stands beside the journal, in the same file. Changes go through the writer, one statement each, so that a
//! caller who stops waiting leaves nothing half done.

use super::SqliteStore;
use super::audit_book;
use super::cause::failed;
use super::forwarded;
use super::insert::signed;
use super::read::Bound;
use super::writer::Command;
use crate::beside::{
    Beside, Customer, CustomerKeys, JobSummary, Person, SearchKeys, Station, SummaryFilter, bare,
};
use crate::change::{Change, Several};
use crate::entry::{JobId, JobNumber};
use crate::error::StoreError;
use crate::finder::Finder;
use crate::journal::PAGE_ROWS_MAX;
use crate::row::{account, customer, customer_to_find, job_id, line_to_find, person, station, summary};
use async_trait::async_trait;
use sqlx::sqlite::SqliteRow;
use sqlx::{Connection as _, Row, SqliteConnection};
use tokio::sync::oneshot;

const STATION: &str = "select id, name, role, created_us, revoked_us from station where id = ?";
const STATIONS: &str = "select id, name, role, created_us, revoked_us from station order by id";
const ADD_STATION: &str = "insert into station (id, name, role, created_us, revoked_us) values (?, ?, ?, ?, ?) \
    on conflict (id) do nothing";
const READMIT_STATION: &str = "update station set revoked_us = null where id = ?";
const REVOKE_STATION: &str = "update station set revoked_us = coalesce(revoked_us, ?) where id = ?";
const PERSONS: &str = "select code, name, listed_us, erased_us from person order by code";
const PUT_PERSON: &str = "insert into person (code, name, listed_us, erased_us) values (?, ?, ?, null) \
    on conflict (code) do update set name = excluded.name, listed_us = excluded.listed_us, erased_us = null";
const ERASE_PERSON: &str = "update person set name = null, erased_us = ? where code = ?";
const PERSON_PIN: &str = "select phc from person_pin where code = ?";
const ANY_PERSON_PIN: &str = "select 1 from person_pin limit 1";
const PUT_PERSON_PIN: &str = "insert into person_pin (code, phc, set_us) \
    select code, ?, ? from person where code = ? and erased_us is null \
    on conflict (code) do update set phc = excluded.phc, set_us = excluded.set_us";
const CUSTOMER: &str = "select name, telephone from customer where job_id = ? and name is not null";
const PUT_CUSTOMER: &str = "insert into customer (job_id, name, telephone, updated_us, erased_us, name_key, \
    telephone_key) values (?, ?, ?, ?, null, ?, ?) on conflict (job_id) do update set name = excluded.name, \
    telephone = excluded.telephone, updated_us = excluded.updated_us, erased_us = null, \
    name_key = excluded.name_key, telephone_key = excluded.telephone_key";
const ERASE_CUSTOMER: &str = "update customer set name = null, telephone = null, name_key = null, \
    telephone_key = null, erased_us = ? where job_id = ? and name is not null";
const PUT_SUMMARY: &str = "insert into job_summary (job_id, year, ordinal, plate, vin, title, closed, state, seq, \
    updated_us, rank, account, number_key, plate_key, vin_key, title_key) \
    values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) \
    on conflict (year, ordinal) do update set job_id = excluded.job_id, plate = excluded.plate, vin = excluded.vin, \
    title = excluded.title, closed = excluded.closed, state = excluded.state, seq = excluded.seq, \
    updated_us = excluded.updated_us, rank = excluded.rank, account = excluded.account, number_key = excluded.number_key, \
    plate_key = excluded.plate_key, vin_key = excluded.vin_key, title_key = excluded.title_key where excluded.seq >= job_summary.seq";
/// The lines of these numbers, in their order; asked with a JSON array of pairs of year and ordinal.
const SUMMARIES: &str = "select s.job_id, s.year, s.ordinal, s.plate, s.vin, s.title, s.closed, s.state, s.seq, \
    s.updated_us, s.rank, s.account from json_each(?) w \
    cross join job_summary s on s.year = w.value ->> 0 and s.ordinal = w.value ->> 1 order by w.key";
const STALE_SUMMARIES: &str = "select j.job_id from job j \
    left join job_summary s on s.year = j.year and s.ordinal = j.ordinal \
    where s.seq is not (select e.seq from entry e where e.job_first_seq = j.first_seq order by e.seq desc limit 1) \
    order by j.first_seq limit ?";
/// Each part uses its own index; the union drops what both find.
const SUMMARIES_OF_VEHICLE: &str = "select s.job_id, s.year, s.ordinal, s.plate, s.vin, s.title, s.closed, s.state, \
    s.seq, s.updated_us, s.rank, s.account from (\
        select year, ordinal from job_summary where vin_key = ?1 and vin_key <> '' \
        union select year, ordinal from job_summary where plate_key = ?2 and plate_key <> '') v \
    cross join job_summary s on s.year = v.year and s.ordinal = v.ordinal \
    where (s.year, s.ordinal) < (?3, ?4) order by s.year desc, s.ordinal desc limit ?5";
const STALE_SUMMARIES_AFTER: &str = "select j.job_id from (select e.job_first_seq as first_seq, max(e.seq) as seq \
        from entry e where e.seq > ? and e.job_first_seq is not null group by e.job_first_seq) t \
    cross join job j on j.first_seq = t.first_seq \
    left join job_summary s on s.year = j.year and s.ordinal = j.ordinal \
    where s.seq is not t.seq order by j.first_seq limit ?";
/// By the primary key, which is the number.
const ACCOUNTS: &str = "select job_id, account from job_summary order by year, ordinal";
const LINES_TO_FIND: &str = "select job_id, year, ordinal, closed, rank, number_key, plate_key, vin_key, title_key \
    from job_summary";
const CUSTOMERS_TO_FIND: &str = "select job_id, name_key, telephone_key from customer where name is not null";
const PHOTO_EXTRACT: &str = "select extract from photo_extract where digest = ? and edition = ?";
const PUT_PHOTO_EXTRACT: &str = "insert into photo_extract (digest, edition, extract) values (?, ?, ?) \
    on conflict (digest, edition) do update set extract = excluded.extract";
const SETTING: &str = "select value from setting where key = ?";
const PUT_SETTING: &str = "insert into setting (key, value) values (?, ?) \
    on conflict (key) do update set value = excluded.value";

impl Change {
    /// Makes the change; returns how many rows it changed.
    pub(super) async fn run(self, connection: &mut SqliteConnection) -> Result<u64, StoreError> {
        let done = match self.statement() {
            Ok(statement) => statement.execute(connection).await.map(|done| done.rows_affected()),
            Err(several) => several.run(connection).await,
        };
        done.map_err(|error| failed("writing beside the journal", &error))
    }

    /// The statement that makes the change, unless it takes several.
    fn statement(self) -> Result<Bound<'static>, Box<Several>> {
        Ok(match self {
            Self::Token(change) => return Err(Box::new(Several::Token(change))),
            Self::NoteFork(fork) => return Err(Box::new(Several::NoteFork(fork))),
            Self::Tally(change) => return Err(Box::new(Several::Tally(change))),
            Self::AddStation(new) => sqlx::query(ADD_STATION)
                .bind(new.id)
                .bind(new.name)
                .bind(new.role)
                .bind(new.created_us)
                .bind(new.revoked_us),
            Self::RevokeStation { id, at_us } => sqlx::query(REVOKE_STATION).bind(at_us).bind(id),
            Self::ReadmitStation { id } => sqlx::query(READMIT_STATION).bind(id),
            Self::PutPerson { code, name, at_us } => {
                sqlx::query(PUT_PERSON).bind(code).bind(name).bind(at_us)
            }
            Self::ErasePerson { code, at_us } => sqlx::query(ERASE_PERSON).bind(at_us).bind(code),
            Self::PutPersonPin { code, phc, at_us } => {
                sqlx::query(PUT_PERSON_PIN).bind(phc).bind(at_us).bind(code)
            }
            Self::PutCustomer { job, customer, at_us } => put_customer(job, customer, at_us),
            Self::EraseCustomer { job, at_us } => {
                sqlx::query(ERASE_CUSTOMER).bind(at_us).bind(job.0.to_vec())
            }
            Self::PutSummary(summary) => put_summary(summary),
            Self::PutSetting { key, value } => sqlx::query(PUT_SETTING).bind(key).bind(value),
            Self::PutPhotoExtract { digest, edition, extract } => {
                sqlx::query(PUT_PHOTO_EXTRACT).bind(digest).bind(edition).bind(extract)
            }
            Self::PutAudit(line) => audit_book::put(line),
            Self::SetStationKinds { station_id, kinds } => audit_book::set_kinds(station_id, &kinds),
            Self::SettleForks { site, seen_before_us, at_us } => {
                forwarded::settle(site, seen_before_us, at_us)
            }
            Self::PutStationSite { station_id, site } => forwarded::put_station_site(station_id, site),
        })
    }
}

impl Several {
    /// Makes the change in one transaction; returns how many rows it changed, or what became of a code.
    async fn run(self, connection: &mut SqliteConnection) -> Result<u64, sqlx::Error> {
        let mut whole = connection.begin().await?;
        let rows = match self {
            Self::Token(change) => change.steps(&mut whole).await?,
            Self::NoteFork(fork) => forwarded::note(&mut whole, fork).await?,
            Self::Tally(change) => change.steps(&mut whole).await?,
        };
        whole.commit().await?;
        Ok(rows)
    }
}

fn put_customer(job: JobId, customer: Customer, at_us: i64) -> Bound<'static> {
    let keys = CustomerKeys::of(&customer);
    sqlx::query(PUT_CUSTOMER)
        .bind(job.0.to_vec())
        .bind(customer.name)
        .bind(customer.telephone)
        .bind(at_us)
        .bind(keys.name)
        .bind(keys.telephone)
}

fn put_summary(summary: JobSummary) -> Bound<'static> {
    let keys = SearchKeys::of_summary(&summary);
    sqlx::query(PUT_SUMMARY)
        .bind(summary.job_id.0.to_vec())
        .bind(summary.number.year)
        .bind(summary.number.ordinal)
        .bind(summary.plate)
        .bind(summary.vin)
        .bind(summary.title)
        .bind(summary.closed)
        .bind(summary.state)
        .bind(signed(summary.seq))
        .bind(summary.updated_us)
        .bind(summary.rank)
        .bind(summary.account)
        .bind(keys.number)
        .bind(keys.plate)
        .bind(keys.vin)
        .bind(keys.title)
}

/// Reads what is looked for, of all jobs.
pub(super) async fn load_finder(connection: &mut SqliteConnection) -> Result<Finder, StoreError> {
    let failed = |error: sqlx::Error| failed("reading the job list", &error);
    let mut finder = Finder::default();
    let lines = sqlx::query(LINES_TO_FIND).fetch_all(&mut *connection).await.map_err(failed)?;
    let customers = sqlx::query(CUSTOMERS_TO_FIND).fetch_all(connection).await.map_err(failed)?;
    for noted in lines.iter().map(line_to_find).chain(customers.iter().map(customer_to_find)) {
        finder.note(noted.map_err(failed)?);
    }
    Ok(finder)
}

impl SqliteStore {
    pub(super) async fn change(&self, change: Change) -> Result<u64, StoreError> {
        let commands = self.commands.as_ref().ok_or(StoreError::OpenedForReading)?;
        let (answer, receiver) = oneshot::channel();
        commands.send(Command::Change { change, answer }).await.map_err(|_| StoreError::Closed)?;
        receiver.await.unwrap_or(Err(StoreError::Closed))
    }

    /// Requires that there is such a station.
    pub(super) async fn needs_station(&self, id: &str) -> Result<(), StoreError> {
        match self.station(id).await? {
            Some(_) => Ok(()),
            None => Err(StoreError::StationUnknown { id: id.into() }),
        }
    }

    pub(super) async fn rows<T>(
        &self,
        query: Bound<'_>,
        read: impl Fn(&SqliteRow) -> Result<T, sqlx::Error>,
    ) -> Result<Vec<T>, StoreError> {
        let failed = |error: sqlx::Error| failed("reading beside the journal", &error);
        let rows = query.fetch_all(&self.readers).await.map_err(failed)?;
        rows.iter().map(read).collect::<Result<_, _>>().map_err(failed)
    }
}

/// A page's row limit as SQL takes it.
fn capped(limit: usize) -> i64 {
    i64::try_from(limit.min(PAGE_ROWS_MAX)).unwrap_or(i64::MAX)
}

#[async_trait]
impl Beside for SqliteStore {
    async fn add_station(&self, station: Station) -> Result<(), StoreError> {
        let id = station.id.clone();
        match self.change(Change::AddStation(station)).await? {
            0 => Err(StoreError::StationExists { id }),
            _ => Ok(()),
        }
    }

    async fn station(&self, id: &str) -> Result<Option<Station>, StoreError> {
        Ok(self.rows(sqlx::query(STATION).bind(id), station).await?.pop())
    }

    async fn stations(&self) -> Result<Vec<Station>, StoreError> {
        self.rows(sqlx::query(STATIONS), station).await
    }

    async fn revoke_station(&self, id: &str, at_us: i64) -> Result<(), StoreError> {
        match self.change(Change::RevokeStation { id: id.into(), at_us }).await? {
            0 => Err(StoreError::StationUnknown { id: id.into() }),
            _ => Ok(()),
        }
    }

    async fn readmit_station(&self, id: &str) -> Result<(), StoreError> {
        match self.change(Change::ReadmitStation { id: id.into() }).await? {
            0 => Err(StoreError::StationUnknown { id: id.into() }),
            _ => Ok(()),
        }
    }

    async fn put_person(&self, code: &str, name: &str, at_us: i64) -> Result<(), StoreError> {
        self.change(Change::PutPerson { code: code.into(), name: name.into(), at_us }).await.map(drop)
    }

    async fn persons(&self) -> Result<Vec<Person>, StoreError> {
        self.rows(sqlx::query(PERSONS), person).await
    }

    async fn erase_person(&self, code: &str, at_us: i64) -> Result<(), StoreError> {
        match self.change(Change::ErasePerson { code: code.into(), at_us }).await? {
            0 => Err(StoreError::PersonUnknown { code: code.into() }),
            _ => Ok(()),
        }
    }

    async fn put_person_pin(&self, code: &str, phc: &str, at_us: i64) -> Result<(), StoreError> {
        match self.change(Change::PutPersonPin { code: code.into(), phc: phc.into(), at_us }).await? {
            0 => Err(StoreError::PersonUnknown { code: code.into() }),
            _ => Ok(()),
        }
    }

    async fn person_pin(&self, code: &str) -> Result<Option<String>, StoreError> {
        Ok(self.rows(sqlx::query(PERSON_PIN).bind(code), |row| row.try_get(0)).await?.pop())
    }

    async fn any_person_pin(&self) -> Result<bool, StoreError> {
        Ok(!self.rows(sqlx::query(ANY_PERSON_PIN), |_| Ok(())).await?.is_empty())
    }

    async fn put_customer(&self, job: JobId, customer: &Customer, at_us: i64) -> Result<(), StoreError> {
        self.change(Change::PutCustomer { job, customer: customer.clone(), at_us }).await.map(drop)
    }

    async fn customer(&self, job: JobId) -> Result<Option<Customer>, StoreError> {
        Ok(self.rows(sqlx::query(CUSTOMER).bind(job.0.to_vec()), customer).await?.pop())
    }

    async fn jobs_of_customer(&self, name: &str) -> Result<Vec<JobId>, StoreError> {
        if self.commands.is_none() {
            return Err(StoreError::OpenedForReading);
        }
        Ok(self.finder.jobs_of_customer(name))
    }

    async fn erase_customer(&self, job: JobId, at_us: i64) -> Result<(), StoreError> {
        self.change(Change::EraseCustomer { job, at_us }).await.map(drop)
    }

    async fn put_summary(&self, summary: JobSummary) -> Result<(), StoreError> {
        self.change(Change::PutSummary(summary)).await.map(drop)
    }

    async fn summaries(&self, filter: &SummaryFilter, limit: usize) -> Result<Vec<JobSummary>, StoreError> {
        if self.commands.is_none() {
            return Err(StoreError::OpenedForReading);
        }
        let found = self.finder.find(filter, limit.min(PAGE_ROWS_MAX));
        let pairs = found.iter().map(|number| format!("[{},{}]", number.year, number.ordinal));
        let pairs = format!("[{}]", pairs.collect::<Vec<_>>().join(","));
        self.rows(sqlx::query(SUMMARIES).bind(pairs), summary).await
    }

    async fn stale_summaries(&self, after_seq: u64, limit: usize) -> Result<Vec<JobId>, StoreError> {
        let query = match after_seq {
            0 => sqlx::query(STALE_SUMMARIES),
            after => sqlx::query(STALE_SUMMARIES_AFTER).bind(signed(after)),
        };
        self.rows(query.bind(capped(limit)), job_id).await
    }

    async fn summaries_of_vehicle(
        &self,
        (vin, plate): (&str, &str),
        before: JobNumber,
        limit: usize,
    ) -> Result<Vec<JobSummary>, StoreError> {
        let (vin, plate) = (bare(vin), bare(plate));
        let query = sqlx::query(SUMMARIES_OF_VEHICLE)
            .bind(vin)
            .bind(plate)
            .bind(before.year)
            .bind(before.ordinal)
            .bind(capped(limit));
        self.rows(query, summary).await
    }

    async fn accounts(&self) -> Result<Vec<(JobId, String)>, StoreError> {
        self.rows(sqlx::query(ACCOUNTS), account).await
    }

    async fn photo_extract(&self, digest: &str, edition: &str) -> Result<Option<String>, StoreError> {
        let query = sqlx::query(PHOTO_EXTRACT).bind(digest.to_owned()).bind(edition.to_owned());
        Ok(self.rows(query, |row| row.try_get(0)).await?.pop())
    }

    async fn put_photo_extract(&self, digest: &str, edition: &str, extract: &str) -> Result<(), StoreError> {
        let (digest, edition, extract) = (digest.into(), edition.into(), extract.into());
        self.change(Change::PutPhotoExtract { digest, edition, extract }).await.map(drop)
    }

    async fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        Ok(self.rows(sqlx::query(SETTING).bind(key), |row| row.try_get(0)).await?.pop())
    }

    async fn put_setting(&self, key: &str, value: &str) -> Result<(), StoreError> {
        self.change(Change::PutSetting { key: key.into(), value: value.into() }).await.map(drop)
    }
}

//! What stands beside the journal of a site, in the same database. Changes go through the writer, one statement each, so
//! that a caller who stops waiting leaves nothing half done.

use super::PostgresStore;
use super::audit_book;
use super::cause::failed;
use super::forwarded;
use super::journal::capped;
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
use crate::row::{
    account, customer, customer_to_find, job_id, line_to_find, person, signed, station, summary, text,
};
use async_trait::async_trait;
use sqlx::postgres::PgRow;
use sqlx::{Connection as _, PgConnection};
use tokio::sync::oneshot;

const STATION: &str =
    "select id, name, role, created_us, revoked_us from station where site = $1 and id = $2";
const STATIONS: &str =
    "select id, name, role, created_us, revoked_us from station where site = $1 order by id";
const ADD_STATION: &str = "insert into station (site, id, name, role, created_us, revoked_us) \
    values ($1, $2, $3, $4, $5, $6) on conflict (site, id) do nothing";
const READMIT_STATION: &str = "update station set revoked_us = null where site = $1 and id = $2";
const REVOKE_STATION: &str =
    "update station set revoked_us = coalesce(revoked_us, $3) where site = $1 and id = $2";
const PERSONS: &str = "select code, name, listed_us, erased_us from person where site = $1 order by code";
const PUT_PERSON: &str = "insert into person (site, code, name, listed_us, erased_us) values ($1, $2, $3, $4, null) \
    on conflict (site, code) do update set name = excluded.name, listed_us = excluded.listed_us, erased_us = null";
const ERASE_PERSON: &str = "update person set name = null, erased_us = $3 where site = $1 and code = $2";
const PERSON_PIN: &str = "select phc from person_pin where site = $1 and code = $2";
const ANY_PERSON_PIN: &str = "select phc from person_pin where site = $1 limit 1";
const PUT_PERSON_PIN: &str = "insert into person_pin (site, code, phc, set_us) \
    select site, code, $3, $4 from person where site = $1 and code = $2 and erased_us is null \
    on conflict (site, code) do update set phc = excluded.phc, set_us = excluded.set_us";
const CUSTOMER: &str =
    "select name, telephone from customer where site = $1 and job_id = $2 and name is not null";
const PUT_CUSTOMER: &str = "insert into customer (site, job_id, name, telephone, updated_us, erased_us, name_key, \
    telephone_key) values ($1, $2, $3, $4, $5, null, $6, $7) on conflict (site, job_id) do update set \
    name = excluded.name, telephone = excluded.telephone, updated_us = excluded.updated_us, erased_us = null, \
    name_key = excluded.name_key, telephone_key = excluded.telephone_key";
const ERASE_CUSTOMER: &str = "update customer set name = null, telephone = null, name_key = null, \
    telephone_key = null, erased_us = $3 where site = $1 and job_id = $2 and name is not null";
const PUT_SUMMARY: &str = "insert into job_summary (site, job_id, year, ordinal, plate, vin, title, closed, state, seq, \
    updated_us, rank, account, number_key, plate_key, vin_key, title_key) \
    values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) \
    on conflict (site, year, ordinal) do update set job_id = excluded.job_id, plate = excluded.plate, \
    vin = excluded.vin, title = excluded.title, closed = excluded.closed, state = excluded.state, \
    seq = excluded.seq, updated_us = excluded.updated_us, rank = excluded.rank, account = excluded.account, \
    number_key = excluded.number_key, plate_key = excluded.plate_key, vin_key = excluded.vin_key, \
    title_key = excluded.title_key where excluded.seq >= job_summary.seq";
/// The lines of these numbers, in their order.
const SUMMARIES: &str = "select s.job_id, s.year, s.ordinal, s.plate, s.vin, s.title, s.closed, s.state, s.seq, \
    s.updated_us, s.rank, s.account from unnest($2::bigint[], $3::bigint[]) with ordinality w (year, ordinal, place) \
    join job_summary s on s.site = $1 and s.year = w.year and s.ordinal = w.ordinal order by w.place";
const STALE_SUMMARIES: &str = "select j.job_id from job j \
    left join job_summary s on s.site = $1 and s.year = j.year and s.ordinal = j.ordinal \
    where j.site = $1 and s.seq is distinct from \
        (select max(e.seq) from entry e where e.site = $1 and e.job_first_seq = j.first_seq) \
    order by j.first_seq limit $2";
const STALE_SUMMARIES_AFTER: &str = "select j.job_id from (select e.job_first_seq as first_seq, max(e.seq) as seq \
        from entry e where e.site = $1 and e.seq > $2 and e.job_first_seq is not null group by e.job_first_seq) t \
    join job j on j.site = $1 and j.first_seq = t.first_seq \
    left join job_summary s on s.site = $1 and s.year = j.year and s.ordinal = j.ordinal \
    where s.seq is distinct from t.seq order by j.first_seq limit $3";
/// Each part uses its own index; the union drops what both find.
const SUMMARIES_OF_VEHICLE: &str = "select s.job_id, s.year, s.ordinal, s.plate, s.vin, s.title, s.closed, s.state, \
    s.seq, s.updated_us, s.rank, s.account from (\
        select year, ordinal from job_summary where site = $1 and vin_key = $2 and vin_key <> '' \
        union select year, ordinal from job_summary where site = $1 and plate_key = $3 and plate_key <> '') v \
    join job_summary s on s.site = $1 and s.year = v.year and s.ordinal = v.ordinal \
    where (s.year, s.ordinal) < ($4, $5) order by s.year desc, s.ordinal desc limit $6";
/// By the primary key, which is the number.
const ACCOUNTS: &str = "select job_id, account from job_summary where site = $1 order by year, ordinal";
const LINES_TO_FIND: &str = "select job_id, year, ordinal, closed, rank, number_key, plate_key, vin_key, title_key \
    from job_summary where site = $1";
const CUSTOMERS_TO_FIND: &str =
    "select job_id, name_key, telephone_key from customer where site = $1 and name is not null";
const PHOTO_EXTRACT: &str =
    "select extract from photo_extract where site = $1 and digest = $2 and edition = $3";
const PUT_PHOTO_EXTRACT: &str = "insert into photo_extract (site, digest, edition, extract) values ($1, $2, $3, $4) \
    on conflict (site, digest, edition) do update set extract = excluded.extract";
const SETTING: &str = "select value from setting where site = $1 and key = $2";
const PUT_SETTING: &str = "insert into setting (site, key, value) values ($1, $2, $3) \
    on conflict (site, key) do update set value = excluded.value";

impl Change {
    /// Makes the change; returns how many rows it changed.
    pub(super) async fn write(self, connection: &mut PgConnection, site: &str) -> Result<u64, sqlx::Error> {
        match self.of_site(site) {
            Ok(statement) => statement.execute(connection).await.map(|done| done.rows_affected()),
            Err(several) => several.write(connection, site).await,
        }
    }

    /// The statement that makes the change, unless it takes several.
    fn of_site(self, site: &str) -> Result<Bound<'_>, Box<Several>> {
        let put = |statement: &'static str| sqlx::query(statement).bind(site);
        Ok(match self {
            Self::Token(change) => return Err(Box::new(Several::Token(change))),
            Self::NoteFork(fork) => return Err(Box::new(Several::NoteFork(fork))),
            Self::Tally(change) => return Err(Box::new(Several::Tally(change))),
            Self::AddStation(new) => put(ADD_STATION)
                .bind(new.id)
                .bind(new.name)
                .bind(new.role)
                .bind(new.created_us)
                .bind(new.revoked_us),
            Self::RevokeStation { id, at_us } => put(REVOKE_STATION).bind(id).bind(at_us),
            Self::ReadmitStation { id } => put(READMIT_STATION).bind(id),
            Self::PutPerson { code, name, at_us } => put(PUT_PERSON).bind(code).bind(name).bind(at_us),
            Self::ErasePerson { code, at_us } => put(ERASE_PERSON).bind(code).bind(at_us),
            Self::PutPersonPin { code, phc, at_us } => put(PUT_PERSON_PIN).bind(code).bind(phc).bind(at_us),
            Self::PutCustomer { job, customer, at_us } => {
                let keys = CustomerKeys::of(&customer);
                let query = put(PUT_CUSTOMER).bind(job.0).bind(customer.name).bind(customer.telephone);
                query.bind(at_us).bind(keys.name).bind(keys.telephone)
            }
            Self::EraseCustomer { job, at_us } => put(ERASE_CUSTOMER).bind(job.0).bind(at_us),
            Self::PutSummary(summary) => bind_summary(put(PUT_SUMMARY), summary),
            Self::PutSetting { key, value } => put(PUT_SETTING).bind(key).bind(value),
            Self::PutPhotoExtract { digest, edition, extract } => {
                put(PUT_PHOTO_EXTRACT).bind(digest).bind(edition).bind(extract)
            }
            Self::PutAudit(line) => audit_book::put(site, line),
            Self::SetStationKinds { station_id, kinds } => audit_book::set_kinds(site, station_id, &kinds),
            Self::SettleForks { site: of_site, seen_before_us, at_us } => {
                forwarded::settle(site, of_site, seen_before_us, at_us)
            }
            Self::PutStationSite { station_id, site: of_site } => {
                forwarded::put_station_site(site, station_id, of_site)
            }
        })
    }
}

impl Several {
    /// Makes the change in one transaction; returns how many rows it changed, or what became of a code.
    async fn write(self, connection: &mut PgConnection, site: &str) -> Result<u64, sqlx::Error> {
        let mut whole = connection.begin().await?;
        let rows = match self {
            Self::Token(change) => change.write_steps(&mut whole, site).await?,
            Self::NoteFork(fork) => forwarded::note(&mut whole, site, fork).await?,
            Self::Tally(change) => change.write_steps(&mut whole, site).await?,
        };
        whole.commit().await?;
        Ok(rows)
    }
}

fn bind_summary(query: Bound<'_>, summary: JobSummary) -> Bound<'_> {
    let keys = SearchKeys::of_summary(&summary);
    query
        .bind(summary.job_id.0)
        .bind(i64::from(summary.number.year))
        .bind(i64::from(summary.number.ordinal))
        .bind(summary.plate)
        .bind(summary.vin)
        .bind(summary.title)
        .bind(i64::from(summary.closed))
        .bind(summary.state)
        .bind(signed(summary.seq))
        .bind(summary.updated_us)
        .bind(i64::from(summary.rank))
        .bind(summary.account)
        .bind(keys.number)
        .bind(keys.plate)
        .bind(keys.vin)
        .bind(keys.title)
}

/// Reads what is looked for, of all jobs.
pub(super) async fn load_finder(connection: &mut PgConnection, site: &str) -> Result<Finder, StoreError> {
    let failed = |error: sqlx::Error| failed("reading the job list", &error);
    let mut finder = Finder::default();
    let lines = sqlx::query(LINES_TO_FIND).bind(site).fetch_all(&mut *connection).await.map_err(failed)?;
    let customers = sqlx::query(CUSTOMERS_TO_FIND).bind(site).fetch_all(connection).await.map_err(failed)?;
    for noted in lines.iter().map(line_to_find).chain(customers.iter().map(customer_to_find)) {
        finder.note(noted.map_err(failed)?);
    }
    Ok(finder)
}

impl PostgresStore {
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
        read: impl Fn(&PgRow) -> Result<T, sqlx::Error>,
    ) -> Result<Vec<T>, StoreError> {
        let doing = "reading beside the journal";
        let rows = self.fetch(doing, query).await?;
        rows.iter().map(read).collect::<Result<_, _>>().map_err(|error| failed(doing, &error))
    }
}

#[async_trait]
impl Beside for PostgresStore {
    async fn add_station(&self, station: Station) -> Result<(), StoreError> {
        let id = station.id.clone();
        match self.change(Change::AddStation(station)).await? {
            0 => Err(StoreError::StationExists { id }),
            _ => Ok(()),
        }
    }

    async fn station(&self, id: &str) -> Result<Option<Station>, StoreError> {
        Ok(self.rows(self.of_site(STATION).bind(id.to_owned()), station).await?.pop())
    }

    async fn stations(&self) -> Result<Vec<Station>, StoreError> {
        self.rows(self.of_site(STATIONS), station).await
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
        self.rows(self.of_site(PERSONS), person).await
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
        Ok(self.rows(self.of_site(PERSON_PIN).bind(code.to_owned()), |row| text(row, 0)).await?.pop())
    }

    async fn any_person_pin(&self) -> Result<bool, StoreError> {
        Ok(!self.rows(self.of_site(ANY_PERSON_PIN), |_| Ok(())).await?.is_empty())
    }

    async fn put_customer(&self, job: JobId, customer: &Customer, at_us: i64) -> Result<(), StoreError> {
        self.change(Change::PutCustomer { job, customer: customer.clone(), at_us }).await.map(drop)
    }

    async fn customer(&self, job: JobId) -> Result<Option<Customer>, StoreError> {
        Ok(self.rows(self.of_site(CUSTOMER).bind(job.0), customer).await?.pop())
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
        let pair = |number: &JobNumber| (i64::from(number.year), i64::from(number.ordinal));
        let (years, ordinals): (Vec<i64>, Vec<i64>) = found.iter().map(pair).unzip();
        self.rows(self.of_site(SUMMARIES).bind(years).bind(ordinals), summary).await
    }

    async fn stale_summaries(&self, after_seq: u64, limit: usize) -> Result<Vec<JobId>, StoreError> {
        let query = match after_seq {
            0 => self.of_site(STALE_SUMMARIES),
            after => self.of_site(STALE_SUMMARIES_AFTER).bind(signed(after)),
        };
        self.rows(query.bind(capped(limit)), job_id).await
    }

    async fn summaries_of_vehicle(
        &self,
        (vin, plate): (&str, &str),
        before: JobNumber,
        limit: usize,
    ) -> Result<Vec<JobSummary>, StoreError> {
        let query = self.of_site(SUMMARIES_OF_VEHICLE).bind(bare(vin)).bind(bare(plate));
        let query = query.bind(i64::from(before.year)).bind(i64::from(before.ordinal));
        self.rows(query.bind(capped(limit)), summary).await
    }

    async fn accounts(&self) -> Result<Vec<(JobId, String)>, StoreError> {
        self.rows(self.of_site(ACCOUNTS), account).await
    }

    async fn photo_extract(&self, digest: &str, edition: &str) -> Result<Option<String>, StoreError> {
        let query = self.of_site(PHOTO_EXTRACT).bind(digest.to_owned()).bind(edition.to_owned());
        Ok(self.rows(query, |row| text(row, 0)).await?.pop())
    }

    async fn put_photo_extract(&self, digest: &str, edition: &str, extract: &str) -> Result<(), StoreError> {
        let (digest, edition, extract) = (digest.into(), edition.into(), extract.into());
        self.change(Change::PutPhotoExtract { digest, edition, extract }).await.map(drop)
    }

    async fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        Ok(self.rows(self.of_site(SETTING).bind(key.to_owned()), |row| text(row, 0)).await?.pop())
    }

    async fn put_setting(&self, key: &str, value: &str) -> Result<(), StoreError> {
        self.change(Change::PutSetting { key: key.into(), value: value.into() }).await.map(drop)
    }
}

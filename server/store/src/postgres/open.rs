//! Connecting, and refusing what is not a sound journal of ours.

use super::beside::load_finder;
use super::cause::{failed, failed_to_open, too_slow};
use super::insert::Hand;
use super::link::Link;
use super::schema::{self, CREATE_SCHEMA, HAS_SCHEMA, SCHEMA, SCHEMA_NUMBER};
use super::writer::{Shared, Writer};
use super::{PostgresAddress, PostgresOptions, PostgresStore, Published, locks};
use crate::batch::Ledger;
use crate::entry::{Epoch, Head};
use crate::error::StoreError;
use crate::finder::SharedFinder;
use crate::row::{fixed, int, optional_fixed, text, unsigned};
use crate::tree::{Frontier, Hash};
use crate::verify::identity;
use sqlx::migrate::MigrateError;
use sqlx::postgres::{PgConnectOptions, PgPoolOptions};
use sqlx::{ConnectOptions as _, Connection as _, Executor as _, PgConnection, PgPool, Row as _};
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::timeout;

/// Oldest version of the database that has all we ask of it: triggers of rows on tables in parts.
const VERSION_LEAST: i32 = 130_000;

/// How long connecting may take.
const CONNECT_WITHIN: Duration = Duration::from_secs(10);
/// How long a read waits for a connection.
const ACQUIRE_WITHIN: Duration = Duration::from_secs(5);

const OPENING: &str = "opening the journal";

const INSERT_SITE: &str = "insert into site (site, epoch, identity_sha256, size, frontier, state) \
    values ($1, $2, $3, 0, ''::bytea, $4) on conflict (site) do nothing";
const SITE: &str =
    "select site, epoch, size, frontier, identity_sha256, writer, state from site where site = $1";
const LAST: &str = "select max(seq) from entry where site = $1";
const CLAIM: &str = "update site set writer = uuid_send(gen_random_uuid()), state = coalesce($2, state) \
    where site = $1 returning writer";
const SOUND: &str = "select current_setting('server_version_num')::int, current_setting('fsync'), \
    pg_is_in_recovery()";

/// Whether a site is in use here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum State {
    /// In use.
    Here,
    /// A move is being copied.
    Arriving,
    /// Copied and compared, not opened yet.
    Arrived,
    /// Moved away.
    Left,
}

impl State {
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Here => "here",
            Self::Arriving => "arriving",
            Self::Arrived => "arrived",
            Self::Left => "left",
        }
    }

    fn of(word: &str) -> Option<Self> {
        [Self::Here, Self::Arriving, Self::Arrived, Self::Left].into_iter().find(|state| state.word() == word)
    }
}

/// What a journal is opened for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Purpose {
    /// To be served.
    Serve,
    /// To be filled by a move.
    Fill,
    /// To be moved away.
    Leave,
}

/// The site row.
pub(super) struct SiteRow {
    pub head: Head,
    pub frontier: Frontier,
    pub writer: Option<[u8; 16]>,
    pub state: State,
}

/// What every connection of ours sets.
pub(super) fn connection_options(address: &PostgresAddress, synchronous_commit: &str) -> PgConnectOptions {
    address
        .options()
        .application_name("standpipe")
        .options([
            ("search_path", SCHEMA),
            ("synchronous_commit", synchronous_commit),
            // Nobody waits for ever, neither for a lock nor for an answer; milliseconds.
            ("statement_timeout", "30000"),
            ("lock_timeout", "5000"),
            ("idle_in_transaction_session_timeout", "60000"),
            // A machine that is gone does not hold its site for long; seconds.
            ("tcp_keepalives_idle", "10"),
            ("tcp_keepalives_interval", "5"),
            ("tcp_keepalives_count", "3"),
            ("client_min_messages", "warning"),
        ])
        .disable_statement_logging()
}

/// One connection, or what stands against it.
pub(super) async fn connect(options: &PgConnectOptions) -> Result<PgConnection, sqlx::Error> {
    timeout(CONNECT_WITHIN, options.connect()).await.unwrap_or(Err(too_slow()))
}

/// The connections that read.
pub(super) fn readers(address: &PostgresAddress, count: u32) -> PgPool {
    let options = connection_options(address, "on").options([("default_transaction_read_only", "on")]);
    PgPoolOptions::new()
        .max_connections(count.max(1))
        .acquire_timeout(ACQUIRE_WITHIN)
        // A connection that was lost while nobody used it is found before it is used.
        .test_before_acquire(true)
        .max_lifetime(None)
        .connect_lazy_with(options)
}

/// The connection whose changes need not be synced.
fn derived(address: &PostgresAddress) -> PgPool {
    PgPoolOptions::new()
        .max_connections(1)
        .acquire_timeout(ACQUIRE_WITHIN)
        .test_before_acquire(true)
        .max_lifetime(None)
        .connect_lazy_with(connection_options(address, "off"))
}

/// Puts a new site into a database. The row is there or it is not, so nothing is ever half made.
pub(crate) async fn create_site(
    address: &PostgresAddress,
    site: &str,
    epoch: Epoch,
    state: State,
) -> Result<(), StoreError> {
    let mut connection = prepared(address).await?;
    let doing = "creating the journal";
    let made = sqlx::query(INSERT_SITE)
        .bind(site)
        .bind(epoch)
        .bind(identity(site, epoch))
        .bind(state.word())
        .execute(&mut connection)
        .await
        .map_err(|error| failed(doing, &error))?;
    connection.close().await.map_err(|error| failed(doing, &error))?;
    match made.rows_affected() {
        0 => Err(StoreError::SiteThere { at: address.to_string(), what: format!("a site {site} already") }),
        _ => Ok(()),
    }
}

/// A connection to a database that is sound and has our tables.
async fn prepared(address: &PostgresAddress) -> Result<PgConnection, StoreError> {
    let at = address.shown();
    let options =
        connection_options(address, "on").options([("statement_timeout", "0"), ("lock_timeout", "0")]);
    let mut connection = connect(&options).await.map_err(|error| failed_to_open(at, &error))?;
    check_soundness(&mut connection, at).await?;
    // Creating one that is there already would ask for a right that this user need not have.
    let there = connection.fetch_one(HAS_SCHEMA).await.and_then(|row| row.try_get::<bool, _>(0));
    if !there.map_err(|error| failed_to_open(at, &error))? {
        connection.execute(CREATE_SCHEMA).await.map_err(|error| failed_to_open(at, &error))?;
    }
    schema::migrate(&mut connection).await.map_err(|error| match error {
        MigrateError::VersionMissing(found) => newer(at, found),
        MigrateError::Execute(error) | MigrateError::ExecuteMigration(error, _) => failed_to_open(at, &error),
        other => StoreError::damaged(other.to_string()),
    })?;
    Ok(connection)
}

fn newer(at: &str, found: i64) -> StoreError {
    StoreError::NewerSchema { path: at.into(), found, known: SCHEMA_NUMBER }
}

/// Refuses a database that may lose what it said is stored, or that cannot store.
async fn check_soundness(connection: &mut PgConnection, at: &str) -> Result<(), StoreError> {
    let unusable = |what: &str| Err(StoreError::Unusable { at: at.to_owned(), what: what.to_owned() });
    let row = connection.fetch_one(SOUND).await.map_err(|error| failed_to_open(at, &error))?;
    let told = || -> Result<(i32, String, bool), sqlx::Error> {
        Ok((row.try_get(0)?, row.try_get(1)?, row.try_get(2)?))
    };
    match told().map_err(|error| failed_to_open(at, &error))? {
        (version, _, _) if version < VERSION_LEAST => {
            unusable("it is older than PostgreSQL 13; install a newer one")
        }
        (_, fsync, _) if fsync != "on" => {
            unusable("it runs with fsync = off and could lose what it said is stored; set fsync = on")
        }
        (_, _, true) => unusable("it is a standby, which only reads; name the one that writes"),
        _ => Ok(()),
    }
}

/// Reads the site row.
pub(super) async fn read_site(
    connection: &mut PgConnection,
    site: &str,
) -> Result<Option<SiteRow>, StoreError> {
    let row = sqlx::query(SITE).bind(site).fetch_optional(connection).await;
    let Some(row) = row.map_err(|error| failed(OPENING, &error))? else { return Ok(None) };
    let read = || -> Result<_, sqlx::Error> {
        let stored: Hash = fixed(&row, 4)?;
        let (size, frontier): (u64, Vec<u8>) = (unsigned(&row, 2)?, row.try_get(3)?);
        Ok((
            text(&row, 0)?,
            fixed(&row, 1)?,
            size,
            frontier,
            stored,
            optional_fixed(&row, 5)?,
            text(&row, 6)?,
        ))
    };
    let (site, epoch, size, frontier, stored, writer, state) =
        read().map_err(|error| StoreError::damaged(format!("site row: {error}")))?;
    if identity(&site, epoch) != stored {
        return Err(StoreError::damaged("the site row's name or epoch is not what was written"));
    }
    let frontier = Frontier::decode(size, &frontier)
        .ok_or_else(|| StoreError::damaged("the site row's frontier does not fit its size"))?;
    let state =
        State::of(&state).ok_or_else(|| StoreError::damaged("the site row's state is no such word"))?;
    let head = Head { seq: size, root: frontier.root(), epoch, site };
    Ok(Some(SiteRow { head, frontier, writer, state }))
}

/// Whether a site is in use in a database, and its epoch.
pub(super) async fn state_of(address: &PostgresAddress, site: &str) -> Result<(State, Epoch), StoreError> {
    let connected = connect(&connection_options(address, "on")).await;
    let mut connection = connected.map_err(|error| failed_to_open(address.shown(), &error))?;
    let row = read_site(&mut connection, site).await?;
    let missing = || StoreError::SiteMissing { at: address.to_string(), site: site.to_owned() };
    row.map(|row| (row.state, row.head.epoch)).ok_or_else(missing)
}

/// Opens a journal and starts its writer.
pub(crate) async fn open_for_writing(
    address: &PostgresAddress,
    site: &str,
    options: PostgresOptions,
    purpose: Purpose,
) -> Result<PostgresStore, StoreError> {
    let mut connection = prepared(address).await?;
    let missing = || StoreError::SiteMissing { at: address.to_string(), site: site.to_owned() };
    let row = read_site(&mut connection, site).await?.ok_or_else(missing)?;
    check_state(site, row.state, purpose)?;
    connection.close().await.map_err(|error| failed(OPENING, &error))?;
    let mut link = Link::open(address, site, options.wait_for_other).await?;
    let writer = claim(&mut link.connection, site, purpose).await?;
    // Only now nobody else writes.
    let SiteRow { head, frontier, .. } = read_site(&mut link.connection, site).await?.ok_or_else(missing)?;
    check_reach(&mut link.connection, &head).await?;
    let finder = SharedFinder::of(load_finder(&mut link.connection, site).await?);
    let hand = Hand { site: site.to_owned(), key: locks::commit(site), writer };
    let ledger = Ledger::new(frontier, options.job_entries_max, options.faults);
    let (publish, published) = watch::channel(Published { head, stopped: None, away: None });
    let readers = readers(address, options.readers);
    let shared = Shared {
        address: address.clone(),
        derived: derived(address),
        readers: readers.clone(),
        options,
        publish,
        finder: finder.clone(),
    };
    let commands = Writer::start(link, hand, ledger, shared);
    Ok(PostgresStore {
        address: address.clone(),
        site: site.to_owned(),
        readers,
        commands: Some(commands),
        published,
        finder,
    })
}

fn check_state(site: &str, state: State, purpose: Purpose) -> Result<(), StoreError> {
    let moving = |what| Err(StoreError::Moving { site: site.to_owned(), what });
    match (state, purpose) {
        (State::Here | State::Arrived, Purpose::Serve) => Ok(()),
        (State::Arriving, Purpose::Serve) => moving("is not copied to its end"),
        (State::Left, Purpose::Serve) => moving("was moved away"),
        (State::Here, Purpose::Fill) => moving("is in use"),
        (State::Arriving, Purpose::Leave) => moving("is not copied to its end"),
        (_, Purpose::Fill | Purpose::Leave) => Ok(()),
    }
}

/// Makes this server the one that writes; whoever did before cannot write any more.
async fn claim(connection: &mut PgConnection, site: &str, purpose: Purpose) -> Result<[u8; 16], StoreError> {
    let state = match purpose {
        Purpose::Serve => Some(State::Here),
        Purpose::Fill => Some(State::Arriving),
        Purpose::Leave => None,
    };
    let row = sqlx::query(CLAIM).bind(site).bind(state.map(State::word)).fetch_one(connection).await;
    row.and_then(|row| fixed(&row, 0)).map_err(|error| failed(OPENING, &error))
}

/// Opens a journal without a writer.
pub(super) async fn open_for_reading(
    address: &PostgresAddress,
    site: &str,
) -> Result<PostgresStore, StoreError> {
    let at = address.shown();
    let missing = || StoreError::SiteMissing { at: at.to_owned(), site: site.to_owned() };
    let mut connection =
        connect(&connection_options(address, "on")).await.map_err(|error| failed_to_open(at, &error))?;
    let there: Option<String> = sqlx::query_scalar("select to_regclass('standpipe._sqlx_migrations')::text")
        .fetch_one(&mut connection)
        .await
        .map_err(|error| failed_to_open(at, &error))?;
    if there.is_none() {
        return Err(missing());
    }
    let number = sqlx::query("select coalesce(max(version), 0)::bigint from _sqlx_migrations");
    let number = number.fetch_one(&mut connection).await.and_then(|row| int(&row, 0));
    let found = number.map_err(|error| failed_to_open(at, &error))?;
    if found > SCHEMA_NUMBER {
        return Err(newer(at, found));
    }
    let row = read_site(&mut connection, site).await?.ok_or_else(missing)?;
    connection.close().await.map_err(|error| failed(OPENING, &error))?;
    let stopped = Some(StoreError::OpenedForReading);
    let (_, published) = watch::channel(Published { head: row.head, stopped, away: None });
    Ok(PostgresStore {
        address: address.clone(),
        site: site.to_owned(),
        readers: readers(address, PostgresOptions::default().readers),
        commands: None,
        published,
        finder: SharedFinder::default(),
    })
}

/// Refuses a journal whose site row and entries disagree: an append would leave a gap or meet an old number.
async fn check_reach(connection: &mut PgConnection, head: &Head) -> Result<(), StoreError> {
    let row = sqlx::query(LAST).bind(head.site.as_str()).fetch_one(connection).await;
    let last: Option<i64> = row.and_then(|row| row.try_get(0)).map_err(|error| failed(OPENING, &error))?;
    let last = last.unwrap_or(0);
    if u64::try_from(last).ok() != Some(head.seq) {
        let what = format!("the site row counts {} entries, the last entry is {last}", head.seq);
        return Err(StoreError::damaged(what));
    }
    Ok(())
}

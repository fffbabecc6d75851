//! Copies in a database that is cut off, and copies of a journal whose commits are held up: nothing is skipped or doubled.

use super::*;
use crate::conformance::batch_of;
use crate::postgres::locks::{self, Key};
use crate::{NewEntry, Replica as _};
use sqlx::{Executor as _, PgConnection, Row as _};

const THROW_OUT: &str =
    "select pg_terminate_backend(pid) from pg_stat_activity where application_name = 'standpipe'";
const WAITS: &str = "select exists (select 1 from pg_locks where locktype = 'advisory' and not granted \
    and objsubid = 2 and classid::bigint = $1::bigint and objid::bigint = $2::bigint & 4294967295)";

/// A connection of a foreign hand.
async fn foreign(address: &PostgresAddress) -> PgConnection {
    crate::postgres::open::connect(&crate::postgres::open::connection_options(address, "on")).await.unwrap()
}

#[tokio::test]
async fn a_copy_goes_on_however_often_its_database_is_cut_off() {
    let Some(mut database) = database::own(&[]) else { return };
    let url = database.create();
    let origin = MemoryStore::new(SITE, EPOCH);
    for number in 1..=600 {
        let job = job_id(number / 20);
        let new = if number % 20 == 0 { arrival(number, job) } else { entry(number, None) };
        origin.append(new).await.unwrap();
    }
    let copy = Arc::new(PostgresStore::create(&url.parse().unwrap(), SITE, [0; 16]).await.unwrap());
    let sending = tokio::spawn({
        let copy = Arc::clone(&copy);
        async move {
            let mut kept = 0;
            let mut new = 0;
            while kept < 600 {
                let batch = batch_of(&origin, kept + 1, 600.min(kept + 10)).await;
                match copy.replicate(batch).await {
                    Ok(done) => (kept, new) = (done.head.seq, new + done.new),
                    Err(StoreError::Away { .. } | StoreError::InDoubt { .. }) => {
                        let well = |published: &crate::postgres::Published| published.health().is_ok();
                        copy.published.clone().wait_for(well).await.unwrap();
                    }
                    Err(other) => panic!("{other}"),
                }
            }
            (origin, new)
        }
    });
    for round in 1..=12 {
        copy.grown_beyond(round * 45).await.unwrap();
        match round % 4 {
            0 => {
                let cluster = database.cluster.as_mut().unwrap();
                cluster.stop("QUIT");
                cluster.serve();
            }
            _ => drop(database.psql(&url, THROW_OUT)),
        }
    }
    let (origin, new) = sending.await.unwrap();
    assert!(new <= 600, "{new}");
    assert_eq!(copy.head().await.unwrap(), origin.head().await.unwrap());
    assert_eq!(copy.read(1, 1_000).await, origin.read(1, 1_000).await);
    assert_eq!(copy.jobs(None, 100).await, origin.jobs(None, 100).await);
    assert_eq!(verified(&copy).await.damage, []);
}

/// Holds up the commits of a site, as a slow disk would in the middle of one.
async fn hold(connection: &mut PgConnection, key: Key) {
    let taking = sqlx::query("select pg_advisory_lock($1, $2)").bind(key.0).bind(key.1);
    taking.execute(connection).await.unwrap();
}

async fn let_go(connection: &mut PgConnection, key: Key) {
    let leaving = sqlx::query("select pg_advisory_unlock($1, $2)").bind(key.0).bind(key.1);
    leaving.execute(connection).await.unwrap();
}

/// Waits until a commit waits for the lock.
async fn held(connection: &mut PgConnection, key: Key) {
    let asked = || sqlx::query(WAITS).bind(i64::from(key.0)).bind(i64::from(key.1));
    while !connection.fetch_one(asked()).await.unwrap().get::<bool, _>(0) {}
}

/// What a follower that asks for entries after its last one brings into its copy; gives how far the copy reaches.
async fn poll(journal: &PostgresStore, copy: &MemoryStore) -> u64 {
    let kept = copy.head().await.unwrap().seq;
    // A row can be read a moment before the journal says that it reaches so far.
    let reach = journal.head().await.unwrap().seq;
    let page = journal.read(kept + 1, 100).await.unwrap();
    assert!(page.len() as u64 >= reach - kept, "what is said to be there is there");
    if reach == kept {
        return kept;
    }
    copy.replicate(batch_of(journal, kept + 1, reach).await).await.unwrap().head.seq
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_follower_skips_nothing_while_one_commit_is_held_and_others_come() {
    let Some(database) = database::database() else { return };
    let address = address(&database);
    let rounds =
        if std::env::var("STANDPIPE_TEST_CAMPAIGN").is_ok_and(|it| it == "full") { 5_000 } else { 125 };
    let journal = PostgresStore::create(&address, SITE, EPOCH).await.unwrap();
    let copy = MemoryStore::new(SITE, [0; 16]);
    let mut hand = foreign(&address).await;
    let key = locks::commit(SITE);
    let of = |number: u64, station: &str| NewEntry { station: station.into(), ..entry(number, None) };
    for round in 0..rounds {
        hold(&mut hand, key).await;
        let slow = journal.submit(of(2 * round + 1, "bay-1")).await.unwrap();
        held(&mut hand, key).await;
        let fast = journal.submit(of(2 * round + 2, "bay-2")).await.unwrap();
        assert_eq!(poll(&journal, &copy).await, 2 * round, "what is not committed is not there");
        let_go(&mut hand, key).await;
        // Looks in between, whichever of them is there by now.
        poll(&journal, &copy).await;
        let (slow, fast) = (slow.answer().await.unwrap(), fast.answer().await.unwrap());
        assert_eq!((slow.seq, fast.seq), (2 * round + 1, 2 * round + 2), "places come in commit order");
        assert_eq!(poll(&journal, &copy).await, 2 * round + 2);
    }
    assert_eq!(copy.head().await, journal.head().await);
    assert_eq!(verified(&journal).await.damage, []);
}

#[tokio::test]
async fn a_counter_of_the_database_would_have_been_skipped_by_the_same_follower() {
    let Some(database) = database::database() else { return };
    let address = address(&database);
    drop(PostgresStore::create(&address, SITE, EPOCH).await.unwrap());
    let (mut slow, mut fast) = (foreign(&address).await, foreign(&address).await);
    slow.execute("create table counted (place bigserial primary key, who text)").await.unwrap();
    slow.execute("begin").await.unwrap();
    slow.execute("insert into counted (who) values ('slow')").await.unwrap();
    fast.execute("insert into counted (who) values ('fast')").await.unwrap();
    let after = async |connection: &mut PgConnection, place: i64| -> Vec<i64> {
        let query = sqlx::query("select place from counted where place > $1 order by place").bind(place);
        connection.fetch_all(query).await.unwrap().iter().map(|row| row.get(0)).collect()
    };
    let first = after(&mut fast, 0).await;
    slow.execute("commit").await.unwrap();
    let second = after(&mut fast, *first.last().unwrap()).await;
    // This is why places are given by the one writer: of two rows that are there the follower got one.
    assert_eq!((first, second), (vec![2], vec![]));
    assert_eq!(after(&mut fast, 0).await, [1, 2]);
}

#[tokio::test]
async fn a_second_server_replicates_nothing() {
    let Some(database) = database::database() else { return };
    let url = database.create();
    let address = url.parse().unwrap();
    let origin = MemoryStore::new(SITE, EPOCH);
    fill(&origin).await;
    let copy = PostgresStore::create(&address, SITE, EPOCH).await.unwrap();
    copy.replicate(batch_of(&origin, 1, 8).await).await.unwrap();
    let options = PostgresOptions { wait_for_other: std::time::Duration::ZERO, ..PostgresOptions::default() };
    let second = PostgresStore::open_with(&address, SITE, options).await.unwrap_err();
    assert!(matches!(second, StoreError::SiteHeld { .. }), "{second}");
    // Another hand that grew the journal meanwhile: the copy takes nothing more.
    let grown = "update standpipe.site set writer = uuid_send(gen_random_uuid())";
    assert_eq!(database.psql(&url, grown), "");
    let taken = copy.replicate(batch_of(&origin, 9, 14).await).await.unwrap_err();
    assert!(matches!(taken, StoreError::TakenOver { .. }), "{taken}");
    assert_eq!(copy.head().await.unwrap().seq, 8);
}

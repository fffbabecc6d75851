//! Databases that go away: restarted, stopped in the middle, thrown out, full, overcrowded. What was acknowledged stays;
//! everything else is answered by looking or told as not known, and sending again settles it.

use super::*;
use crate::{Appended, Beside as _, NewEntry};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

const TABLES: &str = "set search_path to standpipe;";
const THROW_OUT: &str =
    "select pg_terminate_backend(pid) from pg_stat_activity where application_name = 'standpipe'";

/// Waits until the store works again.
async fn back(store: &PostgresStore) {
    store.published.clone().wait_for(|published| published.health().is_ok()).await.unwrap();
}

/// Appends until it is taken: temporary refusals are what a station meets as well.
async fn until_taken(store: &PostgresStore, entry: NewEntry) -> Appended {
    loop {
        match store.append(entry.clone()).await {
            Ok(answer) => return answer,
            Err(StoreError::Away { .. } | StoreError::InDoubt { .. }) => back(store).await,
            Err(other) => panic!("{other}"),
        }
    }
}

#[tokio::test]
async fn a_restart_between_two_entries_is_not_noticed() {
    let Some(mut database) = database::own(&[]) else { return };
    let store = filled(&address(&database), SITE).await;
    store.put_setting("key", "before").await.unwrap();
    for (at, signal) in [(15, "INT"), (16, "QUIT")] {
        let cluster = database.cluster.as_mut().unwrap();
        cluster.stop(signal);
        cluster.serve();
        assert_eq!(until_taken(&store, entry(at, None)).await.seq, at);
        assert_eq!(store.read(1, 100).await.unwrap().len() as u64, at);
    }
    assert_eq!(store.setting("key").await, Ok(Some("before".into())));
    assert_eq!(verified(&store).await.damage, []);
}

#[tokio::test]
async fn while_the_database_is_away_everybody_is_told_and_nobody_waits_for_ever() {
    let Some(mut database) = database::own(&[]) else { return };
    let address = address(&database);
    let options = PostgresOptions { settle_within: Duration::ZERO, ..PostgresOptions::default() };
    let store = PostgresStore::create_with(&address, SITE, EPOCH, options).await.unwrap();
    fill(&store).await;
    database.cluster.as_mut().unwrap().stop("INT");
    let first = store.append(entry(15, None)).await.unwrap_err();
    assert!(matches!(first, StoreError::Away { .. } | StoreError::InDoubt { .. }), "{first}");
    assert!(!first.is_permanent());
    let health = store.health().unwrap_err();
    assert!(matches!(health, StoreError::Away { .. }), "{health}");
    assert!(matches!(store.append(entry(16, None)).await, Err(StoreError::Away { .. })));
    assert!(matches!(store.put_setting("key", "value").await, Err(StoreError::Away { .. })));
    assert!(matches!(store.read(1, 10).await, Err(StoreError::Away { .. })));
    assert_eq!(store.head().await.unwrap().seq, 14);
    database.cluster.as_mut().unwrap().serve();
    back(&store).await;
    assert_eq!(store.append(entry(15, None)).await.unwrap().seq, 15);
    assert_eq!(store.read(1, 100).await.unwrap().len(), 15);
    assert_eq!(verified(&store).await.damage, []);
}

/// Whoever follows the journal from place to place never meets a gap, whenever it looks: places come in commit order.
async fn follow(store: Arc<PostgresStore>, until: u64) {
    let mut reached = 0;
    while reached < until {
        match store.read(reached + 1, 50).await {
            Ok(page) => {
                for entry in page {
                    reached += 1;
                    assert_eq!(entry.seq, reached, "a place was skipped");
                }
            }
            Err(StoreError::Away { .. }) => back(&store).await,
            Err(other) => panic!("{other}"),
        }
        if reached < until {
            store.grown_beyond(reached).await.unwrap();
        }
    }
}

/// Stations that send without pause, each entry again until it is taken, while something goes wrong again and again.
async fn under_fire(store: Arc<PostgresStore>, rounds: u64, mut wrong: impl FnMut(u64)) {
    const STATIONS: u64 = 4;
    const ENTRIES: u64 = 150;
    let mut tasks = Vec::new();
    for station in 0..STATIONS {
        let store = Arc::clone(&store);
        tasks.push(tokio::spawn(async move {
            let mut seqs = Vec::new();
            for at in 1..=ENTRIES {
                let id = 10_000 * (station + 1) + at;
                let name = format!("bay-{station}");
                let new = NewEntry { station: name, station_number: at, ..entry(id, None) };
                seqs.push((id, until_taken(&store, new).await.seq));
            }
            seqs
        }));
    }
    let reader = tokio::spawn(follow(Arc::clone(&store), STATIONS * ENTRIES));
    for round in 1..=rounds {
        // Something goes wrong whenever so much more has been stored, wherever that is in a commit.
        store.grown_beyond(round * STATIONS * ENTRIES / (rounds + 2)).await.unwrap();
        wrong(round);
    }
    let mut answered = Vec::new();
    for task in tasks {
        answered.extend(task.await.unwrap());
    }
    reader.await.unwrap();
    let entries = store.read(1, 1_000).await.unwrap();
    assert_eq!(entries.len() as u64, STATIONS * ENTRIES, "each entry stands there once");
    for (id, seq) in answered {
        let stored =
            store.entry(conformance::entry_id(id)).await.unwrap().expect("what was acknowledged stays");
        assert_eq!(stored.seq, seq, "and where it was said to be");
    }
    let report = verified(&store).await;
    assert_eq!((report.damage, report.root), (vec![], store.head().await.unwrap().root));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_is_lost_or_doubled_when_connections_are_thrown_out() {
    let Some(database) = database::database() else { return };
    let url = database.create();
    let store = Arc::new(PostgresStore::create(&url.parse().unwrap(), SITE, EPOCH).await.unwrap());
    let thrown_out = AtomicUsize::new(0);
    under_fire(store, 6, |_| {
        // Whoever was thrown out a moment ago may not be back yet.
        let own = format!("{THROW_OUT} and datname = current_database()");
        thrown_out.fetch_add(database.psql(&url, &own).matches('t').count(), Ordering::Relaxed);
    })
    .await;
    assert!(thrown_out.into_inner() > 0);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_is_lost_or_doubled_when_the_database_is_stopped_in_the_middle() {
    let Some(mut database) = database::own(&[]) else { return };
    let address = address(&database);
    let store = Arc::new(PostgresStore::create(&address, SITE, EPOCH).await.unwrap());
    let full = std::env::var("STANDPIPE_TEST_CAMPAIGN").is_ok_and(|campaign| campaign == "full");
    under_fire(store, if full { 50 } else { 3 }, |round| {
        let cluster = database.cluster.as_mut().unwrap();
        cluster.stop(if round % 2 == 0 { "INT" } else { "QUIT" });
        cluster.serve();
    })
    .await;
}

#[tokio::test]
async fn a_full_disk_stores_nothing_and_passes_when_there_is_space() {
    let Some(database) = database::database() else { return };
    let url = database.create();
    let store = filled(&url.parse().unwrap(), SITE).await;
    // Stands for a disk that is full: the database's own error for it, from within the insert.
    let full = "create function full_disk() returns trigger language plpgsql as $$ begin \
        raise exception 'could not extend file' using errcode = '53100'; end $$; \
        create trigger full_disk before insert on entry for each row execute function full_disk();";
    assert_eq!(database.psql(&url, &format!("{TABLES} {full}")), "");
    assert_eq!(store.append(entry(15, None)).await, Err(StoreError::DiskFull));
    assert_eq!(store.health(), Ok(()));
    assert_eq!(store.head().await.unwrap().seq, 14);
    assert_eq!(store.read(1, 100).await.unwrap().len(), 14);
    assert_eq!(database.psql(&url, &format!("{TABLES} drop trigger full_disk on entry")), "");
    assert_eq!(store.append(entry(15, None)).await.unwrap().seq, 15);
    assert_eq!(verified(&store).await.damage, []);
}

#[tokio::test]
async fn a_database_with_no_place_left_is_told_as_away() {
    let Some(database) = database::own(&["max_connections=5", "superuser_reserved_connections=0"]) else {
        return;
    };
    let url = database.create();
    let store = filled(&url.parse().unwrap(), SITE).await;
    let mut guests = Vec::new();
    let options = crate::postgres::open::connection_options(&url.parse().unwrap(), "on");
    let refused = loop {
        match crate::postgres::open::connect(&options).await {
            Ok(guest) => guests.push(guest),
            Err(error) => break error,
        }
    };
    assert!(refused.to_string().contains("too many"), "{refused}");
    let told = PostgresStore::open(&url.parse().unwrap(), SITE).await.unwrap_err();
    assert!(matches!(&told, StoreError::Away { cause } if cause.contains("too many")), "{told}");
    assert_eq!(store.append(entry(15, None)).await.unwrap().seq, 15, "the writer keeps its place");
}

#[tokio::test]
async fn an_entry_waits_for_a_commit_that_another_holds_and_is_not_acknowledged_before() {
    let Some(database) = database::database() else { return };
    let address: PostgresAddress = address(&database);
    let store = filled(&address, SITE).await;
    let options = crate::postgres::open::connection_options(&address, "on");
    let mut other = crate::postgres::open::connect(&options).await.unwrap();
    let key = crate::postgres::locks::commit(SITE);
    let held = sqlx::query("select pg_advisory_lock($1, $2)").bind(key.0).bind(key.1);
    held.execute(&mut other).await.unwrap();
    let pending = store.submit(entry(15, None)).await.unwrap();
    // Reads do not wait for writers.
    assert_eq!(store.read(1, 100).await.unwrap().len(), 14);
    drop(sqlx::Connection::close(other).await);
    assert_eq!(pending.answer().await.unwrap().seq, 15);
}

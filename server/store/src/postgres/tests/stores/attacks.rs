//! Foreign hands in the tables, a second server, databases that are not as they must be.

use super::*;
use crate::DamageKind;
use crate::postgres::open::{connect, connection_options};
use sqlx::{Executor as _, Row as _};
use std::time::Duration;

/// The tables' names as a foreign program has to say them.
const TABLES: &str = "set search_path to standpipe;";

#[tokio::test]
async fn nothing_of_the_journal_is_changed_removed_or_emptied() {
    let Some(database) = database::database() else { return };
    let address = database.create();
    let store = filled(&address.parse().unwrap(), SITE).await;
    for (attempt, refusal) in [
        ("update entry set received_us = 0 where seq = 3", "an entry never changes"),
        ("delete from entry where seq = 3", "an entry is never deleted"),
        ("truncate entry", "an entry is never deleted"),
        ("truncate entry_0, entry_1, entry_2", "an entry is never deleted"),
        ("update job set ordinal = 9 where ordinal = 1", "the identity of a job never changes"),
        ("delete from job", "a job is never deleted"),
        ("truncate job", "a job is never deleted"),
        ("update station_stream set station = 'bay-2'", "run of numbers never changes"),
        ("delete from station_stream", "run of numbers is never deleted"),
        ("truncate station_stream", "run of numbers is never deleted"),
        ("update site set size = 3", "its journal only grows"),
        ("update site set site = 'Mill Street'", "its journal only grows"),
        ("delete from site", "the site row is never deleted"),
        ("truncate site", "the site row is never deleted"),
    ] {
        let told = database.psql(&address, &format!("{TABLES} {attempt}"));
        assert!(told.contains(refusal), "{attempt}: {told}");
    }
    assert_eq!(verified(&store).await.damage, []);
}

#[tokio::test]
async fn what_a_foreign_hand_did_with_the_guards_off_is_found() {
    let Some(database) = database::database() else { return };
    let address = database.create();
    let store = filled(&address.parse().unwrap(), SITE).await;
    let off = "alter table entry disable trigger entry_never_updated; \
        update entry set received_us = received_us + 1 where seq = 3;";
    assert_eq!(database.psql(&address, &format!("{TABLES} {off}")), "");
    let report = verified(&store).await;
    assert!(report.damage.iter().any(|damage| damage.seq == Some(3) && damage.kind == DamageKind::LeafHash));
    let schema =
        |damage: &crate::Damage| matches!(&damage.kind, DamageKind::Schema(what) if what.contains("entry"));
    assert!(report.damage.iter().any(schema), "{:?}", report.damage);
    assert!(matches!(store.read(1, 10).await, Err(StoreError::Damaged { seq: Some(3), .. })));
    assert_eq!(store.read(4, 10).await.unwrap().len(), 10);
}

#[tokio::test]
async fn a_second_server_of_a_site_is_refused() {
    let Some(database) = database::database() else { return };
    let address = address(&database);
    let store = filled(&address, SITE).await;
    let options = PostgresOptions { wait_for_other: Duration::ZERO, ..PostgresOptions::default() };
    let second = PostgresStore::open_with(&address, SITE, options.clone()).await.unwrap_err();
    assert_eq!(second, StoreError::SiteHeld { site: SITE.into() });
    let reader = PostgresStore::open_for_reading(&address, SITE).await.unwrap();
    assert_eq!(reader.read(1, 100).await.unwrap().len(), 14);
    assert_eq!(reader.append(entry(15, None)).await, Err(StoreError::OpenedForReading));
    assert_eq!(store.append(entry(15, None)).await.unwrap().seq, 15);
    store.close().await.unwrap();
    let second = PostgresStore::open_with(&address, SITE, options).await.unwrap();
    assert_eq!(second.append(entry(16, None)).await.unwrap().seq, 16);
}

#[tokio::test]
async fn a_server_whose_place_was_taken_writes_nothing_between() {
    let Some(database) = database::database() else { return };
    let url = database.create();
    let address = url.parse().unwrap();
    let first = filled(&address, SITE).await;
    // Stands for a server that lost its lock without noticing: another claims the site row.
    let claim = "update site set writer = uuid_send(gen_random_uuid())";
    assert_eq!(database.psql(&url, &format!("{TABLES} {claim}")), "");
    let taken_over = StoreError::TakenOver { site: SITE.into() };
    assert_eq!(first.append(entry(15, None)).await, Err(taken_over.clone()));
    assert_eq!(first.health(), Err(taken_over.clone()));
    assert_eq!(first.append(entry(16, None)).await, Err(taken_over));
    first.close().await.unwrap();
    let second = PostgresStore::open(&address, SITE).await.unwrap();
    assert_eq!(second.append(entry(15, None)).await.unwrap().seq, 15);
    assert_eq!(verified(&second).await.damage, []);
}

#[tokio::test]
async fn another_program_that_appended_stops_the_journal() {
    let Some(database) = database::database() else { return };
    let url = database.create();
    let store = filled(&url.parse().unwrap(), SITE).await;
    let other = "insert into entry select site, 15, decode(md5('other'), 'hex'), null, stream_first_seq, 15, 1, '\\x00', \
        leaf_hash from entry where seq = 14";
    assert_eq!(database.psql(&url, &format!("{TABLES} {other}")), "");
    assert!(matches!(store.append(entry(15, None)).await, Err(StoreError::Disk { .. })));
    assert!(matches!(store.health(), Err(StoreError::Broken { .. })));
}

#[tokio::test]
async fn commits_are_synced_whatever_the_database_says() {
    let Some(database) = database::own(&["synchronous_commit=off"]) else { return };
    let address = address(&database);
    drop(PostgresStore::create(&address, SITE, EPOCH).await.unwrap());
    let mut connection = connect(&connection_options(&address, "on")).await.unwrap();
    for (name, value) in [("synchronous_commit", "on"), ("search_path", "standpipe"), ("lock_timeout", "5s")]
    {
        let row = connection.fetch_one(sqlx::query("select current_setting($1)").bind(name)).await.unwrap();
        assert_eq!(row.get::<String, _>(0), value, "{name}");
    }
}

#[tokio::test]
async fn a_database_that_may_lose_what_it_said_is_stored_is_refused() {
    let Some(database) = database::own(&["fsync=off"]) else { return };
    let refused = PostgresStore::create(&address(&database), SITE, EPOCH).await.unwrap_err();
    assert!(refused.to_string().contains("fsync = off"), "{refused}");
}

#[tokio::test]
async fn what_is_no_database_of_ours_is_named() {
    let Some(database) = database::database() else { return };
    let nowhere: PostgresAddress = database.address("nowhere").parse().unwrap();
    let told = PostgresStore::open(&nowhere, SITE).await.unwrap_err();
    assert!(matches!(told, StoreError::Unusable { .. }) && told.to_string().contains("createdb"), "{told}");
    let empty = address(&database);
    let told = PostgresStore::open_for_reading(&empty, SITE).await.unwrap_err();
    assert!(matches!(told, StoreError::SiteMissing { .. }), "{told}");
    let absent: PostgresAddress = "postgresql://shop:geheim@/owner?host=/nowhere".parse().unwrap();
    let told = PostgresStore::open(&absent, SITE).await.unwrap_err();
    assert!(matches!(told, StoreError::Away { .. }) && !told.to_string().contains("geheim"), "{told}");
}

#[tokio::test]
async fn a_newer_schema_is_refused() {
    let Some(database) = database::database() else { return };
    let url = database.create();
    let address: PostgresAddress = url.parse().unwrap();
    filled(&address, SITE).await.close().await.unwrap();
    let later = "insert into _sqlx_migrations (version, description, success, checksum, execution_time) \
        values (99, 'later', true, '', 0)";
    assert_eq!(database.psql(&url, &format!("{TABLES} {later}")), "");
    for told in [
        PostgresStore::open(&address, SITE).await.unwrap_err(),
        PostgresStore::open_for_reading(&address, SITE).await.unwrap_err(),
    ] {
        assert!(matches!(told, StoreError::NewerSchema { found: 99, .. }), "{told}");
    }
}

//! Raw SQL against the journal: refused where a guard stands, noticed by verify where none can.

use super::*;
use crate::{Beside, DamageKind, StoreError};

/// Statements that try to change history.
const ATTACKS: [&str; 18] = [
    "update entry set bytes = x'00' where seq = 3",
    "update entry set received_us = received_us + 1",
    "update or replace entry set seq = 4 where seq = 3",
    "delete from entry where seq = 14",
    "delete from entry",
    "insert or replace into entry select seq, randomblob(16), job_first_seq, stream_first_seq, station_number, \
        received_us, x'00', leaf_hash from entry where seq = 3",
    "insert or replace into entry select 15, entry_id, job_first_seq, stream_first_seq, station_number, \
        received_us, x'00', leaf_hash from entry where seq = 3",
    "insert into entry select * from entry where seq = 3 on conflict (seq) do update set bytes = x'00'",
    "insert into entry select * from entry where seq = 3",
    "update job set year = 2020 where first_seq = 1",
    "update job set job_id = randomblob(16) where first_seq = 1",
    "delete from job where first_seq = 1",
    "insert or replace into job select first_seq, randomblob(16), year, ordinal from job where first_seq = 1",
    "update station_stream set station = 'bay-9'",
    "delete from station_stream",
    "update site set size = size - 1",
    "update site set site = 'Mill Street'",
    "delete from site",
];

#[tokio::test]
async fn our_own_connections_cannot_change_history() {
    let (_folder, path) = folder();
    let store = filled(&path).await;
    let before = store.read(1, 100).await.unwrap();
    let mut connection =
        super::super::open::journal_connection(&path, &SqliteOptions::default()).await.unwrap();
    for attack in ATTACKS {
        assert!(connection.execute(attack).await.is_err(), "not refused: {attack}");
    }
    for harmless in [
        "insert or ignore into entry select * from entry where seq = 3",
        "insert into entry select * from entry where seq = 3 on conflict do nothing",
    ] {
        assert_eq!(connection.execute(harmless).await.unwrap().rows_affected(), 0, "{harmless}");
    }
    assert_eq!(store.read(1, 100).await.unwrap(), before);
    assert_eq!(verified(&store).await.damage, []);
}

#[tokio::test]
async fn connections_that_read_cannot_write() {
    let (_folder, path) = folder();
    let store = filled(&path).await;
    for attack in ["insert into setting (key, value) values ('a', 'b')", "drop trigger entry_never_updated"] {
        assert!(store.readers.execute(attack).await.is_err(), "not refused: {attack}");
    }
    assert_eq!(store.setting("a").await, Ok(None));
}

/// Lets a foreign program do something to a closed journal, then checks it.
async fn after(attack: &'static str) -> VerifyReport {
    let (_folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    let mut foreign = foreign(&path).await;
    foreign.execute(attack).await.unwrap();
    drop(foreign);
    verified(&SqliteStore::open_for_reading(&path).await.unwrap()).await
}

#[tokio::test]
async fn a_dropped_guard_is_noticed() {
    for (attack, object) in [
        ("drop trigger entry_never_updated", "trigger entry_never_updated"),
        ("drop trigger entry_never_deleted", "trigger entry_never_deleted"),
        ("drop trigger job_never_updated", "trigger job_never_updated"),
        ("drop index entry_by_id", "index entry_by_id"),
        ("create table more (a)", "table more"),
    ] {
        let report = after(attack).await;
        let kinds: Vec<_> = report.damage.iter().map(|damage| damage.kind.clone()).collect();
        assert_eq!(kinds, [DamageKind::Schema(object.into())], "after {attack}");
    }
}

#[tokio::test]
async fn what_a_foreign_program_changes_is_named_with_its_job() {
    let report = after(
        "drop trigger entry_never_updated; update entry set bytes = x'00' where seq = 5; \
         create trigger entry_never_updated before update on entry \
         begin select raise(abort, 'an entry never changes'); end",
    )
    .await;
    let damage = report.damage.iter().find(|damage| damage.kind == DamageKind::LeafHash).unwrap();
    assert_eq!(damage.seq, Some(5));
    assert_eq!(damage.job.unwrap().0, job_id(2));
    assert!(report.damage.iter().any(|damage| damage.kind == DamageKind::Root));

    // A forger who also writes a fitting leaf hash is caught by the root.
    let report = after(
        "drop trigger entry_never_updated; \
         update entry set leaf_hash = (select leaf_hash from entry where seq = 6) where seq = 5; \
         create trigger entry_never_updated before update on entry \
         begin select raise(abort, 'an entry never changes'); end",
    )
    .await;
    assert!(!report.is_sound());

    let report = after("drop trigger entry_never_deleted; delete from entry where seq in (6, 7)").await;
    let missing = report.damage.iter().find(|damage| damage.kind == DamageKind::Missing { count: 2 });
    assert_eq!(missing.unwrap().seq, Some(6));

    let report = after("drop trigger entry_never_deleted; delete from entry where seq = 14").await;
    let missing = report.damage.iter().find(|damage| damage.kind == DamageKind::Missing { count: 1 });
    assert_eq!(missing.unwrap().seq, Some(14));

    let report =
        after("drop trigger job_never_updated; update job set ordinal = 9 where first_seq = 2").await;
    assert!(report.damage.iter().any(|damage| matches!(damage.kind, DamageKind::JobNumber(_))));

    let report = after("drop trigger job_never_deleted; delete from job where first_seq = 2").await;
    assert!(report.damage.iter().any(|damage| matches!(damage.kind, DamageKind::Reference(_))));

    // Replacing a row without "recursive_triggers" asks no trigger: the tree notices.
    let report = after(
        "insert or replace into entry select seq, entry_id, job_first_seq, stream_first_seq, station_number, \
            received_us, x'00', leaf_hash from entry where seq = 3",
    )
    .await;
    assert_eq!(report.damage[0].seq, Some(3));
}

#[tokio::test]
async fn a_damaged_entry_is_not_served_but_other_jobs_are() {
    let (_folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    let mut foreign = foreign(&path).await;
    foreign
        .execute("drop trigger entry_never_updated; update entry set bytes = x'00' where seq = 5")
        .await
        .unwrap();
    drop(foreign);
    let store = SqliteStore::open(&path).await.unwrap();
    let refused = store.read_job(job_id(2)).await.unwrap_err();
    let StoreError::Damaged { seq, job_number, .. } = &refused else { panic!("{refused}") };
    assert_eq!((*seq, job_number.unwrap().to_string().as_str()), (Some(5), "26-0002"));
    assert_eq!(store.read_job(job_id(1)).await.unwrap().len(), 4);
}

#[tokio::test]
async fn a_journal_cut_at_its_end_takes_no_entry() {
    let (_folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    let mut foreign = foreign(&path).await;
    foreign.execute("drop trigger entry_never_deleted; delete from entry where seq = 14").await.unwrap();
    drop(foreign);
    assert!(matches!(SqliteStore::open(&path).await.unwrap_err(), StoreError::Damaged { .. }));
}

#[tokio::test]
async fn an_erased_name_is_not_left_in_the_file() {
    let (_folder, path) = folder();
    let store = filled(&path).await;
    store.put_person("A", "an unmistakable name", 1).await.unwrap();
    store.close().await.unwrap();
    let holds_name = |path: &Path| {
        let bytes = std::fs::read(path).unwrap();
        bytes.windows(20).any(|window| window == b"an unmistakable name")
    };
    assert!(holds_name(&path));
    let store = SqliteStore::open(&path).await.unwrap();
    store.erase_person("A", 2).await.unwrap();
    store.close().await.unwrap();
    assert!(!holds_name(&path));
}

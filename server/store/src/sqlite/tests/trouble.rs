//! Disks that are full, tables that are gone, databases that others lock.

use super::*;
use crate::{Beside, StoreError};

#[tokio::test]
async fn a_full_disk_stores_nothing_and_passes_when_there_is_space() {
    let (_folder, path) = folder();
    let options = SqliteOptions { page_count_max: Some(64), ..SqliteOptions::default() };
    let store = SqliteStore::create_with(&path, SITE, EPOCH, options).await.unwrap();
    let large = |at: u64| crate::NewEntry { bytes: vec![7; 20_000].into(), ..entry(at, None) };
    let mut stored = 0;
    let error = loop {
        match store.append(large(stored + 1)).await {
            Ok(answer) => stored = answer.seq,
            Err(error) => break error,
        }
    };
    assert_eq!(error, StoreError::DiskFull);
    assert!(stored > 0 && !error.is_permanent());
    assert_eq!(store.head().await.unwrap().seq, stored);
    assert_eq!(store.health(), Ok(()));
    // Reading goes on, a small entry still fits, and the numbering has no gap.
    assert_eq!(store.read(1, 100).await.unwrap().len() as u64, stored);
    assert_eq!(store.append(entry(stored + 1, None)).await.unwrap().seq, stored + 1);
    assert_eq!(verified(&store).await.damage, []);
}

#[tokio::test]
async fn after_a_failed_commit_nothing_is_acknowledged_until_it_is_opened_again() {
    let (_folder, path) = folder();
    let store = filled(&path).await;
    let mut foreign = foreign(&path).await;
    // Stands for a write that fails in the middle of a commit: the entries go in, then the site row is refused.
    let trap =
        "create trigger trap before update on site begin select raise(abort, 'a disk that fails'); end";
    foreign.execute(trap).await.unwrap();
    let mut pending = Vec::new();
    for at in 15..=18 {
        pending.push(store.submit(entry(at, None)).await.unwrap());
    }
    for answer in pending {
        let error = answer.answer().await.unwrap_err();
        assert!(matches!(error, StoreError::Disk { .. } | StoreError::Broken { .. }), "{error}");
    }
    foreign.execute("drop trigger trap").await.unwrap();
    // The disk works again, but nobody knows what it lost in between.
    assert!(matches!(store.append(entry(19, None)).await, Err(StoreError::Broken { .. })));
    assert!(matches!(store.append(entry(1, None)).await, Err(StoreError::Broken { .. })));
    assert!(matches!(store.put_setting("key", "value").await, Err(StoreError::Broken { .. })));
    assert!(matches!(store.health(), Err(StoreError::Broken { .. })));
    assert_eq!(store.head().await.unwrap().seq, 14);
    assert_eq!(store.read(1, 100).await.unwrap().len(), 14);
    store.close().await.unwrap();
    drop(foreign);
    let store = SqliteStore::open(&path).await.unwrap();
    assert_eq!(store.append(entry(15, None)).await.unwrap().seq, 15);
    assert_eq!(verified(&store).await.damage, []);
}

#[tokio::test]
async fn an_entry_waits_for_a_lock_and_is_not_acknowledged_before() {
    let (_folder, path) = folder();
    let store = filled(&path).await;
    let mut foreign = foreign(&path).await;
    foreign.execute("begin immediate").await.unwrap();
    let pending = store.submit(entry(15, None)).await.unwrap();
    // Reads do not wait for writers.
    assert_eq!(store.read(1, 100).await.unwrap().len(), 14);
    foreign.execute("rollback").await.unwrap();
    assert_eq!(pending.answer().await.unwrap().seq, 15);
}

#[tokio::test]
async fn another_program_that_appended_stops_the_journal() {
    let (_folder, path) = folder();
    let store = filled(&path).await;
    let mut foreign = foreign(&path).await;
    let other = "insert into entry select 15, randomblob(16), null, stream_first_seq, 15, 1, x'00', leaf_hash \
        from entry where seq = 14";
    foreign.execute(other).await.unwrap();
    assert!(matches!(store.append(entry(15, None)).await, Err(StoreError::Disk { .. })));
    assert!(matches!(store.health(), Err(StoreError::Broken { .. })));
}

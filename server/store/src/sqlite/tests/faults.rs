//! Faults put in on purpose: what the other tests look at must turn red under each of them.

use super::*;
use crate::Fault;

async fn with(path: &Path, fault: &str) -> SqliteStore {
    let options = SqliteOptions::default().with_fault(fault.parse::<Fault>().unwrap());
    SqliteStore::create_with(path, SITE, EPOCH, options).await.unwrap()
}

#[tokio::test]
async fn an_answer_before_the_commit_is_seen() {
    let (_folder, path) = folder();
    let store = with(&path, "ack-before-commit").await;
    let mut foreign = foreign(&path).await;
    // While another program holds the lock nothing can be committed, so every answer is a lie.
    foreign.execute("begin immediate").await.unwrap();
    let answer = store.append(entry(1, None)).await.unwrap();
    let stored = store.read(answer.seq, 1).await.unwrap();
    assert_eq!(stored, [], "acknowledged, but not stored");
    foreign.execute("rollback").await.unwrap();
}

#[tokio::test]
async fn a_connection_that_does_not_sync_is_seen() {
    let (_folder, path) = folder();
    let options = SqliteOptions::default().with_fault(Fault::SynchronousNormal);
    let store = with(&path, "synchronous-normal").await;
    let mut journal = super::super::open::journal_connection(store.path(), &options).await.unwrap();
    assert_ne!(pragma(&mut journal, "synchronous").await, "2");
}

#[tokio::test]
async fn a_dropped_duplicate_check_is_seen() {
    let (_folder, path) = folder();
    let store = with(&path, "duplicate-check-dropped").await;
    store.append(entry(1, None)).await.unwrap();
    assert!(!store.append(entry(1, None)).await.unwrap().repeated);
    assert_eq!(store.head().await.unwrap().seq, 2, "one id is stored twice");
    assert!(!verified(&store).await.is_sound());
}

#[tokio::test]
async fn a_skipped_leaf_is_seen() {
    let (_folder, path) = folder();
    let store = with(&path, "leaf-skipped").await;
    for at in 1..=6 {
        store.append(entry(at, None)).await.unwrap();
    }
    assert!(verified(&store).await.is_sound());
    store.append(entry(7, None)).await.unwrap();
    assert!(!verified(&store).await.is_sound());
}

//! Copies of a journal, and what they leave out.

use super::*;
use crate::Store as _;
use crate::{Beside, Head, StoreError};
use std::fs;

async fn sound(store: &SqliteStore) -> Head {
    let report = store.verify(&mut |_| None).await.unwrap();
    assert!(report.is_sound(), "{report:?}");
    store.head().await.unwrap()
}

#[tokio::test]
async fn a_copy_holds_the_journal_and_what_stands_beside_it() {
    let (home, path) = folder();
    let store = filled(&path).await;
    store.put_setting("kept", "yes").await.unwrap();
    let to = home.path().join("copy.db");
    let head = store.copy_to(&to).await.unwrap();
    assert_eq!(head, store.head().await.unwrap());
    let copy = SqliteStore::open(&to).await.unwrap();
    assert_eq!(sound(&copy).await, head);
    assert_eq!(copy.setting("kept").await.unwrap().as_deref(), Some("yes"));
    assert_eq!(store.copy_to(&to).await, Err(StoreError::AlreadyExists { path: to.clone() }));
    let nowhere = home.path().join("no folder").join("copy.db");
    assert!(store.copy_to(&nowhere).await.is_err());
}

#[tokio::test]
async fn what_was_erased_is_in_no_page_of_a_copy() {
    let (home, path) = folder();
    let store = filled(&path).await;
    let job = store.jobs(None, 1).await.unwrap()[0].job_id;
    let customer = crate::Customer { name: "Customer Unmistakable".into(), telephone: String::new() };
    let find = |path: &Path| {
        let bytes = fs::read(path).unwrap();
        bytes.windows(12).any(|part| part == b"Unmistakable")
    };
    store.put_customer(job, &customer, 1).await.unwrap();
    let before = home.path().join("before.db");
    store.copy_to(&before).await.unwrap();
    assert!(find(&before));
    store.erase_customer(job, 2).await.unwrap();
    let after = home.path().join("after.db");
    store.copy_to(&after).await.unwrap();
    assert!(!find(&after));
}

/// Whether a file of the journal holds a text.
fn holds(path: &Path, suffix: &str, text: &str) -> bool {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    let bytes = fs::read(std::path::PathBuf::from(name)).unwrap();
    bytes.windows(text.len()).any(|part| part == text.as_bytes())
}

#[tokio::test]
async fn what_was_erased_is_in_no_file_of_a_journal_in_use() {
    let (_home, path) = folder();
    let store = filled(&path).await;
    let job = store.jobs(None, 1).await.unwrap()[0].job_id;
    let customer = crate::Customer { name: "Customer Unmistakable".into(), telephone: "0555 0199".into() };
    store.put_customer(job, &customer, 1).await.unwrap();
    store.put_person("Q", "technician Unmistakable", 1).await.unwrap();
    let anywhere = || ["", "-wal"].into_iter().any(|suffix| holds(&path, suffix, "nmistakable"));
    assert!(anywhere());
    store.erase_person("Q", 2).await.unwrap();
    store.erase_customer(job, 2).await.unwrap();
    assert!(!anywhere());
    store.close().await.unwrap();
}

#[tokio::test]
async fn what_was_erased_while_somebody_read_leaves_the_log_with_the_next_change() {
    let (_home, path) = folder();
    let store = filled(&path).await;
    let job = store.jobs(None, 1).await.unwrap()[0].job_id;
    let customer = crate::Customer { name: "Customer Unmistakable".into(), telephone: String::new() };
    store.put_customer(job, &customer, 1).await.unwrap();
    let mut reader = store.readers.begin().await.unwrap();
    sqlx::query("select count(*) from entry").fetch_one(&mut *reader).await.unwrap();
    store.erase_customer(job, 2).await.unwrap();
    assert_eq!(store.customer(job).await.unwrap(), None);
    assert!(holds(&path, "-wal", "nmistakable"));
    reader.rollback().await.unwrap();
    store.put_setting("next", "change").await.unwrap();
    store.put_setting("next", "one more").await.unwrap();
    assert!(!holds(&path, "", "nmistakable") && !holds(&path, "-wal", "nmistakable"));
    store.close().await.unwrap();
}

#[tokio::test]
async fn a_new_epoch_keeps_entries_and_root() {
    let (_home, path) = folder();
    let store = filled(&path).await;
    let before = store.head().await.unwrap();
    store.close().await.unwrap();
    SqliteStore::renew_epoch(&path, [9; 16]).await.unwrap();
    let store = SqliteStore::open(&path).await.unwrap();
    assert_eq!(sound(&store).await, Head { epoch: [9; 16], ..before });
}

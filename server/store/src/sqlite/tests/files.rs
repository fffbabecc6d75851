//! Files that must be refused, and files copied while the journal was being written.

use super::*;
use crate::StoreError;
use std::fs;

async fn refusal(path: &Path) -> StoreError {
    let for_reading = SqliteStore::open_for_reading(path).await.unwrap_err();
    let for_writing = SqliteStore::open(path).await.unwrap_err();
    assert_eq!(for_reading, for_writing);
    let sentence = for_writing.to_string();
    let says_what_to_do = sentence.contains([';', ':']);
    assert!(says_what_to_do && !sentence.contains('\n'), "{sentence}");
    for_writing
}

#[tokio::test]
async fn a_missing_file_is_never_replaced_by_an_empty_one() {
    let (folder, path) = folder();
    assert_eq!(refusal(&path).await, StoreError::Missing { path: path.clone() });
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    let elsewhere = folder.path().join("no folder").join("standpipe.db");
    assert_eq!(refusal(&elsewhere).await, StoreError::Missing { path: elsewhere.clone() });
}

#[tokio::test]
async fn what_is_no_sound_journal_is_refused_each_in_its_own_way() {
    let (folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    let sound = fs::read(&path).unwrap();
    let with = |change: &dyn Fn(&mut Vec<u8>)| {
        let mut bytes = sound.clone();
        change(&mut bytes);
        fs::write(&path, bytes).unwrap();
    };

    with(&|bytes| bytes.clear());
    assert_eq!(refusal(&path).await, StoreError::Truncated { path: path.clone(), bytes: 0, expected: 4_096 });
    with(&|bytes| bytes.truncate(50));
    assert_eq!(
        refusal(&path).await,
        StoreError::Truncated { path: path.clone(), bytes: 50, expected: 4_096 }
    );
    with(&|bytes| bytes.truncate(sound.len() - 4_096));
    let cut = StoreError::Truncated {
        path: path.clone(),
        bytes: sound.len() as u64 - 4_096,
        expected: sound.len() as u64,
    };
    assert_eq!(refusal(&path).await, cut);
    with(&|bytes| bytes.fill(0x2e));
    assert_eq!(refusal(&path).await, StoreError::NotADatabase { path: path.clone() });
    with(&|bytes| bytes[68..72].copy_from_slice(b"GPKG"));
    let foreign = StoreError::Foreign { path: path.clone(), application_id: u32::from_be_bytes(*b"GPKG") };
    assert_eq!(refusal(&path).await, foreign);
    with(&|bytes| bytes[63] = 200);
    let newer = StoreError::NewerSchema {
        path: path.clone(),
        found: 200,
        known: super::super::schema::SCHEMA_NUMBER,
    };
    assert_eq!(refusal(&path).await, newer);
    with(&|bytes| bytes[4_096..8_192].fill(0xff));
    assert!(SqliteStore::open(&path).await.is_err());
    assert_eq!(refusal(folder.path()).await, StoreError::NotADatabase { path: folder.path().into() });

    with(&|_| {});
    SqliteStore::open(&path).await.unwrap().close().await.unwrap();
}

#[tokio::test]
async fn a_file_or_folder_without_the_right_to_write_is_refused() {
    let (folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    for place in [path.as_path(), folder.path()] {
        let rights = fs::metadata(place).unwrap().permissions();
        let mut without = rights.clone();
        without.set_readonly(true);
        fs::set_permissions(place, without).unwrap();
        assert_eq!(refusal(&path).await, StoreError::ReadOnly { path: path.clone() });
        fs::set_permissions(place, rights).unwrap();
    }
    SqliteStore::open(&path).await.unwrap();
}

#[tokio::test]
async fn a_journal_is_never_overwritten_and_a_half_made_one_is_cleared_away() {
    let (folder, path) = folder();
    fs::write(folder.path().join("standpipe.db-new"), "left by a killed program").unwrap();
    filled(&path).await.close().await.unwrap();
    let again = SqliteStore::create(&path, "Mill Street", [0; 16]).await.unwrap_err();
    assert_eq!(again, StoreError::AlreadyExists { path: path.clone() });
    let names: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|file| file.unwrap().file_name()).collect();
    assert_eq!(names, ["standpipe.db"]);
    let head = SqliteStore::open(&path).await.unwrap().head().await.unwrap();
    assert_eq!((head.seq, head.site.as_str(), head.epoch), (14, SITE, EPOCH));
}

#[tokio::test]
async fn a_journal_opened_for_reading_takes_nothing_and_reads_all() {
    let (_folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    let store = SqliteStore::open_for_reading(&path).await.unwrap();
    assert_eq!(store.append(entry(15, None)).await, Err(StoreError::OpenedForReading));
    assert_eq!(store.read(1, 100).await.unwrap().len(), 14);
    assert_eq!(verified(&store).await.damage, []);
    store.close().await.unwrap();
}

#[tokio::test]
async fn an_older_schema_is_brought_up_to_date() {
    use crate::Beside;
    let (_folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    let mut foreign = foreign(&path).await;
    let older = "drop table setting; delete from _sqlx_migrations where version = 8; pragma user_version = 7";
    foreign.execute(older).await.unwrap();
    drop(foreign);
    let store = SqliteStore::open(&path).await.unwrap();
    store.put_setting("key", "value").await.unwrap();
    assert_eq!(verified(&store).await.damage, []);
    store.close().await.unwrap();
}

#[tokio::test]
async fn an_applied_migration_that_was_edited_is_refused() {
    let (_folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    let mut foreign = foreign(&path).await;
    foreign.execute("update _sqlx_migrations set checksum = x'00' where version = 3").await.unwrap();
    drop(foreign);
    assert!(matches!(SqliteStore::open(&path).await.unwrap_err(), StoreError::Damaged { .. }));
}

/// Copies what a crash would leave: the file and its log, without the index in shared memory.
fn copy_as_after_a_crash(path: &Path, into: &Path) {
    fs::create_dir(into).unwrap();
    // The log first would miss what a checkpoint moves in between, so the file goes first; no checkpoint runs here,
    // since the entries fill fewer pages than SQLite moves by itself.
    fs::copy(path, into.join("standpipe.db")).unwrap();
    fs::copy(path.with_extension("db-wal"), into.join("standpipe.db-wal")).unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_copy_taken_in_mid_stream_opens_and_holds_all_that_was_acknowledged() {
    let (folder, path) = folder();
    let store = Arc::new(SqliteStore::create(&path, SITE, EPOCH).await.unwrap());
    let writer = store.clone();
    let (progress, mut acknowledged) = tokio::sync::watch::channel(0);
    let writing = tokio::spawn(async move {
        for at in 1..=300 {
            let seq = writer.append(entry(at, None)).await.unwrap().seq;
            progress.send_replace(seq);
        }
    });
    let mut copies = Vec::new();
    while copies.len() < 6 {
        acknowledged.changed().await.unwrap();
        let at_least = *acknowledged.borrow_and_update();
        let into = folder.path().join(format!("copy-{}", copies.len()));
        copy_as_after_a_crash(&path, &into);
        copies.push((at_least, into));
    }
    writing.await.unwrap();
    let all = store.read(1, 1_000).await.unwrap();
    for (at_least, copy) in copies {
        let reopened = SqliteStore::open(&copy.join("standpipe.db")).await.unwrap();
        let head = reopened.head().await.unwrap();
        assert!(head.seq >= at_least, "{} of {at_least} acknowledged entries", head.seq);
        assert_eq!(reopened.read(1, 1_000).await.unwrap(), all[..head.seq as usize]);
        assert_eq!(verified(&reopened).await.damage, []);
        // It goes on where it stopped, and what it had is answered as before.
        assert!(reopened.append(entry(head.seq, None)).await.unwrap().repeated);
        let next = reopened.append(entry(head.seq + 1, None)).await.unwrap();
        assert_eq!((next.seq, next.repeated), (head.seq + 1, false));
    }
}

#[tokio::test]
async fn a_log_cut_at_any_place_leaves_a_prefix() {
    let (folder, path) = folder();
    let store = SqliteStore::create(&path, SITE, EPOCH).await.unwrap();
    for at in 1..=20 {
        store.append(entry(at, None)).await.unwrap();
    }
    let all = store.read(1, 100).await.unwrap();
    let log = fs::read(path.with_extension("db-wal")).unwrap();
    let base = fs::read(&path).unwrap();
    let mut sizes = std::collections::BTreeSet::new();
    for cut in (0..=log.len()).step_by(1_777) {
        let copy = folder.path().join(format!("cut-{cut}.db"));
        fs::write(&copy, &base).unwrap();
        fs::write(copy.with_extension("db-wal"), &log[..cut]).unwrap();
        let reopened = SqliteStore::open(&copy).await.unwrap();
        let head = reopened.head().await.unwrap();
        assert_eq!(reopened.read(1, 100).await.unwrap(), all[..head.seq as usize]);
        assert_eq!(verified(&reopened).await.damage, []);
        sizes.insert(head.seq);
    }
    assert!(sizes.len() > 10, "the cuts fell on different commits: {sizes:?}");
}

#[tokio::test]
async fn the_book_of_who_was_let_in_keeps_its_latest_lines() {
    use crate::{AUDIT_LINES_MAX, AuditBook as _, AuditLine};
    let (_folder, path) = folder();
    let store = SqliteStore::create(&path, SITE, EPOCH).await.unwrap();
    let line = |at_us| AuditLine { at_us, until_us: at_us, times: 1, ..AuditLine::default() };
    for at in 1..=4 {
        store.put_audit(line(at)).await.unwrap();
    }
    // As if all lines between had been written.
    let nearly = format!("update sqlite_sequence set seq = {AUDIT_LINES_MAX} + 1 where name = 'audit'");
    foreign(&path).await.execute(AssertSqlSafe(nearly)).await.unwrap();
    store.put_audit(line(5)).await.unwrap();
    assert_eq!(store.audit_since(0).await, Ok(vec![line(5), line(4), line(3)]));
}

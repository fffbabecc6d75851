//! Single flipped bits in a closed journal: noticed, or without any effect on what is read.

use super::*;
use crate::{StoredEntry, tree};
use proptest::test_runner::{Config, TestRunner};
use std::cell::Cell;
use std::fs;

#[derive(Debug, PartialEq, Eq)]
enum Outcome {
    Refused,
    Noticed,
    Harmless,
}

/// What the journal would serve: entries, and job numbers with the sequences of their entries.
async fn everything(store: &SqliteStore) -> Option<(Vec<StoredEntry>, Vec<crate::JobRow>)> {
    Some((store.read(1, 1_000).await.ok()?, store.jobs(None, 1_000).await.ok()?))
}

async fn outcome(path: &Path, sound: &(Vec<StoredEntry>, Vec<crate::JobRow>)) -> Outcome {
    let Ok(store) = SqliteStore::open_for_reading(path).await else { return Outcome::Refused };
    let report = store.verify(&mut |_| None).await;
    let served = everything(&store).await;
    store.close().await.unwrap();
    match report {
        Ok(report) if report.is_sound() => {
            assert_eq!(served.as_ref(), Some(sound), "a changed reading went unnoticed");
            assert_eq!((report.site.as_str(), report.epoch), (SITE, EPOCH));
            Outcome::Harmless
        }
        // Noticed; and even then nothing is served whose bytes are not what its leaf hash says.
        _ => {
            let entries = served.map(|(entries, _)| entries).unwrap_or_default();
            for entry in &entries {
                let leaf = tree::entry_leaf_hash(entry.seq, entry.received_us, &entry.bytes);
                assert_eq!(leaf, entry.leaf_hash);
            }
            Outcome::Noticed
        }
    }
}

#[test]
fn a_flipped_bit_is_noticed_or_without_effect() {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
    let (_folder, path) = folder();
    let sound = runtime.block_on(async {
        let store = filled(&path).await;
        for at in 15..=60 {
            store.append(entry(at, Some(job_id(at % 3)))).await.unwrap();
        }
        let sound = everything(&store).await.unwrap();
        store.close().await.unwrap();
        sound
    });
    let bytes = fs::read(&path).unwrap();
    let counts = [const { Cell::new(0_u32) }; 3];
    let config = Config { cases: 250, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new(config);
    let flips = runner.run(&(0..bytes.len(), 0..8_u8), |(at, bit)| {
        let mut flipped = bytes.clone();
        flipped[at] ^= 1 << bit;
        fs::write(&path, &flipped).unwrap();
        let outcome = runtime.block_on(outcome(&path, &sound));
        counts[outcome as usize].update(|count| count + 1);
        Ok(())
    });
    flips.unwrap();
    assert!(counts.iter().all(|count| count.get() > 0), "refused, noticed, harmless: {counts:?}");
}

#[tokio::test]
async fn a_flipped_bit_in_an_entry_names_its_job() {
    let (_folder, path) = folder();
    filled(&path).await.close().await.unwrap();
    let mut bytes = fs::read(&path).unwrap();
    let at = bytes.windows(14).position(|window| window == b"sealed entry 8").unwrap();
    bytes[at + 3] ^= 0x10;
    fs::write(&path, bytes).unwrap();
    let report = verified(&SqliteStore::open_for_reading(&path).await.unwrap()).await;
    let first = &report.damage[0];
    assert_eq!((first.seq, first.job.map(|(job, _)| job)), (Some(8), Some(job_id(2))));
    assert!(first.to_string().starts_with("entry 8, job 26-0002"), "{first}");
}

//! Valid entries with bytes changed at random: each is taken as the other entry that it has become, or refused for a
//! reason that the documentation knows. What was refused is not there; what was taken is there byte for byte.

use super::Target;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_proto::Bytes;
use standpipe_proto::v1::append_stream_response::Answer;
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use std::collections::{BTreeMap, BTreeSet};

const MUTATIONS: usize = 2_000;
/// What a changed entry may be refused for.
const REASONS: [&str; 7] = [
    "OUTSIDE_BOUNDS",
    "ENTRY_UNREADABLE",
    "JOB_UNKNOWN",
    "STATION_MISMATCH",
    "SITE_MISMATCH",
    "ENTRY_ID_REUSED",
    "KIND_NOT_PERMITTED",
];

fn mutated(bytes: &[u8], random: &mut ChaCha8Rng) -> Bytes {
    let mut bytes = bytes.to_vec();
    // Mostly one change, so that most of the entry is still what it was.
    for _ in 0..=random.next_u32() % 5 / 4 {
        let at = random.next_u32() as usize % bytes.len().max(1);
        let other = (random.next_u32() % 256) as u8;
        match random.next_u32() % 12 {
            _ if bytes.is_empty() => bytes.push(other),
            0..3 => bytes[at] = other,
            3..8 => bytes[at] ^= 1 << (other % 8),
            8 => bytes.insert(at, other),
            9 => drop(bytes.remove(at)),
            10 => bytes.truncate(at),
            _ => {
                let end = (at + other as usize % 16).min(bytes.len());
                bytes.extend_from_within(at..end);
            }
        }
    }
    bytes.into()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_entry_with_bytes_changed_at_random_is_taken_as_it_is_or_refused_and_leaves_nothing() {
    for seed in 1..=crate::faults::times() {
        mutations(seed).await;
    }
}

async fn mutations(seed: u64) {
    println!("seed {seed}");
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut target = Target::stand().await;
    let mut sealer = Sealer::new("bay-1", 2);
    let kinds = facts::whole_service();
    let sealed: Vec<Bytes> = (0..MUTATIONS)
        .map(|number| {
            let entry = sealer.seal_typed(
                &target.job,
                kinds[number % kinds.len()].clone(),
                &[("mass_kilograms", "3.05 kg")],
            );
            mutated(&entry.bytes, &mut random)
        })
        .collect();
    let before: BTreeSet<Vec<u8>> =
        target.stored().await.into_iter().map(|entry| entry.entry.to_vec()).collect();
    let answers = target.answers(&sealed).await;
    let mut counted: BTreeMap<String, usize> = BTreeMap::new();
    let mut taken = BTreeSet::new();
    for (bytes, answer) in sealed.iter().zip(answers) {
        match answer {
            Answer::Acknowledgement(_) => {
                taken.insert(bytes.to_vec());
                *counted.entry("taken".to_owned()).or_default() += 1;
            }
            Answer::Refusal(refusal) => {
                assert!(REASONS.contains(&refusal.reason.as_str()), "{refusal:?} for {bytes:?}");
                assert!(refusal.message.len() > 20 && !refusal.message.contains("\n"), "{refusal:?}");
                *counted.entry(refusal.reason).or_default() += 1;
            }
        }
    }
    println!("{counted:?}");
    for (outcome, least) in
        [("taken", 100), ("OUTSIDE_BOUNDS", 200), ("ENTRY_UNREADABLE", 200), ("JOB_UNKNOWN", 5)]
    {
        assert!(
            counted.get(outcome).is_some_and(|count| *count >= least),
            "'{outcome}' is hardly ever met: {counted:?}"
        );
    }
    let stored: BTreeSet<Vec<u8>> =
        target.stored().await.into_iter().map(|entry| entry.entry.to_vec()).collect();
    let own: BTreeSet<Vec<u8>> = stored.difference(&before).cloned().collect();
    assert_eq!(own, taken, "exactly what was taken is kept, byte for byte");
    target.stands().await;
}

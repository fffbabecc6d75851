//! Batches that somebody between the two, or a broken server, did something to.

use super::*;
use crate::forwarding::{Sites, keeping};
use proptest::prelude::*;

/// One thing that somebody between the two, or a broken server, may do to a batch.
#[derive(Debug, Clone)]
enum Wrong {
    Flipped { entry: usize, byte: usize, bit: u8 },
    Cut { entry: usize, to: usize },
    Swapped(usize, usize),
    Dropped(usize),
    Doubled(usize),
    OtherSite,
    OtherEpoch,
    Root { after: bool, byte: usize },
    Moved(i64),
    Time { entry: usize, us: i64 },
    Numbered { entry: usize, year: i32, ordinal: i32 },
    Padded { entry: usize, bytes: usize },
}

fn wrong() -> impl Strategy<Value = Wrong> {
    let entry = 0_usize..12;
    prop_oneof![
        (entry.clone(), any::<usize>(), 0_u8..8).prop_map(|(entry, byte, bit)| Wrong::Flipped {
            entry,
            byte,
            bit
        }),
        (entry.clone(), any::<usize>()).prop_map(|(entry, to)| Wrong::Cut { entry, to }),
        (entry.clone(), entry.clone()).prop_map(|(one, other)| Wrong::Swapped(one, other)),
        entry.clone().prop_map(Wrong::Dropped),
        entry.clone().prop_map(Wrong::Doubled),
        Just(Wrong::OtherSite),
        Just(Wrong::OtherEpoch),
        (any::<bool>(), 0_usize..32).prop_map(|(after, byte)| Wrong::Root { after, byte }),
        (-20_i64..20).prop_map(Wrong::Moved),
        (entry.clone(), -5_i64..5).prop_map(|(entry, us)| Wrong::Time { entry, us }),
        (entry.clone(), 1999_i32..2030, -1_i32..9).prop_map(|(entry, year, ordinal)| Wrong::Numbered {
            entry,
            year,
            ordinal
        }),
        (entry, 1_usize..2_000_000).prop_map(|(entry, bytes)| Wrong::Padded { entry, bytes }),
    ]
}

fn spoil(request: &mut ForwardEntriesRequest, wrong: &Wrong) {
    let count = request.entries.len().max(1);
    let change = |request: &mut ForwardEntriesRequest, entry: usize, change: &dyn Fn(&mut Vec<u8>)| {
        if let Some(one) = request.entries.get_mut(entry % count) {
            let mut bytes = one.entry.to_vec();
            change(&mut bytes);
            one.entry = bytes.into();
        }
    };
    match wrong {
        Wrong::Flipped { entry, byte, bit } => change(request, *entry, &|bytes| {
            let at = byte % bytes.len().max(1);
            bytes.get_mut(at).into_iter().for_each(|byte| *byte ^= 1 << bit);
        }),
        Wrong::Cut { entry, to } => change(request, *entry, &|bytes| bytes.truncate(to % bytes.len().max(1))),
        Wrong::Swapped(one, other) if !request.entries.is_empty() => {
            request.entries.swap(one % count, other % count)
        }
        Wrong::Dropped(entry) if !request.entries.is_empty() => drop(request.entries.remove(entry % count)),
        Wrong::Doubled(entry) if !request.entries.is_empty() => {
            let again = request.entries[entry % count].clone();
            request.entries.insert(entry % count, again);
        }
        Wrong::Swapped(..) | Wrong::Dropped(_) | Wrong::Doubled(_) => {}
        Wrong::OtherSite => request.site_id = "quarry-road".into(),
        Wrong::OtherEpoch => request.epoch = vec![9; 16],
        Wrong::Root { after, byte } => {
            let root = if *after { &mut request.root_after } else { &mut request.root_before };
            root.get_mut(*byte).into_iter().for_each(|byte| *byte ^= 1);
        }
        Wrong::Moved(by) => request.first_seq += by,
        Wrong::Time { entry, us } => {
            let one = request.entries.get_mut(entry % count);
            one.and_then(|one| one.received_time.as_mut()).into_iter().for_each(|time| {
                time.nanos += i32::try_from(*us * 1_000).unwrap();
            });
        }
        Wrong::Numbered { entry, year, ordinal } => {
            request.entries.get_mut(entry % count).into_iter().for_each(|one| {
                (one.job_year, one.job_ordinal) = (*year, *ordinal);
            });
        }
        Wrong::Padded { entry, bytes: more } => {
            change(request, *entry, &|bytes| bytes.extend(std::iter::repeat_n(0, *more)));
        }
    }
}

pub(super) fn mill() -> crate::access::Who {
    crate::access::Who {
        station_id: "mill".into(),
        name: "mill".into(),
        role: Role::Forwarder,
        kinds: Vec::new(),
        created_us: START_US,
        token: [0; 32],
        token_created_us: START_US,
        token_ends_us: None,
        taken_back_before: 0,
    }
}

/// Brings a spoiled batch and looks that it was refused by a sentence, or is what the journal of the site says.
async fn bring_spoiled(
    sites: &Arc<Sites>,
    source: &Source,
    request: ForwardEntriesRequest,
) -> Result<(), TestCaseError> {
    let held = sites.open(SITE).await.unwrap();
    let before = held.store.head().await.unwrap();
    let answer = keeping::forward(sites, &mill(), request).await;
    let after = held.store.head().await.unwrap();
    match answer {
        Err(cause) => {
            prop_assert_eq!(&after, &before, "refused, but something was kept");
            prop_assert!(cause.to_string().len() > 20 && cause.row().0 != Code::Internal, "{}", cause);
        }
        Ok(answer) => {
            prop_assert_eq!(after.root, source.root(after.seq).await, "something else was taken");
            prop_assert_eq!(answer.there.unwrap().root, after.root.to_vec());
            let epoch = after.epoch == EPOCH || (after.epoch == [9; 16] && after.seq >= before.seq);
            prop_assert!(epoch);
        }
    }
    Ok(())
}

#[test]
fn whatever_is_done_to_a_batch_nothing_but_the_journal_of_the_site_is_kept() {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    let (owner, workshop, source) = runtime.block_on(async {
        let owner = Owner::found().await;
        let mut source = Source::new();
        source.grow(60).await;
        let workshop = owner.workshop().await;
        (owner, workshop, source)
    });
    let sites = workshop.sites.as_ref().unwrap();
    runtime.block_on(async {
        keeping::compare(sites, &mill(), source.compare(0).await).await.unwrap();
        keeping::forward(sites, &mill(), source.batch(1, 20).await).await.unwrap();
    });
    let strategy = (1_u64..40, 0_usize..12, proptest::collection::vec(wrong(), 1..3));
    proptest!(ProptestConfig::with_cases(400), |((first, count, wrongs) in strategy)| {
        runtime.block_on(async {
            let mut request = source.batch(first, count).await;
            for wrong in &wrongs {
                spoil(&mut request, wrong);
            }
            bring_spoiled(sites, &source, request).await
        })?;
    });
    // After all of it the journal goes on as if nothing had been.
    runtime.block_on(async {
        let held = sites.open(SITE).await.unwrap();
        let head = held.store.head().await.unwrap();
        let mut source = source;
        source.epoch = head.epoch;
        let rest = keeping::forward(sites, &mill(), source.batch(head.seq + 1, 100).await).await.unwrap();
        assert_eq!(rest.there.unwrap().size, 60);
        assert_eq!(held.store.head().await.unwrap().root, source.root(60).await);
    });
    drop(owner);
}

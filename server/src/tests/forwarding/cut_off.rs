//! Calls that nobody waits for to their end: a link that is cut, a deadline that is over.

use super::spoiled::mill;
use super::*;
use crate::forwarding::{Sites, intake, keeping};

/// A journal with two entries that cannot be read, and with a revision that is adopted and did not come.
async fn odd() -> Source {
    let mut source = Source::new();
    source.grow(4).await;
    source.append(901, None, false, b"\xff\xffno message at all".to_vec()).await;
    source.grow(2).await;
    let revision_id = "a".repeat(64);
    source.state(None, Kind::CatalogueAdopted(CatalogueAdopted { revision_id })).await;
    source.append(902, None, false, b"\xff\xffnor this one".to_vec()).await;
    source.grow(3).await;
    source
}

/// What is read of the copy holds all that the copy holds.
async fn is_whole(sites: &Sites, source: &Source) {
    let held = sites.open(SITE).await.unwrap();
    let head = held.store.head().await.unwrap();
    assert_eq!((head.seq, head.root), (source.size().await, source.root(12).await));
    let state = sites.states().await.unwrap().remove(0);
    assert_eq!(state.kept, 12);
    assert_eq!((state.left_out.count, state.left_out.first.as_slice()), (2, &[5, 9][..]));
    assert_eq!(held.workshop.missing_revisions().as_slice(), ["a".repeat(64)]);
}

#[tokio::test]
async fn what_a_store_wrote_and_nobody_noted_is_seen_at_the_next_look() {
    let (owner, source) = (Owner::found().await, odd().await);
    let workshop = owner.workshop().await;
    let sites = workshop.sites.as_ref().unwrap();
    keeping::compare(sites, &mill(), source.compare(0).await).await.unwrap();
    let batch = intake::read(source.batch(1, 99).await).unwrap().batch;
    sites.open(SITE).await.unwrap().store.replicate(batch).await.unwrap();
    assert_eq!(sites.states().await.unwrap()[0].kept, 0, "it was written behind the back of the shelf");
    keeping::compare(sites, &mill(), source.compare(0).await).await.unwrap();
    is_whole(sites, &source).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_call_that_is_cut_off_anywhere_leaves_nothing_half_done() {
    let (owner, source) = (Owner::found().await, odd().await);
    let workshop = owner.workshop().await;
    let sites = workshop.sites.as_ref().unwrap();
    keeping::compare(sites, &mill(), source.compare(0).await).await.unwrap();
    let who = mill();
    for turns in 0..60 {
        let first_seq = sites.open(SITE).await.unwrap().store.head().await.unwrap().seq + 1;
        let request = source.batch(first_seq.min(12), 1 + turns % 3).await;
        tokio::select! {
            biased;
            _ = keeping::forward(sites, &who, request) => {}
            () = async { for _ in 0..turns { tokio::task::yield_now().await } } => {}
        }
    }
    let compared = keeping::compare(sites, &mill(), source.compare(0).await).await.unwrap();
    let from = compared.there.unwrap().size.unsigned_abs() + 1;
    keeping::forward(sites, &mill(), source.batch(from, 99).await).await.unwrap();
    is_whole(sites, &source).await;
}

#[tokio::test]
async fn a_copy_whose_store_stopped_is_opened_again_as_soon_as_nobody_holds_it() {
    let (owner, source) = (Owner::found().await, odd().await);
    let workshop = owner.workshop().await;
    let sites = workshop.sites.as_ref().unwrap();
    keeping::compare(sites, &mill(), source.compare(0).await).await.unwrap();
    let held = sites.open(SITE).await.unwrap();
    held.store.close().await.unwrap();
    let busy = sites.open(SITE).await.err().unwrap();
    assert_eq!(busy.row().0, Code::Unavailable, "{busy}");
    drop(held);
    keeping::forward(sites, &mill(), source.batch(1, 99).await).await.unwrap();
    is_whole(sites, &source).await;
}

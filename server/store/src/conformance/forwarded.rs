//! What is promised of those who forward: forks and whose journal a station brings.

use super::{Maker, fresh, reopened};
use crate::{Beside as _, FORKS_OF_SITE_MAX, Fork, ForkBook as _, Station, StoreError};

pub(super) async fn run<M: Maker>(maker: &M) {
    a_fork_that_is_seen_again_is_the_same(maker).await;
    a_settled_fork_stays_and_stands_anew_when_it_is_seen_again(maker).await;
    forks_of_a_site_are_bounded(maker).await;
    a_station_brings_the_journal_that_was_said_first(maker).await;
}

fn fork(site: &str, at_us: i64, size: u64) -> Fork {
    Fork {
        site: site.into(),
        first_us: at_us,
        last_us: at_us,
        station: "link-1".into(),
        here: (30, [1; 32]),
        claimed: ([2; 16], size, [3; 32]),
        settled_us: None,
    }
}

async fn a_fork_that_is_seen_again_is_the_same<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    assert_eq!(store.forks().await, Ok(vec![]));
    let first = fork("mill-street", 5, 12);
    store.note_fork(first.clone()).await.expect("note");
    let later = Fork { station: "link-2".into(), here: (31, [9; 32]), ..fork("mill-street", 9, 12) };
    store.note_fork(later).await.expect("note");
    store.note_fork(fork("mill-street", 7, 12)).await.expect("an earlier look that came late");
    store.note_fork(fork("quarry-road", 6, 12)).await.expect("note");
    store.note_fork(fork("mill-street", 8, 13)).await.expect("note");
    let store = reopened(maker, store).await;
    let expected = [Fork { last_us: 9, ..first }, fork("mill-street", 8, 13), fork("quarry-road", 6, 12)];
    assert_eq!(store.forks().await.expect("forks"), expected, "the latest seen comes first");
}

async fn a_settled_fork_stays_and_stands_anew_when_it_is_seen_again<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    store.note_fork(fork("mill-street", 5, 12)).await.expect("note");
    store.note_fork(fork("mill-street", 9, 13)).await.expect("note");
    store.note_fork(fork("quarry-road", 6, 12)).await.expect("note");
    store.settle_forks("mill-street", 9, 20).await.expect("settle what was not seen since");
    store.settle_forks("mill-street", 9, 25).await.expect("settle again");
    store.settle_forks("nowhere", 30, 25).await.expect("nothing to settle");
    let settled = Fork { settled_us: Some(20), ..fork("mill-street", 5, 12) };
    let expected = [fork("mill-street", 9, 13), fork("quarry-road", 6, 12), settled];
    let store = reopened(maker, store).await;
    assert_eq!(store.forks().await.expect("forks"), expected);
    let anew = Fork { here: (44, [8; 32]), ..fork("mill-street", 30, 12) };
    store.note_fork(anew.clone()).await.expect("note");
    store.note_fork(fork("mill-street", 32, 12)).await.expect("note");
    let anew = Fork { last_us: 32, ..anew };
    let expected = [anew, fork("mill-street", 9, 13), fork("quarry-road", 6, 12)];
    assert_eq!(reopened(maker, store).await.forks().await.expect("forks"), expected);
}

async fn forks_of_a_site_are_bounded<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    store.note_fork(fork("quarry-road", 1, 1)).await.expect("note");
    let most = FORKS_OF_SITE_MAX as u64;
    for at in 1..=most + 20 {
        store.note_fork(fork("mill-street", at.cast_signed(), at)).await.expect("note");
    }
    let forks = store.forks().await.expect("forks");
    let sizes: Vec<u64> =
        forks.iter().filter(|fork| fork.site == "mill-street").map(|fork| fork.claimed.1).collect();
    assert_eq!(sizes, (21..=most + 20).rev().collect::<Vec<_>>());
    assert_eq!(forks.len() as u64, most + 1, "those of another site stay");
}

async fn a_station_brings_the_journal_that_was_said_first<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let unknown = store.put_station_site("link-1", "mill-street").await;
    assert_eq!(unknown, Err(StoreError::StationUnknown { id: "link-1".into() }));
    for id in ["link-1", "link-2"] {
        let (id, name, role) = (id.to_owned(), id.to_owned(), "forwarder".to_owned());
        store.add_station(Station { id, name, role, created_us: 5, revoked_us: None }).await.expect("add");
    }
    store.put_station_site("link-1", "mill-street").await.expect("put");
    store.put_station_site("link-1", "quarry-road").await.expect("put");
    store.put_station_site("link-2", "mill-street").await.expect("put");
    let sites = reopened(maker, store).await.station_sites().await.expect("sites");
    let expected = [("link-1", "mill-street"), ("link-2", "mill-street")];
    assert_eq!(sites, expected.map(|(station, site)| (station.to_owned(), site.to_owned())).into());
}

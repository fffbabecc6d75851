//! Copies in the owner's database: where the owner's own journal lies, those of the workshops do too.

use super::workshops::{Bay, Place, code_for, fill, join, stop, until};
use standpipe_server::{Destination, Done, JOURNAL_FILE, Order, RunningServer, move_site, order, verify};
use standpipe_store::{Journal as _, PostgresStore};
use standpipe_tests::postgres::{self, Database};
use std::net::SocketAddr;
use std::path::Path;

/// An owner's server whose journal lies in a new database.
async fn owner_in(database: &Database) -> (Place, String) {
    let (owner, address) = (Place::owner().await, database.create());
    let to = Destination::Database(address.parse().unwrap());
    move_site(&owner.dir(), Some(to), &|_| {}).await.unwrap();
    (owner, address)
}

async fn root(dir: &Path) -> (u64, [u8; 32]) {
    let verified = verify(dir).await.unwrap();
    assert!(verified.is_sound(), "{}: {verified:?}", dir.display());
    (verified.report.entries, verified.report.root)
}

/// Lets a site join once more, where the owner's server listens elsewhere now.
async fn join_again(owner: &Place, shop: &Place, address: SocketAddr) {
    let invite = Order::OpenCode { name: shop.site.clone() };
    let Done::Invited { code, .. } = order(&owner.dir(), invite).await.unwrap() else {
        panic!("no code came of it")
    };
    order(&shop.dir(), Order::LeaveOwner).await.unwrap();
    order(&shop.dir(), Order::JoinOwner { host: address.to_string(), code }).await.unwrap();
}

/// Waits until the owner's server has everything.
async fn level(shop: &RunningServer, entries: u64) {
    until(shop, |at| at.kept == entries && at.entries == entries).await;
}

#[tokio::test]
async fn forwarding_puts_copies_where_the_owners_own_journal_lies() {
    let Some(database) = postgres::database() else { return };
    let (owner, address) = owner_in(&database).await;
    let (mill, tarn) = (Place::workshop("mill-street").await, Place::workshop("tarn-road").await);
    let (mut bay, mut other) = (Bay::new(1), Bay::new(2));
    fill(&mill.dir(), &mut bay, 1_500).await;
    fill(&tarn.dir(), &mut other, 30).await;
    let own = root(&mill.dir()).await.0;
    let (serving, at_mill, at_tarn) = (owner.serve().await, mill.serve().await, tarn.serve().await);
    join(&owner, &mill, serving.addr).await;
    join(&owner, &tarn, serving.addr).await;
    level(&at_mill, own).await;
    until(&at_tarn, |at| at.kept > 30 && at.kept == at.entries).await;
    stop(serving).await;
    stop(at_mill).await;
    stop(at_tarn).await;
    for place in [&mill, &tarn] {
        let copy = owner.copy_of(&place.site);
        assert!(!copy.join(JOURNAL_FILE).exists(), "no file beside the database");
        assert_eq!(root(&copy).await, root(&place.dir()).await);
    }
    let sites = database.psql(&address, "select site from site order by site");
    assert!(
        sites.contains("mill-street") && sites.contains("owner") && sites.contains("tarn-road"),
        "{sites}"
    );
    // The owner's folder of copies is lost; what is in the database is found again when the site calls.
    std::fs::remove_dir_all(owner.copy_of("mill-street")).unwrap();
    fill(&mill.dir(), &mut bay, 10).await;
    let (serving, at_mill) = (owner.serve().await, mill.serve().await);
    // It listens on another port now.
    join_again(&owner, &mill, serving.addr).await;
    level(&at_mill, own + 10).await;
    stop(serving).await;
    stop(at_mill).await;
    assert_eq!(root(&owner.copy_of("mill-street")).await, root(&mill.dir()).await);
}

#[tokio::test]
async fn forwarding_never_takes_a_workshops_own_journal_for_a_copy() {
    let Some(database) = postgres::database() else { return };
    let (owner, address) = owner_in(&database).await;
    let mill = Place::workshop("mill-street").await;
    fill(&mill.dir(), &mut Bay::new(1), 20).await;
    // The workshop keeps its journal in the same database as its owner.
    let to = Destination::Database(address.parse().unwrap());
    move_site(&mill.dir(), Some(to), &|_| {}).await.unwrap();
    let before = root(&mill.dir()).await;
    let (serving, at_mill) = (owner.serve().await, mill.serve().await);
    let code = code_for(&owner, &mill.site).await;
    let joining = Order::JoinOwner { host: serving.addr.to_string(), code };
    let told = order(&mill.dir(), joining).await.unwrap_err().to_string();
    assert!(told.contains("holds one of that name that is no copy"), "{told}");
    stop(serving).await;
    stop(at_mill).await;
    assert!(!owner.copy_of("mill-street").exists(), "nothing is left of what was not made");
    assert_eq!(root(&mill.dir()).await, before);
}

#[tokio::test]
async fn forwarding_goes_on_with_a_copy_whose_making_in_the_database_was_cut_off() {
    let Some(database) = postgres::database() else { return };
    let (owner, address) = owner_in(&database).await;
    let mill = Place::workshop("mill-street").await;
    fill(&mill.dir(), &mut Bay::new(1), 20).await;
    // As a server leaves it that is killed before the copy says that it is one.
    let begun = PostgresStore::create(&address.parse().unwrap(), &mill.site, [7; 16]).await.unwrap();
    begun.close().await.unwrap();
    let (serving, at_mill) = (owner.serve().await, mill.serve().await);
    join(&owner, &mill, serving.addr).await;
    until(&at_mill, |at| at.kept > 20 && at.kept == at.entries).await;
    stop(serving).await;
    stop(at_mill).await;
    assert_eq!(root(&owner.copy_of("mill-street")).await, root(&mill.dir()).await);
}

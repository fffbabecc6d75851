//! Copies of a site that are older, or went on differently: named on both sides, and nothing is written over.

use super::workshops::{Bay, Place, enrol_bay, fill, image, join, serve, state, stop, told, until};
use standpipe_server::config::Mode;
use standpipe_server::{
    AtOwner, Course, Order, RunningServer, SystemClock, SystemEntropy, doctor, order, restore,
};
use standpipe_tests::proxy::Proxy;
use std::path::Path;
use std::sync::Arc;

/// What doctor says of a thing.
async fn check(dir: &Path, about: &str) -> standpipe_server::Check {
    let checks = doctor(dir, &SystemClock).await.unwrap();
    checks.into_iter().find(|check| check.about == about).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_of_a_site_from_an_older_backup_is_behind_and_a_fork_after_its_own_entries() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    let token = enrol_bay(&shop.dir()).await;
    let mut bay = Bay::new(1);
    let owner = owner_place.serve().await;
    let server = shop.serve().await;
    server.bring_to(&owner).await.unwrap();
    state(&server, &token, &mut bay, 30).await;
    order(&shop.dir(), Order::BackUp { to: shop.with("backup") }).await.unwrap();
    let mut own_way = Bay::new(2);
    state(&server, &token, &mut bay, 20).await;
    let kept = server.level_with_owner().await.unwrap();
    stop(server).await;
    let whole = told(&shop.dir()).await;

    restore(&shop.with("backup"), &shop.with("again"), &SystemEntropy).await.unwrap();
    let server = serve(&shop.with("again"), Mode::Workshop, Arc::new(SystemClock)).await;
    let behind = until(&server, |at| at.course == Course::Behind).await;
    assert!(behind.trouble.contains(&format!("has {kept} entries")), "{}", behind.trouble);
    let next = check(&shop.with("again"), "owner").await.next.unwrap();
    assert!(next.contains("recover --from-owner"), "{next}");
    // With its own entries it is a fork, which is seen at once and without anybody's asking.
    state(&server, &token, &mut own_way, 7).await;
    let fork = until(&server, |at| at.course == Course::Fork).await;
    assert!(fork.trouble.contains("went on differently"), "{}", fork.trouble);
    assert!(check(&shop.with("again"), "owner").await.next.unwrap().contains("which of the two copies"));
    let at_owner = doctor(&owner_place.dir(), &SystemClock).await.unwrap();
    let named = |check: &standpipe_server::Check| {
        check.sentence.contains("harbour-lane")
            && check.sentence.contains("differently")
            && check.next.is_some()
    };
    assert!(at_owner.iter().any(named), "{at_owner:?}");
    stop(server).await;
    stop(owner).await;
    assert_eq!(told(&owner_place.copy_of("harbour-lane")).await, whole, "nothing was written over");
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_of_a_cloned_disk_refuses_whichever_comes_second() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    let token = enrol_bay(&shop.dir()).await;
    let owner = owner_place.serve().await;
    let server = shop.serve().await;
    server.bring_to(&owner).await.unwrap();
    stop(server).await;
    image(&shop.dir(), &shop.with("clone"));

    let first = shop.serve().await;
    state(&first, &token, &mut Bay::new(1), 12).await;
    first.level_with_owner().await.unwrap();
    let second = serve(&shop.with("clone"), Mode::Workshop, Arc::new(SystemClock)).await;
    state(&second, &token, &mut Bay::new(2), 25).await;
    let refused = until(&second, |at| at.course == Course::Fork).await;
    assert!(refused.trouble.contains("nothing is taken"), "{}", refused.trouble);
    // The first one goes on as if there were no other.
    state(&first, &token, &mut Bay::new(3), 5).await;
    first.level_with_owner().await.unwrap();
    second.look_at_owner();
    until(&second, |at| at.course == Course::Fork && at.heard_us > refused.heard_us).await;
    stop(first).await;
    stop(second).await;
    stop(owner).await;
    assert_eq!(told(&owner_place.copy_of("harbour-lane")).await, told(&shop.dir()).await);
}

/// Breaks the link, and waits until the owner's server behind it has everything.
async fn level_again(server: &RunningServer, proxy: &Proxy) {
    let heard = server.at_owner().borrow().clone().unwrap().heard_us;
    proxy.cut();
    server.look_at_owner();
    let level = |at: &AtOwner| {
        if at.course == Course::Waiting {
            server.look_at_owner();
        }
        at.course == Course::Level && at.heard_us > heard
    };
    until(server, level).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_fills_an_owners_server_again_that_was_lost_or_put_back_from_an_older_copy() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    let mut bay = Bay::new(1);
    fill(&shop.dir(), &mut bay, 400).await;
    let owner = owner_place.serve().await;
    let server = shop.serve().await;
    let proxy = Proxy::to(owner.addr).await;
    join(&owner_place, &shop, proxy.address).await;
    server.level_with_owner().await.unwrap();
    stop(server).await;
    stop(owner).await;
    // What an administrator has of the owner's folder from an evening.
    image(&owner_place.dir(), &owner_place.with("evening"));
    fill(&shop.dir(), &mut bay, 300).await;
    let owner = owner_place.serve().await;
    proxy.lead_to(owner.addr);
    let server = shop.serve().await;
    let kept = server.level_with_owner().await.unwrap();
    assert_eq!(kept, told(&owner_place.copy_of("harbour-lane")).await.0);
    stop(owner).await;

    // The owner's disk is lost, and the evening's copy is served; the site sends what that lacks.
    let owner = serve(&owner_place.with("evening"), Mode::Owner, Arc::new(SystemClock)).await;
    proxy.lead_to(owner.addr);
    level_again(&server, &proxy).await;
    stop(owner).await;
    // One copy alone is lost: its folder is made anew.
    let sites = owner_place.with("evening").join("sites");
    std::fs::rename(sites.join("harbour-lane"), owner_place.with("lost")).unwrap();
    let owner = serve(&owner_place.with("evening"), Mode::Owner, Arc::new(SystemClock)).await;
    proxy.lead_to(owner.addr);
    level_again(&server, &proxy).await;
    stop(server).await;
    stop(owner).await;
    assert_eq!(told(&sites.join("harbour-lane")).await, told(&shop.dir()).await);
}

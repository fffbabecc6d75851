//! Two workshops that were founded under one identity: never mixed, and never called a fork of one another.

use super::workshops::{Bay, Place, fill, stop, told, until};
use standpipe_server::{
    Course, Done, Order, RecoverOptions, Recovered, ServerError, SystemClock, SystemEntropy, doctor, order,
    recover,
};
use std::path::Path;
use std::sync::Arc;

/// A code for a station that brings the journal of `corner`.
async fn invited(owner: &Place, name: &str) -> String {
    let invite = Order::AddForwarder { name: name.to_owned(), site: "corner".to_owned() };
    code_of(order(&owner.dir(), invite).await.unwrap())
}

async fn code_again(owner: &Place, name: &str) -> String {
    code_of(order(&owner.dir(), Order::OpenCode { name: name.to_owned() }).await.unwrap())
}

fn code_of(done: Done) -> String {
    let Done::Invited { code, .. } = done else { panic!("no code came of it: {done:?}") };
    code
}

async fn recovered(dir: &Path, code: (String, String), founded_anew: bool) -> Result<Recovered, ServerError> {
    let (clock, entropy) = (Arc::new(SystemClock), Arc::new(SystemEntropy));
    recover(dir, RecoverOptions { code: Some(code), founded_anew, clock, entropy }, &|_| {}).await
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_never_mixes_two_workshops_that_were_founded_under_one_identity() {
    let owner_place = Place::owner().await;
    let (first, second) = (Place::workshop("corner").await, Place::workshop("corner").await);
    fill(&first.dir(), &mut Bay::new(1), 60).await;
    fill(&second.dir(), &mut Bay::new(2), 90).await;
    let owner = owner_place.serve().await;
    let host = owner.addr.to_string();
    let join = async |shop: &Place, code: String| {
        order(&shop.dir(), Order::JoinOwner { host: host.clone(), code }).await
    };
    join(&first, invited(&owner_place, "first").await).await.unwrap();
    let server = first.serve().await;
    server.level_with_owner().await.unwrap();
    stop(server).await;
    let kept = told(&first.dir()).await;
    // The code that is printed for the second, and one for the station that the first is: it is not used up, so the first
    // is let in as before.
    let code = invited(&owner_place, "second").await;
    let anew = code_again(&owner_place, "first").await;
    for code in [&code, &anew] {
        let refused = join(&second, code.clone()).await.unwrap_err().to_string();
        assert!(refused.contains("site 'corner'") && refused.contains("is another workshop's"), "{refused}");
        assert!(refused.contains("Nothing was joined; the code is still good"), "{refused}");
    }
    assert!(!second.dir().join("owner-link").exists());
    let server = first.serve().await;
    server.level_with_owner().await.unwrap();
    stop(server).await;
    let checks = doctor(&owner_place.dir(), &SystemClock).await.unwrap();
    assert!(checks.iter().all(|check| !check.sentence.contains("differently")), "{checks:?}");
    assert!(
        checks.iter().any(|check| check.sentence.contains("corner may be brought by first, second")),
        "{checks:?}"
    );
    // Whoever takes the owner's entries all the same has to say that it is the same workshop; the code stays good for that.
    let own = told(&second.dir()).await;
    let refused =
        recovered(&second.dir(), (host.clone(), code.clone()), false).await.unwrap_err().to_string();
    assert!(refused.contains("is another workshop's") && refused.contains("--founded-anew"), "{refused}");
    assert!(!second.with("shop-recovered").exists());
    let made = recovered(&second.dir(), (host.clone(), code), true).await.unwrap();
    assert_eq!((made.from_owner, made.own), (kept.0, own.0));
    assert_eq!(told(&made.path).await.2.len(), kept.2.len() + own.2.len(), "all jobs of both");
    let nothing = recovered(&second.with("none"), (host, String::new()), true).await.unwrap_err().to_string();
    assert!(nothing.contains("--founded-anew") && nothing.contains("leave it out"), "{nothing}");
    stop(owner).await;
    assert_eq!(told(&owner_place.copy_of("corner")).await, kept);
}

#[tokio::test(flavor = "multi_thread")]
async fn two_workshops_that_joined_before_anything_was_brought_are_told_apart_by_the_first_batch() {
    let owner_place = Place::owner().await;
    let (first, second) = (Place::workshop("corner").await, Place::workshop("corner").await);
    fill(&second.dir(), &mut Bay::new(2), 30).await;
    let owner = owner_place.serve().await;
    for (shop, name) in [(&first, "first"), (&second, "second")] {
        let code = invited(&owner_place, name).await;
        order(&shop.dir(), Order::JoinOwner { host: owner.addr.to_string(), code }).await.unwrap();
    }
    let server = first.serve().await;
    server.level_with_owner().await.unwrap();
    stop(server).await;
    let kept = told(&first.dir()).await;
    let server = second.serve().await;
    let at = until(&server, |at| at.course == Course::Another).await;
    assert!(at.trouble.contains("is another workshop's") && at.kept == 0, "{at:?}");
    assert!(server.level_with_owner().await.unwrap_err().to_string().contains("is another workshop's"));
    let checks = doctor(&second.dir(), &SystemClock).await.unwrap();
    let check = checks.iter().find(|check| check.about == "owner").unwrap();
    assert!(check.next.as_ref().unwrap().contains("--founded-anew"), "{check:?}");
    stop(server).await;
    stop(owner).await;
    assert_eq!(told(&owner_place.copy_of("corner")).await, kept);
    let checks = doctor(&owner_place.dir(), &SystemClock).await.unwrap();
    assert!(checks.iter().all(|check| !check.sentence.contains("differently")), "{checks:?}");
}

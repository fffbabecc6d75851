//! A site made again from its owner's copy: without its disk, or beside a folder that is older or went on differently.

use super::workshops::{Bay, Place, code_for, enrol_bay, fill, image, serve, state, stop, told, until};
use standpipe_server::config::Mode;
use standpipe_server::{
    Course, Desk, Done, JOURNAL_FILE, Order, RecoverOptions, Recovered, ServerError, SystemClock,
    SystemEntropy, order, recover,
};
use standpipe_store::{Beside as _, EntryId, Journal as _, NewEntry, SqliteStore};
use standpipe_tests::proxy::{Budget, Proxy};
use standpipe_tests::sealed::START_US;
use standpipe_tests::site::catalogue;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A setting that stands in the journal's file of a folder that nobody has open.
async fn setting(dir: &Path, key: &str) -> Option<String> {
    let store = SqliteStore::open_for_reading(&dir.join(JOURNAL_FILE)).await.unwrap();
    let value = store.setting(key).await.unwrap();
    store.close().await.unwrap();
    value
}

async fn recovered(dir: &Path, code: Option<(String, String)>) -> Result<Recovered, ServerError> {
    let options = RecoverOptions {
        code,
        founded_anew: false,
        clock: Arc::new(SystemClock),
        entropy: Arc::new(SystemEntropy),
    };
    recover(dir, options, &|_| {}).await
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_brings_a_site_back_whose_disk_is_lost() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    let mut desk = Desk::open(&shop.dir()).await.unwrap();
    desk.import_catalogue(&catalogue()).await.unwrap();
    desk.add_person("A", Some("technician A")).await.unwrap();
    desk.close().await.unwrap();
    fill(&shop.dir(), &mut Bay::new(1), 2_300).await;
    let owner = owner_place.serve().await;
    let server = shop.serve().await;
    server.bring_to(&owner).await.unwrap();
    stop(server).await;
    let before = told(&shop.dir()).await;
    std::fs::rename(shop.dir(), shop.with("gone")).unwrap();

    let Done::Invited { code, .. } =
        order(&owner_place.dir(), Order::OpenCode { name: "harbour-lane".to_owned() }).await.unwrap()
    else {
        panic!("no code")
    };
    // The link breaks when a part of the entries came, and comes back once that was told.
    let proxy = Proxy::to(owner.addr).await;
    let options = RecoverOptions {
        code: Some((proxy.address.to_string(), code)),
        founded_anew: false,
        clock: Arc::new(SystemClock),
        entropy: Arc::new(SystemEntropy),
    };
    let (broken, again) = (AtomicBool::new(false), AtomicBool::new(false));
    let tell = |line: &str| {
        if line.contains("asked again") {
            again.store(true, Ordering::SeqCst);
            proxy.up();
        } else if line.contains("entries are here") && !broken.swap(true, Ordering::SeqCst) {
            proxy.down();
        }
    };
    let made = recover(&shop.dir(), options, &tell).await.unwrap();
    assert!(again.load(Ordering::SeqCst), "the link never broke");
    assert!(!shop.with(".shop-drawn").exists());
    assert_eq!((made.site.as_str(), made.from_owner, made.own), ("harbour-lane", before.0, 0));
    assert_eq!(told(&shop.dir()).await, before, "entries, root and the digest of each job");
    // Called as its people called it, whatever the catalogue says.
    let called = "Workshop harbour-lane";
    assert_eq!(setting(&shop.dir(), "site_name").await.as_deref(), Some(called));
    // It can be backed up, served and gone on with; whoever joined before joins again.
    let token = enrol_bay(&shop.dir()).await;
    let server = shop.serve().await;
    state(&server, &token, &mut Bay::new(2), 15).await;
    let kept = server.level_with_owner().await.unwrap();
    order(&shop.dir(), Order::BackUp { to: shop.with("backup") }).await.unwrap();
    stop(server).await;
    stop(owner).await;
    let after = told(&shop.dir()).await;
    assert_eq!(kept, after.0);
    assert!(kept > before.0 + 15);
    let copy = owner_place.copy_of("harbour-lane");
    assert_eq!(told(&copy).await, after);
    assert_eq!(setting(&copy, "site_name").await.as_deref(), Some(called), "at the owner's server as well");
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_brings_a_folder_that_went_on_differently_behind_the_owners_entries() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    let token = enrol_bay(&shop.dir()).await;
    let mut desk = Desk::open(&shop.dir()).await.unwrap();
    desk.add_person("B", Some("office B")).await.unwrap();
    desk.close().await.unwrap();
    let mut bay = Bay::new(1);
    fill(&shop.dir(), &mut bay, 120).await;
    let owner = owner_place.serve().await;
    let server = shop.serve().await;
    server.bring_to(&owner).await.unwrap();
    stop(server).await;
    image(&shop.dir(), &shop.with("older"));
    // The right one goes on, and its disk is lost; the older one goes on by itself for a while.
    fill(&shop.dir(), &mut bay, 80).await;
    let server = shop.serve().await;
    server.level_with_owner().await.unwrap();
    stop(server).await;
    let right = told(&shop.dir()).await;
    let mut own_way = Bay::new(7);
    fill(&shop.with("older"), &mut own_way, 40).await;
    let server = serve(&shop.with("older"), Mode::Workshop, Arc::new(SystemClock)).await;
    until(&server, |at| at.course == Course::Fork).await;
    assert!(matches!(recovered(&shop.with("older"), None).await, Err(ServerError::ServerRuns { .. })));
    stop(server).await;
    let older = told(&shop.with("older")).await;

    let made = recovered(&shop.with("older"), None).await.unwrap();
    assert_eq!((made.from_owner, made.own), (right.0, 40));
    assert_eq!(made.path, shop.with("older-recovered"));
    // Each copy opened jobs of its own: those of the folder come after the owner's, under new numbers.
    assert_eq!(made.renumbered.len(), 4);
    assert_eq!(told(&shop.with("older")).await, older, "nothing was changed in it");
    let now = told(&made.path).await;
    assert_eq!(now.0, right.0 + 40);
    for of_owner in &right.2 {
        assert!(
            now.2.contains(of_owner),
            "job {} has the number and digest that the owner knows",
            of_owner.0
        );
    }
    let again = recovered(&shop.with("older"), None).await;
    assert!(matches!(again, Err(ServerError::FolderTaken { .. })), "never over anything: {again:?}");

    // Tokens and names are there, and the owner gets what it lacked.
    let server = serve(&made.path, Mode::Workshop, Arc::new(SystemClock)).await;
    state(&server, &token, &mut own_way, 3).await;
    let kept = server.level_with_owner().await.unwrap();
    stop(server).await;
    stop(owner).await;
    let desk = Desk::open(&made.path).await.unwrap();
    assert!(desk.persons().await.unwrap().iter().any(|person| person.name.as_deref() == Some("office B")));
    desk.close().await.unwrap();
    let after = told(&made.path).await;
    assert_eq!((kept, after.0), (after.0, now.0 + 3));
    assert_eq!(told(&owner_place.copy_of("harbour-lane")).await, after);
    let checks = standpipe_server::doctor(&owner_place.dir(), &SystemClock).await.unwrap();
    // The other copy of the disk may call at any moment, so it stands for as long as that takes.
    let fork = checks.iter().find(|check| check.sentence.contains("differently")).unwrap();
    assert!(fork.sentence.contains("either this copy or another one of the same disk"), "{fork:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_takes_the_same_code_again_after_a_try_that_failed() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    fill(&shop.dir(), &mut Bay::new(1), 30).await;
    let owner = owner_place.serve().await;
    let server = shop.serve().await;
    server.bring_to(&owner).await.unwrap();
    stop(server).await;
    let before = told(&shop.dir()).await;
    let Done::Invited { code, .. } =
        order(&owner_place.dir(), Order::OpenCode { name: "harbour-lane".to_owned() }).await.unwrap()
    else {
        panic!("no code")
    };
    // The code is shown over a connection of its own; the one after it carries nothing.
    let proxy = Proxy::to(owner.addr).await;
    proxy.plan(vec![Budget::WHOLE]);
    proxy.narrow(Budget { there: 0, back: 0 });
    let named = Some((proxy.address.to_string(), code));
    let failed = recovered(&shop.with("new"), named.clone()).await;
    assert!(matches!(failed, Err(ServerError::OwnerAway { .. })), "{failed:?}");
    assert!(!shop.with("new").exists());
    let drawn = std::fs::metadata(shop.with(".new-drawn")).unwrap();
    assert_eq!(drawn.permissions().mode() & 0o777, 0o600);
    proxy.narrow(Budget::WHOLE);
    recovered(&shop.with("new"), named).await.unwrap();
    assert!(!shop.with(".new-drawn").exists());
    assert_eq!(told(&shop.with("new")).await, before);
    stop(owner).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_recovers_nothing_where_an_entry_has_other_bytes_in_the_folder() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    image(&shop.dir(), &shop.with("other"));
    fill(&shop.dir(), &mut Bay::new(1), 30).await;
    let owner = owner_place.serve().await;
    let server = shop.serve().await;
    server.bring_to(&owner).await.unwrap();
    stop(server).await;
    // The same identities with other words: a job of another vehicle, and the rest as it was.
    let link = std::fs::read(shop.dir().join(standpipe_server::OWNER_LINK_FILE)).unwrap();
    std::fs::write(shop.with("other").join(standpipe_server::OWNER_LINK_FILE), link).unwrap();
    let mut bay = Bay::new(1);
    let (sealed, ..) = bay.next();
    let store = SqliteStore::open(&shop.with("other").join(JOURNAL_FILE)).await.unwrap();
    let id = EntryId(uuid::Uuid::parse_str(&sealed.entry_id).unwrap().into_bytes());
    let new = NewEntry {
        entry_id: id,
        job: None,
        opens_job: false,
        station: "bay-1".to_owned(),
        station_epoch: [7; 16],
        station_number: 1,
        received_us: START_US,
        year: 2026,
        bytes: b"other".to_vec().into(),
    };
    store.append(new).await.unwrap();
    store.close().await.unwrap();
    let told = recovered(&shop.with("other"), None).await.unwrap_err().to_string();
    assert!(told.contains(&sealed.entry_id) && told.contains("with other bytes"), "{told}");
    assert!(!shop.with("other-recovered").exists());
    stop(owner).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_brings_nothing_back_where_there_is_nothing_and_says_why() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    let owner = owner_place.serve().await;
    let told = recovered(&shop.with("new"), None).await.unwrap_err().to_string();
    assert!(told.contains("station code NAME"), "{told}");
    let told = recovered(&shop.dir(), None).await.unwrap_err().to_string();
    assert!(told.contains("--from-owner HOST CODE"), "{told}");
    let code = code_for(&owner_place, "harbour-lane").await;
    let host = owner.addr.to_string();
    let told = recovered(&shop.with("new"), Some((host.clone(), code))).await.unwrap_err().to_string();
    assert!(told.contains("no entry of site 'harbour-lane'") && told.contains("restore"), "{told}");
    let told = recovered(&shop.with("new"), Some((host, "7KXW".to_owned()))).await.unwrap_err().to_string();
    assert!(told.contains("CODE") && told.contains("nothing was sent"), "{told}");
    // A link whose right was taken back says what to ask for.
    let server = shop.serve().await;
    order(&owner_place.dir(), Order::RevokeStation { name: "harbour-lane".to_owned() }).await.unwrap();
    let Done::Invited { code, .. } =
        order(&owner_place.dir(), Order::OpenCode { name: "harbour-lane".to_owned() }).await.unwrap()
    else {
        panic!("no code")
    };
    order(&shop.dir(), Order::JoinOwner { host: owner.addr.to_string(), code }).await.unwrap();
    server.level_with_owner().await.unwrap();
    stop(server).await;
    order(&owner_place.dir(), Order::RevokeStation { name: "harbour-lane".to_owned() }).await.unwrap();
    let told = recovered(&shop.dir(), None).await.unwrap_err().to_string();
    assert!(told.contains("--from-owner HOST CODE") && told.contains("station code NAME"), "{told}");
    assert!(!shop.with("shop-recovered").exists());
    stop(owner).await;
    assert!(!shop.with("new").exists() && !shop.with(".new-unfinished").exists(), "nothing is left");
}

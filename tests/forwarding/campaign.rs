//! Many workshops over links that break, an owner's server that is killed: nothing is lost, doubled or moved.

use super::workshops::{Bay, Place, enrol_bay, fill, join, serve, state, stop, told, until};
use standpipe_server::config::Mode;
use standpipe_server::{Course, RunningServer, SystemClock};
use standpipe_tests::clock::{DAY_US, Hand};
use standpipe_tests::process::Process;
use standpipe_tests::proxy::{Budget, Proxy};
use standpipe_tests::sealed::START_US;
use std::sync::Arc;

/// Sites, and entries of each.
fn size() -> (usize, u64) {
    match std::env::var("STANDPIPE_TEST_CAMPAIGN").as_deref() {
        Ok("full") => (16, 10_000),
        _ => (8, 500),
    }
}

/// Connections that joining makes: one to show the code, one to show the token.
const JOINING: usize = 2;

/// Numbers that look drawn and are the same in every run (xorshift, Marsaglia 2003).
struct Drawn(u64);

impl Drawn {
    fn below(&mut self, most: u64) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % most).unwrap()
    }
}

/// Lets the server try again as often as the link has budgets left; a pause is not waited for.
async fn flapped(server: &RunningServer, proxy: &Proxy) {
    let mut shown = server.at_owner();
    loop {
        let at = shown.borrow_and_update().clone();
        match at.map(|at| at.course) {
            Some(Course::Waiting) => server.look_at_owner(),
            Some(Course::Level) if proxy.left() == 0 => return,
            Some(Course::Level) => {
                // Level before the link broke so often: the next connection gets the next budget.
                proxy.cut();
                server.look_at_owner();
            }
            _ => {}
        }
        shown.changed().await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_over_links_that_break_loses_doubles_and_moves_nothing() {
    let (sites, entries) = size();
    let owner_place = Place::owner().await;
    let owner = owner_place.serve().await;
    let mut work = tokio::task::JoinSet::new();
    for number in 0..sites {
        let shop = Place::workshop(&format!("workshop-{number}")).await;
        fill(&shop.dir(), &mut Bay::new(number as u64 + 1), entries).await;
        let proxy = Proxy::to(owner.addr).await;
        let server = shop.serve().await;
        // Whatever is under way breaks: in the handshake, in a batch, before its answer came.
        let mut drawn = Drawn(0x5741_4e44 + number as u64);
        let budgets = (0..12).map(|_| match drawn.below(3) {
            0 => Budget { there: drawn.below(3_000), ..Budget::WHOLE },
            1 => Budget { there: 3_000 + drawn.below(40_000), ..Budget::WHOLE },
            _ => Budget { back: 2_500 + drawn.below(1_500), ..Budget::WHOLE },
        });
        proxy.plan([Budget::WHOLE; JOINING].into_iter().chain(budgets).collect());
        join(&owner_place, &shop, proxy.address).await;
        work.spawn(async move {
            flapped(&server, &proxy).await;
            let kept = server.level_with_owner().await.unwrap();
            assert!(proxy.counted().1 >= 12, "the link never broke");
            stop(server).await;
            (shop, kept)
        });
    }
    let shops = work.join_all().await;
    stop(owner).await;
    for (shop, kept) in shops {
        let here = told(&shop.dir()).await;
        assert_eq!(here.0, kept);
        assert_eq!(told(&owner_place.copy_of(&shop.site)).await, here, "{}", shop.site);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_goes_on_after_the_owners_server_is_killed_in_the_middle_of_a_batch() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    fill(&shop.dir(), &mut Bay::new(1), 8_000).await;
    let mut owner = Process::serve(&owner_place.dir());
    let server = shop.serve().await;
    let proxy = Proxy::to(owner.address).await;
    let breaking = [9_000, 25_000, 7_000, 14_000];
    let budgets = breaking.map(|there| Budget { there, ..Budget::WHOLE });
    proxy.plan([Budget::WHOLE; JOINING].into_iter().chain(budgets).collect());
    join(&owner_place, &shop, proxy.address).await;
    for broken in 1..=breaking.len() {
        // The link breaks within what is sent, and with it the server behind it.
        tokio::select! {
            () = proxy.broken((JOINING + broken) as u64) => {}
            _ = until(&server, |at| at.course == Course::Level) => panic!("everything got through"),
        }
        owner.kill();
        owner = Process::serve(&owner_place.dir());
        proxy.lead_to(owner.address);
        server.look_at_owner();
    }
    flapped(&server, &proxy).await;
    server.level_with_owner().await.unwrap();
    stop(server).await;
    assert_eq!(owner.terminate().0, Some(0));
    assert_eq!(told(&owner_place.copy_of("harbour-lane")).await, told(&shop.dir()).await);
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_gets_level_over_a_link_that_never_carries_a_whole_batch() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    fill(&shop.dir(), &mut Bay::new(1), 1_500).await;
    let owner = owner_place.serve().await;
    let proxy = Proxy::to(owner.addr).await;
    let server = shop.serve().await;
    proxy.plan([Budget::WHOLE; JOINING].into());
    // A handshake, a comparison and some entries: a sixth or so of a batch.
    proxy.narrow(Budget { there: 9_000, ..Budget::WHOLE });
    join(&owner_place, &shop, proxy.address).await;
    let mut shown = server.at_owner();
    loop {
        let at = shown.borrow_and_update().clone();
        match at.map(|at| at.course) {
            Some(Course::Waiting) => server.look_at_owner(),
            Some(Course::Level) => break,
            _ => {}
        }
        shown.changed().await.unwrap();
    }
    let broken = proxy.counted().1 - JOINING as u64;
    assert!((3..1_000).contains(&broken), "the link broke {broken} times");
    stop(server).await;
    stop(owner).await;
    assert_eq!(told(&owner_place.copy_of("harbour-lane")).await, told(&shop.dir()).await);
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_is_waited_for_only_where_there_is_an_owners_server_and_a_damaged_link_is_shown() {
    let shop = Place::workshop("harbour-lane").await;
    let server = shop.serve().await;
    let told = server.level_with_owner().await.unwrap_err().to_string();
    assert!(told.contains("no owner's server") && told.contains("join-owner"), "{told}");
    stop(server).await;
    std::fs::write(shop.dir().join(standpipe_server::OWNER_LINK_FILE), "address = ").unwrap();
    let server = shop.serve().await;
    let shown = until(&server, |at| at.course == Course::Waiting).await;
    assert!(shown.trouble.contains(standpipe_server::OWNER_LINK_FILE), "{}", shown.trouble);
    stop(server).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_waits_for_days_without_a_link_while_the_workshop_works() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    let token = enrol_bay(&shop.dir()).await;
    let clock = Hand::at(START_US);
    let owner = owner_place.serve().await;
    let proxy = Proxy::to(owner.addr).await;
    let server = serve(&shop.dir(), Mode::Workshop, clock.clone()).await;
    join(&owner_place, &shop, proxy.address).await;
    server.level_with_owner().await.unwrap();
    let before = until(&server, |at| at.course == Course::Level).await;
    proxy.down();
    proxy.broken(proxy.counted().0).await;
    let mut bay = Bay::new(1);
    for _ in 0..3 {
        clock.forward(DAY_US);
        state(&server, &token, &mut bay, 20).await;
        server.look_at_owner();
    }
    let away = until(&server, |at| at.course == Course::Waiting && at.waiting() >= 60).await;
    assert!(away.trouble.contains("does not answer"), "{}", away.trouble);
    assert_eq!((away.kept, away.level_us), (before.kept, Some(START_US)));
    proxy.up();
    server.look_at_owner();
    assert_eq!(server.level_with_owner().await.unwrap(), before.kept + 60);
    stop(server).await;
    stop(owner).await;
    assert_eq!(told(&owner_place.copy_of("harbour-lane")).await, told(&shop.dir()).await);
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_renews_its_token_by_itself_and_ends_at_once_with_the_server() {
    let (owner_place, shop) = (Place::owner().await, Place::workshop("harbour-lane").await);
    let clock = Hand::at(START_US);
    let owner = serve(&owner_place.dir(), Mode::Owner, clock.clone()).await;
    let server = serve(&shop.dir(), Mode::Workshop, Arc::new(SystemClock)).await;
    let link = || std::fs::read_to_string(shop.dir().join(standpipe_server::OWNER_LINK_FILE)).unwrap();
    server.bring_to(&owner).await.unwrap();
    let first = link();
    for _ in 0..4 {
        // A third of its life is over after 60 days of 180.
        clock.forward(70 * DAY_US);
        let heard = server.at_owner().borrow().clone().unwrap().heard_us;
        server.look_at_owner();
        until(&server, |at| at.course == Course::Level && at.heard_us > heard).await;
    }
    assert_ne!(link(), first, "280 days are more than a token's life");
    assert!(!link().contains("next_token"), "{}", link());
    // The far end answers nothing more, and nothing is waited for.
    let proxy = Proxy::to(owner.addr).await;
    proxy.down();
    stop(server).await;
    stop(owner).await;
}

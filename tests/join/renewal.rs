//! A token ends, is renewed without a gap, and whatever was begun with one that is gone ends too.

use super::{code, join, site, token, who};
use standpipe_proto::join::RENEWAL_DUE;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{DescribeRequest, ListStationsRequest, RenewTokenRequest, WatchRequest};
use standpipe_server::Order;
use standpipe_tests::clock::{DAY_US, Hand};
use standpipe_tests::facts;
use standpipe_tests::sealed::{START_US, Sealer};
use standpipe_tests::site::{Site, append, journal, shown};
use standpipe_tests::told::reason;
use std::net::SocketAddr;
use std::sync::Arc;
use tonic::{Code, Status, Streaming};

async fn renew(address: SocketAddr, old: &str, new: &str) -> Result<i64, Status> {
    let mut client = StationServiceClient::new(shown(address, old).await);
    let answer = client.renew_token(RenewTokenRequest { token: new.to_owned() }).await?.into_inner();
    Ok(answer.token_expire_time.unwrap().seconds)
}

/// Whether the server says that it is time to renew this token.
async fn is_due(address: SocketAddr, token: &str) -> bool {
    let mut client = StationServiceClient::new(shown(address, token).await);
    let answer = client.describe(DescribeRequest {}).await.unwrap();
    answer.metadata().contains_key(RENEWAL_DUE)
}

/// A watch of job 1 with a token, after its first state.
async fn watched(address: SocketAddr, token: &str) -> Streaming<standpipe_proto::v1::WatchResponse> {
    let mut client = JobServiceClient::new(shown(address, token).await);
    let request = WatchRequest { job: "1".into(), after_seq: 0 };
    let mut states = client.watch(request).await.unwrap().into_inner();
    states.message().await.unwrap().unwrap();
    states
}

/// A site that is served, with a job, and bay-2 joined with the token of a's.
async fn served() -> (Site, Arc<Hand>, standpipe_server::RunningServer) {
    let site = site().await;
    let mut desk = standpipe_server::Desk::open(&site.dir()).await.unwrap();
    desk.import_catalogue(&standpipe_tests::site::catalogue()).await.unwrap();
    desk.close().await.unwrap();
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let code = code(&site.dir(), "bay-2").await;
    join(server.addr, code.secret(), &token('a')).await.unwrap();
    let mut sealer = Sealer::new("bay-2", 1);
    let job = sealer.job(1);
    let mut bay = journal(server.addr, &token('a')).await;
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    (site, clock, server)
}

#[tokio::test]
async fn both_tokens_are_good_until_the_new_one_is_used() {
    let (_site, clock, server) = served().await;
    clock.forward(70 * DAY_US);
    let (old, new) = (token('a'), token('c'));
    let mut old_watch = watched(server.addr, &old).await;
    // One that was asked for before and never used is nobody's any more.
    renew(server.addr, &old, &token('b')).await.unwrap();
    let ends = renew(server.addr, &old, &new).await.unwrap();
    assert_eq!(ends, (START_US + 250 * DAY_US) / 1_000_000, "180 days from the renewal on");
    assert_eq!(reason(&who(server.addr, &token('b')).await.unwrap_err()), "TOKEN_NOT_GOOD");
    // The answer was lost: asked again, also later, it is the same, and nobody is locked out.
    clock.forward(DAY_US);
    assert_eq!(renew(server.addr, &old, &new).await.unwrap(), ends);
    assert_eq!(who(server.addr, &old).await.unwrap(), "bay-2");

    assert_eq!(who(server.addr, &new).await.unwrap(), "bay-2");
    assert_eq!(reason(&who(server.addr, &old).await.unwrap_err()), "TOKEN_NOT_GOOD");
    assert_eq!(old_watch.message().await.unwrap_err().code(), Code::Unauthenticated);
    // A stream of the new one goes on: the entry reaches it.
    let mut new_watch = watched(server.addr, &new).await;
    let mut sealer = Sealer::new("bay-2", 2);
    let job = Sealer::new("bay-2", 1).job(1);
    append(&mut journal(server.addr, &new).await, &sealer.seal(&job, facts::drained(3.0))).await.unwrap();
    assert!(new_watch.message().await.unwrap().is_some());
    assert_eq!(renew(server.addr, &new, &new).await.unwrap(), ends, "a token is no other than itself");
}

#[tokio::test]
async fn a_token_that_was_taken_back_renews_nothing() {
    let (site, clock, server) = served().await;
    clock.forward(70 * DAY_US);
    let old = token('a');
    renew(server.addr, &old, &token('b')).await.unwrap();
    let code = code(&site.dir(), "bay-2").await;
    join(server.addr, code.secret(), &token('c')).await.unwrap();
    // The first use of the new one ends those before.
    assert_eq!(who(server.addr, &token('c')).await.unwrap(), "bay-2");
    for gone in [&old, &token('b')] {
        assert_eq!(renew(server.addr, gone, &token('d')).await.unwrap_err().code(), Code::Unauthenticated);
    }
    let foreign = renew(server.addr, site.token("bay-1"), &token('c')).await.unwrap_err();
    assert_eq!(reason(&foreign), "OUTSIDE_BOUNDS", "a token belongs to one station");
    assert_eq!(who(server.addr, &token('c')).await.unwrap(), "bay-2");
}

#[tokio::test]
async fn the_machine_before_may_renew_and_the_one_that_joined_comes_in_all_the_same() {
    let (site, clock, server) = served().await;
    clock.forward(70 * DAY_US);
    let code = code(&site.dir(), "bay-2").await;
    join(server.addr, code.secret(), &token('c')).await.unwrap();
    renew(server.addr, &token('a'), &token('b')).await.unwrap();
    assert_eq!(who(server.addr, &token('b')).await.unwrap(), "bay-2", "until the other machine is there");
    assert_eq!(who(server.addr, &token('c')).await.unwrap(), "bay-2");
    for gone in ['a', 'b'] {
        assert_eq!(reason(&who(server.addr, &token(gone)).await.unwrap_err()), "TOKEN_NOT_GOOD");
    }
}

#[tokio::test]
async fn a_station_is_told_after_a_third_of_the_tokens_life() {
    let (_site, clock, server) = served().await;
    let own = token('a');
    clock.forward(60 * DAY_US - 1);
    assert!(!is_due(server.addr, &own).await);
    let early = renew(server.addr, &own, &token('b')).await.unwrap_err();
    assert_eq!((early.code(), reason(&early).as_str()), (Code::FailedPrecondition, "TOKEN_NOT_DUE"));
    assert!(who(server.addr, &token('b')).await.is_err(), "nothing was kept");
    clock.forward(1);
    assert!(is_due(server.addr, &own).await);
    renew(server.addr, &own, &token('b')).await.unwrap();
    assert!(!is_due(server.addr, &token('b')).await);
}

#[tokio::test]
async fn a_token_ends_and_with_it_the_streams_that_were_begun_with_it() {
    let (site, clock, server) = served().await;
    let own = token('a');
    let mut admin = StationServiceClient::new(shown(server.addr, &site.admin).await);
    let listed = admin.list_stations(ListStationsRequest::default()).await.unwrap().into_inner();
    let station = listed.stations.iter().find(|station| station.station_id == "bay-2").unwrap();
    assert_eq!(station.token_expire_time.unwrap().seconds, (START_US + 180 * DAY_US) / 1_000_000);
    assert!(station.create_time.is_some());
    clock.forward(180 * DAY_US - 1);
    let mut states = watched(server.addr, &own).await;
    assert_eq!(who(server.addr, &own).await.unwrap(), "bay-2");
    clock.forward(1);
    assert_eq!(states.message().await.unwrap_err().code(), Code::Unauthenticated);
    let ended = who(server.addr, &own).await.unwrap_err();
    // Whether a token ended, never was or was taken back is not told.
    let unknown = who(server.addr, &token('f')).await.unwrap_err();
    assert_eq!(
        (ended.code(), ended.message(), ended.details()),
        (unknown.code(), unknown.message(), unknown.details())
    );
}

#[tokio::test]
async fn joining_again_and_revoking_end_open_streams() {
    let (site, _clock, server) = served().await;
    let mut first = watched(server.addr, &token('a')).await;
    let code = code(&site.dir(), "bay-2").await;
    join(server.addr, code.secret(), &token('b')).await.unwrap();
    assert_eq!(who(server.addr, &token('b')).await.unwrap(), "bay-2");
    assert_eq!(first.message().await.unwrap_err().code(), Code::Unauthenticated);
    let mut second = watched(server.addr, &token('b')).await;
    standpipe_server::order(&site.dir(), Order::RevokeStation { name: "bay-2".into() }).await.unwrap();
    assert_eq!(second.message().await.unwrap_err().code(), Code::Unauthenticated);
}

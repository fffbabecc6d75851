//! A watched job while no entry comes: the site's clock and orders to the site alone change what is told.

use super::network::{append, reason};
use super::*;
use crate::{Done, Order, order};
use standpipe_proto::limits::WATCHES_PER_STATION_MAX;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{GetRequest, WatchRequest, WatchResponse};
use tokio_stream::StreamExt as _;
use tonic::{Code, Streaming};

async fn watched(jobs: &mut JobServiceClient<Bearer>) -> Result<Streaming<WatchResponse>, Status> {
    jobs.watch(WatchRequest { job: "1".into(), after_seq: 0 }).await.map(tonic::Response::into_inner)
}

#[tokio::test]
async fn a_watch_looks_again_by_the_clock_of_the_site_without_an_entry() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    append(&mut bay, shop.seal("bay-1", &job_id(1), closing())).await.unwrap();
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-2").await);
    let mut states = watched(&mut jobs).await.unwrap();
    let first = states.next().await.unwrap().unwrap();
    assert_eq!(first.time, Some(crate::convert::timestamp(shop.clock.now_us())));
    // A bay sees a closed job for seven days.
    shop.clock.forward(8 * DAY_US);
    let ended = states.next().await.unwrap().unwrap_err();
    assert_eq!(reason(&ended), "CLOSED_LONG_AGO");
    assert!(states.next().await.is_none());
}

#[tokio::test]
async fn a_watch_ends_with_the_token_it_was_begun_with() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-2").await);
    let mut others = JobServiceClient::new(shop.bearer(&server, "office").await);
    let (mut states, mut other) = (watched(&mut jobs).await.unwrap(), watched(&mut others).await.unwrap());
    assert!(states.next().await.unwrap().is_ok() && other.next().await.unwrap().is_ok());
    let renewed = order(&shop.dir, Order::RenewToken { name: "bay-2".into(), days: None }).await.unwrap();
    let Done::TokenRenewed { token, .. } = renewed else { panic!("{renewed:?}") };
    assert_eq!(states.next().await.unwrap().unwrap_err().code(), Code::Unauthenticated);
    assert_eq!(watched(&mut jobs).await.unwrap_err().code(), Code::Unauthenticated);
    // The new token watches, and only until it is taken back itself.
    let mut jobs = JobServiceClient::new(bearer(&server, &token).await);
    let mut states = watched(&mut jobs).await.unwrap();
    assert!(states.next().await.unwrap().is_ok());
    order(&shop.dir, Order::RevokeStation { name: "bay-2".into() }).await.unwrap();
    assert_eq!(states.next().await.unwrap().unwrap_err().code(), Code::Unauthenticated);
    // Another station's watch goes on.
    append(&mut bay, shop.seal("bay-1", &job_id(1), closing())).await.unwrap();
    assert!(other.next().await.unwrap().unwrap().summary.unwrap().closed);
}

#[tokio::test]
async fn a_station_watches_so_many_jobs_and_one_that_ends_makes_room() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-2").await);
    let mut open = Vec::new();
    for _ in 0..WATCHES_PER_STATION_MAX {
        open.push(watched(&mut jobs).await.unwrap());
    }
    let refused = watched(&mut jobs).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::ResourceExhausted, "TOO_MANY_WATCHES"));
    assert!(refused.message().contains("8 jobs at once"), "{}", refused.message());
    let mut others = JobServiceClient::new(shop.bearer(&server, "office").await);
    assert!(watched(&mut others).await.is_ok(), "another station has its own");
    // A renewed token ends them all.
    let renewed = order(&shop.dir, Order::RenewToken { name: "bay-2".into(), days: None }).await.unwrap();
    let Done::TokenRenewed { token, .. } = renewed else { panic!("{renewed:?}") };
    for mut states in open {
        while states.next().await.is_some() {}
    }
    let mut jobs = JobServiceClient::new(bearer(&server, &token).await);
    assert!(watched(&mut jobs).await.is_ok());
}

#[tokio::test]
async fn a_job_and_its_watch_say_the_same_at_the_same_time() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    let reading = v1::ExchangeReading {
        volume_in_litres: 3.0,
        volume_out_litres: Some(3.8),
        ..v1::ExchangeReading::default()
    };
    append(&mut bay, shop.seal("bay-1", &job_id(1), Kind::ExchangeReading(reading))).await.unwrap();
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-2").await);
    let state = watched(&mut jobs).await.unwrap().next().await.unwrap().unwrap();
    let job = jobs.get(GetRequest { job: "1".into() }).await.unwrap().into_inner().job.unwrap();
    assert!(!state.now.is_empty() && state.exchange.is_some() && state.level.is_some(), "{state:?}");
    assert_eq!((state.now, state.exchange, state.level), (job.now, job.exchange, job.level));
    assert_eq!((state.last_seq, state.figures), (job.last_seq, job.figures));
}

//! A watched job while no entry comes: the site's clock alone changes what is told.

use super::network::{append, reason};
use super::*;
use standpipe_proto::v1::WatchRequest;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use tokio_stream::StreamExt as _;

#[tokio::test]
async fn a_watch_looks_again_by_the_clock_of_the_site_without_an_entry() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    append(&mut bay, shop.seal("bay-1", &job_id(1), closing())).await.unwrap();
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-2").await);
    let mut states = jobs.watch(WatchRequest { job: "1".into() }).await.unwrap().into_inner();
    let first = states.next().await.unwrap().unwrap();
    assert_eq!(first.time, Some(crate::convert::timestamp(shop.clock.now_us())));
    // A bay sees a closed job for seven days.
    shop.clock.forward(8 * DAY_US);
    let ended = states.next().await.unwrap().unwrap_err();
    assert_eq!(reason(&ended), "CLOSED_LONG_AGO");
    assert!(states.next().await.is_none());
}

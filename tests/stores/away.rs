//! A served site whose database goes away and comes back.

use standpipe_server::{Destination, Role, move_site};
use standpipe_tests::facts;
use standpipe_tests::postgres;
use standpipe_tests::site::{Site, append, opened, shown};
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::health_client::HealthClient;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_outlives_its_database_and_keeps_what_it_acknowledged() {
    let Some(mut database) = postgres::own(&[]) else { return };
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let to: Destination = database.create().parse().unwrap();
    move_site(&site.dir(), Some(to), &|_| {}).await.unwrap();
    let server = site.serve().await;
    let token = site.token("bay-1");
    let (mut bay, mut sealer, job) = opened(server.addr, token).await;
    let mut health = HealthClient::new(shown(server.addr, token).await);
    let question = HealthCheckRequest { service: String::new() };
    let mut told = health.watch(question).await.unwrap().into_inner();
    assert_eq!(told.message().await.unwrap().unwrap().status(), ServingStatus::Serving);

    let before = append(&mut bay, &sealer.seal(&job, facts::temperature(41.0))).await.unwrap();
    database.cluster.as_mut().unwrap().stop("QUIT");
    assert_eq!(told.message().await.unwrap().unwrap().status(), ServingStatus::NotServing);
    let entry = sealer.seal(&job, facts::temperature(42.0));
    let refused = append(&mut bay, &entry).await.unwrap_err();
    assert_eq!(refused.code(), tonic::Code::Unavailable, "{refused}");
    assert!(refused.message().contains("database"), "{}", refused.message());

    database.cluster.as_mut().unwrap().serve();
    assert_eq!(told.message().await.unwrap().unwrap().status(), ServingStatus::Serving);
    let after = append(&mut bay, &entry).await.unwrap();
    assert_eq!(after.seq, before.seq + 1);
    server.shutdown();
    server.join().await.unwrap();
    assert!(standpipe_server::verify(&site.dir()).await.unwrap().is_sound());
}

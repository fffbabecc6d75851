//! A station's token given anew while the server runs: the old one is no longer good from that moment on.

use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{DescribeRequest, ReadRequest};
use standpipe_server::{Done, Order, Role, order};
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::shop::Shop;
use standpipe_tests::site::{Site, append, journal, shown};
use standpipe_tests::told::reason;
use tonic::Code;

#[tokio::test]
async fn a_new_token_is_good_at_once_and_the_old_one_is_not_good_any_more() {
    let site = Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay)]).await;
    let server = site.serve().await;
    let old = site.token("bay-1").to_owned();
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    // Connections that were open before and have been let in already.
    let mut bay = journal(server.addr, &old).await;
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let mut described = StationServiceClient::new(shown(server.addr, &old).await);
    described.describe(DescribeRequest {}).await.unwrap();
    let mut admin = journal(server.addr, &site.admin).await;
    let before = admin.read(ReadRequest::default()).await.unwrap().into_inner().tree_size;

    let done = order(&site.dir(), Order::RenewToken { name: "bay-1".into(), days: None }).await.unwrap();
    let Done::TokenRenewed { station_id, token, .. } = done else { panic!("{done:?}") };
    assert!(station_id == "bay-1" && token != old && token.len() == 64);
    let kept = sealer.seal(&job, facts::drained(3.05));
    let refused = [
        described.describe(DescribeRequest {}).await.unwrap_err(),
        append(&mut bay, &kept).await.unwrap_err(),
        StationServiceClient::new(shown(server.addr, &old).await)
            .describe(DescribeRequest {})
            .await
            .unwrap_err(),
    ];
    for status in &refused {
        assert_eq!((status.code(), reason(status).as_str()), (Code::Unauthenticated, "TOKEN_NOT_GOOD"));
    }
    let mut renewed = StationServiceClient::new(shown(server.addr, &token).await);
    let station = renewed.describe(DescribeRequest {}).await.unwrap().into_inner().station.unwrap();
    assert_eq!(station.station_id, "bay-1");
    // It is the same station: what it kept is taken, and the other stations are as they were.
    append(&mut journal(server.addr, &token).await, &kept).await.unwrap();
    let mut other = StationServiceClient::new(shown(server.addr, site.token("bay-2")).await);
    other.describe(DescribeRequest {}).await.unwrap();
    let after = admin.read(ReadRequest::default()).await.unwrap().into_inner().tree_size;
    assert_eq!(after, before + 2, "that the station was enrolled again, and its fact");
    server.shutdown();
    server.join().await.unwrap();
    let server = site.serve().await;
    for (token, good) in [(&old, false), (&token, true)] {
        let mut client = StationServiceClient::new(shown(server.addr, token).await);
        assert_eq!(client.describe(DescribeRequest {}).await.is_ok(), good);
    }
    let unknown =
        order(&site.dir(), Order::RenewToken { name: "bay-9".into(), days: None }).await.unwrap_err();
    assert!(unknown.to_string().contains("bay-9"), "{unknown}");
}

#[test]
fn a_station_joins_again_with_its_new_token_and_sends_what_waited() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let before = shop.entries();
    let renewed = shop.verb("station token bay-1").fine();
    assert_eq!(renewed.line().len(), 64);
    assert!(renewed.err.contains("no longer good"), "{}", renewed.err);
    bay.say("jobs").refused(77);
    let kept = bay.say("add drain --place pan --mass 3.05kg").ended(77);
    assert!(kept.out.contains("kept unsent (1 waiting)"), "{}", kept.out);
    bay.fed(&format!("join {} -", shop.address()), shop.token("bay-1")).refused(77);
    bay.fed(&format!("join {} -", shop.address()), renewed.line()).fine();
    bay.say("send").fine();
    assert_eq!(bay.unsent_files(), Vec::<String>::new());
    assert_eq!(shop.entries(), before + 2, "that the station was enrolled again, and the drain");
    assert_eq!(bay.say("show --output json").fine().json()["entry_count"], 2);
}

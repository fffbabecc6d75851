//! The pages and the bays look at the same PINs, and what is decided on a page is signed at once.

use super::{Browser, PIN, shop};
use crate::order::{Done, Order, order};
use crate::tests::{arrival, job_id};
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{AppendRequest, SignRequest};
use tonic::Code;

#[tokio::test]
async fn five_wrong_pins_are_counted_at_each_place_and_written_down() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(1), arrival("PH 482 K"));
    bay.append(AppendRequest { entry }).await.unwrap();
    let mut stations = StationServiceClient::new(shop.bearer(&server, "bay-1").await);
    let request = |pin: &str| SignRequest {
        job: job_id(1),
        person_code: "A".into(),
        pin: pin.into(),
        entry_ids: Vec::new(),
    };
    let mut browser = Browser::new(&server);
    // Each place has its own five, so that a stranger at the pages locks nobody out at a bay.
    for _ in 0..5 {
        assert_eq!(browser.sign_in("A", "0000").await.status, 403);
    }
    for _ in 0..5 {
        assert_eq!(stations.sign(request("0000")).await.unwrap_err().code(), Code::PermissionDenied);
    }
    assert_eq!(browser.sign_in("A", PIN).await.status, 429);
    assert_eq!(stations.sign(request(PIN)).await.unwrap_err().code(), Code::ResourceExhausted);
    shop.clock.forward(60 * 1_000_000);
    stations.sign(request(PIN)).await.unwrap();
    Browser::signed_in(&server).await;

    let Done::Audit(rows) = order(&shop.dir, Order::ReadAudit { since_us: 0 }).await.unwrap() else {
        panic!("the book")
    };
    let of = |what: &str, allowed: bool| {
        let rows =
            rows.iter().filter(|row| row.what == what && row.allowed == allowed && row.person_code == "A");
        rows.map(|row| row.times).sum::<u64>()
    };
    assert_eq!((of("sign-in", false), of("sign-in", true)), (6, 1));
    assert_eq!((of("sign", false), of("sign", true)), (6, 1));
}

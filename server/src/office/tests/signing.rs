//! The pages and the bays look at the same PINs, and what is decided on a page is signed at once.

use super::{Browser, PIN, shop};
use crate::clock::SystemEntropy;
use crate::office::Office;
use crate::office::station::{OfficeStation, StatedOnce, Statement, new_id};
use crate::order::{Done, Order, order};
use crate::tests::{Shop, arrival, job_id};
use crate::{Desk, kept_pin};
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{AppendRequest, Decision, FaultCodes, SignRequest, fact::Kind, header::Subject};
use standpipe_store::{EntryId, JobId};
use std::sync::Arc;
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

#[tokio::test]
async fn what_is_decided_on_a_page_is_signed_at_once() {
    let shop = Shop::found().await;
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    let files = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy/catalogue");
    desk.import_catalogue(&files).await.unwrap();
    desk.set_pin("A", &kept_pin(PIN, &SystemEntropy).unwrap()).await.unwrap();
    desk.close().await.unwrap();
    let workshop = shop.workshop().await;
    let office = Arc::new(Office::of(&workshop).await.unwrap());
    let job = JobId(new_id(office.now_us(), &SystemEntropy).unwrap().into_bytes());
    let codes = FaultCodes { moment: 1, state: 2, codes: vec!["P0218".into()], ..Default::default() };
    let facts = vec![arrival("PH 482 K"), Kind::FaultCodes(codes)];
    OfficeStation::open_job(&office, job, "A", facts, None).await.unwrap();
    let decision = Decision { point: "signed-decision".into(), reason: "agreed by telephone".into() };
    let entry_id = EntryId(new_id(office.now_us(), &SystemEntropy).unwrap().into_bytes());
    let statement = || Statement {
        subject: Subject::JobId(job.to_string()),
        entry_id,
        kind: Kind::Decision(decision.clone()),
        as_typed: Vec::new(),
    };
    for _ in 0..2 {
        let stated = OfficeStation::state_once(&office, "A", statement()).await.unwrap();
        assert_eq!(stated, StatedOnce::Stated);
    }
    let row = workshop.find(&job.to_string()).await.unwrap();
    let view = &workshop.computed(&row).await.unwrap().view;
    let signed: Vec<_> = view.to_sign.iter().map(|it| (it.person.as_str(), it.signed)).collect();
    assert_eq!(signed, [("A", true)]);
    assert_eq!(workshop.journal.read_job(job).await.unwrap().len(), 4, "one decision and one signature");
    workshop.journal.close().await.unwrap();
}

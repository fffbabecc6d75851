//! A station that may state some kinds of facts only.

use standpipe_proto::v1::append_stream_response::Answer;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{
    self, AppendStreamRequest, Correction, DescribeRequest, Fact, IssueRequest, ListStationsRequest,
    SignRequest, correction::Outcome, fact::Kind,
};
use standpipe_server::{Desk, Role};
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::shop::Shop;
use standpipe_tests::site::{Site, append, journal, opened, shown};
use standpipe_tests::told::{info, reason};
use tonic::Code;

const KINDS: [&str; 2] = ["exchange_reading", "temperature_reading"];

/// A site with a bay and an instrument, and the instrument's token.
async fn site() -> (Site, String) {
    let site = Site::with(&[("bay-1", Role::Bay), ("office", Role::Office)]).await;
    let mut desk = Desk::open(&site.dir()).await.unwrap();
    let kinds = KINDS.map(str::to_owned);
    let probe = desk.add_instrument("probe-1", &kinds).await.unwrap().token.to_string();
    let unknown = desk.add_instrument("probe-2", &["exchange-reading".to_owned()]).await.unwrap_err();
    assert!(unknown.to_string().contains("'exchange-reading', which is no kind of facts"), "{unknown}");
    desk.close().await.unwrap();
    (site, probe)
}

fn correction(of: &str, outcome: Outcome) -> Kind {
    Kind::Correction(Box::new(Correction {
        corrected_entry_id: of.to_owned(),
        reason: "read wrongly".into(),
        outcome: Some(outcome),
    }))
}

fn instead(kind: Kind) -> Outcome {
    Outcome::Replacement(Box::new(Fact { kind: Some(kind) }))
}

#[tokio::test]
async fn an_instrument_states_its_kinds_and_nothing_else_also_by_correction() {
    let (site, token) = site().await;
    let server = site.serve().await;
    let (mut bay, mut sealer, job) = opened(server.addr, site.token("bay-1")).await;
    let drain = sealer.seal(&job, facts::drained(3.05));
    append(&mut bay, &drain).await.unwrap();

    let mut probe = journal(server.addr, &token).await;
    let mut own = Sealer::new("probe-1", 2);
    let read = own.seal(&job, facts::temperature(38.0));
    append(&mut probe, &read).await.unwrap();
    let right = own.seal(&job, correction(&read.entry_id, instead(facts::temperature(39.0))));
    append(&mut probe, &right).await.unwrap();
    let refused = [
        ("arrival", facts::arrival("PH 483 K")),
        ("drain", facts::drained(3.0)),
        ("drain", correction(&drain.entry_id, instead(facts::drained(9.0)))),
        ("correction", correction(&drain.entry_id, Outcome::Withdrawn(true))),
    ];
    for (kind, fact) in refused {
        let status = append(&mut probe, &own.seal(&job, fact)).await.unwrap_err();
        assert_eq!((status.code(), reason(&status).as_str()), (Code::PermissionDenied, "KIND_NOT_PERMITTED"));
        let metadata = info(&status).unwrap().metadata;
        assert_eq!((metadata["kind"].as_str(), metadata["station"].as_str()), (kind, "probe-1"));
        assert_eq!(metadata["kinds"], KINDS.join(", "), "it names the kinds that it may");
        assert!(status.message().contains(&KINDS.join(", ")), "{}", status.message());
    }
}

#[tokio::test]
async fn a_stream_refuses_the_kind_and_goes_on() {
    let (site, token) = site().await;
    let server = site.serve().await;
    let (_bay, _sealer, job) = opened(server.addr, site.token("bay-1")).await;
    let mut own = Sealer::new("probe-1", 2);
    let sent = [facts::drained(3.0), facts::temperature(38.0)].map(|kind| own.seal(&job, kind).bytes);
    let requests = sent.map(|entry| AppendStreamRequest { entry });
    let mut probe = journal(server.addr, &token).await;
    let mut answers = probe.append_stream(tokio_stream::iter(requests)).await.unwrap().into_inner();
    let mut told = Vec::new();
    while let Some(answer) = answers.message().await.unwrap() {
        told.push(match answer.answer.unwrap() {
            Answer::Acknowledgement(_) => "taken".to_owned(),
            Answer::Refusal(refusal) => refusal.reason,
        });
    }
    assert_eq!(told, ["KIND_NOT_PERMITTED", "taken"]);
}

#[tokio::test]
async fn who_asks_sees_the_kinds_of_each_station() {
    let (site, token) = site().await;
    let server = site.serve().await;
    let mut probe = StationServiceClient::new(shown(server.addr, &token).await);
    let own = probe.describe(DescribeRequest {}).await.unwrap().into_inner().station.unwrap();
    assert_eq!(own.kinds, KINDS);
    let mut office = StationServiceClient::new(shown(server.addr, site.token("office")).await);
    let listed = office.list_stations(ListStationsRequest::default()).await.unwrap().into_inner().stations;
    let limited: Vec<&v1::Station> = listed.iter().filter(|station| !station.kinds.is_empty()).collect();
    assert_eq!(limited.len(), 1);
    assert_eq!((limited[0].name.as_str(), limited[0].kinds.as_slice()), ("probe-1", &own.kinds[..]));
}

#[test]
fn an_instrument_is_enrolled_by_a_verb_and_listed_with_its_kinds() {
    let shop = Shop::open();
    shop.verb("station add probe-1 --only exchange_reading,temperature_reading").fine();
    let listed = shop.verb("station list --output json").fine().json();
    let of = |name: &str| {
        listed.as_array().unwrap().iter().find(|row| row["station_id"] == name).unwrap()["only"].clone()
    };
    assert_eq!(of("probe-1"), serde_json::json!(["exchange_reading", "temperature_reading"]));
    assert_eq!(of("bay-1"), serde_json::json!([]));
    let refused = shop.verb("station add probe-2 --only temperature").refused(65);
    assert!(refused.contains("'temperature', which is no kind of facts"), "{refused}");
    let refused = shop.verb("station add office-2 --role office --only drain").refused(65);
    assert!(refused.contains("the role is office"), "{refused}");
}

#[tokio::test]
async fn an_instrument_does_nothing_that_a_person_does() {
    let (site, token) = site().await;
    let server = site.serve().await;
    let mut records = RecordServiceClient::new(shown(server.addr, &token).await);
    let mut stations = StationServiceClient::new(shown(server.addr, &token).await);
    let refused = [
        records.issue(IssueRequest::default()).await.unwrap_err(),
        stations.sign(SignRequest::default()).await.unwrap_err(),
    ];
    for (status, kind) in refused.iter().zip(["record_issued", "signature"]) {
        assert_eq!((status.code(), reason(status).as_str()), (Code::PermissionDenied, "KIND_NOT_PERMITTED"));
        assert_eq!(info(status).unwrap().metadata["kind"], kind);
    }
}

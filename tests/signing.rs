//! Decisions count once their person's PIN was given; what was allowed and refused stands in the book.

use prost::Message as _;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{
    self, GetRequest, ListPersonsRequest, MayRequest, ReadRequest, SignRequest, fact::Kind,
};
use standpipe_server::{
    AuditRow, Clock as _, Desk, Done, Order, Role, RunningServer, SystemEntropy, kept_pin, order,
};
use standpipe_tests::clock::Hand;
use standpipe_tests::facts;
use standpipe_tests::sealed::{START_US, Sealed, Sealer};
use standpipe_tests::shop::Shop;
use standpipe_tests::site::{Shown, Site, append, journal, shown};
use standpipe_tests::told::{info, reason};
use std::sync::Arc;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

const PIN: &str = "80417";
const POINT: &str = "signed-decision";

/// A served site with a job, a code that waits for a decision (SAE J2012: P0218 says that the fluid was too hot), and
/// technician A's decision on it.
struct Decided {
    site: Site,
    server: RunningServer,
    clock: Arc<Hand>,
    job: String,
    decision: Sealed,
    acknowledged: v1::Acknowledgement,
    sealer: Sealer,
}

fn decision(reason: &str) -> Kind {
    Kind::Decision(v1::Decision { point: POINT.into(), reason: reason.into() })
}

impl Decided {
    async fn new() -> Self {
        let site = Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)]).await;
        let mut desk = Desk::open(&site.dir()).await.unwrap();
        desk.add_person("B", Some("office B")).await.unwrap();
        desk.add_person("C", Some("technician C")).await.unwrap();
        for (code, pin) in [("A", PIN), ("B", "2222")] {
            desk.set_pin(code, &kept_pin(pin, &SystemEntropy).unwrap()).await.unwrap();
        }
        desk.close().await.unwrap();
        let clock = Hand::at(START_US + 3_600_000_000);
        let server = site.serve_on(clock.clone()).await;
        let mut bay = journal(server.addr, site.token("bay-1")).await;
        let mut sealer = Sealer::new("bay-1", 1);
        let job = sealer.job(1);
        let codes = v1::FaultCodes { moment: 1, state: 2, codes: vec!["P0218".into()], ..Default::default() };
        for kind in [facts::arrival("PH 482 K"), Kind::FaultCodes(codes)] {
            let taken = append(&mut bay, &sealer.seal(&job, kind)).await.unwrap();
            assert!(!taken.signature_needed);
        }
        let decision = sealer.seal(&job, decision("the customer was told on the telephone"));
        let acknowledged = append(&mut bay, &decision).await.unwrap();
        Self { site, server, clock, job, decision, acknowledged, sealer }
    }

    async fn stations(&self) -> StationServiceClient<Shown> {
        StationServiceClient::new(shown(self.server.addr, self.site.token("bay-1")).await)
    }

    async fn sign(&self, person_code: &str, pin: &str, entry_ids: &[&str]) -> Result<Vec<String>, Status> {
        let entry_ids = entry_ids.iter().map(|id| (*id).to_owned()).collect();
        let (person_code, pin) = (person_code.to_owned(), pin.to_owned());
        let request = SignRequest { job: self.job.clone(), person_code, pin, entry_ids };
        Ok(self.stations().await.sign(request).await?.into_inner().entry_ids)
    }

    async fn jobs(&self) -> JobServiceClient<Shown> {
        JobServiceClient::new(shown(self.server.addr, self.site.token("bay-1")).await)
    }

    async fn missing(&self) -> Vec<(String, String)> {
        let request = MayRequest { job: self.job.clone(), gate: "exchange".into() };
        let answer = self.jobs().await.may(request).await.unwrap().into_inner();
        answer.missing.into_iter().map(|missing| (missing.key, missing.text)).collect()
    }

    async fn lacks_decision(&self) -> bool {
        self.missing().await.iter().any(|(key, _)| key == POINT)
    }

    async fn book(&self) -> Vec<AuditRow> {
        let Done::Audit(rows) = order(&self.site.dir(), Order::ReadAudit { since_us: 0 }).await.unwrap()
        else {
            panic!("the book")
        };
        rows
    }
}

#[tokio::test]
async fn a_decision_counts_once_the_pin_of_its_person_was_given() {
    let decided = Decided::new().await;
    assert!(decided.acknowledged.signature_needed, "the bay is told at once");
    let missing = decided.missing().await;
    assert!(missing.iter().any(|(key, _)| key == POINT));
    let how = missing.iter().find(|(key, _)| key == "signature").unwrap();
    assert!(how.1.contains("not signed") && how.1.contains("standpipe as A --pin"), "{}", how.1);

    assert_eq!(decided.sign("A", PIN, &[]).await.unwrap(), std::slice::from_ref(&decided.decision.entry_id));
    assert!(!decided.lacks_decision().await);
    assert_eq!(decided.sign("A", PIN, &[]).await.unwrap(), Vec::<String>::new(), "signed once");
    let again = decided.sign("A", PIN, &[&decided.decision.entry_id]).await.unwrap();
    assert_eq!(again, Vec::<String>::new(), "also when it is named");

    let mut bay = journal(decided.server.addr, decided.site.token("bay-1")).await;
    let request = ReadRequest { job: decided.job.clone(), ..ReadRequest::default() };
    let entries = bay.read(request).await.unwrap().into_inner().entries;
    assert_eq!(entries.len(), 4, "one signature");
    let last = v1::Entry::decode(entries.last().unwrap().entry.clone()).unwrap();
    let header = last.header.unwrap();
    assert_eq!((header.station_id.as_str(), header.person_code.as_str()), ("server", "A"));
    let Some(Kind::Signature(signature)) = last.fact.unwrap().kind else { panic!("a signature") };
    assert_eq!(signature.signed_entry_ids, std::slice::from_ref(&decided.decision.entry_id));
    let mut jobs = decided.jobs().await;
    let job = jobs.get(GetRequest { job: decided.job.clone() }).await.unwrap().into_inner().job.unwrap();
    assert!(!format!("{job:?}").contains("not signed"), "{job:?}");
}

#[tokio::test]
async fn nobody_signs_for_another_and_no_wrong_answer_tells_why() {
    let decided = Decided::new().await;
    let entry = decided.decision.entry_id.as_str();
    assert_eq!(decided.sign("B", "2222", &[]).await.unwrap(), Vec::<String>::new(), "nothing of B waits");
    let of_another = decided.sign("B", "2222", &[entry]).await.unwrap_err();
    let nowhere = "01890a5d-ac96-774b-bcce-b302099a8057";
    let nobodys = decided.sign("B", "2222", &[nowhere]).await.unwrap_err();
    let told =
        |status: &Status, id: &str| (status.code(), reason(status), status.message().replace(id, "ID"));
    assert_eq!(told(&of_another, entry), told(&nobodys, nowhere));
    assert_eq!(told(&nobodys, nowhere).1, "ENTRY_NOT_TO_SIGN");

    // A wrong PIN, a person without one and a code that nobody has are one and the same answer.
    let mut answers = Vec::new();
    for (code, pin) in [("A", "80418"), ("C", PIN), ("Z", PIN)] {
        let status = decided.sign(code, pin, &[]).await.unwrap_err();
        assert_eq!((status.code(), reason(&status).as_str()), (Code::PermissionDenied, "PIN_NOT_GOOD"));
        answers.push((status.message().to_owned(), status.details().to_vec()));
    }
    answers.dedup();
    assert_eq!(answers.len(), 1);
    assert!(decided.lacks_decision().await, "none of this signed anything");
}

#[tokio::test]
async fn no_refusal_repeats_a_digit_of_the_pin() {
    let decided = Decided::new().await;
    for pin in ["817", "8041780417804", ""] {
        let status = decided.sign("A", pin, &[]).await.unwrap_err();
        assert_eq!(reason(&status), "OUTSIDE_BOUNDS", "{pin}");
        assert!(status.message().contains("4 to 12 digits"), "{}", status.message());
        let told = format!("{} {:?}", status.message(), status.get_error_details_vec());
        assert!(pin.is_empty() || !told.contains(pin), "{told}");
    }
}

#[tokio::test]
async fn five_wrong_pins_in_a_row_cost_a_minute_by_the_server_s_clock() {
    let decided = Decided::new().await;
    for _ in 0..5 {
        assert_eq!(reason(&decided.sign("A", "11111", &[]).await.unwrap_err()), "PIN_NOT_GOOD");
    }
    let waits = decided.sign("A", PIN, &[]).await.unwrap_err();
    assert_eq!((waits.code(), reason(&waits).as_str()), (Code::ResourceExhausted, "PIN_TRIED_TOO_OFTEN"));
    assert_eq!(info(&waits).unwrap().metadata["seconds"], "60");
    assert_eq!(waits.get_details_retry_info().unwrap().retry_delay.unwrap().as_secs(), 60);
    assert_eq!(decided.sign("B", "2222", &[]).await.unwrap(), Vec::<String>::new(), "another person may");
    decided.clock.forward(60_000_000);
    assert_eq!(decided.sign("A", PIN, &[]).await.unwrap().len(), 1);
}

#[tokio::test]
async fn the_book_says_who_signed_and_who_was_turned_away() {
    let mut decided = Decided::new().await;
    decided.sign("A", "11111", &[]).await.unwrap_err();
    decided.sign("A", "22222", &[]).await.unwrap_err();
    decided.sign("Z", "33333", &[]).await.unwrap_err();
    decided.sign("A", PIN, &[]).await.unwrap();
    let mut stranger = journal(decided.server.addr, &"0".repeat(64)).await;
    for _ in 0..20 {
        let entry = decided.sealer.seal(&decided.job, facts::temperature(30.0));
        append(&mut stranger, &entry).await.unwrap_err();
    }
    let mut bay = decided.stations().await;
    bay.list_stations(v1::ListStationsRequest::default()).await.unwrap_err();
    let told: Vec<_> = decided
        .book()
        .await
        .into_iter()
        .filter(|row| row.what != "order")
        .map(|row| {
            (row.what, row.allowed, row.times, row.station_id, row.person_code, row.address, row.about)
        })
        .collect();
    let line = |what: &str, allowed, times, station: &str, person: &str, about: &str| {
        let text = str::to_owned;
        (text(what), allowed, times, text(station), text(person), text("127.0.0.1"), text(about))
    };
    let signed = format!("HL-26-0001 {}", decided.decision.entry_id);
    for expected in [
        line("sign", false, 2, "bay-1", "A", "HL-26-0001"),
        // Whatever somebody typed for a code that nobody has is not kept.
        line("sign", false, 1, "bay-1", "", "HL-26-0001"),
        line("sign", true, 1, "bay-1", "A", &signed),
        line("token", false, 20, "", "", ""),
        line("method", false, 1, "bay-1", "", "/standpipe.v1.StationService/ListStations"),
    ] {
        assert!(told.contains(&expected), "{expected:?} is not in {told:#?}");
    }
    let whole = format!("{told:?}");
    assert!(["11111", "22222", "33333", PIN].iter().all(|pin| !whole.contains(pin)), "{whole}");
    let first = decided.book().await.into_iter().map(|row| row.at_us).max().unwrap();
    assert!(first <= decided.clock.now_us());
}

#[tokio::test]
async fn who_has_a_pin_is_told_and_the_pin_is_not() {
    let decided = Decided::new().await;
    let persons = decided.stations().await.list_persons(ListPersonsRequest::default()).await.unwrap();
    let persons = persons.into_inner().persons.into_iter().map(|it| (it.person_code, it.has_pin));
    let told: Vec<_> = persons.collect();
    assert_eq!(told, [("A".to_owned(), true), ("B".to_owned(), true), ("C".to_owned(), false)]);
}

#[test]
fn a_decision_is_signed_in_the_bay_by_its_person() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    bay.say("add fault-codes --moment before --state read --codes P0218").fine();
    let decided = bay.say("add decision --point signed-decision --reason 'agreed with the customer'").fine();
    assert!(decided.out.contains("it counts once A signed it: standpipe as A --pin"), "{}", decided.out);
    let open = bay.say("may exchange").ended(1).out;
    assert!(open.contains("signed decision is decided by technician A but not signed"), "{open}");
    let without = bay.fed("as A --pin", "80417\n").refused(77);
    assert!(without.contains("standpipe-server person pin CODE"), "{without}");
    shop.verb_fed("person pin A", "80417\n").fine();
    let short = bay.fed("as A --pin", "817\n").refused(64);
    assert!(short.contains("4 to 12 digits") && !short.contains("817"), "{short}");
    let signed = bay.fed("as A --pin", "80417\n").fine();
    assert!(signed.out.contains("1 entry of A is signed"), "{}", signed.out);
    let again = bay.fed("as A --pin --output json", "80417\n").fine().json();
    assert_eq!(again["signed_entry_ids"], serde_json::json!([]));
    let open = bay.say("may exchange").ended(1).out;
    assert!(!open.contains("not signed"), "{open}");

    let audit = shop.verb("station audit --output json").fine().json();
    let signs: Vec<_> = audit.as_array().unwrap().iter().filter(|row| row["what"] == "sign").collect();
    assert!(signs.iter().any(|row| row["allowed"] == true && row["person_code"] == "A"), "{audit}");
    let csv = shop.verb("station audit --output csv --since 2020-01-01").fine().out;
    let head = "first,last,times,what,allowed,station_id,person_code,address,about\n";
    assert!(csv.starts_with(head) && csv.contains(",sign,refused,bay-1,A,127.0.0.1,"), "{csv}");
    assert!(!csv.contains("80417"), "{csv}");
    assert_eq!(shop.verb("station audit --since 2100-01-01 --output csv").fine().out, head);
}

#[test]
fn without_the_server_a_decision_is_to_be_signed_later() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    shop.close();
    let kept = bay.say("add decision --point signed-decision --reason 'agreed with the customer'").ended(75);
    assert!(kept.out.contains("to be signed later: standpipe as A --pin"), "{}", kept.out);
    let refused = bay.fed("as A --pin", "80417\n").refused(75);
    assert!(refused.contains("to be signed later: standpipe as A --pin"), "{refused}");
}

#[tokio::test]
async fn a_code_that_somebody_else_was_given_signs_nothing_of_who_had_it_before() {
    let decided = Decided::new().await;
    let entry = decided.decision.entry_id.as_str();
    let give = async |order_given: Order| {
        order(&decided.site.dir(), order_given).await.unwrap();
    };
    let add = |name: &str| Order::AddPerson { code: "A".into(), name: Some(name.into()) };
    let pin = |pin: &str| Order::SetPin { code: "A".into(), kept: kept_pin(pin, &SystemEntropy).unwrap() };
    // Whichever way the code came to somebody else.
    give(add("technician D")).await;
    assert_eq!(decided.sign("A", PIN, &[]).await.unwrap(), Vec::<String>::new());
    give(Order::RemovePerson { code: "A".into() }).await;
    give(add("technician E")).await;
    give(pin("5555")).await;
    assert_eq!(decided.sign("A", "5555", &[]).await.unwrap(), Vec::<String>::new());
    let named = decided.sign("A", "5555", &[entry]).await.unwrap_err();
    assert_eq!(reason(&named), "ENTRY_NOT_TO_SIGN");
    assert!(decided.lacks_decision().await);
    // What the person stated under this name is theirs to sign, also after the same name was listed once more.
    let mut bay = journal(decided.server.addr, decided.site.token("bay-1")).await;
    let mut sealer = decided.sealer.clone();
    let own = sealer.seal(&decided.job, decision("looked at once more"));
    append(&mut bay, &own).await.unwrap();
    give(add("technician E")).await;
    assert_eq!(decided.sign("A", "5555", &[]).await.unwrap(), std::slice::from_ref(&own.entry_id));
    assert!(!decided.lacks_decision().await);
}

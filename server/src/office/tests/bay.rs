//! The page of the bay over HTTP, with no browser: a joined tablet states what it is asked, and nobody else does.
//!
//! The job is the invented one of the demo; its answers are those that the questions of a terminal are tested with.

use super::live::Open;
use super::{Answer, Browser, PIN, shop};
use crate::tests::{Shop, arrival, closing, entry_id, job_id};
use crate::{Clock as _, Done, Order, RunningServer, order};
use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};
use serde_json::{Value, json};
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{
    self, AppendRequest, GetRequest, NextRequest, ReadRequest, Step, StepField, fact::Kind,
};
use standpipe_proto::words::answer::depends;
use std::path::Path;

const DAY_US: i64 = 86_400_000_000;
/// Looks of the exchange after the display at zero: litres, tube, whether it is the end.
const LOOKS: [(&str, &str, &str); 4] =
    [("3 L", "25", "no"), ("6 L", "50", "no"), ("9 L", "75", "no"), ("12 L", "75", "yes")];
/// What is answered where neither the first choice nor the proposal is meant: step, field and text; a question that is
/// no field itself by the word of its choice.
const ANSWERS: &[(&str, &str, &str)] = &[
    ("vin", "last_eight", "LA042317"),
    ("drive-before", "ticks", "harsh"),
    ("drive-before", "warmth", "warm"),
    ("sample-before", "", "brown"),
    ("sample-before", "clouding", "hazy"),
    ("sample-before", "smell", "burnt"),
    ("fluid", "", "LN-847"),
    ("fluid", "lot", "L-2209"),
    ("filter", "", "F8-20"),
    ("old-filter", "", "F8-20"),
    ("exchange", "volume_out_litres", "11.9 L"),
    ("pan", "amount", "3,05 kg"),
    ("pan", "debris", "fine-grey-paste"),
    ("pan-seen", "", "SP-68"),
    ("temperature", "temperature_celsius", "43 °C"),
    ("level", "overflow", "drops"),
    ("level", "caught_litres", "0.12 L"),
];

/// A tablet that is a station by its cookie.
struct Tablet<'a> {
    browser: Browser<'a>,
    number: i64,
    /// Its clock, which goes with the shop's.
    now_us: i64,
    /// Where its ids begin, so that no two tablets draw the same.
    from: u64,
}

impl<'a> Tablet<'a> {
    async fn joined(shop: &Shop, server: &'a RunningServer, station: &str, from: u64) -> Self {
        let mut browser = Browser::new(server);
        let answer = browser.post("/join", &[("code", &code(shop, station).await)]).await;
        assert_eq!((answer.status, answer.header("location")), (303, Some("/bay")), "{}", answer.text());
        let cookie = answer.header("set-cookie").unwrap();
        assert!(cookie.contains("; HttpOnly; SameSite=Strict; Path=/; Max-Age="), "{cookie}");
        let token = browser.cookies[0].1.split('.').next().unwrap().to_owned();
        assert!(!answer.text().contains(&token) && !browser.get("/bay").await.text().contains(&token));
        Self { browser, number: 0, now_us: shop.clock.now_us(), from }
    }

    fn form_key(&self) -> String {
        let (_, value) = self.browser.cookies.iter().find(|(name, _)| name == "standpipe-station").unwrap();
        value.split_once('.').unwrap().1.to_owned()
    }

    fn answered(&mut self, step: &str, kind: &str, fields: &[(String, String)]) -> Value {
        self.number += 1;
        json!({
            "entry_id": entry_id(self.from + u64::try_from(self.number).unwrap()),
            "epoch": format!("{:032x}", self.from),
            "number": self.number,
            "time_us": self.now_us,
            "monotonic_us": self.now_us - 1_773_831_000_000_000,
            "boot_id": "b".repeat(32),
            "person": "A",
            "step": step,
            "kind": kind,
            "fields": fields,
        })
    }

    async fn post(&mut self, path: &str, answer: &Value) -> Answer {
        let (key, own) = (self.form_key(), format!("http://{}", self.browser.server.addr));
        let headers = [("origin", own.as_str()), ("content-type", "application/json"), ("x-form-key", &key)];
        self.browser.ask("POST", path, &headers, &answer.to_string()).await
    }

    /// Sends an answer that must be taken.
    async fn states(&mut self, answer: &Value) -> Value {
        let taken = self.post("/bay/1/state", answer).await;
        assert_eq!(taken.status, 200, "{answer}: {}", taken.text());
        told(&taken)
    }
}

fn told(answer: &Answer) -> Value {
    serde_json::from_slice(&answer.body).unwrap_or_else(|error| panic!("{error}: {}", answer.text()))
}

fn pairs(fields: &[(&str, &str)]) -> Vec<(String, String)> {
    fields.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
}

async fn code(shop: &Shop, station: &str) -> String {
    let Done::Invited { code, .. } =
        order(&shop.dir, Order::OpenCode { name: station.into() }).await.unwrap()
    else {
        panic!("a code")
    };
    code
}

/// A shop with the demo's catalogue, whose office booked the vehicle of the demo.
async fn booked() -> (Shop, RunningServer) {
    let shop = shop().await;
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy/catalogue");
    order(&shop.dir, Order::ImportCatalogue { from }).await.unwrap();
    let server = shop.serve().await;
    let reading = Some(v1::vin_reading::Reading::Vin("AZTWA8M47LA042317".into()));
    let papers = Kind::VinReading(v1::VinReading { reading, source: v1::VinSource::Papers.into() });
    for kind in [arrival("PH 482 K"), papers] {
        state(&shop, &server, kind).await;
    }
    (shop, server)
}

async fn state(shop: &Shop, server: &RunningServer, kind: Kind) {
    let entry = shop.seal("office", &job_id(1), kind);
    shop.journal(server, "office").await.append(AppendRequest { entry }).await.unwrap();
}

/// The sealed entries of the job, in their order.
async fn sealed(shop: &Shop, server: &RunningServer) -> Vec<Vec<u8>> {
    let read = ReadRequest { job: "1".into(), ..ReadRequest::default() };
    let read = shop.journal(server, "office").await.read(read).await.unwrap().into_inner();
    read.entries.into_iter().map(|recorded| recorded.entry.to_vec()).collect()
}

/// What the page sends for a step: presets and answers together.
fn fields(step: &Step, look: Option<(&str, &str, &str)>) -> Vec<(String, String)> {
    let mut stated: Vec<(String, String)> =
        step.preset.iter().map(|preset| (preset.name.clone(), preset.value.clone())).collect();
    for field in &step.fields {
        if stated.iter().any(|(name, _)| *name == field.name) {
            continue;
        }
        let Some(text) = answer(step, field, look, &stated) else { continue };
        let choice = field.choices.iter().find(|choice| choice.word == text);
        match choice.filter(|_| field.name.is_empty()) {
            Some(choice) => {
                stated.extend(choice.also.iter().map(|also| (also.name.clone(), also.value.clone())));
            }
            None => stated.push((field.name.clone(), text)),
        }
    }
    stated
}

fn answer(
    step: &Step,
    field: &StepField,
    look: Option<(&str, &str, &str)>,
    stated: &[(String, String)],
) -> Option<String> {
    if let Some((other, word, _)) = depends(&step.kind, &field.name)
        && !stated.iter().any(|(name, text)| name == other && text == word)
    {
        return None;
    }
    match (look, step.name.as_str(), field.name.as_str()) {
        (Some((litres, ..)), "exchange", "volume_in_litres") => return Some(litres.to_owned()),
        (Some((_, tube, _)), "exchange", "tube_percent") => return Some(tube.to_owned()),
        (Some((.., last)), "exchange", "last") => return Some(last.to_owned()),
        _ => {}
    }
    let own = ANSWERS.iter().find(|(name, asked, _)| *name == step.name && *asked == field.name);
    if let Some((.., text)) = own {
        return Some((*text).to_owned());
    }
    if field.spare || !(field.needed || field.name.is_empty()) {
        return None;
    }
    if !field.proposal.is_empty() {
        return Some(field.proposal.clone());
    }
    let first = field.choices.first().unwrap_or_else(|| panic!("{}.{} has no answer", step.name, field.name));
    Some(first.word.clone())
}

/// Works the job to its end, each tablet in its turn; gives what was sent and what came back.
async fn worked(
    shop: &Shop,
    server: &RunningServer,
    tablets: &mut [Tablet<'_>],
) -> Vec<(usize, Value, Value)> {
    let mut jobs = JobServiceClient::new(shop.bearer(server, "office").await);
    let (mut sent, mut looks) = (Vec::new(), LOOKS.into_iter());
    for turn in 0..80 {
        let next = jobs.next(NextRequest { job: "1".into() }).await.unwrap().into_inner();
        let Some(step) = next.steps.first() else { return sent };
        let is_look = step.name == "exchange" && step.fields.iter().all(|field| !field.name.is_empty());
        let look = if is_look { looks.next() } else { None };
        let at = turn % tablets.len();
        // Work takes its time; what was done at the same moment at two stations has no order.
        shop.clock.forward(30_000_000);
        tablets[at].now_us = shop.clock.now_us();
        let answered = tablets[at].answered(&step.name, &step.kind, &fields(step, look));
        let taken = tablets[at].states(&answered).await;
        sent.push((at, answered, taken));
    }
    panic!("the job does not end: {:?}", sent.last())
}

async fn is_closed(shop: &Shop, server: &RunningServer) -> bool {
    let mut jobs = JobServiceClient::new(shop.bearer(server, "office").await);
    let job = jobs.get(GetRequest { job: "1".into() }).await.unwrap().into_inner().job.unwrap();
    job.summary.unwrap().closed
}

#[tokio::test]
async fn a_joined_tablet_does_the_whole_job_and_everything_sent_again_changes_nothing() {
    let (shop, server) = booked().await;
    let mut tablets = [Tablet::joined(&shop, &server, "bay-1", 0x100).await];
    let sent = worked(&shop, &server, &mut tablets).await;
    assert!(is_closed(&shop, &server).await && sent.len() > 30, "{}", sent.len());
    let line = |step: &str| {
        let (.., taken) = sent.iter().find(|(_, answered, _)| answered["step"] == step).unwrap();
        taken["line"].as_str().unwrap().replace('\u{a0}', " ")
    };
    assert_eq!(line("pan"), "3.05 kg from the pan; on pan and magnets: fine grey paste.");
    let before = sealed(&shop, &server).await;
    for (at, answered, taken) in &sent {
        assert_eq!(tablets[*at].states(answered).await, *taken);
    }
    assert_eq!(sealed(&shop, &server).await, before);
}

#[tokio::test]
async fn two_tablets_share_one_job_answer_by_answer() {
    let (shop, server) = booked().await;
    let mut tablets = [
        Tablet::joined(&shop, &server, "bay-1", 0x100).await,
        Tablet::joined(&shop, &server, "bay-2", 0x10_000).await,
    ];
    let sent = worked(&shop, &server, &mut tablets).await;
    assert!(is_closed(&shop, &server).await);
    let entries = sealed(&shop, &server).await.len();
    assert_eq!(entries, sent.len() + 2, "each answer is one entry");
}

#[tokio::test]
async fn nothing_is_kept_of_what_is_malformed_and_the_sentence_names_the_field() {
    let (shop, server) = booked().await;
    let mut tablet = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    let before = sealed(&shop, &server).await;
    let pan = |amount: &str| pairs(&[("place", "pan"), ("amount", amount), ("debris", "none")]);
    for (kind, fields, field, words) in [
        ("drain", pan("3,05"), "amount", "unit"),
        ("drain", pan("900 L"), "amount", "900"),
        ("drain", pairs(&[("place", "roof"), ("amount", "3 L")]), "place", "none of the choices"),
        ("drain", pairs(&[("place", "pan"), ("place", "pan")]), "place", "stated already"),
        ("drain", pairs(&[("mood", "good")]), "", "reload the page"),
        ("tea", pairs(&[]), "", "reload the page"),
        ("correction", pairs(&[]), "", "reload the page"),
        ("hookup", pairs(&[("direction_tested", "perhaps")]), "direction_tested", "none of the choices"),
        ("exchange_reading", pairs(&[("last", "perhaps")]), "last", "neither yes nor no"),
        ("vin_reading", pairs(&[("last_eight", "LAO42317")]), "last_eight", "the letter O at place 3"),
        ("drain", vec![(String::new(), "x".repeat(9_000))], "", "bytes"),
        ("drain", vec![("place".into(), "pan".into()); 65], "", "reload the page"),
    ] {
        let answered = tablet.answered("step", kind, &fields);
        let refused = tablet.post("/bay/1/state", &answered).await;
        let told = told(&refused);
        assert_eq!((refused.status, &told["field"]), (422, &json!(field)), "{kind} {fields:?}: {told}");
        assert!(told["sentence"].as_str().unwrap().contains(words), "{told}");
    }
    let good = tablet.answered("pan", "drain", &pan("3 L"));
    for (name, value) in [
        ("entry_id", json!("7")),
        ("epoch", json!("short")),
        ("number", json!(0)),
        ("person", json!("a name with spaces")),
        ("time_us", json!("now")),
        ("boot_id", json!("")),
        ("monotonic_us", json!(-1)),
        ("colour", json!("unknown field")),
    ] {
        let mut wrong = good.clone();
        wrong[name] = value;
        let refused = tablet.post("/bay/1/state", &wrong).await;
        assert_eq!(refused.status, 422, "{wrong}: {}", refused.text());
        assert!(told(&refused)["sentence"].is_string());
    }
    let unknown = tablet.post("/bay/999/state", &good).await;
    assert_eq!(unknown.status, 404, "{}", unknown.text());
    assert_eq!(sealed(&shop, &server).await, before);
    // The same id with something else in it is told, and what is there stays.
    tablet.states(&good).await;
    let mut other = good.clone();
    other["fields"] = json!(pan("4 L"));
    assert_eq!(tablet.post("/bay/1/state", &other).await.status, 409);
    // The same answer from the same browser, which has become another station meanwhile, is there already.
    let mut again = Tablet::joined(&shop, &server, "bay-2", 0x100).await;
    let repeated = again.post("/bay/1/state", &good).await;
    assert_eq!(repeated.status, 200, "{}", repeated.text());
    assert_eq!(sealed(&shop, &server).await.len(), before.len() + 1);
}

#[tokio::test]
async fn an_answer_is_put_right_or_taken_back_and_both_may_be_sent_again() {
    let (shop, server) = booked().await;
    let mut tablet = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    let fields = pairs(&[("place", "pan"), ("amount", "3 L"), ("debris", "none")]);
    let pan = tablet.answered("pan", "drain", &fields);
    tablet.states(&pan).await;
    let corrected = |tablet: &mut Tablet<'_>, more: Value| {
        let mut answer = tablet.answered("pan", "drain", &[]);
        answer["corrected_entry_id"] = pan["entry_id"].clone();
        answer["reason"] = json!("misread");
        for (name, value) in more.as_object().unwrap() {
            answer[name] = value.clone();
        }
        answer
    };
    let right = json!({ "fields": [["place", "pan"], ["amount", "4 L"]] });
    let (right, back) = (corrected(&mut tablet, right), corrected(&mut tablet, json!({ "withdrawn": true })));
    for answer in [&right, &back, &right] {
        let taken = tablet.post("/bay/1/correct", answer).await;
        assert_eq!(taken.status, 200, "{}", taken.text());
    }
    assert_eq!(sealed(&shop, &server).await.len(), 5);
    for wrong in [
        json!({ "withdrawn": true, "fields": [["place", "pan"]] }),
        json!({ "corrected_entry_id": entry_id(9_999) }),
    ] {
        let wrong = corrected(&mut tablet, wrong);
        assert_eq!(tablet.post("/bay/1/correct", &wrong).await.status, 422, "{wrong}");
    }
    // Who decides signs by PIN; nothing of this waits for it.
    let sign = |pin: &str| json!({ "entry_id": pan["entry_id"], "person": "A", "pin": pin });
    let wrong = tablet.post("/bay/1/sign", &sign("0000")).await;
    assert_eq!((wrong.status, told(&wrong)["field"].clone()), (422, json!("pin")));
    let needless = tablet.post("/bay/1/sign", &sign(PIN)).await;
    assert_eq!(needless.status, 409, "{}", needless.text());
    assert_eq!(sealed(&shop, &server).await.len(), 5);
}

#[tokio::test]
async fn a_decision_waits_for_the_pin_of_its_person() {
    let (shop, server) = booked().await;
    let mut tablet = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    // SAE J2012: P0218 says that the fluid was too hot.
    let codes = pairs(&[("moment", "before"), ("state", "read"), ("codes", "P0218")]);
    let codes = tablet.answered("codes-before", "fault_codes", &codes);
    assert_eq!(tablet.states(&codes).await["signature_needed"], false);
    let why =
        pairs(&[("point", "fault-code-undecided"), ("reason", "the customer was told, on the telephone")]);
    let decided = tablet.answered("codes-before", "decision", &why);
    assert_eq!(tablet.states(&decided).await["signature_needed"], true);
    let sign =
        |person: &str, pin: &str| json!({ "entry_id": decided["entry_id"], "person": person, "pin": pin });
    for (person, pin) in [("A", "0000"), ("A", "4711 "), ("C", PIN)] {
        let refused = tablet.post("/bay/1/sign", &sign(person, pin)).await;
        assert_eq!(refused.status, 422, "{person} {pin}: {}", refused.text());
        assert!(!refused.text().contains(pin), "{}", refused.text());
    }
    for signed in [json!([decided["entry_id"]]), json!([])] {
        let taken = tablet.post("/bay/1/sign", &sign("A", PIN)).await;
        assert_eq!((taken.status, &told(&taken)["entry_ids"]), (200, &signed), "signed once");
    }
}

#[tokio::test]
async fn only_a_page_of_the_tablet_itself_states_anything() {
    let (shop, server) = booked().await;
    let mut tablet = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    let answer = tablet.answered("caution-lifted", "caution_read", &pairs(&[("group", "lifted")]));
    let (key, own) = (tablet.form_key(), format!("http://{}", server.addr));
    let json = ("content-type", "application/json");
    for (headers, status) in [
        (vec![("origin", "http://example.org"), json, ("x-form-key", key.as_str())], 403),
        (vec![("origin", own.as_str()), json], 403),
        (vec![("origin", own.as_str()), json, ("x-form-key", "guessed")], 403),
        (vec![("origin", own.as_str()), ("content-type", "text/plain"), ("x-form-key", key.as_str())], 422),
    ] {
        let refused = tablet.browser.ask("POST", "/bay/1/state", &headers, &answer.to_string()).await;
        assert_eq!(refused.status, status, "{headers:?}: {}", refused.text());
    }
    assert_eq!(sealed(&shop, &server).await.len(), 2);
    // A tablet is no office: other pages stay shut.
    assert_eq!(tablet.browser.get("/job/1").await.header("location"), Some("/login"));
    // Who is signed in answers for nobody else, through the office's own station.
    let browser = Browser::signed_in(&server).await;
    let mut office = Tablet { browser, number: 0, now_us: shop.clock.now_us(), from: 0x900 };
    let page = office.browser.get("/").await;
    let key = page.hidden("form_key");
    let mut by_another = office.answered("caution-lifted", "caution_read", &pairs(&[("group", "lifted")]));
    let headers = [("origin", own.as_str()), json, ("x-form-key", key.as_str())];
    let taken = office.browser.ask("POST", "/bay/1/state", &headers, &by_another.to_string()).await;
    assert_eq!(taken.status, 200, "{}", taken.text());
    by_another["person"] = json!("B");
    let refused = office.browser.ask("POST", "/bay/1/state", &headers, &by_another.to_string()).await;
    assert_eq!(refused.status, 403, "{}", refused.text());
}

#[tokio::test]
async fn a_revoked_tablet_is_told_nothing_more_and_states_nothing_more() {
    let (shop, server) = booked().await;
    let mut tablet = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    assert_eq!(tablet.browser.get("/bay/1").await.status, 200);
    let mut live = Open::new(&tablet.browser, "/bay/1/live", "").await;
    assert!(live.until("retry").await);
    state(&shop, &server, arrival("PH 482 K")).await;
    assert!(live.until("event: changed").await);
    order(&shop.dir, Order::RevokeStation { name: "bay-1".into() }).await.unwrap();
    // Revoking is an entry as well, and comes before the token is nobody's.
    assert!(live.ended().await <= 1);
    let answer = tablet.answered("caution-lifted", "caution_read", &pairs(&[("group", "lifted")]));
    let refused = tablet.post("/bay/1/state", &answer).await;
    assert!(refused.status == 401 && told(&refused)["sentence"].as_str().unwrap().contains("not joined"));
    let page = tablet.browser.get("/bay/1").await;
    assert!(
        page.status == 401 && page.text().contains("standpipe-server station code NAME"),
        "{}",
        page.text()
    );
    assert_eq!(tablet.browser.get("/bay/1/part").await.status, 401);
    // What it kept meanwhile is taken once it is let in again by a new code.
    let mut again = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    again.states(&answer).await;
}

#[tokio::test]
async fn a_token_of_another_site_lets_nobody_in_and_a_bay_sees_no_job_closed_long_ago() {
    let (shop, server) = booked().await;
    let (elsewhere, other) = booked().await;
    let foreign = Tablet::joined(&elsewhere, &other, "bay-1", 0x100).await;
    let mut tablet = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    let mut stranger = Browser::new(&server);
    stranger.cookies = foreign.browser.cookies.clone();
    assert_eq!(stranger.get("/bay/1").await.status, 401);
    state(&shop, &server, closing()).await;
    assert_eq!(tablet.browser.get("/bay/1").await.status, 200);
    shop.clock.forward(8 * DAY_US);
    assert_ne!(tablet.browser.get("/bay/1").await.status, 200);
    assert_ne!(tablet.browser.get("/bay/1/live").await.status, 200);
    assert_eq!(Browser::signed_in(&server).await.get("/bay/1").await.status, 200);
}

#[tokio::test]
async fn a_code_stands_five_wrong_guesses_and_no_other_kind_of_station_comes_in() {
    let (shop, server) = booked().await;
    let good = code(&shop, "bay-1").await;
    let mut browser = Browser::new(&server);
    let mistyped = browser.post("/join", &[("code", "ABCD")]).await;
    assert!(mistyped.status == 422 && mistyped.text().contains("copy it"), "{}", mistyped.text());
    // Codes of this server that were never printed, with the same beginning.
    let authority = standpipe_proto::join::JoinCode::read(&good).unwrap();
    for guess in 1..=5 {
        let guess = near(&authority, guess);
        let refused = browser.post("/join", &[("code", &guess)]).await;
        assert_eq!(refused.status, 403, "{}", refused.text());
    }
    assert_eq!(browser.post("/join", &[("code", &good)]).await.status, 403);
    let (name, role) = ("owner-1".to_owned(), crate::Role::Owner);
    let Done::Invited { code: owner, .. } =
        order(&shop.dir, Order::AddStation { name, role, kinds: Vec::new() }).await.unwrap()
    else {
        panic!("a code")
    };
    let refused = browser.post("/join", &[("code", &owner)]).await;
    assert!(refused.status == 403 && browser.cookies.is_empty(), "{}", refused.text());
    // It was made for the command, and the command can still join with it.
    let secret = standpipe_proto::join::JoinCode::read(&owner).unwrap().secret().to_owned();
    let token = "0123456789abcdef".repeat(4);
    let channel =
        tonic::transport::Endpoint::from_shared(format!("http://{}", server.addr)).unwrap().connect_lazy();
    let mut stations = v1::station_service_client::StationServiceClient::new(channel);
    stations.join(v1::JoinRequest { secret, token, ..v1::JoinRequest::default() }).await.unwrap();
}

/// A code with the first four characters of another, which find it among all codes.
fn near(code: &standpipe_proto::join::JoinCode, number: u64) -> String {
    // Crockford's base 32, as `proto/src/join.rs` writes it.
    let letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
    let bits = code
        .secret()
        .chars()
        .take(4)
        .fold(0, |bits, letter| bits << 5 | letters.find(letter).unwrap_or_default() as u64);
    standpipe_proto::join::JoinCode::new(bits << 30 | number, code.authority()).to_string()
}

#[tokio::test]
async fn a_tablets_token_renews_itself_when_a_page_is_loaded_and_the_page_stays_good() {
    let (shop, server) = booked().await;
    let mut tablet = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    let (before, key) = (tablet.browser.cookies.clone(), tablet.form_key());
    shop.clock.forward(61 * DAY_US);
    assert_eq!(tablet.browser.get("/bay/1").await.status, 200);
    assert_ne!(tablet.browser.cookies, before);
    assert_eq!(tablet.form_key(), key, "a page that is open already goes on");
    let answer = tablet.answered("caution-lifted", "caution_read", &pairs(&[("group", "lifted")]));
    tablet.states(&answer).await;
    let mut old = Browser::new(&server);
    old.cookies = before;
    assert_eq!(old.get("/bay/1").await.status, 401, "the one before ended with the first use of the new one");
}

#[tokio::test]
async fn a_photo_loses_its_place_and_is_kept_before_it_is_stated() {
    let (shop, server) = booked().await;
    let mut tablet = Tablet::joined(&shop, &server, "bay-1", 0x100).await;
    let mut jpeg = Vec::new();
    let picture = RgbImage::from_pixel(64, 48, Rgb([90, 60, 20]));
    picture.write_with_encoder(JpegEncoder::new_with_quality(&mut jpeg, 90)).unwrap();
    let place = b"Exif\0\0 53.55 N 9.99 E";
    let length = u16::try_from(place.len() + 2).unwrap().to_be_bytes();
    let photo = [&jpeg[..2], b"\xff\xe1", &length, place, &jpeg[2..]].concat();
    let mut entry = tablet.answered("sample-before", "photo", &[]);
    let (key, own) = (tablet.form_key(), format!("http://{}", server.addr));
    let mut sent = Vec::new();
    for _ in 0..2 {
        let told_entry = entry.to_string();
        let headers = [
            ("origin", own.as_str()),
            ("content-type", "image/jpeg"),
            ("x-form-key", key.as_str()),
            ("x-entry", told_entry.as_str()),
        ];
        let taken = tablet.browser.send("POST", "/bay/1/photo?subject=filter", &headers, &photo).await;
        assert_eq!(taken.status, 200, "{}", taken.text());
        sent.push(told(&taken));
    }
    assert_eq!(sent[0], sent[1]);
    assert_eq!(sent[0]["line"], "Photo: old filter.");
    let mut kept = Vec::new();
    files(&shop.dir.join("blobs"), &mut kept);
    let [kept] = &kept[..] else { panic!("{} files", kept.len()) };
    assert!(!kept.windows(7).any(|part| part == b"53.55 N"));
    let shown = |bytes: &[u8]| image::load_from_memory(bytes).unwrap();
    assert_eq!(shown(kept), shown(&jpeg), "the picture itself is not touched");
    // What shows nothing that is known, is no photo, or comes without its entry, is not kept.
    entry["entry_id"] = json!(entry_id(7_000));
    let told_entry = entry.to_string();
    let headers = [("origin", own.as_str()), ("content-type", "image/jpeg"), ("x-form-key", key.as_str())];
    let with_entry = [&headers[..], &[("x-entry", told_entry.as_str())]].concat();
    for (subject, headers, body) in [
        ("roof", &with_entry[..], &photo[..]),
        ("filter", &with_entry[..], b"GIF89a"),
        ("filter", &headers[..], &photo[..]),
    ] {
        let path = format!("/bay/1/photo?subject={subject}");
        let refused = tablet.browser.send("POST", &path, headers, body).await;
        assert_eq!(refused.status, 422, "{subject}: {}", refused.text());
    }
    assert_eq!(sealed(&shop, &server).await.len(), 3);
}

fn files(folder: &Path, found: &mut Vec<Vec<u8>>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { files(&path, found) } else { found.push(std::fs::read(path).unwrap()) }
    }
}

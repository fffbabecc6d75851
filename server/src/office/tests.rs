//! A whole server on a free port, asked as a browser asks: plain HTTP/1.1 over a socket.

mod at_owner;
mod bay;
mod live;
mod owner;
mod papers;
mod put_right;
mod recalls;
mod signing;
mod site;

use crate::tests::{Shop, arrival, closing, corrected_plate, job_id};
use crate::{Desk, Order, RunningServer, SystemEntropy, kept_pin, order};
use standpipe_proto::v1::AppendRequest;
use std::fmt::Write as _;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;

const PIN: &str = "4711";

struct Answer {
    status: u16,
    head: String,
    body: Vec<u8>,
}

impl Answer {
    fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    fn header(&self, name: &str) -> Option<&str> {
        let mut lines = self.head.lines().filter_map(|line| line.split_once(": "));
        lines.find(|(key, _)| key.eq_ignore_ascii_case(name)).map(|(_, value)| value)
    }

    /// The value of a hidden box.
    fn hidden(&self, name: &str) -> String {
        let text = self.text();
        let (_, rest) = text.split_once(&format!("name=\"{name}\" value=\"")).unwrap();
        rest.split('"').next().unwrap().to_owned()
    }
}

/// A browser that keeps its cookies.
struct Browser<'a> {
    server: &'a RunningServer,
    cookies: Vec<(String, String)>,
}

impl<'a> Browser<'a> {
    fn new(server: &'a RunningServer) -> Self {
        Self { server, cookies: Vec::new() }
    }

    async fn signed_in(server: &'a RunningServer) -> Self {
        let mut browser = Self::new(server);
        let answer = browser.sign_in("A", PIN).await;
        assert_eq!((answer.status, answer.header("location")), (303, Some("/")), "{}", answer.text());
        browser
    }

    async fn sign_in(&mut self, person: &str, pin: &str) -> Answer {
        let key = self.get("/login").await.hidden("form_key");
        self.post("/login", &[("form_key", &key), ("person", person), ("pin", pin)]).await
    }

    async fn get(&mut self, path: &str) -> Answer {
        self.ask("GET", path, &[], "").await
    }

    async fn post(&mut self, path: &str, boxes: &[(&str, &str)]) -> Answer {
        let own = format!("http://{}", self.server.addr);
        self.ask("POST", path, &[("origin", &own)], &encoded(boxes)).await
    }

    /// Fills in the form of a page with the hidden boxes it carries.
    async fn fill(&mut self, page: &str, hidden: &[&str], boxes: &[(&str, &str)]) -> Answer {
        let form = self.get(page).await;
        let values: Vec<_> = hidden.iter().map(|name| (*name, form.hidden(name))).collect();
        let mut all: Vec<(&str, &str)> = values.iter().map(|(name, value)| (*name, value.as_str())).collect();
        all.extend(boxes);
        self.post(page, &all).await
    }

    async fn ask(&mut self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        self.send(method, path, headers, body.as_bytes()).await
    }

    async fn send(&mut self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        let mut text = format!("{method} {path} HTTP/1.1\r\nconnection: close\r\n");
        if !headers.iter().any(|(name, _)| *name == "host") {
            let _ = write!(text, "host: {}\r\n", self.server.addr);
        }
        for (name, value) in headers {
            let _ = write!(text, "{name}: {value}\r\n");
        }
        let cookies: Vec<_> = self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
        let _ = write!(text, "cookie: {}\r\n", cookies.join("; "));
        if method == "POST" {
            if !headers.iter().any(|(name, _)| *name == "content-type") {
                text.push_str("content-type: application/x-www-form-urlencoded\r\n");
            }
            let _ = write!(text, "content-length: {}\r\n", body.len());
        }
        text.push_str("\r\n");
        let mut stream = TcpStream::connect(self.server.addr).await.unwrap();
        stream.write_all(&[text.as_bytes(), body].concat()).await.unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).await.unwrap();
        let end = answer.windows(4).position(|part| part == b"\r\n\r\n").unwrap();
        let head = String::from_utf8(answer[..end].to_vec()).unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        for line in head.lines().filter(|line| line.to_lowercase().starts_with("set-cookie: ")) {
            let (name, value) = line[12..].split(';').next().unwrap().split_once('=').unwrap();
            self.cookies.retain(|(known, _)| known != name);
            self.cookies.push((name.to_owned(), value.to_owned()));
        }
        Answer { status, head, body: answer[end + 4..].to_vec() }
    }
}

fn encoded(boxes: &[(&str, &str)]) -> String {
    let octets = |text: &str| text.bytes().fold(String::new(), |text, byte| format!("{text}%{byte:02x}"));
    boxes
        .iter()
        .map(|(name, value)| format!("{}={}", octets(name), octets(value)))
        .collect::<Vec<_>>()
        .join("&")
}

/// A shop whose person A has a PIN.
async fn shop() -> Shop {
    let shop = Shop::found().await;
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    desk.set_pin("A", &kept_pin(PIN, &SystemEntropy).unwrap()).await.unwrap();
    desk.close().await.unwrap();
    shop
}

const BOOKING: [(&str, &str); 7] = [
    ("plate", "ab 123"),
    ("odometer_kilometres", "118 240"),
    ("vin", "AZTWA8MZ3LA038412"),
    ("reason", "VISIT_REASON_SERVICE_DUE"),
    ("reason", "VISIT_REASON_SHUDDER"),
    ("name", "Customer C"),
    ("telephone", "0555 0199"),
];

#[tokio::test]
async fn nobody_sees_a_page_without_signing_in_and_a_wrong_pin_is_answered_like_a_wrong_person() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::new(&server);
    for page in ["/", "/open", "/variant", "/job/1", "/job/1/record.pdf", "/nowhere"] {
        let answer = browser.get(page).await;
        assert_eq!((answer.status, answer.header("location")), (303, Some("/login")), "{page}");
    }
    let mut answers = Vec::new();
    for (person, pin) in [("A", "0000"), ("A", ""), ("B", PIN), ("server", PIN), ("nobody", "0000")] {
        let mut browser = Browser::new(&server);
        let answer = browser.sign_in(person, pin).await;
        assert_eq!(answer.status, 403);
        assert_eq!(browser.get("/").await.status, 303);
        let (key, typed) = (answer.hidden("form_key"), format!("value=\"{person}\""));
        answers.push(answer.text().replace(&key, "KEY").replace(&typed, "value=\"\""));
    }
    assert!(answers.iter().all(|answer| *answer == answers[0]));
    let mut browser = Browser::signed_in(&server).await;
    assert!(browser.get("/").await.text().contains("technician A"));
    let key = browser.get("/").await.hidden("form_key");
    browser.post("/logout", &[("form_key", &key)]).await;
    assert_eq!(browser.get("/").await.status, 303);
}

#[tokio::test]
async fn five_wrong_pins_in_a_row_have_to_wait_a_minute() {
    let shop = shop().await;
    let server = shop.serve().await;
    for person in ["A", "nobody"] {
        let mut browser = Browser::new(&server);
        for _ in 0..5 {
            assert_eq!(browser.sign_in(person, "0000").await.status, 403);
        }
        let waits = browser.sign_in(person, PIN).await;
        assert!(waits.status == 429 && waits.text().contains("wait 60 seconds"), "{}", waits.text());
    }
    shop.clock.forward(60 * 1_000_000);
    Browser::signed_in(&server).await;
}

/// A browser asks for a picture of the site by itself; that must not spoil the form it is about to show.
#[tokio::test]
async fn a_login_form_stays_good_whatever_else_the_browser_asks_for() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::new(&server);
    let key = browser.get("/login").await.hidden("form_key");
    assert_eq!(browser.get("/favicon.ico").await.status, 204);
    assert_eq!(browser.get("/login").await.hidden("form_key"), key, "a second window");
    let answer = browser.post("/login", &[("form_key", &key), ("person", "A"), ("pin", PIN)]).await;
    assert_eq!(answer.status, 303);
}

#[tokio::test]
async fn a_session_ends_after_twelve_hours_and_with_its_person() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    shop.clock.forward(12 * 3_600_000_000 - 1);
    assert_eq!(browser.get("/").await.status, 200);
    shop.clock.forward(1);
    assert_eq!(browser.get("/").await.status, 303);
    let mut browser = Browser::signed_in(&server).await;
    order(&shop.dir, Order::RemovePerson { code: "A".into() }).await.unwrap();
    assert_eq!(browser.get("/").await.status, 303);
}

#[tokio::test]
async fn a_session_ends_with_the_pin_it_was_begun_with_and_is_nobody_else_s() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let set = |pin: &str| Order::SetPin { code: "A".into(), kept: kept_pin(pin, &SystemEntropy).unwrap() };
    order(&shop.dir, set("1793")).await.unwrap();
    assert_eq!(browser.get("/").await.status, 303);
    assert_eq!(browser.sign_in("A", "1793").await.header("location"), Some("/"));
    assert_eq!(browser.get("/").await.status, 200);
    // The code is given to somebody else, with a PIN that happens to be the same.
    order(&shop.dir, Order::RemovePerson { code: "A".into() }).await.unwrap();
    order(&shop.dir, Order::AddPerson { code: "A".into(), name: None }).await.unwrap();
    order(&shop.dir, set("1793")).await.unwrap();
    assert_eq!(browser.get("/").await.status, 303);
}

#[tokio::test]
async fn without_any_pin_the_page_says_how_to_set_one_and_the_order_works_on_a_running_server() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut browser = Browser::new(&server);
    let page = browser.get("/login").await;
    assert!(
        page.text().contains("standpipe-server person pin B --dir DIR")
            && !page.text().contains("type=\"password\"")
    );
    let kept = kept_pin(PIN, &SystemEntropy).unwrap();
    order(&shop.dir, Order::SetPin { code: "A".into(), kept }).await.unwrap();
    Browser::signed_in(&server).await;
}

#[tokio::test]
async fn every_answer_forbids_written_in_scripts_foreign_sources_and_being_kept() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let mut stranger = Browser::new(&server);
    for answer in [
        browser.get("/").await,
        browser.get("/open").await,
        browser.get("/job/9").await,
        browser.get("/nowhere").await,
        stranger.get("/login").await,
        stranger.get("/").await,
        stranger.get("/office.css").await,
        stranger.get("/office.js").await,
    ] {
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
        assert!(policy.contains("frame-ancestors 'none'") && policy.contains("form-action 'self'"));
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(answer.header("referrer-policy"), Some("same-origin"));
        assert_eq!(answer.header("cache-control"), Some("no-store"));
        let scripts = answer.text().matches("<script").count();
        let own = answer.text().matches("<script src=\"/office.js\" defer></script>").count();
        assert!(scripts == own && !answer.text().contains(" style="));
    }
    let cookie = stranger.get("/login").await.header("set-cookie").unwrap().to_owned();
    assert!(cookie.contains("HttpOnly; SameSite=Strict"), "{cookie}");
}

#[tokio::test]
async fn a_form_of_another_page_is_refused_and_changes_nothing() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let form = browser.get("/open").await;
    let (key, job) = (form.hidden("form_key"), form.hidden("job"));
    let own = format!("http://{}", server.addr);
    let good = encoded(&[("form_key", &key), ("job", &job), ("plate", "AB 123")]);
    let forged = encoded(&[("form_key", &"0".repeat(64)), ("job", &job), ("plate", "AB 123")]);
    let without = encoded(&[("job", &job), ("plate", "AB 123")]);
    for (headers, body) in [
        (vec![("origin", own.as_str())], &forged),
        (vec![("origin", own.as_str())], &without),
        (vec![("origin", "http://example.org")], &good),
        (vec![("origin", "null")], &good),
        (vec![("sec-fetch-site", "cross-site")], &good),
    ] {
        assert_eq!(browser.ask("POST", "/open", &headers, body).await.status, 403);
    }
    let renamed = browser.ask("GET", "/", &[("host", "example.org")], "").await;
    assert_eq!(renamed.status, 421);
    assert!(browser.get("/").await.text().contains("There is no job yet."));
    assert_eq!(browser.ask("POST", "/open", &[("origin", &own)], &good).await.status, 303);
}

#[tokio::test]
async fn a_come_back_is_opened_with_the_customer_s_words_and_finds_the_earlier_job() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    assert_eq!(browser.fill("/open", &["form_key", "job"], &BOOKING).await.status, 303);
    assert!(browser.get("/job/1").await.text().contains("No earlier job of this vehicle is known here."));
    let boxes = [
        ("plate", "AB-123"),
        ("odometer_kilometres", "118000"),
        ("complaint_about_job", "hl-26-0001"),
        ("complaint", "Still jerks.\r\nOnly when <cold>."),
        ("high_voltage", "ANSWER_YES"),
    ];
    let form = browser.get("/open").await;
    let hidden = ["form_key", "job", "salt"].map(|name| (name, form.hidden(name)));
    let hidden = hidden.iter().map(|(name, value)| (*name, value.as_str()));
    let all: Vec<(&str, &str)> = hidden.chain(boxes).collect();
    // A form that is sent twice opens one job and leaves one file.
    for _ in 0..2 {
        assert_eq!(browser.post("/open", &all).await.status, 303);
    }
    assert_eq!(std::fs::read_dir(shop.dir.join("blobs")).unwrap().count(), 1);
    let page = browser.get("/job/2").await.text();
    for part in [
        "Earlier jobs",
        "Job HL-26-0001, ",
        "is less than the 118",
        "comes back 0 days after job HL-26-0001",
        "complaint about job HL-26-0001, high-voltage system",
    ] {
        assert!(page.contains(part), "{part} is missing in\n{page}");
    }
    assert_eq!(browser.get("/job/3").await.status, 404);
    // Words without the salt of a form are not taken, and too many are told at their box.
    let stranger: Vec<(&str, &str)> = all.iter().copied().filter(|(name, _)| *name != "salt").collect();
    assert_eq!(browser.post("/open", &stranger).await.status, 403);
    let long = "x".repeat(4_001);
    let booking = [("plate", "AB 123"), ("order", long.as_str())];
    let refused = browser.fill("/open", &["form_key", "job", "salt"], &booking).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text().contains("This has 4001 characters; 1 to 4000"), "{}", refused.text());
}

#[tokio::test]
async fn a_job_is_opened_seen_found_printed_issued_and_reprinted() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let form = browser.get("/open").await;
    let (key, id) = (form.hidden("form_key"), form.hidden("job"));
    let booking: Vec<_> =
        [("form_key", key.as_str()), ("job", id.as_str())].into_iter().chain(BOOKING).collect();
    let opened = browser.post("/open", &booking).await;
    assert_eq!(
        (opened.status, opened.header("location")),
        (303, Some("/job/HL-26-0001")),
        "{}",
        opened.text()
    );
    let job = browser.get("/job/HL-26-0001").await;
    let text = job.text();
    for part in
        ["HL-26-0001", "AB 123", "AZTWA8MZ3LA038412", "Customer C", "technician A", "118", "Story", "Next"]
    {
        assert!(text.contains(part), "{part} is missing in {text}");
    }
    for search in ["", "1", "HL-26-0001", "ab123", "LA038412", "customer%20c", "0555"] {
        let page = browser.get(&format!("/?search={search}")).await.text();
        assert!(page.contains("/job/HL-26-0001"), "{search}");
    }
    assert!(browser.get("/?search=nothing").await.text().contains("No job fits"));
    for paper in ["/job/1/record.pdf", "/job/1/sheet.pdf", "/photo-sheet.pdf"] {
        let pdf = browser.get(paper).await;
        assert_eq!((pdf.status, pdf.header("content-type")), (200, Some("application/pdf")), "{paper}");
        assert!(
            pdf.body.starts_with(b"%PDF-")
                && pdf.header("content-disposition").unwrap().starts_with("inline")
        );
    }
    assert!(!text.contains("Issue the record") && !text.contains("Handed over"));
    close(&shop, &server, &id).await;
    let job = browser.get("/job/HL-26-0001").await;
    let (key, request) = (job.hidden("form_key"), job.hidden("request"));
    for _ in 0..2 {
        let issued =
            browser.post("/job/HL-26-0001/issue", &[("form_key", &key), ("request", &request)]).await;
        assert_eq!(issued.header("location"), Some("/job/HL-26-0001/edition/1"), "{}", issued.text());
    }
    let (first, again) =
        (browser.get("/job/HL-26-0001/edition/1").await, browser.get("/job/HL-26-0001/edition/1").await);
    assert!(first.status == 200 && first.body.starts_with(b"%PDF-") && first.body == again.body);
    let page = browser.get("/job/HL-26-0001").await.text();
    assert!(page.contains("Edition 1 again") && !page.contains("Issue the record"), "{page}");
    let another = uuid::Uuid::max().to_string().replace("ffff-ffff-ffff", "ffff-7fff-bfff");
    let again = browser.post("/job/HL-26-0001/issue", &[("form_key", &key), ("request", &another)]).await;
    assert!(again.status == 409 && again.text().contains("not changed since edition 1"), "{}", again.text());
    assert_eq!(browser.get("/job/HL-26-0001/edition/2").await.status, 404);
    server.shutdown();
    server.join().await.unwrap();
    assert!(crate::verify(&shop.dir).await.unwrap().is_sound());
}

async fn close(shop: &Shop, server: &RunningServer, job: &str) {
    let mut bay = shop.journal(server, "bay-1").await;
    let entry = shop.seal("bay-1", job, closing());
    bay.append(AppendRequest { entry }).await.unwrap();
}

#[tokio::test]
async fn a_form_sent_twice_opens_one_job_and_numbers_go_on_after_a_restart() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let form = browser.get("/open").await;
    let (key, job) = (form.hidden("form_key"), form.hidden("job"));
    let boxes = [("form_key", key.as_str()), ("job", job.as_str()), ("plate", "AB 123")];
    for _ in 0..2 {
        assert_eq!(browser.post("/open", &boxes).await.header("location"), Some("/job/HL-26-0001"));
    }
    server.shutdown();
    server.join().await.unwrap();
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let opened = browser.fill("/open", &["form_key", "job"], &[("plate", "CD 456")]).await;
    assert_eq!(opened.header("location"), Some("/job/HL-26-0002"));
    server.shutdown();
    server.join().await.unwrap();
    let verified = crate::verify(&shop.dir).await.unwrap();
    assert!(verified.is_sound(), "{:?}", verified.beside);
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    assert!(desk.add_station(crate::OFFICE_STATION, crate::Role::Bay).await.is_err());
    desk.close().await.unwrap();
}

#[tokio::test]
async fn what_is_wrong_stands_beside_its_box_and_what_was_typed_stays() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let boxes = [
        ("plate", ""),
        ("odometer_kilometres", "many"),
        ("vin", "SHORT"),
        ("name", ""),
        ("telephone", "0555 0199"),
    ];
    let refused = browser.fill("/open", &["form_key", "job"], &boxes).await;
    let text = refused.text();
    assert_eq!(refused.status, 422);
    for name in ["plate", "odometer_kilometres", "vin", "name"] {
        let (_, beside) = text.split_once(&format!("id=\"{name}-about\">")).unwrap();
        assert!(!beside.starts_with('<'), "{name} has nothing beside it");
    }
    assert!(text.contains("value=\"0555 0199\"") && text.contains("'many' is no number"));
    assert!(browser.get("/").await.text().contains("There is no job yet."));
}

#[tokio::test]
async fn what_people_type_is_shown_as_it_is_and_never_becomes_a_page() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(1), arrival("<script>1"));
    bay.append(AppendRequest { entry }).await.unwrap();
    let mut browser = Browser::signed_in(&server).await;
    for page in ["/", "/job/1", "/?search=%3Cscript%3E", "/?search=%22%3E%3Cscript%3E", "/job/%3Cscript%3E"] {
        let text = browser.get(page).await.text().replace("<script src=\"/office.js\" defer></script>", "");
        assert!(!text.to_lowercase().contains("<script"), "{page}");
    }
    assert!(browser.get("/").await.text().contains("&lt;script&gt;1"));
    let named = [("plate", "\"><IMG SRC"), ("name", "<b>&\"'"), ("vehicle_maker", "<i>")];
    let opened = browser.fill("/open", &["form_key", "job"], &named).await;
    let page = browser.get(opened.header("location").unwrap()).await.text();
    assert!(
        page.contains("&lt;b&gt;&amp;&quot;'") && !page.contains("<IMG") && !page.contains("<i>"),
        "{page}"
    );
}

#[tokio::test]
async fn a_correction_shows_the_old_words_struck() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(1), arrival("AB 123"));
    let first = bay.append(AppendRequest { entry }).await.unwrap().into_inner().acknowledgement.unwrap();
    let mut browser = Browser::signed_in(&server).await;
    assert!(!browser.get("/job/1").await.text().contains("<s>"));
    let entry = shop.seal("bay-1", &job_id(1), corrected_plate(&first.entry_id, "XY 999"));
    bay.append(AppendRequest { entry }).await.unwrap();
    let text = browser.get("/job/1").await.text();
    let (_, struck) = text.split_once("<s>").unwrap();
    assert!(struck.split("</s>").next().unwrap().contains("AB 123"));
    assert!(text.contains("<h1>HL-26-0001 – XY 999</h1>") && text.contains("http-equiv=\"refresh\""));
}

#[tokio::test]
async fn a_variant_is_entered_on_a_running_server_and_wrong_values_are_listed() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let boxes = |total: &'static str, to: &'static str| {
        [
            ("maker", "Tarnwick"),
            ("name", "Alder-8"),
            ("code", "A8-III"),
            ("label", "third series"),
            ("fluid_code", "LN-847"),
            ("fluid_name", "Linden"),
            ("density_at_15_celsius_kilograms_per_cubic_metre", "847"),
            ("total_fill_litres", total),
            ("level_method", "standpipe_overflow"),
            ("level_from_celsius", "40"),
            ("level_to_celsius", to),
            ("source", "Tarnwick parts data (invented)"),
            ("edition", "2025-11"),
        ]
    };
    let refused = browser.fill("/variant", &["form_key"], &boxes("much", "30")).await;
    let text = refused.text();
    assert_eq!(refused.status, 422);
    for name in ["total_fill_litres", "level_to_celsius"] {
        let (_, beside) = text.split_once(&format!("id=\"{name}-about\">")).unwrap();
        assert!(beside.starts_with("This "), "{name} has nothing beside it: {text}");
    }
    assert!(text.contains("value=\"much\"") && text.contains("value=\"Alder-8\""), "what was typed stays");
    let taken = browser.fill("/variant", &["form_key"], &boxes("9", "50")).await;
    assert_eq!(taken.status, 200, "{}", taken.text());
    assert!(browser.get("/catalogue").await.text().contains("Tarnwick Alder-8, third series"));
    let twice = browser.fill("/variant", &["form_key"], &boxes("9", "50")).await;
    assert!(twice.status == 422 && twice.text().contains("in the catalogue already"));
    let opened = browser.fill("/open", &["form_key", "job"], &[("plate", "AB 123")]).await;
    assert_eq!(opened.header("location"), Some("/job/HL-26-0001"));
    server.shutdown();
    server.join().await.unwrap();
    let verified = crate::verify(&shop.dir).await.unwrap();
    assert!(verified.is_sound(), "{:?}", verified.beside);
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    assert!(browser.get("/catalogue").await.text().contains("A8-III"));
}

#[tokio::test]
async fn a_form_that_is_too_large_is_refused_in_one_sentence() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let refused = browser.fill("/open", &["form_key", "job"], &[("plate", &"x".repeat(30_000))]).await;
    assert!(refused.status == 413 && refused.text().contains("more than 64 KiB"), "{}", refused.text());
    let odd = browser.ask("POST", "/open", &[], "form_key=%ff%fe&job").await;
    assert_eq!(odd.status, 403);
    assert!(browser.get("/").await.text().contains("There is no job yet."));
}

#[tokio::test]
async fn a_call_without_its_type_reaches_no_service() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::new(&server);
    let own = format!("http://{}", server.addr);
    let answer = browser.ask("POST", "/standpipe.v1.JobService/List", &[("origin", &own)], "").await;
    assert_eq!(answer.status, 415);
    let mut browser = Browser::signed_in(&server).await;
    assert_eq!(browser.get("/grpc.health.v1.Health/Check").await.status, 415);
    // What is no method is no page either.
    assert_eq!(browser.get("/standpipe.v1.JobService/Delete").await.status, 404);
}

//! Streams of changes, read as they come.

use super::{Browser, shop};
use crate::tests::{Shop, arrival, job_id};
use crate::{Order, RunningServer, order};
use standpipe_proto::limits::PAGE_STREAMS_PER_SESSION_MAX;
use standpipe_proto::v1::{self, AppendRequest, fact::Kind};
use std::time::{Duration, Instant};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;

/// An answer that has not ended.
pub(super) struct Open {
    socket: TcpStream,
    text: String,
}

impl Open {
    pub(super) async fn new(browser: &Browser<'_>, path: &str, more: &str) -> Self {
        let cookies: Vec<_> = browser.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
        let address = browser.server.addr;
        let mut socket = TcpStream::connect(address).await.unwrap();
        let cookies = cookies.join("; ");
        // The connection ends with the answer, so that its end is seen.
        let head = format!("host: {address}\r\nconnection: close\r\ncookie: {cookies}\r\n{more}");
        let asked = format!("GET {path} HTTP/1.1\r\n{head}\r\n");
        socket.write_all(asked.as_bytes()).await.unwrap();
        Self { socket, text: String::new() }
    }

    /// Reads on until this has come; false if the stream ends first.
    pub(super) async fn until(&mut self, wanted: &str) -> bool {
        let mut part = [0; 1024];
        while !self.text.contains(wanted) {
            let read = self.socket.read(&mut part).await.unwrap();
            if read == 0 {
                return false;
            }
            self.text.push_str(&String::from_utf8_lossy(&part[..read]));
        }
        let end = self.text.find(wanted).unwrap() + wanted.len();
        self.text.drain(..end);
        true
    }

    /// Reads to the end and says how often a change was told.
    pub(super) async fn ended(mut self) -> usize {
        assert!(!self.until("\0never\0").await);
        // The last chunk of the answer is empty (RFC 9112, section 7.1): the server ended it, it did not break off.
        assert!(self.text.ends_with("0\r\n\r\n"), "{}", self.text);
        self.text.matches("event: changed").count()
    }
}

async fn arrives(shop: &Shop, server: &RunningServer, job: u64) {
    let mut bay = shop.journal(server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(job), arrival("AB 123"));
    bay.append(AppendRequest { entry }).await.unwrap();
}

#[tokio::test]
async fn a_page_is_told_of_entries_of_its_job_and_the_table_of_all() {
    let shop = shop().await;
    let server = shop.serve().await;
    arrives(&shop, &server, 1).await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/job/1").await.text();
    let (_, live) = page.split_once("data-live=\"").unwrap();
    let mut job = Open::new(&browser, live.split('"').next().unwrap(), "").await;
    assert!(job.until("200 OK").await && job.until("text/event-stream").await && job.until("retry").await);
    let page = browser.get("/").await.text();
    let (_, live) = page.split_once("data-live=\"").unwrap();
    let mut table = Open::new(&browser, live.split('"').next().unwrap(), "").await;
    assert!(table.until("retry").await);
    arrives(&shop, &server, 2).await;
    assert!(table.until("event: changed").await && table.until("id: ").await);
    arrives(&shop, &server, 1).await;
    assert!(job.until("event: changed").await);
    // What came between the page and its stream, or while a browser was away, is told at once.
    let mut late = Open::new(&browser, "/job/1/live?after=1", "").await;
    assert!(late.until("event: changed").await);
    let mut back = Open::new(&browser, "/live", "last-event-id: 1\r\n").await;
    assert!(back.until("event: changed").await);
    let mut restored = Open::new(&browser, "/live?after=4000", "").await;
    assert!(restored.until("event: changed").await);
    server.shutdown();
    // The page of the first job was told once: the second job is none of its business.
    assert_eq!(job.ended().await, 0);
    server.join().await.unwrap();
}

#[tokio::test]
async fn a_stream_ends_with_its_session_its_person_and_the_server() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let other = Browser::signed_in(&server).await;
    let (mut own, mut others) =
        (Open::new(&browser, "/live", "").await, Open::new(&other, "/live", "").await);
    assert!(own.until("retry").await && others.until("retry").await);
    let key = browser.get("/").await.hidden("form_key");
    browser.post("/logout", &[("form_key", &key)]).await;
    assert_eq!(own.ended().await, 0);
    let refused = browser.get("/live").await;
    assert_eq!((refused.status, refused.header("location")), (303, Some("/login")));
    // A session that has run out is told nothing more.
    shop.clock.forward(13 * 3_600_000_000);
    arrives(&shop, &server, 1).await;
    assert_eq!(others.ended().await, 0);
    let browser = Browser::signed_in(&server).await;
    let mut removed = Open::new(&browser, "/live", "").await;
    assert!(removed.until("retry").await);
    // Removing is an entry as well, and comes before the person is gone from the list.
    order(&shop.dir, Order::RemovePerson { code: "A".into() }).await.unwrap();
    for job in 2..=3 {
        arrives(&shop, &server, job).await;
    }
    assert!(removed.ended().await <= 1);
}

#[tokio::test]
async fn an_open_stream_does_not_hold_up_a_stop() {
    let shop = shop().await;
    let server = shop.serve().await;
    let browser = Browser::signed_in(&server).await;
    let mut open = Open::new(&browser, "/live", "").await;
    assert!(open.until("retry").await);
    let began = Instant::now();
    server.shutdown();
    server.join().await.unwrap();
    // The deadline of a stop is ten seconds; far below it shows that nobody waited for the page.
    assert!(began.elapsed() < Duration::from_secs(9));
    assert_eq!(open.ended().await, 0);
}

#[tokio::test]
async fn a_session_has_so_many_streams_and_one_that_ends_makes_room() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let mut open = Vec::new();
    for _ in 0..PAGE_STREAMS_PER_SESSION_MAX {
        let mut stream = Open::new(&browser, "/live", "").await;
        assert!(stream.until("retry").await);
        open.push(stream);
    }
    let refused = browser.get("/live").await;
    assert!(refused.status == 429 && refused.text().contains("close some of them"), "{}", refused.text());
    let mut other = Open::new(&Browser::signed_in(&server).await, "/live", "").await;
    assert!(other.until("retry").await, "another session has its own");
    let key = browser.get("/").await.hidden("form_key");
    browser.post("/logout", &[("form_key", &key)]).await;
    for stream in open {
        stream.ended().await;
    }
}

/// The pan is off and refilled, the gears were moved, and the fluid is too hot for the level.
fn too_hot_for_the_level() -> Vec<Kind> {
    let (pan, weighed) = (v1::DrainedFrom::Pan.into(), v1::Means::Scale.into());
    let reading = v1::vin_reading::Reading::Vin("AZTWA8M47LA042317".into());
    vec![
        arrival("AB 123"),
        Kind::VinReading(v1::VinReading { reading: Some(reading), source: v1::VinSource::Papers.into() }),
        Kind::VariantSettled(v1::VariantSettled {
            variant_code: "A8-II".into(),
            means: v1::SettledBy::CatalogueRule.into(),
            transmission_plate_agrees: v1::Answer::Yes.into(),
            ..v1::VariantSettled::default()
        }),
        Kind::Drain(v1::Drain {
            place: pan,
            amount: Some(v1::drain::Amount::MassKilograms(3.05)),
            means: weighed,
            ..v1::Drain::default()
        }),
        Kind::Fill(v1::Fill {
            purpose: v1::FillPurpose::Refill.into(),
            amount: Some(v1::fill::Amount::MassKilograms(3.05)),
            means: weighed,
            fluid_code: "LN-847".into(),
            lot: "L-2209".into(),
            ..v1::Fill::default()
        }),
        Kind::GearCycle(v1::GearCycle {
            driver_person_code: "A".into(),
            nobody_under_vehicle: v1::Answer::Yes.into(),
        }),
        Kind::TemperatureReading(v1::TemperatureReading {
            temperature_celsius: 75.0,
            place: v1::TemperatureOf::TransmissionFluid.into(),
            means: v1::TemperatureMeans::ScanTool.into(),
            ..Default::default()
        }),
    ]
}

#[tokio::test]
async fn a_job_page_is_told_when_the_clock_alone_changes_what_is_done_next() {
    let shop = shop().await;
    let from = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy/catalogue");
    order(&shop.dir, Order::ImportCatalogue { from }).await.unwrap();
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    for kind in too_hot_for_the_level() {
        bay.append(AppendRequest { entry: shop.seal("bay-1", &job_id(1), kind) }).await.unwrap();
    }
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/job/1").await.text();
    assert!(page.contains("Too hot: 75"), "{page}");
    let (_, live) = page.split_once("data-live=\"").unwrap();
    let live = live.split('"').next().unwrap().replace("&amp;", "&");
    let mut job = Open::new(&browser, &live, "").await;
    assert!(job.until("retry").await);
    shop.clock.forward(3_600_000_000);
    assert!(job.until("event: changed").await);
    let later = browser.get("/job/1").await.text();
    assert!(!later.contains("Too hot: 75"), "{later}");
    // A browser that was away meanwhile, and still shows the old lines, is told at its next look.
    let mut back = Open::new(&browser, &live, "").await;
    assert!(back.until("event: changed").await);
    server.shutdown();
    assert_eq!((job.ended().await, back.ended().await), (0, 0), "each change is told once");
    server.join().await.unwrap();
}

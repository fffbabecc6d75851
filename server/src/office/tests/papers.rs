//! What is handed over, said in words and shown as pictures on the page of a job.

use super::*;
use crate::blob::digest_of;
use crate::tests::bearer;
use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};
use standpipe_proto::v1::blob_service_client::BlobServiceClient;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{
    GetRequest, Photo, PhotoSubject, PutBlobRequest, Remark, RemarkSubject, fact::Kind,
};

#[tokio::test]
async fn an_edition_is_handed_over_once_and_the_next_one_again() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(1), arrival("AB 123"));
    let first = bay.append(AppendRequest { entry }).await.unwrap().into_inner().acknowledgement.unwrap();
    close(&shop, &server, &job_id(1)).await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/job/1").await;
    assert!(!page.text().contains("Handed over"), "nothing is issued yet");
    let key = page.hidden("form_key");
    let forms = |page: &Answer| page.text().matches("/handover\"").count();
    let stated = |page: &Answer| page.text().matches("Vehicle and record handed over").count();
    let request = page.hidden("request");
    browser.post("/job/1/issue", &[("form_key", &key), ("request", &request)]).await;
    let page = browser.get("/job/1").await;
    assert_eq!((forms(&page), page.hidden("edition").as_str()), (1, "1"));
    // An edition that was never issued, and a form of nobody, state nothing; the right one does so once.
    browser.post("/job/1/handover", &[("form_key", &key), ("edition", "2")]).await;
    assert_eq!(browser.post("/job/1/handover", &[("edition", "1")]).await.status, 403);
    let before = stated(&browser.get("/job/1").await);
    for _ in 0..2 {
        let done = browser.post("/job/1/handover", &[("form_key", &key), ("edition", "1")]).await;
        assert_eq!(done.header("location"), Some("/job/HL-26-0001"));
    }
    let page = browser.get("/job/1").await;
    assert_eq!((forms(&page), before), (0, 0));
    assert_eq!(page.text().matches("<td>technician A</td>").count(), 4, "{}", page.text());
    assert!(browser.get("/").await.text().contains("Handed over, edition 1"));
    let entry = shop.seal("bay-1", &job_id(1), corrected_plate(&first.entry_id, "XY 999"));
    bay.append(AppendRequest { entry }).await.unwrap();
    let page = browser.get("/job/1").await;
    let request = page.hidden("request");
    browser.post("/job/1/issue", &[("form_key", &key), ("request", &request)]).await;
    assert_eq!(browser.get("/job/1").await.hidden("edition"), "2");
    server.shutdown();
    server.join().await.unwrap();
    assert!(crate::verify(&shop.dir).await.unwrap().is_sound());
}

async fn state(shop: &Shop, server: &RunningServer, job: u64, kind: Kind) {
    let mut bay = shop.journal(server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(job), kind);
    bay.append(AppendRequest { entry }).await.unwrap();
}

async fn send(shop: &Shop, server: &RunningServer, bytes: &[u8]) {
    let mut blobs = BlobServiceClient::new(shop.bearer(server, "bay-1").await);
    let part = PutBlobRequest { blob_digest: digest_of(bytes), part: bytes.to_vec() };
    blobs.put_blob(tokio_stream::iter([part])).await.unwrap();
}

fn said(words: &str, subject: RemarkSubject) -> (Vec<u8>, Kind) {
    let salted = [&[7; 16][..], words.as_bytes()].concat();
    let remark = Remark { blob_digest: digest_of(&salted), subject: subject.into() };
    (salted, Kind::Remark(remark))
}

#[tokio::test]
async fn what_people_said_stands_on_the_page_and_is_told_to_every_station_until_it_is_erased() {
    let shop = shop().await;
    let server = shop.serve().await;
    state(&shop, &server, 1, arrival("AB 123")).await;
    let (complaint, kind) = said("Jerks <b>when</b> cold", RemarkSubject::Complaint);
    send(&shop, &server, &complaint).await;
    state(&shop, &server, 1, kind).await;
    let (_, kind) = said("never sent", RemarkSubject::DriveBefore);
    state(&shop, &server, 1, kind).await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/job/1").await.text();
    assert!(page.contains("In words"), "{page}");
    assert!(page.contains("The customer’s complaint: “Jerks &lt;b&gt;when&lt;/b&gt; cold”"), "{page}");
    assert!(page.contains("The drive before the service: words not yet arrived"), "{page}");
    assert!(page.contains(&digest_of(&complaint)), "by its digest it is erased");
    let words = async |token: &str| {
        let mut jobs = JobServiceClient::new(bearer(&server, token).await);
        let job = jobs.get(GetRequest { job: "1".into() }).await.unwrap().into_inner().job.unwrap();
        job.words.into_iter().map(|words| format!("{}: {}", words.subject, words.text)).collect::<Vec<_>>()
    };
    let bay = words(&shop.token("bay-1")).await;
    assert_eq!(bay[0], "the customer’s complaint: “Jerks <b>when</b> cold”");
    assert_eq!((bay.len(), &bay), (2, &words(&shop.token("office")).await));
    order(&shop.dir, Order::EraseRemark { digest: digest_of(&complaint) }).await.unwrap();
    let page = browser.get("/job/1").await.text();
    assert!(page.contains("The customer’s complaint: words erased") && !page.contains("Jerks"), "{page}");
    assert_eq!(words(&shop.token("bay-1")).await[0], "the customer’s complaint: words erased");
}

#[tokio::test]
async fn a_photo_is_shown_as_a_picture_of_the_job_that_names_it_and_of_no_other() {
    let shop = shop().await;
    let server = shop.serve().await;
    for job in [1, 2] {
        state(&shop, &server, job, arrival("AB 123")).await;
    }
    let mut jpeg = Vec::new();
    let picture = RgbImage::from_pixel(900, 600, Rgb([20, 90, 60]));
    picture.write_with_encoder(JpegEncoder::new_with_quality(&mut jpeg, 95)).unwrap();
    let digest = digest_of(&jpeg);
    let photo =
        |blob_digest: String| Kind::Photo(Photo { blob_digest, subject: PhotoSubject::Magnets.into() });
    send(&shop, &server, &jpeg).await;
    state(&shop, &server, 1, photo(digest.clone())).await;
    state(&shop, &server, 1, photo("a".repeat(64))).await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/job/1").await.text();
    let source = format!("/job/HL-26-0001/photo/{digest}");
    assert!(page.contains(&format!("<img src=\"{source}\" alt=\"Pan and magnets\"")), "{page}");
    assert!(page.contains("The photo is not yet arrived."), "{page}");
    let shown = browser.get(&source).await;
    assert_eq!((shown.status, shown.header("content-type")), (200, Some("image/jpeg")));
    assert_eq!(shown.header("x-content-type-options"), Some("nosniff"));
    let copy = image::load_from_memory(&shown.body).unwrap();
    assert_eq!((copy.width(), copy.height()), (640, 427), "the copy that the record prints");
    // Nobody without a session, not under another job, and no file that no photo names.
    assert_eq!(Browser::new(&server).get(&source).await.status, 303);
    assert_eq!(browser.get(&format!("/job/2/photo/{digest}")).await.status, 404);
    let (words, _) = said("cold", RemarkSubject::Complaint);
    send(&shop, &server, &words).await;
    for other in [digest_of(&words), "a".repeat(64), "..%2f..%2fsite.toml".to_owned()] {
        assert_eq!(browser.get(&format!("/job/1/photo/{other}")).await.status, 404, "{other}");
    }
    order(&shop.dir, Order::EraseRemark { digest }).await.unwrap();
    assert_eq!(browser.get(&source).await.status, 409);
    let page = browser.get("/job/1").await.text();
    assert!(page.contains("The photo is erased.") && !page.contains("<img"), "{page}");
}

#[tokio::test]
async fn a_distance_that_can_be_read_in_two_ways_is_asked_back_and_miles_are_read() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    for (typed, told) in [
        ("64,210", "can be read in two ways; write 64210 km or 64.21 km."),
        ("64.210 km", "can be read in two ways"),
        ("64210 kg", "is no unit for this; km or mi is needed."),
    ] {
        let boxes = [("plate", "AB 123"), ("odometer_kilometres", typed)];
        let refused = browser.fill("/open", &["form_key", "job"], &boxes).await;
        let text = refused.text();
        let (_, beside) = text.split_once("id=\"odometer_kilometres-about\">").unwrap();
        assert!(refused.status == 422 && beside.split('<').next().unwrap().contains(told), "{text}");
    }
    for (number, typed, shown) in
        [(1, "64 210", "64\u{202f}210"), (2, "100 mi", "161"), (3, "64210,5", "64\u{202f}21")]
    {
        let boxes = [("plate", "AB 123"), ("odometer_kilometres", typed)];
        assert_eq!(browser.fill("/open", &["form_key", "job"], &boxes).await.status, 303, "{typed}");
        let page = browser.get(&format!("/job/{number}")).await.text();
        let (_, at_arrival) = page.split_once("At arrival").unwrap();
        assert!(at_arrival.split("</dd>").next().unwrap().contains(shown), "{typed}: {page}");
    }
}

#[tokio::test]
async fn a_person_code_is_good_in_either_case_if_only_one_is_meant() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::new(&server);
    assert_eq!(browser.sign_in("a", PIN).await.status, 303);
    assert!(browser.get("/").await.text().contains("technician A"));
    // Five wrong ones in either case are five of the same person.
    let mut browser = Browser::new(&server);
    for person in ["a", "A", "a", "A", "a"] {
        assert_eq!(browser.sign_in(person, "0000").await.status, 403);
    }
    assert_eq!(browser.sign_in("A", PIN).await.status, 429);
    shop.clock.forward(60 * 1_000_000);
    for code in ["Jo", "jO"] {
        order(&shop.dir, Order::AddPerson { code: code.into(), name: None }).await.unwrap();
        let kept = kept_pin(PIN, &SystemEntropy).unwrap();
        order(&shop.dir, Order::SetPin { code: code.into(), kept }).await.unwrap();
    }
    for (typed, status) in [("jo", 403), ("JO", 403), ("Jo", 303), ("jO", 303)] {
        assert_eq!(Browser::new(&server).sign_in(typed, PIN).await.status, status, "{typed}");
    }
}

#[tokio::test]
async fn the_page_of_a_job_says_what_the_fluid_speaks_for_and_by_which_rule() {
    let shop = shop().await;
    let server = shop.serve().await;
    state(&shop, &server, 1, arrival("AB 123")).await;
    let mut browser = Browser::signed_in(&server).await;
    assert!(!browser.get("/job/1").await.text().contains("Condition of the fluid"), "nothing was seen yet");
    // Before the service: brown and burnt.
    let sample = standpipe_proto::v1::FluidSample { moment: 1, colour: 3, smell: 3, ..Default::default() };
    state(&shop, &server, 1, Kind::FluidSample(sample)).await;
    let page = browser.get("/job/1").await.text();
    for part in [
        "Condition of the fluid",
        "Before the service",
        "Smell: burnt – for changing it – comes with oxidised or overheated fluid",
        "(rule 2: two kinds",
        "This speaks for changing it (rule 2",
    ] {
        assert!(page.contains(part), "'{part}' is missing in {page}");
    }
    server.shutdown();
    server.join().await.unwrap();
}

//! A wrong entry of an open job is put right on the page of the job, with the same bounds as at a bay.

use super::{Answer, Browser, PIN, shop};
use crate::tests::{Shop, arrival, closing, job_id};
use crate::{Order, RunningServer, order};
use standpipe_proto::v1::{self, AppendRequest, fact::Kind, vin_reading::Reading};

const HIDDEN: [&str; 2] = ["form_key", "request"];
const WRONG_VIN: &str = "AZTWA8MZ3LA038412";
const RIGHT_VIN: &str = "AZTWA8M47LA042317";

async fn state(shop: &Shop, server: &RunningServer, station: &str, kinds: impl IntoIterator<Item = Kind>) {
    let mut bay = shop.journal(server, station).await;
    for kind in kinds {
        let entry = shop.seal(station, &job_id(1), kind);
        bay.append(AppendRequest { entry }).await.unwrap();
    }
}

fn vin(vin: &str) -> Kind {
    let reading = Some(Reading::Vin(vin.into()));
    Kind::VinReading(v1::VinReading { reading, source: v1::VinSource::Papers.into() })
}

/// Address of the form for the entry whose line in the story holds these words.
fn way(page: &Answer, words: &str) -> String {
    let text = page.text();
    let row = text
        .split("<tr id=\"entry-")
        .skip(1)
        .find(|row| row.contains(words))
        .unwrap_or_else(|| panic!("{words}: {text}"));
    let (_, rest) = row.split_once("<a href=\"").unwrap();
    rest.split('"').next().unwrap().to_owned()
}

/// What stands in the boxes of the fact.
fn boxes(form: &Answer) -> Vec<(String, String)> {
    let text = form.text();
    let inputs = text.split("name=\"fact-").skip(1).map(|rest| {
        let name = format!("fact-{}", rest.split('"').next().unwrap());
        let tag = rest.split("</select>").next().unwrap();
        let end = tag.find('>').unwrap();
        let value =
            |of: &str| of.split_once("value=\"").map(|(_, rest)| rest.split('"').next().unwrap().to_owned());
        let chosen =
            tag.split("<option ").find(|option| option.split('>').next().unwrap().ends_with("selected"));
        let value = chosen.map_or_else(|| value(&tag[..end]), value);
        (name, value.unwrap_or_default())
    });
    inputs.collect()
}

#[tokio::test]
async fn a_wrong_vin_is_put_right_from_the_page_of_the_job_once() {
    let shop = shop().await;
    let server = shop.serve().await;
    state(&shop, &server, "bay-1", [arrival("PH 482 K"), vin(WRONG_VIN)]).await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/job/1").await;
    let way = way(&page, WRONG_VIN);
    let form = browser.get(&way).await;
    assert!(form.text().contains(&format!("value=\"{WRONG_VIN}\"")), "{}", form.text());
    let hidden = HIDDEN.map(|name| form.hidden(name));
    let sent = |vin: &'static str, reason: &'static str| {
        let mut all: Vec<(String, String)> =
            HIDDEN.map(str::to_owned).into_iter().zip(hidden.clone()).collect();
        all.extend(boxes(&form));
        all.iter_mut().filter(|(name, _)| name == "fact-vin").for_each(|(_, text)| vin.clone_into(text));
        all.extend([("reason".to_owned(), reason.to_owned()), ("do".to_owned(), "replace".to_owned())]);
        all
    };
    let post = async |browser: &mut Browser<'_>, all: Vec<(String, String)>| {
        let all: Vec<(&str, &str)> = all.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
        browser.post(&way, &all).await
    };
    // Neither a VIN with a letter that no VIN has nor one without a reason is taken; what was typed stays.
    for (vin, reason, why) in
        [("AZTWA8M47LA0O2317", "misread", "fact-vin-about"), (RIGHT_VIN, "", "This is missing")]
    {
        let refused = post(&mut browser, sent(vin, reason)).await;
        assert!(refused.status == 422 && refused.text().contains(why), "{}", refused.text());
        assert!(refused.text().contains(&format!("value=\"{vin}\"")), "{}", refused.text());
    }
    for _ in 0..2 {
        let done = post(&mut browser, sent(RIGHT_VIN, "one line misread")).await;
        assert_eq!((done.status, done.header("location")), (303, Some("/job/HL-26-0001")), "{}", done.text());
    }
    let page = browser.get("/job/1").await.text();
    assert!(page.contains(&format!("<dd>{RIGHT_VIN}</dd>")), "{page}");
    // Beside the struck entry and as the correction's own line; sent twice, it was stated once.
    assert_eq!(page.matches("one line misread").count(), 2, "{page}");
    // Putting it right once more begins with what counts now.
    assert!(browser.get(&way).await.text().contains(&format!("value=\"{RIGHT_VIN}\"")));
}

#[tokio::test]
async fn an_entry_is_withdrawn_and_what_is_no_fact_of_the_job_has_no_form() {
    let shop = shop().await;
    let server = shop.serve().await;
    state(&shop, &server, "bay-1", [arrival("PH 482 K"), vin(WRONG_VIN)]).await;
    let mut browser = Browser::signed_in(&server).await;
    let way = way(&browser.get("/job/1").await, WRONG_VIN);
    let withdrawn = browser.fill(&way, &HIDDEN, &[("reason", "another vehicle"), ("do", "withdraw")]).await;
    assert_eq!(withdrawn.header("location"), Some("/job/HL-26-0001"), "{}", withdrawn.text());
    let page = browser.get("/job/1").await.text();
    assert!(!page.contains(&format!("<dd>{WRONG_VIN}</dd>")) && page.contains("another vehicle"), "{page}");
    for other in ["/job/1/put-right/x", "/job/2/put-right/x"] {
        assert_eq!(browser.get(other).await.status, 404, "{other}");
    }
    assert_eq!(browser.post(&way, &[("reason", "x")]).await.status, 403, "without the key of the session");
    assert_eq!(Browser::new(&server).get(&way).await.header("location"), Some("/login"));
}

#[tokio::test]
async fn what_has_to_be_signed_asks_for_the_pin_right_after() {
    let shop = shop().await;
    // In the settings of the demo, what is put right after the record was issued is signed.
    let from = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy/catalogue");
    order(&shop.dir, Order::ImportCatalogue { from }).await.unwrap();
    let server = shop.serve().await;
    state(&shop, &server, "bay-1", [arrival("PH 482 K")]).await;
    state(&shop, &server, "office", [closing()]).await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/job/1").await;
    let (key, request) = (page.hidden("form_key"), page.hidden("request"));
    browser.post("/job/1/issue", &[("form_key", &key), ("request", &request)]).await;
    let way = way(&browser.get("/job/1").await, "PH 482 K");
    let boxes = [("fact-plate", "PH 482 X"), ("reason", "misread"), ("do", "replace")];
    let asked = browser.fill(&way, &HIDDEN, &boxes).await;
    let sign = asked.header("location").unwrap().to_owned();
    assert!(sign.starts_with("/job/HL-26-0001/sign/"), "{sign}");
    let wrong = browser.fill(&sign, &["form_key"], &[("pin", "0000")]).await;
    assert_eq!(wrong.status, 422, "{}", wrong.text());
    assert!(
        !browser.get("/job/1").await.text().contains("<h1>HL-26-0001 – PH 482 X</h1>"),
        "it waits for the PIN"
    );
    let signed = browser.fill(&sign, &["form_key"], &[("pin", PIN)]).await;
    assert_eq!(signed.header("location"), Some("/job/HL-26-0001"), "{}", signed.text());
    assert!(browser.get("/job/1").await.text().contains("<h1>HL-26-0001 – PH 482 X</h1>"));
}

#[tokio::test]
async fn readings_in_a_row_are_one_line_with_all_of_them_folded_below() {
    let shop = shop().await;
    let server = shop.serve().await;
    let reading = |litres: f64| {
        Kind::ExchangeReading(v1::ExchangeReading {
            volume_in_litres: litres,
            instrument_new_percent: Some(litres * 8.0),
            instrument_uncertainty_percent: Some(3.0),
            ..v1::ExchangeReading::default()
        })
    };
    let looked = Kind::ExchangeReading(v1::ExchangeReading {
        volume_in_litres: 6.2,
        tube_percent: Some(50),
        ..v1::ExchangeReading::default()
    });
    let fed = |from: u32, to: u32| (from..=to).map(move |at| reading(f64::from(at) / 10.0));
    let all = std::iter::once(arrival("PH 482 K")).chain(fed(1, 62)).chain([looked]).chain(fed(63, 65));
    state(&shop, &server, "bay-1", all).await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/job/1").await.text().replace('\u{a0}', " ");
    let (_, story) = page.split_once("<h2>Story</h2>").unwrap();
    assert_eq!(story.matches("<details class=\"readings").count(), 1, "{story}");
    assert!(story.contains("62 readings from bay-1, 0.1 L to 6.2 L. The last: 6.2 L pushed in"), "{story}");
    // The arrival, the folded line, the look by eye, and the three after it, which are too few to fold.
    assert_eq!(story.matches("<tr id=\"").count(), 1 + 1 + 1 + 3, "{story}");
    assert_eq!(story.matches("/put-right/").count(), 1 + 62 + 1 + 3);
}

//! An owner's pages: what stands first, the stories of jobs, what goes out, and what is never there.

use super::{Browser, PIN};
use crate::folder::SETTINGS_FILE;
use crate::tallies::tests::left_out::owner_with_damage;
use crate::tallies::tests::{PERSON, Site, filled};
use crate::tests::forwarding::Owner;
use crate::{Desk, RunningServer, SystemEntropy, kept_pin};
use standpipe_proto::v1::{
    Answer, CautionGroup, CautionRead, Correction, Decision, Fact, GearCycle, SkipReason, Skipped,
    correction, fact::Kind,
};

const DAY_US: i64 = 86_400_000_000;
/// 18 March 2026, 11:00 UTC.
const START_US: i64 = 1_773_831_600_000_000;

/// An owner's folder with a person who can sign in and the journal of one workshop.
async fn owner() -> Owner {
    owner_of(worked().await).await
}

async fn worked() -> Site {
    let site = Site::new("mill-street", 1_000);
    site.work(1, "PH 482 K", 4.0, START_US - 3 * DAY_US).await;
    // More than half a litre that nobody explained.
    site.work(2, "PH 900 K", 6.0, START_US - 2 * DAY_US).await;
    site.state(2, filled(1.0), START_US - 2 * DAY_US + 9).await;
    site
}

async fn owner_of(site: Site) -> Owner {
    let owner = Owner::found().await;
    let workshop = owner.workshop().await;
    let held = workshop.sites.as_ref().unwrap().open_or_make("mill-street", "Mill Street").await.unwrap();
    site.bring(&held).await;
    drop(held);
    workshop.sites.as_ref().unwrap().close().await;
    workshop.journal.close().await.unwrap();
    made_ready(&owner).await;
    owner
}

/// Lists a person who can sign in, and makes the rows of what was brought.
async fn made_ready(owner: &Owner) {
    let mut desk = Desk::open(&owner.dir).await.unwrap();
    desk.add_person("A", Some("owner A")).await.unwrap();
    desk.set_pin("A", &kept_pin(PIN, &SystemEntropy).unwrap()).await.unwrap();
    desk.close().await.unwrap();
    rows_made(owner).await;
}

async fn rows_made(owner: &Owner) {
    let workshop = owner.workshop().await;
    let (_going, stopping) = tokio::sync::watch::channel(false);
    assert!(workshop.tallies.as_ref().unwrap().round(&stopping).await);
    workshop.sites.as_ref().unwrap().close().await;
    workshop.journal.close().await.unwrap();
}

async fn stop(server: RunningServer) {
    server.shutdown();
    server.join().await.unwrap();
}

#[tokio::test]
async fn an_owner_sees_what_to_look_at_first_with_links_to_stories_without_persons() {
    let owner = owner().await;
    let server = owner.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/").await.text();
    for part in [
        "Jobs to look at first",
        "Journals of the workshops",
        "href=\"/workshop/mill-street\"",
        "Litres at 15",
        "href=\"/workshops/jobs.csv?all\"",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let (_, rest) = page.split_once("href=\"/workshop/mill-street/job/").unwrap();
    let job = rest.split('"').next().unwrap();
    let story = browser.get(&format!("/workshop/mill-street/job/{job}")).await;
    let text = story.text();
    assert_eq!(story.status, 200, "{text}");
    // The latest of those that nobody accounted for stands first.
    assert!(text.contains("PH 900 K") && text.contains("Story"), "{text}");
    for absent in ["Put right", "put-right", "technician", "<td>A</td>", "Customer</dt>", "Telephone"] {
        assert!(!text.contains(absent), "{absent}: {text}");
    }
    let of_site = browser.get("/workshop/mill-street").await;
    assert_eq!(of_site.status, 200, "{}", of_site.text());
    assert_eq!(browser.get("/workshop/nowhere").await.status, 404);
    stop(server).await;
}

/// A job whose entries name persons: who stated, corrected, decided, left out, read cautions and sat in the driver's seat.
async fn naming() -> Site {
    let site = worked().await;
    let at_us = START_US - 2 * DAY_US + 20;
    let corrected_entry_id = site.state(2, filled(0.5), at_us).await;
    let outcome = Some(correction::Outcome::Withdrawn(true));
    let correction = Correction { corrected_entry_id, reason: "typed twice".into(), outcome };
    site.state(2, Kind::Correction(Box::new(correction)), at_us + 1).await;
    let decision = Decision { point: "refill-short".into(), reason: "agreed with the customer".into() };
    site.state(2, Kind::Decision(decision), at_us + 2).await;
    let gears = GearCycle { driver_person_code: PERSON.into(), nobody_under_vehicle: Answer::Yes.into() };
    let corrected_entry_id = site.state(2, Kind::GearCycle(gears.clone()), at_us + 3).await;
    let right = GearCycle { nobody_under_vehicle: Answer::NotSeen.into(), ..gears };
    let fact = Box::new(Fact { kind: Some(Kind::GearCycle(right)) });
    let outcome = Some(correction::Outcome::Replacement(fact));
    let correction = Correction { corrected_entry_id, reason: "nobody looked".into(), outcome };
    site.state(2, Kind::Correction(Box::new(correction)), at_us + 4).await;
    let read = CautionRead { group: CautionGroup::EngineRunning.into() };
    site.state(2, Kind::CautionRead(read), at_us + 5).await;
    let skipped = Skipped { step: "drive-after".into(), reason: SkipReason::NotOrdered.into() };
    site.state(2, Kind::Skipped(skipped), at_us + 6).await;
    site
}

/// All that an owner's server shows: its pages, tables, files, and the stories of all jobs.
async fn all_that_is_shown(owner: &Owner) -> Vec<(String, String)> {
    let server = owner.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let rows = browser.get("/workshops/jobs.jsonl").await.text();
    let rows = rows.lines().filter_map(|line| serde_json::from_str::<serde_json::Value>(line).ok());
    let jobs: Vec<String> = rows.filter_map(|row| Some(row.get("job")?.as_str()?.to_owned())).collect();
    assert_eq!(jobs.len(), 2);
    let mut paths: Vec<String> =
        ["/", "/workshops", "/workshop/mill-street", "/workshops/jobs.csv", "/workshops/jobs.jsonl"]
            .map(str::to_owned)
            .to_vec();
    paths.extend(jobs.iter().map(|job| format!("/workshop/mill-street/job/{job}")));
    paths.extend((1..=7).map(|table| format!("/workshops?as=csv&table={table}")));
    paths.extend((1..=4).map(|table| format!("/workshop/mill-street?as=csv&table={table}")));
    let mut shown = Vec::new();
    for path in paths {
        let answer = browser.get(&path).await;
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
        shown.push((path, answer.text()));
    }
    stop(server).await;
    shown
}

/// Every view that can be made of a copied journal, whoever asks for one.
async fn views_of_the_copy(owner: &Owner) -> String {
    let workshop = owner.workshop().await;
    let held = workshop.sites.as_ref().unwrap().open("mill-street").await.unwrap();
    let mut views = String::new();
    for row in held.store.jobs(None, 100).await.unwrap() {
        views.push_str(&format!("{:?}", held.workshop.computed(&row).await.unwrap().view));
        views.push_str(&format!("{:?}", held.workshop.as_of_now(&row).await.unwrap().view));
        views.push_str(&format!("{:?}", held.workshop.computed_alone(&row).await.unwrap().0.view));
    }
    drop(held);
    workshop.sites.as_ref().unwrap().close().await;
    workshop.journal.close().await.unwrap();
    views
}

#[tokio::test]
async fn nothing_that_an_owner_is_shown_names_anybody_until_persons_are_switched_on() {
    let owner = owner_of(naming().await).await;
    for (path, text) in all_that_is_shown(&owner).await {
        assert!(!text.contains(PERSON), "{path}: {text}");
    }
    assert!(!views_of_the_copy(&owner).await.contains(PERSON));
    let settings = owner.dir.join(SETTINGS_FILE);
    let before = std::fs::read_to_string(&settings).unwrap_or_default();
    std::fs::write(&settings, format!("persons = true\n{before}")).unwrap();
    rows_made(&owner).await;
    let shown = all_that_is_shown(&owner).await;
    let naming: Vec<&str> =
        shown.iter().filter(|(_, text)| text.contains(PERSON)).map(|(path, _)| path.as_str()).collect();
    assert_eq!(naming[..2], ["/workshops/jobs.csv", "/workshops/jobs.jsonl"]);
    assert!(naming.len() == 4 && naming[2..].iter().all(|path| path.contains("/job/")), "{naming:?}");
    assert!(views_of_the_copy(&owner).await.contains(PERSON));
}

#[tokio::test]
async fn corrections_and_decisions_in_the_story_of_a_job_name_nobody_to_the_owner() {
    let owner = owner_of(naming().await).await;
    let server = owner.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let page = browser.get("/").await.text();
    let (_, rest) = page.split_once("href=\"/workshop/mill-street/job/").unwrap();
    let job = rest.split('"').next().unwrap();
    let text = browser.get(&format!("/workshop/mill-street/job/{job}")).await.text();
    for part in ["typed twice", "agreed with the customer", "a person who is not named here"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    stop(server).await;
}

#[tokio::test]
async fn every_job_goes_out_as_rows_and_the_page_is_one_page() {
    let owner = owner().await;
    let server = owner.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let lines = browser.get("/workshops/jobs.jsonl").await;
    assert_eq!((lines.status, lines.header("content-type")), (200, Some("application/jsonl")));
    let rows: Vec<serde_json::Value> = lines
        .text()
        .lines()
        .filter_map(|line| serde_json::from_str(line).ok())
        .filter(serde_json::Value::is_object)
        .collect();
    assert_eq!(rows.len(), 2, "{}", lines.text());
    assert_eq!((&rows[0]["site"], &rows[0]["persons"]), (&"mill-street".into(), &serde_json::json!([])));
    let csv = browser.get("/workshops/jobs.csv").await.text();
    assert!(csv.contains("\"site\",\"job\",\"number\"") && csv.contains("\"mill-street\""), "{csv}");
    assert!(!csv.contains("PH 482"), "{csv}");
    let pdf = browser.get("/workshops?as=pdf").await;
    assert_eq!((pdf.status, pdf.header("content-type")), (200, Some("application/pdf")));
    assert_eq!(browser.get("/workshops?period=26").await.status, 400);
    stop(server).await;
}

#[tokio::test]
async fn a_job_that_could_not_be_computed_goes_out_as_a_row_that_says_so() {
    let owner = owner_with_damage().await;
    made_ready(&owner).await;
    let server = owner.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let csv = browser.get("/workshops/jobs.csv").await.text();
    let lines: Vec<&str> = csv.lines().filter(|line| line.starts_with('"')).collect();
    assert_eq!(lines.len(), 3, "{csv}");
    let cells: Vec<Vec<&str>> = lines.iter().map(|line| line.split(',').collect()).collect();
    let place = |column: &str| cells[0].iter().position(|cell| cell.trim_matches('"') == column).unwrap();
    let row = cells.iter().find(|row| row[place("left_out")] == "\"true\"").unwrap();
    let filled = row.iter().filter(|cell| **cell != "\"\"").count();
    assert_eq!((row[place("month")], row[place("litres_in")], filled), ("\"2026-01\"", "\"\"", 5), "{csv}");
    let text = browser.get("/workshops/jobs.jsonl").await.text();
    let rows: Vec<serde_json::Value> = text
        .lines()
        .filter_map(|line| serde_json::from_str(line).ok())
        .filter(serde_json::Value::is_object)
        .collect();
    let left: Vec<bool> = rows.iter().map(|row| row["left_out"] == true).collect();
    assert_eq!(left, [true, false], "{text}");
    assert!(browser.get("/").await.text().contains("one job could not be computed and is in no figure"));
    stop(server).await;
}

#[tokio::test]
async fn a_workshop_of_its_own_has_no_owner_s_pages() {
    let shop = super::shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    for page in ["/workshops", "/workshop/mill-street", "/workshops/jobs.csv", "/workshop/mill-street/job/1"]
    {
        assert_eq!(browser.get(page).await.status, 404, "{page}");
    }
    assert!(!browser.get("/").await.text().contains("href=\"/workshops"));
    stop(server).await;
}

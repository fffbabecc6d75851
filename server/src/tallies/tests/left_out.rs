//! A job whose entry was damaged on the owner's disk: in no figure, and named wherever somebody may sum.

use super::*;
use crate::JOURNAL_FILE;

/// What stands in the entry that is damaged, and nowhere else.
const REASON: &str = "customer agreed at the counter";
/// 30 January 2026, 11:00 UTC.
const JANUARY_US: i64 = START_US - 47 * DAY_US;
/// 16 February 2026.
const FEBRUARY_US: i64 = START_US - 30 * DAY_US;

/// A workshop with a job that came in January and was closed in February, and one of March.
async fn site() -> Site {
    let site = Site::new("mill-street", 1_000);
    site.state(1, arrival("PH 900 K"), JANUARY_US).await;
    let decision = standpipe_proto::v1::Decision { point: "refill-short".into(), reason: REASON.into() };
    site.state(1, Kind::Decision(decision), JANUARY_US + 1).await;
    site.state(1, drained(3.6), FEBRUARY_US).await;
    site.state(1, filled(4.0), FEBRUARY_US + 1).await;
    let closing = Closing { outcome: Outcome::Done.into(), odometer_kilometres: None };
    site.state(1, Kind::Closing(closing), FEBRUARY_US + 2).await;
    site.work(2, "PH 482 K", 4.2, START_US - 5 * DAY_US).await;
    site
}

/// Has an owner's server take what the site has, and lets everything go again.
async fn brought(owner: &Owner, site: &Site, is_computed: bool) {
    let workshop = owner.workshop().await;
    let sites = workshop.sites.as_ref().unwrap();
    let held = sites.open_or_make(site.id, "Mill Street").await.unwrap();
    site.bring(&held).await;
    drop(held);
    if is_computed {
        assert!(round(&workshop).await);
    }
    sites.close().await;
    workshop.journal.close().await.unwrap();
}

async fn round(workshop: &Workshop) -> bool {
    let (_going, stopping) = tokio::sync::watch::channel(false);
    workshop.tallies.as_ref().unwrap().round(&stopping).await
}

/// Turns one letter of an entry in the file of a copied journal, as a disk may.
fn damage(owner: &Owner) {
    let file = owner.dir.join("sites/mill-street").join(JOURNAL_FILE);
    let mut bytes = std::fs::read(&file).unwrap();
    let places: Vec<usize> =
        (0..bytes.len()).filter(|at| bytes[*at..].starts_with(REASON.as_bytes())).collect();
    assert_eq!(places.len(), 1, "the entry stands in {}", file.display());
    bytes[places[0]] ^= 1;
    std::fs::write(&file, bytes).unwrap();
}

/// An owner's folder with a job that cannot be computed.
pub(crate) async fn owner_with_damage() -> Owner {
    let owner = Owner::found().await;
    brought(&owner, &site().await, false).await;
    damage(&owner);
    owner
}

async fn notes(workshop: &Workshop, period: &str) -> String {
    let asked = Asked { about: String::new(), period: period.to_owned() };
    said(&owner::made(workshop, workshop.tallies.as_ref().unwrap(), "owner", &asked).await.unwrap().sheet)
}

/// It is a row that says so, in no figure, and in the note of its own month alone.
async fn is_named_in(workshop: &Workshop, month: &str) {
    let tallies = workshop.tallies.as_ref().unwrap();
    let period = owner::period(workshop, "").unwrap();
    let (rows, _) = tallies.page_of_rows(&period, None, None, 100).await.unwrap();
    let said: Vec<_> = rows.iter().map(|row| (row.left_out, row.job.month.as_str())).collect();
    assert_eq!(said, [(true, month), (false, "2026-03")]);
    let columns = owner::columns().unwrap();
    let row: serde_json::Value = serde_json::from_str(&owner::line(&rows[0], &columns).unwrap()).unwrap();
    assert_eq!((&row["left_out"], &row["number"]), (&true.into(), &rows[0].job.number.as_str().into()));
    assert!(row["litres_in"].is_null() && row["done"].is_null() && row["display"].is_null(), "{row}");
    let gathered = owner::gathered(workshop, tallies, "").await.unwrap();
    assert_eq!(gathered.figures.site("mill-street").get(Counter::Jobs), 1);
    let note =
        format!("Mill Street: one job could not be computed and is in no figure: {}.", rows[0].job.number);
    for asked in ["2026-01", "2026-02", "2026-03"] {
        let text = notes(workshop, asked).await;
        assert_eq!(text.contains(&note), asked == month, "{asked}: {text}");
    }
    assert!(notes(workshop, "").await.contains(&note));
}

#[tokio::test]
async fn a_job_that_was_never_computed_counts_as_left_out_in_the_month_of_its_first_entry() {
    let owner = owner_with_damage().await;
    let workshop = owner.workshop().await;
    assert!(round(&workshop).await, "no other job waits for it");
    is_named_in(&workshop, "2026-01").await;
}

#[tokio::test]
async fn a_job_that_was_computed_before_counts_as_left_out_in_the_month_of_its_row() {
    let (owner, site) = (Owner::found().await, site().await);
    brought(&owner, &site, true).await;
    damage(&owner);
    site.state(1, filled(0.1), START_US).await;
    let workshop = owner.workshop().await;
    let held = workshop.sites.as_ref().unwrap().open("mill-street").await.unwrap();
    site.bring(&held).await;
    drop(held);
    assert!(round(&workshop).await);
    is_named_in(&workshop, "2026-02").await;
}

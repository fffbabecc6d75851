//! Rows from a drawn year and back, the page about it, and rows of workshops whose journals are kept here.

#[path = "../../../deploy/demo/src/year.rs"]
#[allow(dead_code, reason = "the demo asks for years that end now")]
pub(crate) mod year;

pub(crate) mod left_out;

use super::row::{Written, figures, last_days};
use super::worker;
use crate::config::Mode;
use crate::forwarding::Held;
use crate::status::Cause;
use crate::tally::{self, owner, print};
use crate::tests::{Hand, arrival, entry_id, forwarding::Owner, job_id, workshop_of};
use crate::workshop::Workshop;
use crate::{Clock as _, put_rows_of_elsewhere};
use prost::Message as _;
use standpipe_engine::owner::sums::{Counter, Sums};
use standpipe_engine::owner::{Figures, JobRow, come_backs, one_page};
use standpipe_engine::site::tally::Asked;
use standpipe_engine::text::{Language, render};
use standpipe_proto::v1::{
    Arrival, Closing, Drain, DrainedFrom, Entry, Fact, Fill, FillPurpose, Header, Means, Outcome,
    VisitReason, drain, fact::Kind, fill, header::Subject,
};
use standpipe_report::{TallyPaper, owner_sheet};
use standpipe_store::{
    EntryId, JobId, Journal as _, MemoryStore, NewEntry, ReplicaBatch, ReplicaEntry, SqliteStore, Tallies,
    TallyBy, TallyFilter,
};
use std::sync::Arc;
use year::{Plan, year};

/// Who states everything at the workshops.
pub(crate) const PERSON: &str = "QX7";
const DAY_US: i64 = 86_400_000_000;
/// 18 March 2026, 11:00 UTC.
const START_US: i64 = 1_773_831_600_000_000;
const EDITION: &str = "test rows 1, no persons, vehicles 0";

async fn summed(store: &dyn Tallies, as_of_us: i64) -> Figures {
    let days = last_days(as_of_us);
    let all = ("0000-00", "9999-99");
    let by_variant = store.tally_sums(EDITION, all, TallyBy::Variant, days).await.unwrap();
    let by_equipment = store.tally_sums(EDITION, all, TallyBy::Equipment, days).await.unwrap();
    figures(by_variant, by_equipment)
}

async fn put(store: &dyn Tallies, rows: &[JobRow]) {
    for chunk in rows.chunks(700) {
        let kept = chunk.iter().map(|job| Written { job: job.clone(), ..Written::default() }.kept().unwrap());
        store.put_tally_rows(EDITION, kept.collect(), None).await.unwrap();
    }
}

#[tokio::test]
async fn sums_of_a_store_are_those_of_the_rows_of_a_drawn_year_also_after_rows_were_put_again() {
    let home = tempfile::tempdir().unwrap();
    let sqlite = SqliteStore::create(&home.path().join("rows.db"), "owner", [1; 16]).await.unwrap();
    let stores: [Arc<dyn Tallies>; 2] = [Arc::new(MemoryStore::new("owner", [1; 16])), Arc::new(sqlite)];
    let mut drawn = year(&Plan { sites: 4, months: 6, seed: 11, faults: true });
    for store in &stores {
        put(&**store, &drawn.rows).await;
        for days_before in [0, 31, 100] {
            let as_of_us = drawn.as_of_us - days_before * DAY_US;
            assert_eq!(summed(&**store, as_of_us).await, Figures::of(&drawn.rows, as_of_us));
        }
    }
    for row in drawn.rows.iter_mut().step_by(3) {
        row.litres_in = row.litres_in.map(|litres| litres + 0.5);
        row.equipment = "EQ-NEW".to_owned();
        row.vehicle.clear();
    }
    come_backs::join(&mut drawn.rows);
    for store in &stores {
        put(&**store, &drawn.rows).await;
        assert_eq!(summed(&**store, drawn.as_of_us).await, Figures::of(&drawn.rows, drawn.as_of_us));
    }
}

#[test]
fn a_row_comes_back_from_the_store_as_it_was() {
    let drawn = year(&Plan { sites: 2, months: 2, seed: 5, faults: true });
    for job in drawn.rows {
        let kept = Written { job, unread: vec![7, 9], left_out: false }.kept().unwrap();
        let read = Written::read(&kept).unwrap();
        // The last digit of a number may differ in JSON; no millilitre does.
        let again = read.kept().unwrap();
        assert_eq!((&again.counters, again.day, again.back), (&kept.counters, kept.day, kept.back));
        assert_eq!((&again.vehicle, &again.month, again.job), (&kept.vehicle, &kept.month, kept.job));
        assert_eq!((read.unread, read.job.lots.len()), (vec![7, 9], 1));
    }
}

fn pages_of(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf).replace("/Type /", "/Type/");
    text.matches("/Type/Page").count() - text.matches("/Type/Pages").count()
}

#[test]
fn the_page_for_the_owner_is_one_page_however_many_workshops_there_are() {
    for (sites, months) in [(1, 1), (1, 12), (5, 12), (30, 12), (60, 12)] {
        let drawn = year(&Plan { sites, months, seed: 3, faults: true });
        let figures = Figures::of(&drawn.rows, drawn.as_of_us);
        let named = standpipe_engine::owner::named(&figures);
        let context = standpipe_engine::owner::sheets::OwnerContext {
            figures: &figures,
            rows: &drawn.rows,
            names: &drawn.sites,
            named: &named,
        };
        let page = one_page(&context);
        let paper = TallyPaper {
            workshop: "Harbour Lane Transmissions".to_owned(),
            printed_at: "31 December 2026, 18:00".to_owned(),
            printed_us: drawn.as_of_us,
            engine_version: crate::VERSION.to_owned(),
            ..TallyPaper::default()
        };
        let pdf = owner_sheet(&page, &paper).unwrap();
        assert_eq!(pages_of(&pdf), 1, "{sites} workshops");
        assert!(page.lines.len() <= 11, "{sites} workshops: {} lines", page.lines.len());
    }
}

/// A workshop's journal as its own server has it.
pub(crate) struct Site {
    store: MemoryStore,
    id: &'static str,
    /// Ids of its entries and jobs begin here.
    from: u64,
}

impl Site {
    pub(crate) fn new(id: &'static str, from: u64) -> Self {
        let epoch = [u8::try_from(from % 251).unwrap(); 16];
        Self { store: MemoryStore::new(id, epoch), id, from }
    }

    /// States a fact of a job, and gives its identity.
    pub(crate) async fn state(&self, job: u64, kind: Kind, at_us: i64) -> String {
        let opens_job = matches!(kind, Kind::Arrival(_));
        let number = self.from + self.store.head().await.unwrap().seq + 1;
        let header = Header {
            entry_id: entry_id(number),
            subject: Some(Subject::JobId(job_id(self.from + job))),
            station_id: "bay-1".into(),
            station_epoch: "0".repeat(32),
            station_number: i64::try_from(number).unwrap(),
            person_code: PERSON.into(),
            station_time: Some(crate::convert::timestamp(at_us)),
            boot_id: "0".repeat(32),
            ..Header::default()
        };
        let bytes = Entry { header: Some(header), fact: Some(Fact { kind: Some(kind) }) }.encode_to_vec();
        self.append(number, job, opens_job, bytes, at_us).await;
        entry_id(number)
    }

    async fn append(&self, number: u64, job: u64, opens_job: bool, bytes: Vec<u8>, at_us: i64) {
        let id_of = |text: &str| uuid::Uuid::try_parse(text).unwrap().into_bytes();
        let new = NewEntry {
            entry_id: EntryId(id_of(&entry_id(number))),
            job: Some(JobId(id_of(&job_id(self.from + job)))),
            opens_job,
            station: "bay-1".into(),
            station_epoch: [0; 16],
            station_number: number,
            received_us: at_us,
            year: 2026,
            bytes: bytes.into(),
        };
        self.store.append(new).await.unwrap();
    }

    /// A job from arrival to closing: so many litres in, 3.6 L out.
    pub(crate) async fn work(&self, job: u64, plate: &str, litres_in: f64, at_us: i64) {
        self.state(job, arrival(plate), at_us).await;
        self.state(job, drained(3.6), at_us + 1).await;
        self.state(job, filled(litres_in), at_us + 2).await;
        let closing = Closing { outcome: Outcome::Done.into(), odometer_kilometres: None };
        self.state(job, Kind::Closing(closing), at_us + 3).await;
    }

    /// Brings what the copy does not have.
    pub(crate) async fn bring(&self, held: &Held) {
        let (head, here) = (self.store.head().await.unwrap(), held.store.head().await.unwrap().seq);
        let mut entries = Vec::new();
        for stored in self.store.read(here + 1, 1_000).await.unwrap() {
            let row = self.store.job(stored.job.unwrap()).await.unwrap().unwrap();
            let opens_job = row.first_seq == stored.seq;
            let entry = NewEntry {
                entry_id: stored.entry_id,
                job: stored.job,
                opens_job,
                station: stored.station,
                station_epoch: stored.station_epoch,
                station_number: stored.station_number,
                received_us: stored.received_us,
                year: 2026,
                bytes: stored.bytes,
            };
            entries.push(ReplicaEntry { entry, number: opens_job.then_some(row.number) });
        }
        let batch = ReplicaBatch {
            epoch: head.epoch,
            first_seq: here + 1,
            root_before: self.store.root_at(here).await.unwrap().unwrap(),
            entries,
            root_after: head.root,
        };
        held.store.replicate(batch).await.unwrap();
    }
}

fn drained(litres: f64) -> Kind {
    let amount = Some(drain::Amount::VolumeLitres(litres));
    Kind::Drain(Drain {
        place: DrainedFrom::Pan.into(),
        amount,
        means: Means::Jug.into(),
        ..Drain::default()
    })
}

pub(crate) fn filled(litres: f64) -> Kind {
    Kind::Fill(Fill {
        purpose: FillPurpose::Refill.into(),
        amount: Some(fill::Amount::VolumeLitres(litres)),
        means: Means::Jug.into(),
        fluid_code: "LN-847".into(),
        ..Fill::default()
    })
}

/// An owner's workshop to which two sites brought their journals, and the sites.
async fn brought(owner: &Owner) -> (Arc<Workshop>, [Site; 2]) {
    let sites = [Site::new("mill-street", 1_000), Site::new("quarry-road", 5_000)];
    sites[0].work(1, "PH 482 K", 4.0, START_US - 20 * DAY_US).await;
    sites[0].work(2, "PH 900 K", 4.2, START_US - 10 * DAY_US).await;
    let again = Arrival {
        plate: "PH 482 K".into(),
        reasons: vec![VisitReason::Shudder.into()],
        ..Arrival::default()
    };
    sites[1].state(1, Kind::Arrival(again), START_US - 9 * DAY_US).await;
    let workshop = owner.workshop().await;
    for (site, name) in sites.iter().zip(["Mill Street", "Quarry Road"]) {
        let held = workshop.sites.as_ref().unwrap().open_or_make(site.id, name).await.unwrap();
        site.bring(&held).await;
    }
    (workshop, sites)
}

async fn rows_of(workshop: &Workshop) -> Vec<JobRow> {
    let tallies = workshop.tallies.as_ref().unwrap();
    let period = owner::period(workshop, "").unwrap();
    let (rows, _) = tallies.page_of_rows(&period, None, None, 100).await.unwrap();
    rows.into_iter().map(|row| row.job).collect()
}

async fn litres_in(workshop: &Workshop) -> i64 {
    let gathered = owner::gathered(workshop, workshop.tallies.as_ref().unwrap(), "").await.unwrap();
    let mut all = Sums::default();
    gathered.figures.by_variant.values().for_each(|sums| all.add(sums));
    all.get(Counter::In)
}

fn said(sheet: &standpipe_engine::sheet::Sheet) -> String {
    let words = sheet.said.iter().chain(&sheet.notes);
    words.map(|said| render(Language::English, said).unwrap()).collect::<Vec<_>>().join("\n")
}

#[tokio::test]
async fn journals_that_workshops_brought_become_rows_sums_and_a_sheet_without_persons() {
    let owner = Owner::found().await;
    let (workshop, sites) = brought(&owner).await;
    let tallies = Arc::clone(workshop.tallies.as_ref().unwrap());
    let (_going, stopping) = tokio::sync::watch::channel(false);
    assert!(tallies.round(&stopping).await);
    let rows = rows_of(&workshop).await;
    assert_eq!(rows.len(), 3);
    let columns = owner::columns().unwrap();
    let first = &rows[0];
    assert_eq!((first.site.as_str(), first.done, first.closed_us.is_some()), ("mill-street", true, true));
    assert_eq!(first.back_after_days, Some(10), "found again at the other workshop");
    assert!(rows.iter().all(|row| row.persons.is_empty()));
    for row in &rows {
        let json = owner::line(&Written { job: row.clone(), ..Written::default() }, &columns).unwrap();
        assert!(!json.contains("PH 482") && !json.contains("PH482"), "{json}");
    }
    // 4.0 and 4.2 L as read, at 15 °C somewhat less, since nobody measured how warm they were.
    let both = litres_in(&workshop).await;
    assert!((8_100..8_200).contains(&both), "{both} mL");
    // A correction takes one fill out again; a job at the other workshop is closed.
    let fill = sites[0].store.read(3, 1).await.unwrap().remove(0);
    let fill_id = uuid::Uuid::from_bytes(fill.entry_id.0).to_string();
    let withdrawn = standpipe_proto::v1::Correction {
        corrected_entry_id: fill_id,
        reason: "typed twice".into(),
        outcome: Some(standpipe_proto::v1::correction::Outcome::Withdrawn(true)),
    };
    sites[0].state(1, Kind::Correction(Box::new(withdrawn)), START_US).await;
    let held = tallies.sites.open("mill-street").await.unwrap();
    sites[0].bring(&held).await;
    assert!(tallies.round(&stopping).await);
    let one = litres_in(&workshop).await;
    assert!((one * 82 - both * 42).abs() < 100, "{one} of {both} mL are those of the job with 4.2 of 8.2 L");
    let made = owner::made(&workshop, &tallies, "owner", &Asked::default()).await.unwrap();
    let text = said(&made.sheet);
    assert!(
        text.starts_with("Quarry Road was last heard of 9 days ago; its figures end at entry 1."),
        "{text}"
    );
    assert!(!text.contains("Mill Street was last heard"), "{text}");
    assert_eq!(pages_of(&print::pdf(&workshop, made).await.unwrap()), 1);
}

#[tokio::test]
async fn an_entry_that_cannot_be_read_is_named_and_a_workshop_that_is_silent_is_said_first() {
    let owner = Owner::found().await;
    let (workshop, sites) = brought(&owner).await;
    let tallies = Arc::clone(workshop.tallies.as_ref().unwrap());
    sites[0].append(1_900, 2, false, vec![0xFF, 0xFF, 0xFF], START_US - 10 * DAY_US + 9).await;
    sites[0].bring(&tallies.sites.open("mill-street").await.unwrap()).await;
    let (_going, stopping) = tokio::sync::watch::channel(false);
    assert!(tallies.round(&stopping).await);
    assert!(litres_in(&workshop).await > 8_100, "the entry that nobody reads takes nothing else away");
    let made = owner::made(&workshop, &tallies, "owner", &Asked::default()).await.unwrap();
    let text = said(&made.sheet);
    assert!(text.starts_with("Mill Street was last heard of 9 days ago"), "{text}");
    assert!(text.contains("Mill Street: one entry cannot be read by this edition"), "{text}");
    let (rows, _) =
        tallies.page_of_rows(&owner::period(&workshop, "").unwrap(), None, None, 9).await.unwrap();
    let unread: Vec<_> = rows.iter().map(|row| row.unread.as_slice()).collect();
    assert_eq!(unread, [&[][..], &[9], &[]], "the row names the place of the entry");
}

#[tokio::test]
async fn rows_of_workshops_without_a_journal_here_are_shown_under_their_names() {
    let owner = Owner::found().await;
    let drawn = year(&Plan { sites: 3, months: 3, seed: 8, faults: false });
    put_rows_of_elsewhere(&owner.dir, &drawn.sites, drawn.rows.clone()).await.unwrap();
    let clock: Arc<Hand> = Arc::clone(&owner.clock);
    clock.forward(drawn.as_of_us - clock.now_us());
    let workshop = workshop_of(&owner.dir, clock, Mode::Owner).await;
    let tallies = Arc::clone(workshop.tallies.as_ref().unwrap());
    let (_going, stopping) = tokio::sync::watch::channel(false);
    assert!(tallies.round(&stopping).await);
    let gathered = owner::gathered(&workshop, &tallies, "12 months").await.unwrap();
    assert_eq!(gathered.figures, Figures::of(&drawn.rows, gathered.as_of_us));
    let name = &drawn.sites[0].1;
    let one = Asked { about: name.clone(), period: "12 months".into() };
    let made = owner::made(&workshop, &tallies, "owner-site", &one).await.unwrap();
    let title = render(Language::English, &made.sheet.title).unwrap();
    assert!(title.starts_with(&format!("{name}, ")) && title.contains(" to "), "{title}");
}

#[tokio::test]
async fn earlier_figures_stay_until_a_newer_program_has_its_own_and_rows_of_elsewhere_are_taken_along() {
    const EARLIER: &str = "0.0.1 rows 1, persons, vehicles 0";
    let owner = Owner::found().await;
    let mut drawn = year(&Plan { sites: 3, months: 3, seed: 8, faults: false });
    let clock: Arc<Hand> = Arc::clone(&owner.clock);
    clock.forward(drawn.as_of_us - clock.now_us());
    let (workshop, _sites) = brought(&owner).await;
    let sites = Arc::clone(workshop.sites.as_ref().unwrap());
    drawn.rows.iter_mut().for_each(|row| row.persons = vec![PERSON.to_owned()]);
    let kept =
        drawn.rows.iter().map(|job| Written { job: job.clone(), ..Written::default() }.kept().unwrap());
    sites.own().put_tally_rows(EARLIER, kept.collect(), None).await.unwrap();
    sites.own().put_setting(super::EDITION_SETTING, EARLIER).await.unwrap();
    let tallies = super::Tallies::of(&owner.dir, Arc::clone(&sites), &crate::SystemEntropy).await.unwrap();
    let before = owner::gathered(&workshop, &tallies, "12 months").await.unwrap();
    assert_eq!(before.figures, Figures::of(&drawn.rows, before.as_of_us));
    let first = render(Language::English, &before.first[0].text).unwrap();
    let why =
        "computed anew, since the program, a setting or the vehicle key changed; so far of 0 of 2 workshops";
    assert!(first.contains(why), "{first}");
    // Of a year in which it has no job it says so: it has jobs of others, so it can be read.
    let empty = owner::gathered(&workshop, &tallies, "2020").await.unwrap();
    assert_eq!(empty.figures.sites().len(), 0);
    let unreadable = "This program cannot read the earlier ones";
    let first = render(Language::English, &empty.first[0].text).unwrap();
    assert!(first.contains(why) && !first.contains(unreadable), "{first}");
    let of_empty = owner::period(&workshop, "2020").unwrap();
    assert_eq!(tallies.page_of_rows(&of_empty, None, None, 500).await.unwrap().0.len(), 0);
    assert_eq!(sites.own().setting(super::EDITION_SETTING).await.unwrap().as_deref(), Some(EARLIER));
    // Without any row nobody knows; no figures and no file are made of that.
    sites.own().put_setting(super::EDITION_SETTING, "0.0.0 rows 0, persons, vehicles 0").await.unwrap();
    let lost = super::Tallies::of(&owner.dir, Arc::clone(&sites), &crate::SystemEntropy).await.unwrap();
    let untold = owner::gathered(&workshop, &lost, "2020").await.unwrap();
    let first = render(Language::English, &untold.first[0].text).unwrap();
    assert!(first.contains(unreadable), "{first}");
    let refused = lost.page_of_rows(&of_empty, None, None, 500).await.err().unwrap();
    assert!(matches!(refused, Cause::ListIncomplete), "{refused}");
    sites.own().put_setting(super::EDITION_SETTING, EARLIER).await.unwrap();
    let (_going, stopping) = tokio::sync::watch::channel(false);
    assert!(tallies.round(&stopping).await);
    let after = owner::gathered(&workshop, &tallies, "12 months").await.unwrap();
    let site = &drawn.sites[0].0;
    assert_eq!(after.figures.site(site), before.figures.site(site));
    let known = after.figures.sites();
    assert_eq!(known.len(), 4, "{known:?}: those drawn, and mill-street");
    let said: Vec<String> =
        after.first.iter().map(|said| render(Language::English, &said.text).unwrap()).collect();
    assert!(said.iter().all(|said| !said.contains("anew")), "{said:?}");
    let period = owner::period(&workshop, "12 months").unwrap();
    let (rows, _) = tallies.page_of_rows(&period, Some(site.clone()), None, 500).await.unwrap();
    assert!(!rows.is_empty() && rows.iter().all(|row| row.job.persons.is_empty()));
    let all = TallyFilter { months: ("".into(), "9999-99".into()), ..TallyFilter::default() };
    assert_eq!(sites.own().tally_rows(EARLIER, &all, 10).await.unwrap(), []);
}

/// Why there is no page about a workshop.
async fn refused_about(workshop: &Workshop, tallies: &super::Tallies, about: &str) -> String {
    let asked = Asked { about: about.to_owned(), ..Asked::default() };
    owner::made(workshop, tallies, "owner-site", &asked).await.err().unwrap().to_string()
}

#[tokio::test]
async fn a_workshop_whose_rows_are_behind_and_one_without_closed_jobs_are_named() {
    let owner = Owner::found().await;
    let (workshop, sites) = brought(&owner).await;
    let tallies = Arc::clone(workshop.tallies.as_ref().unwrap());
    let (_going, stopping) = tokio::sync::watch::channel(false);
    assert!(tallies.round(&stopping).await);
    let held = tallies.sites.open("mill-street").await.unwrap();
    sites[0].work(3, "PH 77 K", 4.0, START_US - DAY_US).await;
    sites[0].bring(&held).await;
    let kept = held.store.head().await.unwrap().seq;
    tallies.sites.kept("mill-street", kept);
    let made = owner::made(&workshop, &tallies, "owner", &Asked::default()).await.unwrap();
    let text = said(&made.sheet);
    assert!(text.contains("Figures of Mill Street rest on entry 8 of 12"), "{text}");
    assert!(text.contains("No job was closed in these months at: Quarry Road."), "{text}");
    // Its own page says the same, and of a name that nobody has, that nobody has it.
    for quarry in ["quarry-road", "Quarry Road"] {
        let told = refused_about(&workshop, &tallies, quarry).await;
        assert!(told.starts_with("workshop 'Quarry Road' has no closed job from 20"), "{told}");
    }
    let told = refused_about(&workshop, &tallies, "tarn-road").await;
    assert!(told.starts_with("no workshop 'tarn-road' is known here"), "{told}");
    assert!(told.ends_with(": Mill Street, Quarry Road"), "{told}");
    let told = tally::made(&workshop, "no-such", Asked::default()).await.err().unwrap().to_string();
    assert!(told.contains("there are: owner, owner-sums, owner-site, owner-jobs, "), "{told}");
    assert!(tallies.round(&stopping).await);
    let made = owner::made(&workshop, &tallies, "owner", &Asked::default()).await.unwrap();
    assert!(!said(&made.sheet).contains("rest on entry"));
}

#[tokio::test]
async fn the_worker_ends_at_a_stop_and_computes_what_grew_before() {
    let owner = Owner::found().await;
    let (workshop, _sites) = brought(&owner).await;
    let tallies = Arc::clone(workshop.tallies.as_ref().unwrap());
    let (stop, stopping) = tokio::sync::watch::channel(true);
    worker::keep(Arc::clone(&tallies), stopping).await;
    assert!(rows_of(&workshop).await.is_empty(), "nothing is begun after a stop");
    drop(stop);
}

#[tokio::test]
async fn a_period_with_more_rows_than_are_read_says_so_and_its_sums_count_every_job() {
    let owner = Owner::found().await;
    let (workshop, _sites) = brought(&owner).await;
    let sites = Arc::clone(workshop.sites.as_ref().unwrap());
    let mut tallies = super::Tallies::of(&owner.dir, sites, &crate::SystemEntropy).await.unwrap();
    let (_going, stopping) = tokio::sync::watch::channel(false);
    assert!(tallies.round(&stopping).await);
    let mut asked = async |most: usize| {
        Arc::get_mut(&mut tallies).unwrap().rows_most = most;
        let made = owner::made(&workshop, &tallies, "owner", &Asked::default()).await.unwrap();
        let text = said(&made.sheet);
        (text.lines().find(|line| line.contains("looked for in the first")).map(str::to_owned), made)
    };
    // Both closed jobs stand out: no look at the level counts in either.
    let (cut, all) = asked(2).await;
    assert_eq!(cut, None, "as many as are read");
    let (cut, some) = asked(1).await;
    let sentence = "What is named by job was looked for in the first 1 rows alone; ask for fewer months. Sums count all jobs.";
    assert_eq!(cut.as_deref(), Some(sentence));
    let rows = |made: &crate::tally::Made| made.gathered.as_ref().unwrap().rows.len();
    assert_eq!((rows(&all), rows(&some)), (2, 1));
    assert_eq!(all.gathered.unwrap().figures, some.gathered.unwrap().figures);
    let printed = print::pdf(&workshop, asked(1).await.1).await.unwrap();
    assert_eq!(pages_of(&printed), 1);
}

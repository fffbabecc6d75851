//! Whole sites carried from one store into another and back.

use super::super::*;
use crate::conformance::{EPOCH, SITE, arrival, entry, job_id};
use crate::postgres::database;
use crate::{
    AuditBook as _, AuditLine, Beside, Customer, JobSummary, KeptCode, KeptToken, Station, Tallies, TallyBy,
    TallyRow, Tokens as _,
};
use sqlx::{AssertSqlSafe, Connection as _, Executor as _, Row as _, SqliteConnection};
use std::collections::BTreeSet;

/// A site with something in every table.
async fn furnished(path: &Path) -> SqliteStore {
    let store = SqliteStore::create(path, SITE, EPOCH).await.unwrap();
    for at in 1..=12 {
        let job = job_id(at % 3);
        store.append(if at <= 3 { arrival(at, job) } else { entry(at, Some(job)) }).await.unwrap();
    }
    // The number of another entry under another id, as from a copied list.
    store.append(NewEntry { station_number: 12, ..entry(13, None) }).await.unwrap();
    for id in ["bay-1", "office"] {
        let (name, role, created_us, revoked_us) = (id.to_owned(), "bay".to_owned(), 5, None);
        store.add_station(Station { id: id.to_owned(), name, role, created_us, revoked_us }).await.unwrap();
    }
    let token = |digest: u8, replaces| KeptToken {
        digest: [digest; 32],
        station_id: "bay-1".into(),
        created_us: 6,
        ends_us: Some(70),
        replaces,
    };
    store.put_token(token(1, None)).await.unwrap();
    store.put_token(token(2, Some([1; 32]))).await.unwrap();
    let (digest, tag, station_id) = ([7; 32], "ABCD".to_owned(), "office".to_owned());
    let code = KeptCode { digest, tag, station_id, created_us: 8, ends_us: 90, tries: 2, used_for: None };
    store.put_code(code).await.unwrap();
    store.set_station_kinds("bay-1", &["drain".into(), "fill".into()]).await.unwrap();
    store.put_person("A", "technician A", 9).await.unwrap();
    store.put_person("B", "office B", 9).await.unwrap();
    store.put_person_pin("B", "$argon2id$", 10).await.unwrap();
    store.erase_person("A", 11).await.unwrap();
    let customer = Customer { name: "A. Customer".into(), telephone: "0123".into() };
    store.put_customer(job_id(1), &customer, 12).await.unwrap();
    store.put_customer(job_id(2), &customer, 13).await.unwrap();
    store.erase_customer(job_id(2), 14).await.unwrap();
    let number = store.job(job_id(1)).await.unwrap().unwrap().number;
    let summary = JobSummary {
        job_id: job_id(1),
        number,
        plate: "PH 482 K".into(),
        vin: String::new(),
        title: "Tarnwick Alder-8".into(),
        closed: true,
        state: "closed".into(),
        rank: 3,
        seq: 10,
        updated_us: 15,
        account: "{}".into(),
    };
    store.put_summary(summary).await.unwrap();
    for at in 0..1_200 {
        let line =
            AuditLine { at_us: at, until_us: at, times: 1, what: "call".into(), ..AuditLine::default() };
        store.put_audit(line).await.unwrap();
    }
    // More than two pages of a key of several columns, many of which begin alike.
    store.put_tally_rows("5", (0..1_200).map(tally_row).collect(), None).await.unwrap();
    store.put_setting("site_name", "Harbour Lane").await.unwrap();
    store.put_photo_extract(&"0".repeat(64), "1", "{}").await.unwrap();
    store
}

fn tally_row(number: u16) -> TallyRow {
    TallyRow {
        site: format!("site-{}", number % 2),
        job: u128::from(number).to_le_bytes(),
        month: "2026-03".into(),
        variant: format!("variant-{}", number % 700),
        counts: true,
        counters: vec![i64::from(number), 1],
        day: Some(20_500),
        ..TallyRow::default()
    }
}

async fn assert_furnished(store: &(impl Journal + Beside + Tallies)) {
    let sums = store.tally_sums("5", ("2026-03", "2026-03"), TallyBy::Variant, [20_500; 3]).await.unwrap();
    let all = |at: usize| sums.iter().map(|sum| sum.counters[at]).sum::<i64>();
    assert_eq!((sums.len(), all(0), all(1)), (700, 1_199 * 600, 1_200));
    assert_eq!(sums.iter().map(|sum| sum.old[0]).sum::<i64>(), 1_200);
    assert_eq!(store.persons().await.unwrap().len(), 2);
    assert_eq!(store.person_pin("B").await.unwrap().as_deref(), Some("$argon2id$"));
    assert!(store.customer(job_id(1)).await.unwrap().is_some());
    assert_eq!(store.customer(job_id(2)).await.unwrap(), None);
    assert_eq!(store.jobs_of_customer("a. customer").await.unwrap(), [job_id(1)]);
    assert_eq!(store.tokens().await.unwrap().len(), 2);
    assert_eq!(store.setting("site_name").await.unwrap().as_deref(), Some("Harbour Lane"));
    let repeated = store.append(NewEntry { station_number: 12, ..entry(13, None) }).await.unwrap();
    assert!(repeated.repeated && repeated.station_number_reused);
}

#[tokio::test]
async fn a_site_is_the_same_in_the_database_and_back_in_a_file() {
    let Some(database) = database::database() else { return };
    let address = database.create().parse().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let file = furnished(&folder.path().join("standpipe.db")).await;
    let head = file.head().await.unwrap();
    let carried = carry_to_postgres(&file, &address, &|_| {}).await.unwrap();
    assert_eq!((&carried.head, carried.jobs, carried.resumed_at), (&head, 3, 0));
    assert!(carried.rows > 1_200, "{carried:?}");
    let moved = PostgresStore::open(&address, SITE).await.unwrap();
    assert_furnished(&moved).await;
    assert_eq!(moved.head().await.unwrap(), head);
    // In use, it is never written over.
    let again = carry_to_postgres(&file, &address, &|_| {}).await.unwrap_err();
    assert!(matches!(again, StoreError::SiteThere { .. }), "{again}");
    moved.append(entry(14, Some(job_id(1)))).await.unwrap();
    let back = folder.path().join("back.db");
    let carried = carry_to_sqlite(&moved, &back, &|_| {}).await.unwrap();
    assert_eq!((carried.head.seq, carried.jobs), (14, 3));
    moved.leave().await.unwrap();
    moved.close().await.unwrap();
    let left = PostgresStore::open(&address, SITE).await.unwrap_err();
    assert!(matches!(left, StoreError::Moving { what: "was moved away", .. }), "{left}");
    let back = SqliteStore::open(&back).await.unwrap();
    assert_furnished(&back).await;
    assert_eq!(back.head().await.unwrap(), carried.head);
    assert_eq!(back.append(entry(15, None)).await.unwrap().seq, 15);
    // And there once more, over what it left behind.
    let carried = carry_to_postgres(&back, &address, &|_| {}).await.unwrap();
    assert_eq!((carried.head.seq, carried.resumed_at), (15, 14));
}

#[tokio::test]
async fn a_copy_that_was_cut_off_is_no_journal_and_is_gone_on_with() {
    let Some(database) = database::database() else { return };
    let address = database.create().parse().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let file = furnished(&folder.path().join("standpipe.db")).await;
    let head = file.head().await.unwrap();
    let half = Head { seq: 7, root: file.root_at(7).await.unwrap().unwrap(), ..head.clone() };
    let target = postgres::arrival(&address, SITE, EPOCH).await.unwrap();
    copy_entries(&file, &half, &target, &|_| {}).await.unwrap();
    target.close().await.unwrap();
    let refused = PostgresStore::open(&address, SITE).await.unwrap_err();
    assert!(matches!(refused, StoreError::Moving { what: "is not copied to its end", .. }), "{refused}");
    let carried = carry_to_postgres(&file, &address, &|_| {}).await.unwrap();
    assert_eq!((carried.resumed_at, carried.head), (7, head));
    // Copied whole, but nobody opened it: what the file got since then is added.
    file.append(entry(15, None)).await.unwrap();
    assert_eq!(carry_to_postgres(&file, &address, &|_| {}).await.unwrap().head.seq, 14);
    assert_furnished(&PostgresStore::open(&address, SITE).await.unwrap()).await;
}

#[tokio::test]
async fn another_life_of_the_site_is_never_mixed_in() {
    let Some(database) = database::database() else { return };
    let address = database.create().parse().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let other = SqliteStore::create(&folder.path().join("other.db"), SITE, [1; 16]).await.unwrap();
    carry_to_postgres(&other, &address, &|_| {}).await.unwrap();
    let file = furnished(&folder.path().join("standpipe.db")).await;
    let refused = carry_to_postgres(&file, &address, &|_| {}).await.unwrap_err();
    assert!(refused.to_string().contains("another life of the site"), "{refused}");
}

#[tokio::test]
async fn a_whole_copy_is_made_while_entries_go_on_being_appended() {
    let Some(database) = database::database() else { return };
    let address = database.create().parse().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let file = furnished(&folder.path().join("standpipe.db")).await;
    carry_to_postgres(&file, &address, &|_| {}).await.unwrap();
    let store = PostgresStore::open(&address, SITE).await.unwrap();
    let copy = folder.path().join("copy.db");
    let appending = async {
        for at in 20..60 {
            store.append(entry(at, Some(job_id(1)))).await.unwrap();
        }
    };
    let (carried, ()) = tokio::join!(carry_to_sqlite(&store, &copy, &|_| {}), appending);
    let carried = carried.unwrap();
    assert_eq!(store.root_at(carried.head.seq).await.unwrap(), Some(carried.head.root));
    assert_furnished(&SqliteStore::open(&copy).await.unwrap()).await;
    assert!(matches!(carry_to_sqlite(&store, &copy, &|_| {}).await, Err(StoreError::AlreadyExists { .. })));
}

#[tokio::test]
async fn every_table_beside_the_journal_is_carried_with_every_column() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("standpipe.db");
    drop(SqliteStore::create(&path, SITE, EPOCH).await.unwrap());
    let mut connection = SqliteConnection::connect(&format!("sqlite://{}", path.display())).await.unwrap();
    let known: BTreeSet<String> = TABLES.iter().map(|table| table.name.to_owned()).collect();
    let rows = "select name from sqlite_schema where type = 'table' and name not like '%sqlx%' \
        and name not like 'sqlite%'";
    let found: BTreeSet<String> =
        connection.fetch_all(rows).await.unwrap().iter().map(|row| row.get(0)).collect();
    let of_the_journal = tables::OF_THE_JOURNAL.map(str::to_owned);
    let beside: BTreeSet<String> = found.into_iter().filter(|name| !of_the_journal.contains(name)).collect();
    assert_eq!(beside, known, "a new table belongs into TABLES");
    let mut postgres = None;
    if let Some(database) = database::database() {
        let address = database.create();
        drop(PostgresStore::create(&address.parse().unwrap(), SITE, EPOCH).await.unwrap());
        postgres = Some((database, address));
    }
    for table in &TABLES {
        let columns = table.columns.iter().map(|(name, _)| (*name).to_owned());
        let columns: BTreeSet<String> = columns.collect();
        let told = format!("select name from pragma_table_info('{}')", table.name);
        let told = connection.fetch_all(AssertSqlSafe(told)).await.unwrap();
        let found: BTreeSet<String> = told.iter().map(|row| row.get(0)).collect();
        assert_eq!(found, columns, "a new column of {} belongs into TABLES", table.name);
        let Some((database, address)) = &postgres else { continue };
        let asked = "select column_name from information_schema.columns where table_schema = 'standpipe' \
            and column_name <> 'site' and table_name =";
        let told = database.psql(address, &format!("{asked} '{}'", table.name));
        assert_eq!(told.lines().map(str::to_owned).collect::<BTreeSet<_>>(), columns, "{}", table.name);
    }
}

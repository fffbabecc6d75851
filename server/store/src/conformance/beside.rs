//! What stands beside the journal promises.

use super::{Maker, append, arrival, entry, fresh, job_id, reopened};
use crate::{
    Beside, Customer, JobNumber, JobSummary, KeptToken, Station, StoreError, SummaryFilter, SummaryOrder,
    Tokens,
};

pub(super) async fn run<M: Maker>(maker: &M) {
    a_token_speaks_for_its_station_until_revoked(maker).await;
    a_name_can_be_erased(maker).await;
    a_pin_goes_with_its_person(maker).await;
    settings_keep_their_latest_value(maker).await;
    an_extract_of_a_photo_is_kept_by_its_edition(maker).await;
    summaries_are_found_by_what_people_type(maker).await;
    earlier_jobs_of_a_vehicle_are_found_by_vin_or_plate(maker).await;
    the_job_list_pages_newest_first(maker).await;
    the_job_list_is_ordered_by_rank_open_jobs_first(maker).await;
    stale_summaries_are_listed(maker).await;
    the_account_of_every_job_is_kept_as_it_was_given(maker).await;
    a_customer_is_found_by_name_and_telephone_until_erased(maker).await;
}

pub(super) fn token_of(digest: [u8; 32], station_id: &str, created_us: i64) -> KeptToken {
    KeptToken { digest, station_id: station_id.into(), created_us, ends_us: None, replaces: None }
}

pub(super) fn station(id: &str, role: &str) -> Station {
    Station {
        id: id.into(),
        name: format!("name of {id}"),
        role: role.into(),
        created_us: 5,
        revoked_us: None,
    }
}

async fn a_token_speaks_for_its_station_until_revoked<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let (bay, office) = (station("bay-1", "bay"), station("office-1", "office"));
    store.add_station(office.clone()).await.expect("add");
    store.add_station(bay.clone()).await.expect("add");
    let taken = store.add_station(station("bay-1", "admin")).await;
    assert_eq!(taken, Err(StoreError::StationExists { id: "bay-1".into() }));
    assert_eq!(store.stations().await, Ok(vec![bay.clone(), office.clone()]));
    for token in [[1; 32], [2; 32], [1; 32]] {
        store.put_token(token_of(token, "bay-1", 6)).await.expect("token");
    }
    store.put_token(token_of([3; 32], "office-1", 6)).await.expect("token");
    let unknown = store.put_token(token_of([4; 32], "bay-9", 6)).await;
    assert_eq!(unknown, Err(StoreError::StationUnknown { id: "bay-9".into() }));
    assert_eq!(store.token([4; 32]).await, Ok(None));
    assert_eq!(store.token([2; 32]).await, Ok(Some((token_of([2; 32], "bay-1", 6), bay.clone()))));

    assert_eq!(store.revoke_tokens("bay-1").await, Ok(2));
    assert_eq!(store.token([1; 32]).await, Ok(None));
    store.put_token(token_of([5; 32], "bay-1", 7)).await.expect("a station can get a new token");
    assert_eq!(store.token([5; 32]).await, Ok(Some((token_of([5; 32], "bay-1", 7), bay))));

    store.revoke_station("office-1", 8).await.expect("revoke");
    store.revoke_station("office-1", 9).await.expect("revoking twice does no harm");
    let store = reopened(maker, store).await;
    assert_eq!(store.token([3; 32]).await, Ok(None));
    assert_eq!(store.station("office-1").await, Ok(Some(Station { revoked_us: Some(8), ..office.clone() })));
    store.readmit_station("office-1").await.expect("readmit");
    let store = reopened(maker, store).await;
    assert_eq!(store.station("office-1").await, Ok(Some(office)));
    assert_eq!(store.readmit_station("bay-9").await, Err(StoreError::StationUnknown { id: "bay-9".into() }));
    assert_eq!(
        store.revoke_station("bay-9", 9).await,
        Err(StoreError::StationUnknown { id: "bay-9".into() })
    );
}

async fn a_name_can_be_erased<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    store.put_person("A", "technician A", 5).await.expect("put");
    store.put_person("B", "office B", 6).await.expect("put");
    store.put_person("A", "technician A, renamed", 7).await.expect("put");
    store.erase_person("B", 8).await.expect("erase");
    assert_eq!(store.erase_person("C", 8).await, Err(StoreError::PersonUnknown { code: "C".into() }));
    let persons = store.persons().await.expect("persons");
    let seen: Vec<_> =
        persons.iter().map(|p| (p.code.as_str(), p.name.as_deref(), p.listed_us, p.erased_us)).collect();
    assert_eq!(seen, [("A", Some("technician A, renamed"), 7, None), ("B", None, 6, Some(8))]);
    store.put_person("B", "office B", 9).await.expect("a person can be listed again");
    assert_eq!(store.persons().await.expect("persons")[1].erased_us, None);
}

async fn a_pin_goes_with_its_person<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let unknown = Err(StoreError::PersonUnknown { code: "A".into() });
    assert_eq!(store.put_person_pin("A", "hash", 5).await, unknown);
    assert_eq!(store.any_person_pin().await, Ok(false));
    store.put_person("A", "technician A", 5).await.expect("put");
    store.put_person_pin("A", "hash", 6).await.expect("set");
    store.put_person_pin("A", "another hash", 7).await.expect("set again");
    let store = reopened(maker, store).await;
    assert_eq!(store.person_pin("A").await, Ok(Some("another hash".into())));
    assert_eq!(store.any_person_pin().await, Ok(true));
    store.erase_person("A", 8).await.expect("erase");
    assert_eq!(store.person_pin("A").await, Ok(None));
    assert_eq!(store.put_person_pin("A", "hash", 9).await, unknown);
    store.put_person("A", "technician A", 10).await.expect("list again");
    assert_eq!(store.person_pin("A").await, Ok(None));
}

async fn settings_keep_their_latest_value<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    assert_eq!(store.setting("catalogue").await, Ok(None));
    store.put_setting("catalogue", "first").await.expect("put");
    store.put_setting("catalogue", "second").await.expect("put");
    let store = reopened(maker, store).await;
    assert_eq!(store.setting("catalogue").await, Ok(Some("second".into())));
}

fn summary(ordinal: u32) -> JobSummary {
    JobSummary {
        job_id: job_id(ordinal.into()),
        number: JobNumber { year: 2026, ordinal },
        plate: format!("HL-T {ordinal}01"),
        vin: format!("AA0TARNWICK00{ordinal:04}"),
        title: format!("Tarnwick, Alder-8, no. {ordinal}"),
        closed: ordinal.is_multiple_of(2),
        state: "state".into(),
        seq: 10,
        updated_us: 20,
        rank: ordinal % 3,
        account: format!(r#"{{"number":"26-{ordinal:04}","note":"süß, '{ordinal}'"}}"#),
    }
}

async fn found<B: Beside>(store: &B, text: &str) -> Vec<u32> {
    let filter = SummaryFilter { text: text.into(), ..SummaryFilter::default() };
    let lines = store.summaries(&filter, 100).await.expect("summaries");
    lines.iter().map(|line| line.number.ordinal).collect()
}

async fn summaries_are_found_by_what_people_type<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for ordinal in [1, 2, 3] {
        store.put_summary(summary(ordinal)).await.expect("put");
    }
    let umlaut = JobSummary { plate: "KÖ ÄÜ 77".into(), title: "100 % sure_thing".into(), ..summary(4) };
    store.put_summary(umlaut.clone()).await.expect("put");
    for (text, expected) in [
        ("", vec![4, 3, 2, 1]),
        ("  ", vec![4, 3, 2, 1]),
        ("26-0002", vec![2]),
        ("HL-26-0002", vec![2]),
        ("26-000", vec![4, 3, 2, 1]),
        ("hlt201", vec![2]),
        ("HL T 2", vec![2]),
        ("kö-äü", vec![4]),
        ("ICK000003", vec![3]),
        ("ick00000", vec![]),
        ("ALDER-8", vec![3, 2, 1]),
        ("alder-8,  NO. 3", vec![3]),
        ("100 %", vec![4]),
        ("100_%", vec![]),
        ("sure_thing", vec![4]),
        ("sure%thing", vec![]),
        ("-", vec![4, 3, 2, 1]),
        ("'; drop table entry; --", vec![]),
    ] {
        assert_eq!(found(&*store, text).await, expected, "text {text:?}");
    }
    // A later line replaces an earlier one, not the other way round.
    let later = JobSummary { title: "Tarnwick, other".into(), seq: 12, ..summary(1) };
    store.put_summary(later.clone()).await.expect("put");
    store.put_summary(JobSummary { seq: 11, ..summary(1) }).await.expect("put");
    let all = store.summaries(&SummaryFilter::default(), 100).await.expect("summaries");
    assert_eq!(all, [umlaut, summary(3), summary(2), later]);
}

async fn earlier_jobs_of_a_vehicle_are_found_by_vin_or_plate<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for ordinal in [1, 2, 3, 4, 5] {
        store.put_summary(summary(ordinal)).await.expect("put");
    }
    let with = |ordinal: u32, plate: &str, vin: &str| JobSummary {
        plate: plate.into(),
        vin: vin.into(),
        number: JobNumber { year: 2025, ordinal },
        ..summary(400 + ordinal)
    };
    store.put_summary(with(1, "new plate", &summary(3).vin)).await.expect("put");
    store.put_summary(with(2, "hl t301", "")).await.expect("put");
    store.put_summary(with(3, "hl t301", &summary(3).vin)).await.expect("put");
    store.put_summary(with(4, "", "")).await.expect("put");
    let number = |year, ordinal| JobNumber { year, ordinal };
    let (vin, plate) = (summary(3).vin, summary(3).plate);
    for (vehicle, before, limit, expected) in [
        ((vin.as_str(), plate.as_str()), number(2026, 3), 100, vec![3, 2, 1]),
        ((vin.to_lowercase().as_str(), "HL-T-301"), number(2026, 9), 2, vec![3, 3]),
        ((vin.as_str(), ""), number(2025, 3), 100, vec![1]),
        (("", plate.as_str()), number(2026, 3), 100, vec![3, 2]),
        (("", ""), number(2026, 9), 100, vec![]),
        ((" ", "-"), number(2026, 9), 100, vec![]),
        (("%", "_"), number(2026, 9), 100, vec![]),
    ] {
        let lines = store.summaries_of_vehicle(vehicle, before, limit).await.expect("summaries");
        let ordinals: Vec<u32> = lines.iter().map(|line| line.number.ordinal).collect();
        assert_eq!(ordinals, expected, "{vehicle:?} before {before}");
    }
}

async fn the_job_list_pages_newest_first<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for ordinal in 1..=9 {
        store.put_summary(summary(ordinal)).await.expect("put");
    }
    let last_year = JobSummary { number: JobNumber { year: 2025, ordinal: 400 }, ..summary(401) };
    store.put_summary(last_year).await.expect("put");
    let mut filter = SummaryFilter { open_only: true, ..SummaryFilter::default() };
    let mut seen = Vec::new();
    loop {
        let page = store.summaries(&filter, 2).await.expect("summaries");
        let Some(last) = page.last() else { break };
        filter.order = SummaryOrder::Newest { before: Some(last.number) };
        seen.extend(page.iter().map(|line| line.number.to_string()));
    }
    assert_eq!(seen, ["26-0009", "26-0007", "26-0005", "26-0003", "26-0001", "25-0400"]);
}

async fn the_job_list_is_ordered_by_rank_open_jobs_first<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for ordinal in 1..=9 {
        store.put_summary(summary(ordinal)).await.expect("put");
    }
    let store = reopened(maker, store).await;
    let mut filter = SummaryFilter { order: SummaryOrder::Rank { after: None }, ..SummaryFilter::default() };
    let mut seen = Vec::new();
    loop {
        let page = store.summaries(&filter, 2).await.expect("summaries");
        let Some(last) = page.last() else { break };
        filter.order = SummaryOrder::Rank { after: Some(last.place()) };
        seen.extend(page.iter().map(|line| (line.closed, line.rank, line.number.ordinal)));
    }
    let (open, closed) = ([(0, 9), (0, 3), (1, 7), (1, 1), (2, 5)], [(0, 6), (1, 4), (2, 8), (2, 2)]);
    let expected = open.map(|(rank, ordinal)| (false, rank, ordinal)).into_iter();
    let expected = expected.chain(closed.map(|(rank, ordinal)| (true, rank, ordinal)));
    assert_eq!(seen, expected.collect::<Vec<_>>());
    let text = SummaryFilter { text: "no. 7".into(), order: SummaryOrder::Rank { after: None }, ..filter };
    assert_eq!(store.summaries(&text, 10).await.expect("summaries"), [summary(7)]);
}

async fn stale_summaries_are_listed<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for at in 1..=3 {
        append(&*store, &arrival(at, job_id(at))).await;
    }
    assert_eq!(store.stale_summaries(0, 10).await, Ok(vec![job_id(1), job_id(2), job_id(3)]));
    for ordinal in 1..=3 {
        store.put_summary(JobSummary { seq: ordinal.into(), ..summary(ordinal) }).await.expect("put");
    }
    assert_eq!(store.stale_summaries(0, 10).await, Ok(vec![]));
    append(&*store, &entry(4, Some(job_id(2)))).await;
    append(&*store, &entry(5, None)).await;
    for (after, expected) in [(0, vec![job_id(2)]), (3, vec![job_id(2)]), (4, vec![]), (5, vec![])] {
        assert_eq!(store.stale_summaries(after, 10).await, Ok(expected), "after {after}");
    }
    store.put_summary(JobSummary { seq: 4, ..summary(2) }).await.expect("put");
    assert_eq!(store.stale_summaries(0, 10).await, Ok(vec![]));
}

async fn the_account_of_every_job_is_kept_as_it_was_given<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    assert_eq!(store.accounts().await, Ok(vec![]));
    let many = u32::try_from(crate::PAGE_ROWS_MAX).expect("so few") + 2;
    for ordinal in (1..=many).rev() {
        store.put_summary(summary(ordinal)).await.expect("put");
    }
    let store = reopened(maker, store).await;
    let later = JobSummary { account: "not even JSON".into(), seq: 12, ..summary(2) };
    store.put_summary(later.clone()).await.expect("put");
    store.put_summary(JobSummary { account: "older".into(), seq: 9, ..summary(3) }).await.expect("put");
    let lines = [summary(1), later].into_iter().chain((3..=many).map(summary));
    let expected: Vec<_> = lines.map(|line| (line.job_id, line.account)).collect();
    assert_eq!(store.accounts().await, Ok(expected), "all at once, in the order of their numbers");
}

async fn a_customer_is_found_by_name_and_telephone_until_erased<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for ordinal in [1, 2] {
        store.put_summary(summary(ordinal)).await.expect("put");
    }
    let (first, second) = (summary(1).job_id, summary(2).job_id);
    let customer = |name: &str, telephone: &str| Customer { name: name.into(), telephone: telephone.into() };
    assert_eq!(store.customer(first).await, Ok(None));
    store.erase_customer(first, 5).await.expect("erasing none does no harm");
    store.put_customer(first, &customer("first name", ""), 6).await.expect("put");
    store.put_customer(first, &customer("Customer  Ägir", "555 01-02"), 7).await.expect("put");
    store.put_customer(second, &customer("Customer B", ""), 7).await.expect("put");
    let store = reopened(maker, store).await;
    assert_eq!(store.customer(first).await, Ok(Some(customer("Customer  Ägir", "555 01-02"))));
    for (text, expected) in [
        ("customer ägir", vec![1]),
        ("customer", vec![2, 1]),
        ("5550", vec![1]),
        ("550-102", vec![1]),
        ("555", vec![]),
        ("first name", vec![]),
    ] {
        assert_eq!(found_with_customers(&*store, text).await, expected, "text {text:?}");
        assert_eq!(found(&*store, text).await, Vec::<u32>::new(), "without customers, text {text:?}");
    }
    // The apostrophe of a keyboard finds the one of a text program, and the other way round.
    for (kept, typed) in [("Mrs O’Wren", "o'wren"), ("Mrs O'Wren", "O’WREN"), ("Mrs O`Wren", "oʼwren")] {
        store.put_customer(first, &customer(kept, "555 0102"), 8).await.expect("put");
        assert_eq!(found_with_customers(&*store, typed).await, [1], "{typed} finds {kept}");
        assert_eq!(store.jobs_of_customer("MRS  O'Wren").await, Ok(vec![first]), "{kept}");
        assert_eq!(store.jobs_of_customer("O'Wren").await, Ok(vec![]), "only the whole name");
    }
    store.put_customer(second, &customer("mrs o‘wren", ""), 8).await.expect("put");
    assert_eq!(store.jobs_of_customer("Mrs O’Wren").await, Ok(vec![first, second]));
    store.put_customer(second, &customer("Customer B", ""), 8).await.expect("put");
    store.erase_customer(first, 8).await.expect("erase");
    assert_eq!(store.jobs_of_customer("Mrs O’Wren").await, Ok(vec![]));
    store.erase_customer(first, 9).await.expect("erasing again does no harm");
    assert_eq!(store.customer(first).await, Ok(None));
    assert_eq!(found_with_customers(&*store, "customer").await, [2]);
    assert_eq!(found_with_customers(&*store, "5550").await, Vec::<u32>::new());
    store
        .put_customer(first, &customer("Customer A", ""), 10)
        .await
        .expect("a customer can be written again");
    assert_eq!(found_with_customers(&*store, "customer a").await, [1]);
}

async fn found_with_customers<B: Beside>(store: &B, text: &str) -> Vec<u32> {
    let filter = SummaryFilter { text: text.into(), customers: true, ..SummaryFilter::default() };
    let lines = store.summaries(&filter, 100).await.expect("summaries");
    lines.iter().map(|line| line.number.ordinal).collect()
}

async fn an_extract_of_a_photo_is_kept_by_its_edition<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let (one, other) = ("a".repeat(64), "b".repeat(64));
    assert_eq!(store.photo_extract(&one, "1").await, Ok(None));
    store.put_photo_extract(&one, "1", "first").await.expect("put");
    store.put_photo_extract(&one, "1", "again").await.expect("put");
    store.put_photo_extract(&one, "2", "later").await.expect("put");
    let store = reopened(maker, store).await;
    assert_eq!(store.photo_extract(&one, "1").await, Ok(Some("again".to_owned())));
    assert_eq!(store.photo_extract(&one, "2").await, Ok(Some("later".to_owned())));
    assert_eq!(store.photo_extract(&other, "1").await, Ok(None));
}

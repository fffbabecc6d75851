//! What the answers about one job rest on beside its own entries: what was said of equipment, and other jobs with it.

use prost::Message as _;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{self, MayRequest, MayResponse, WatchRequest, fact::Kind, header::Subject};
use standpipe_server::Role;
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::site::{JournalClient, Shown, Site, append, journal, shown};

/// A fact of the site as a station seals it.
fn of_site(sealer: &mut Sealer, kind: Kind) -> Sealed {
    let entry = sealer.entry(Subject::SiteId("harbour-lane".to_owned()), kind, &[]);
    let entry_id = entry.header.as_ref().unwrap().entry_id.clone();
    Sealed { entry_id, bytes: entry.encode_to_vec().into() }
}

fn holds(fluid: &str, rinsed_litres: Option<f64>) -> Kind {
    Kind::EquipmentContents(v1::EquipmentContents {
        equipment: "EX-1".to_owned(),
        held: v1::Held::Fluid.into(),
        fluid_code: fluid.to_owned(),
        rinsed_litres,
        ..v1::EquipmentContents::default()
    })
}

fn put_right(of: &Sealed, outcome: v1::correction::Outcome) -> Kind {
    Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: of.entry_id.clone(),
        reason: "misread".to_owned(),
        outcome: Some(outcome),
    }))
}

async fn state(bay: &mut JournalClient, sealer: &mut Sealer, job: &str, kinds: Vec<Kind>) {
    for kind in kinds {
        append(bay, &sealer.seal(job, kind)).await.unwrap();
    }
}

async fn exchange(jobs: &mut JobServiceClient<Shown>, job: &str) -> MayResponse {
    let request = MayRequest { job: job.to_owned(), gate: "exchange".to_owned() };
    jobs.may(request).await.unwrap().into_inner()
}

/// What stops the work.
#[track_caller]
fn stops(answer: &MayResponse) -> String {
    let stops = answer.missing.iter().filter(|missing| missing.stops).map(|missing| missing.text.as_str());
    let stops = stops.collect::<Vec<_>>().join("\n");
    assert!(!answer.yes && !stops.is_empty(), "{answer:?}");
    stops
}

/// A job that lacks nothing for the exchange but its fluid.
fn all_but_the_fluid() -> Vec<Kind> {
    let arrived = vec![facts::arrival("PH 482 K")];
    [arrived, facts::settled(), facts::looked_at_before(), facts::hooked_up_safely()].concat()
}

#[tokio::test]
async fn the_wrong_fluid_stops_wherever_it_is_until_it_is_out_and_what_another_bay_did_counts() {
    let site = Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay)]).await;
    let server = site.serve().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut other_bay = journal(server.addr, site.token("bay-2")).await;
    let mut jobs = JobServiceClient::new(shown(server.addr, site.token("bay-1")).await);
    let (mut sealer, mut other_sealer) = (Sealer::new("bay-1", 1), Sealer::new("bay-2", 2));
    let (job, other_job) = (sealer.job(1), other_sealer.job(2));
    state(&mut bay, &mut sealer, &job, all_but_the_fluid()).await;
    // The container of the other series.
    state(&mut bay, &mut sealer, &job, vec![facts::container("BR-861", "B-1")]).await;
    assert!(stops(&exchange(&mut jobs, &job).await).contains("Linden"));
    state(&mut bay, &mut sealer, &job, vec![facts::container("LN-847", "L-2209")]).await;
    let yes = exchange(&mut jobs, &job).await;
    assert!(yes.yes, "{yes:?}");
    // The right container on equipment that still holds the other fluid.
    append(&mut other_bay, &of_site(&mut other_sealer, holds("BR-861", None))).await.unwrap();
    assert!(stops(&exchange(&mut jobs, &job).await).contains("EX-1 still holds"));
    let rinsed = of_site(&mut sealer, holds("LN-847", Some(1.0)));
    append(&mut bay, &rinsed).await.unwrap();
    let yes = exchange(&mut jobs, &job).await;
    assert!(yes.yes, "{yes:?}");
    let withdrawn = put_right(&rinsed, v1::correction::Outcome::Withdrawn(true));
    append(&mut bay, &of_site(&mut sealer, withdrawn)).await.unwrap();
    assert!(stops(&exchange(&mut jobs, &job).await).contains("EX-1 still holds"));
    append(&mut bay, &of_site(&mut sealer, holds("LN-847", Some(1.0)))).await.unwrap();
    assert!(exchange(&mut jobs, &job).await.yes);
    // Meanwhile another job pushes its fluid through the same equipment.
    let work = vec![
        facts::arrival("WR 118 T"),
        facts::container("BR-861", "B-1"),
        facts::hooked_up(),
        facts::pushed(2.0, None, None, false),
    ];
    state(&mut other_bay, &mut other_sealer, &other_job, work).await;
    assert!(stops(&exchange(&mut jobs, &job).await).contains("EX-1 still holds"));
}

#[tokio::test]
async fn a_watch_tells_what_a_fact_of_the_site_changes_in_the_job() {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let server = site.serve().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut jobs = JobServiceClient::new(shown(server.addr, site.token("bay-1")).await);
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let held = of_site(&mut sealer, holds("LN-847", None));
    append(&mut bay, &held).await.unwrap();
    state(&mut bay, &mut sealer, &job, all_but_the_fluid()).await;
    let looks = [(2.4, 25), (4.8, 50), (7.2, 75)]
        .map(|(litres, tube)| facts::pushed(litres, Some(tube), None, false));
    state(&mut bay, &mut sealer, &job, vec![facts::container("LN-847", "L-2209")]).await;
    state(&mut bay, &mut sealer, &job, looks.into()).await;
    let mut states = jobs.watch(WatchRequest { job: job.clone(), after_seq: 0 }).await.unwrap().into_inner();
    let first = states.message().await.unwrap().unwrap();
    // It held the other fluid, which went in before the new one.
    let fact = Box::new(v1::Fact { kind: Some(holds("BR-861", None)) });
    let other = put_right(&held, v1::correction::Outcome::Replacement(fact));
    append(&mut bay, &of_site(&mut sealer, other)).await.unwrap();
    let next = states.message().await.unwrap().unwrap();
    assert_eq!(next.last_seq, first.last_seq, "the job itself got no entry");
    let share = |state: &v1::WatchResponse| {
        let exchange = state.exchange.as_ref().unwrap();
        exchange.share_at_handover.as_ref().unwrap().share
    };
    assert!(share(&next) < share(&first), "{first:?}\n{next:?}");
}

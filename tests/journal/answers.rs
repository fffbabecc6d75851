//! The answers that rest on the journal: go-aheads, corrections, the printed record.

use super::{as_station, everything, jobs_as, stop, workshop};
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{self, GetRequest, MayRequest, MayResponse, RenderRequest, fact::Kind};
use standpipe_server::RunningServer;
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{Site, append, shown};
use standpipe_tests::told::{info, reason};
use tonic::Code;

async fn may(site: &Site, server: &RunningServer, job: &str, gate: &str) -> MayResponse {
    let mut jobs = jobs_as(site, server, "bay-1").await;
    jobs.may(MayRequest { job: job.to_owned(), gate: gate.to_owned() }).await.unwrap().into_inner()
}

async fn state(site: &Site, server: &RunningServer, sealer: &mut Sealer, job: &str, kinds: Vec<Kind>) {
    let mut bay = as_station(site, server, "bay-1").await;
    for kind in kinds {
        append(&mut bay, &sealer.seal(job, kind)).await.unwrap();
    }
}

fn part(part: v1::Part, code: &str) -> Kind {
    let read_by = v1::ReadBy::Eye.into();
    Kind::PartChecked(v1::PartChecked { part: part.into(), code: code.into(), lot: String::new(), read_by })
}

#[tokio::test]
async fn a_no_names_every_reason_at_once_and_turns_into_a_yes_when_all_are_gone() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    state(&site, &server, &mut sealer, &job, vec![facts::arrival("PH 482 K")]).await;
    for gate in ["exchange", "refill"] {
        let open = may(&site, &server, &job, gate).await;
        assert!(!open.yes && open.basis.is_empty());
        assert_eq!(open.missing.len(), 1, "{open:?}");
        assert!(open.missing[0].text.contains("Settle which transmission variant") && !open.missing[0].stops);
        assert_eq!(open.summary.unwrap().number, "HL-26-0001");
    }
    let settled = vec![
        facts::vin(facts::VIN_SECOND_SERIES),
        facts::last_eight(&facts::VIN_SECOND_SERIES[9..]),
        facts::settled_by_rule("A8-II"),
    ];
    state(&site, &server, &mut sealer, &job, settled).await;
    let open = may(&site, &server, &job, "exchange").await;
    assert_eq!(open.missing.len(), 1, "{open:?}");
    assert!(open.missing[0].text.contains("Linden"), "{open:?}");
    state(&site, &server, &mut sealer, &job, vec![facts::container("LN-847", "L-2209")]).await;
    let yes = may(&site, &server, &job, "exchange").await;
    assert!(
        yes.yes && yes.missing.is_empty() && yes.basis.iter().any(|line| line.contains("Linden")),
        "{yes:?}"
    );
    let (entries, _) = everything(&mut as_station(&site, &server, "bay-1").await, &job).await;
    assert_eq!(yes.last_seq, entries.last().unwrap().seq, "a yes ends with the next entry");
}

#[tokio::test]
async fn codes_that_contradict_the_variant_are_all_named_and_nobody_can_override_them() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let mut disagreeing = v1::VariantSettled {
        variant_code: "A8-II".into(),
        means: v1::SettledBy::LookedUp.into(),
        source: "parts list, edition of May".into(),
        transmission_plate_agrees: v1::Answer::No.into(),
        ..v1::VariantSettled::default()
    };
    let wrong = vec![
        facts::arrival("PH 482 K"),
        facts::vin(facts::VIN_FIRST_SERIES),
        facts::last_eight(&facts::VIN_SECOND_SERIES[9..]),
        Kind::VariantSettled(disagreeing.clone()),
        part(v1::Part::FluidContainer, "BR-861"),
        part(v1::Part::Filter, "F8-10"),
        part(v1::Part::TransmissionPlate, "A8 0117"),
        part(v1::Part::Standpipe, "SP-52"),
        part(v1::Part::OldFilter, "F8-10"),
    ];
    state(&site, &server, &mut sealer, &job, wrong).await;
    for gate in ["exchange", "refill"] {
        let no = may(&site, &server, &job, gate).await;
        assert!(!no.yes && no.missing.iter().all(|missing| missing.stops), "{no:?}");
        // Plate, last eight, the catalogue's rule, container, filter, plate code, standpipe, old filter.
        assert_eq!(no.missing.len(), 8, "{no:?}");
        for word in ["BR-861", "F8-10", "A8 0117", "SP-52", &facts::VIN_SECOND_SERIES[9..]] {
            assert!(no.missing.iter().any(|missing| missing.text.contains(word)), "{word} in {no:?}");
        }
    }
    disagreeing.transmission_plate_agrees = v1::Answer::Yes.into();
    state(&site, &server, &mut sealer, &job, vec![Kind::VariantSettled(disagreeing)]).await;
    assert_eq!(may(&site, &server, &job, "exchange").await.missing.len(), 7);
    let mut jobs = jobs_as(&site, &server, "office").await;
    let got = jobs.get(GetRequest { job: "1".into() }).await.unwrap().into_inner().job.unwrap();
    assert_eq!(got.findings.iter().filter(|finding| finding.stops).count(), 7, "{:?}", got.findings);
}

#[tokio::test]
async fn a_gate_that_nobody_knows_and_a_job_that_nobody_opened_are_refused_with_what_there_is() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut jobs = jobs_as(&site, &server, "bay-1").await;
    let ask = |job: &str, gate: &str| MayRequest { job: job.into(), gate: gate.into() };
    let refused = jobs.may(ask("1", "lift")).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::InvalidArgument, "GATE_UNKNOWN"));
    assert_eq!(info(&refused).unwrap().metadata["known"], "exchange, refill");
    for job in ["1", "HL-26-0001", "XY-26-0001", "no such job", "01890a5d-ac96-774b-8000-000000000001"] {
        let refused = jobs.may(ask(job, "refill")).await.unwrap_err();
        assert_eq!((refused.code(), reason(&refused).as_str()), (Code::NotFound, "JOB_UNKNOWN"), "{job}");
        assert_eq!(info(&refused).unwrap().metadata["job"], job);
    }
}

#[tokio::test]
async fn the_same_entry_corrected_by_two_bays_is_kept_twice_counts_as_the_later_and_is_found() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut sealer = Sealer::new("bay-1", 1);
    let mut other = Sealer::new("bay-2", 2);
    let job = sealer.job(1);
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut other_bay = as_station(&site, &server, "bay-2").await;
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let wrong = sealer.seal_typed(&job, facts::drained(5.03), &[("mass_kilograms", "5.03 kg")]);
    append(&mut bay, &wrong).await.unwrap();
    let right = |kilograms: f64, reason: &str| {
        let fact = v1::Fact { kind: Some(facts::drained(kilograms)) };
        Kind::Correction(Box::new(v1::Correction {
            corrected_entry_id: wrong.entry_id.clone(),
            reason: reason.to_owned(),
            outcome: Some(v1::correction::Outcome::Replacement(Box::new(fact))),
        }))
    };
    let corrections = [
        sealer.seal_typed(&job, right(3.05, "digits exchanged"), &[("mass_kilograms", "3.05 kg")]),
        other.seal_typed(&job, right(3.50, "read again"), &[("mass_kilograms", "3.50 kg")]),
    ];
    let (one, two) = tokio::join!(append(&mut bay, &corrections[0]), append(&mut other_bay, &corrections[1]));
    let later = if one.unwrap().seq > two.unwrap().seq { "3.05" } else { "3.50" };
    let (entries, _) = everything(&mut bay, &job).await;
    for correction in &corrections {
        assert_eq!(
            entries.iter().filter(|entry| entry.entry == correction.bytes).count(),
            1,
            "both are kept"
        );
    }
    let mut jobs = jobs_as(&site, &server, "office").await;
    let got = jobs.get(GetRequest { job }).await.unwrap().into_inner().job.unwrap();
    assert_eq!(got.entry_count, 4);
    assert!(got.findings.iter().any(|finding| finding.text.contains("corrected more than once")), "{got:?}");
    let line = got.story.iter().find(|line| line.entry_id == wrong.entry_id).unwrap();
    assert!(line.changed.contains(later), "{later} in {line:?}");
}

#[tokio::test]
async fn a_record_is_the_same_bytes_every_time_also_after_a_restart_and_another_after_an_entry() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    state(&site, &server, &mut sealer, &job, facts::whole_service()).await;
    let render = async |server: &RunningServer| {
        let mut records = RecordServiceClient::new(shown(server.addr, site.token("office")).await);
        records
            .render(RenderRequest { job: "HL-26-0001".into(), ..Default::default() })
            .await
            .unwrap()
            .into_inner()
    };
    let record = render(&server).await;
    assert!(record.pdf.starts_with(b"%PDF-") && record.file_name == "HL-26-0001.pdf", "{}", record.file_name);
    assert_eq!(render(&server).await, record);
    stop(server).await;
    let server = site.serve().await;
    assert_eq!(render(&server).await, record);
    state(&site, &server, &mut sealer, &job, vec![facts::temperature(41.0)]).await;
    let later = render(&server).await;
    assert!(later.pdf != record.pdf && later.check_value != record.check_value);
}

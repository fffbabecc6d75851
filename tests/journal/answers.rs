//! The answers that rest on the journal: go-aheads, corrections, the printed record.

use super::{as_station, everything, jobs_as, stop, workshop};
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{self, GetRequest, MayRequest, MayResponse, RenderRequest, fact::Kind};
use standpipe_server::RunningServer;
use standpipe_tests::clock::Hand;
use standpipe_tests::facts;
use standpipe_tests::sealed::{START_US, Sealer};
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

/// Keys of what a gate lacks, in its order.
async fn lacks(site: &Site, server: &RunningServer, job: &str, gate: &str) -> Vec<String> {
    let answer = may(site, server, job, gate).await;
    assert_eq!(answer.yes, answer.missing.is_empty(), "{answer:?}");
    answer.missing.into_iter().map(|missing| missing.key).collect()
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
        assert!(!open.yes && open.basis.is_empty() && open.missing.len() > 1, "{open:?}");
        assert!(open.missing[0].text.contains("Settle which transmission variant"), "{open:?}");
        assert!(open.missing.iter().all(|missing| !missing.stops), "{open:?}");
        assert_eq!(open.summary.unwrap().number, "HL-26-0001");
    }
    let mut open = lacks(&site, &server, &job, "exchange").await;
    let before = ["codes-before", "drive-before", "caution", "lift-locked", "sample-before"];
    let at_the_line = ["caution", "direction-tested", "caution"];
    assert_eq!(open, [&["variant"][..], &before, &at_the_line].concat());
    state(&site, &server, &mut sealer, &job, facts::settled()).await;
    // Which fluid is the right one is known only now.
    open = lacks(&site, &server, &job, "exchange").await;
    assert_eq!(open, [&before[..], &["fluid"], &at_the_line].concat());
    let fluid = vec![facts::container("LN-847", "L-2209")];
    let work = [facts::looked_at_before(), fluid, facts::hooked_up_safely()].concat();
    assert_eq!(work.len(), open.len());
    // In the order of the work, and each fact takes away its own point and no other.
    for kind in work {
        let told = may(&site, &server, &job, "exchange").await.missing;
        assert!(told.iter().any(|missing| missing.text.contains("Linden")) == open.contains(&"fluid".into()));
        state(&site, &server, &mut sealer, &job, vec![kind]).await;
        open.remove(0);
        assert_eq!(lacks(&site, &server, &job, "exchange").await, open);
    }
    let yes = may(&site, &server, &job, "exchange").await;
    assert!(
        yes.yes && yes.missing.is_empty() && yes.basis.iter().any(|line| line.contains("Linden")),
        "{yes:?}"
    );
    assert!(yes.cautions.iter().any(|caution| caution.contains("licensed practice")), "{yes:?}");
    let (entries, _) = everything(&mut as_station(&site, &server, "bay-1").await, &job).await;
    assert_eq!(yes.last_seq, entries.last().unwrap().seq, "a yes ends with the next entry");
}

#[tokio::test]
async fn every_gate_of_a_whole_service_opens_in_the_order_of_the_work_and_none_before_its_time() {
    let site = workshop().await;
    // A temperature is good for two minutes, so the server's clock stands right after the entries.
    let server = site.serve_on(Hand::at(START_US + 60_000_000)).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let mut opened: Vec<&str> = Vec::new();
    for kind in facts::whole_service() {
        // The gate through which this fact goes is open when it is stated.
        let through = match &kind {
            Kind::ExchangeReading(_) => Some("exchange"),
            Kind::Drain(_) => Some("pan"),
            Kind::Fill(_) => Some("refill"),
            Kind::GearCycle(_) => Some("start-engine"),
            Kind::LevelCheck(check) if check.overflow() == v1::Overflow::Drops => Some("level"),
            Kind::RoadTest(drive) if drive.moment() == v1::Moment::After => Some("road-test"),
            Kind::Closing(_) => Some("close"),
            _ => None,
        };
        if let Some(gate) = through.filter(|gate| !opened.contains(gate)) {
            assert_eq!(lacks(&site, &server, &job, gate).await, [""; 0], "{gate}");
            opened.push(gate);
        }
        state(&site, &server, &mut sealer, &job, vec![kind]).await;
        if opened.is_empty() {
            for gate in ["pan", "refill", "start-engine", "level", "road-test", "close"] {
                assert!(!may(&site, &server, &job, gate).await.yes, "{gate} is open before the work began");
            }
        }
    }
    assert_eq!(opened, ["exchange", "pan", "refill", "start-engine", "level", "road-test", "close"]);
    // A closed job gives no go-ahead for any work.
    for gate in &opened[..6] {
        assert!(lacks(&site, &server, &job, gate).await.contains(&"closed".to_owned()), "{gate}");
    }
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
        facts::part(v1::Part::FluidContainer, "BR-861"),
        facts::part(v1::Part::Filter, "F8-10"),
        facts::part(v1::Part::TransmissionPlate, "A8 0117"),
        facts::part(v1::Part::Standpipe, "SP-52"),
        facts::part(v1::Part::OldFilter, "F8-10"),
    ];
    state(&site, &server, &mut sealer, &job, wrong).await;
    // Neither a decision nor a step that was left out stands in for a code that contradicts.
    let decided = Kind::Decision(v1::Decision {
        point: "contradiction".into(),
        reason: "agreed with the customer".into(),
    });
    let skipped =
        Kind::Skipped(v1::Skipped { step: "pan-seen".into(), reason: v1::SkipReason::NotPossible.into() });
    state(&site, &server, &mut sealer, &job, vec![decided, skipped]).await;
    let stops = |answer: &MayResponse| answer.missing.iter().filter(|missing| missing.stops).count();
    for gate in ["exchange", "refill"] {
        let no = may(&site, &server, &job, gate).await;
        // Plate, last eight, the catalogue's rule, container, filter, plate code, standpipe, old filter.
        assert!(!no.yes && stops(&no) == 8, "{no:?}");
        for word in ["BR-861", "F8-10", "A8 0117", "SP-52", &facts::VIN_SECOND_SERIES[9..]] {
            let named = |missing: &v1::MissingPoint| missing.stops && missing.text.contains(word);
            assert!(no.missing.iter().any(named), "{word} in {no:?}");
        }
    }
    disagreeing.transmission_plate_agrees = v1::Answer::Yes.into();
    state(&site, &server, &mut sealer, &job, vec![Kind::VariantSettled(disagreeing)]).await;
    assert_eq!(stops(&may(&site, &server, &job, "exchange").await), 7);
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
    assert_eq!(
        info(&refused).unwrap().metadata["known"],
        "exchange, pan, refill, start-engine, level, road-test, close"
    );
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

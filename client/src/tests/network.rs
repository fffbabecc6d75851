//! The station and a shop server: joining, sending, being cut off, asking.

use super::fake::{Fake, TOKEN};
use super::*;
use crate::disk::SystemDisk;
use crate::folder::archive::day_of;
use crate::{Change, SendEnd};
use standpipe_proto::v1::{PresetField, Step};
use std::collections::BTreeSet;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpListener;

struct Bay {
    _folder: tempfile::TempDir,
    home: std::path::PathBuf,
    clock: Arc<TestClock>,
    options: StationOptions,
    station: Station,
}

fn bay(address: &str) -> Bay {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("bay-1");
    write_joined(&SystemDisk, &home, address);
    let clock = TestClock::new();
    let options = StationOptions { clock: clock.clone(), ..options(Arc::new(SystemDisk), 7) };
    let station = at_work(&home, options.clone());
    Bay { _folder: folder, home, clock, options, station }
}

fn add(station: &mut Station, litres: f64) -> crate::Kept {
    let (fact, typed) = drained(litres);
    station.add(fact, typed, None).unwrap()
}

#[test]
fn joining_needs_a_good_token_and_keeps_who_the_station_is() {
    let shop = Fake::start();
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("bay-1");
    let mut station = Station::open(&home, options(Arc::new(SystemDisk), 1)).unwrap();
    assert!(matches!(station.joined(), Err(ClientError::NotJoined { .. })));
    let refused = wait_for(station.join(&shop.address, "another")).unwrap_err();
    assert!(matches!(refused, ClientError::NotPermitted(_)), "{refused}");
    let joined = wait_for(station.join(&shop.address, &format!(" {TOKEN}\n"))).unwrap();
    assert_eq!((joined.station_id.as_str(), joined.site_id.as_str()), ("bay-1", "harbour-lane"));
    drop(station);
    let station = Station::open(&home, options(Arc::new(SystemDisk), 2)).unwrap();
    assert_eq!(station.joined().unwrap(), &joined);
}

/// The shop server's machine lost its power: its socket stays open on this side.
#[test]
fn a_server_that_is_gone_without_a_word_is_noticed_by_its_silence() {
    let silent = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    silent.set_nonblocking(true).unwrap();
    let mut bay = bay(&format!("http://{}", silent.local_addr().unwrap()));
    let hour = Duration::from_secs(3_600);
    let deadlines =
        Deadlines { call: hour, sign_of_life: Duration::from_millis(100), ..Deadlines::default() };
    bay.station = at_work(&bay.home, StationOptions { deadlines, ..bay.options.clone() });
    let gone = async {
        let (mut stream, _) = TcpListener::from_std(silent).unwrap().accept().await.unwrap();
        // Empty settings, so that the connection stands (RFC 9113, section 3.4); nothing after that is answered.
        stream.write_all(&[0, 0, 0, 4, 0, 0, 0, 0, 0]).await.unwrap();
        let mut heard = Vec::new();
        stream.read_to_end(&mut heard).await.unwrap();
    };
    let (asked, ()) = wait_for(async { tokio::join!(bay.station.jobs("", false), gone) });
    assert!(matches!(asked, Err(ClientError::Away(_))), "{asked:?}");
}

#[test]
fn a_folder_of_another_station_is_not_joined_again() {
    let shop = Fake::start();
    let folder = tempfile::tempdir().unwrap();
    let other = Joined {
        address: shop.address.clone(),
        token: "x".into(),
        station_id: "office".into(),
        site_id: "harbour-lane".into(),
        site_name: String::new(),
        authority: None,
        clock_ahead_seconds: None,
    };
    std::fs::write(folder.path().join("station.toml"), toml::to_string(&other).unwrap()).unwrap();
    let mut station = Station::open(folder.path(), options(Arc::new(SystemDisk), 1)).unwrap();
    let refused = wait_for(station.join(&shop.address, TOKEN)).unwrap_err();
    assert!(matches!(refused, ClientError::OtherStation { .. }), "{refused}");
    assert_eq!(station.joined().unwrap().station_id, "office");
}

#[test]
fn what_was_stated_without_a_network_arrives_in_order_when_it_is_back() {
    let mut bay = bay(&nobody());
    for litres in 1..=70 {
        assert_eq!(add(&mut bay.station, f64::from(litres) / 10.0).waiting, litres as usize + 1);
    }
    let away = wait_for(bay.station.send()).unwrap();
    assert!(matches!(away.end, SendEnd::Later { ref sentence, .. } if sentence.contains("does not answer")));
    assert_eq!(away.waiting, 71);
    let made: Vec<_> = bay.station.unsent.values().map(|kept| kept.waiting.entry_id.clone()).collect();

    let shop = Fake::start();
    write_joined(&SystemDisk, &bay.home, &shop.address);
    drop(bay.station);
    let mut station = Station::open(&bay.home, bay.options).unwrap();
    let sent = wait_for(station.send()).unwrap();
    assert_eq!((sent.end, sent.waiting, sent.sent.len()), (SendEnd::Done, 0, 71));
    assert_eq!(shop.shop().ids(), made);
    assert_eq!(station.sent_entries().unwrap().len(), 71);
    assert_eq!(station.current_job().unwrap().to_string(), "HL-26-0001 TW 4711");
    // The first name does not live on: it could be meant for a job opened later.
    let stale = wait_for(station.job(Some("new-1"))).unwrap_err().to_string();
    assert!(stale.contains("new-1 is job HL-26-0001") && stale.contains("by the number"), "{stale}");
    assert_eq!(wait_for(station.job(Some("HL-26-0001"))).unwrap().plate, "TW 4711");
}

#[test]
fn a_stream_that_breaks_after_any_number_of_answers_loses_and_doubles_nothing() {
    for breaks_after in 0..12 {
        let shop = Fake::start();
        let mut bay = bay(&shop.address);
        let made: Vec<_> = (1..=10).map(|litres| add(&mut bay.station, f64::from(litres)).entry_id).collect();
        shop.shop().breaks_after = Some(breaks_after);
        let mut report = wait_for(bay.station.send()).unwrap();
        if report.waiting > 0 {
            // Broken before any answer: the station does not try again by itself, the caller does.
            assert!(breaks_after == 0 && matches!(report.end, SendEnd::Later { .. }), "{report:?}");
            report = wait_for(bay.station.send()).unwrap();
        }
        assert_eq!((report.end, report.waiting), (SendEnd::Done, 0), "after {breaks_after}");
        assert_eq!(shop.shop().ids()[1..], made);
    }
}

#[test]
fn an_entry_whose_answer_was_lost_is_sent_again_and_known_before() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    shop.shop().dies_before_answer = true;
    assert_eq!(wait_for(bay.station.send()).unwrap().waiting, 1);
    assert_eq!(shop.shop().journal.len(), 1);
    let again = wait_for(bay.station.send()).unwrap();
    assert!(again.sent[0].repeated && shop.shop().journal.len() == 1);
}

#[test]
fn a_server_without_the_stream_gets_entries_one_by_one() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    add(&mut bay.station, 1.0);
    shop.shop().knows_no_stream = true;
    shop.shop().refuses = Some(("drain", tonic::Code::InvalidArgument));
    let report = wait_for(bay.station.send()).unwrap();
    assert_eq!((report.end, report.sent.len(), report.refused.len()), (SendEnd::Done, 1, 1));
    shop.shop().refuses = None;
    add(&mut bay.station, 2.0);
    assert_eq!(wait_for(bay.station.send()).unwrap().sent.len(), 1);
}

#[test]
fn a_refused_entry_is_set_aside_with_its_sentence_and_the_others_go_on() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    let kept = add(&mut bay.station, 1.0);
    shop.shop().refuses = Some(("drain", tonic::Code::InvalidArgument));
    let report = wait_for(bay.station.send()).unwrap();
    assert_eq!((report.end, report.waiting, report.sent.len()), (SendEnd::Done, 0, 1));
    let aside = bay.station.unsent().unwrap().refused;
    assert_eq!(aside[0].refusal.message, "it is refused in this test");
    assert_eq!(aside[0].entry.header.as_ref().unwrap().entry_id, kept.entry_id);
    shop.shop().refuses = None;
    assert_eq!(wait_for(bay.station.send()).unwrap().sent.len(), 0);
}

#[test]
fn an_entry_that_is_not_taken_for_now_stays_and_so_does_what_follows() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    add(&mut bay.station, 1.0);
    // Without its arrival the drain would be refused for ever; it is not even sent.
    shop.shop().refuses = Some(("arrival", tonic::Code::ResourceExhausted));
    let report = wait_for(bay.station.send()).unwrap();
    assert!(
        matches!(report.end, SendEnd::Later { ref sentence, .. } if sentence == "it is refused in this test")
    );
    assert_eq!((report.waiting, report.refused.len()), (2, 0));
    shop.shop().refuses = None;
    assert_eq!(wait_for(bay.station.send()).unwrap().sent.len(), 2);
}

#[test]
fn a_token_that_was_taken_back_leaves_everything_in_the_list() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    let text = std::fs::read_to_string(bay.home.join("station.toml")).unwrap();
    std::fs::write(bay.home.join("station.toml"), text.replace(TOKEN, "another")).unwrap();
    let mut station = Station::open(&bay.home, bay.options.clone()).unwrap();
    let report = wait_for(station.send()).unwrap();
    assert!(matches!(report.end, SendEnd::NotPermitted(_)), "{report:?}");
    assert_eq!((report.waiting, report.refused.len()), (1, 0));
    let job = bay.station.current_job().unwrap();
    let refused = wait_for(station.may(&job, "exchange")).unwrap_err();
    assert!(matches!(refused, ClientError::NotPermitted(_)), "{refused}");
    bay.station.take_notices();
}

#[test]
fn a_copied_list_starts_a_new_epoch_and_numbers_from_1_again() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    add(&mut bay.station, 1.0);
    shop.shop().says_numbers_are_reused = true;
    wait_for(bay.station.send()).unwrap();
    shop.shop().says_numbers_are_reused = false;
    assert_eq!(add(&mut bay.station, 2.0).station_number, 1);
    wait_for(bay.station.send()).unwrap();
    let headers: Vec<_> = shop.shop().entries().into_iter().map(|entry| entry.header.unwrap()).collect();
    let epochs: BTreeSet<_> = headers.iter().map(|header| header.station_epoch.clone()).collect();
    assert_eq!(epochs.len(), 2);
    drop(bay.station);
    let mut station = Station::open(&bay.home, bay.options).unwrap();
    assert_eq!(add(&mut station, 3.0).station_number, 2);
}

#[test]
fn two_commands_on_one_folder_take_turns_and_never_share_a_number() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    let mut other = Station::open(&bay.home, bay.options.clone()).unwrap();
    let mut numbers = Vec::new();
    for round in 1..=5 {
        numbers.push(add(&mut bay.station, 0.1).station_number);
        numbers.push(add(&mut other, 0.2).station_number);
        if round == 3 {
            assert_eq!(wait_for(other.send()).unwrap().sent.len(), 7);
        }
    }
    assert_eq!(numbers, (2..=11).collect::<Vec<_>>());
    assert_eq!(wait_for(bay.station.send()).unwrap().waiting, 0);
    assert_eq!(wait_for(other.send()).unwrap().sent.len(), 0);
    assert_eq!(shop.shop().journal.len(), 11);
}

#[test]
fn while_another_command_sends_this_one_keeps_and_says_so() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    let other = Station::open(&bay.home, bay.options.clone()).unwrap();
    let _sending = other.folder.lock_sending().unwrap();
    add(&mut bay.station, 1.0);
    let report = wait_for(bay.station.send()).unwrap();
    assert!(matches!(report.end, SendEnd::Busy(ref holder) if holder.contains("test")), "{report:?}");
    assert_eq!(report.waiting, 2);
}

#[test]
fn there_is_no_go_ahead_without_the_server_or_with_entries_on_the_way() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    shop.shop().says_yes = true;
    let job = bay.station.current_job().unwrap();
    assert!(wait_for(bay.station.may(&job, "exchange")).unwrap().yes);
    // Something new was stated and cannot be taken for now: the yes that the server would give does not count.
    add(&mut bay.station, 1.0);
    shop.shop().refuses = Some(("drain", tonic::Code::Unavailable));
    let calls = shop.shop().calls;
    let refused = wait_for(bay.station.may(&job, "exchange")).unwrap_err();
    assert!(
        refused.to_string().contains("1 entry of job HL-26-0001 TW 4711 is not at the shop server yet"),
        "{refused}"
    );
    assert_eq!(shop.shop().calls, calls + 1, "only the stream, not the question");
    drop(shop);
    let refused = wait_for(bay.station.may(&job, "exchange")).unwrap_err();
    assert!(
        matches!(refused, ClientError::NoGoAhead(_))
            && refused.to_string().contains("earlier yes does not count")
    );
}

#[test]
fn a_fact_of_the_site_that_waits_holds_up_every_go_ahead_and_is_not_asked_again() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    shop.shop().says_yes = true;
    let preset = vec![PresetField { name: "equipment".into(), value: "X-1".into() }];
    shop.shop().steps =
        vec![Step { name: "contents".into(), kind: "equipment_contents".into(), preset, ..Step::default() }];
    let job = bay.station.current_job().unwrap();
    assert_eq!(wait_for(bay.station.remaining(&job)).unwrap().steps.len(), 1);
    assert!(wait_for(bay.station.may(&job, "exchange")).unwrap().yes);
    shop.shop().refuses = Some(("equipment_contents", tonic::Code::Unavailable));
    let flags = ["--equipment", "X-1", "--held", "fluid", "--fluid-code", "LN-847"];
    let read = crate::words::read_fact("equipment-contents", &flags).unwrap();
    bay.station.add_of_site(read.fact, read.as_typed, None).unwrap();
    let no = wait_for(bay.station.may(&job, "exchange")).unwrap_err().to_string();
    assert!(no.contains("1 fact of the site is not at the shop server yet"), "{no}");
    let no = wait_for(bay.station.plan(&job, None)).unwrap_err().to_string();
    assert!(no.contains("1 fact of the site is not at the shop server yet"), "{no}");
    let remaining = wait_for(bay.station.remaining(&job)).unwrap();
    assert!(remaining.away.is_some() && remaining.steps.is_empty(), "{remaining:?}");
    shop.shop().refuses = None;
    assert!(wait_for(bay.station.may(&job, "exchange")).unwrap().yes);
}

#[test]
fn a_clock_that_jumps_by_years_changes_no_order_and_stops_nobody() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    let year = 365 * 86_400_000_000_i64;
    let mut made = Vec::new();
    for jump in [-10, 10, 0, -60, 300, 1] {
        bay.clock.now.store(START + jump * year, std::sync::atomic::Ordering::SeqCst);
        made.push(add(&mut bay.station, 1.0).entry_id);
    }
    assert!(bay.station.take_notices().iter().any(|notice| notice.contains("set the clock")));
    wait_for(bay.station.send()).unwrap();
    assert_eq!(shop.shop().ids()[1..], made);
    let numbers: Vec<_> =
        shop.shop().entries().iter().map(|e| e.header.as_ref().unwrap().station_number).collect();
    assert_eq!(numbers, (1..=7).collect::<Vec<_>>());
}

#[test]
fn what_was_sent_is_kept_for_30_days_of_the_servers_clock_and_no_number_comes_again() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    wait_for(bay.station.send()).unwrap();
    let day = 86_400;
    for (days, left) in [(30, 2), (31, 2), (70, 1)] {
        shop.shop().now_seconds = START / 1_000_000 + days * day;
        add(&mut bay.station, 1.0);
        wait_for(bay.station.send()).unwrap();
        let sent = bay.station.sent_entries().unwrap();
        assert_eq!(sent.len(), left, "after {days} days");
        assert_eq!(sent.last().unwrap().day, day_of(START + days * day * 1_000_000));
    }
    std::fs::remove_dir_all(bay.home.join("sent")).unwrap();
    drop(bay.station);
    let mut station = Station::open(&bay.home, bay.options).unwrap();
    assert_eq!(add(&mut station, 2.0).station_number, 5);
}

#[test]
fn an_entry_is_found_for_correction_by_place_identity_or_end_and_only_of_its_kind() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    let kept = add(&mut bay.station, 1.0);
    let end = &kept.entry_id[28..];
    let found = wait_for(bay.station.find_entry(end, None)).unwrap();
    assert_eq!((found.entry_id.as_str(), found.kind.as_str()), (kept.entry_id.as_str(), "drain"));
    wait_for(bay.station.send()).unwrap();
    assert_eq!(
        wait_for(bay.station.find_entry("2", None)).unwrap(),
        wait_for(bay.station.find_entry(end, None)).unwrap().clone()
    );

    let (fact, typed) = drained(2.0);
    let corrected = bay
        .station
        .correct(&found, Change::Replace(Box::new(fact.clone())), "misread the jug", typed)
        .unwrap();
    let kind = Fact { kind: Some(Kind::Arrival(arrival())) };
    let unfit =
        bay.station.correct(&found, Change::Replace(Box::new(kind)), "misread", Vec::new()).unwrap_err();
    assert!(unfit.to_string().contains("of the kind drain, not arrival"), "{unfit}");
    let again = wait_for(bay.station.find_entry(&corrected.entry_id, None)).unwrap_err();
    assert!(again.to_string().contains(&kept.entry_id), "{again}");
    let short = bay.station.correct(&found, Change::Withdraw, "x", Vec::new()).unwrap_err();
    assert!(short.to_string().contains("3 to 400 are allowed"), "{short}");

    // Another station's entry is found in the story of the job.
    wait_for(bay.station.send()).unwrap();
    std::fs::remove_dir_all(bay.home.join("sent")).unwrap();
    assert_eq!(wait_for(bay.station.find_entry("2", None)).unwrap().kind, "drain");
    assert!(wait_for(bay.station.find_entry("99", None)).is_err());
    drop(shop);
    assert!(matches!(wait_for(bay.station.find_entry("2", None)), Err(ClientError::Away(_))));
    let offline = wait_for(bay.station.find_entry(&kept.entry_id, None)).unwrap();
    assert_eq!(offline.kind, "");
}

#[test]
fn a_job_of_another_station_is_taken_by_its_number_and_known_from_then_on() {
    let shop = Fake::start();
    let mut one = bay(&shop.address);
    wait_for(one.station.send()).unwrap();
    let folder = tempfile::tempdir().unwrap();
    write_joined(&SystemDisk, folder.path(), &shop.address);
    let mut two = Station::open(folder.path(), options(Arc::new(SystemDisk), 99)).unwrap();
    two.set_person("B").unwrap();
    assert!(matches!(two.current_job(), Err(ClientError::NoJob)));
    assert_eq!(wait_for(two.use_job("1")).unwrap().to_string(), "HL-26-0001 TW 4711");
    assert_eq!(wait_for(two.jobs("", true)).unwrap().len(), 1);
    drop(shop);
    assert_eq!(wait_for(two.job(Some("1"))).unwrap().number, "HL-26-0001");
    let unknown = wait_for(two.job(Some("7"))).unwrap_err();
    assert!(matches!(unknown, ClientError::JobUnknown { .. }), "{unknown}");
    assert_eq!(add(&mut two, 1.0).job.number, "HL-26-0001");
}

#[test]
fn the_list_of_jobs_is_read_page_by_page() {
    let shop = Fake::start();
    let mut bay = bay(&shop.address);
    for _ in 0..4 {
        bay.station.open_job(arrival(), Vec::new(), None).unwrap();
    }
    wait_for(bay.station.send()).unwrap();
    let numbers: Vec<_> =
        wait_for(bay.station.jobs("", false)).unwrap().into_iter().map(|job| job.number).collect();
    assert_eq!(numbers, ["HL-26-0005", "HL-26-0004", "HL-26-0003", "HL-26-0002", "HL-26-0001"]);
}

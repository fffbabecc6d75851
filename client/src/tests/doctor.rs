//! What `doctor` says of a station, with a server, without one, and with one that knows it no more.

use super::*;
use crate::disk::SystemDisk;
use crate::tests::{add_one, at_work, fake, nobody, options, wait_for, write_joined};
use std::sync::Arc;

fn of<'a>(examined: &'a Examined, about: &str) -> &'a Check {
    examined.checks.iter().find(|check| check.about == about).unwrap()
}

#[test]
fn without_the_server_it_says_what_could_not_be_asked() {
    let home = tempfile::tempdir().unwrap();
    write_joined(&SystemDisk, home.path(), &nobody());
    let mut station = at_work(home.path(), options(Arc::new(SystemDisk), 1));
    add_one(&mut station);
    let examined = wait_for(station.doctor()).unwrap();
    assert!(!examined.reached);
    let address = of(&examined, "address");
    assert!(address.sentence.contains("nothing answers"), "{address:?}");
    assert!(address.sentence.contains("could not be asked") && !address.sentence.contains("os error"));
    assert!(examined.checks.iter().all(|check| check.about != "server"), "it is told once");
    let unsent = of(&examined, "unsent");
    assert!(unsent.sentence.starts_with("2 entries") && unsent.next.as_deref() == Some("standpipe send"));
    assert_eq!(of(&examined, "folder").next, None);
}

#[test]
fn with_the_server_everything_is_asked() {
    let home = tempfile::tempdir().unwrap();
    let shop = fake::Fake::start();
    write_joined(&SystemDisk, home.path(), &shop.address);
    let mut station = Station::open(home.path(), options(Arc::new(SystemDisk), 1)).unwrap();
    let examined = wait_for(station.doctor()).unwrap();
    assert!(examined.reached);
    assert_eq!(of(&examined, "address").next, None);
    assert_eq!(of(&examined, "token").sentence, "good, and does not end");
    assert_eq!(of(&examined, "person").next.as_deref(), Some("standpipe as CODE"));
}

#[test]
fn who_states_nothing_or_is_an_instrument_is_not_asked_for_a_person() {
    let answer = |role: v1::Role, kinds: &[&str]| v1::DescribeResponse {
        station: Some(v1::Station {
            role: role.into(),
            kinds: kinds.iter().map(|kind| (*kind).to_owned()).collect(),
            ..v1::Station::default()
        }),
        ..v1::DescribeResponse::default()
    };
    for role in [v1::Role::Owner, v1::Role::Forwarder] {
        assert!(needs_nobody(&answer(role, &[])).is_some(), "{role:?}");
    }
    assert!(needs_nobody(&answer(v1::Role::Bay, &["exchange_reading"])).is_some());
    for role in [v1::Role::Bay, v1::Role::Office, v1::Role::Admin] {
        assert!(needs_nobody(&answer(role, &[])).is_none(), "{role:?}");
    }
}

#[test]
fn a_folder_that_is_no_station_yet_is_told_the_whole_list_and_how_to_join() {
    let checks = not_joined(Path::new("bay-1"));
    let to_do: Vec<_> = checks.iter().filter(|check| check.next.is_some()).collect();
    assert_eq!(to_do.len(), 1);
    assert!(to_do[0].sentence.starts_with("not joined"));
    assert!(to_do[0].next.as_ref().unwrap().starts_with("standpipe join HOST CODE"));
}

#[test]
fn clocks_apart_by_more_than_five_seconds_are_told_with_their_side() {
    let answer = |seconds| v1::DescribeResponse {
        server_time: Some(prost_types::Timestamp { seconds, nanos: 0 }),
        ..v1::DescribeResponse::default()
    };
    let told = |seconds| clock_check(&answer(seconds), 1_000_000_000).unwrap();
    assert_eq!((told(995).next, told(1_005).next), (None, None));
    assert!(told(994).sentence.starts_with("6.0 s ahead of"));
    assert!(told(1_000 + 86_400).sentence.starts_with("86400.0 s behind"));
    assert!(told(994).next.is_some());
    assert_eq!(clock_check(&v1::DescribeResponse::default(), 0), None);
}

#[test]
fn a_token_that_ends_soon_is_told_by_the_servers_clock() {
    let joined = Joined {
        address: String::new(),
        token: String::new(),
        station_id: "bay-1".into(),
        site_id: "harbour-lane".into(),
        site_name: String::new(),
        authority: None,
        clock_ahead_seconds: None,
    };
    let day = DAY_MICROSECONDS / 1_000_000;
    let answer = |days: i64| v1::DescribeResponse {
        station: Some(v1::Station { station_id: "bay-1".into(), ..v1::Station::default() }),
        site_id: "harbour-lane".into(),
        server_time: Some(prost_types::Timestamp { seconds: 1_000 * day, nanos: 0 }),
        token_expire_time: Some(prost_types::Timestamp { seconds: (1_000 + days) * day, nanos: 0 }),
        ..v1::DescribeResponse::default()
    };
    assert_eq!(
        token_check(&joined, &answer(120), 0),
        Check::well("token", "good for 120 more days, until 1973-01-25 00:00 UTC")
    );
    assert!(token_check(&joined, &answer(13), 0).next.unwrap().contains("standpipe send"));
    let foreign = v1::DescribeResponse { site_id: "mill-street".into(), ..answer(120) };
    assert!(token_check(&joined, &foreign, 0).sentence.contains("mill-street"));
}

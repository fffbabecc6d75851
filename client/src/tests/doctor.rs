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
    assert!(of(&examined, "server").sentence.contains("could not be asked"));
    assert!(of(&examined, "address").sentence.contains("nothing answers"));
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
    assert_eq!(token_check(&joined, &answer(120), 0), Check::well("token", "good for 120 more days"));
    assert!(token_check(&joined, &answer(13), 0).next.unwrap().contains("standpipe send"));
    let foreign = v1::DescribeResponse { site_id: "mill-street".into(), ..answer(120) };
    assert!(token_check(&joined, &foreign, 0).sentence.contains("mill-street"));
}

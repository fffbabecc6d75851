//! What a code is good for: once, for one token, ten minutes, five wrong tries.

use super::{code, guess, join, site, token, who};
use standpipe_proto::limits::{JOIN_CODE_SECONDS, JOIN_CODE_TRIES_MAX, JOIN_GUESSES_PER_ADDRESS_MAX};
use standpipe_tests::clock::Hand;
use standpipe_tests::sealed::START_US;
use standpipe_tests::told::reason;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

const SECOND_US: i64 = 1_000_000;

/// What is told of a refusal, all of it.
fn told(status: &Status) -> (Code, String, Vec<u8>) {
    (status.code(), status.message().to_owned(), status.details().to_vec())
}

#[tokio::test]
async fn a_code_makes_a_station_once_and_a_lost_answer_is_given_again() {
    let site = site().await;
    let server = site.serve_on(Hand::at(START_US)).await;
    let code = code(&site.dir(), "bay-2").await;
    let (own, other) = (token('a'), token('b'));
    let joined = join(server.addr, code.secret(), &own).await.unwrap();
    let station = joined.station.clone().unwrap();
    assert_eq!((station.station_id.as_str(), joined.site_id.as_str()), ("bay-2", "harbour-lane"));
    assert_eq!(joined.server_time.unwrap().seconds, START_US / SECOND_US);
    // 180 days, the default of the settings.
    assert_eq!(joined.token_expire_time.unwrap().seconds, START_US / SECOND_US + 180 * 86_400);
    assert_eq!(who(server.addr, &own).await.unwrap(), "bay-2");
    // The answer was lost on the way: the same question has the same answer.
    assert_eq!(join(server.addr, code.secret(), &own).await.unwrap(), joined);
    assert_eq!(join(server.addr, &code.secret().to_lowercase(), &own).await.unwrap(), joined);
    let used = join(server.addr, code.secret(), &other).await.unwrap_err();
    assert_eq!((used.code(), reason(&used).as_str()), (Code::Unauthenticated, "JOIN_CODE_NOT_GOOD"));
    assert_eq!(who(server.addr, &other).await.unwrap_err().code(), Code::Unauthenticated);
    assert_eq!(who(server.addr, &own).await.unwrap(), "bay-2");
}

#[tokio::test]
async fn whatever_is_wrong_with_a_code_the_answer_is_the_same() {
    let site = site().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let own = token('a');
    let unknown = join(server.addr, "0000000000", &own).await.unwrap_err();

    let used = code(&site.dir(), "bay-2").await;
    join(server.addr, used.secret(), &own).await.unwrap();
    let used = join(server.addr, used.secret(), &token('b')).await.unwrap_err();

    let tried = code(&site.dir(), "bay-2").await;
    for number in 0..JOIN_CODE_TRIES_MAX as usize {
        join(server.addr, &guess(tried.secret(), number), &token('b')).await.unwrap_err();
    }
    let tried = join(server.addr, tried.secret(), &token('b')).await.unwrap_err();

    let replaced = code(&site.dir(), "bay-2").await;
    let late = code(&site.dir(), "bay-2").await;
    let replaced = join(server.addr, replaced.secret(), &token('b')).await.unwrap_err();
    clock.forward(i64::try_from(JOIN_CODE_SECONDS).unwrap() * SECOND_US);
    let late = join(server.addr, late.secret(), &token('b')).await.unwrap_err();
    for status in [&used, &tried, &replaced, &late] {
        assert_eq!(told(status), told(&unknown));
    }
    assert_eq!(reason(&unknown), "JOIN_CODE_NOT_GOOD");
    assert!(unknown.message().contains("standpipe-server station code NAME"), "{}", unknown.message());
    assert_eq!(who(server.addr, &own).await.unwrap(), "bay-2", "nobody joined in its place");
}

#[tokio::test]
async fn a_code_stands_four_wrong_tries_and_ten_minutes_less_a_second() {
    let site = site().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let code = code(&site.dir(), "bay-2").await;
    for number in 1..JOIN_CODE_TRIES_MAX as usize {
        join(server.addr, &guess(code.secret(), number), &token('b')).await.unwrap_err();
    }
    clock.forward(i64::try_from(JOIN_CODE_SECONDS - 1).unwrap() * SECOND_US);
    join(server.addr, code.secret(), &token('a')).await.unwrap();
}

#[tokio::test]
async fn who_guesses_on_and_on_is_not_looked_at_for_a_while() {
    let site = site().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let good = code(&site.dir(), "bay-2").await;
    for number in 0..JOIN_GUESSES_PER_ADDRESS_MAX {
        let secret = format!("{number:010}");
        assert_ne!(&secret[..4], &good.secret()[..4], "one in a million; run it again");
        let refused = join(server.addr, &secret, &token('b')).await.unwrap_err();
        assert_eq!(reason(&refused), "JOIN_CODE_NOT_GOOD");
    }
    let refused = join(server.addr, good.secret(), &token('a')).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::ResourceExhausted, "TOO_MANY_FAILURES"));
    let wait = refused.get_details_retry_info().unwrap().retry_delay.unwrap();
    assert_eq!(wait.as_secs(), JOIN_CODE_SECONDS);
    // A station that has a token is not touched by it.
    assert_eq!(who(server.addr, site.token("bay-1")).await.unwrap(), "bay-1");
    clock.forward(i64::try_from(JOIN_CODE_SECONDS).unwrap() * SECOND_US);
    let new = code(&site.dir(), "bay-2").await;
    join(server.addr, new.secret(), &token('a')).await.unwrap();
}

#[tokio::test]
async fn a_new_code_leaves_the_token_until_the_one_that_came_with_it_is_used() {
    let site = site().await;
    let server = site.serve_on(Hand::at(START_US)).await;
    let old = site.token("bay-1");
    let code = code(&site.dir(), "bay-1").await;
    assert_eq!(who(server.addr, old).await.unwrap(), "bay-1");
    join(server.addr, code.secret(), &token('a')).await.unwrap();
    // A code that was typed at the wrong machine locks nobody out: that machine never uses what it got.
    assert_eq!(who(server.addr, old).await.unwrap(), "bay-1");
    assert_eq!(who(server.addr, &token('a')).await.unwrap(), "bay-1");
    assert_eq!(reason(&who(server.addr, old).await.unwrap_err()), "TOKEN_NOT_GOOD");
    // What was good before is good for no code either.
    let again = super::code(&site.dir(), "bay-2").await;
    let taken = join(server.addr, again.secret(), &token('a')).await.unwrap_err();
    assert_eq!(reason(&taken), "JOIN_CODE_NOT_GOOD", "a token of another station makes no station");
}

#[tokio::test]
async fn the_code_of_a_revoked_station_is_no_longer_good() {
    let site = site().await;
    let server = site.serve_on(Hand::at(START_US)).await;
    let code = code(&site.dir(), "bay-2").await;
    let revoke = standpipe_server::Order::RevokeStation { name: "bay-2".into() };
    standpipe_server::order(&site.dir(), revoke).await.unwrap();
    let refused = join(server.addr, code.secret(), &token('a')).await.unwrap_err();
    assert_eq!(reason(&refused), "JOIN_CODE_NOT_GOOD");
}

#[tokio::test]
async fn what_cannot_be_a_code_or_a_token_is_outside_its_bounds() {
    let site = site().await;
    let server = site.serve_on(Hand::at(START_US)).await;
    let code = code(&site.dir(), "bay-2").await;
    for (secret, token) in [
        ("", token('a')),
        (&code.to_string(), token('a')),
        (code.secret(), String::new()),
        (code.secret(), "a".repeat(63)),
        (code.secret(), "x".repeat(64)),
    ] {
        let refused = join(server.addr, secret, &token).await.unwrap_err();
        assert_eq!(reason(&refused), "OUTSIDE_BOUNDS", "{secret} {token}");
    }
    join(server.addr, code.secret(), &token('a')).await.unwrap();
}

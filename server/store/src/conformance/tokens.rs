//! What tokens that replace each other and codes to join promise.

use super::beside::{station, token_of};
use super::{Maker, fresh, reopened};
use crate::{Beside, CodeUse, KeptCode, KeptToken, ShownCode, StoreError, Tokens};

pub(super) async fn run<M: Maker>(maker: &M) {
    a_token_goes_when_the_one_that_replaces_it_is_used(maker).await;
    a_code_is_used_once_and_for_one_token(maker).await;
    a_code_is_no_good_after_its_end_or_so_many_wrong_guesses(maker).await;
    a_station_has_one_code(maker).await;
    a_token_of_a_code_outlives_renewals_of_the_one_before(maker).await;
}

fn code(secret: u8, tag: &str, station_id: &str) -> KeptCode {
    KeptCode {
        digest: [secret; 32],
        tag: tag.into(),
        station_id: station_id.into(),
        created_us: 100,
        ends_us: 200,
        tries: 0,
        used_for: None,
    }
}

fn shown(secret: u8, tag: &str, token: u8) -> ShownCode {
    ShownCode {
        digest: [secret; 32],
        tag: tag.into(),
        token: [token; 32],
        now_us: 150,
        token_ends_us: Some(900),
        tries_max: 5,
    }
}

async fn a_token_goes_when_the_one_that_replaces_it_is_used<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    store.add_station(station("bay-1", "bay")).await.expect("add");
    store.put_token(token_of([1; 32], "bay-1", 6)).await.expect("token");
    let new = |digest: u8, at| KeptToken {
        ends_us: Some(70),
        replaces: Some([1; 32]),
        ..token_of([digest; 32], "bay-1", at)
    };
    store.put_token(new(2, 7)).await.expect("token");
    store.put_token(new(3, 8)).await.expect("token");
    store.put_token(new(3, 9)).await.expect("the same again");
    let store = reopened(maker, store).await;
    assert_eq!(store.tokens().await, Ok(vec![token_of([1; 32], "bay-1", 6), new(3, 8)]));
    store.take_up_token([1; 32]).await.expect("it replaces nothing");
    assert!(store.token([1; 32]).await.expect("read").is_some());
    store.take_up_token([3; 32]).await.expect("take up");
    assert_eq!(store.token([1; 32]).await, Ok(None));
    store.take_up_token([3; 32]).await.expect("taking up twice does no harm");
    store.put_token(new(4, 10)).await.expect("asked");
    assert_eq!(store.token([4; 32]).await, Ok(None), "a token that is gone is not replaced");
    assert_eq!(store.tokens().await, Ok(vec![KeptToken { replaces: None, ..new(3, 8) }]));
}

async fn a_code_is_used_once_and_for_one_token<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for name in ["bay-1", "bay-2"] {
        store.add_station(station(name, "bay")).await.expect("add");
    }
    store.put_token(token_of([1; 32], "bay-1", 6)).await.expect("token");
    store.put_token(token_of([2; 32], "bay-2", 6)).await.expect("token");
    store.put_code(code(7, "ABCD", "bay-1")).await.expect("code");
    assert_eq!(
        store.put_code(code(8, "EFGH", "bay-9")).await,
        Err(StoreError::StationUnknown { id: "bay-9".into() })
    );
    assert_eq!(store.use_code(shown(7, "ABCD", 2)).await, Ok(CodeUse::NotGood), "a token of another station");
    assert!(store.token([1; 32]).await.expect("read").is_some(), "good until the code is used");

    assert_eq!(store.use_code(shown(7, "ABCD", 5)).await, Ok(CodeUse::Now));
    let token = KeptToken { ends_us: Some(900), replaces: Some([1; 32]), ..token_of([5; 32], "bay-1", 150) };
    assert_eq!(store.token([5; 32]).await, Ok(Some((token, station("bay-1", "bay")))));
    assert!(store.token([1; 32]).await.expect("read").is_some(), "good until the new one is used");
    assert!(store.token([2; 32]).await.expect("read").is_some(), "of another station");
    let store = reopened(maker, store).await;
    assert_eq!(store.use_code(shown(7, "ABCD", 5)).await, Ok(CodeUse::Before));
    // One that nobody used, of a code that was typed at the wrong machine, goes with the first use of the next.
    store.put_code(code(9, "JKMN", "bay-1")).await.expect("code");
    assert_eq!(store.use_code(shown(9, "JKMN", 6)).await, Ok(CodeUse::Now));
    store.take_up_token([6; 32]).await.expect("take up");
    for gone in [1, 5] {
        assert_eq!(store.token([gone; 32]).await, Ok(None), "{gone}");
    }
    assert!(store.token([2; 32]).await.expect("read").is_some(), "of another station");
    store.put_code(code(7, "ABCD", "bay-1")).await.expect("code");
    assert_eq!(store.use_code(shown(7, "ABCD", 5)).await, Ok(CodeUse::Now));
    assert_eq!(store.use_code(shown(7, "ABCD", 6)).await, Ok(CodeUse::NotGood));
    assert_eq!(store.use_code(ShownCode { now_us: 200, ..shown(7, "ABCD", 5) }).await, Ok(CodeUse::NotGood));
    store.revoke_tokens("bay-1").await.expect("revoke");
    assert_eq!(store.use_code(shown(7, "ABCD", 5)).await, Ok(CodeUse::NotGood), "its token was taken back");
}

async fn a_code_is_no_good_after_its_end_or_so_many_wrong_guesses<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for name in ["bay-1", "bay-2", "bay-3"] {
        store.add_station(station(name, "bay")).await.expect("add");
    }
    store.put_code(code(1, "ABCD", "bay-1")).await.expect("code");
    store.put_code(code(2, "EFGH", "bay-2")).await.expect("code");
    store.put_code(code(3, "JKMN", "bay-3")).await.expect("code");
    for guess in 10..15 {
        assert_eq!(store.use_code(shown(guess, "ABCD", 5)).await, Ok(CodeUse::NotGood));
    }
    assert_eq!(store.use_code(shown(1, "ABCD", 5)).await, Ok(CodeUse::NotGood), "tried too often");
    let tries: Vec<u32> = store.codes().await.expect("codes").iter().map(|code| code.tries).collect();
    assert_eq!(tries, [6, 0, 0]);
    let late = ShownCode { now_us: 200, ..shown(2, "EFGH", 6) };
    assert_eq!(store.use_code(late).await, Ok(CodeUse::NotGood), "past its end");
    assert_eq!(store.use_code(ShownCode { now_us: 199, ..shown(2, "EFGH", 6) }).await, Ok(CodeUse::Now));
    store.revoke_station("bay-3", 140).await.expect("revoke");
    assert_eq!(store.use_code(shown(3, "JKMN", 7)).await, Ok(CodeUse::NotGood), "its station is revoked");
}

async fn a_station_has_one_code<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for name in ["bay-1", "bay-2", "bay-3"] {
        store.add_station(station(name, "bay")).await.expect("add");
    }
    let later = |secret, tag, name| KeptCode { created_us: 300, ends_us: 400, ..code(secret, tag, name) };
    store.put_code(code(1, "ABCD", "bay-1")).await.expect("code");
    store.put_code(code(2, "ABCD", "bay-2")).await.expect("code");
    store.put_code(KeptCode { ends_us: 350, ..code(4, "PQRS", "bay-3") }).await.expect("code");
    store.put_code(later(3, "EFGH", "bay-1")).await.expect("code");
    let kept: Vec<u8> = store.codes().await.expect("codes").iter().map(|code| code.digest[0]).collect();
    assert_eq!(kept, [3, 4], "its own before it, and the one that ended");
    store.remove_codes("bay-1").await.expect("remove");
    assert_eq!(store.codes().await.expect("codes").len(), 1);
}

async fn a_token_of_a_code_outlives_renewals_of_the_one_before<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for name in ["bay-1", "bay-2"] {
        store.add_station(station(name, "bay")).await.expect("add");
    }
    store.put_token(token_of([1; 32], "bay-1", 6)).await.expect("token");
    store.put_code(code(7, "ABCD", "bay-1")).await.expect("code");
    assert_eq!(store.use_code(shown(7, "ABCD", 5)).await, Ok(CodeUse::Now));
    // The machine before renews, uses what it got, and renews again; meanwhile the code is past its end.
    let renewed = |digest: u8, of: u8, at| KeptToken {
        replaces: Some([of; 32]),
        ..token_of([digest; 32], "bay-1", at)
    };
    store.put_token(renewed(2, 1, 160)).await.expect("renew");
    store.take_up_token([2; 32]).await.expect("take up");
    let later = KeptCode { created_us: 300, ends_us: 400, ..code(8, "EFGH", "bay-2") };
    store.put_code(later).await.expect("code");
    store.put_token(renewed(3, 2, 310)).await.expect("renew");
    let store = reopened(maker, store).await;
    for good in [2, 3, 5] {
        assert!(store.token([good; 32]).await.expect("read").is_some(), "{good}");
    }
    store.take_up_token([5; 32]).await.expect("take up");
    for gone in [1, 2, 3] {
        assert_eq!(store.token([gone; 32]).await, Ok(None), "{gone}");
    }
    let (token, _) = store.token([5; 32]).await.expect("read").expect("the new machine's");
    assert_eq!(token.replaces, None);
    store.remove_open_codes().await.expect("remove");
    let left: Vec<u8> = store.codes().await.expect("codes").iter().map(|code| code.digest[0]).collect();
    assert_eq!(left, [7], "the used one says whose answer was lost");
}

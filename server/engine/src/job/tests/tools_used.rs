//! Tools that were no good when they were used, and screws out of their order.

use super::gates::{closed_pan, decision, lacks};
use super::registers::{BEFORE, checked, happened, site, tightened, with_site};
use super::*;

#[test]
fn a_later_good_check_does_not_clear_what_was_known_at_the_use() {
    let recent = (BEFORE, 10, checked(10.1));
    let good = (900, 0, checked(10.1));
    for (before, words) in [
        (checked(10.6), "was found out of its limits"),
        (happened(v1::ToolEvent::TakenOut), "was taken out of use"),
    ] {
        let journal = with_site(closed_pan(), site(&[recent.clone(), (1, 1, before), good.clone()]));
        assert!(journal.missing(Gate::Refill).contains(words), "{words}");
    }
    let overloaded = (1, 1, happened(v1::ToolEvent::Overloaded));
    let journal = with_site(closed_pan(), site(&[recent, overloaded, good]));
    assert_eq!(lacks(&journal, Gate::Refill), [""; 0], "the check found that it took no harm");
}

#[test]
fn a_check_without_a_limit_is_judged_by_the_limit_of_the_standard_and_says_so() {
    let without = |reference| match checked(reference) {
        Kind::ToolChecked(check) => Kind::ToolChecked(v1::ToolChecked { limit_percent: None, ..check }),
        other => other,
    };
    // 10.0 shown for 10.5 is 4.8 % off, for 10.7 it is 6.5 % (ISO 6789-1, 6 %; from memory).
    let within = with_site(closed_pan(), site(&[(1, 10, without(10.5))]));
    assert_eq!(lacks(&within, Gate::Refill), [""; 0]);
    let text = with_site(closed_pan(), site(&[(1, 10, without(10.7))])).missing(Gate::Refill);
    let text = text.replace('\u{a0}', " ");
    assert!(text.contains("found out of 6 %, the limit that is taken where none is stated"), "{text}");
}

#[test]
fn an_order_that_was_not_kept_is_decided_by_name_and_a_whole_ring_has_rows_for_every_pass() {
    let not_kept = match tightened(13, 13, &[]) {
        Kind::Tightening(it) => Kind::Tightening(v1::Tightening { order_kept: 2, ..it }),
        other => other,
    };
    let mut journal = closed_pan();
    journal.add(not_kept);
    assert_eq!(lacks(&journal, Gate::Refill), ["screws-order"]);
    journal.add(decision("screws-order"));
    assert_eq!(lacks(&journal, Gate::Refill), [""; 0]);
    // Three stages and the check pass of 13 screws are 52 rows; 60 screws in seven passes are 420.
    let order = crate::formula::screw_order::ring_order(60);
    journal.add(tightened(60, 60, &order.repeat(7)));
}

//! What comes before what: litres, pan and level, what was told late, and clocks.

use super::*;

#[test]
fn litres_out_that_were_read_earlier_do_not_stand_for_the_end() {
    let mut journal = settled_job();
    journal.add(container("Linden"));
    for (litres, out, last) in [(4.0, Some(3.9), false), (8.0, Some(7.9), false), (12.0, None, true)] {
        journal.add(pushed(litres, Some(50), out, last));
    }
    let balance = journal.view().balance.unwrap();
    assert!(balance.difference.is_none() && balance.came_out.is_empty());
    assert!(all(&balance.remarks).contains("was not measured"));
}

#[test]
fn several_drains_and_refills_are_summed_for_the_customer() {
    let mut journal = exchanged_job();
    for kilograms in [2.0, 1.0] {
        journal.add(drained(kilograms)).add(refilled(kilograms, "Linden"));
    }
    let short = all(&journal.view().in_short);
    assert!(short.contains("drained 3.5\u{a0}L from the pan and refilled 3.5\u{a0}L"), "{short}");
}

#[test]
fn a_drain_an_exchange_or_a_later_look_without_drops_takes_the_level_back() {
    let later: [Kind; 3] = [drained(1.0), pushed(12.5, None, Some(12.4), true), level(43.0, 3)];
    for kind in later {
        let mut journal = serviced_job();
        assert!(all(&journal.view().in_short).contains("The level was set"));
        journal.add(kind);
        assert!(all(&journal.view().in_short).contains("not known to be right"));
    }
}

#[test]
fn a_level_without_selector_or_means_does_not_count() {
    let mut journal = serviced_job();
    let check = v1::LevelCheck {
        temperature_celsius: 43.0,
        overflow: 2,
        engine_idling: 1,
        vehicle_level: 1,
        selector: 3,
        ..Default::default()
    };
    journal.add(Kind::LevelCheck(check));
    let level = journal.view().level;
    let text = said(&level.attempts.last().unwrap().text);
    assert!(
        text.contains("selector stood in another position")
            && text.contains("not stated how the temperature")
    );
}

#[test]
fn more_out_than_in_says_stop_the_engine() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(6.0, None, Some(6.8), false));
    let findings = journal.view().findings;
    assert!(findings.iter().any(|finding| said(&finding.text).starts_with("Stop the engine: 0.6")));
    journal.add(pushed(9.0, None, Some(9.1), false));
    assert!(
        journal.view().findings.iter().all(|finding| !said(&finding.text).starts_with("Stop the engine"))
    );
}

#[test]
fn what_was_typed_late_and_after_closing_is_said() {
    let mut journal = serviced_job();
    journal.add(Kind::Closing(v1::Closing { outcome: 1, ..Default::default() }));
    journal.add(container("Linden"));
    let text =
        journal.view().findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join(" ");
    assert!(text.contains("Stated after the job was closed: Code Linden"), "{text}");
    assert!(journal.missing(Gate::Exchange).contains("The job is closed"));
}

#[test]
fn a_station_clock_that_cannot_be_true_is_named_and_the_server_s_time_is_shown() {
    let mut journal = settled_job();
    let received = journal.entries.last().unwrap().0;
    for (_, bytes) in &mut journal.entries {
        let mut entry = v1::Entry::decode(bytes.as_slice()).unwrap();
        entry.header.as_mut().unwrap().station_time =
            Some(prost_types::Timestamp { seconds: 946_684_800, nanos: 0 });
        *bytes = entry.encode_to_vec();
    }
    let view = journal.view();
    assert_eq!(view.head.date, "18 March 2026");
    assert_eq!(view.story.last().unwrap().time_us, received);
    let named =
        view.findings.iter().filter(|finding| said(&finding.text).contains("clock of station bay-1")).count();
    assert_eq!(named, 1);
}

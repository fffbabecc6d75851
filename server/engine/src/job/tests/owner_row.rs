//! The row of a job for an owner's sums: flat numbers, no customer, no person, no VIN.

use super::gates::{closed_pan, codes, decision, dry, skipped};
use super::registers::{BEFORE, checked, display_checked, happened, site, with_site};
use super::signed::correction;
use super::*;
use crate::owner::{DisplayState, JobRow, RowSettings, vehicle_digest};

const SETTINGS: RowSettings<'static> = RowSettings { site: "site-1", vehicle_key: b"key", persons: false };

fn row(journal: &Journal) -> JobRow {
    journal.with(|context, entries| JobRow::of(context, entries, &SETTINGS))
}

fn closed(mut journal: Journal) -> Journal {
    journal.add(Kind::Closing(v1::Closing { outcome: 1, odometer_kilometres: Some(118_262.0) }));
    journal
}

fn near(found: Option<f64>, expected: f64) {
    assert!((found.unwrap() - expected).abs() < 1e-9, "{found:?} is not {expected}");
}

#[test]
fn an_owner_s_row_has_the_figures_of_the_job_s_own_view() {
    let journal = closed(serviced_job());
    let (row, view) = (row(&journal), journal.view());
    let balance = view.balance.as_ref().unwrap();
    near(row.litres_in, balance.total_in.value);
    near(row.litres_in_uncertainty, balance.total_in.standard_uncertainty);
    near(row.litres_out, balance.total_out.value);
    near(row.difference, balance.difference.unwrap().value);
    near(row.difference_uncertainty, balance.difference.unwrap().standard_uncertainty);
    near(row.share, view.exchange.as_ref().unwrap().share_after_pan.unwrap().value);
    assert_eq!((row.level_attempts, row.level_set), (2, true));
    assert_eq!((row.number.as_str(), row.variant.as_str()), ("HL-26-0042", "A8-II"));
    assert_eq!((row.fluid.as_str(), row.lots[0].code.as_str()), ("LN-847", "LN-847"));
    assert_eq!((row.lots[0].lot.as_str(), row.other_fluid, row.recalled_lot), ("L-2209", false, false));
    assert_eq!((row.day.as_str(), row.month.as_str(), row.done), ("2026-03-18", "2026-03", true));
    assert_eq!(row.entries as usize, view.story.len());
    assert_eq!(row.last_seq, view.provenance.last_seq);
    assert!(
        row.litres_by_display.abs() < 0.6,
        "in and out by one display err alike: {}",
        row.litres_by_display
    );
    // An entry a minute: every minute belongs to one part.
    let minutes = row.minutes;
    let parts = [
        minutes.minutes_before,
        minutes.minutes_exchange,
        minutes.minutes_pan,
        minutes.minutes_level,
        minutes.minutes_after,
    ];
    assert_eq!(parts.iter().flatten().sum::<i64>() + 1, i64::from(row.entries), "{parts:?}");
    assert!(parts.iter().all(Option::is_some), "{parts:?}");
}

#[test]
fn an_owner_s_row_tells_of_no_customer_and_of_persons_only_when_asked() {
    let journal = closed(serviced_job());
    let text = serde_json::to_string(&row(&journal)).unwrap();
    for told in ["PH 482", "PH482", "AZTWA8M47LA042317", "technician", "\"A\""] {
        assert!(!text.contains(told), "{told} is in {text}");
    }
    let again: JobRow = serde_json::from_str(&text).unwrap();
    assert_eq!(again, row(&journal));
    let persons = RowSettings { persons: true, ..SETTINGS };
    let with = journal.with(|context, entries| JobRow::of(context, entries, &persons));
    assert_eq!(with.persons, ["A"]);
}

#[test]
fn a_vehicle_is_found_again_by_its_vin_in_any_spelling_and_only_with_the_same_key() {
    let vin = vehicle_digest(b"key", "AZTWA8M47LA042317", "PH 482 K");
    assert_eq!(vin, vehicle_digest(b"key", "aztwa8m47la042317", "another plate"));
    assert_eq!(vin, row(&serviced_job()).vehicle);
    assert_ne!(vin, vehicle_digest(b"other", "AZTWA8M47LA042317", ""));
    assert_eq!(vehicle_digest(b"key", "", "PH 482 K"), vehicle_digest(b"key", "", "ph-482-k"));
    assert_ne!(vehicle_digest(b"key", "", "PH482K"), vehicle_digest(b"key", "PH482K", ""));
    assert_eq!(vehicle_digest(b"key", "", " "), "");
    assert_eq!(vin.len(), 32);
}

#[test]
fn an_owner_s_row_names_tools_past_their_check_and_displays_without_one() {
    let good = with_site(closed_pan(), site(&[(BEFORE, 10, checked(10.1))]));
    assert!(row(&good).tools_past_check.is_empty());
    let dropped = happened(v1::ToolEvent::Overloaded);
    let bad = with_site(closed_pan(), site(&[(BEFORE, 10, checked(10.1)), (1, 1, dropped)]));
    assert_eq!(row(&bad).tools_past_check, ["T-07"]);
    assert!(row(&closed_pan()).tools_past_check.is_empty(), "where no register is kept nothing is past it");

    let by_display = |facts: &[(u64, i64, Kind)]| {
        let mut journal = settled_job();
        let hookup = v1::Hookup { place: 1, equipment: "E-1".into(), ..Default::default() };
        journal.add(container("Linden")).add(Kind::Hookup(hookup));
        journal.add(pushed(9.4, None, None, true));
        row(&with_site(journal, site(facts)))
    };
    let never = by_display(&[]);
    assert_eq!((never.display, never.equipment.as_str()), (DisplayState::NeverChecked, "E-1"));
    assert!((never.litres_by_display - 9.4).abs() < 0.3, "{}", never.litres_by_display);
    let checked = by_display(&[(BEFORE, 10, display_checked(5.0, 4.85))]);
    assert_eq!(checked.display, DisplayState::Checked);
    let same = (checked.litres_by_display - never.litres_by_display).abs();
    assert!(same < 1e-9, "as it showed, whatever its check says: {same}");
    assert_eq!(by_display(&[(BEFORE, 900, display_checked(5.0, 4.85))]).display, DisplayState::PastCheck);
}

#[test]
fn an_owner_s_row_says_when_another_fluid_went_in() {
    let mut journal = settled_job();
    journal.add(container("Bramble")).add(pushed(9.0, None, None, true));
    assert!(row(&journal).other_fluid);
}

#[test]
fn a_decision_counts_in_an_owner_s_row_once_it_decides_something() {
    let mut journal = closed_pan();
    let before = row(&journal).decisions;
    journal.add(decision("nothing-of-the-sort"));
    assert_eq!(row(&journal).decisions, before);
}

#[test]
fn what_stood_open_at_the_closing_is_counted_and_the_level_is_not_counted_twice() {
    // Everything was done but the plug and the look for leaks.
    let open = row(&closed(super::gates::level_read()));
    assert!(open.level_set && open.open_at_closing > 0, "{}", open.open_at_closing);
    // Nobody looked at the level either: no point more.
    let mut never = super::gates::level_read();
    never.entries.pop();
    let never = row(&closed(never));
    assert_eq!((never.level_set, never.open_at_closing), (false, open.open_at_closing));
    // Once it is closed and dry, or while the job is open, there is none.
    assert_eq!(row(&closed(dry())).open_at_closing, 0);
    assert_eq!(row(&super::gates::level_read()).open_at_closing, 0);
}

#[test]
fn a_pan_that_was_never_refilled_is_short_whoever_closed_the_job() {
    let mut journal = closed_pan();
    journal.add(Kind::Closing(v1::Closing { outcome: 2, odometer_kilometres: Some(118_262.0) }));
    let row = row(&journal);
    let short = row.litres_out.unwrap() - row.litres_in.unwrap();
    assert!(!row.level_set && row.difference.is_none() && short > 3.0, "{row:?}");
    assert!(crate::owner::sheets::is_listed(&row), "so that an owner sees it");
}

/// A code that waits for a named decision (SAE J2012: P0218 says that the fluid was too hot).
const TOO_HOT: &str = "P0218";
/// Codes that stand in no word.
const SOMEBODY: [&str; 2] = ["QX7", "QX8"];

fn kind_of(bytes: &[u8]) -> Kind {
    v1::Entry::decode(bytes).unwrap().fact.unwrap().kind.unwrap()
}

fn gears(driver: &str, nobody_under_vehicle: i32) -> Kind {
    Kind::GearCycle(v1::GearCycle { driver_person_code: driver.into(), nobody_under_vehicle })
}

/// A job with whatever names a person: who stated it, a driver, read cautions, a step that was left out, a decision, and
/// corrections of all of these, two of which wait for a PIN.
fn naming_somebody() -> Journal {
    let mut journal = dry();
    journal.revision = Journal::signing(true).revision;
    let gear = journal.entries.iter().position(|(_, bytes)| matches!(kind_of(bytes), Kind::GearCycle(_)));
    journal.add(correction(gear.unwrap() + 1, gears(SOMEBODY[1], 2)));
    journal.add(skipped("drive-after")).add(codes(1, &[TOO_HOT])).add(decision("signed-decision"));
    let of = journal.entries.len();
    journal.add(correction(of, decision("signed-decision"))).add(decision("refill-short"));
    journal.names = vec![(SOMEBODY[0].into(), format!("technician {}", SOMEBODY[0]))];
    for (_, bytes) in &mut journal.entries {
        let mut entry = v1::Entry::decode(bytes.as_slice()).unwrap();
        entry.header.as_mut().unwrap().person_code = SOMEBODY[0].into();
        if matches!(kind_of(bytes), Kind::GearCycle(_)) {
            entry.fact = Some(v1::Fact { kind: Some(gears(SOMEBODY[0], 1)) });
        }
        *bytes = entry.encode_to_vec();
    }
    journal
}

#[test]
fn where_persons_are_off_no_part_of_a_view_and_no_go_ahead_names_anybody() {
    let journal = naming_somebody();
    let told = |persons: bool| {
        journal.with(|context, entries| {
            let context = Context { persons, ..context.clone() };
            let view = view(&context, entries);
            let gates = Gate::ALL.iter().map(|gate| format!("{:?}", may(&context, entries, *gate)));
            (view, gates.collect::<String>())
        })
    };
    let (named, gates) = told(true);
    let parts = [
        format!("{:?}", named.story),
        format!("{:?}", named.changes),
        format!("{:?}", named.to_sign),
        format!("{:?}", named.open_points),
        format!("{:?}", named.findings),
        format!("{:?}", named.acknowledged),
        format!("{:?}", named.skipped),
        format!("{:?}", named.decisions),
        gates,
    ];
    for (place, part) in parts.iter().enumerate() {
        assert!(SOMEBODY.iter().any(|code| part.contains(code)), "part {place} could name somebody: {part}");
    }
    let (unnamed, gates) = told(false);
    let all = format!("{unnamed:?}{gates}");
    for code in SOMEBODY {
        let at = all.find(code);
        assert!(at.is_none(), "{code}: {}", at.map_or("", |at| &all[at.saturating_sub(300)..]));
    }
    assert_eq!(unnamed.figures, named.figures, "no number goes by it");
    assert_eq!(unnamed.open_points.len(), named.open_points.len());
    assert!(unnamed.open_points.iter().any(|point| point.text.key() == "open-sign-decision-unnamed"));
}

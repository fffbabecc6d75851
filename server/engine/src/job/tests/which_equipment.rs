//! Which equipment a job works with, what it held before, and who may say that it goes on.

use super::gates::{decision, hookup, lacks, pushed_through, ready_to_push, skipped};
use super::registers::{BEFORE, display_checked, exchanged_with, holds, site, with_job, with_site};
use super::*;
use crate::site::{SiteFacts, Use};

fn hooked_up(equipment: &str) -> Kind {
    let equipment = equipment.into();
    Kind::Hookup(v1::Hookup { place: 1, direction_tested: 1, equipment, ..Default::default() })
}

fn of_other(equipment: &str, fluid: &str) -> Kind {
    Kind::EquipmentContents(v1::EquipmentContents {
        equipment: equipment.into(),
        held: v1::Held::Fluid.into(),
        fluid_code: fluid.into(),
        ..Default::default()
    })
}

fn two() -> SiteFacts {
    site(&[(BEFORE, 3, holds("LN-847", None)), (BEFORE, 2, of_other("E-2", "Bramble"))])
}

fn told(journal: &Journal) -> String {
    all(&journal.view().findings.iter().map(|finding| finding.text.clone()).collect::<Vec<_>>())
}

#[test]
fn of_several_machines_the_hook_up_names_the_one_or_a_person_decides() {
    let mut journal = with_site(ready_to_push(), two());
    assert_eq!(lacks(&journal, Gate::Exchange), ["which-equipment"]);
    assert!(journal.missing(Gate::Exchange).contains("(E-1, E-2)"));
    let hookup_step = |journal: &Journal| {
        let steps = journal.with(crate::steps::remaining);
        let step = steps.into_iter().find(|step| step.name == "hookup")?;
        let field = step.fields.into_iter().find(|field| field.name == "equipment")?;
        Some((field.needed, field.spare))
    };
    assert_eq!(hookup_step(&journal), Some((true, false)), "it is asked, and connected again by name");
    journal.add(hooked_up("E-2"));
    assert_eq!(lacks(&journal, Gate::Exchange), ["equipment-contents"]);
    assert!(journal.missing(Gate::Exchange).contains("Bramble"));
    journal.add(hooked_up("E-1"));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
    assert_eq!(hookup_step(&journal), None);
    let mut decided = with_site(ready_to_push(), two());
    decided.add(decision("which-equipment"));
    assert_eq!(lacks(&decided, Gate::Exchange), [""; 0]);
    decided.add(hookup(1));
    assert_eq!(lacks(&decided, Gate::Exchange), ["which-equipment"], "connected anew");
    // One alone is never asked for.
    let one = with_site(ready_to_push(), site(&[(BEFORE, 3, holds("LN-847", None))]));
    assert_eq!(lacks(&one, Gate::Exchange), [""; 0]);
}

#[test]
fn a_machine_registered_later_makes_nobody_forget_what_was_done_with_the_one_before() {
    let e_1 = (BEFORE, 3, holds("LN-847", None));
    let unnamed = || vec![Use { seq: 1, ..exchanged_with("", "Bramble") }];
    let later = site(&[e_1.clone(), (2, 0, of_other("E-2", "LN-847"))]);
    let mut journal = with_site(ready_to_push(), with_job(later, unnamed()));
    journal.add(hooked_up("E-1"));
    assert!(
        journal.missing(Gate::Exchange).contains("Equipment E-1 still holds"),
        "{:?}",
        journal.missing(Gate::Exchange)
    );
    // An old job keeps the correction of its display.
    let litres = |site: SiteFacts| with_site(pushed_through(), site).view().balance.unwrap().total_in.value;
    let display = (BEFORE, 30, display_checked(5.0, 4.9));
    let before = litres(site(std::slice::from_ref(&display)));
    assert_eq!(litres(site(&[display, (900, 0, of_other("E-2", "LN-847"))])), before);
}

#[test]
fn another_fluid_stops_until_as_much_was_pushed_in_as_it_held() {
    let bramble = || with_job(SiteFacts::default(), vec![exchanged_with("E-1", "Bramble")]);
    let mut journal = with_site(ready_to_push(), bramble());
    journal.add(pushed(0.4, None, None, false)).add(decision("equipment-contents"));
    assert_eq!(lacks(&journal, Gate::Exchange), ["equipment-contents"]);
    assert!(journal.missing(Gate::Exchange).contains("rinse it with Linden"), "0.4 L of 1 L at most");
    let place = u64::try_from(journal.entries.len()).unwrap();
    // Rinsed after all: what went in before is a person's decision.
    let rinsed = site(&[(place + 1, 0, holds("LN-847", Some(1.0)))]);
    let mut rinsed = with_site(journal, with_job(rinsed, vec![exchanged_with("E-1", "Bramble")]));
    assert_eq!(lacks(&rinsed, Gate::Exchange), [""; 0], "decided above");
    rinsed.site = bramble();
    rinsed.add(pushed(1.2, None, None, false));
    assert_eq!(lacks(&rinsed, Gate::Exchange), [""; 0], "as much went in as was in it");
}

#[test]
fn who_decides_on_unknown_contents_knew_the_hook_up_and_what_was_said_last() {
    let not_read = || with_job(SiteFacts::default(), vec![exchanged_with("E-1", "")]);
    let mut journal = with_site(ready_to_push(), not_read());
    journal.add(skipped("equipment-contents"));
    assert_eq!(
        lacks(&journal, Gate::Exchange),
        ["equipment-contents"],
        "to leave the question out is no answer"
    );
    journal.add(decision("equipment-contents"));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
    let place = u64::try_from(journal.entries.len()).unwrap();
    let used_later = vec![Use { seq: place + 1, ..exchanged_with("E-1", "") }];
    let mut said_later = with_site(journal, with_job(SiteFacts::default(), used_later));
    assert_eq!(lacks(&said_later, Gate::Exchange), ["equipment-contents"]);
    said_later.site = not_read();
    said_later.add(hookup(1));
    assert_eq!(lacks(&said_later, Gate::Exchange), ["equipment-contents"], "connected anew");
}

#[test]
fn nobody_confirms_the_right_fluid_by_enter_and_who_rinsed_says_how_much() {
    let not_read = with_job(SiteFacts::default(), vec![exchanged_with("E-1", "")]);
    let steps = with_site(ready_to_push(), not_read).with(crate::steps::remaining);
    let step = steps.into_iter().find(|step| step.name == "equipment-contents").unwrap();
    let field = |name: &str| step.fields.iter().find(|field| field.name == name).unwrap();
    assert_eq!(field("fluid_code").proposal, None);
    assert!(field("rinsed_litres").needed);
    let crate::steps::Input::Choice(choices) = &step.fields[0].input else { panic!("one tap") };
    let states = |word: &str, name: &str| {
        let choice = choices.iter().find(|choice| choice.word == word).unwrap();
        choice.also.iter().any(|(field, _)| *field == name)
    };
    for word in ["right", "emptied", "other"] {
        assert!(states(word, "rinsed_litres"), "{word} asks for no litres");
    }
    assert!(!states("rinsed", "rinsed_litres") && !states("other", "fluid_code"));
}

#[test]
fn only_what_was_rinsed_before_the_work_came_out_of_its_kit() {
    let left = |journal: &Journal| journal.view().exchange.unwrap().progress.left_litres.unwrap();
    let mut journal = ready_to_push();
    journal.add(pushed(4.0, Some(25), None, false));
    let plain = left(&journal);
    journal.site = site(&[(900, 0, holds("LN-847", Some(2.0)))]);
    assert!((left(&journal) - plain).abs() < 1e-9, "rinsed after pushing began");
    // 10 L shown are 9.8 L out of the kit (JCGM 100:2008, 3.2.3).
    let mut shown = with_site(ready_to_push(), site(&[(BEFORE, 30, display_checked(5.0, 4.9))]));
    shown.add(pushed(4.0, Some(25), None, false));
    assert!((left(&shown) - plain - 0.08).abs() < 1e-9, "{} {plain}", left(&shown));
}

#[test]
fn a_display_that_cannot_be_right_corrects_nothing_and_says_so() {
    let litres = |journal: &Journal| journal.view().balance.unwrap().total_in.value;
    let plain = litres(&pushed_through());
    let off = with_site(pushed_through(), site(&[(BEFORE, 30, display_checked(5.0, 3.9))]));
    assert_eq!(litres(&off), plain, "22 % off");
    assert!(told(&off).contains("that cannot be right and is not used; measure again"), "{}", told(&off));
    let at_bound = with_site(pushed_through(), site(&[(BEFORE, 30, display_checked(5.0, 4.0))]));
    assert!(litres(&at_bound) < plain && !told(&at_bound).contains("cannot be right"));
}

#[test]
fn the_record_says_what_the_equipment_held_before_and_that_it_was_rinsed() {
    let rinsed = site(&[(1, 0, holds("LN-847", Some(1.2)))]);
    let journal = with_site(pushed_through(), with_job(rinsed, vec![exchanged_with("E-1", "BR-861")]));
    let identity = all(&journal.view().identity).replace('\u{a0}', " ");
    let wanted = "Equipment E-1 held Bramble before and was rinsed with 1.2 L of Linden.";
    assert!(identity.contains(wanted), "{identity}");
    let same = with_job(SiteFacts::default(), vec![exchanged_with("E-1", "LN-847")]);
    assert!(
        all(&with_site(pushed_through(), same).view().identity).contains("Equipment E-1 held Linden before.")
    );
    assert!(!all(&pushed_through().view().identity).contains("quipment"));
}

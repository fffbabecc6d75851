//! Jobs beside the registers of the site: tools that may be used, equipment that holds another fluid, a display that was
//! checked.

use super::gates::{
    closed_pan, conditions, decision, dry, hookup, lacks, level_read, pushed_through, ready_to_push,
};
use super::gates::{screws, skipped};
use super::*;
use crate::sheet::{Cell, Sheet};
use crate::site::tally::{Asked, TallyError, tally};
use crate::site::{JobAccount, SiteContext, SiteFacts, Use, UseOf};
use std::sync::Arc;

pub(super) const DAY_US: i64 = 86_400_000_000;
/// The jobs here begin in the journal at 1: at 0 stands what was stated before.
pub(super) const BEFORE: u64 = 0;

/// Facts of the site with their places in the journal and the days before the job on which they were done.
pub(super) fn site(facts: &[(u64, i64, Kind)]) -> SiteFacts {
    let bytes: Vec<Vec<u8>> =
        facts.iter().zip(1..).map(|((_, days, kind), number)| entry(*days, number, kind)).collect();
    let entries: Vec<Recorded<'_>> = facts
        .iter()
        .zip(&bytes)
        .map(|((seq, ..), bytes)| Recorded { seq: *seq, received_us: START_US, leaf_hash: [7; 32], bytes })
        .collect();
    SiteFacts::of(&entries)
}

fn entry(days_before: i64, number: i64, kind: &Kind) -> Vec<u8> {
    let entry = v1::Entry {
        header: Some(v1::Header {
            entry_id: format!("01890a5d-ac96-774b-bcce-aaaa{number:08x}"),
            subject: Some(Subject::SiteId("harbour-lane".into())),
            station_id: "office".into(),
            station_epoch: "0".repeat(32),
            station_number: number,
            person_code: "B".into(),
            station_time: Some(prost_types::Timestamp {
                seconds: (START_US - days_before * DAY_US) / 1_000_000,
                nanos: 0,
            }),
            boot_id: "0".repeat(32),
            ..v1::Header::default()
        }),
        fact: Some(v1::Fact { kind: Some(kind.clone()) }),
    };
    standpipe_proto::check::entry(&entry).unwrap();
    entry.encode_to_vec()
}

/// The same with what another job used, at a place in the journal.
pub(super) fn with_job(facts: SiteFacts, uses: Vec<Use>) -> SiteFacts {
    let account =
        JobAccount { number: "HL-26-0041".into(), plate: "PH 11 A".into(), uses, ..Default::default() };
    facts.with_accounts([("another-job".to_owned(), Arc::new(account))].into_iter().collect())
}

pub(super) fn exchanged_with(equipment: &str, fluid: &str) -> Use {
    Use {
        seq: BEFORE,
        done_us: START_US - DAY_US,
        of: UseOf::Equipment,
        code: equipment.into(),
        amount: 12.0,
        purpose: fluid.into(),
        ..Use::default()
    }
}

pub(super) fn tool_used(amount: f64) -> Use {
    let (code, purpose) = ("T-07".into(), "pan-screws".into());
    Use { seq: BEFORE, done_us: START_US - DAY_US, of: UseOf::Tool, code, amount, purpose, ..Use::default() }
}

pub(super) fn checked(reference: f64) -> Kind {
    Kind::ToolChecked(v1::ToolChecked {
        tool: "T-07".into(),
        kind: v1::ToolKind::TorqueTool.into(),
        event: v1::ToolEvent::Checked.into(),
        least_newton_metres: Some(5.0),
        greatest_newton_metres: Some(25.0),
        limit_percent: Some(4.0),
        torques: vec![v1::TorqueReading { shown_newton_metres: 10.0, reference_newton_metres: reference }],
        certificate: "C-118".into(),
        ..Default::default()
    })
}

pub(super) fn happened(event: v1::ToolEvent) -> Kind {
    Kind::ToolChecked(v1::ToolChecked {
        tool: "T-07".into(),
        kind: v1::ToolKind::TorqueTool.into(),
        event: event.into(),
        ..Default::default()
    })
}

pub(super) fn display_checked(shown: f64, reference: f64) -> Kind {
    Kind::ToolChecked(v1::ToolChecked {
        tool: "E-1".into(),
        kind: v1::ToolKind::LitreDisplay.into(),
        event: v1::ToolEvent::Checked.into(),
        shown_litres: Some(shown),
        reference: Some(v1::tool_checked::Reference::ReferenceLitres(reference)),
        ..Default::default()
    })
}

pub(super) fn holds(fluid: &str, rinsed: Option<f64>) -> Kind {
    Kind::EquipmentContents(v1::EquipmentContents {
        equipment: "E-1".into(),
        held: v1::Held::Fluid.into(),
        fluid_code: fluid.into(),
        rinsed_litres: rinsed,
        ..Default::default()
    })
}

pub(super) fn with_site(mut journal: Journal, site: SiteFacts) -> Journal {
    journal.site = site;
    journal
}

pub(super) fn tightened(count: i32, new: i32, rows: &[u32]) -> Kind {
    let row =
        |place: &u32| v1::TightenedScrew { place: i32::try_from(*place).unwrap(), torque_newton_metres: 9.1 };
    Kind::Tightening(v1::Tightening {
        group: 1,
        screw_count: count,
        new_screw_count: new,
        torque_newton_metres: 9.0,
        order_kept: 1,
        tool: "T-07".into(),
        screws: rows.iter().map(row).collect(),
    })
}

pub(super) fn basis(journal: &Journal) -> String {
    let go_ahead = journal.with(|context, entries| may(context, entries, Gate::Exchange));
    assert!(go_ahead.yes, "{:?}", lacks(journal, Gate::Exchange));
    all(&go_ahead.basis)
}

#[test]
fn the_wrong_series_then_the_other_fluid_in_the_equipment_then_rinsed_and_yes() {
    let after_bramble = with_job(SiteFacts::default(), vec![exchanged_with("E-1", "BR-861")]);
    let mut wrong = settled_job();
    wrong.add(container("Bramble"));
    assert!(wrong.about_fluid(Gate::Exchange).contains("needs Linden"));

    let journal = with_site(ready_to_push(), after_bramble);
    assert_eq!(
        journal.missing(Gate::Exchange).replace('\u{a0}', " "),
        "Equipment E-1 still holds about 0.6 L of Bramble; rinse it with Linden or empty it first."
    );
    let stops = journal.view().findings.into_iter().filter(|finding| finding.weight == Weight::Stops);
    assert_eq!(stops.count(), 1, "the bay reads it without asking");

    // Nobody decides it away, and to leave the question out is no answer.
    let mut decided = with_site(ready_to_push(), journal.site.clone());
    decided.add(decision("equipment-contents")).add(skipped("equipment-contents"));
    assert_eq!(lacks(&decided, Gate::Exchange), ["equipment-contents"]);

    let rinsed = [(1, 0, holds("LN-847", Some(1.0)))];
    let rinsed = with_job(site(&rinsed), vec![exchanged_with("E-1", "BR-861")]);
    let journal = with_site(ready_to_push(), rinsed);
    assert!(
        basis(&journal).replace('\u{a0}', " ").contains("Equipment E-1 was rinsed with 1.0 L of Linden.")
    );
}

#[test]
fn what_the_equipment_holds_is_the_later_of_what_was_said_and_the_last_exchange() {
    let said_then_used = with_job(
        site(&[(BEFORE, 2, holds("BR-861", None))]),
        vec![Use { seq: 1, ..exchanged_with("E-1", "Linden") }],
    );
    assert!(basis(&with_site(ready_to_push(), said_then_used)).contains("Equipment E-1 holds Linden."));
    let unnamed = with_job(
        site(&[(BEFORE, 2, holds("LN-847", None))]),
        vec![Use { seq: 1, ..exchanged_with("", "Bramble") }],
    );
    let journal = with_site(ready_to_push(), unnamed);
    assert!(
        journal.missing(Gate::Exchange).contains("Bramble"),
        "the only equipment was the one that was used"
    );
    let emptied = Kind::EquipmentContents(v1::EquipmentContents {
        equipment: "E-1".into(),
        held: v1::Held::Nothing.into(),
        ..Default::default()
    });
    assert!(basis(&with_site(ready_to_push(), site(&[(BEFORE, 0, emptied)]))).contains("was emptied"));
}

#[test]
fn an_empty_register_blocks_nobody_and_what_is_not_known_is_asked_once_one_is_kept() {
    let journal = ready_to_push();
    assert!(basis(&journal).starts_with("Settled"));
    let steps = |journal: &Journal| -> Vec<&'static str> {
        let steps = journal.with(crate::steps::remaining);
        steps.iter().map(|step| step.name).collect()
    };
    assert!(!steps(&journal).contains(&"equipment-contents"));
    let not_read = with_job(SiteFacts::default(), vec![exchanged_with("E-1", "")]);
    let mut journal = with_site(ready_to_push(), not_read);
    assert_eq!(lacks(&journal, Gate::Exchange), ["equipment-contents"]);
    assert_eq!(steps(&journal).first(), Some(&"equipment-contents"));
    let step = journal.with(crate::steps::remaining).remove(0);
    assert_eq!((step.kind, step.preset), ("equipment_contents", vec![("equipment", "E-1".to_owned())]));
    journal.add(decision("equipment-contents"));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
}

#[test]
fn another_fluid_that_was_pushed_in_all_the_same_is_printed_and_not_counted_as_new() {
    let clean = pushed_through();
    let other = with_job(SiteFacts::default(), vec![exchanged_with("E-1", "Bramble")]);
    let journal = with_site(pushed_through(), other);
    let share = |journal: &Journal| journal.view().exchange.unwrap().share_after_exchange.unwrap();
    // Of 0.6 L between none and all is still inside of 9.0 L: 0.3 L, so 3 parts of 100 less.
    let (with, without) = (share(&journal), share(&clean));
    assert!((without.value - with.value - 0.3 / 9.0).abs() < 0.005, "{with:?} {without:?}");
    assert!(with.standard_uncertainty > without.standard_uncertainty);
    let view = journal.view();
    let said = view.findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join(" ");
    assert!(said.contains("that went in first"), "{said}");
    assert!(all(&view.please_note).contains("Bramble"));
    let mut decided = with_site(ready_to_push(), journal.site.clone());
    decided.add(pushed(3.0, None, None, false));
    assert!(decided.missing(Gate::Exchange).contains("a named person decides whether it goes on"));
    decided.add(decision("equipment-contents"));
    assert_eq!(lacks(&decided, Gate::Exchange), [""; 0]);
}

#[test]
fn a_rinse_with_less_than_was_inside_is_asked_about() {
    let short = [(1, 0, holds("BR-861", None)), (2, 0, holds("LN-847", Some(0.1)))];
    let mut journal = with_site(ready_to_push(), site(&short));
    assert_eq!(lacks(&journal, Gate::Exchange), ["equipment-rinse"]);
    let asked = journal.missing(Gate::Exchange).replace('\u{a0}', " ");
    assert!(
        asked.contains("E-1 was rinsed with 0.1 L only and held about 0.6 L of Bramble before."),
        "{asked}"
    );
    journal.add(decision("equipment-rinse"));
    assert_eq!(lacks(&journal, Gate::Exchange), [""; 0]);
    let enough = [(1, 0, holds("BR-861", None)), (2, 0, holds("LN-847", Some(0.7)))];
    assert_eq!(lacks(&with_site(ready_to_push(), site(&enough)), Gate::Exchange), [""; 0]);
}

#[test]
fn what_the_equipment_was_rinsed_with_is_not_left_to_push() {
    let left = |journal: &Journal| journal.view().exchange.unwrap().progress.left_litres.unwrap();
    let mut plain = ready_to_push();
    plain.add(pushed(4.0, Some(25), None, false));
    let mut rinsed = with_site(ready_to_push(), site(&[(1, 0, holds("LN-847", Some(2.0)))]));
    rinsed.add(pushed(4.0, Some(25), None, false));
    assert!((left(&plain) - left(&rinsed) - 2.0).abs() < 1e-9);
}

#[test]
fn a_tool_past_its_check_opens_only_what_it_was_used_for() {
    let good = with_site(closed_pan(), site(&[(BEFORE, 100, checked(10.1))]));
    assert_eq!(lacks(&good, Gate::Refill), [""; 0]);
    let old = site(&[(BEFORE, 400, checked(10.1))]);
    let mut journal = with_site(closed_pan(), old.clone());
    assert_eq!(lacks(&journal, Gate::Refill), ["tool-due"]);
    let text = journal.missing(Gate::Refill);
    assert!(text.starts_with("The check of torque tool T-07 was due on"), "{text}");
    assert!(text.contains("The pan’s screws were tightened with it"), "{text}");
    journal.add(decision("tool-due"));
    assert_eq!(lacks(&journal, Gate::Refill), [""; 0]);
    // The plug was closed without it.
    let mut plug = with_site(dry(), old);
    assert_eq!(plug.missing(Gate::RoadTest).matches("T-07").count(), 1, "the pan’s screws, once");
    plug.add(decision("tool-due"));
    assert!(!lacks(&plug, Gate::RoadTest).contains(&"tool-due"));
}

#[test]
fn the_next_check_decides_over_a_use_before_it() {
    let old = (BEFORE, 400, checked(10.1));
    let later = |reference| with_site(closed_pan(), site(&[old.clone(), (900, 0, checked(reference))]));
    assert_eq!(lacks(&later(10.1), Gate::Refill), [""; 0], "found good afterwards");
    let text = later(10.6).missing(Gate::Refill);
    assert!(text.starts_with("Torque tool T-07 was found out of its limits"), "{text}");
    let recent = (BEFORE, 10, checked(10.1));
    let dropped =
        with_site(closed_pan(), site(&[recent.clone(), (1, 1, happened(v1::ToolEvent::Overloaded))]));
    assert!(dropped.missing(Gate::Refill).contains("overloaded, dropped or repaired"));
    let taken = with_site(closed_pan(), site(&[recent.clone(), (1, 1, happened(v1::ToolEvent::TakenOut))]));
    assert!(taken.missing(Gate::Refill).contains("taken out of use"));
    let worn = with_job(site(&[recent]), vec![Use { seq: 1, ..tool_used(5_001.0) }]);
    let text = with_site(closed_pan(), worn).missing(Gate::Refill).replace('\u{202F}', "");
    assert!(text.contains("has tightened 5001 screws since its check; 5000 are the limit"), "{text}");
}

#[test]
fn a_torque_outside_the_marked_range_and_a_tool_that_nobody_knows() {
    let mut plug = with_site(level_read(), site(&[(BEFORE, 10, checked(10.1))]));
    let closed = |torque, tool: &str| {
        let torque_newton_metres = Some(torque);
        Kind::PlugClosed(v1::PlugClosed { seal_new: 1, torque_newton_metres, tool: tool.into(), plug_new: 0 })
    };
    plug.add(closed(26.0, "T-07")).add(decision("plug-torque"));
    assert!(lacks(&plug, Gate::RoadTest).contains(&"tool-range"));
    assert!(
        plug.missing(Gate::Close)
            .contains("is marked from 5\u{a0}N·m to 25\u{a0}N·m, and 26\u{a0}N·m lies outside")
    );
    let mut unknown = with_site(level_read(), site(&[(BEFORE, 10, checked(10.1))]));
    unknown.add(closed(22.0, "T-99"));
    let told = |journal: &Journal| {
        let view = journal.view();
        view.findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join(" ")
    };
    assert!(told(&unknown).contains("Torque tool T-99 is not in the register of tools."));
    assert!(!lacks(&unknown, Gate::RoadTest).iter().any(|key| key.starts_with("tool")));
    let mut empty = level_read();
    empty.add(closed(22.0, "T-99"));
    assert!(!told(&empty).contains("T-99 is not in"));
}

#[test]
fn screws_used_again_block_the_close_until_a_person_decides() {
    let mut journal = level_read();
    journal.add(screws(7));
    assert!(lacks(&journal, Gate::Close).contains(&"screws-used-again"));
    let tightening = all(&journal.view().tightening);
    assert!(tightening.contains("7 of 13 new, screws used again"), "{tightening}");
    journal.add(decision("screws-used-again"));
    assert!(!lacks(&journal, Gate::Close).contains(&"screws-used-again"));
}

#[test]
fn rows_of_a_recording_tool_are_held_against_count_order_and_torque() {
    let order = crate::formula::screw_order::ring_order(13);
    let lacking = |count, rows: &[u32]| {
        let mut journal = closed_pan();
        journal.add(tightened(count, count, rows));
        lacks(&journal, Gate::Refill)
    };
    assert_eq!(lacking(13, &[]), [""; 0], "a click wrench keeps none");
    assert_eq!(lacking(13, &order), [""; 0]);
    let round: Vec<u32> = (1..=13).collect();
    assert_eq!(lacking(13, &[&order[..], &order[..], &round[..]].concat()), [""; 0]);
    assert_eq!(lacking(13, &round), ["screws-rows"]);
    assert_eq!(lacking(13, &order[..12]), ["screws-rows"]);
    assert_eq!(lacking(12, &[]), ["screws-count"]);
}

#[test]
fn the_question_of_the_screws_says_order_and_stages_and_never_a_torque_that_nobody_stated() {
    let question = |journal: &Journal| {
        let steps = journal.with(crate::steps::remaining);
        steps.iter().find(|step| step.name == "screws").map(|step| said(&step.question)).unwrap()
    };
    let mut journal = super::gates::pan_off();
    let own = question(&journal).replace('\u{a0}', " ");
    assert!(own.contains(&crate::gates::in_line(&crate::formula::screw_order::ring_order(13))), "{own}");
    assert!(own.contains("The whole order at 2.7, 5.4, 9 N·m; then once more round as a check."), "{own}");
    // What lies below the marks of the tool is done by hand.
    journal.site = site(&[(BEFORE, 10, checked(10.1))]);
    let marked = question(&journal).replace('\u{a0}', " ");
    assert!(marked.contains("By hand first, then the whole order at 5.4, 9 N·m"), "{marked}");
    let alder = ALDER.replace("pan_screw_torque_newton_metres", "# ");
    let files = [("workshop.toml", WORKSHOP), ("alder-8.toml", &alder)];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
    let none = question(&journal);
    assert!(none.ends_with("Torque: see the vehicle maker.") && !none.contains("N·m"), "{none}");
}

#[test]
fn a_checked_display_corrects_the_litres_and_says_so_until_its_check_is_due() {
    let pushed = |site: SiteFacts| {
        let mut journal = with_site(ready_to_push(), site);
        journal.add_typed(pushed(10.0, Some(75), None, true), &[("volume_in_litres", "10.0 L")]);
        let view = journal.view();
        let remarks = all(&view.exchange.unwrap().remarks).replace('\u{a0}', " ");
        (view.balance.unwrap().total_in, remarks, view.findings)
    };
    let (plain, remarks, _) = pushed(SiteFacts::default());
    assert!(remarks.contains("taken as right within 3 %"), "{remarks}");
    // Shown 5.0 L, in the jug 4.9 L: 2 % less went in than is shown (JCGM 100:2008, 3.2.3).
    let (corrected, remarks, _) = pushed(site(&[(BEFORE, 30, display_checked(5.0, 4.9))]));
    assert!((corrected.value / plain.value - 0.98).abs() < 1e-9, "{corrected:?} {plain:?}");
    assert!(corrected.standard_uncertainty < plain.standard_uncertainty);
    assert!(remarks.contains("it showed 5.0 L for 4.9 L"), "{remarks}");
    let (old, remarks, findings) = pushed(site(&[(BEFORE, 400, display_checked(5.0, 4.9))]));
    assert_eq!(old, plain);
    assert!(remarks.contains("taken as right within 3 %"), "{remarks}");
    assert!(
        findings.iter().any(|finding| said(&finding.text).contains("litre display of equipment E-1 was due"))
    );
}

#[test]
fn a_display_checked_on_a_scale_is_corrected_by_density_and_temperature() {
    let weighed = Kind::ToolChecked(v1::ToolChecked {
        tool: "E-1".into(),
        kind: v1::ToolKind::LitreDisplay.into(),
        event: v1::ToolEvent::Checked.into(),
        shown_litres: Some(5.0),
        reference: Some(v1::tool_checked::Reference::ReferenceKilograms(4.2)),
        temperature_celsius: Some(15.0),
        fluid_code: "LN-847".into(),
        ..Default::default()
    });
    let journal = with_site(pushed_through(), site(&[(BEFORE, 30, weighed)]));
    let ratio = journal.with(|context, entries| {
        let folded = crate::job::fold::fold(context, entries);
        crate::site::display::of_job(context, &folded).unwrap().ratio
    });
    // At 15 °C 4.2 kg of 847 kg/m³ are 4.9587 L, by definition of density; 5.0 L were shown.
    assert!((ratio.value - 4.2 / 0.847 / 5.0).abs() < 1e-12, "{ratio:?}");
    // 0.3 % of the density, 10 g, 3 °C and the tenths of both readings.
    assert!((0.005..0.012).contains(&ratio.standard_uncertainty), "{ratio:?}");
}

#[test]
fn a_job_s_account_says_what_it_used_of_tools_and_equipment() {
    let mut journal = ready_to_push();
    journal.add(hookup(1));
    journal.add(pushed(12.0, None, None, true)).add(conditions(&[2, 3])).add(drained(3.05)).add(screws(13));
    journal.add(Kind::PlugClosed(v1::PlugClosed { seal_new: 1, tool: "T-07".into(), ..Default::default() }));
    let account = journal.with(JobAccount::of);
    let uses: Vec<(UseOf, &str, f64, &str, &str)> = account
        .uses
        .iter()
        .map(|used| (used.of, used.code.as_str(), used.amount, used.purpose.as_str(), used.lot.as_str()))
        .filter(|(of, ..)| matches!(of, UseOf::Tool | UseOf::Equipment))
        .collect();
    let expected = [
        (UseOf::Equipment, "", 12.0, "Linden", "L-2209"),
        // Three stages and the check pass.
        (UseOf::Tool, "T-07", 52.0, "pan-screws", ""),
        (UseOf::Tool, "T-07", 1.0, "plug", ""),
    ];
    assert_eq!(uses, expected);
}

fn sheet(facts: &SiteFacts, name: &str, about: &str) -> Result<Sheet, TallyError> {
    let journal = Journal::new();
    let context = SiteContext {
        revision: &journal.revision,
        site_name: "Harbour Lane",
        facts,
        names: &[],
        as_of_us: START_US,
    };
    tally(&context, name, &Asked { about: about.into(), period: String::new() })
}

fn cells(sheet: &Sheet, table: usize) -> Vec<String> {
    let shown = |cell: &Cell| match cell {
        Cell::Empty => "–".to_owned(),
        Cell::Words(words) => said(words),
        Cell::Text(text) => text.clone(),
        Cell::Number { shown, unit, .. } => format!("{shown} {unit}").trim_end().to_owned(),
    };
    let table = &sheet.tables[table];
    assert!(table.rows.iter().all(|row| row.cells.len() == table.columns.len()));
    table.rows.iter().map(|row| row.cells.iter().map(shown).collect::<Vec<_>>().join(" | ")).collect()
}

#[test]
fn the_tallies_show_tools_with_their_state_and_every_job_since_the_last_good_check() {
    let facts =
        site(&[(BEFORE, 100, checked(10.1)), (BEFORE, 30, display_checked(5.0, 4.9)), (3, 0, checked(10.6))]);
    let facts = with_job(
        facts,
        vec![Use { seq: 2, ..tool_used(52.0) }, Use { seq: 2, ..exchanged_with("E-1", "Linden") }],
    );
    let all_tools = sheet(&facts, "tools", "").unwrap();
    assert_eq!(
        cells(&all_tools, 0),
        ["T-07 | 5 to 25 N·m | 4.00 % | 2026-03-18 | C-118 | 52 | 2026-12-08 | out of its limits"]
    );
    assert_eq!(
        cells(&all_tools, 1).join(" ").replace('\u{a0}', " "),
        "E-1 | 2026-02-16 | 5.0 L | 4.9 L | 2.04 % | 2027-02-16 | may be used"
    );
    assert_eq!(cells(&all_tools, 2), ["T-07 | 2026-03-18 | HL-26-0041 | PH 11 A | 2026-03-17 | pan screws"]);
    let one = sheet(&facts, "tool", "t07").unwrap();
    assert_eq!(cells(&one, 0).len(), 2);
    assert_eq!(cells(&one, 1), ["HL-26-0041 | PH 11 A | 2026-03-17 | pan screws | 52"]);
    assert_eq!(one.tables[1].rows[0].job.as_deref(), Some("another-job"));
    let equipment = sheet(&facts, "equipment", "").unwrap();
    assert_eq!(cells(&equipment, 0), ["E-1 | Linden | 0.6 L | 2026-03-17 | HL-26-0041"]);
    assert!(matches!(sheet(&facts, "tool", " "), Err(TallyError::AboutNothing { .. })));
    assert!(cells(&sheet(&SiteFacts::default(), "tools", "").unwrap(), 0).is_empty());
}

#[test]
fn who_was_served_between_the_last_good_check_and_the_next_is_called_when_it_is_bad() {
    use crate::site::tools::{Register, jobs_to_call};
    let journal = Journal::new();
    let calls = |facts: &SiteFacts| -> Vec<u64> {
        let register = Register::of(facts, journal.revision.workshop(), u64::MAX);
        jobs_to_call(register).iter().map(|call| call.used.used.seq).collect()
    };
    let uses = || {
        vec![
            Use { seq: 1, ..tool_used(52.0) },
            Use { seq: 3, ..tool_used(52.0) },
            Use { seq: 7, ..tool_used(52.0) },
        ]
    };
    let good = |seq| (seq, 10, checked(10.1));
    let bad = |seq| (seq, 1, checked(10.6));
    assert!(calls(&with_job(site(&[good(0), good(4)]), uses())).is_empty());
    assert_eq!(calls(&with_job(site(&[good(0), good(2), bad(4)]), uses())), [3, 7]);
    assert_eq!(calls(&with_job(site(&[good(0), bad(4), good(6)]), uses())), [1, 3], "repaired since");
}

#[test]
fn a_checked_display_corrects_litres_in_and_out_alike() {
    let shares = |site: SiteFacts| {
        let mut journal = with_site(ready_to_push(), site);
        let typed = [("volume_in_litres", "10.00 L"), ("volume_out_litres", "10.00 L")];
        journal.add_typed(pushed(10.0, None, Some(10.0), true), &typed);
        let balance = journal.view().balance.unwrap();
        (balance.total_in.value, balance.total_out.value)
    };
    let (plain_in, plain_out) = shares(SiteFacts::default());
    // Shown 5.0 L, in the jug 4.1 L: both figures of the display are 18 % less (JCGM 100:2008, 3.2.3).
    let (right_in, right_out) = shares(site(&[(BEFORE, 30, display_checked(5.0, 4.1))]));
    assert!((right_in / plain_in - 0.82).abs() < 1e-9, "{right_in} {plain_in}");
    assert!((right_out / plain_out - 0.82).abs() < 1e-9, "{right_out} {plain_out}");
}

#[test]
fn two_short_rinses_are_no_full_one() {
    let rinse = |litres| holds("LN-847", Some(litres));
    let twice = [(1, 0, holds("BR-861", None)), (2, 0, rinse(0.3)), (3, 0, rinse(0.4))];
    let journal = with_site(ready_to_push(), site(&twice));
    assert_eq!(lacks(&journal, Gate::Exchange), ["equipment-rinse"], "each leaves some of it");
    let full = [(1, 0, holds("BR-861", None)), (2, 0, rinse(0.7)), (3, 0, rinse(0.2))];
    assert_eq!(lacks(&with_site(ready_to_push(), site(&full)), Gate::Exchange), [""; 0]);
}

#[test]
fn what_the_equipment_was_rinsed_with_is_not_planned_with() {
    let litres = |journal: &Journal| {
        let asked = crate::plan::Asked { kit_litres: Some(18.0) };
        let plan = journal.with(|context, entries| crate::plan::plan(context, entries, asked));
        plan.choices[0].pushed_litres
    };
    let rinsed = with_site(ready_to_push(), site(&[(1, 0, holds("LN-847", Some(2.0)))]));
    assert!((litres(&ready_to_push()) - litres(&rinsed) - 2.0).abs() < 1e-9);
}

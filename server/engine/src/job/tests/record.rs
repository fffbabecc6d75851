//! The kinds of the whole job on the record: codes and drives, parts and torques, notes, what is missing.

use super::*;
use crate::view::DoneRow;

const DIGEST: &str = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08";

fn codes(moment: i32, codes: &[&str]) -> Kind {
    let state = if codes.is_empty() { 1 } else { 2 };
    let codes = codes.iter().map(|code| (*code).to_owned()).collect();
    Kind::FaultCodes(v1::FaultCodes { moment, state, codes, adaptation_done: 0, ..Default::default() })
}

fn drive(moment: i32, ticks: &[i32], gear: Option<i32>, warmth: i32) -> Kind {
    Kind::RoadTest(v1::RoadTest { moment, ticks: ticks.to_vec(), gear, warmth })
}

fn screws(count: i32, new: i32) -> Kind {
    Kind::Tightening(v1::Tightening {
        group: 1,
        screw_count: count,
        new_screw_count: new,
        torque_newton_metres: 9.0,
        order_kept: 1,
        tool: "TW-3".into(),
        screws: Vec::new(),
    })
}

fn plug(seal_new: i32) -> Kind {
    Kind::PlugClosed(v1::PlugClosed {
        seal_new,
        plug_new: 1,
        torque_newton_metres: Some(22.0),
        tool: "TW-3".into(),
    })
}

fn kit(fitted: &[i32], excepted: &[i32]) -> Kind {
    Kind::PartFitted(v1::PartFitted {
        kit: "K8-20".into(),
        lot: "L-77".into(),
        fitted: fitted.to_vec(),
        excepted: excepted.to_vec(),
    })
}

fn leaks(found: i32) -> Kind {
    Kind::LeakCheck(v1::LeakCheck { found, line_closed: 1, after_drive: false })
}

fn answer(topic: i32, said: i32) -> Kind {
    Kind::CustomerAnswer(v1::CustomerAnswer { topic, said })
}

fn sample(moment: i32) -> Kind {
    Kind::FluidSample(v1::FluidSample { moment, colour: 4, clouding: 1, ..Default::default() })
}

fn rows(view: &JobView) -> Vec<(String, String, String)> {
    let words = |cell: &Option<Sentence>| cell.as_ref().map(said).unwrap_or_default();
    let rows = view.before_and_after.iter();
    rows.map(|row| (said(&row.label), words(&row.before), words(&row.after))).collect()
}

fn done(view: &JobView) -> Vec<String> {
    let words = |row: &DoneRow| {
        let cells = [Some(&row.what), row.detail.as_ref(), row.amount.as_ref()];
        cells.into_iter().flatten().map(said).collect::<Vec<_>>().join(" | ").replace('\u{a0}', " ")
    };
    view.done.iter().map(words).collect()
}

#[test]
fn codes_stand_first_and_the_drive_last_and_rows_not_looked_at_are_left_out() {
    let mut journal = settled_job();
    assert!(journal.view().before_and_after.is_empty());
    journal.add(drive(1, &[2, 5], Some(3), 1)).add(sample(1)).add(codes(1, &["p0730", "P0420"]));
    journal.add(codes(2, &[])).add(drive(2, &[1], None, 2));
    assert_eq!(
        rows(&journal.view()),
        [
            ("Fault codes".to_owned(), "P0730, P0420".to_owned(), "none".to_owned()),
            ("Fluid colour".to_owned(), "black".to_owned(), String::new()),
            ("Clouding".to_owned(), "clear".to_owned(), String::new()),
            (
                "Drive (driver’s impression)".to_owned(),
                "changes late, shudder, into gear 3, cold".to_owned(),
                "changes as they should be, warm".to_owned()
            ),
        ]
    );
}

#[test]
fn a_memory_that_could_not_be_read_is_no_empty_one() {
    let mut journal = settled_job();
    let unreadable =
        v1::FaultCodes { moment: 1, state: 3, adaptation_done: 0, codes: Vec::new(), ..Default::default() };
    journal.add(Kind::FaultCodes(unreadable));
    assert_eq!(rows(&journal.view()).remove(0).1, "not readable");
    let unnamed =
        v1::FaultCodes { moment: 1, state: 2, adaptation_done: 2, codes: Vec::new(), ..Default::default() };
    journal.add(Kind::FaultCodes(unnamed));
    let adapted =
        v1::FaultCodes { moment: 2, state: 1, adaptation_done: 1, codes: Vec::new(), ..Default::default() };
    journal.add(Kind::FaultCodes(adapted));
    let (_, before, after) = rows(&journal.view()).remove(0);
    assert_eq!(
        (before.as_str(), after.as_str()),
        ("codes read; adaptation not done", "none; adaptation done")
    );
}

#[test]
fn a_code_to_repair_first_is_a_finding_and_the_customer_reads_it_even_when_it_was_cleared() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0741"])).add(codes(1, &[]));
    let view = journal.view();
    let sentence = "A fluid exchange does not repair this fault; find it first.";
    let findings: Vec<_> =
        view.findings.iter().filter(|finding| said(&finding.text).contains(sentence)).collect();
    assert_eq!(findings.len(), 1);
    assert!(findings[0].on_record && findings[0].seqs.len() == 1);
    assert!(said(&findings[0].text).contains("P0741"));
    assert!(all(&view.please_note).contains(sentence));
}

#[test]
fn a_code_that_only_has_to_be_known_is_no_finding_and_each_other_class_has_its_sentence() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0420"]));
    assert!(journal.view().findings.is_empty());
    journal.add(codes(1, &["P0218", "P0711", "P0700", "P1777"])).add(codes(2, &["P0700"]));
    let view = journal.view();
    let findings: Vec<String> = view.findings.iter().map(|finding| said(&finding.text)).collect();
    assert_eq!(findings.len(), 4, "{findings:?}");
    for (finding, part) in
        findings.iter().zip(["too hot", "fluid temperature", "its own codes", "maker’s own"])
    {
        assert!(finding.contains(part), "{finding}");
    }
    assert_eq!(view.findings[2].seqs.len(), 2, "the same code before and after is one finding");
    assert!(!all(&view.please_note).contains("does not repair this fault"));
}

#[test]
fn parts_and_screws_and_plug_are_done_rows() {
    let mut journal = serviced_job();
    journal.add(kit(&[1, 2, 3], &[4])).add_typed(screws(13, 13), &[("torque_newton_metres", "9.0 N·m")]);
    journal.add(plug(1));
    let rows = done(&journal.view());
    assert_eq!(
        rows.get(1..).unwrap(),
        [
            "All of the kit, except pan screws | kit K8-20, lot L-77, filter, pan seal | new",
            "Pan screws | 9.0 N·m, order kept, tool TW-3 | 13 of 13 new",
            "Magnets | new",
            "Level plug | 22 N·m, tool TW-3 | seal new, plug new",
        ]
    );
    let view = journal.view();
    assert_eq!(view.tightening.len(), 2);
    assert_eq!(
        said(&view.tightening[0]).replace('\u{a0}', " "),
        "Pan screws: 13 of 13 new, 9.0 N·m, order kept, tool TW-3."
    );
}

#[test]
fn single_parts_without_a_kit_are_named() {
    let mut journal = settled_job();
    journal.add(Kind::PartFitted(v1::PartFitted { fitted: vec![1, 8], ..Default::default() }));
    assert_eq!(done(&journal.view()), ["New parts: filter, seal of the level plug | new"]);
}

#[test]
fn a_screw_or_seal_used_again_names_who_answers_for_it() {
    let mut journal = settled_job();
    journal.add(screws(13, 13)).add(plug(1));
    assert!(!all(&journal.view().please_note).contains("used again"));
    journal.add(screws(13, 11)).add(plug(2)).add(kit(&[], &[2]));
    let notes = all(&journal.view().please_note);
    for note in [
        "Pan screws: 2 of 13 were used again; nobody decided on it.",
        "The seal of the level plug was used again; responsible: technician A.",
        "Not renewed although the kit has them: pan seal; responsible: technician A.",
    ] {
        assert!(notes.contains(note), "{note}: {notes}");
    }
}

#[test]
fn what_the_customer_said_stands_with_its_day_and_the_last_answer_counts() {
    let mut journal = settled_job();
    journal.add(answer(4, 1)).add(answer(1, 2)).add(answer(4, 3));
    let notes = all(&journal.view().please_note);
    assert!(notes.contains("You declined on 18 March 2026 what we advised: cleaning the cooler."), "{notes}");
    assert!(notes.contains("You agreed on 18 March 2026: fault codes that a fluid service does not repair."));
    assert!(!notes.contains("You were told"));
}

#[test]
fn a_leak_is_noted_until_a_later_look_is_dry() {
    let mut journal = settled_job();
    let look = |found| Kind::Inspection(v1::Inspection { part: 2, found });
    journal.add(leaks(3)).add(look(2));
    let notes = all(&journal.view().please_note);
    assert!(notes.contains("When we looked for leaks it was dripping."), "{notes}");
    assert!(notes.contains("We saw on your vehicle: Cooler and its lines, damp."), "{notes}");
    journal.add(leaks(1)).add(look(1));
    let notes = all(&journal.view().please_note);
    assert!(!notes.contains("looked for leaks") && !notes.contains("We saw"), "{notes}");
}

#[test]
fn the_maker_s_instructions_stay_the_last_note() {
    let mut journal = serviced_job();
    journal.add(answer(4, 3)).add(leaks(2)).add(screws(13, 0));
    assert!(said(journal.view().please_note.last().unwrap()).contains("maker’s instructions"));
}

#[test]
fn what_was_looked_at_leaves_the_list_of_what_was_not() {
    let mut journal = serviced_job();
    let missing = all(&journal.view().not_measured);
    for part in [
        "Fault codes before and after the service: not read.",
        "Drive before and after the service: not recorded.",
        "Torque of the pan’s screws",
        "Torque of the level plug",
        "Look for leaks",
        "Sample before the service",
        "no laboratory report",
    ] {
        assert!(missing.contains(part), "{part}: {missing}");
    }
    journal.add(codes(1, &[])).add(drive(2, &[1], None, 0)).add(screws(13, 13)).add(plug(1)).add(leaks(1));
    journal.add(sample(1));
    let missing = all(&journal.view().not_measured);
    assert!(missing.contains("Fault codes after the service: not read."), "{missing}");
    assert!(missing.contains("Drive before the service: not recorded."), "{missing}");
    for part in ["Torque", "Look for leaks", "Sample before"] {
        assert!(!missing.contains(part), "{part}: {missing}");
    }
    assert!(missing.contains("Fuel consumption") && missing.contains("no laboratory report"));
}

#[test]
fn in_short_is_asked_done_found_level_share_and_never_more_than_five_sentences() {
    let mut journal = serviced_job();
    journal.add(sample(1)).add(codes(1, &["P0741"]));
    let short: Vec<String> = journal.view().in_short.iter().map(said).collect();
    assert_eq!(short.len(), 5, "{short:?}");
    for (text, start) in short.iter().zip(["You asked", "We pushed", "We found", "The level", "About"]) {
        assert!(text.starts_with(start), "{start}: {text}");
    }
    assert_eq!(
        short[2],
        "We found the fluid black, clear; on pan and magnets: fine grey paste; in the fault memory: P0741."
    );
}

#[test]
fn a_job_without_an_exchange_still_says_what_was_found() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0741"])).add(Kind::Closing(v1::Closing { outcome: 2, ..Default::default() }));
    let short = all(&journal.view().in_short);
    assert!(short.ends_with("No exchange was done. We found in the fault memory: P0741."), "{short}");
}

#[test]
fn waste_cautions_photos_words_skipped_steps_and_decisions_are_listed() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0741"]));
    let waste = |kind, amount| Kind::Waste(v1::Waste { kind, amount: Some(amount), container: "W1".into() });
    journal.add_typed(waste(1, v1::waste::Amount::VolumeLitres(12.4)), &[("volume_litres", "12.40 L")]);
    journal.add(waste(2, v1::waste::Amount::PieceCount(1)));
    for group in [4, 1, 1] {
        journal.add(Kind::CautionRead(v1::CautionRead { group }));
    }
    journal.add(Kind::Photo(v1::Photo { blob_digest: DIGEST.into(), subject: 3 }));
    journal.add(Kind::Remark(v1::Remark { blob_digest: DIGEST.into(), subject: 1 }));
    for reason in [1, 3] {
        journal.add(Kind::Skipped(v1::Skipped { step: "drive-before".into(), reason }));
    }
    let decision = v1::Decision { point: "repair-first".into(), reason: "sensor renewed before".into() };
    journal.add(Kind::Decision(decision));
    let view = journal.view();
    let plain = |sentences: &[Sentence]| all(sentences).replace('\u{a0}', " ");
    assert_eq!(plain(&view.waste), "Used fluid: 12.40 L, container W1. Filters: one piece, container W1.");
    let read: Vec<String> = view.acknowledged.iter().map(said).collect();
    assert_eq!(read, ["vehicle lifted: read by technician A", "pan and hot fluid: read by technician A"]);
    assert_eq!(
        (view.photos[0].digest.as_str(), said(&view.photos[0].caption).as_str()),
        (DIGEST, "pan and magnets")
    );
    assert_eq!(said(&view.remarks[0].subject), "the customer’s complaint");
    assert_eq!(plain(&view.skipped), "drive before: not safe (technician A)");
    let drive = v1::RoadTest { moment: 1, ticks: vec![1], gear: None, warmth: 1 };
    journal.add(Kind::RoadTest(drive));
    assert_eq!(plain(&journal.view().skipped), "", "it was driven after all");
    let decided = plain(&view.decisions);
    assert!(decided.starts_with("repair first: sensor renewed before (decided by technician A, 18 March,"));
}

#[test]
fn cautions_of_work_that_was_not_done_are_not_printed() {
    let pushed = all(&serviced_job().view().cautions);
    for part in ["cooler line carries pressure", "driver in the seat", "burn in seconds", "do not tow"] {
        assert!(pushed.contains(part), "{part}: {pushed}");
    }
    let opened = all(&settled_job().view().cautions);
    assert!(opened.contains("Lift locked") && opened.contains("burn in seconds"));
    for part in ["cooler line", "driver in the seat", "do not tow", "seat belt"] {
        assert!(!opened.contains(part), "{part}: {opened}");
    }
}

#[test]
fn every_kind_says_itself_in_a_sentence() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0741"])).add(drive(2, &[1], Some(2), 2)).add(kit(&[1], &[]));
    journal.add(Kind::Inspection(v1::Inspection { part: 1, found: 2 }));
    journal.add(Kind::Hookup(v1::Hookup {
        place: 1,
        adapter: "AD-2".into(),
        direction_tested: 1,
        ..Default::default()
    }));
    journal.add(screws(13, 13)).add(plug(1)).add(leaks(1)).add(answer(5, 1));
    journal.add(Kind::GearCycle(v1::GearCycle { driver_person_code: "B".into(), nobody_under_vehicle: 1 }));
    journal.add(Kind::ConditionConfirmed(v1::ConditionConfirmed { conditions: vec![1, 2] }));
    journal.add(Kind::RecordIssued(v1::RecordIssued {
        edition: 1,
        blob_digest: DIGEST.into(),
        tree_size: 12,
        tree_root: DIGEST.into(),
        engine_version: "0.1.0".into(),
        catalogue_revision_id: String::new(),
        language: "en".into(),
        names_customer: true,
    }));
    journal.add(Kind::Handover(v1::Handover { edition: 1 }));
    let view = journal.view();
    let story: Vec<String> =
        view.story.iter().skip(4).map(|line| said(&line.text).replace('\u{a0}', " ")).collect();
    assert_eq!(
        story,
        [
            "Fault codes before the service: P0741.",
            "Drive after the service, the driver’s impression: changes as they should be, into gear 2, warm.",
            "Fitted new: all of the kit (kit K8-20, lot L-77, filter).",
            "Outside of the transmission: damp.",
            "Exchange equipment connected in the cooler line: adapter AD-2, direction of flow tested.",
            "Pan screws: 13 of 13 new, 9 N·m, order kept, tool TW-3.",
            "Level plug closed: seal new, plug new, 22 N·m, tool TW-3.",
            "Looked for leaks in the bay: dry, cooler line closed with clip and cap.",
            "Customer informed of a leak.",
            "Selector moved through all positions, engine running; in the driver’s seat person B; nobody under the vehicle.",
            "Confirmed: lift locked, arms on the maker’s points, engine off.",
            "Record issued, edition 1.",
            "Vehicle and record handed over, edition 1.",
        ]
    );
}

#[test]
fn why_it_came_is_a_reason_in_the_sentence() {
    let asked = |reasons: &[v1::VisitReason]| {
        let mut journal = Journal::new();
        let reasons = reasons.iter().map(|reason| i32::from(*reason)).collect();
        journal.add(Kind::Arrival(v1::Arrival { plate: "PH 482 K".into(), reasons, ..Default::default() }));
        said(&journal.view().in_short[0])
    };
    use v1::VisitReason::{Leak, ServiceDue, WarningLamp};
    assert_eq!(asked(&[]), "You asked for a fluid service.");
    assert_eq!(asked(&[ServiceDue]), "You asked for a fluid service, since it was due.");
    assert_eq!(
        asked(&[Leak, WarningLamp]),
        "You asked for a fluid service because of fluid seen under the vehicle, a warning lamp."
    );
    assert_eq!(
        asked(&[ServiceDue, Leak]),
        "You asked for a fluid service, since it was due and because of fluid seen under the vehicle."
    );
}

#[test]
fn the_row_before_names_every_code_that_was_read_before() {
    let mut journal = settled_job();
    journal.add(codes(1, &["P0730"])).add(codes(1, &["P0420"]));
    let view = journal.view();
    let row =
        view.before_and_after.iter().find(|row| row.label == crate::text::sentence::row_codes()).unwrap();
    assert_eq!(said(row.before.as_ref().unwrap()), "P0730, P0420");
    assert!(all(&view.in_short).contains("P0730, P0420"));
}

#[test]
fn kilograms_beside_litres_are_said_in_litres_too() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(drained(3.05));
    let amount = Some(v1::fill::Amount::VolumeLitres(3.6));
    journal.add(Kind::Fill(v1::Fill { purpose: 1, amount, means: 1, ..Default::default() }));
    let short = all(&journal.view().in_short).replace('\u{a0}', " ");
    assert!(short.contains("We drained 3.05 kg (3.6 L) from the pan and refilled 3.6"), "{short}");
}

//! Records and work sheets of jobs that strain the page: as much of everything as the bounds let in, in the longest
//! words that they let in. No row is lost, nothing is clipped, nothing stands over anything else.

use super::print::{Press, Printed};
use super::{assert_sound, flowing, layout};
use standpipe_proto::v1::{self, fact::Kind};
use standpipe_server::Order;
use standpipe_tests::blobs::PHOTO;
use standpipe_tests::facts;

/// Requires a sound file and gives its text; nothing without poppler.
fn read(press: &Press, name: &str, printed: &Printed) -> Option<String> {
    let file = press.file(&format!("{name}.pdf"));
    std::fs::write(&file, &printed.pdf).unwrap();
    let pages = layout::pages(&file)?;
    assert_sound(&printed.pdf, &file, pages);
    flowing(&file)
}

#[track_caller]
fn holds(text: Option<&str>, parts: impl IntoIterator<Item = String>) {
    let Some(text) = text else { return };
    for part in parts {
        assert!(text.contains(&part), "'{part}' is missing in\n{text}");
    }
}

fn kit(number: usize) -> Kind {
    Kind::PartFitted(v1::PartFitted {
        kit: format!("K-{number:02}"),
        fitted: (1..=9).collect(),
        excepted: Vec::new(),
        lot: format!("LOT-{number:02}"),
    })
}

fn screws(number: usize) -> Kind {
    Kind::Tightening(v1::Tightening {
        group: v1::ScrewGroup::Other.into(),
        screw_count: 60,
        new_screw_count: 60,
        torque_newton_metres: 9.0,
        order_kept: v1::Answer::Yes.into(),
        tool: format!("TW-{number:02}"),
        screws: Vec::new(),
    })
}

#[tokio::test]
async fn forty_parts_and_forty_groups_of_screws_are_all_there_and_break_over_pages() {
    let press = Press::new().await;
    let mut kinds = facts::whole_service();
    let closing = kinds.pop().unwrap();
    kinds.extend((1..=40).map(kit).chain((1..=40).map(screws)));
    kinds.push(closing);
    let printed = press.print(kinds).await;
    let text = read(&press, "forty", &printed);
    holds(text.as_deref(), (1..=40).map(|number| format!("K-{number:02}")));
    holds(text.as_deref(), (1..=40).map(|number| format!("TW-{number:02}")));
    holds(text.as_deref(), (1..=40).map(|number| format!("LOT-{number:02}")));
}

#[tokio::test]
async fn the_longest_names_and_codes_are_broken_and_not_clipped() {
    let press = Press::new().await;
    // As long as the bounds let each be, of the widest letter, and once of words.
    for (round, letter) in ["W", "Wide "].into_iter().enumerate() {
        let long =
            |length: usize| letter.repeat(length).chars().take(length).collect::<String>().trim().to_owned();
        let code = "W".repeat(40);
        press.order(Order::AddPerson { code: "A".into(), name: Some(long(80)) }).await;
        let mut arrival = v1::Arrival { plate: long(16), ..v1::Arrival::default() };
        (arrival.vehicle_maker, arrival.vehicle_model) = (long(40), long(60));
        arrival.reasons = (1..=8).collect();
        let job = press.open(Kind::Arrival(arrival)).await;
        press.note_customer(&job, &long(80)).await;
        let settled = v1::VariantSettled {
            variant_code: code.clone(),
            means: v1::SettledBy::LookedUp.into(),
            source: long(200),
            looked_up_date: "2026-03-18".into(),
            transmission_plate_agrees: v1::Answer::Yes.into(),
            label: long(80),
            fluid_code: code.clone(),
            filter_code: code.clone(),
            ..v1::VariantSettled::default()
        };
        press.state(&job, Kind::VariantSettled(settled)).await;
        for moment in [1, 2] {
            let codes = (0..40).map(|number| format!("P1{number:02}WWWW")).collect();
            press
                .state(
                    &job,
                    Kind::FaultCodes(v1::FaultCodes {
                        moment,
                        state: 2,
                        codes,
                        adaptation_done: 1,
                        ..Default::default()
                    }),
                )
                .await;
            let drive = v1::RoadTest { moment, ticks: (1..=8).collect(), gear: Some(12), warmth: 1 };
            press.state(&job, Kind::RoadTest(drive)).await;
        }
        let hookup = v1::Hookup {
            adapter: code.clone(),
            equipment: code.clone(),
            ..v1::Hookup { place: 1, ..v1::Hookup::default() }
        };
        press.state(&job, Kind::Hookup(hookup)).await;
        let fitted = v1::PartFitted {
            kit: code.clone(),
            fitted: (1..=9).collect(),
            excepted: (1..=9).collect(),
            lot: code.clone(),
        };
        press.state(&job, Kind::PartFitted(fitted)).await;
        press
            .state(&job, Kind::Decision(v1::Decision { point: "repair-first".into(), reason: long(400) }))
            .await;
        let said = [&[0xa5; 16][..], long(4_000).as_bytes()].concat();
        let digest = press.bring(&said).await;
        press.state(&job, Kind::Remark(v1::Remark { blob_digest: digest, subject: 1 })).await;
        let printed = press.render(&job).await;
        assert_eq!(printed.warnings, Vec::<String>::new());
        let text = read(&press, &format!("long-{round}"), &printed);
        let squeezed = text.map(|text| text.split_whitespace().collect::<String>());
        let wanted = [long(80), long(200), long(400)].map(|text| text.split_whitespace().collect::<String>());
        holds(squeezed.as_deref(), wanted);
        holds(squeezed.as_deref(), (0..40).map(|number| format!("P1{number:02}WWWW")));
    }
}

#[tokio::test]
async fn twenty_photos_skipped_steps_and_the_annex_of_everything_leave_no_margin() {
    let press = Press::new().await;
    let mut kinds = facts::whole_service();
    let closing = kinds.pop().unwrap();
    let (start, rest) = PHOTO.split_at(2);
    for number in 0..20 {
        let photo = [start, &[0xff, 0xfe, 0, 3, number], rest].concat();
        let blob_digest = press.bring(&photo).await;
        kinds.push(Kind::Photo(v1::Photo { blob_digest, subject: i32::from(number % 6) + 1 }));
    }
    for step in ["old-fluid", "codes-before", "drive-before", "sample-before", "pan-seen", "waste"] {
        kinds.push(Kind::Skipped(v1::Skipped { step: step.into(), reason: 4 }));
    }
    for topic in 1..=6 {
        kinds.push(Kind::CustomerAnswer(v1::CustomerAnswer { topic, said: 3 }));
    }
    for part in 1..=5 {
        kinds.push(Kind::Inspection(v1::Inspection { part, found: 4 }));
    }
    kinds.push(closing);
    let entries = kinds.len();
    let printed = press.print(kinds).await;
    let text = read(&press, "photos", &printed);
    holds(text.as_deref(), ["16 more photos were taken; the annex names every photo.".to_owned()]);
    let annex = press.render_annex(&printed.number).await;
    assert_eq!(annex.check_value, printed.check_value);
    let Some(text) = read(&press, "annex", &annex) else { return };
    assert!(text.contains("Annex: every entry") && text.contains(&format!("{entries} entries")), "{text}");
}

/// A job of which every name is as long as it may be.
async fn long_names(press: &Press, words: &str) -> String {
    let long = |length: usize| words.chars().cycle().take(length).collect::<String>().trim().to_owned();
    let code = |length: usize| long(length).replace(' ', "-");
    let arrival = v1::Arrival {
        plate: long(16),
        vehicle_maker: long(40),
        vehicle_model: long(60),
        ..v1::Arrival::default()
    };
    let job = press.open(Kind::Arrival(arrival)).await;
    let settled = v1::VariantSettled {
        variant_code: code(40),
        means: v1::SettledBy::LookedUp.into(),
        source: long(200),
        label: long(80),
        fluid_code: code(40),
        ..v1::VariantSettled::default()
    };
    press.state(&job, Kind::VariantSettled(settled)).await;
    job
}

#[tokio::test]
async fn the_bay_sheet_of_a_job_is_one_page_and_copies_no_reading() {
    let press = Press::new().await;
    let empty = press.open(facts::arrival("PH 482 K")).await;
    let whole = press.print(facts::whole_service()).await.job;
    press.note_customer(&whole, "Customer Wren").await;
    let long = long_names(&press, "Tarnwick Marl estate car long ").await;
    // Of the widest letter alone: longer than one page, but nothing is clipped.
    let wide = long_names(&press, "W").await;
    for (name, job, pages_most, expected) in [
        ("empty", &empty, 1, "see the vehicle maker"),
        ("whole", &whole, 1, "13 screws, 9 N·m"),
        ("long", &long, 1, "Tarnwick Marl estate car"),
        ("wide", &wide, 2, "WWWW"),
    ] {
        let sheet = press.bay_sheet(job).await;
        let file = press.file(&format!("sheet-{name}.pdf"));
        std::fs::write(&file, &sheet).unwrap();
        let Some(pages) = layout::pages(&file) else { return };
        assert!((1..=pages_most).contains(&pages), "{name}: {pages} pages");
        layout::assert_laid_out(&file, pages);
        let text = flowing(&file).unwrap();
        for part in [expected, "licensed practice", "nobody under"] {
            assert!(text.contains(part), "{name}: '{part}' is missing in\n{text}");
        }
        // A number on the sheet would be copied instead of read, and a bay does not learn who the customer is.
        for reading in ["3.05", "3.07", "9.4 L", "118 240", "Wren"] {
            assert!(!text.contains(reading), "{name}: '{reading}' stands in\n{text}");
        }
    }
}

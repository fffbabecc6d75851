//! When the next service is due, and on what that stands.

use super::*;

const MAKER: &str = "maker_interval_kilometres = 80000.0\nmaker_interval_months = 72\n";
const LOADS: &str = "towing = 0.7\nmountains = 0.8\ntown = 0.8\nall_day = 0.7\n";
const MONTHS: &str = "months = 48\n";

/// A closed service under these files; arrived with a load word, closed at a distance or not.
fn closed(workshop: &str, alder: &str, arrived: v1::Arrival, closing: v1::Closing) -> JobView {
    let mut journal = Journal::new();
    let files = [("workshop.toml", workshop), ("alder-8.toml", alder)];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
    let (vin_text, variant) = second_series(&journal.revision);
    journal.add(Kind::Arrival(arrived)).add(vin(&vin_text)).add(settled(&variant)).add(container("Linden"));
    journal.add(drained(3.05)).add(refilled(3.1, "Linden")).add(level(43.0, 2)).add(Kind::Closing(closing));
    journal.view()
}

fn arrived(odometer_kilometres: Option<f64>, load: i32) -> v1::Arrival {
    v1::Arrival {
        plate: "PH 482 K".into(),
        reasons: vec![1],
        odometer_kilometres,
        load,
        ..Default::default()
    }
}

fn done(odometer_kilometres: Option<f64>) -> v1::Closing {
    v1::Closing { outcome: 1, odometer_kilometres }
}

fn text(view: &JobView) -> String {
    all(&view.next_due.sentences).replace(['\u{a0}', '\u{202f}'], " ")
}

#[test]
fn the_workshop_s_interval_counts_where_it_is_the_shorter_one() {
    let view = closed(WORKSHOP, ALDER, arrived(Some(118_240.0), 0), done(Some(118_254.0)));
    assert_eq!(
        text(&view),
        "The next fluid service is due at 168 254 km or on 18 March 2030, whichever comes first. \
         That is this workshop’s interval of 50 000 km or 48 months (agreed in this workshop, January 2026)."
    );
    assert_eq!(view.next_due.kilometres, Some((168_254.0, "workshop")));
    assert_eq!(view.next_due.date, Some(("2030-03-18".to_owned(), "workshop")));
}

#[test]
fn the_maker_s_interval_is_never_passed() {
    let alder = ALDER.replace("80000.0", "40000.5").replace("interval_months = 72", "interval_months = 60");
    let view = closed(WORKSHOP, &alder, arrived(None, 0), done(Some(118_254.0)));
    let text = text(&view);
    assert!(text.contains("due at 158 254 km or on 18 March 2030"), "a part of a kilometre is cut: {text}");
    assert!(text.contains("this workshop’s interval of 48 months (agreed"), "{text}");
    assert!(
        text.contains("The vehicle maker’s interval of 40 00") && text.contains("(Tarnwick parts data"),
        "{text}"
    );
    assert_eq!(view.next_due.kilometres.unwrap().1, "maker");
    assert_eq!(view.next_due.date.unwrap().1, "workshop");
}

#[test]
fn a_load_word_shortens_the_distance_and_stands_beside_it() {
    let view = closed(WORKSHOP, ALDER, arrived(Some(100_000.0), 2), done(None));
    let told = text(&view);
    assert!(told.contains("due at 135 000 km"), "{told}");
    assert!(told.contains("35 000 km: 0.70 of the workshop’s 50 000 km"), "{told}");
    assert_eq!(view.next_due.kilometres, Some((135_000.0, "load-word")));
    let view = closed(&WORKSHOP.replace(LOADS, ""), ALDER, arrived(Some(100_000.0), 2), done(None));
    assert!(text(&view).contains("for which this workshop has no factor"), "{}", text(&view));
    assert_eq!(view.next_due.kilometres, Some((150_000.0, "workshop")));
    let ordinary = closed(WORKSHOP, ALDER, arrived(Some(100_000.0), 1), done(None));
    assert!(!text(&ordinary).contains("factor"), "{}", text(&ordinary));
}

#[test]
fn easy_use_makes_nothing_longer_while_the_maker_is_not_known() {
    let longer = WORKSHOP.replace(LOADS, "long_distance = 1.5\n");
    let unknown = ALDER.replace(MAKER, "");
    let view = closed(&longer, &unknown, arrived(Some(0.0), 5), done(None));
    assert_eq!(view.next_due.kilometres, Some((50_000.0, "workshop")));
    assert!(text(&view).contains("not made longer"), "{}", text(&view));
    // Known, it is the limit.
    let view = closed(&longer, ALDER, arrived(Some(0.0), 5), done(None));
    assert_eq!(view.next_due.kilometres, Some((75_000.0, "load-word")));
    let view = closed(WORKSHOP, &unknown, arrived(Some(0.0), 0), done(None));
    assert!(text(&view).contains("maker’s interval is not in our catalogue"), "{}", text(&view));
}

#[test]
fn without_a_distance_on_the_vehicle_it_counts_from_this_service() {
    let view = closed(WORKSHOP, ALDER, arrived(None, 0), done(None));
    assert!(view.next_due.kilometres.is_none() && view.next_due.date.is_some());
    let told = text(&view);
    assert!(told.contains("due 50 000 km after this one or on 18 March 2030"), "{told}");
    assert!(told.contains("the distance on the vehicle was not noted"), "{told}");
    let distance_only = WORKSHOP.replace(MONTHS, "");
    let view = closed(&distance_only, &ALDER.replace(MAKER, ""), arrived(None, 0), done(None));
    assert!(text(&view).contains("due 50 000 km after this one; the distance"), "{}", text(&view));
}

#[test]
fn without_any_interval_there_is_a_sentence_and_no_number() {
    let table = WORKSHOP.split("[service_interval]").next().unwrap();
    let view = closed(table, &ALDER.replace(MAKER, ""), arrived(Some(1.0), 0), done(Some(2.0)));
    assert_eq!(
        text(&view),
        "No interval is stated in our papers: the next fluid service is due by the vehicle maker’s plan."
    );
    assert!(view.next_due.kilometres.is_none() && view.next_due.date.is_none());
    // The maker's alone is enough.
    let view = closed(table, ALDER, arrived(Some(1.0), 0), done(Some(2.0)));
    assert!(text(&view).contains("due at 80 002 km or on 18 March 2032"), "{}", text(&view));
    assert_eq!(view.next_due.date.unwrap().1, "maker");
}

#[test]
fn nothing_is_due_for_a_job_that_is_open_stopped_or_renewed_nothing() {
    let stopped = v1::Closing { outcome: 2, odometer_kilometres: None };
    assert!(closed(WORKSHOP, ALDER, arrived(Some(1.0), 0), stopped).next_due.sentences.is_empty());
    assert!(serviced_job().view().next_due.sentences.is_empty(), "not closed");
    let mut journal = settled_job();
    let amount = Some(v1::fill::Amount::VolumeLitres(0.3));
    journal.add(Kind::Fill(v1::Fill { purpose: 2, amount, means: 1, ..Default::default() }));
    journal.add(Kind::Closing(done(None)));
    assert!(journal.view().next_due.sentences.is_empty(), "a little was added, nothing was renewed");
}

#[test]
fn without_a_level_that_counts_no_number_is_given() {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(drained(3.05)).add(refilled(3.05, "Linden"));
    journal.add(Kind::Closing(done(Some(118_254.0))));
    let due = journal.view().next_due;
    assert_eq!(all(&due.sentences), "When the next fluid service is due is said once the level is set.");
    assert!(due.kilometres.is_none() && due.date.is_none());
}

#[test]
fn the_date_counts_from_the_day_of_the_service_and_not_of_the_closing() {
    let mut journal = serviced_job();
    journal.minute += 5 * 24 * 60;
    journal.add(Kind::Closing(done(None)));
    assert_eq!(journal.view().next_due.date.unwrap().0, "2030-03-18");
}

#[test]
fn the_day_is_that_of_the_site() {
    let mut journal = serviced_job();
    // 23:50 in London on 18 March is already the 19th there.
    journal.minute = 949;
    journal.add(refilled(0.5, "Linden")).add(level(43.0, 2)).add(Kind::Closing(done(None)));
    assert_eq!(journal.view().next_due.date.unwrap().0, "2030-03-18");
    let files = [
        ("workshop.toml", WORKSHOP.replace("Europe/London", "Asia/Kolkata")),
        ("alder-8.toml", ALDER.to_owned()),
    ];
    let files = files.map(|(name, text)| (name.to_owned(), text.into_bytes()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
    assert_eq!(journal.view().next_due.date.unwrap().0, "2030-03-19");
}

#[test]
fn a_load_word_stated_at_booking_is_said_with_the_arrival() {
    let mut journal = Journal::new();
    journal.add(Kind::Arrival(arrived(None, 4)));
    assert!(said(&journal.view().story[0].text).contains("use: mostly short ways in town"));
}

/// Temperatures over the distance, in °C and percent.
fn driven(rows: &[(f64, f64)]) -> Kind {
    let shares =
        rows.iter().map(|(celsius, percent)| v1::TemperatureShare { celsius: *celsius, percent: *percent });
    let temperature_shares = shares.collect();
    Kind::FaultCodes(v1::FaultCodes { moment: 1, state: 1, temperature_shares, ..Default::default() })
}

/// A closed service of a vehicle whose control unit kept temperatures.
fn closed_driven(workshop: &str, alder: &str, load: i32, read: &[Kind]) -> JobView {
    let mut journal = Journal::new();
    let files = [("workshop.toml", workshop), ("alder-8.toml", alder)];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    journal.revision = Revision::parse(files.to_vec()).unwrap();
    let (vin_text, variant) = second_series(&journal.revision);
    journal.add(Kind::Arrival(arrived(Some(100_000.0), load)));
    journal.add(vin(&vin_text)).add(settled(&variant)).add(container("Linden"));
    for kind in read {
        journal.add(kind.clone());
    }
    journal.add(drained(3.05)).add(refilled(3.1, "Linden")).add(level(43.0, 2));
    journal.add(Kind::Closing(done(None)));
    journal.view()
}

/// 1.40220 times as fast as at 90 °C, by tests/reference/ageing_arrhenius.json.
const WARM: [(f64, f64); 3] = [(70.0, 30.0), (90.0, 50.0), (110.0, 20.0)];

#[test]
fn temperatures_over_the_distance_count_before_a_load_word_and_say_their_assumption() {
    let view = closed_driven(WORKSHOP, ALDER, 2, &[driven(&WARM)]);
    assert_eq!(view.next_due.kilometres, Some((135_658.0, "temperatures")));
    assert_eq!(view.next_due.date.as_ref().unwrap().1, "workshop", "months are not scaled");
    // 83.144 kJ/mol from 90 to 100 °C: exp(9 999.93 (1/363.15 − 1/373.15)) = 2.0916, computed by hand.
    assert_eq!(
        text(&view),
        "The next fluid service is due at 135 658 km or on 18 March 2030, whichever comes first. \
         That is this workshop’s interval of 50 000 km or 48 months (agreed in this workshop, January 2026). \
         By the temperatures that the control unit kept, the fluid ages 1.40 times as fast as at 90 °C; this \
         workshop’s distance is divided by that. \
         This is assumed, not measured: at 100 °C fluid ages 2.09 times as fast as at 90 °C (activation energy \
         83.144 kJ/mol; energy customary for mean kinetic temperature, USP 1150; 90 °C is a house value). \
         The use stated as “often with a trailer or a full load” is not counted as well, since the temperatures hold it."
    );
    let story = all(&view.story.iter().map(|line| line.text.clone()).collect::<Vec<_>>());
    let story = story.replace('\u{a0}', " ");
    assert!(story.contains("none; distance driven 30 % at 70 °C, 50 % at 90 °C, 20 % at 110 °C."), "{story}");
}

#[test]
fn the_workshop_s_own_assumption_counts_and_is_named() {
    let own = "[ageing]\nreference_celsius = 90\nactivation_energy_kilojoules_per_mole = 70\nsource = \"own trials\"\n";
    let view = closed_driven(&format!("{WORKSHOP}\n{own}"), ALDER, 0, &[driven(&[(110.0, 100.0)])]);
    // 70 kJ/mol from 90 to 110 °C: 3.353 985 536 29, tests/reference/ageing_arrhenius.json.
    assert_eq!(
        view.next_due.kilometres,
        Some((100_000.0 + (50_000.0 / 3.353_985_536_29_f64).floor(), "temperatures"))
    );
    assert!(text(&view).contains("ages 3.35 times"), "{}", text(&view));
    assert!(text(&view).contains("(activation energy 70 kJ/mol; own trials)"), "{}", text(&view));
}

#[test]
fn a_cool_vehicle_is_never_due_later_than_the_maker_says() {
    let cool = [driven(&[(60.0, 100.0)])];
    let view = closed_driven(WORKSHOP, ALDER, 0, &cool);
    assert_eq!(view.next_due.kilometres, Some((180_000.0, "maker")));
    assert!(text(&view).contains("ages 0.08 times as fast as at 90 °C; that does not change the distance"));
    let view = closed_driven(WORKSHOP, &ALDER.replace(MAKER, ""), 0, &cool);
    assert_eq!(view.next_due.kilometres, Some((150_000.0, "workshop")));
    assert!(text(&view).contains("not made longer"), "{}", text(&view));
    assert!(
        !text(&view).contains("not in our catalogue; where it is shorter, it counts. The"),
        "{}",
        text(&view)
    );
    let view = closed_driven(WORKSHOP, &ALDER.replace(MAKER, ""), 0, &[driven(&WARM)]);
    assert_eq!(view.next_due.kilometres.unwrap().1, "temperatures");
    assert!(text(&view).contains("maker’s interval is not in our catalogue"), "{}", text(&view));
}

#[test]
fn every_temperature_inside_the_bounds_gives_a_figure() {
    for celsius in [-40.0, 180.0] {
        let view = closed_driven(WORKSHOP, ALDER, 0, &[driven(&[(celsius, 100.0)])]);
        let (kilometres, _) = view.next_due.kilometres.unwrap();
        assert!((100_000.0..=180_000.0).contains(&kilometres), "{celsius}: {kilometres}");
        assert!(!text(&view).contains('–'), "{}", text(&view));
    }
}

#[test]
fn the_temperatures_read_last_count_and_a_look_without_any_takes_none_away() {
    let plain = Kind::FaultCodes(v1::FaultCodes { moment: 2, state: 1, ..Default::default() });
    let view = closed_driven(WORKSHOP, ALDER, 0, &[driven(&[(120.0, 100.0)]), driven(&WARM), plain]);
    assert_eq!(view.next_due.kilometres, Some((135_658.0, "temperatures")));
}

/// The vehicle maker's own words for a use hold for it and for no other.
#[test]
fn the_maker_s_interval_for_a_use_is_never_passed_either() {
    let taxi = ALDER.replace("kilometres = 60000.0\nmonths = 60", "kilometres = 20000.0");
    let by = |load| closed(WORKSHOP, &taxi, arrived(Some(100_000.0), load), done(Some(100_000.0)));
    let used_all_day = by(6);
    let said = text(&used_all_day);
    assert_eq!(used_all_day.next_due.kilometres, Some((120_000.0, "maker")), "{said}");
    assert!(said.contains("interval of 20 000 km for a vehicle that is used “all day"), "{said}");
    assert_eq!(
        used_all_day.next_due.date.as_ref().map(|(_, basis)| *basis),
        Some("workshop"),
        "48 months of 72"
    );
    // Another use, and one that nobody stated, have nothing to do with it.
    for load in [0, 1] {
        assert_eq!(by(load).next_due.kilometres, Some((150_000.0, "workshop")));
    }
    let ordinary = taxi.replace("use = \"all_day\"", "use = \"ordinary\"");
    let unstated = closed(WORKSHOP, &ordinary, arrived(Some(100_000.0), 0), done(Some(100_000.0)));
    assert_eq!(
        unstated.next_due.kilometres,
        Some((120_000.0, "maker")),
        "an unstated use counts as ordinary"
    );
}

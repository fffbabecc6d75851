//! The condition of the fluid through whole jobs: each rule, what says nothing and why, both sides, letters that come
//! late.

use super::gates::{codes, decision, drive, lacks, ready_to_push};
use super::*;
use crate::view::ConditionView;

const BEFORE: i32 = 1;
const AFTER: i32 = 2;
const FRESH: i32 = 3;

/// A job in a workshop that stated limits.
fn with_settings(settings: &str) -> Journal {
    let workshop = format!("{WORKSHOP}\n{settings}");
    let files = [("workshop.toml", workshop.as_str()), ("alder-8.toml", ALDER)];
    let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
    let mut journal = Journal { revision: Revision::parse(files.to_vec()).unwrap(), ..Journal::new() };
    journal.add(arrival());
    journal
}

fn job() -> Journal {
    with_settings("")
}

/// Colour, clouding, smell and specks by their numbers; 0 is not looked at.
fn taps(moment: i32, [colour, clouding, smell, specks]: [i32; 4]) -> Kind {
    Kind::FluidSample(v1::FluidSample { moment, colour, clouding, smell, specks, ..Default::default() })
}

fn letter(moment: i32, figures: v1::FluidSample) -> Kind {
    Kind::FluidSample(v1::FluidSample { moment, laboratory_report: "L-77".into(), ..figures })
}

fn photo(moment: i32, colour: &str, white: &str, same_light: i32) -> Kind {
    let (sample_colour, white_colour) = (colour.to_owned(), white.to_owned());
    Kind::FluidSample(v1::FluidSample {
        moment,
        sample_colour,
        white_colour,
        same_light,
        ..Default::default()
    })
}

fn felt(moment: i32, ticks: &[i32]) -> Kind {
    Kind::RoadTest(v1::RoadTest { moment, ticks: ticks.to_vec(), gear: None, warmth: 0 })
}

fn pan(debris: i32) -> Kind {
    let amount = Some(v1::drain::Amount::VolumeLitres(3.0));
    Kind::Drain(v1::Drain { place: 1, amount, debris, ..Default::default() })
}

fn plain(sentence: &Sentence) -> String {
    said(sentence).replace(['\u{a0}', '\u{202f}'], " ")
}

fn lines(side: &ConditionView) -> Vec<String> {
    side.lines.iter().map(|line| plain(&line.text)).collect()
}

/// The sides of a job: rule, conclusion, lines.
fn sides(journal: &Journal) -> Vec<(u8, String, Vec<String>)> {
    let view = journal.view();
    view.condition.iter().map(|side| (side.rule, plain(&side.conclusion), lines(side))).collect()
}

fn rule(kinds: Vec<Kind>) -> u8 {
    let mut journal = job();
    for kind in kinds {
        journal.add(kind);
    }
    let sides = sides(&journal);
    assert_eq!(sides.len(), 1, "{sides:?}");
    sides[0].0
}

#[test]
fn each_rule_decides_through_a_job_and_is_named_by_its_number() {
    // 1: milky, flakes in the sample or the pan, or slip with a burnt smell.
    for kinds in [
        vec![taps(BEFORE, [0, 3, 0, 0])],
        vec![taps(BEFORE, [2, 1, 1, 4])],
        vec![taps(BEFORE, [2, 1, 1, 1]), pan(4)],
        vec![taps(BEFORE, [0, 0, 3, 0]), felt(BEFORE, &[7])],
        vec![taps(BEFORE, [0, 0, 3, 0]), felt(BEFORE, &[8, 2])],
    ] {
        assert_eq!(rule(kinds), 1);
    }
    // 2: burnt smell or water alone, else two kinds.
    assert_eq!(rule(vec![taps(BEFORE, [0, 0, 3, 0])]), 2);
    assert_eq!(rule(vec![letter(BEFORE, v1::FluidSample { crackle: 2, ..Default::default() })]), 2);
    assert_eq!(rule(vec![taps(BEFORE, [3, 2, 0, 0])]), 2);
    // 3: slip alone, two kinds, or one kind twice.
    assert_eq!(rule(vec![felt(BEFORE, &[7])]), 3);
    assert_eq!(rule(vec![taps(BEFORE, [1, 1, 0, 0])]), 3);
    assert_eq!(rule(vec![taps(BEFORE, [4, 0, 0, 0]), taps(BEFORE, [3, 0, 0, 0])]), 3);
    // 4: enough looked at, and at most one kind speaks for it.
    assert_eq!(rule(vec![taps(BEFORE, [2, 1, 1, 2])]), 4);
    assert_eq!(rule(vec![taps(BEFORE, [3, 1, 1, 2])]), 4);
}

#[test]
fn a_line_says_what_was_seen_what_it_speaks_for_and_why() {
    let mut journal = job();
    journal.add(taps(BEFORE, [3, 1, 3, 2])).add(felt(BEFORE, &[1]));
    let [(rule, conclusion, lines)] = &sides(&journal)[..] else { panic!("one side") };
    assert_eq!(*rule, 2);
    assert_eq!(
        lines,
        &[
            "Smell: burnt – for changing it – comes with oxidised or overheated fluid",
            "Clouding: clear – for leaving the fluid in – like fresh fluid",
            "Colour: brown – for changing it – comes with oxidised or overheated fluid",
            "Specks in the fluid: fine grey paste – says nothing, to be expected of fluid in use",
            "Drive (driver’s impression): changes as they should be – for leaving the fluid in – nothing out of \
             the ordinary",
        ]
    );
    assert_eq!(
        conclusion,
        "This speaks for changing it (rule 2: two kinds of signs, or one that is enough alone)."
    );
    let view = journal.view();
    assert_eq!(view.condition[0].lines[0].seqs, [2]);
    assert_eq!(
        said(view.condition_advice.as_ref().unwrap()),
        "The fluid before the service: this speaks for changing it (smell: burnt, colour: brown)."
    );
}

#[test]
fn nothing_seen_gives_no_side_and_no_advice() {
    let mut journal = job();
    journal.add(codes(1, &["P0741"]));
    journal.add(Kind::Inspection(v1::Inspection { part: 1, found: 2 }));
    let view = journal.view();
    assert_eq!((view.condition.len(), view.condition_advice), (0, None));
}

#[test]
fn the_side_after_stands_apart_from_the_side_before() {
    let mut journal = job();
    journal.add(taps(BEFORE, [4, 2, 3, 1])).add(pan(2)).add(felt(BEFORE, &[3]));
    journal.add(taps(AFTER, [1, 1, 1, 1])).add(felt(AFTER, &[1]));
    let sides = sides(&journal);
    assert_eq!(sides.iter().map(|side| side.0).collect::<Vec<_>>(), [2, 4]);
    assert_eq!((sides[0].2.len(), sides[1].2.len()), (6, 5));
    assert!(sides[1].1 == "Nothing speaks against it after the service (rule 4).", "{}", sides[1].1);
    // What asks for more is the advice; where both ask for the same, what was seen last.
    let advice = |journal: &Journal| said(&journal.view().condition_advice.unwrap());
    assert!(advice(&journal).starts_with("The fluid before the service: this speaks"));
    journal.add(taps(AFTER, [0, 3, 0, 0]));
    assert!(advice(&journal).starts_with("The fluid after the service: look inside before exchanging ("));
}

#[test]
fn once_fluid_was_pushed_in_the_next_exchange_is_meant() {
    let mut journal = ready_to_push();
    journal.add(pushed(12.0, Some(75), None, true)).add(pan(4));
    let advice = plain(&journal.view().condition_advice.unwrap());
    assert_eq!(
        advice,
        "The fluid before the service: look inside before exchanging again (pan and magnets: flakes or chips)."
    );
}

#[test]
fn a_counter_at_zero_has_pushed_nothing_in() {
    let mut journal = ready_to_push();
    journal.add(pushed(0.0, None, None, false)).add(pan(4));
    assert!(withheld(&journal), "the pan was off before any fluid was pushed in");
    let advice = plain(&journal.view().condition_advice.unwrap());
    assert!(advice.contains("look inside before exchanging ("), "{advice}");
}

#[test]
fn slip_with_a_burnt_smell_withholds_the_exchange_until_somebody_decides_on_both() {
    // The sample of this job smells burnt already.
    let mut journal = ready_to_push();
    journal.add(felt(BEFORE, &[7]));
    assert_eq!(journal.view().condition[0].rule, 1);
    assert!(withheld(&journal));
    journal.add(decision("look-inside-first"));
    assert!(!withheld(&journal));
    let mut before = ready_to_push();
    before.add(decision("look-inside-first")).add(felt(BEFORE, &[8]));
    assert!(withheld(&before), "decided before both were known");
    let mut after = ready_to_push();
    after.add(felt(AFTER, &[7]));
    assert!(!withheld(&after), "a drive after is no sign before");
}

#[test]
fn a_sign_that_was_decided_on_does_not_hide_another() {
    let mut journal = ready_to_push();
    journal.add(taps(BEFORE, [0, 3, 0, 0])).add(decision("look-inside-first"));
    assert!(!withheld(&journal));
    journal.add(felt(BEFORE, &[7]));
    assert!(withheld(&journal));
}

#[test]
fn the_gate_and_the_first_rule_agree_before_the_exchange() {
    for (clouding, smell, specks, ticks) in
        [(1, 1, 1, 1), (3, 1, 1, 1), (1, 3, 1, 7), (1, 3, 1, 2), (2, 2, 4, 1), (2, 2, 3, 8)]
    {
        let mut journal = job();
        journal.add(taps(BEFORE, [2, clouding, smell, specks])).add(felt(BEFORE, &[ticks]));
        assert_eq!(
            journal.view().condition[0].rule == 1,
            withheld(&journal),
            "{clouding} {smell} {specks} {ticks}"
        );
    }
}

/// Whether the exchange is withheld for what was seen.
fn withheld(journal: &Journal) -> bool {
    lacks(journal, Gate::Exchange).contains(&"look-inside-first")
}

/// A letter about used and fresh fluid with every figure.
fn letters(journal: &mut Journal) {
    let used = v1::FluidSample {
        viscosity_40_square_millimetres_per_second: Some(24.0),
        acid_number_milligrams_per_gram: Some(3.6),
        water_milligrams_per_kilogram: Some(900.0),
        particles_4_per_millilitre: Some(2_600.0),
        particles_6_per_millilitre: Some(640.0),
        particles_14_per_millilitre: Some(80.0),
        ..Default::default()
    };
    let fresh = v1::FluidSample {
        viscosity_40_square_millimetres_per_second: Some(30.0),
        acid_number_milligrams_per_gram: Some(0.9),
        water_milligrams_per_kilogram: Some(200.0),
        ..Default::default()
    };
    journal.add(letter(FRESH, fresh)).add(letter(BEFORE, used));
}

#[test]
fn without_a_stated_limit_no_number_speaks_and_the_line_says_so() {
    let mut journal = job();
    letters(&mut journal);
    journal.add(photo(FRESH, "#a01020", "#f0f0f0", 0)).add(photo(BEFORE, "#301008", "#f0f0f0", 1));
    let [(rule, conclusion, lines)] = &sides(&journal)[..] else { panic!("one side") };
    assert_eq!(*rule, 3);
    assert!(
        conclusion == "Too little was seen to say (rule 3: fewer than three kinds of signs could be judged)."
    );
    assert_eq!(lines.len(), 5);
    assert!(lines.iter().all(|line| line.ends_with("says nothing, no limit is stated")), "{lines:#?}");
    let number = |name: &str| {
        let view = journal.view();
        let mut values = view.condition[0].lines.iter().flat_map(|line| &line.values);
        values.find(|value| value.name == name).map(|value| (value.value, value.unit)).unwrap()
    };
    assert_eq!(number("acid_number"), (3.6, "mg KOH/g"));
    assert!((number("viscosity_change").0 + 0.2).abs() < 1e-12);
    // Published code of these counts: ISO 4406:2021, table 1; never without them.
    assert!(lines.iter().any(|line| {
        line.starts_with("Particles per mL: 2 600 from 4 µm(c), 640 from 6, 80 from 14; code 19/16/13")
    }));
}

const LIMITS: &str = r#"
[condition.viscosity_change]
relative = 0.1
source = "invented for this test"
[condition.acid_rise]
milligrams_per_gram = 1.0
source = "invented for this test"
[condition.water_rise]
milligrams_per_kilogram = 500.0
source = "invented for this test"
[condition.colour_difference]
greatest = 5.0
source = "invented for this test"
[condition.particles]
greatest_4 = 20
greatest_14 = 12
source = "invented for this test"
[condition.distance]
kilometres = 60000.0
source = "invented for this test"
"#;

#[test]
fn a_stated_limit_makes_a_number_speak_with_its_source() {
    let mut journal = with_settings(LIMITS);
    letters(&mut journal);
    let [(rule, _, lines)] = &sides(&journal)[..] else { panic!("one side") };
    assert_eq!(*rule, 2);
    let beyond = |start: &str, limit: &str| {
        let found = lines.iter().find(|line| line.starts_with(start)).unwrap();
        let end = format!(" – for changing it – beyond the limit of {limit} (invented for this test)");
        assert!(found.ends_with(&end), "{found}");
    };
    beyond(
        "Viscosity at 40 °C: 24 mm²/s, fresh fluid 30 mm²/s, change −20.0 % (from −21.1 % to −18.9 %)",
        "10 % either way",
    );
    beyond("Acid number: 3.6 mg KOH/g, fresh fluid 0.9 mg KOH/g, change 2.7 (from", "1 mg KOH/g");
    beyond("Water: 900 mg/kg, fresh fluid 200 mg/kg, change 700 (from", "500 mg/kg");
    // A limit in scale numbers is never told without the counts it stands for.
    beyond("Particles per mL: 2 600", "10 000/-/40 per mL (scale numbers 20/-/12)");
    // No number of a laboratory stands on the customer's page.
    let advice = plain(&journal.view().condition_advice.unwrap());
    assert!(advice.contains("viscosity by the laboratory, acid number by the laboratory"), "{advice}");
    assert!(!advice.contains(|letter: char| letter.is_ascii_digit()), "{advice}");
}

#[test]
fn a_figure_whose_uncertainty_reaches_the_limit_does_not_decide() {
    let mut journal = with_settings(LIMITS);
    let acid = |acid| v1::FluidSample { acid_number_milligrams_per_gram: Some(acid), ..Default::default() };
    journal.add(letter(FRESH, acid(0.9))).add(letter(BEFORE, acid(2.0)));
    assert!(sides(&journal)[0].2[0].contains("says nothing, too near the limit of 1 mg KOH/g to tell"));
    // The workshop knows its laboratory better than the house value does.
    let better = "[laboratory.acid_number]\nrelative_standard_uncertainty = 0.01\n\
                  least_milligrams_per_gram = 0.01\nsource = \"invented for this test\"\n";
    let mut journal = with_settings(&format!("{LIMITS}{better}"));
    journal.add(letter(FRESH, acid(0.9))).add(letter(BEFORE, acid(2.0)));
    assert!(sides(&journal)[0].2[0].contains("for changing it – beyond the limit"), "{:?}", sides(&journal));
}

#[test]
fn a_figure_without_its_partner_or_against_itself_says_nothing_and_why() {
    let lines_of = |kinds: Vec<Kind>| {
        let mut journal = with_settings(LIMITS);
        for kind in kinds {
            journal.add(kind);
        }
        sides(&journal).into_iter().flat_map(|side| side.2).collect::<Vec<_>>().join("\n")
    };
    let viscosities = |at_40: f64, at_100: f64| v1::FluidSample {
        viscosity_40_square_millimetres_per_second: Some(at_40),
        viscosity_100_square_millimetres_per_second: Some(at_100),
        ..Default::default()
    };
    let counts = |six: Option<f64>| v1::FluidSample {
        particles_4_per_millilitre: Some(100.0),
        particles_6_per_millilitre: six,
        particles_14_per_millilitre: Some(10.0),
        ..Default::default()
    };
    for (kinds, why) in [
        (vec![letter(BEFORE, viscosities(30.0, 6.0))], "nothing is known of the fresh fluid"),
        (
            vec![
                letter(FRESH, viscosities(30.0, 6.0)),
                letter(
                    BEFORE,
                    v1::FluidSample {
                        viscosity_100_square_millimetres_per_second: None,
                        ..viscosities(6.0, 5.0)
                    },
                ),
                letter(
                    BEFORE,
                    v1::FluidSample {
                        viscosity_40_square_millimetres_per_second: None,
                        ..viscosities(40.0, 30.0)
                    },
                ),
            ],
            "the figures contradict each other; one of them was read wrongly",
        ),
        (vec![letter(BEFORE, counts(None))], "a code needs the counts from 4, 6 and 14 µm(c)"),
        (vec![letter(BEFORE, counts(Some(900.0)))], "the figures contradict each other"),
        (vec![photo(BEFORE, "#301008", "", 1)], "nothing is known of the fresh fluid"),
    ] {
        let lines = lines_of(kinds);
        assert!(lines.contains(&format!("says nothing, {why}")), "{why}: {lines}");
        assert!(!lines.contains("code 1") && !lines.contains("NaN") && !lines.contains("CIEDE"), "{lines}");
    }
}

#[test]
fn photos_under_unlike_light_or_of_unlike_white_say_nothing() {
    let colour_line = |same_light: i32, white: &str| {
        let mut journal = with_settings(LIMITS);
        journal.add(photo(FRESH, "#a01020", "#f0f0f0", 0)).add(photo(BEFORE, "#301008", white, same_light));
        sides(&journal)[0].2.concat()
    };
    assert!(colour_line(1, "#f0f0ee").contains("for changing it – beyond the limit of 5"));
    for same_light in [0, 2, 3] {
        let line = colour_line(same_light, "#f0f0f0");
        assert!(
            line.contains("says nothing, the photos are not known to be taken under the same light"),
            "{line}"
        );
    }
    assert!(colour_line(1, "#f0d090").contains("says nothing, the white sheets in the two photos differ"));
}

#[test]
fn the_distance_counts_since_the_last_service_here_and_only_before() {
    let earlier = EarlierJob {
        number: "HL-23-0007".into(),
        opened_us: START_US - 900 * 24 * 60 * MINUTE_US,
        closed: true,
        serviced: true,
        fluid: Some("Linden".into()),
        high_voltage: false,
        kilometres: Some(50_000.0),
    };
    let mut journal = with_settings(LIMITS);
    journal.earlier = vec![earlier.clone()];
    // 118 240 km at arrival: one sign that is enough alone.
    let [(rule, _, lines)] = &sides(&journal)[..] else { panic!("one side") };
    assert_eq!(*rule, 2);
    assert_eq!(
        lines[0],
        "Distance on this fluid: 68 240 km since job HL-23-0007, not weighted by temperature – for changing it – \
         beyond the limit of 60 000 km (invented for this test)"
    );
    // Known from earlier jobs and without a limit it is nothing that was seen.
    let mut unlimited = job();
    unlimited.earlier = vec![earlier];
    assert!(unlimited.view().condition.is_empty());
    unlimited.add(taps(BEFORE, [2, 1, 1, 1])).add(taps(AFTER, [1, 1, 1, 1]));
    let sides = sides(&unlimited);
    assert!(sides[0].2.concat().contains("68 240 km") && sides[0].2.concat().contains("no limit is stated"));
    assert!(!sides[1].2.concat().contains("km"));
}

#[test]
fn temperatures_over_the_distance_weight_it_and_say_their_assumption() {
    let earlier = EarlierJob {
        number: "HL-23-0007".into(),
        opened_us: START_US - 900 * 24 * 60 * MINUTE_US,
        closed: true,
        serviced: true,
        fluid: Some("Linden".into()),
        high_voltage: false,
        kilometres: Some(88_240.0),
    };
    let driven = |rows: [(f64, f64); 3]| {
        let shares = rows.map(|(celsius, percent)| v1::TemperatureShare { celsius, percent });
        let temperature_shares = shares.to_vec();
        Kind::FaultCodes(v1::FaultCodes { moment: 1, state: 1, temperature_shares, ..Default::default() })
    };
    let mut journal = with_settings(LIMITS);
    journal.earlier = vec![earlier];
    // 30 000 km are below the limit of 60 000 km; hot ones are not.
    journal.add(taps(BEFORE, [2, 1, 1, 1])).add(driven([(70.0, 30.0), (90.0, 50.0), (110.0, 20.0)]));
    let view = journal.view();
    let line = |view: &JobView| {
        view.condition[0].lines.iter().find(|line| line.kind == "distance").cloned().unwrap()
    };
    // 42 066.0619 km: tests/reference/ageing_arrhenius.json.
    assert_eq!(
        plain(&line(&view).text),
        "Distance on this fluid: 30 000 km since job HL-23-0007, by its temperatures as much as 42 066 km at 90 °C; \
         assumed, not measured: at 100 °C fluid ages 2.09 times as fast as at 90 °C (activation energy 83.144 kJ/mol; \
         energy customary for mean kinetic temperature, USP 1150; 90 °C is a house value) – for leaving the \
         fluid in – not beyond the limit of 60 000 km (invented for this test)"
    );
    let values: Vec<_> = line(&view).values.iter().map(|value| (value.name, value.value)).collect();
    assert_eq!(values[0], ("distance", 30_000.0));
    assert!(
        values[1].0 == "equivalent_distance" && (values[1].1 - 42_066.061_900_6).abs() < 1e-4,
        "{values:?}"
    );
    assert_eq!(line(&view).seqs, [3]);
    journal.add(driven([(90.0, 0.0), (110.0, 50.0), (120.0, 50.0)]));
    assert!(plain(&line(&journal.view()).text).contains("for changing it – beyond the limit of 60 000 km"));
}

#[test]
fn a_letter_after_the_closing_counts_is_marked_and_leaves_what_was_tapped() {
    let mut journal = job();
    journal.add(taps(BEFORE, [3, 1, 2, 2])).add(drive(1));
    journal.add(Kind::Closing(v1::Closing { outcome: 1, odometer_kilometres: None }));
    let rows = |journal: &Journal| journal.view().before_and_after;
    let before = rows(&journal);
    assert!(journal.view().not_measured.iter().any(|text| said(text).contains("no laboratory report")));
    let crackle = v1::FluidSample { crackle: 3, ..Default::default() };
    journal.add(letter(BEFORE, crackle));
    let view = journal.view();
    assert_eq!(view.before_and_after, before, "the rows of the customer's page stay");
    assert_eq!((view.condition.len(), view.condition[0].rule), (1, 2));
    let found = view.findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join(" ");
    assert!(
        found.contains(
            "Stated after the job was closed: Sample before the service: laboratory report L-77: hot plate of the \
             laboratory: bubbles that grow."
        ),
        "{found}"
    );
    let missing = all(&view.not_measured);
    assert!(
        missing.contains("Not in the laboratory report: particles, acid number, viscosity."),
        "{missing}"
    );
}

#[test]
fn what_is_wrong_with_the_fresh_fluid_is_no_sign_of_the_vehicle_s() {
    let mut journal = job();
    journal.add(taps(FRESH, [1, 3, 0, 4])).add(taps(BEFORE, [2, 1, 1, 1]));
    let view = journal.view();
    assert_eq!(view.condition.len(), 1);
    let found = view.findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join(" ");
    assert!(found.contains("leave that container closed") && !found.contains("water or coolant"), "{found}");
    assert!(!withheld(&journal));
}

#[test]
fn a_second_letter_that_differs_is_said_and_the_latest_counts() {
    let mut journal = with_settings(LIMITS);
    let acid = |acid| v1::FluidSample { acid_number_milligrams_per_gram: Some(acid), ..Default::default() };
    journal.add(letter(FRESH, acid(0.9))).add(letter(BEFORE, acid(3.6)));
    let line = |journal: &Journal| sides(journal)[0].2[0].clone();
    assert!(line(&journal).contains("; report L-77 –"), "{}", line(&journal));
    assert!(!line(&journal).contains("differ"));
    let second = v1::FluidSample { laboratory_report: "L-80".into(), moment: BEFORE, ..acid(1.0) };
    journal.add(Kind::FluidSample(second));
    let told = line(&journal);
    assert!(told.starts_with("Acid number: 1 mg KOH/g"), "{told}");
    assert!(told.contains("report L-77, L-80; the reports differ, the latest one counts"), "{told}");
    let advice = plain(&journal.view().condition_advice.unwrap());
    assert!(advice.ends_with("The laboratory’s figures stand under ‘Condition of the fluid’."), "{advice}");
}

#[test]
fn a_line_continued_far_beyond_what_was_measured_is_no_figure() {
    let compared = |celsius: f64| {
        let mut journal = with_settings(LIMITS);
        let fresh = v1::FluidSample {
            viscosity_40_square_millimetres_per_second: Some(30.0),
            viscosity_100_square_millimetres_per_second: Some(6.0),
            ..Default::default()
        };
        let used = v1::FluidSample {
            viscosity_square_millimetres_per_second: Some(20.0),
            viscosity_temperature_celsius: Some(celsius),
            ..Default::default()
        };
        journal.add(letter(FRESH, fresh)).add(letter(BEFORE, used));
        sides(&journal)[0].2.concat()
    };
    assert!(compared(32.0).contains("fresh fluid"), "{}", compared(32.0));
    let far = compared(20.0);
    assert!(far.contains("says nothing, used and fresh fluid were measured at temperatures"), "{far}");
}

#[test]
fn a_withdrawn_letter_no_longer_speaks() {
    let mut journal = job();
    journal.add(taps(BEFORE, [2, 1, 1, 1]));
    let crackle = v1::FluidSample { crackle: 4, ..Default::default() };
    journal.add(letter(BEFORE, crackle));
    assert_eq!(journal.view().condition[0].rule, 2);
    journal.add(Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: Journal::id(3),
        reason: "the letter is of another vehicle".into(),
        outcome: Some(Outcome::Withdrawn(true)),
    })));
    assert_eq!(journal.view().condition[0].rule, 4);
}

#[test]
fn the_same_thing_seen_twice_is_one_line_that_rests_on_both_entries() {
    let mut journal = job();
    journal.add(taps(BEFORE, [3, 0, 0, 0])).add(taps(BEFORE, [3, 0, 0, 0])).add(taps(BEFORE, [4, 0, 0, 0]));
    let view = journal.view();
    assert_eq!(lines(&view.condition[0]).len(), 2);
    assert_eq!(view.condition[0].lines[0].seqs, [2, 3]);
}

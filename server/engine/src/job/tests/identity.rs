//! Questions of identity: each open one by its key, decided by name or not at all, and what reopens it.

use super::gates::{codes, decision, lacks, part, ready_to_push, sample, step};
use super::*;
use crate::job::{Newer, judged_from};
use proptest::prelude::*;

fn catalogue(alder: &str) -> Revision {
    let workshop = without_signing();
    let files = [("workshop.toml", workshop.as_str()), ("alder-8.toml", alder)];
    Revision::parse(files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec())).to_vec()).unwrap()
}

fn by_means(code: &str, means: i32, plate: i32) -> v1::VariantSettled {
    v1::VariantSettled {
        variant_code: code.into(),
        means,
        source: if means == 2 { "maker's parts list 2025-11".into() } else { String::new() },
        transmission_plate_agrees: plate,
        ..Default::default()
    }
}

fn job(kinds: &[Kind]) -> Journal {
    let mut journal = Journal::new();
    journal.add(arrival());
    for kind in kinds {
        journal.add(kind.clone());
    }
    journal
}

fn read_by(text: &str, source: i32) -> Kind {
    let reading = v1::vin_reading::Reading::Vin(text.into());
    Kind::VinReading(v1::VinReading { reading: Some(reading), source })
}

fn dyed(colour: i32) -> Kind {
    Kind::FluidSample(v1::FluidSample { moment: 1, colour, ..Default::default() })
}

/// A VIN that no rule of the catalogue fits.
const STRANGE: &str = "AZTWA8M40ZA042317";
/// For North America, with a wrong check digit: X would be right (published worked example).
const WRONG_DIGIT: &str = "1M8GDM9A1KP042788";

/// The question is open until a named person decides it, and the record says so.
fn is_decided_by_name(journal: &mut Journal, key: &'static str) {
    assert!(lacks(journal, Gate::Exchange).contains(&key), "{key}: {:?}", lacks(journal, Gate::Exchange));
    journal.add(decision(key));
    assert!(!lacks(journal, Gate::Exchange).contains(&key), "{key}");
    let view = journal.view();
    let identity = all(&view.identity);
    assert!(identity.contains("technician A decided: agreed with the customer"), "{identity}");
    assert_eq!(view.decisions.len(), 1);
}

#[test]
fn every_open_question_has_its_own_key_and_is_decided_by_name() {
    let by_rule = |code| Kind::VariantSettled(by_means(code, 1, 1));
    is_decided_by_name(&mut job(&[vin(STRANGE), by_rule("A8-II")]), "no-rule");
    is_decided_by_name(&mut job(&[read_by(WRONG_DIGIT, 2), settled("A8-II")]), "vin-check-digit");
    let by_plate = Kind::VariantSettled(by_means("A8-II", 3, 3));
    is_decided_by_name(&mut job(&[by_plate]), "plate-not-seen");
    let overlapping = ALDER.replace("AZT*A8[M-N]**[JK]A******", "AZT*A8[M-N]**********");
    let mut several = job(&[vin("AZTWA8M47LA042317"), by_rule("A8-II")]);
    several.revision = catalogue(&overlapping);
    is_decided_by_name(&mut several, "several-rules");
    let mut green = ready_to_push();
    green.revision = catalogue(ALDER);
    green.add(dyed(6));
    is_decided_by_name(&mut green, "fluid-colour");
}

#[test]
fn what_is_to_be_read_or_stated_is_not_decided_away() {
    let mut journal = job(&[]);
    journal.add(decision("variant"));
    assert!(lacks(&journal, Gate::Exchange).contains(&"variant"));
    let mut journal = job(&[Kind::VariantSettled(by_means("A8-II", 1, 1))]);
    journal.add(decision("variant"));
    assert!(journal.missing(Gate::Exchange).contains("Read all 17 characters"));
}

#[test]
fn a_decision_made_before_the_question_was_raised_decides_nothing() {
    let mut journal =
        job(&[vin(STRANGE), decision("no-rule"), Kind::VariantSettled(by_means("A8-II", 1, 1))]);
    assert!(lacks(&journal, Gate::Exchange).contains(&"no-rule"));
    journal.add(decision("no-rule")).add(container("Linden")).add(pushed(4.0, None, None, true));
    let printed = journal.view().findings;
    let without = printed.iter().any(|finding| said(&finding.text).contains("although no go-ahead"));
    assert!(!without, "what was decided before the work was a go-ahead");
}

#[test]
fn no_decision_stands_against_a_contradiction_of_identity() {
    let keys = ["contradiction", "variant", "no-rule", "several-rules", "vin-check-digit", "plate-not-seen"];
    let keys = keys.into_iter().chain(["fluid-colour", "catalogue-newer", "not-as-built"]);
    let decided: Vec<Kind> = keys.map(decision).collect();
    let by_rule = job(&[vin("AZTWA8M47LA042317"), settled("A8-I")]);
    let mut by_plate = by_means("A8-II", 3, 2);
    by_plate.transmission_as_built = 2;
    let by_plate = job(&[vin("AZTWA8M47LA042317"), Kind::VariantSettled(by_plate)]);
    let by_code = job(&[vin("AZTWA8M47LA042317"), settled("A8-II"), part(2, "F8-10")]);
    for mut journal in [by_rule, by_plate, by_code] {
        for kind in &decided {
            journal.add(kind.clone());
        }
        let go_ahead = journal.with(|context, entries| may(context, entries, Gate::Exchange));
        assert!(go_ahead.missing.iter().any(|missing| missing.stops), "{:?}", go_ahead.missing);
    }
}

#[test]
fn a_wrong_check_digit_counts_once_all_17_were_read_alike_and_one_of_them_by_hand() {
    let hand = || read_by(WRONG_DIGIT, 2);
    let scan = || read_by(WRONG_DIGIT, 4);
    let open = |kinds: &[Kind]| lacks(&job(kinds), Gate::Exchange).contains(&"vin-check-digit");
    assert!(open(&[hand()]));
    assert!(open(&[hand(), last_eight(&WRONG_DIGIT[9..])]), "the last 8 do not hold position 9");
    assert!(open(&[scan(), scan()]));
    assert!(!open(&[hand(), hand()]));
    assert!(!open(&[scan(), hand()]));
    let again = job(&[hand(), last_eight(&WRONG_DIGIT[9..])]);
    assert_eq!(step(&again, "vin").unwrap().fields[0].name, "vin", "all 17 are asked again");
    let stored = job(&[hand(), scan()]).view();
    let why: Vec<String> = stored.findings.iter().map(|finding| said(&finding.text)).collect();
    let why = why
        .iter()
        .find(|text| text.contains("check digit should be X, found 1"))
        .expect("the reason is kept");
    assert!(why.contains("read alike more than once"), "{why}");
    // Elsewhere the digit is free: a warning, and the work goes on.
    let elsewhere = job(&[vin("AZTWA8M40LA042317"), settled("A8-II")]);
    assert!(!lacks(&elsewhere, Gate::Exchange).contains(&"vin-check-digit"));
}

#[test]
fn of_another_transmission_than_the_built_in_one_the_rule_says_nothing() {
    let mut fitted = by_means("A8-II", 1, 1);
    fitted.transmission_as_built = 2;
    let journal = job(&[vin("AZTWA8M47LA042317"), Kind::VariantSettled(fitted.clone())]);
    assert!(lacks(&journal, Gate::Exchange).contains(&"not-as-built"), "the rule does not settle");
    let again = step(&journal, "variant").expect("it is asked again");
    assert!(said(&again.question).contains("by the plate on the transmission or by a look-up"));
    for means in [2, 3] {
        let mut other = by_means("A8-I", means, 1);
        other.transmission_as_built = 2;
        let journal = job(&[vin("AZTWA8M47LA042317"), Kind::VariantSettled(other), container("Bramble")]);
        assert_eq!(journal.about_fluid(Gate::Exchange), "", "nor does it contradict");
        assert!(all(&journal.view().identity).contains("Another transmission was fitted"));
    }
}

#[test]
fn one_tap_says_that_the_plate_agrees_or_that_another_transmission_was_fitted() {
    let journal = job(&[vin("AZTWA8M47LA042317"), last_eight("LA042317")]);
    let asked = step(&journal, "variant").unwrap();
    let crate::steps::Input::Choice(choices) = &asked.fields[0].input else { panic!() };
    let also = |word: &str| choices.iter().find(|choice| choice.word == word).unwrap().also.clone();
    assert!(also("yes").contains(&("transmission_as_built", "yes".to_owned())));
    assert_eq!(also("fitted"), [("transmission_as_built", "no".to_owned())], "the rest is asked");
}

#[test]
fn old_fluid_of_another_dye_is_a_question_and_dark_fluid_is_none() {
    let mut journal = ready_to_push();
    let without = ALDER.replace("fluid_colour = \"red\"\n", "");
    journal.revision = catalogue(&without);
    assert!(!lacks(&journal, Gate::Exchange).contains(&"fluid-colour"));
    journal.add(dyed(6));
    assert!(!lacks(&journal, Gate::Exchange).contains(&"fluid-colour"), "the catalogue states no colour");
    journal.revision = catalogue(ALDER);
    let asked = journal.missing(Gate::Exchange);
    assert!(
        asked.contains(
            "The old fluid is green, Linden is red: was another fluid filled, or is it another variant?"
        ),
        "{asked}"
    );
    assert!(all(&journal.view().now).contains("was another fluid filled"), "the bay is told");
    for colour in [1, 2, 3, 4, 8] {
        journal.add(dyed(colour));
        assert!(!lacks(&journal, Gate::Exchange).contains(&"fluid-colour"), "{colour}: looked again");
    }
    let mut after = ready_to_push();
    after.revision = catalogue(ALDER);
    after.add(sample(2, 1, 1)).add(Kind::FluidSample(v1::FluidSample {
        moment: 2,
        colour: 6,
        ..Default::default()
    }));
    assert!(!lacks(&after, Gate::Exchange).contains(&"fluid-colour"), "only what came out before tells");
}

/// What a newer catalogue, adopted at a place in the journal, changes at the gate; keys and words.
fn with_newer(journal: &Journal, newer: &Revision, adopted_at: u64) -> (Vec<&'static str>, String) {
    let newer = Newer { revision: newer, adopted_at };
    let go_ahead = journal.with(|context, entries| {
        may(&Context { newer: Some(newer), ..context.clone() }, entries, Gate::Exchange)
    });
    let keys = go_ahead.missing.iter().map(|missing| missing.key).collect();
    (keys, go_ahead.missing.iter().map(|missing| said(&missing.text)).collect::<Vec<_>>().join(" | "))
}

#[test]
fn a_newer_catalogue_that_decides_otherwise_reopens_the_question_and_one_that_does_not_is_silent() {
    let journal = ready_to_push();
    let silent = catalogue(&ALDER.replace("edition = \"2025-11\"", "edition = \"2026-01\""));
    assert_eq!(with_newer(&journal, &silent, 99).0, [""; 0]);
    let last = |of: &str, to: &str| {
        let at = ALDER.rfind(of).unwrap();
        catalogue(&format!("{}{to}{}", &ALDER[..at], &ALDER[at + of.len()..]))
    };
    for (newer, words) in [
        (
            last("LN-847\"\nfluid_name = \"Linden", "RW-900\"\nfluid_name = \"Rowan"),
            "fluid Rowan instead of Linden",
        ),
        (last("F8-20", "F8-30"), "filter F8-30 instead of F8-20"),
        (last("SP-68", "SP-70"), "standpipe SP-70 instead of SP-68"),
        (last("level_from_celsius = 40.0", "level_from_celsius = 30.0"), "level at 30–"),
        (last("standpipe_overflow", "side_hole"), "level at the hole in the side instead of at the overflow"),
        (last("A8-II\"\nlabel", "A8-IIb\"\nlabel"), "its rules for this VIN name Alder-8, second series"),
    ] {
        let (keys, asked) = with_newer(&journal, &newer, 99);
        assert_eq!(keys, ["catalogue-newer"], "{words}: {asked}");
        assert!(asked.contains(words) && asked.contains("Settle the variant again"), "{words}: {asked}");
    }
}

#[test]
fn a_newer_catalogue_is_decided_by_name_only_after_it_was_adopted_and_told_only_after_the_exchange_began() {
    let newer = catalogue(&ALDER.replace("F8-20", "F8-30"));
    let mut journal = ready_to_push();
    let before = u64::try_from(journal.entries.len()).unwrap();
    journal.add(decision("catalogue-newer"));
    assert_eq!(with_newer(&journal, &newer, before + 5).0, ["catalogue-newer"]);
    assert_eq!(with_newer(&journal, &newer, before).0, [""; 0]);
    let mut begun = ready_to_push();
    begun.add(pushed(3.0, Some(25), None, false));
    assert!(!with_newer(&begun, &newer, 99).0.contains(&"catalogue-newer"));
    let adopted = Newer { revision: &newer, adopted_at: 99 };
    let told = begun.with(|context, entries| {
        view(&Context { newer: Some(adopted), ..context.clone() }, entries).findings
    });
    let told: Vec<String> = told.iter().map(|finding| said(&finding.text)).collect();
    assert!(told.iter().any(|text| text.contains("filter F8-30 instead of F8-20")), "{told:?}");
    assert!(!told.iter().any(|text| text.contains("although no go-ahead")), "it was adopted later: {told:?}");
}

#[test]
fn the_counter_at_zero_is_no_beginning_and_settling_again_after_a_newer_catalogue_is_no_contradiction() {
    let newer = catalogue(&ALDER.replace("F8-20", "F8-30"));
    let mut zero = ready_to_push();
    zero.add(pushed(0.0, None, None, false));
    assert_eq!(with_newer(&zero, &newer, 99).0, ["catalogue-newer"]);

    let mut again = ready_to_push();
    let adopted_at = u64::try_from(again.entries.len()).unwrap();
    again.add(Kind::VariantSettled(by_means("A8-I", 2, 1)));
    let contradictions = |journal: &Journal, adopted_at: u64| {
        let view = journal.with(|context, entries| view(&Context { adopted_at, ..context.clone() }, entries));
        let twice =
            view.findings.iter().filter(|it| said(&it.text).starts_with("Two variants were settled")).count();
        (twice, all(&view.identity).contains("before a newer catalogue was adopted"))
    };
    assert_eq!(contradictions(&again, 0), (1, false));
    assert_eq!(contradictions(&again, adopted_at), (0, true));
    let mut pushed_before = ready_to_push();
    pushed_before.add(pushed(3.0, None, None, false));
    let adopted_at = u64::try_from(pushed_before.entries.len()).unwrap();
    pushed_before.add(Kind::VariantSettled(by_means("A8-I", 2, 1)));
    assert_eq!(contradictions(&pushed_before, adopted_at), (1, false), "fluid of the earlier one went in");
}

#[test]
fn a_catalogue_or_a_delivery_after_the_work_does_not_say_that_there_was_no_go_ahead() {
    let newer = catalogue(&ALDER.replace("F8-20", "F8-30"));
    let mut journal = ready_to_push();
    journal.add(pushed(3.0, Some(25), None, false));
    let adopted_at = u64::try_from(journal.entries.len()).unwrap();
    journal.add(pushed(6.0, Some(50), None, true));
    journal.add(drained(3.0));
    let adopted = Newer { revision: &newer, adopted_at };
    let view =
        journal.with(|context, entries| view(&Context { newer: Some(adopted), ..context.clone() }, entries));
    let told: Vec<String> = view.findings.iter().map(|finding| said(&finding.text)).collect();
    assert!(!told.iter().any(|text| text.contains("although no go-ahead")), "{told:?}");
}

#[test]
fn a_catalogue_that_lists_the_variant_only_now_is_told_and_stops_nothing() {
    let mut journal = job(&[vin("AZTWA8M47LA042317")]);
    journal.revision = Revision::parse(vec![("workshop.toml".into(), WORKSHOP.as_bytes().to_vec())]).unwrap();
    let newer = catalogue(ALDER);
    let adopted = Newer { revision: &newer, adopted_at: 99 };
    let asked = journal.with(|context, entries| {
        crate::steps::remaining(&Context { newer: Some(adopted), ..context.clone() }, entries)
    });
    let variant = asked.into_iter().find(|step| step.name == "variant").unwrap();
    assert!(said(&variant.fields[0].ask).contains("A8-II"), "what is settled now is judged by it");
    let mut looked_up = by_means("A8-II", 2, 1);
    looked_up.fluid_code = "Linden".into();
    journal.add(Kind::VariantSettled(looked_up));
    assert!(!with_newer(&journal, &newer, 99).0.contains(&"catalogue-newer"));
    let told = journal.with(|context, entries| {
        view(&Context { newer: Some(adopted), ..context.clone() }, entries).findings
    });
    let told = told.iter().find(|finding| said(&finding.text).contains("lists variant A8-II now")).unwrap();
    assert!(!told.on_record);
}

#[test]
fn a_job_is_judged_from_the_last_variant_settled_that_counts() {
    let place = |journal: &Journal| journal.with(|_, entries| judged_from(entries, |_| false));
    assert_eq!(judged_from(&[], |_| false), 0);
    let mut journal = job(&[vin("AZTWA8M47LA042317")]);
    assert_eq!(place(&journal), 1, "of its first entry");
    journal.add(settled("A8-II"));
    assert_eq!(place(&journal), 3);
    journal.add(settled("A8-I"));
    let correct = |number: usize, outcome: Outcome| {
        Kind::Correction(Box::new(v1::Correction {
            corrected_entry_id: Journal::id(number),
            reason: "looked again".into(),
            outcome: Some(outcome),
        }))
    };
    journal.add(correct(4, Outcome::Withdrawn(true)));
    assert_eq!(place(&journal), 3);
    let instead = |kind| Outcome::Replacement(Box::new(v1::Fact { kind: Some(kind) }));
    journal.add(correct(4, instead(settled("A8-II"))));
    assert_eq!(place(&journal), 4, "the last correction counts, at the place of the original");
    journal.add(correct(3, instead(codes(1, &[]))));
    assert_eq!(place(&journal), 4, "one of another kind changes nothing");
}

fn registered(day: &str) -> Kind {
    Kind::Arrival(v1::Arrival {
        plate: "PH 482 K".into(),
        first_registered_on: day.into(),
        ..Default::default()
    })
}

fn years(vin_text: &str, day: &str) -> (String, usize) {
    let mut journal = Journal::new();
    journal.add(registered(day)).add(vin(vin_text));
    let view = journal.view();
    let told = view.findings.iter().filter(|finding| said(&finding.text).contains("can only mean")).count();
    (all(&view.identity), told)
}

#[test]
fn the_model_year_is_told_by_position_7_or_by_the_first_registration_and_left_open_elsewhere() {
    // North America: 49 CFR 565.15(b), the rows y-A-5 and y-C-K of the reference table.
    assert!(years("1M8GDM5A4AP042788", "").0.contains("for a car or light truck: 1980"));
    assert!(years("1M8GDMKA5CP042788", "").0.contains("for a car or light truck: 2012"));
    let (elsewhere, _) = years("AZTWA8M47LA042317", "");
    assert!(elsewhere.contains("(L) can mean model year 1990 or 2020"), "{elsewhere}");
    let (settled, told) = years("AZTWA8M47LA042317", "2019-11-04");
    assert!(
        settled.contains("Model year 2020, by the VIN and the first registration on 4 November 2019"),
        "{settled}"
    );
    assert_eq!(told, 0);
    let (against, told) = years("AZTWA8M47LA042317", "2016-05-03");
    assert!(against.contains("First registered on 3 May 2016."), "{against}");
    assert_eq!(told, 0, "outside North America the code need not be a year (49 CFR 565)");
    let (_, told) = years("1M8GDMKA5CP042788", "2019-05-03");
    assert_eq!(told, 1, "C is 1982 or 2012, neither near 2019");
    // A heavy vehicle may have any character in position 7; what the papers say goes before.
    assert!(years("1M8GDM5A4AP042788", "2010-02-01").0.contains("Model year 2010"));
    // 0 is no code of a year.
    assert!(!years("AZTWA8M470A042317", "").0.contains("odel year"));
    // 9 would be 2009 or 2039, which is still to come; elsewhere it need not be a year at all.
    let (elsewhere, _) = years("AZTWA8M479A042317", "");
    assert!(elsewhere.contains("(9) can mean model year 2009; the VIN of this area"), "{elsewhere}");
}

#[test]
fn the_entry_that_adds_the_distance_keeps_the_day_of_first_registration() {
    let mut journal = Journal::new();
    journal.add(registered("2019-11-04"));
    let known = step(&journal, "odometer").unwrap().preset;
    assert!(known.contains(&("first_registered_on", "2019-11-04".to_owned())), "{known:?}");
}

#[test]
fn every_fault_code_of_the_table_withholds_the_exchange_or_not_and_is_decided_by_name() {
    // Generic code groups of SAE J2012 (from memory); the sorting into classes is ours.
    const TABLE: &str = include_str!("../../../../../tests/reference/shop_fault_code_gate.json");
    let table: serde_json::Value = serde_json::from_str(TABLE).unwrap();
    let rows = table["cases"].as_array().unwrap();
    assert_eq!(rows.len(), 18);
    for row in rows {
        let (code, result) = (row["code"].as_str().unwrap(), row["result"].as_str().unwrap());
        let mut journal = ready_to_push();
        journal.add(codes(1, &[code]));
        let key = match result.split(':').next().unwrap() {
            "repair first" => "repair-first",
            "signed decision" => "signed-decision",
            _ => {
                assert_eq!(lacks(&journal, Gate::Exchange), [""; 0], "{code}");
                continue;
            }
        };
        assert_eq!(lacks(&journal, Gate::Exchange), [key], "{code}");
        let plain = "a fluid exchange does not repair this fault; find it first";
        assert_eq!(journal.missing(Gate::Exchange).contains(plain), key == "repair-first", "{code}");
        journal.add(decision(key));
        assert_eq!(lacks(&journal, Gate::Exchange), [""; 0], "{code}");
        assert_eq!(journal.view().decisions.len(), 1, "{code}");
    }
}

/// Rules of both series, one overlapping, as the tables of a variant.
const RULES: [(&str, &str); 5] = [
    ("I", "AZT*A8[M-N]**[JK]A******"),
    ("I", "AZT*A8[M-N]**LA03****"),
    ("II", "AZT*A8[M-N]**LA04****"),
    ("II", "AZT*A8[M-N]**LA0423**"),
    ("I", "AZT*A8[M-N]**LA04231[89]"),
];

fn ordered(order: &[usize], second_first: bool) -> Revision {
    let variant = |code: &str, fluid: &str| {
        let rules = order.iter().filter(|at| RULES[**at].0 == code).map(|at| {
            format!(
                "[[variant.vin_rule]]\ncode = \"rule {at}\"\npattern = \"{}\"\nsource = \"test\"\nedition = \"1\"\n\
                 entered_by = \"office B\"\n",
                RULES[*at].1
            )
        });
        format!(
            "[[variant]]\ncode = \"{code}\"\nlabel = \"series {code}\"\nfluid_code = \"{fluid}\"\nfluid_name = \
             \"{fluid}\"\ndensity_at_15_celsius_kilograms_per_cubic_metre = 850.0\ntotal_fill_litres = 9.0\n\
             level_from_celsius = 40.0\nlevel_to_celsius = 50.0\nlevel_method = \"standpipe_overflow\"\n{}",
            rules.collect::<String>()
        )
    };
    let mut variants = [variant("I", "Bramble"), variant("II", "Linden")];
    if second_first {
        variants.reverse();
    }
    let head = "name = \"Alder-8\"\nmaker = \"Tarnwick\"\nsource = \"test\"\nedition = \"1\"\n";
    catalogue(&format!("{head}{}", variants.concat()))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn the_order_of_rules_and_variants_changes_nothing_of_identity(
        order in Just((0..RULES.len()).collect::<Vec<_>>()).prop_shuffle(),
        second_first in any::<bool>(),
        serial in prop_oneof![Just(32_317), Just(42_316), Just(42_318), Just(52_317)],
        code in prop_oneof![Just("I"), Just("II")],
        means in 1..4_i32,
    ) {
        let told = |revision: Revision| {
            let kinds = [vin(&format!("AZTWA8M47LA{serial:06}")), Kind::VariantSettled(by_means(code, means, 1))];
            let mut journal = job(&kinds);
            journal.revision = revision;
            let missing = journal.with(|context, entries| may(context, entries, Gate::Exchange).missing);
            (journal.view().identity, missing)
        };
        let by_file: Vec<usize> = (0..RULES.len()).collect();
        prop_assert_eq!(told(ordered(&order, second_first)), told(ordered(&by_file, false)));
    }
}

#[test]
fn a_vin_read_twice_at_one_place_is_said_so() {
    let journal = job(&[read_by("AZTWA8M47LA042317", 2), last_eight("LA042317")]);
    assert!(all(&journal.view().identity).contains("VIN read twice, both times on the body;"));
    let journal = job(&[read_by("AZTWA8M47LA042317", 1), last_eight("LA042317")]);
    assert!(all(&journal.view().identity).contains("VIN read twice, in the papers and on the body;"));
}

#[test]
fn the_list_of_jobs_marks_in_words_that_a_stop_stands() {
    let line = |journal: &Journal| said(&crate::job::line(&journal.view().head).unwrap());
    let mut journal = job(&[vin("AZTWA8M47LA042317"), settled("A8-II"), container("Bramble")]);
    assert!(line(&journal).starts_with("A stop stands. "), "{}", line(&journal));
    journal.add(container("Linden"));
    assert!(!line(&journal).contains("stop"), "{}", line(&journal));
    journal.add(container("Bramble")).add(pushed(3.0, None, None, true)).add(container("Linden"));
    assert!(line(&journal).starts_with("A stop stands. "));
    journal.add(decision("put-right"));
    assert!(line(&journal).starts_with("A stop stands. "), "nothing took it out");
    journal.add(pushed(12.0, None, Some(8.8), true)).add(decision("put-right"));
    assert!(!line(&journal).contains("stop"), "{}", line(&journal));
}

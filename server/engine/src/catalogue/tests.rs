//! Whole catalogues: the demo's, the smallest, and broken ones.

use super::*;
use crate::formula::ageing::Assumption;
use crate::formula::vin::{check_digit, read};
use crate::kind::words::LoadWord;

const NAME_ONLY: &str = "name = \"Harbour Lane Transmissions\"\n";
const DEMO_WORKSHOP: &str = include_str!("../../../../deploy/catalogue/workshop.toml");
const DEMO_ALDER: &str = include_str!("../../../../deploy/catalogue/alder-8.toml");

fn files(contents: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
    contents.iter().map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect()
}

fn demo() -> Revision {
    let parsed = Revision::parse(files(&[("workshop.toml", DEMO_WORKSHOP), ("alder-8.toml", DEMO_ALDER)]));
    parsed.unwrap_or_else(|error| panic!("{error}"))
}

fn mistakes(contents: &[(&str, &str)]) -> Vec<String> {
    let error = Revision::parse(files(contents)).expect_err("the files are broken");
    error.problems.iter().map(ToString::to_string).collect()
}

#[test]
fn a_catalogue_with_only_a_name_is_valid_and_has_the_defaults() {
    let revision = Revision::parse(files(&[("workshop.toml", NAME_ONLY)])).unwrap();
    let workshop = revision.workshop();
    assert_eq!(workshop.name, "Harbour Lane Transmissions");
    assert_eq!((workshop.job_prefix.as_str(), workshop.time_zone.iana_name()), ("JOB", Some("Etc/UTC")));
    assert_eq!(workshop.display_error_limit.value, 0.03);
    assert_eq!((workshop.carried_out_litres.value, workshop.carried_out_litres.limit), (0.25, 0.10));
    assert_eq!(workshop.tubes.shares(), [0.0, 0.25, 0.5, 0.75, 0.9, 1.0]);
    assert_eq!(workshop.target_new_share, None);
    assert!(workshop.late_after_minutes.source.contains("common practice"));
    assert_eq!(workshop.exchange.kit_litres, None);
    assert_eq!((workshop.exchange.hoses_litres.value, workshop.exchange.hoses_litres.limit), (0.6, 0.4));
    assert_eq!(workshop.exchange.level_reserve_litres.value, 0.5);
    for (setting, value) in [
        (&workshop.exchange.least_gain_per_litre, 0.02),
        (&workshop.exchange.photo_transmittance_uncertainty, 0.02),
    ] {
        assert_eq!((setting.value, setting.source.as_str()), (value, "house value, no source"));
    }
    assert!(revision.variants().is_empty());
}

#[test]
fn the_id_follows_the_framing_in_the_module_head() {
    // Computed by another program from the prose of the module head.
    let one = RevisionId::of(&files(&[("workshop.toml", NAME_ONLY)]));
    assert_eq!(one.to_string(), "3be8ddad44f8b0f01b135c7813f5775f950663033a22c7aa4557a1b8dd09f01d");
    let two = RevisionId::of(&files(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", "")]));
    assert_eq!(two.to_string(), "15925be0e81ba9d7da3c7bb820544c16779395d38913ce89ee0e214e17a6c02a");
    let turned = RevisionId::of(&files(&[("alder-8.toml", ""), ("workshop.toml", NAME_ONLY)]));
    assert_eq!(turned, two);
    assert_eq!(two.to_string().parse::<RevisionId>(), Ok(two));
    assert!("abc".parse::<RevisionId>().is_err());
}

#[test]
fn the_demo_s_two_series_need_unlike_things_and_their_rules_do_not_overlap() {
    let revision = demo();
    let found = remarks(&revision);
    assert_eq!((found.of_identity(), found.left_out), (Vec::new(), Vec::new()));
    let (first, second) = (revision.variant("a8 i").unwrap(), revision.variant("A8-II").unwrap());
    assert_eq!((first.transmission.as_str(), first.maker.as_str()), ("Alder-8", "Tarnwick"));
    assert_ne!(first.fluid.code, second.fluid.code);
    assert_ne!(first.filter_code, second.filter_code);
    assert_ne!(first.standpipe_code, second.standpipe_code);
    assert_eq!((second.level_from_celsius, second.level_to_celsius), (40.0, 50.0));
    assert_eq!((first.level_from_celsius, first.level_to_celsius), (35.0, 45.0));
    assert_eq!((first.total_fill_litres, second.total_fill_litres), (8.6, 9.0));
    assert_eq!(second.level_method, LevelMethod::StandpipeOverflow);
    assert_eq!(revision.fluid("ln 847").map(|fluid| fluid.name.as_str()), Some("Linden"));
    assert_eq!(revision.fluid("bramble").map(|fluid| fluid.code.as_str()), Some("BR-861"));
    assert_eq!(revision.fluid(" - "), None);
    assert_eq!(revision.workshop().time_zone.iana_name(), Some("Europe/London"));
}

#[test]
fn the_demo_s_vins_have_right_check_digits_and_settle_one_variant_each() {
    let revision = demo();
    for (text, variant) in [("AZTWA8M47LA042317", "A8-II"), ("AZTWA8M45LA017206", "A8-I")] {
        let vin = read(text).vin.expect(text);
        assert_eq!(Some(check_digit(&vin)), text.chars().nth(8));
        let found = revision.match_vin(&vin);
        let codes: Vec<&str> = found.variants.iter().map(|variant| variant.code.as_str()).collect();
        assert_eq!(codes, [variant], "{text}");
        assert_eq!(found.rules.len(), 1);
    }
    let stranger = read("AZTWA8M40RA042317").vin.unwrap();
    assert!(revision.match_vin(&stranger).variants.is_empty());
}

#[test]
fn rules_that_fit_the_same_vin_are_a_warning_with_an_example() {
    let wide = DEMO_ALDER.replace("serial_to = 37999", "serial_to = 38100");
    let revision =
        Revision::parse(files(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", &wide)])).expect("no mistake");
    let overlaps = remarks(&revision).overlaps;
    let [overlap] = overlaps.as_slice() else { panic!("{overlaps:?}") };
    assert_eq!(revision.match_vin(&overlap.example).variants.len(), 2);
    assert_eq!(overlap.example.serial(), Some(38_000));
    assert!(overlap.to_string().contains(overlap.example.as_str()));
}

#[test]
fn all_mistakes_of_all_files_are_named_at_once_with_file_line_and_key() {
    let workshop =
        "name = \"\"\ncolour = \"blue\"\ntime_zone = \"Nowhere/Atall\"\n[jug]\nerror_limit_litres = 0.05\n";
    let broken = DEMO_ALDER
        .replace("total_fill_litres = 8.6", "total_fill_litres = 860")
        .replace("standpipe_label = \"long\"", "standpipe_labl = \"long\"")
        .replace("[JK]A******", "[JK]A*****")
        .replace("edition = \"2025-11\"\n\n[[variant]]\ncode = \"A8-I\"", "\n[[variant]]\ncode = \"A8-I\"");
    let found = mistakes(&[("workshop.toml", workshop), ("alder-8.toml", &broken)]);
    let expected = [
        "alder-8.toml:1: edition is missing",
        "variant[1].total_fill_litres must be a number from 1 to 60 L, found 860",
        "variant[1].vin_rule[1].pattern must have 17 places, found 16",
        "variant[2].standpipe_labl is not known here",
        "workshop.toml:1: name must be 1 to 80 characters",
        "workshop.toml:2: colour is not known here",
        "time_zone 'Nowhere/Atall' is no time zone",
        "workshop.toml:4: jug.source is missing",
    ];
    for part in expected {
        assert!(found.iter().any(|line| line.contains(part)), "'{part}' is not in {found:#?}");
    }
    assert_eq!(found.len(), expected.len(), "{found:#?}");
    let line_of = |text: &str| broken.lines().position(|line| line.contains(text)).unwrap() + 1;
    let fill = format!("alder-8.toml:{}: variant[1].total_fill", line_of("total_fill_litres = 860"));
    assert!(found.iter().any(|line| line.starts_with(&fill)), "{fill} is not in {found:#?}");
}

#[test]
fn numbers_that_are_none_and_toml_that_is_none_are_refused() {
    let nan = DEMO_ALDER.replace("total_fill_litres = 9.0", "total_fill_litres = nan");
    assert!(mistakes(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", &nan)])[0].contains("found NaN"));
    let torn = mistakes(&[("workshop.toml", "name = \"Harbour")]);
    assert!(torn[0].starts_with("workshop.toml:1: this is not TOML"), "{torn:?}");
    let twice = mistakes(&[("workshop.toml", "name = \"a\"\nname = \"b\"\n")]);
    assert!(twice[0].contains("workshop.toml:2"), "{twice:?}");
}

#[test]
fn files_that_contradict_each_other_are_refused() {
    let other = DEMO_ALDER.replace("A8-I\"", "a8i\"").replace(
        "density_at_15_celsius_kilograms_per_cubic_metre = 847.0",
        "density_at_15_celsius_kilograms_per_cubic_metre = 846.0",
    );
    let found =
        mistakes(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", DEMO_ALDER), ("elm-6.toml", &other)]);
    assert!(
        found
            .iter()
            .any(|line| line.starts_with("elm-6.toml:") && line.contains("'a8i' is used by another variant")),
        "{found:#?}"
    );
    assert!(
        found.iter().any(|line| line.contains("'LN-847' has another name or density elsewhere")),
        "{found:#?}"
    );
    assert!(found.iter().any(|line| line.contains("is used by another rule")), "{found:#?}");
}

#[test]
fn folders_with_bad_files_are_refused() {
    assert!(mistakes(&[])[0].contains("workshop.toml: is missing"));
    assert!(mistakes(&[("workshop.toml", NAME_ONLY), ("Alder 8.toml", "")])[0].contains("must be named"));
    assert!(
        mistakes(&[("workshop.toml", NAME_ONLY), ("workshop.toml", NAME_ONLY)])[0].contains("comes twice")
    );
    let mut giant = files(&[("workshop.toml", NAME_ONLY)]);
    giant.push(("giant.toml".to_owned(), vec![b'#'; FILE_BYTES_MAX + 1]));
    assert!(Revision::parse(giant).is_err());
    let mut binary = files(&[("workshop.toml", NAME_ONLY)]);
    binary.push(("binary.toml".to_owned(), vec![0xFF, 0xFE]));
    assert!(Revision::parse(binary).unwrap_err().to_string().contains("not UTF-8"));
}

#[test]
fn the_settings_carry_their_uncertainty_and_source() {
    let revision = demo();
    let workshop = revision.workshop();
    let carried = workshop.carried_out_litres.estimate();
    assert!((carried.standard_uncertainty - 0.10 / 3.0_f64.sqrt()).abs() < 1e-12);
    assert_eq!(workshop.target_new_share.as_ref().map(|target| target.value), Some(0.80));
    assert_eq!(workshop.address, ["12 Harbour Lane"]);
}

#[test]
fn intervals_and_load_words_are_read_and_may_be_left_out() {
    let revision = demo();
    let workshop = revision.workshop();
    assert_eq!(workshop.service_interval_months, Some(48));
    let loads = workshop.load_factors.as_ref().unwrap();
    assert!(loads.factors.contains(&(LoadWord::Towing, 0.7)) && loads.source.contains("agreed"));
    assert!(!loads.factors.iter().any(|(word, _)| *word == LoadWord::Ordinary));
    let maker = revision.variant("A8-II").unwrap().maker_interval;
    assert_eq!((maker.kilometres, maker.months), (Some(80_000.0), Some(72)));
    let plain = Revision::parse(files(&[("workshop.toml", NAME_ONLY)])).unwrap();
    assert!(plain.workshop().load_factors.is_none() && plain.workshop().service_interval_months.is_none());
}

#[test]
fn an_interval_or_factor_that_can_be_none_is_refused() {
    let workshop = DEMO_WORKSHOP
        .replace("months = 48", "months = 0")
        .replace("towing = 0.7", "towing = 0.0\ntrailers = 0.5");
    let alder = DEMO_ALDER.replace("maker_interval_months = 72", "maker_interval_months = 7.5");
    let found = mistakes(&[("workshop.toml", &workshop), ("alder-8.toml", &alder)]);
    for part in [
        "service_interval.months must be a whole number from 1 to 240",
        "load_words.towing must be a number from 0.1 to 2 of 1, found 0",
        "load_words.trailers is not known here",
        "variant[1].maker_interval_months must be a whole number from 1 to 240",
    ] {
        assert!(found.iter().any(|line| line.contains(part)), "'{part}' is not in {found:#?}");
    }
}

#[test]
fn the_ageing_is_assumed_by_the_house_or_as_the_workshop_states_it() {
    let ageing = |text: &str| {
        let workshop = format!("{NAME_ONLY}{text}");
        Revision::parse(files(&[("workshop.toml", &workshop)])).unwrap().workshop().ageing.clone()
    };
    let house = ageing("");
    assert_eq!((house.reference.get(), house.assumption()), (90.0, Assumption::CUSTOMARY));
    assert!(house.source.contains("USP 1150") && house.source.contains("house value"));
    let table = "[ageing]\nreference_celsius = 85\nactivation_energy_kilojoules_per_mole = 70\n";
    let own = ageing(&format!("{table}source = \"data sheet 4\"\n"));
    assert_eq!((own.reference.get(), own.assumption()), (85.0, Assumption::ActivationEnergy(70_000.0)));
    for (text, wanted) in [
        (table.to_owned(), "ageing.source is missing"),
        (
            table.replace("85", "151"),
            "ageing.reference_celsius must be a number from 40 to 150 °C, found 151",
        ),
        (table.replace("70", "70000"), "must be a number from 10 to 200 kJ/mol, found 70000"),
        (format!("{table}doubles_every_kelvin = 10\n"), "ageing.doubles_every_kelvin is not known here"),
    ] {
        let found = mistakes(&[("workshop.toml", &format!("{NAME_ONLY}{text}"))]).join("\n");
        assert!(found.contains(wanted), "{wanted}: {found}");
    }
}

#[test]
fn limits_of_the_condition_are_empty_unless_stated_and_each_has_a_bound_and_a_source() {
    let condition = |text: &str| {
        let workshop = format!("{NAME_ONLY}{text}");
        let revision = Revision::parse(files(&[("workshop.toml", &workshop)])).unwrap();
        revision.workshop().condition.clone()
    };
    let empty = condition("");
    assert_eq!(empty.limits, crate::formula::condition::Limits::default());
    assert_eq!(empty.acid_number.source, "house value, no source");
    assert_eq!(demo().workshop().condition, empty, "the demo states none");
    let stated = condition("[condition.acid_rise]\nmilligrams_per_gram = 1.5\nsource = \"house\"\n");
    assert_eq!(
        stated.limits.acid_rise.map(|limit| (limit.value, limit.source)),
        Some((1.5, "house".to_owned()))
    );
    // A figure of 0 is not certain, however it is a part of the figure.
    assert_eq!(empty.water.estimate(0.0).standard_uncertainty, 20.0);
    for (text, wanted) in [
        (
            "[condition.acid_rise]\nmilligrams_per_gram = 21\nsource = \"s\"\n",
            "condition.acid_rise.milligrams_per_gram must be a number from 0 to 20 mg KOH/g, found 21",
        ),
        ("[condition.distance]\nkilometres = 50000\n", "condition.distance.source is missing"),
        ("[condition.colour]\ngreatest = 5\n", "condition.colour is not known here"),
        ("[condition.particles]\ngreatest_6 = 29\nsource = \"s\"\n", "must be a whole number from 0 to 28"),
        ("[condition.particles]\nsource = \"s\"\n", "state at least one scale number"),
        (
            "[laboratory.water]\nrelative_standard_uncertainty = 0.6\nleast_milligrams_per_kilogram = 1\n\
             source = \"s\"\n",
            "laboratory.water.relative_standard_uncertainty must be a number from 0 to 0.5",
        ),
    ] {
        let found = mistakes(&[("workshop.toml", &format!("{NAME_ONLY}{text}"))]).join("\n");
        assert!(found.contains(wanted), "{wanted}: {found}");
    }
}

#[test]
fn waste_codes_are_settings_with_a_source() {
    let with = |text: &str| Revision::parse(files(&[("workshop.toml", &format!("{NAME_ONLY}{text}"))]));
    assert_eq!(with("").unwrap().workshop().waste_codes, None);
    let table = "[waste_codes]\nused_fluid = \"13 02 06*\"\nsource = \"the collector\"\n";
    let codes = with(table).unwrap().workshop().waste_codes.clone().unwrap();
    assert_eq!((codes.code("used-fluid"), codes.code("filter")), (Some("13 02 06*"), None));
    assert_eq!(codes.source, "the collector");
    let error = with("[waste_codes]\nused_fluid = \"13 02 06*\"\n").unwrap_err().to_string();
    assert!(error.contains("waste_codes.source is missing"), "{error}");
    let error = with(&table.replace("used_fluid", "used_oil")).unwrap_err().to_string();
    assert!(error.contains("waste_codes.used_oil is not known here"), "{error}");
}

#[test]
fn what_may_stand_at_a_variant_is_read_with_its_own_source_or_that_around_it() {
    let revision = demo();
    let second = revision.variant("A8-II").unwrap();
    assert_eq!(second.fluid.colour, Some(FluidColour::Red));
    assert_eq!(second.carried_out_litres, Some((0.25, 0.10)));
    let adapters: Vec<_> = second.hookups.iter().map(|hookup| hookup.adapter.as_deref()).collect();
    assert_eq!(adapters, [Some("AD-14"), Some("AD-31")]);
    let kit = second.kit.as_ref().unwrap();
    assert_eq!((kit.code.as_str(), kit.parts.len(), kit.new_screw_count), ("K8-20", 4, Some(13)));
    assert_eq!(second.maker_intervals_by_use[0].load, LoadWord::AllDay);
    assert_eq!((kit.source.as_str(), kit.edition.as_str()), ("Tarnwick parts data (invented)", "2025-11"));
    let own = DEMO_ALDER
        .replace("code = \"A8-II\"", "code = \"A8-II\"\nedition = \"2026-03\"")
        .replace("code = \"K8-20\"", "code = \"K8-20\"\nsource = \"kit list 4\"")
        .replace("use = \"all_day\"", "edition = \"9\"\nuse = \"all_day\"");
    let own = Revision::parse(files(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", &own)])).unwrap();
    let second = own.variant("A8-II").unwrap();
    let kit = second.kit.as_ref().unwrap();
    assert_eq!((kit.source.as_str(), kit.edition.as_str()), ("kit list 4", "2026-03"));
    assert_eq!(
        (second.edition.as_str(), second.maker_intervals_by_use[0].edition.as_str()),
        ("2026-03", "9")
    );
    assert_eq!(own.variant("A8-I").unwrap().edition, "2025-11");
    // The rules state their own edition, which stands.
    assert!(second.vin_rules.iter().all(|rule| rule.edition == "2025-11"));
}

#[test]
fn what_contradicts_itself_at_a_variant_is_refused_with_its_line() {
    for (from, to, wanted) in [
        (
            "fluid_colour = \"red\"",
            "fluid_colour = \"pink\"",
            "must be red, amber, yellow, green, blue or clear, found 'pink'",
        ),
        (
            "carried_out_limit_litres = 0.10\n",
            "",
            "carried_out_limit_litres must stand with carried_out_litres",
        ),
        (
            "place = \"transmission\"\nadapter = \"AD-31\"",
            "place = \"cooler_line\"\nadapter = \"AD-14\"",
            "hookup[2].place comes twice with the same adapter",
        ),
        (
            "parts = [\"filter\", \"pan_seal\", \"magnets\", \"pan_screws\"]",
            "parts = [\"filter\", \"filter\"]",
            "kit.parts names 'filter' twice",
        ),
        (
            "parts = [\"filter\", \"pan_seal\", \"magnets\", \"pan_screws\"]",
            "parts = [\"filter\"]",
            "kit.new_screw_count counts pan screws, which parts does not name",
        ),
        ("kilometres = 60000.0\nmonths = 60\n", "", "maker_interval_use[1].kilometres or months is missing"),
        ("use = \"all_day\"", "use = \"racing\"", "maker_interval_use[1].use must be ordinary, towing"),
        ("cautions = [\"Never", "cautions = [\"\", \"Never", "cautions must be 1 to 120 characters"),
        (
            "new_screw_count = 13",
            "new_screws = 13",
            "is not known here; remove it or correct its spelling; known is new_screw_count",
        ),
    ] {
        let (first, second) = DEMO_ALDER.split_once("code = \"A8-II\"").unwrap();
        assert!(second.contains(from), "{from}");
        let broken = format!("{first}code = \"A8-II\"{}", second.replacen(from, to, 1));
        let found = mistakes(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", &broken)]);
        assert!(
            found.iter().any(|line| line.contains(wanted) && line.contains("variant[2]")),
            "{wanted}: {found:#?}"
        );
    }
    let unlike =
        DEMO_ALDER.replace("BR-861", "LN-847").replace("Bramble", "Linden").replace("861.0", "847.0");
    let found = mistakes(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", &unlike)]);
    assert!(
        found[0].contains("variant.fluid_colour of 'LN-847' is green elsewhere; state the same"),
        "{found:#?}"
    );
}

#[test]
fn a_name_or_code_of_two_fluids_is_a_mistake_with_file_line_and_key() {
    for (from, to) in [("\"Linden\"", "\"bramble\""), ("\"Linden\"", "\"br 861\"")] {
        let twice = DEMO_ALDER.replace(from, to);
        let found = mistakes(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", &twice)]);
        let wanted =
            "is the code or name of fluid 'BR-861' elsewhere and of 'LN-847' here; give each fluid its own";
        assert!(found.len() == 1 && found[0].contains(wanted), "{found:#?}");
        assert!(
            found[0].starts_with("alder-8.toml") && found[0].contains("variant.fluid_name"),
            "{found:#?}"
        );
    }
}

#[test]
fn codes_that_do_not_tell_unlike_fluids_apart_and_rules_alike_are_worth_a_look() {
    let alike = DEMO_ALDER
        .replace("F8-20", "f8 10")
        .replace("[MNP]A", "[JK]A")
        .replace("new_screw_count = 13", "new_screw_count = 12");
    let revision = Revision::parse(files(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", &alike)])).unwrap();
    let found = remarks(&revision);
    let said = found.of_identity().join("\n");
    for part in [
        "filter code F8-10 belongs to A8-I, A8-II, which need unlike fluids (Bramble, Linden)",
        "they cannot be told apart by the filter",
        "fit the same VINs, so that no VIN tells the two apart, for example AZTAA8M",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let left_out: Vec<String> = found.left_out.iter().map(ToString::to_string).collect();
    assert_eq!(
        left_out,
        [
            "A8-I, A8-II: no new screws for the whole pan in its kit; screws are for one use, so the others come from elsewhere"
        ]
    );
}

#[test]
fn many_variants_are_named_by_the_first_few() {
    let one = DEMO_ALDER.split("[[variant]]").next().unwrap();
    let bare = |number: usize| {
        format!(
            "[[variant]]\ncode = \"E{number}\"\nlabel = \"{number}\"\nfluid_code = \"LN-847\"\nfluid_name = \"Linden\"\n\
             density_at_15_celsius_kilograms_per_cubic_metre = 847.0\ntotal_fill_litres = 9.0\n\
             level_from_celsius = 40.0\nlevel_to_celsius = 50.0\nlevel_method = \"dipstick\"\n"
        )
    };
    let text = (0..10).fold(one.to_owned(), |text, number| text + &bare(number));
    let revision = Revision::parse(files(&[("workshop.toml", NAME_ONLY), ("elm-6.toml", &text)])).unwrap();
    let left_out = remarks(&revision).left_out;
    let plug = left_out.iter().find(|row| row.what.contains("level plug")).unwrap().to_string();
    assert_eq!(
        plug,
        "E0, E1, E2, E3, E4, E5, E6, E7 and 2 more: no torque for the level plug; the bay sheet will say: see the \
         vehicle maker"
    );
    assert!(left_out.iter().any(|row| row.what == "marks for the dipstick"));
    assert!(!left_out.iter().any(|row| row.what == "standpipe code"), "a dipstick needs none");
}

#[test]
fn a_rule_that_changed_is_shown_by_vins_that_it_decides_otherwise() {
    let of = |alder: &str| {
        let read = files(&[("workshop.toml", NAME_ONLY), ("alder-8.toml", alder)]);
        (read.clone(), Revision::parse(read).unwrap())
    };
    let (old_files, old) = of(DEMO_ALDER);
    let compared = |alder: &str| {
        let (new_files, new) = of(alder);
        (difference((&old_files, &old), (&new_files, &new)), new)
    };
    assert_eq!(compared(DEMO_ALDER).0, Difference::default());
    let wider = DEMO_ALDER.replace("[MNP]A", "[MNPR]A");
    let narrower = DEMO_ALDER.replace("[JK]A", "JA");
    let plant = DEMO_ALDER.replacen("plant = \"A\"", "plant = \"B\"", 1);
    let moved = DEMO_ALDER.replace("serial_to = 37999", "serial_to = 38001");
    for (alder, expected) in [
        (&wider, vec![(vec![], vec!["A8-II"])]),
        (&narrower, vec![(vec!["A8-I"], vec![])]),
        (&plant, vec![(vec![], vec!["A8-I"]), (vec!["A8-I"], vec![])]),
        (&moved, vec![(vec!["A8-II"], vec!["A8-I", "A8-II"])]),
    ] {
        let (difference, new) = compared(alder);
        let ways: Vec<_> = difference
            .vins
            .iter()
            .map(|way| {
                (
                    way.before.iter().map(String::as_str).collect(),
                    way.now.iter().map(String::as_str).collect(),
                )
            })
            .collect();
        assert_eq!(ways, expected);
        for way in &difference.vins {
            let codes = |revision: &Revision| -> Vec<String> {
                revision.match_vin(&way.vin).variants.iter().map(|variant| variant.code.clone()).collect()
            };
            assert_eq!((codes(&old), codes(&new)), (way.before.clone(), way.now.clone()));
        }
    }
}

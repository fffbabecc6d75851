//! Numbers as people type them: what was understood is said back, a unit is asked for, none is guessed.

use standpipe_tests::shop::Shop;

/// Flags, and what must be said back for the number. Factors: NIST SP 811, appendix B (exact by definition).
const UNDERSTOOD: [(&str, &str); 14] = [
    ("add drain --place pan --mass 3.05kg", "mass 3.05 kg"),
    ("add drain --place pan --mass 3,05kg", "mass 3.05 kg"),
    ("add drain --place pan --mass '3,05 KG'", "mass 3.05 kg"),
    ("add drain --place pan --mass 3050g", "mass 3050 g = 3.050"),
    // 6.7 × 0.453 592 37 = 3.039 068 9
    ("add drain --place pan --mass 6.7lb", "mass 6.7 lb = 3.039 kg"),
    ("add drain --place pan --volume 3.60L", "volume 3.60 L"),
    ("add drain --place pan --volume '3.60 litres'", "volume 3.60 L"),
    ("add drain --place pan --volume 3600ml", "volume 3600 mL = 3.600"),
    // 3.8 × 0.946 352 946 = 3.596 141 2
    ("add drain --place pan --volume 3.8qt", "volume 3.8 US qt = 3.596 L"),
    ("add temperature-reading --place transmission-fluid --temperature 43c", "temperature 43 °C"),
    // (110 − 32) × 5/9 = 43.333…
    (
        "add temperature-reading --place transmission-fluid --temperature 110°F",
        "temperature 110 °F = 43.33 °C",
    ),
    ("add temperature-reading --place transmission-fluid --temperature -5°C", "temperature −5 °C"),
    ("add closing --outcome done --odometer 118254", "odometer 118254 km"),
    // 73 482 × 1.609 344 = 118 257.8
    ("add closing --outcome done --odometer 73482mi", "odometer 73482 mi = 118257.8"),
];

#[test]
fn what_was_understood_is_said_back_and_kept_as_typed() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    for (line, understood) in UNDERSTOOD {
        let said = bay.say(line).fine();
        let plain = said.out.replace('\u{a0}', " ");
        assert!(plain.contains(understood), "{line}: {plain}");
    }
    // The digits and the unit stay as they were typed, so that the resolution of the reading is known for ever.
    let sent = bay.say("unsent --sent --output json").fine().json();
    let typed: Vec<&str> = sent["sent"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|entry| {
            entry["as_typed"].as_array().unwrap().iter().map(|typed| typed["text"].as_str().unwrap())
        })
        .collect();
    assert_eq!(typed[..5], ["3.05kg", "3,05kg", "3,05 KG", "3050g", "6.7lb"]);
    assert_eq!(typed.len(), UNDERSTOOD.len());
}

/// What is missing or foreign is named, with the units that are taken; nothing is kept.
#[test]
fn a_missing_or_foreign_unit_is_asked_for_and_nothing_is_kept() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let before = shop.entries();
    for (line, parts) in [
        ("add drain --place pan --mass 3.05", ["--mass", "'3.05'", "kg, g or lb"]),
        ("add drain --place pan --volume 3.6", ["--volume", "'3.6'", "L, mL or US qt"]),
        ("add drain --place pan --mass 3.6L", ["--mass", "'L' in '3.6L'", "kg, g or lb"]),
        ("add drain --place pan --volume 3.05kg", ["--volume", "'kg'", "L, mL or US qt"]),
        ("add drain --place pan --volume '1 gal'", ["--volume", "'gal'", "L, mL or US qt"]),
        (
            "add temperature-reading --place fresh-fluid --temperature 43",
            ["--temperature", "'43'", "°C or °F"],
        ),
        (
            "add temperature-reading --place fresh-fluid --temperature 43K",
            ["--temperature", "'K'", "°C or °F"],
        ),
        ("add level-check --overflow drops --temperature 43%", ["--temperature", "'%'", "°C or °F"]),
        ("add exchange-reading --volume-in 3", ["--volume-in", "'3'", "L, mL or US qt"]),
        ("add exchange-reading --volume-in 3L --tube 25L", ["--tube", "'L'", "%"]),
    ] {
        let sentence = bay.say(line).refused(64);
        for part in parts {
            assert!(sentence.contains(part), "{line}: {sentence} has no {part}");
        }
    }
    assert_eq!((bay.unsent_files(), shop.entries()), (Vec::new(), before));
}

#[test]
fn a_vin_is_taken_with_spaces_hyphens_and_small_letters_and_a_letter_is_never_made_a_digit() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    for typed in ["AZTWA8M47LA042317", "aztwa8m47la042317", "AZT WA8M47 LA 042317", "azt-wa8m47-la042317"] {
        let said = bay.say(&format!("add vin-reading --source papers --vin '{typed}'")).fine();
        assert!(said.out.contains("vin AZTWA8M47LA042317,"), "{typed}: {}", said.out);
    }
    let before = shop.entries();
    // The letters O, I, Q (ISO 3779 has none of them): the digit is proposed in the sentence, and only there.
    for (typed, letter, proposal) in [
        ("AZTWA8M47LAO42317", "O at place 12", "AZTWA8M47LA042317"),
        ("AZTWA8M47LA0423I7", "I at place 16", "AZTWA8M47LA042317"),
        ("AZTWA8M47LAQ42317", "Q at place 12", "AZTWA8M47LA042317"),
    ] {
        let sentence = bay.say(&format!("add vin-reading --source papers --vin {typed}")).refused(65);
        assert!(
            sentence.contains(typed) && sentence.contains(letter) && sentence.contains(proposal),
            "{sentence}"
        );
    }
    for (typed, part) in [
        ("AZTWA8M47LA04231", "16 characters; 17 are needed"),
        ("AZTWA8M47LA0423177", "18 characters; 17 are needed"),
        ("AZTWA8M47LA04231_", "'_' at place 17"),
        // The Cyrillic capital letter that looks like A.
        ("\u{410}ZTWA8M47LA042317", "U+0410 at place 1"),
        ("", "0 characters; 17 are needed"),
    ] {
        let sentence = bay.say(&format!("add vin-reading --source papers --vin '{typed}'")).refused(65);
        assert!(sentence.contains("--vin") && sentence.contains(part), "{typed}: {sentence}");
    }
    assert!(
        bay.say("add vin-reading --source body-plate --last-eight LAO42317").refused(65).contains("LA042317")
    );
    assert_eq!((bay.unsent_files(), shop.entries()), (Vec::new(), before));
}

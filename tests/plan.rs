//! The plan before the work, as a technician asks for it: the station's program against a served site.

use standpipe_tests::facts::VIN_SECOND_SERIES;
use standpipe_tests::shop::{Home, Shop};

/// A job whose variant is settled, of a vehicle that has not driven far.
fn settled(shop: &Shop) -> Home {
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 48000km --reason service-due").fine();
    bay.say(&format!("add vin-reading --vin {VIN_SECOND_SERIES} --source body-plate")).fine();
    bay.say(
        "add variant-settled --variant-code A8-II --means catalogue-rule --transmission-plate-agrees yes",
    )
    .fine();
    bay
}

#[test]
fn procedures_are_compared_for_the_same_litres_and_one_is_named_with_its_reason() {
    let shop = Shop::open();
    let bay = settled(&shop);
    let said = bay.say("plan --kit '14 L'").fine();
    assert!(said.err.is_empty(), "{}", said.err);
    println!("{}", said.out);
    for line in said.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let flat = crate::next::terminal::flat(&said.out);
    assert!(flat.contains("Of 14.0 L of new fluid 3.6 L are for the pan"), "{flat}");
    assert!(flat.contains("> Exchange, then pan: most new fluid for the same litres."), "{flat}");
    let json = bay.say("plan --kit 14L --output json").fine().json();
    let rows = json["choices"].as_array().unwrap();
    let keys: Vec<&str> = rows.iter().map(|row| row["key"].as_str().unwrap()).collect();
    assert_eq!(keys[..3], ["exchange-only", "exchange-then-pan", "pan-then-exchange"]);
    for row in rows {
        let number = |field: &str| row[field].as_f64().unwrap();
        assert!(number("new_share_least") < number("new_share"), "{row}");
        assert!(number("new_share") < number("new_share_greatest"), "{row}");
        assert!(number("volume_litres") <= 14.0 && number("duration_minutes") > 0.0, "{row}");
        assert!(row["text"].as_str().unwrap().ends_with('.'), "{row}");
    }
    // One drain of 3.6 of 9.0 L is 40 of 100 parts, whichever way the fluid flows (repeated dilution); what is not
    // known of the fill bends it by less than half a part.
    let once = rows.iter().find(|row| row["key"] == "drain-and-fill").unwrap();
    assert!((once["new_share"].as_f64().unwrap() - 0.4).abs() < 0.005, "{once}");
    let advised: Vec<&str> =
        rows.iter().filter(|row| row["advised"] == true).map(|row| row["key"].as_str().unwrap()).collect();
    assert_eq!(advised, ["exchange-then-pan"]);
    // Without a kit it says which litres it compares.
    assert!(bay.say("plan 1").fine().out.contains("of new fluid that this workshop keeps"));
    shop.close();
}

#[test]
fn signs_of_wear_put_the_pan_first_and_what_withholds_the_exchange_leaves_no_plan() {
    let shop = Shop::open();
    let bay = settled(&shop);
    bay.say("add fluid-sample --moment before --colour brown --clouding clear --smell burnt --specks none")
        .fine();
    let said = crate::next::terminal::flat(&bay.say("plan --kit 14L").fine().out);
    assert!(said.contains("> Pan, then exchange (burnt smell): the debris is seen before"), "{said}");
    bay.say("add part-checked --part fluid-container --code BR-861 --lot L-1 --read-by eye").fine();
    let said = crate::next::terminal::flat(&bay.say("plan --kit 14L").fine().out);
    assert!(
        said.contains("does not belong to") && !said.contains("of 100") && !said.contains("> "),
        "{said}"
    );
    let json = bay.say("plan --output json").fine().json();
    assert_eq!((json["choices"].as_array().unwrap().len(), json["advice"].as_str()), (0, Some("")));
    shop.close();
}

#[test]
fn an_unknown_variant_is_named_as_what_is_missing_and_no_number_is_given() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 48000km --reason service-due").fine();
    let said = bay.say("plan --kit 14L").fine().out;
    assert!(said.contains("Which transmission it is is not settled"), "{said}");
    assert!(!said.contains("14") && !said.contains("litres"), "{said}");
    let refused = bay.say("plan --kit 61L").refused(65);
    assert!(refused.contains("kit_litres") && refused.contains("60"), "{refused}");
    shop.close();
}

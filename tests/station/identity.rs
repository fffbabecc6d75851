//! Questions of identity and a level by dipstick, stated by flags at a station.

use super::LOOKED_AT;
use standpipe_tests::shop::{Home, Shop};

fn lacks(bay: &Home, gate: &str) -> Vec<String> {
    let answer = bay.say(&format!("may {gate} --output json")).json();
    let missing = answer["missing"].as_array().unwrap().iter();
    missing.map(|point| point["key"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn an_open_question_is_decided_by_name_with_a_reason_and_the_record_names_both() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 118240km --first-registered-on 2019-11-04").fine();
    let refused = bay.say("open 'PH 483 K' --first-registered-on 2019-02-30").refused(65);
    assert!(refused.contains("2019-02-30") && refused.contains("YYYY-MM-DD"), "{refused}");
    // No rule of the demo's catalogue fits it.
    bay.say("add vin-reading --vin AZTWA8M40ZA042317 --source body-plate").fine();
    bay.say("add variant-settled --variant-code A8-II --means catalogue-rule --transmission-as-built yes")
        .fine();
    assert!(lacks(&bay, "exchange").contains(&"no-rule".to_owned()));
    let decided = bay.say("add decision --point no-rule --reason 'the maker names it by telephone'").fine();
    assert!(decided.out.contains("it counts once A signed it: standpipe as A --pin"), "{}", decided.out);
    assert!(lacks(&bay, "exchange").contains(&"no-rule".to_owned()), "a decision counts once it is signed");
    shop.verb_fed("person pin A", "4711\n").fine();
    bay.fed("as A --pin", "4711\n").fine();
    assert!(!lacks(&bay, "exchange").contains(&"no-rule".to_owned()));
    let shown = bay.say("show").fine().out;
    assert!(shown.contains("the maker names it by telephone"), "{shown}");
}

#[test]
fn another_transmission_than_the_built_in_one_is_settled_by_its_plate() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 118240km").fine();
    bay.say("add vin-reading --vin AZTWA8M47LA042317 --source body-plate").fine();
    bay.say("add variant-settled --variant-code A8-II --means catalogue-rule --transmission-as-built no")
        .fine();
    assert!(lacks(&bay, "exchange").contains(&"not-as-built".to_owned()));
    bay.say(
        "add variant-settled --variant-code A8-II --means transmission-plate --transmission-plate-agrees yes \
         --transmission-as-built no",
    )
    .fine();
    assert!(!lacks(&bay, "exchange").contains(&"not-as-built".to_owned()));
}

#[test]
fn a_looked_up_variant_takes_a_level_by_dipstick_and_needs_no_plug() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K' --odometer 118240km").fine();
    bay.say(
        "add variant-settled --variant-code Birch-6 --means looked-up --source 'a parts list' --fluid-code Hazel \
         --level-least 70°C --level-greatest 80°C --transmission-plate-agrees yes",
    )
    .fine();
    for line in LOOKED_AT {
        bay.say(line).fine();
    }
    let look = "add level-check --temperature 75°C --means scan-tool --engine-idling yes --vehicle-level yes";
    let neither = bay.say(&format!("{look} --selector park")).refused(65);
    assert!(neither.contains("dipstick"), "{neither}");
    let both = bay.say(&format!("{look} --selector park --overflow drops --dipstick between")).refused(65);
    assert!(both.contains("--dipstick"), "{both}");
    assert!(lacks(&bay, "road-test").contains(&"level-set".to_owned()));
    bay.say(&format!("{look} --selector park --dipstick between")).fine();
    let lacking = lacks(&bay, "road-test");
    assert!(
        !lacking.contains(&"level-set".to_owned()) && !lacking.contains(&"plug-closed".to_owned()),
        "{lacking:?}"
    );
}

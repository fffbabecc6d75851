//! Without the network: work goes on, nothing is lost, and no old yes is repeated.

use super::{COMPARED, HOOKED_UP, LOOKED_AT, SETTLED};
use standpipe_tests::shop::{Home, Shop};

/// A fact that is kept and not sent: exit 75, said on both outputs.
#[track_caller]
fn kept(station: &Home, line: &str, waiting: usize) -> String {
    let said = station.say(line).ended(75);
    let words = format!("kept unsent ({waiting} waiting)");
    assert!(said.out.contains(&words), "{}", said.out);
    let sentence = said.one_line();
    assert!(sentence.starts_with(&words) && sentence.contains("standpipe send"), "{sentence}");
    said.out
}

#[test]
fn facts_wait_on_the_station_and_are_delivered_when_the_server_is_back() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    shop.close();
    let before = shop.entries();

    kept(&bay, "add drain --place pan --mass 3,05kg", 1);
    // A job can be opened all the same; it has a name of this station until the server gives it its number.
    assert!(kept(&bay, "open 'QR 207 T'", 2).starts_with("new-2 QR 207 T: arrival"));
    assert!(
        kept(&bay, "add vin-reading --vin AZTWA8M45LA017206 --source papers", 3)
            .starts_with("new-2 QR 207 T: ")
    );
    let drained =
        bay.say("unsent --output json").fine().json()["waiting"][0]["entry_id"].as_str().unwrap().to_owned();
    let end = &drained[drained.len() - 8..];
    kept(&bay, &format!("correct {end} drain --place pan --mass 3.07kg --reason 'read again'"), 4);

    let listed = bay.say("unsent").fine();
    let lines: Vec<&str> = listed.out.lines().collect();
    assert_eq!(lines.len(), 5, "{}", listed.out);
    assert!(lines[0].contains("PH 482 K") && lines[0].contains("drain 3,05kg"), "{}", lines[0]);
    assert!(lines[1].contains("new-2 QR 207 T") && lines[1].contains("arrival"), "{}", lines[1]);
    assert!(lines[4].starts_with("4 only on this station"), "{}", lines[4]);
    for line in ["show", "jobs", "record", "show 99"] {
        bay.say(line).refused(75);
    }
    // What the station knows itself, it can still take.
    assert!(bay.say("use new-2").fine().out.starts_with("new-2 QR 207 T"));
    assert_eq!(bay.unsent_files().len(), 4);

    shop.serve();
    shop.join(&bay);
    let sent = bay.say("send").fine();
    assert_eq!(sent.out.lines().count(), 4, "{}", sent.out);
    assert!(sent.out.contains("-0002 QR 207 T: place "), "{}", sent.out);
    assert_eq!((bay.unsent_files(), shop.entries()), (Vec::new(), before + 4));
    assert!(bay.say("send").fine().out.contains("nothing waits"));
    // The station's own name for the job has gone; it is named by its number, and the facts are where they belong.
    assert!(bay.say("use new-2").ended(64).err.contains("has its number now"));
    assert!(bay.say("use 2").fine().out.contains("-0002 QR 207 T"));
    let second = bay.say("show --output json").fine().json();
    assert_eq!((&second["entry_count"], &second["summary"]["vin"]), (&2.into(), &"AZTWA8M45LA017206".into()));
    let first = bay.say("show 1 --output json").fine().json();
    assert_eq!(first["entry_count"], 3);
    let drain = first["story"].as_array().unwrap().iter().find(|line| line["kind"] == "drain").unwrap();
    assert!(drain["changed"].as_str().unwrap().contains("read again"), "{drain}");
}

#[test]
fn a_yes_is_not_repeated_without_the_server() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    bay.say("add vin-reading --vin AZTWA8M47LA042317 --source papers").fine();
    for line in [&SETTLED[..], &LOOKED_AT, &COMPARED, &HOOKED_UP].concat() {
        bay.say(line).fine();
    }
    assert!(bay.say("may exchange").fine().out.contains("yes, go-ahead for exchange"));
    shop.close();
    for gate in ["exchange", "refill"] {
        let sentence = bay.say(&format!("may {gate}")).refused(75);
        assert!(
            sentence.contains("an earlier yes does not count") && !sentence.contains("yes, go-ahead"),
            "{sentence}"
        );
    }
    // Nor does a program get one.
    assert_eq!(bay.say("may exchange --output json").ended(75).out, "");
    kept(&bay, "add part-checked --part fluid-container --code BR-861", 1);
    shop.serve();
    shop.join(&bay);
    // The question takes along what waited: the answer rests on all that was stated here.
    let answer = bay.say("may exchange").ended(1);
    assert!(answer.out.contains("BR-861"), "{}", answer.out);
    assert_eq!(bay.unsent_files(), Vec::<String>::new());
}

#[test]
fn what_is_outside_its_bounds_is_told_at_once_also_without_the_server() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    shop.close();
    let sentence = bay.say("add drain --place pan --mass 400kg").refused(65);
    assert!(
        sentence.contains("--mass") && sentence.contains("400") && sentence.contains("0 to 30 kg"),
        "{sentence}"
    );
    assert_eq!(bay.unsent_files(), Vec::<String>::new());
}

#[test]
fn a_fact_that_the_server_refuses_is_set_aside_named_and_does_not_hold_up_the_others() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let before = shop.entries();
    shop.close();
    // The server is asked for a job that it does not know: the station's own arrival is taken out of the list.
    kept(&bay, "open 'QR 207 T'", 1);
    kept(&bay, "add drain --place pan --mass 3.05kg", 2);
    let arrival = bay.unsent_files().remove(0);
    std::fs::remove_file(bay.path.join("unsent").join(arrival)).unwrap();
    kept(&bay, "add drain --place pan --mass 3.07kg --job 1", 2);
    shop.serve();
    shop.join(&bay);
    let said = bay.say("send").ended(65);
    let sentence = said.one_line();
    assert!(sentence.starts_with("refused: ") && sentence.contains("drain"), "{sentence}");
    assert!(said.out.contains("-0001 PH 482 K: place "), "{}", said.out);
    assert_eq!((bay.unsent_files(), shop.entries()), (Vec::new(), before + 1));
    let listed = bay.say("unsent").fine();
    assert!(listed.out.contains("refused: ") && listed.out.contains("3.05kg"), "{}", listed.out);
}

//! Two commands at once on one home.

use standpipe_tests::shop::{Home, Shop, words};
use std::collections::BTreeSet;
use std::fs::File;
use std::process::{Child, Stdio};

fn begin(station: &Home, line: &str) -> Child {
    let mut command = station.command();
    command.args(words(line)).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command.spawn().unwrap()
}

#[test]
fn commands_of_one_station_take_turns_and_every_kept_fact_arrives_once() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let before = shop.entries();
    let running: Vec<Child> = (1..=8)
        .map(|tenth| begin(&bay, &format!("add drain --place spill --volume 0.{tenth}L --output json")))
        .collect();
    let mut kept = BTreeSet::new();
    for command in running {
        let output = command.wait_with_output().unwrap();
        let (out, err) =
            (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
        assert!(!err.contains("panicked"), "{err}");
        match (output.status.code(), out.is_empty()) {
            // Sent, or kept because another command was sending just then.
            (Some(0 | 75), false) => {
                let answer: serde_json::Value = serde_json::from_str(&out).unwrap();
                assert!(kept.insert(answer["entry_id"].as_str().unwrap().to_owned()), "{out}");
            }
            // Another command held the folder too long: nothing was promised.
            (Some(75), true) => assert!(err.contains("say it again"), "{err}"),
            other => panic!("{other:?}: {out}{err}"),
        }
    }
    assert!(!kept.is_empty());
    bay.say("send").fine();
    assert_eq!((bay.unsent_files(), shop.entries()), (Vec::new(), before + kept.len() as u64));
    let sent = bay.say("unsent --sent --output json").fine().json();
    let sent = sent["sent"].as_array().unwrap();
    let ids: BTreeSet<String> =
        sent.iter().map(|entry| entry["entry_id"].as_str().unwrap().to_owned()).collect();
    assert!(ids.is_superset(&kept));
    let numbers: BTreeSet<i64> = sent.iter().map(|entry| entry["station_number"].as_i64().unwrap()).collect();
    assert_eq!(numbers.len(), sent.len(), "no station number was given twice");
}

#[test]
fn a_command_waits_for_the_folder_only_so_long_and_says_who_holds_it() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    let path = bay.path.join("lock");
    std::fs::write(&path, "the test").unwrap();
    let lock = File::options().read(true).write(true).open(&path).unwrap();
    lock.lock().unwrap();
    let sentence = bay.say("add drain --place pan --mass 3.05kg").refused(75);
    assert!(sentence.contains("another command works on this station (the test)"), "{sentence}");
    assert_eq!(bay.unsent_files(), Vec::<String>::new());
    drop(lock);
    bay.say("add drain --place pan --mass 3.05kg").fine();
}

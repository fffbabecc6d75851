//! Safety copies: made while stations send, read through, and turned into a site on which everybody goes on.

use crate::folders::content;
use standpipe_tests::blobs::PHOTO;
use standpipe_tests::process::Process;
use standpipe_tests::programs;
use standpipe_tests::shop::{Home, Said, Shop, bare, ended, words};
use std::path::Path;
use std::process::Stdio;

/// A verb of the server's program on any folder.
fn verb(line: &str, dir: &Path) -> Said {
    let mut command = bare(&programs::server());
    command.args(words(line)).arg("--dir").arg(dir);
    ended(command, "")
}

/// What `verify` says of a folder in which everything is sound.
#[track_caller]
fn sound(dir: &Path) -> serde_json::Value {
    let report = verb("verify --output json", dir).fine().json();
    assert!(report["sound"] == true && report["damage_count"] == 0, "{report}");
    report
}

fn record(station: &Home, shop: &Shop, flags: &str) -> Vec<u8> {
    let file = shop.path("record.pdf");
    station.say(&format!("record 1 {flags} -o '{}'", file.display())).fine();
    std::fs::read(&file).unwrap()
}

/// A served workshop with a job that has a photo, words and an issued record.
fn worked() -> (Shop, Home, Home) {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    let office = shop.station("office", "B");
    std::fs::write(shop.path("photo.jpg"), PHOTO).unwrap();
    for line in [
        "open 'PH 482 K'",
        "remark 'bangs into second' --subject complaint",
        &format!("photo '{}' --subject magnets", shop.path("photo.jpg").display()),
        "add closing --outcome done",
    ] {
        bay.say(line).fine();
    }
    (shop, bay, office)
}

#[test]
fn a_site_restored_from_a_backup_has_a_new_epoch_the_same_root_and_stations_that_go_on() {
    let (shop, bay, office) = worked();
    let edition = record(&office, &shop, "--issue");
    let draft = record(&office, &shop, "");
    let (backup, again) = (shop.path("backup"), shop.path("site-again"));
    let made = shop.verb(&format!("backup '{}'", backup.display())).fine();
    assert!(made.out.contains("read through and sound"), "{}", made.out);
    // A fact that came after the backup: the restored site does not know it, the station still has it.
    bay.say("add temperature-reading --temperature 21°C --place fresh-fluid").fine();
    let live = sound(&shop.dir());
    shop.close();
    let kept = sound(&backup);
    let restored = verb(&format!("restore '{}'", backup.display()), &again).fine();
    assert!(restored.out.contains("read through and sound"), "{}", restored.out);
    let report = sound(&again);
    assert_ne!(report["epoch"], kept["epoch"], "a station must be able to notice");
    for key in ["site", "entries", "jobs", "root"] {
        assert_eq!(report[key], kept[key], "{key}");
    }
    assert_eq!(kept["epoch"], live["epoch"]);
    assert_eq!(kept["entries"].as_u64().unwrap() + 1, live["entries"].as_u64().unwrap());

    let server = Process::start(bare(&programs::server()), &again).unwrap();
    for home in [&bay, &office] {
        // The tokens are those of before.
        home.fed(&format!("join {} -", server.address), shop.token(&home.name)).fine();
    }
    assert_eq!(record(&office, &shop, "--edition 1"), edition);
    assert_eq!(record(&office, &shop, ""), draft, "photo and words came along");
    assert_eq!(bay.say("use 1").fine().err, "");
    let sent = bay.say("add temperature-reading --temperature 41°C --place transmission-fluid").fine();
    assert!(sent.out.contains(" in the journal"), "{}", sent.out);
    assert_ne!(record(&office, &shop, "--issue"), edition);
    let second = record(&office, &shop, "--edition 2");
    let opened = bay.say("open 'QR 207 T'").fine();
    assert!(opened.out.contains("-0002 QR 207 T"), "the numbers go on: {}", opened.out);
    let sent = bay.say("unsent --sent --output json").fine().json();
    let lost = |entry: &serde_json::Value| entry.to_string().contains("21°C");
    assert!(sent["sent"].as_array().unwrap().iter().any(lost), "the station keeps what it sent: {sent}");
    assert_eq!(server.terminate(), (Some(0), String::new()));
    let after = sound(&again);
    // A reading, an edition, an arrival.
    assert_eq!(after["entries"].as_u64().unwrap(), report["entries"].as_u64().unwrap() + 3);
    let server = Process::start(bare(&programs::server()), &again).unwrap();
    bay.fed(&format!("join {} -", server.address), shop.token("bay-1")).fine();
    // What the site lost comes back from the station, once, whatever else is sent again with it.
    for _ in 0..2 {
        bay.say("send --again").fine();
        assert_eq!(bay.unsent_files(), Vec::<String>::new());
    }
    let shown = bay.say("show 1 --output json").fine().json();
    let story = shown["story"].as_array().unwrap();
    let readings = story.iter().filter(|line| line["kind"] == "temperature_reading").count();
    assert_eq!(readings, 2, "{shown}");
    office.fed(&format!("join {} -", server.address), shop.token("office")).fine();
    assert_eq!(record(&office, &shop, "--edition 2"), second);
    assert_eq!(sound(&backup), kept, "the backup is only read");
}

#[test]
fn a_backup_made_while_stations_send_is_sound_and_holds_all_that_was_there_when_it_began() {
    let (shop, bay, _) = worked();
    let other = shop.station("bay-2", "A");
    let before = shop.entries();
    let begun: Vec<_> = (1..=3)
        .map(|number| {
            let mut command = bare(&programs::server());
            command.arg("backup").arg(shop.path(&format!("backup-{number}"))).arg("--dir").arg(shop.dir());
            command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
        })
        .collect();
    for tenths in 0..8 {
        bay.say(&format!("add drain --place spill --volume 0.{tenths}L")).fine();
        other.say(&format!("open 'QR {tenths}'")).fine();
    }
    for backup in begun {
        let output = backup.wait_with_output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }
    let after = shop.entries();
    assert_eq!(after, before + 16);
    for number in 1..=3 {
        let report = sound(&shop.path(&format!("backup-{number}")));
        let entries = report["entries"].as_u64().unwrap();
        assert!((before..=after).contains(&entries), "{before} to {after}: {entries}");
    }
    shop.close();
}

#[test]
fn neither_a_backup_nor_a_restored_site_is_made_over_anything_or_from_what_is_damaged() {
    let (shop, ..) = worked();
    let backup = shop.path("backup");
    shop.verb(&format!("backup '{}'", backup.display())).fine();
    let before = content(&backup);
    let sentence = shop.verb(&format!("backup '{}'", backup.display())).refused(78);
    assert!(sentence.contains("backup"), "{sentence}");
    assert_eq!(content(&backup), before);
    shop.close();
    let site = content(&shop.dir());
    let sentence = shop.verb(&format!("restore '{}'", backup.display())).refused(78);
    assert!(sentence.contains("site"), "{sentence}");
    assert_eq!(content(&shop.dir()), site);
    // One byte of the photo is another one.
    let files = before.iter().filter(|(_, bytes)| bytes.starts_with(&[0xff, 0xd8]));
    let [(photo, bytes)] = files.collect::<Vec<_>>()[..] else { panic!("one photo is expected") };
    let mut damaged = bytes.clone();
    *damaged.last_mut().unwrap() ^= 1;
    std::fs::write(photo, damaged).unwrap();
    let again = shop.path("again");
    let sentence = verb(&format!("restore '{}'", backup.display()), &again).refused(65);
    assert!(sentence.contains("damaged"), "{sentence}");
    assert!(!again.exists(), "nothing is left of it");
}

//! The home of a station.

use super::{content, copy, on_a_read_only_mount};
use standpipe_tests::programs;
use standpipe_tests::shop::{Home, Shop, ended, words};
use std::fs;

/// A shop that is closed, and a bay with two facts that wait.
fn waiting() -> (Shop, Home) {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    shop.close();
    bay.say("add drain --place pan --mass 3.05kg").ended(75);
    bay.say("add fill --purpose refill --mass 3.07kg").ended(75);
    (shop, bay)
}

#[test]
fn a_home_of_nobody_is_named_and_left_as_it_is() {
    let shop = Shop::open();
    let home = shop.home("bay-1");
    let asked = [
        "as A",
        "open 'PH 482 K'",
        "add drain --place pan --mass 3kg",
        "unsent",
        "jobs",
        "send",
        "may exchange",
    ];
    for line in asked {
        let sentence = home.say(line).refused(64);
        assert!(
            sentence.contains("belongs to no station yet") && sentence.contains("standpipe join"),
            "{sentence}"
        );
    }
    assert!(!home.path.exists(), "asking makes no folder");
    fs::create_dir(&home.path).unwrap();
    for line in asked {
        home.say(line).refused(64);
    }
    assert_eq!(fs::read_dir(&home.path).unwrap().count(), 0);
    fs::write(home.path.join("letter.txt"), "Dear customer").unwrap();
    for line in asked {
        home.say(line).refused(64);
    }
    assert_eq!(fs::read_dir(&home.path).unwrap().count(), 1);
    // Not even with a good token is a folder of something else taken.
    let sentence = home.fed(&format!("join {} -", shop.address()), shop.token("bay-1")).refused(64);
    assert!(sentence.contains("not a station's folder") && sentence.contains("choose another"), "{sentence}");
    assert!(!home.path.join("station.toml").exists() && !home.path.join("unsent").exists());
    assert_eq!(fs::read_to_string(home.path.join("letter.txt")).unwrap(), "Dear customer");

    let file = shop.home("bay-2");
    fs::write(&file.path, "no folder").unwrap();
    file.say("unsent").refused(64);
    file.fed(&format!("join {} -", shop.address()), shop.token("bay-2")).refused(74);
    assert_eq!(fs::read_to_string(&file.path).unwrap(), "no folder");
}

#[test]
fn a_home_of_a_newer_program_is_refused_and_left_as_it_is() {
    let (_shop, bay) = waiting();
    let epoch = fs::read_to_string(bay.path.join("epoch")).unwrap();
    fs::write(bay.path.join("epoch"), epoch.replace("form = 1", "form = 2")).unwrap();
    let before = without_locks(&bay);
    for line in ["unsent", "add drain --place pan --mass 3kg", "send"] {
        let sentence = bay.say(line).refused(64);
        assert!(sentence.contains("form 2 is newer"), "{sentence}");
    }
    assert_eq!(without_locks(&bay), before);
}

/// Everything but the files that say who holds the folder.
fn without_locks(bay: &Home) -> Vec<(String, Vec<u8>)> {
    let mut files = content(&bay.path);
    files.retain(|(name, _)| !name.ends_with("/lock") && !name.ends_with("/sending"));
    files
}

#[test]
fn a_kept_fact_that_is_not_whole_is_named_moved_aside_and_never_sent() {
    let (shop, bay) = waiting();
    let before = shop.entries();
    let first = bay.path.join("unsent").join(&bay.unsent_files()[0]);
    let whole = fs::read(&first).unwrap();
    fs::write(&first, &whole[..40]).unwrap();
    let said = bay.say("unsent").fine();
    let sentence = said.one_line();
    assert!(
        sentence.contains("is not whole (cut after 40 bytes)") && sentence.contains("state its fact again"),
        "{sentence}"
    );
    assert!(said.out.contains("1 only on this station"), "{}", said.out);
    // A changed bit is as bad as a cut.
    let second = bay.path.join("unsent").join(&bay.unsent_files()[0]);
    let mut changed = fs::read(&second).unwrap();
    let middle = changed.len() / 2;
    changed[middle] ^= 0x10;
    fs::write(&second, changed).unwrap();
    assert!(bay.say("unsent").fine().one_line().contains("do not match their digest"));
    shop.serve();
    shop.join(&bay);
    assert!(bay.say("send").fine().out.contains("nothing waits"));
    assert_eq!((shop.entries(), fs::read_dir(bay.path.join("damaged")).unwrap().count()), (before, 2));
    // The next fact gets a number of its own all the same.
    bay.say("add drain --place pan --mass 3.05kg").fine();
    assert_eq!(shop.entries(), before + 1);
}

#[test]
fn lost_or_spoiled_small_files_cost_no_fact() {
    for (file, spoiled, refusal) in [
        ("epoch", None, ""),
        ("epoch", Some("noise \u{1}"), ""),
        ("current", Some("noise"), "no job is set"),
        ("jobs", Some("noise"), ""),
        ("station.toml", None, "belongs to no station yet"),
    ] {
        let (shop, bay) = waiting();
        let before = shop.entries();
        let path = bay.path.join(file);
        match spoiled {
            Some(text) => fs::write(&path, text).unwrap(),
            None => fs::remove_file(&path).unwrap(),
        }
        let said = bay.say("add closing --outcome done");
        assert!(!said.err.contains("0123456789abcdef"), "a token is never shown: {}", said.err);
        let kept = usize::from(refusal.is_empty());
        if refusal.is_empty() {
            said.clone().ended(75);
        } else {
            assert!(said.exit == 64 && said.err.contains(refusal), "{file}: {said:?}");
        }
        assert_eq!(bay.unsent_files().len(), 2 + kept, "{file}: {said:?}");
        shop.serve();
        shop.join(&bay);
        bay.say("send").fine();
        assert_eq!(shop.entries(), before + 2 + kept as u64, "{file}: everything arrives once");
        shop.close();
    }
}

/// The way out that the sentence names.
#[test]
fn a_spoiled_file_with_the_token_is_replaced_by_joining_again() {
    let (shop, bay) = waiting();
    let before = shop.entries();
    fs::write(bay.path.join("station.toml"), "token = \"0123456789abcdef\nrest").unwrap();
    let sentence = bay.say("unsent").fine().one_line();
    assert!(sentence.contains("join again with: standpipe join"), "{sentence}");
    assert!(!sentence.contains("0123456789abcdef"), "a token is never shown: {sentence}");
    shop.serve();
    shop.join(&bay);
    bay.say("send").fine();
    assert_eq!(shop.entries(), before + 2);
}

#[test]
fn a_copied_home_doubles_no_number_and_loses_no_fact() {
    let (shop, bay) = waiting();
    let before = shop.entries();
    let twin = Home { name: "bay-1".to_owned(), path: shop.path("home-copied") };
    copy(&bay.path, &twin.path);
    bay.say("add part-checked --part filter --code F8-20").ended(75);
    twin.say("add part-checked --part filter --code F8-10").ended(75);
    shop.serve();
    for home in [&bay, &twin] {
        shop.join(home);
        home.say("send").fine();
    }
    // Two facts were copied and are the same; the third has the same station number and another identity.
    assert_eq!(shop.entries(), before + 4);
    for home in [&bay, &twin] {
        home.say("add temperature-reading --temperature 20°C --place fresh-fluid").fine();
    }
    let sent = |home: &Home| {
        home.say("unsent --sent --output json").fine().json()["sent"].as_array().unwrap().clone()
    };
    let last = |home: &Home| sent(home).last().unwrap()["station_number"].as_i64().unwrap();
    assert_ne!(last(&bay), last(&twin), "the copy began a new epoch after it was told");
    assert_eq!(shop.entries(), before + 6);
}

#[test]
fn a_home_on_a_read_only_mount_is_refused_as_a_disk_that_cannot_be_written() {
    let (shop, bay) = waiting();
    let before = content(&bay.path);
    for line in ["add drain --place pan --mass 3kg", "unsent", "as B", "send"] {
        let Some(mut command) = on_a_read_only_mount(&bay.path) else { return };
        command.arg(programs::station()).args(words(line)).env("STANDPIPE_HOME", &bay.path);
        let sentence = ended(command, "").refused(74);
        assert!(sentence.contains("Read-only") && sentence.contains("nothing was promised"), "{sentence}");
    }
    assert_eq!(content(&bay.path), before);
    drop(shop);
}

#[test]
fn settings_that_are_wrong_are_named_wherever_they_stand() {
    let (_shop, bay) = waiting();
    fs::write(bay.path.join("settings.toml"), "colour = true\n").unwrap();
    let sentence = bay.say("unsent").refused(64);
    assert!(sentence.contains("settings.toml") && sentence.contains("colour"), "{sentence}");
    fs::remove_file(bay.path.join("settings.toml")).unwrap();
    for (name, value) in [("STANDPIPE_OUTPUT", "xml"), ("STANDPIPE_CALL_SECONDS", "0")] {
        let mut command = bay.command();
        command.arg("unsent").env(name, value);
        let sentence = ended(command, "").refused(64);
        assert!(sentence.contains("STANDPIPE_") || sentence.contains("call_seconds is 0"), "{sentence}");
    }
    // The flag for the folder wins over the environment.
    let mut command = bay.command();
    command.env("STANDPIPE_HOME", "/nowhere/at/all").args(["unsent", "--home"]).arg(&bay.path);
    assert!(ended(command, "").fine().out.contains("2 only on this station"));
}

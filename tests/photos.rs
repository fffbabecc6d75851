//! A photo of the fluid on the reference sheet: taken with one command, read by the server, told to the station.

use super::station::{COMPARED, HOOKED_UP, LOOKED_AT, SETTLED};
use standpipe_engine::photo::sheet::Layout;
use standpipe_tests::scene::{Scene, Trouble};
use standpipe_tests::shop::{Home, Shop};

/// A job that is hooked up for its exchange.
fn hooked_up(shop: &Shop) -> Home {
    let office = shop.station("office", "B");
    let bay = shop.station("bay-1", "A");
    office.say("open 'PH 482 K' --odometer 118240km --reason harsh-change").fine();
    office.say("add vin-reading --vin 'AZTWA8M4 7LA042317' --source papers").fine();
    bay.say("use 1").fine();
    for line in [SETTLED.as_slice(), &LOOKED_AT, &COMPARED, &HOOKED_UP].concat() {
        bay.say(line).fine();
    }
    bay.say("add exchange-reading --volume-in 0.0L").fine();
    bay
}

fn file(shop: &Shop, name: &str, bytes: &[u8]) -> String {
    let path = shop.path(name);
    std::fs::write(&path, bytes).unwrap();
    path.display().to_string()
}

#[test]
fn one_command_keeps_photo_and_look_and_what_the_server_read_comes_back() {
    let shop = Shop::open();
    let bay = hooked_up(&shop);
    let before = shop.entries();
    let good = Scene { new_share: 0.4, size: (900, 675), ..Scene::drawn(Layout::Bottles, 77) };
    let photo = file(&shop, "good.jpg", &good.jpeg());
    let told = bay.say(&format!("photo {photo} --subject comparison --volume-in 4.8L")).fine().out;
    assert!(told.contains("> Photo at 4.8") && told.contains("of 100 parts new in the glass"), "{told}");
    assert_eq!(shop.entries(), before + 2, "the photo and the look");
    let shown = bay.say("show").fine().out;
    let line = shown.lines().find(|line| line.contains("Photo at 4.8")).expect(&shown);
    let numbers: Vec<f64> =
        line.split(|c: char| !c.is_ascii_digit() && c != '.').filter_map(|n| n.parse().ok()).collect();
    let [_, value, _, least, greatest] = numbers[..] else { panic!("{line}") };
    assert!(least <= 40.0 && 40.0 <= greatest && (least..=greatest).contains(&value), "{line}");

    // The same again says the same: it was read once and kept.
    assert_eq!(bay.say("show").fine().out, shown);
    shop.close();
    shop.serve();
    shop.join(&bay);
    assert!(bay.say("show").fine().out.contains(line.trim()));

    bay.say("add part-checked --part fluid-container --code Bramble").fine();
    let late = Scene { new_share: 0.5, ..good };
    let photo = file(&shop, "late.jpg", &late.jpeg());
    let told = bay.say(&format!("photo {photo} --subject comparison --volume-in 6.0L")).fine().out;
    assert!(
        told.contains("> Wrong fluid is inside") && told.contains("> no go-ahead for exchange: "),
        "{told}"
    );

    let bad = Scene { trouble: Some(Trouble::NoSheet), size: (900, 675), ..good };
    let photo = file(&shop, "bad.jpg", &bad.jpeg());
    let told = bay.say(&format!("photo {photo} --subject comparison --volume-in 8.2L")).fine().out;
    assert!(told.contains("The photo at 8.2"), "the bay hears of it at once: {told}");
    let shown = bay.say("show").fine().out;
    assert!(shown.contains("the reference sheet was not found in it"), "{shown}");
}

#[test]
fn litres_that_are_none_or_another_subject_change_nothing() {
    let shop = Shop::open();
    let bay = hooked_up(&shop);
    let before = shop.entries();
    let photo = file(&shop, "any.jpg", standpipe_tests::blobs::PHOTO);
    for (line, reason) in [
        (format!("photo {photo} --subject comparison --volume-in much"), "volume-in"),
        (format!("photo {photo} --subject comparison --volume-in 80L"), "60"),
        (format!("photo {photo} --subject magnets --volume-in 4.8L"), "goes with --subject comparison only"),
    ] {
        let said = bay.say(&line);
        assert!(said.exit != 0 && said.err.contains(reason), "{line}: {}", said.err);
    }
    bay.say("send").fine();
    assert_eq!(shop.entries(), before);
}

#[test]
fn the_reference_sheet_is_printed_without_a_job() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    let path = shop.path("sheet.pdf").display().to_string();
    let said = bay.say(&format!("bay-sheet --for-photos -o {path}")).fine();
    assert!(said.out.contains("the reference sheet for photos is in"), "{}", said.out);
    let pdf = std::fs::read(path).unwrap();
    assert!(pdf.starts_with(b"%PDF-"));
}

//! The questions over a real connection, from keys to entries in the journal.

use super::commands::{Bay, Pressed};
use super::fake::Fake;
use super::steps::normal_job;
use crate::cli::{Exit, Input};
use crate::next::Key;

fn keys(text: &str) -> Pressed {
    let key = |sign| Input::Key(if sign == '\n' { Key::Enter } else { Key::Sign(sign) });
    Pressed(text.chars().map(key).collect(), true)
}

fn lines(text: &[&str]) -> Pressed {
    Pressed(text.iter().map(|line| Input::Line((*line).to_owned())).collect(), false)
}

fn begun(shop: &Fake) -> Bay {
    let bay = Bay::joined(shop);
    shop.shop().steps = normal_job();
    shop.shop().says_yes = true;
    assert_eq!(bay.say(&["open", "TW 4711"]).exit, Exit::Done);
    bay
}

/// The keys of a whole normal job as the questions ask it.
const WHOLE: &str = "XRH04217\n\n\n1135\n213112\n\n11110\n4\n218\n3112\n42\n13.6l\n22F82\n\n\n\n\n1\n\n1\n143\n211\n11\
                     11\n21111\n1";

#[test]
fn a_whole_job_is_asked_and_every_answer_is_in_the_journal() {
    let shop = Fake::start();
    let bay = begun(&shop);
    assert!(WHOLE.chars().count() <= 90, "{}", WHOLE.chars().count());
    let told = bay.press(&["next"], &mut keys(WHOLE));
    assert_eq!((told.exit, told.err.as_str()), (Exit::Done, ""), "{}", told.out);
    assert!(told.out.ends_with("HL-26-0001 TW 4711: nothing is left to ask\r\n"), "{}", told.out);
    assert!(
        told.out.contains("  = 3.6\u{a0}L\r\n") && told.out.contains("kept; place 20 in the journal"),
        "{}",
        told.out
    );
    assert!(told.out.contains("Yes, go-ahead for exchange. It ends with the next entry."), "{}", told.out);
    // The arrival and thirty-five answers.
    assert_eq!(shop.shop().journal.len(), 36);
}

#[test]
fn it_goes_on_where_it_ended_and_by_lines_too() {
    let shop = Fake::start();
    let bay = begun(&shop);
    bay.press(&["next"], &mut keys("XRH04217\n\n\n11q"));
    let told = bay.press(&["next", "1"], &mut lines(&["3 5", "2", "q"]));
    assert!(told.out.contains("How does it drive?") && !told.out.contains("Which VIN"), "{}", told.out);
    assert!(
        told.out.contains("  = harsh, shudder\n") && told.out.contains("  = warm\nkept; place"),
        "{}",
        told.out
    );
    assert!(told.out.contains("standpipe next goes on here"), "{}", told.out);
}

#[test]
fn without_the_server_it_asks_on_from_the_last_answer() {
    let shop = Fake::start();
    let bay = begun(&shop);
    bay.press(&["next"], &mut keys("XRH04217\nq"));
    drop(shop);
    let told = bay.press(&["next"], &mut keys("\n\n111\n2"));
    assert_eq!(told.exit, Exit::Done);
    assert!(told.out.contains("offline: the shop server"), "{}", told.out);
    assert!(
        told.out.contains("; offline: kept unsent (1\r\nwaiting)")
            || told.out.contains("offline: kept unsent (1 waiting)"),
        "{}",
        told.out
    );
    assert!(!told.out.contains("Yes, go-ahead"));
    // The end of the input is the end of the program: what was answered is not asked again.
    let again = bay.press(&["next"], &mut keys("q"));
    assert!(again.out.contains("Read this and confirm it."), "{}", again.out);
    assert_eq!(bay.json(&["unsent"])["waiting"].as_array().unwrap().len(), 3);
}

#[test]
fn a_job_that_the_server_never_told_about_says_what_to_do() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    drop(shop);
    bay.say(&["open", "TW 4711"]);
    let told = bay.press(&["next"], &mut keys("q"));
    assert_eq!(told.exit, Exit::Kept);
    assert!(told.err.contains("ask once while connected"), "{}", told.err);
}

#[test]
fn a_refused_answer_is_told_and_asked_again() {
    let shop = Fake::start();
    let bay = begun(&shop);
    shop.shop().refuses = Some(("vin_reading", tonic::Code::InvalidArgument));
    let told = bay.press(&["next"], &mut keys("XRH04217\n"));
    assert!(
        told.out.replace("\r\n", " ").contains("refused and set aside: it is refused in this test"),
        "{}",
        told.out
    );
    assert_eq!(told.out.matches("Which VIN").count(), 2, "{}", told.out);
}

#[test]
fn the_entry_before_is_put_right_from_within_the_questions() {
    let shop = Fake::start();
    let bay = begun(&shop);
    let told = bay.press(&["next"], &mut keys("XRH04217\n.b2XRH04218\n1q"));
    assert!(
        told.out.contains("kept: correction, last eight XRH04218, source body plate; place 3"),
        "{}",
        told.out
    );
}

#[test]
fn the_person_is_changed_by_one_key() {
    let shop = Fake::start();
    let bay = begun(&shop);
    bay.say(&["as", "B"]);
    let told = bay.press(&["next"], &mut keys("2XRH04217\n"));
    assert!(told.out.contains("Who works?\r\n  1  B\r\n  2  A\r\n"), "{}", told.out);
    let entries = shop.shop().entries();
    assert_eq!(entries.last().unwrap().header.as_ref().unwrap().person_code, "A");
}

#[test]
fn an_issue_whose_answer_was_lost_makes_no_second_edition() {
    let shop = Fake::start();
    let bay = begun(&shop);
    let file = bay.path("issued.pdf");
    let issue = ["record", "--issue", "-o", file.to_str().unwrap()];
    shop.shop().loses_issue = true;
    assert_eq!(bay.say(&issue).exit, Exit::Kept);
    assert!(bay.say(&issue).out.contains("edition 1 of the record is issued"));
    assert_eq!(std::fs::read(&file).unwrap(), b"%PDF-1.7 issued");
    assert!(bay.say(&issue).out.contains("edition 2 of the record is issued"));
    assert_eq!(shop.shop().issued.len(), 2);
}

#[test]
fn the_bay_sheet_is_written() {
    let shop = Fake::start();
    let bay = begun(&shop);
    let file = bay.path("sheet.pdf");
    let told = bay.say(&["bay-sheet", "1", "-o", file.to_str().unwrap()]);
    assert_eq!((told.exit, told.err.as_str()), (Exit::Done, ""));
    assert_eq!(std::fs::read(&file).unwrap(), b"%PDF-1.7 sheet");
}

#[test]
fn a_photo_and_a_remark_are_kept_without_the_server_and_sent_later() {
    let shop = Fake::start();
    let bay = begun(&shop);
    let file = bay.path("magnets.jpg");
    std::fs::write(&file, b"\xFF\xD8\xFF\xDA\x00\x08\x01\x01\x00\x00\x3F\x00\x11\xFF\xD9").unwrap();
    shop.shop().refuses_blobs = Some(tonic::Code::Unavailable);
    let photo = bay.say(&["photo", file.to_str().unwrap(), "--subject", "magnets"]);
    assert_eq!(photo.out, "HL-26-0001 TW 4711: photo, subject magnets; place 2 in the journal\n");
    assert!(photo.err.starts_with("kept unsent (0 waiting and 1 file)"), "{}", photo.err);
    assert_eq!(photo.exit, Exit::Kept);
    assert!(bay.say(&["unsent"]).out.contains("1 file of photos or words is only on this station"));
    shop.shop().refuses_blobs = None;
    let said = bay.say(&["remark", "shudders when cold", "--subject", "drive-before"]);
    assert!(
        said.out.contains("remark, subject drive before; place 3") && said.err.is_empty(),
        "{}",
        said.err
    );
    assert_eq!(shop.shop().blobs.len(), 2);
    assert_eq!(bay.say(&["send"]).out, "nothing waits\n");
}

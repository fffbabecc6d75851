//! Commands from their arguments to their answer and exit code.

use super::fake::{Fake, TOKEN};
use super::*;
use crate::cli::{Console, Exit, Input, Keys, Machine, run};
use crate::config::Environment;
use crate::disk::SystemDisk;
use jiff::tz::TimeZone;
use serde_json::Value;
use std::path::PathBuf;

pub(crate) struct Told {
    pub(crate) exit: Exit,
    pub(crate) out: String,
    pub(crate) err: String,
}

/// Keys that were pressed before, or lines that were typed.
pub(crate) struct Pressed(pub(crate) std::collections::VecDeque<Input>, pub(crate) bool);

impl Keys for Pressed {
    fn begin(&mut self) -> std::io::Result<bool> {
        Ok(self.1)
    }

    fn next(&mut self) -> std::io::Result<Input> {
        Ok(self.0.pop_front().unwrap_or(Input::Closed))
    }

    fn end(&mut self) {}
}

pub(crate) struct Bay {
    folder: tempfile::TempDir,
    machine: Machine,
}

impl Bay {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let environment = Environment { home: Some(folder.path().join("bay-1")), ..Environment::default() };
        let options = options(Arc::new(SystemDisk), 3);
        Self { folder, machine: Machine { environment, zone: TimeZone::UTC, options } }
    }

    pub(crate) fn joined(shop: &Fake) -> Self {
        let bay = Self::new();
        assert_eq!(bay.say(&["join", &shop.address, TOKEN]).exit, Exit::Done);
        assert_eq!(bay.say(&["as", "A"]).exit, Exit::Done);
        bay
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn say(&self, arguments: &[&str]) -> Told {
        self.press(arguments, &mut Pressed(Default::default(), false))
    }

    pub(crate) fn press(&self, arguments: &[&str], keys: &mut dyn Keys) -> Told {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let arguments =
            std::iter::once("standpipe").chain(arguments.iter().copied()).map(Into::into).collect();
        let exit = run(arguments, &self.machine, &mut Console { out: &mut out, err: &mut err, keys });
        Told { exit, out: String::from_utf8(out).unwrap(), err: String::from_utf8(err).unwrap() }
    }

    pub(crate) fn json(&self, arguments: &[&str]) -> Value {
        let told = self.say(&[arguments, &["--output", "json"]].concat());
        serde_json::from_str(&told.out).unwrap_or_else(|_| panic!("{} {}", told.out, told.err))
    }
}

#[test]
fn a_job_goes_from_opening_to_its_record() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    let opened = bay.say(&["open", "TW 4711", "--odometer", "118240km", "--reason", "shudder"]);
    assert_eq!(
        (opened.exit, opened.out.as_str(), opened.err.as_str()),
        (
            Exit::Done,
            "HL-26-0001 TW 4711: arrival, plate TW 4711, odometer 118240\u{a0}km, reason shudder; place 1 in the journal\n",
            ""
        )
    );
    let added = bay.say(&["add", "drain", "--place", "pan", "--mass", "3,05 kg"]);
    assert_eq!(
        added.out,
        "HL-26-0001 TW 4711: drain, place pan, mass 3.05\u{a0}kg; place 2 in the journal\n"
    );
    let right = bay.say(&[
        "correct",
        "2",
        "drain",
        "--place",
        "pan",
        "--mass",
        "3.50kg",
        "--reason",
        "misread the scale",
    ]);
    assert_eq!(right.exit, Exit::Done, "{}", right.err);
    assert!(
        right.out.starts_with("HL-26-0001 TW 4711: correction, put right drain, place pan"),
        "{}",
        right.out
    );
    assert_eq!(bay.say(&["correct", "2", "--withdraw", "--reason", "other vehicle"]).exit, Exit::Done);
    let shown = bay.say(&["show"]);
    assert!(
        shown.out.starts_with("HL-26-0001, TW 4711\n") && shown.out.contains("11:00  A "),
        "{}",
        shown.out
    );

    let file = bay.path("record.pdf");
    let printed = bay.say(&["record", "-o", file.to_str().unwrap()]);
    assert!(printed.out.contains("HL-26-0001 TW 4711: the record is in"), "{}{}", printed.out, printed.err);
    assert_eq!(std::fs::read(&file).unwrap(), b"%PDF-1.7 test");
    assert_eq!(bay.say(&["record", "1", "-o", "-"]).out, "%PDF-1.7 test");
}

#[test]
fn without_the_server_facts_are_kept_and_the_exit_code_says_so() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    drop(shop);
    let opened = bay.say(&["open", "TW 4711"]);
    assert_eq!(opened.exit, Exit::Kept);
    assert_eq!(opened.out, "new-1 TW 4711: arrival, plate TW 4711; kept unsent (1 waiting)\n");
    assert!(
        opened.err.starts_with("kept unsent (1 waiting): the shop server at http://127.0.0.1:"),
        "{}",
        opened.err
    );
    assert_eq!(opened.err.lines().count(), 1);
    let added = bay.json(&["add", "fill", "--purpose", "refill", "--volume", "3.6L", "--done", "10:40"]);
    assert_eq!(
        (&added["state"], &added["job"]["label"], &added["waiting"]),
        (&"unsent".into(), &"new-1".into(), &2.into())
    );
    assert_eq!(added["understood"][1]["text"], "3.6\u{a0}L");
    let asked = bay.say(&["may", "exchange"]);
    assert_eq!((asked.exit, asked.out.as_str()), (Exit::Kept, ""));
    assert!(asked.err.starts_with("no go-ahead is known"), "{}", asked.err);
    assert_eq!(bay.say(&["show"]).exit, Exit::Kept);
    assert_eq!(bay.say(&["send"]).exit, Exit::Kept);
    let unsent = bay.say(&["unsent"]);
    assert_eq!(unsent.exit, Exit::Done);
    assert!(unsent.out.contains("new-1 TW 4711  11:00  A  fill 3.6L  …"), "{}", unsent.out);
    assert!(
        unsent.out.ends_with("2 only on this station, the oldest for less than a minute\n"),
        "{}",
        unsent.out
    );
}

#[test]
fn may_says_yes_with_0_and_no_with_1_and_every_reason() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    bay.say(&["open", "TW 4711"]);
    let no = bay.say(&["may", "refill"]);
    assert_eq!(no.exit, Exit::No);
    assert_eq!(
        no.out,
        "HL-26-0001 TW 4711: no go-ahead for refill at 11:00:\n  The fluid is not the one of the variant. Nobody can \
         override this.\n"
    );
    shop.shop().says_yes = true;
    let yes = bay.json(&["may", "exchange", "--job", "1"]);
    assert_eq!((&yes["yes"], &yes["gate"]), (&true.into(), &"exchange".into()));
    assert_eq!(bay.say(&["may", "lunch"]).exit, Exit::Usage);
}

#[test]
fn bad_input_is_told_in_one_sentence_and_nothing_is_kept() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    bay.say(&["open", "TW 4711"]);
    let giant = "x".repeat(5000);
    let cases: &[(&[&str], Exit, &str)] = &[
        (
            &["add", "drain", "--place", "pan", "--volume", "300L"],
            Exit::Refused,
            "--volume: 300 is outside 0 to 30 L",
        ),
        (&["add", "drain", "--place", "pan", "--volume", "3.6"], Exit::Usage, "--volume: '3.6' has no unit"),
        (&["add", "drain", "--place", "pan", "--volume", "NaN L"], Exit::Usage, "is no number"),
        (&["add", "drain", "--place", "pan"], Exit::Usage, "--volume"),
        (&["add", "drain", "--size", "big"], Exit::Usage, "--size"),
        (&["add", "oil"], Exit::Usage, "'oil'"),
        (
            &["add", "part-checked", "--part", "filter", "--code", &giant],
            Exit::Refused,
            "--code: has 5000 characters",
        ),
        (
            &["add", "vin-reading", "--vin", "1M8GDM9AXKPO42788", "--source", "papers"],
            Exit::Refused,
            "if it is a 0 there",
        ),
        (
            &["add", "drain", "--place", "pan", "--volume", "3L", "--job", "77"],
            Exit::Refused,
            "job '77' is not known",
        ),
        (&["open", ""], Exit::Refused, "PLATE: is missing"),
        (&["open", &giant], Exit::Refused, "has 5000 characters; 1 to 16 are allowed"),
        (&["correct", "1", "arrival", "--plate", "TW 1"], Exit::Usage, "--reason is missing"),
        (
            &["correct", "1", "arrival", "--plate", "TW 1", "--reason", "x"],
            Exit::Refused,
            "--reason: has 1 characters",
        ),
        (&["correct", "1", "--reason", "why not"], Exit::Usage, "--withdraw"),
        (&["correct", "99", "--withdraw", "--reason", "why not"], Exit::Refused, "entry '99' is not known"),
        (&["add", "closing", "--outcome", "done", "--done", "23:59"], Exit::Usage, "still to come"),
        (&["as", "Technician A"], Exit::Usage, "is no person code"),
        (&["use", "77"], Exit::Refused, "not known here"),
        (&["show", "--output", "csv"], Exit::Usage, "csv is for lists"),
        (&["join", "192.168.0.1:7000", "x"], Exit::Usage, "the code has 28 letters and digits"),
        (&[], Exit::Usage, "Usage"),
    ];
    told_in_one_sentence(&bay, cases);
    assert_eq!(shop.shop().journal.len(), 1);
    assert_eq!(bay.json(&["unsent"])["waiting"], Value::Array(Vec::new()));
}

#[test]
fn bad_input_of_files_and_lists_is_told_in_one_sentence() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    bay.say(&["open", "TW 4711"]);
    let cases: &[(&[&str], Exit, &str)] = &[
        (&["next", "--output", "json"], Exit::Usage, "next asks people"),
        (&["photo", "none.jpg", "--subject", "magnets"], Exit::Usage, "none.jpg: it cannot be read"),
        (&["photo", "none.jpg"], Exit::Usage, "--subject"),
        (&["remark", " ", "--subject", "order"], Exit::Usage, "WORDS: has 0 characters; 1 to 4000"),
        (&["remark", "loud", "--subject", "lunch"], Exit::Usage, "complaint"),
        (&["record", "--issue", "--edition", "1"], Exit::Usage, "--edition"),
        (&["record", "--edition", "0"], Exit::Usage, "1..=10000"),
        (
            &[
                "add",
                "tightening",
                "--group",
                "pan",
                "--screw-count",
                "1.5",
                "--new-screw-count",
                "0",
                "--torque",
                "10N·m",
            ],
            Exit::Usage,
            "--screw-count: '1.5' is no whole number",
        ),
        (&["add", "road-test", "--moment", "before", "--ticks", "harsh,loud"], Exit::Usage, "'loud'"),
    ];
    told_in_one_sentence(&bay, cases);
    assert_eq!(shop.shop().journal.len(), 1);
}

fn told_in_one_sentence(bay: &Bay, cases: &[(&[&str], Exit, &str)]) {
    for (arguments, exit, words) in cases {
        let told = bay.say(arguments);
        assert_eq!(told.exit, *exit, "{arguments:?}: {}", told.err);
        assert!(told.err.contains(words), "{arguments:?}: {}", told.err);
        assert!(arguments.is_empty() || told.err.lines().count() == 1, "{arguments:?}: {}", told.err);
        assert_eq!(told.out, "");
    }
}

#[test]
fn a_refused_entry_ends_with_65_and_a_forbidden_one_with_77() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    bay.say(&["open", "TW 4711"]);
    let drain = ["add", "drain", "--place", "pan", "--volume", "3L"];
    for (code, exit) in
        [(tonic::Code::InvalidArgument, Exit::Refused), (tonic::Code::PermissionDenied, Exit::NotPermitted)]
    {
        shop.shop().refuses = Some(("drain", code));
        let refused = bay.say(&drain);
        assert_eq!(refused.exit, exit);
        assert_eq!(refused.err, "refused: HL-26-0001 TW 4711: drain: it is refused in this test\n");
    }
    assert_eq!(bay.json(&["unsent"])["refused"].as_array().unwrap().len(), 2);
    let asked = bay.say(&["may", "exchange"]);
    assert!(asked.err.contains("2 of what was stated here"), "{}", asked.err);
}

#[test]
fn a_folder_that_is_no_station_is_left_as_it_is() {
    let bay = Bay::new();
    for arguments in
        [&["show"][..], &["as", "A"], &["open", "TW 1"], &["unsent"], &["send"], &["may", "exchange"]]
    {
        let told = bay.say(arguments);
        assert_eq!(told.exit, Exit::Usage);
        assert!(told.err.contains("standpipe join HOST CODE"), "{}", told.err);
    }
    assert!(!bay.path("bay-1").exists());
    let nobody = nobody();
    assert_eq!(bay.say(&["join", &nobody, "x"]).exit, Exit::Kept);
}

#[test]
fn lists_come_as_text_json_and_csv() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    assert_eq!(bay.say(&["jobs"]).out, "no open jobs; --all lists the closed ones too\n");
    bay.say(&["open", "=1+1"]);
    bay.say(&["open", "TW 2"]);
    assert_eq!(bay.say(&["jobs"]).out, "HL-26-0002  TW 2\nHL-26-0001  =1+1\n");
    assert_eq!(bay.json(&["jobs", "--all"])["jobs"][0]["number"], "HL-26-0002");
    let csv = bay.say(&["jobs", "--output", "csv"]).out;
    assert!(csv.starts_with("\"number\",\"plate\"") && csv.contains("\"HL-26-0001\",\"'=1+1\""), "{csv}");
    let sent = bay.json(&["unsent", "--sent"]);
    assert_eq!((&sent["sent"][1]["seq"], &sent["sent"][1]["day"]), (&2.into(), &"2026-02-03".into()));
}

#[test]
fn texts_of_others_cannot_steer_the_terminal() {
    let shop = Fake::start();
    let bay = Bay::joined(&shop);
    let told = bay.say(&["use", "\u{1b}[2J"]);
    assert!(!told.err.contains('\u{1b}') && told.err.contains("\\u{1b}"), "{}", told.err);
}

#[test]
fn completions_and_manual_pages_are_written() {
    let bay = Bay::new();
    for shell in ["bash", "zsh", "fish"] {
        assert!(bay.say(&["completions", shell]).out.contains("exchange-reading"), "{shell}");
    }
    let pages = bay.path("man1");
    assert_eq!(bay.say(&["man", pages.to_str().unwrap()]).exit, Exit::Done);
    assert!(std::fs::read_to_string(pages.join("standpipe-add-drain.1")).unwrap().contains("Fluid ran out"));
    assert!(
        bay.say(&["--help"]).out.contains("Exit codes")
            && bay.say(&["--version"]).out.starts_with("standpipe ")
    );
}

//! The demo of several workshops as somebody runs it: what was planted is named with its jobs, and nobody with a name.

use super::{complaints, recomputed};
use serde_json::Value;
use standpipe_tests::programs;
use standpipe_tests::shop::{Home, bare, ended};
use std::io::{BufRead as _, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// The demo while it serves.
struct Demo {
    program: Child,
    told: String,
    owner: Home,
    dir: PathBuf,
}

impl Demo {
    fn serving(folder: &Path, sites: &str, months: &str, seed: &str) -> Self {
        let dir = folder.join("demo");
        let mut command = bare(&programs::demo());
        command.args(["workshops", "--stay", "--sites", sites, "--months", months, "--seed", seed, "--dir"]);
        command.arg(&dir).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let program = command.spawn().unwrap();
        let owner = Home { name: "owner".to_owned(), path: PathBuf::new() };
        let mut demo = Self { program, told: String::new(), owner, dir };
        let lines = BufReader::new(demo.program.stdout.take().unwrap()).lines();
        for line in lines.map(Result::unwrap) {
            if let Some(home) = line.strip_prefix("export STANDPIPE_HOME=") {
                demo.owner.path = home.trim_matches('\'').into();
                return demo;
            }
            demo.told.push_str(&line);
            demo.told.push('\n');
        }
        let mut err = String::new();
        demo.program.stderr.take().unwrap().read_to_string(&mut err).unwrap();
        panic!("the demo ended before it served:\n{}{err}", demo.told)
    }

    /// Lines of what was told that begin so, indented.
    fn told_after(&self, heading: &str) -> Vec<&str> {
        let after = self.told.lines().skip_while(|line| *line != heading).skip(1);
        after.take_while(|line| line.starts_with("  ")).map(str::trim).collect()
    }
}

impl Drop for Demo {
    fn drop(&mut self) {
        // Fails when it has ended already, which is as good.
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

/// Names of customers, plates, VINs and remarks of the demo: nothing of it may reach the owner.
const PRIVATE: [&str; 11] = [
    "Customer C",
    "0555 0199",
    "technician",
    "office B",
    "AZTWA8M4",
    "PH 482 K",
    "MS 731 B",
    "QR 206 T",
    "with a jolt",
    "LA042317",
    "LA047731",
];

fn hold_back(what: &str, text: &str) {
    for private in PRIVATE {
        assert!(!text.contains(private), "{private} stands in {what}");
    }
}

fn text_of(pdf: &[u8], folder: &Path) -> Option<String> {
    let tool = programs::tool("pdftotext")?;
    let (file, text) = (folder.join("owner.pdf"), folder.join("owner.txt"));
    std::fs::write(&file, pdf).unwrap();
    assert!(Command::new(tool).arg("-layout").args([&file, &text]).status().unwrap().success());
    Some(std::fs::read_to_string(text).unwrap())
}

fn said(sheet: &Value) -> Vec<String> {
    let plain = |text: &Value| text.as_str().unwrap().replace(['\u{a0}', '\u{202f}'], " ");
    sheet["said"].as_array().unwrap().iter().map(plain).collect()
}

/// Texts of the first table, what to look at first: workshop, number, day, what.
fn to_look_at(sheet: &Value) -> Vec<Vec<String>> {
    let cells = |row: &Value| {
        let cells = row["cells"].as_array().unwrap().iter();
        cells.map(|cell| cell["text"].as_str().unwrap_or_default().to_owned()).collect()
    };
    sheet["tables"][0]["rows"].as_array().unwrap().iter().map(cells).collect()
}

/// What was planted and what went wrong is named with its jobs.
fn is_named(demo: &Demo, said: &[String], look: &[Vec<String>]) {
    // What was planted: one sentence each, with a job of that workshop that can be opened.
    let planted = demo.told_after("Planted in the drawn year:");
    assert_eq!(planted.len(), 4, "{}", demo.told);
    for fault in planted {
        let (workshop, rest) = fault.split_once(" (site-").unwrap();
        let what = rest.split_once(": ").unwrap().1;
        let word = if what.contains("litre a job") {
            "in minus out, with what was spilled, is"
        } else if what.contains("another fluid") {
            "L-9999"
        } else if what.contains("TW-7") {
            "TW-7"
        } else {
            "without a check that counts"
        };
        let start = format!("{workshop}, ");
        // Several displays without a check are told together.
        let together = format!("{workshop} EQ-");
        let is_told = |text: &&String| text.starts_with(&start) || text.contains(&together);
        let sentence = said.iter().find(|text| is_told(text) && text.contains(word));
        let sentence = sentence.unwrap_or_else(|| panic!("{fault} is not named in {said:#?}"));
        let short = format!("W{}-", workshop.trim_start_matches("Workshop "));
        assert!(sentence.contains(&short), "{sentence}");
    }
    // What went wrong in a job that was played: by its number, from its own journal.
    let wrong = demo.told_after("Gone wrong in a job that was played:");
    assert_eq!(wrong.len(), 2, "{}", demo.told);
    for line in wrong {
        let (workshop, number) = (line.split(" (").next().unwrap(), line.split("job ").nth(1).unwrap());
        let number = number.split(':').next().unwrap();
        let listed = look.iter().any(|row| row[0] == workshop && row[1] == number);
        let named = said.iter().any(|text| text.starts_with(workshop) && text.contains(number));
        assert!(listed || named, "{line}: {look:#?} {said:#?}");
    }
}

/// Every number again, from the exported rows alone; gives these.
fn is_recomputed(demo: &Demo, owner: &str, folder: &Path) -> String {
    let rows = demo.owner.say("tally owner-jobs --months 12 --output jsonl").fine();
    let sums = demo.owner.say("tally owner-sums --months 12 --output json").fine();
    let site = demo.owner.say("tally owner-site site-03 --months 12 --output json").fine();
    let mut names: Vec<(String, Value)> =
        (1..=6).map(|number| (format!("site-{number:02}"), format!("Workshop {number:02}").into())).collect();
    for (id, name) in
        [("harbour-lane", "Harbour Lane"), ("mill-street", "Mill Street"), ("quarry-road", "Quarry Road")]
    {
        names.push((id.to_owned(), name.into()));
    }
    for (name, text) in [
        ("owner.json", owner),
        ("sums.json", &sums.out),
        ("site.json", &site.out),
        ("jobs.jsonl", &rows.out),
        ("names.json", &Value::from_iter(names).to_string()),
    ] {
        hold_back(name, text);
        std::fs::write(folder.join(name), text).unwrap();
    }
    if let Some(found) = recomputed(folder) {
        assert_eq!(complaints(&found), 0, "{found}");
        assert!(found["numbers"].as_u64().unwrap() > 5_000);
    }
    rows.out
}

/// Nobody is in what is written for spreadsheets or printed, nor a person in any row.
fn names_nobody(demo: &Demo, rows: &str, folder: &Path) {
    let csv = demo.owner.say("tally owner-jobs --months 12 --output csv").fine();
    hold_back("csv", &csv.out);
    assert_eq!(csv.out.lines().count(), rows.lines().count() + 1);
    for line in rows.lines() {
        let row: Value = serde_json::from_str(line).unwrap();
        assert_eq!(row["persons"].as_array().map(Vec::len), Some(0), "{line}");
    }
    let page = demo.owner.say("owner-sheet -o - --months 12").fine();
    assert!(page.bytes.starts_with(b"%PDF"));
    if let Some(text) = text_of(&page.bytes, folder) {
        hold_back("the printed page", &text);
        assert!(text.contains("Workshop"), "{text}");
    }
}

#[test]
fn the_demo_of_several_workshops_names_what_was_planted_and_no_customer() {
    let folder = tempfile::tempdir().unwrap();
    let mut demo = Demo::serving(folder.path(), "6", "12", "1");
    let owner = demo.owner.say("tally --months 12 --output json").fine();
    let sheet = owner.json();
    let said = said(&sheet);
    assert!(said[0].contains("9 workshops"), "{}", said[0]);

    is_named(&demo, &said, &to_look_at(&sheet));
    let rows = is_recomputed(&demo, &owner.out, folder.path());
    names_nobody(&demo, &rows, folder.path());

    let interrupted = Command::new("kill").args(["-INT", &demo.program.id().to_string()]).status().unwrap();
    assert!(interrupted.success());
    assert_eq!(demo.program.wait().unwrap().code(), Some(0));
    for dir in ["owner", "sites/harbour-lane", "sites/mill-street", "sites/quarry-road"] {
        let mut verify = bare(&programs::server());
        verify.args(["verify", "--output", "json"]).arg(demo.dir.join(dir));
        assert_eq!(ended(verify, "").fine().json()["sound"], true, "{dir}");
    }
}

#[test]
fn numbers_out_of_bounds_and_a_folder_of_others_are_refused_and_left_as_they_are() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("letters");
    std::fs::create_dir(&dir).unwrap();
    std::fs::write(dir.join("letter.txt"), "Dear customer").unwrap();
    let asked = |arguments: &[&str]| {
        let mut command = bare(&programs::demo());
        command.arg("workshops").args(arguments).arg("--dir").arg(&dir);
        ended(command, "")
    };
    for (arguments, bound) in [
        (["--sites", "0"], "from 1 to 500"),
        (["--sites", "501"], "from 1 to 500"),
        (["--months", "37"], "from 1 to 36"),
    ] {
        let said = asked(&arguments);
        assert!(said.exit != 0 && said.out.is_empty() && said.err.contains(bound), "{said:?}");
    }
    let said = asked(&["--sites", "3"]).ended(1);
    assert!(said.one_line().contains("holds no earlier demo") && said.out.is_empty(), "{said:?}");
    assert_eq!(std::fs::read_to_string(dir.join("letter.txt")).unwrap(), "Dear customer");
    assert_eq!(std::fs::read_dir(&dir).unwrap().count(), 1);
}

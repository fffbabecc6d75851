//! The printed record: its words, its layout, its bytes, read by other programs than ours (qpdf, poppler).

mod injection;
pub(crate) mod layout;
mod print;
mod strained;

use layout::{assert_laid_out, page_text};
use print::Press;
use standpipe_proto::v1::{self, fact::Kind};
use standpipe_tests::{facts, programs};
use std::path::Path;
use std::process::Command;

/// Sentences that every record must carry, whatever the job was.
const ALWAYS: [&str; 6] = [
    "The vehicle maker’s instructions, local rules and licensed practice come first; where they differ from this record, \
     they win.",
    "Not measured, not done",
    "Fuel consumption: not measured.",
    "Particles, acid number, water: no laboratory report.",
    "stop safely and call us.",
    "Used fluid, filters and cloths are waste that local rules govern",
];

/// What the record of a job says in which nobody measured or looked at anything.
const NOTHING_MEASURED: [&str; 12] = [
    "No fluid was pushed through.",
    "Share of new fluid: not measured.",
    "Fluid from the pan: not measured.",
    "Level inside the temperature window: not looked at, or no look counts.",
    "Sample before the service: not looked at.",
    "Sample after the service: not looked at.",
    "Code of the new filter: not compared.",
    "Torque of the pan’s screws: not recorded.",
    "Torque of the level plug: not recorded.",
    "Look for leaks: not recorded.",
    "Fault codes before and after the service: not read.",
    "Drive before and after the service: not recorded.",
];

/// Runs a tool on a file and gives what it printed; the tool must be content.
#[track_caller]
fn tool(name: &str, arguments: &[&str], file: &Path) -> Option<String> {
    let name = programs::tool(name)?;
    let output = Command::new(name).args(arguments).arg(file).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{name}: {said}{}", String::from_utf8_lossy(&output.stderr));
    Some(said)
}

/// The text of all pages, one space for any white space.
pub(crate) fn flowing(pdf: &Path) -> Option<String> {
    let output =
        Command::new(programs::tool("pdftotext")?).arg("-layout").arg(pdf).arg("-").output().unwrap();
    assert!(output.status.success());
    Some(String::from_utf8(output.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" "))
}

/// What is always true of a record.
#[track_caller]
fn assert_sound(pdf: &[u8], file: &Path, pages: usize) {
    std::fs::write(file, pdf).unwrap();
    if let Some(said) = tool("qpdf", &["--check"], file) {
        assert!(said.contains("No syntax or stream encoding errors found"), "{said}");
    }
    if let Some(said) = tool("pdffonts", &[], file) {
        let fonts: Vec<&str> = said.lines().skip(2).collect();
        assert!((1..=2).contains(&fonts.len()), "{said}");
        for font in fonts {
            // A subset's name begins with six letters and a plus (ISO 32000-1, 9.6.4).
            let (tag, rest) = font.split_once('+').unwrap_or_else(|| panic!("no subset: {said}"));
            assert!(tag.len() == 6 && tag.bytes().all(|letter| letter.is_ascii_uppercase()), "{said}");
            let columns: Vec<&str> = rest.split_whitespace().collect();
            // Embedded, a subset, with a mapping to text; then the object's two numbers.
            assert_eq!(columns[columns.len() - 5..columns.len() - 2], ["yes"; 3], "{said}");
        }
    }
    if let Some(said) = tool("pdfinfo", &[], file) {
        assert!(said.contains("pts (A4)"), "{said}");
        assert!(said.contains("JavaScript:      no") && said.contains("Encrypted:       no"), "{said}");
        let counted = said.lines().find_map(|line| line.strip_prefix("Pages:")).unwrap().trim();
        assert_eq!(counted, pages.to_string(), "{said}");
    }
    if let Some(text) = flowing(file) {
        for sentence in ALWAYS {
            assert!(text.contains(sentence), "'{sentence}' is missing in\n{text}");
        }
        for page in 1..=pages {
            assert!(text.contains(&format!("page {page} of {pages}")), "{text}");
        }
    }
    assert_laid_out(file, pages);
}

/// The text as it is laid out, without what changes with every version: identities and numbers of our own.
fn snapshot(pdf: &Path, check_value: &str, pages: usize) -> Option<String> {
    let spaced = check_value
        .as_bytes()
        .chunks(4)
        .map(|four| std::str::from_utf8(four).unwrap())
        .collect::<Vec<_>>()
        .join(" ");
    let mut text = String::new();
    for page in 1..=pages {
        text.push_str(&format!("---- page {page}\n"));
        for line in page_text(pdf, page)?.lines() {
            let line = line.split_whitespace().collect::<Vec<_>>().join(" ");
            if let Some((before, after)) = line.split_once(" · catalogue ") {
                assert!(before.ends_with(&format!("check value {spaced}")), "{line}");
                let page_words = &after[after.find("page ").unwrap()..];
                text.push_str(&format!(
                    "{} · catalogue … · engine … {page_words}\n",
                    before.replace(&spaced, "…")
                ));
            } else if !line.is_empty() {
                text.push_str(&line);
                text.push('\n');
            }
        }
    }
    Some(text)
}

#[tokio::test]
async fn temperatures_over_the_distance_stand_under_next_due_with_their_assumption_on_page_1() {
    let press = Press::new().await;
    let mut kinds = facts::whole_service();
    for kind in &mut kinds {
        if let Kind::FaultCodes(read) = kind {
            let rows = [(70.0, 30.0), (90.0, 50.0), (110.0, 20.0)];
            let shares = rows.map(|(celsius, percent)| v1::TemperatureShare { celsius, percent });
            read.temperature_shares = shares.to_vec();
        }
    }
    let printed = press.print(kinds).await;
    assert_eq!(printed.warnings, Vec::<String>::new());
    let file = press.file("driven.pdf");
    assert_sound(&printed.pdf, &file, 2);
    if let Some(page) = page_text(&file, 1) {
        let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
        for part in ["ages 1.40 times as fast as at 90 °C", "This is assumed, not measured", "83.144 kJ/mol"]
        {
            assert!(page.contains(part), "'{part}' is missing in {page}");
        }
    }
}

#[tokio::test]
async fn the_record_of_a_whole_service_reads_as_it_did() {
    let press = Press::new().await;
    let printed = press.print(facts::whole_service()).await;
    assert_eq!(printed.warnings, Vec::<String>::new());
    let file = press.file("record.pdf");
    assert_sound(&printed.pdf, &file, 2);
    if let Some(text) = snapshot(&file, &printed.check_value, 2) {
        insta::assert_snapshot!("whole_service", text);
    }
}

#[tokio::test]
async fn the_same_job_gives_the_same_bytes_twice_and_after_a_restart() {
    let mut press = Press::new().await;
    let first = press.print(facts::whole_service()).await;
    let again = press.render(&first.number).await;
    assert_eq!((&first.pdf, &first.check_value), (&again.pdf, &again.check_value));
    press.restart().await;
    let restarted = press.render(&first.number).await;
    assert!(first.pdf == restarted.pdf, "other bytes after a restart");
    // Another fact gives another record.
    press.state(&first.job, facts::temperature(30.0)).await;
    let later = press.render(&first.number).await;
    assert!(later.pdf != first.pdf && later.check_value != first.check_value);
}

#[tokio::test]
async fn short_and_stopped_jobs_fill_two_pages_at_most() {
    let press = Press::new().await;
    let settled = facts::settled_by_rule("A8-II");
    let milky = Kind::FluidSample(v1::FluidSample {
        moment: v1::SampleTime::Before.into(),
        clouding: v1::Clouding::Milky.into(),
        specks: v1::Debris::FlakesOrChips.into(),
        ..v1::FluidSample::default()
    });
    let stopped =
        Kind::Closing(v1::Closing { outcome: v1::Outcome::NoExchangeDone.into(), odometer_kilometres: None });
    for (name, kinds, expected) in [
        ("empty", vec![facts::arrival("PH 482 K")], &NOTHING_MEASURED[..]),
        (
            "three entries",
            vec![facts::arrival("PH 482 K"), facts::vin(facts::VIN_SECOND_SERIES), settled.clone()],
            &NOTHING_MEASURED,
        ),
        (
            "stopped",
            vec![facts::arrival("PH 482 K"), settled, milky, stopped],
            &["Short record: no exchange was done", "No exchange was done"],
        ),
    ] {
        let printed = press.print(kinds).await;
        let file = press.file(&format!("{name}.pdf"));
        std::fs::write(&file, &printed.pdf).unwrap();
        let pages = layout::pages(&file).unwrap_or(2);
        assert!((1..=2).contains(&pages), "{name}: {pages} pages");
        assert_sound(&printed.pdf, &file, pages);
        if let Some(text) = flowing(&file) {
            for sentence in expected {
                assert!(text.contains(sentence), "{name}: '{sentence}' is missing in\n{text}");
            }
            assert!(
                !text.contains("of 100 parts"),
                "{name}: a share is printed that nobody measured\n{text}"
            );
        }
    }
}

/// A job whose only entry was withdrawn is still printed, and says what happened.
#[tokio::test]
async fn a_job_of_which_nothing_counts_any_more_is_still_printed() {
    let press = Press::new().await;
    let job = press.open(facts::arrival("PH 482 K")).await;
    let arrival = press.entries(&job).await[0].clone();
    let withdrawn = v1::Correction {
        corrected_entry_id: arrival,
        reason: "opened by mistake".to_owned(),
        outcome: Some(v1::correction::Outcome::Withdrawn(true)),
    };
    press.state(&job, Kind::Correction(Box::new(withdrawn))).await;
    let printed = press.render(&job).await;
    let file = press.file("withdrawn.pdf");
    std::fs::write(&file, &printed.pdf).unwrap();
    let pages = layout::pages(&file).unwrap_or(2);
    assert_sound(&printed.pdf, &file, pages);
    if let Some(text) = flowing(&file) {
        assert!(text.contains("opened by mistake"), "{text}");
    }
}

/// As a long day may fill it: no row is cut, and nothing runs over anything else.
#[tokio::test]
async fn a_job_of_hundreds_of_entries_is_printed_whole() {
    let press = Press::new().await;
    let job = press.open(facts::arrival("PH 482 K")).await;
    press.state(&job, facts::settled_by_rule("A8-II")).await;
    for number in 0..60 {
        press.state(&job, facts::level(51.0 + f64::from(number), v1::Overflow::Stream)).await;
    }
    let printed = press.render(&job).await;
    let file = press.file("long.pdf");
    std::fs::write(&file, &printed.pdf).unwrap();
    let Some(pages) = layout::pages(&file) else { return };
    assert!((2..=6).contains(&pages), "{pages} pages");
    assert_sound(&printed.pdf, &file, pages);
    let text = flowing(&file).unwrap();
    assert!(text.contains("51 °C") && text.contains("110 °C"), "{text}");
}

/// The pages of the demo's record as pictures. They are rendered at every run; with `STANDPIPE_SNAPSHOT=update` they
/// are put among the snapshots, for whoever looks at them.
#[tokio::test]
async fn the_demo_s_record_is_two_pages_of_ink_on_paper() {
    let Some(pdftoppm) = programs::tool("pdftoppm") else { return };
    let folder = tempfile::tempdir().unwrap();
    let outcome = standpipe_demo::run(&folder.path().join("demo"), &mut Vec::new()).await.unwrap();
    let file = folder.path().join("record.pdf");
    assert_sound(&outcome.record, &file, 2);
    let render = |form: &str, resolution: &str| {
        let rendered = Command::new(pdftoppm)
            .args([form, "-r", resolution])
            .arg(&file)
            .arg(folder.path().join("page"))
            .status();
        assert!(rendered.unwrap().success());
    };
    render("-gray", "36");
    render("-png", "70");
    for page in 1..=2 {
        // Portable graymap: a head of four words, then one byte a point.
        let map = std::fs::read(folder.path().join(format!("page-{page}.pgm"))).unwrap();
        let points = &map[map.len() - 298 * 421..];
        assert!(map.starts_with(b"P5\n298 421\n255\n"), "{:?}", String::from_utf8_lossy(&map[..20]));
        let inked = points.iter().filter(|point| **point < 200).count() as f64 / points.len() as f64;
        assert!((0.01..0.30).contains(&inked), "page {page}: {inked} of the page is inked");
        let picture = folder.path().join(format!("page-{page}.png"));
        let bytes = std::fs::read(&picture).unwrap();
        assert!(bytes.starts_with(b"\x89PNG") && bytes.len() < 150_000, "page {page}: {} bytes", bytes.len());
        if std::env::var("STANDPIPE_SNAPSHOT").is_ok_and(|it| it == "update") {
            let kept = format!("{}/snapshots/record-{page}.png", env!("CARGO_MANIFEST_DIR"));
            std::fs::copy(&picture, &kept).unwrap();
            println!("{kept}: {} bytes", bytes.len());
        }
    }
}

//! Texts that try to be something else than text, from the command line to the printed page.

use super::print::Press;
use super::{flowing, tool};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_proto::v1::{self, fact::Kind};
use standpipe_tests::facts;
use standpipe_tests::shop::{Home, Shop};
use std::path::{Path, PathBuf};

const SEED: u64 = 20;

/// Texts for each place, no longer than the place allows; each beside a plain one of the same length.
const TEXTS: [&str; 9] = [
    ") Tj /JS (app.alert(1)) <<",
    "endstream endobj 9 0 obj <</S/JavaScript>>",
    "\\ \\( \\) \\\\ \\101 (((",
    "%%EOF\\n%PDF-1.7 trailer <</Root 1 0 R>>",
    "<script>alert(1)</script> &amp; <b>",
    "/OpenAction /URI (x) /Launch /AA",
    "<</Type/Catalog>> ET Q BT /F1 9 Tf",
    "{{plate}} {$plate} { \"x\" } .attr = *",
    "=1+1;DROP TABLE entry;--'\"`${HOME}%n%s",
];

/// A plain text of the same length.
fn plain(text: &str) -> String {
    text.chars()
        .enumerate()
        .map(|(place, _)| if place % 6 == 5 { ' ' } else { 'o' })
        .collect::<String>()
        .trim()
        .to_owned()
}

/// States a job with the text in every place that takes words, and prints it.
fn printed(shop: &Shop, office: &Home, text: &str, name: &str) -> (PathBuf, String) {
    let say = |line: &[&str]| {
        let mut command = office.command();
        command.args(line);
        standpipe_tests::shop::ended(command, "").fine()
    };
    let short: String = text.chars().take(16).collect();
    let [model, maker] = [60, 40].map(|length| text.chars().take(length).collect::<String>());
    say(&["open", short.trim(), "--maker", &maker, "--model", &model]);
    say(&["add", "variant-settled", "--variant-code", "A8-II", "--means", "looked-up", "--source", text]);
    let drained = say(&["add", "drain", "--place", "pan", "--mass", "3.30kg", "--output", "json"]).json();
    let seq = drained["seq"].to_string();
    say(&["correct", &seq, "--reason", text, "drain", "--place", "pan", "--mass", "3.05kg"]);
    let file = shop.path(&format!("{name}.pdf"));
    let said = say(&["record", "--file", &file.display().to_string()]);
    (file, said.err)
}

/// The text of a record without any white space.
fn squeezed(file: &Path) -> Option<String> {
    // In the order of the content, and without the foot, which may stand between two lines of a text.
    let said = std::process::Command::new(standpipe_tests::programs::tool("pdftotext")?)
        .arg("-raw")
        .arg(file)
        .arg("-")
        .output();
    let text = String::from_utf8(said.unwrap().stdout).unwrap();
    let foot = |line: &&str| !line.contains(" · check value ") && !line.starts_with("page ");
    Some(text.lines().filter(foot).collect::<String>().split_whitespace().collect())
}

fn without_spaces(text: &str) -> String {
    text.split_whitespace().collect()
}

/// What objects a file has: the keys of each dictionary, the catalogue's among them.
fn object_kinds(file: &Path) -> Option<Vec<String>> {
    let json: serde_json::Value = serde_json::from_str(&tool("qpdf", &["--json=2"], file)?).unwrap();
    let objects = json["qpdf"][1].as_object().unwrap();
    let mut kinds: Vec<String> = Vec::new();
    for (name, object) in objects {
        let value = if object["stream"].is_object() { &object["stream"]["dict"] } else { &object["value"] };
        let mut keys = Vec::new();
        names_of(value, &mut keys);
        let first = if name == "trailer" { "trailer " } else { "" };
        kinds.push(format!("{first}{}", keys.join(" ")));
    }
    kinds.sort();
    Some(kinds)
}

/// All keys at any depth, and the names that they stand for (types of objects).
fn names_of(value: &serde_json::Value, found: &mut Vec<String>) {
    match value {
        serde_json::Value::Object(fields) => {
            for (key, value) in fields {
                found.push(key.clone());
                names_of(value, found);
            }
        }
        serde_json::Value::Array(items) => items.iter().for_each(|item| names_of(item, found)),
        serde_json::Value::String(text) if text.starts_with('/') && !text.contains('+') => {
            found.push(text.clone())
        }
        _ => {}
    }
}

/// Keys that make a reader do something.
const ACTS: [&str; 8] =
    ["/JS", "/JavaScript", "/OpenAction", "/AA", "/URI", "/Launch", "/EmbeddedFile", "/AcroForm"];

#[test]
fn a_text_that_looks_like_pdf_is_printed_as_text_and_adds_no_object() {
    let shop = Shop::open();
    let office = shop.station("office", "B");
    for (number, text) in TEXTS.into_iter().enumerate() {
        let (file, warned) = printed(&shop, &office, text, &format!("text-{number}"));
        assert_eq!(warned, "", "{text}");
        let (benign, _) = printed(&shop, &office, &plain(text), &format!("plain-{number}"));
        if let Some(kinds) = object_kinds(&file) {
            let all = kinds.join(" ");
            for act in ACTS {
                assert!(!all.split(' ').any(|key| key == act), "{text}: {act} in {all}");
            }
            assert_eq!(Some(kinds), object_kinds(&benign), "{text}");
            tool("qpdf", &["--check"], &file);
        }
        if let Some(squeezed) = squeezed(&file) {
            let wanted = without_spaces(text);
            assert!(squeezed.matches(&wanted).count() >= 2, "{text} as source and as reason in\n{squeezed}");
            let short: String = text.chars().take(16).collect();
            assert!(squeezed.contains(&without_spaces(&short)), "{text} as plate in\n{squeezed}");
        }
        let pages = super::layout::pages(&file).unwrap_or(2);
        super::layout::assert_laid_out(&file, pages);
    }
}

/// Signs without a form in the font are spelled out, and somebody is told.
#[test]
fn a_sign_that_the_font_has_not_is_spelled_out_and_told() {
    let shop = Shop::open();
    let office = shop.station("office", "B");
    let (file, warned) = printed(&shop, &office, "tray 🚗 漢 x\u{200b}y", "signs");
    assert!(warned.contains("[U+1F697]") && warned.contains("[U+6F22]"), "{warned}");
    if let Some(squeezed) = squeezed(&file) {
        assert!(squeezed.matches("tray[U+1F697][U+6F22]x[U+200B]y").count() >= 2, "{squeezed}");
    }
}

/// One word as long as a reason may be is broken and stays on the page; a longer one is refused.
#[test]
fn a_word_without_end_is_broken_or_refused() {
    let shop = Shop::open();
    let office = shop.station("office", "B");
    let word = "W".repeat(200);
    let (file, _) = printed(&shop, &office, &word, "word");
    if let Some(squeezed) = squeezed(&file) {
        assert!(squeezed.matches(&word).count() >= 2, "{squeezed}");
        super::layout::assert_laid_out(&file, super::layout::pages(&file).unwrap());
    }
    let drained = office.say("add drain --place pan --mass 3.30kg --output json").fine().json();
    let withdraw =
        |length: usize| format!("correct {} --withdraw --reason {}", drained["seq"], "W".repeat(length));
    let before = shop.entries();
    let sentence = office.say(&withdraw(10_000)).refused(65);
    assert!(
        sentence.contains("--reason")
            && sentence.contains("10000 characters")
            && sentence.contains("3 to 400"),
        "{sentence}"
    );
    assert_eq!(shop.entries(), before);
    office.say(&withdraw(400)).fine();
    office.say(&format!("record --file '{}'", file.display())).fine();
    if let Some(pages) = super::layout::pages(&file) {
        super::layout::assert_laid_out(&file, pages);
        assert!(squeezed(&file).unwrap().contains(&"W".repeat(400)));
    }
}

/// A text of signs that a record can draw, drawn by lot.
fn random_text(random: &mut ChaCha8Rng) -> String {
    const SYNTAX: [&str; 12] = ["(", ")", "<<", ">>", "/", "\\", "%", "[", "]", "endobj", "stream", " Tj "];
    let mut below = |end: u64| usize::try_from(random.next_u64() % end).unwrap();
    let mut text = String::new();
    for _ in 0..8 + below(40) {
        match below(4) {
            0 => text.push_str(SYNTAX[below(12)]),
            1 => text.push(char::from(u8::try_from(0x21 + below(0x5e)).unwrap())),
            // Letters with accents (Latin-1 without the signs × and ÷).
            2 => text.push("äöüßéèñçåøÄÖÜÉ".chars().nth(below(14)).unwrap()),
            _ => text.push_str(["oil", " pan", " lot ", "7"][below(4)]),
        }
    }
    format!("x{}x", text.trim())
}

/// Texts by lot, many in one record: all of them literally there, the file clean.
#[tokio::test]
async fn texts_by_lot_are_printed_literally() {
    let rounds = if std::env::var("STANDPIPE_TEST_CAMPAIGN").is_ok_and(|it| it == "full") { 120 } else { 3 };
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let press = Press::new().await;
    let mut count = 0;
    for round in 0..rounds {
        let job = press.open(facts::arrival("PH 482 K")).await;
        let mut texts = Vec::new();
        for _ in 0..40 {
            let drained = press.state(&job, facts::drained(3.3)).await;
            let reason = random_text(&mut random);
            let correction = v1::Correction {
                corrected_entry_id: drained,
                reason: reason.clone(),
                outcome: Some(v1::correction::Outcome::Withdrawn(true)),
            };
            press.state(&job, Kind::Correction(Box::new(correction))).await;
            texts.push(reason);
        }
        let printed = press.render(&job).await;
        assert_eq!(printed.warnings, Vec::<String>::new(), "seed {SEED}, round {round}");
        let file = press.file(&format!("lot-{round}.pdf"));
        std::fs::write(&file, &printed.pdf).unwrap();
        tool("qpdf", &["--check"], &file);
        let Some(squeezed) = squeezed(&file) else { return };
        for text in &texts {
            assert!(
                squeezed.contains(&without_spaces(text)),
                "seed {SEED}, round {round}: {text} in\n{squeezed}"
            );
        }
        assert!(flowing(&file).unwrap().contains("licensed practice come first"));
        count += texts.len();
    }
    println!("{count} texts, seed {SEED}");
}

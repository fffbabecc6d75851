//! The record as a whole: same bytes, nothing outside the margins or over each other, nothing of a person
//! read as PDF.

mod invented_job;
mod whole;
mod whole_job;

use std::collections::BTreeSet;

use standpipe_engine::text::{Language, sentence, source};
use standpipe_engine::view::JobView;

use super::*;
use crate::page::{FOOT_MARGIN, MARGIN, PAGE_HEIGHT, PAGE_WIDTH};
use crate::paragraph::Style;
use crate::stated::can_be_drawn;
use crate::strip::Mark;
use invented_job::{done, empty, exchange, normal, said};
use whole_job::{stopped, whole};

fn pages_of(view: &JobView) -> Vec<Page> {
    pages_with(view, &Options::default())
}

fn pages_with(view: &JobView, options: &Options) -> Vec<Page> {
    let mut composer = Composer::new(Faces::shipped().unwrap(), Language::English);
    layout::record(&Given::new(view, options), &mut composer).unwrap()
}

fn words(page: &Page) -> String {
    let texts = page.marks.iter().filter_map(|mark| match mark {
        Mark::Words { segment, .. } => Some(segment.text.as_str()),
        _ => None,
    });
    texts.collect::<Vec<_>>().join(" ")
}

/// Left, top, right and bottom of each piece of text, its words and its size.
fn boxes(page: &Page) -> Vec<(f64, f64, f64, f64, &str, f64)> {
    let texts = page.marks.iter().filter_map(|mark| match mark {
        Mark::Words { at, segment } => {
            let size = segment.style.size;
            Some((
                at.x,
                at.y - 0.74 * size,
                at.x + segment.width,
                at.y + 0.2 * size,
                segment.text.as_str(),
                size,
            ))
        }
        _ => None,
    });
    texts.collect()
}

/// Jobs that strain the layout.
fn strained() -> Vec<(&'static str, JobView)> {
    let mut many_parts = normal();
    many_parts.done = (1..=40).map(|n| done(&format!("part {n}"), Some("lot"), "new")).collect();
    let mut long_names = normal();
    long_names.head.workshop = "Harbour Lane ".repeat(16);
    long_names.head.number = "HL-26-".repeat(30);
    long_names.vehicle.name = "W".repeat(200);
    long_names.vehicle.plate = "PH 482 K ".repeat(20);
    long_names.head.persons = (0..30).map(|n| said(&format!("technician {n}"))).collect();
    long_names.before_and_after[0].before = Some(said(&"x".repeat(10_000)));
    long_names.please_note = (0..60).map(|n| said(&format!("point {n} {}", "word ".repeat(n)))).collect();
    let mut short_exchange = normal();
    short_exchange.exchange = Some(exchange(0.5));
    let mut long_exchange = normal();
    long_exchange.exchange = Some(exchange(60.0));
    let mut many_remarks = exchange(9.4);
    many_remarks.remarks =
        (0..20).map(|n| said(&format!("remark {n}, which is long enough to wrap"))).collect();
    let mut no_share = normal();
    no_share.exchange = Some(standpipe_engine::view::ExchangeView { curve: Vec::new(), ..exchange(9.4) });
    let mut remarked = normal();
    remarked.exchange = Some(many_remarks);
    vec![
        ("whole", whole()),
        ("stopped", stopped()),
        ("normal", normal()),
        ("empty", empty()),
        ("40 parts", many_parts),
        ("long names", long_names),
        ("short exchange", short_exchange),
        ("long exchange", long_exchange),
        ("no share", no_share),
        ("many remarks", remarked),
    ]
}

#[test]
fn the_same_view_gives_the_same_bytes() {
    let options = Options { edition: Some(1), ..Options::default() };
    let first = render(&normal(), &options).unwrap();
    assert_eq!(first, render(&normal(), &options).unwrap());
    assert_ne!(first.pdf, render(&normal(), &Options::default()).unwrap().pdf);
    assert!(first.warnings.is_empty(), "{:?}", first.warnings);
}

/// Everything inside the margins, the foot inside its own.
fn assert_inside_the_margins(name: &str, pages: &[Page]) {
    for (number, page) in pages.iter().enumerate() {
        for (left, top, right, bottom, text, size) in boxes(page) {
            let lowest = PAGE_HEIGHT - if size == Style::FOOT.size { FOOT_MARGIN } else { MARGIN };
            let inside = left >= MARGIN - 1e-6
                && right <= PAGE_WIDTH - MARGIN + 1e-6
                && top >= MARGIN - 1e-6
                && bottom <= lowest + 1e-6;
            assert!(inside, "{name}, page {number}: '{text}' at {left} {top} {right} {bottom}");
        }
    }
}

/// No words over others, and none over a photo.
fn assert_nothing_lies_over_another(name: &str, pages: &[Page]) {
    const TOUCH: f64 = 0.05;
    for (number, page) in pages.iter().enumerate() {
        let mut boxes = boxes(page);
        boxes.extend(page.marks.iter().filter_map(|mark| match mark {
            Mark::Photo { at, width, height, .. } => {
                Some((at.x, at.y, at.x + width, at.y + height, "a photo", 0.0))
            }
            _ => None,
        }));
        for (index, one) in boxes.iter().enumerate() {
            for other in boxes.iter().skip(index + 1) {
                let across = one.2.min(other.2) - one.0.max(other.0);
                let down = one.3.min(other.3) - one.1.max(other.1);
                let over = across > TOUCH && down > TOUCH;
                assert!(!over, "{name}, page {number}: '{}' over '{}'", one.4, other.4);
            }
        }
    }
}

#[test]
fn no_text_leaves_the_margins() {
    for (name, view) in strained() {
        assert_inside_the_margins(name, &pages_of(&view));
    }
}

#[test]
fn no_text_lies_over_another() {
    for (name, view) in strained() {
        assert_nothing_lies_over_another(name, &pages_of(&view));
    }
}

#[test]
fn a_normal_job_has_one_page_for_the_customer_and_one_for_the_expert() {
    let pages = pages_of(&normal());
    assert_eq!(pages.len(), 2);
    assert!(words(&pages[0]).starts_with("Transmission fluid service"));
    assert!(words(&pages[0]).contains("Done and fitted") && words(&pages[0]).ends_with("page 1 of 2"));
    assert!(words(&pages[1]).starts_with("Details of the work"));
    assert!(words(&pages[1]).ends_with("page 2 of 2"));
}

#[test]
fn every_record_names_the_maker_s_instructions_and_what_was_not_measured() {
    for (name, view) in strained() {
        let all: String = pages_of(&view).iter().map(words).collect();
        assert!(all.contains("Not measured, not done"), "{name}");
        assert!(all.contains("local rules") && all.contains("licensed practice"), "{name}");
        assert!(all.contains("9c1e 44b0 7a2d e8f3"), "{name}");
    }
}

#[test]
fn a_job_that_is_not_closed_says_so_on_page_one() {
    assert!(words(&pages_of(&empty())[0]).contains("This job is not closed yet."));
    assert!(!words(&pages_of(&normal())[0]).contains("not closed"));
}

#[test]
fn every_letter_of_our_sentences_has_a_glyph() {
    let faces = Faces::shipped().unwrap();
    let missing: BTreeSet<char> =
        source(Language::English).chars().filter(|letter| !can_be_drawn(faces, *letter)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn signs_of_people_that_cannot_be_drawn_are_spelled_out_with_a_warning() {
    let mut view = normal();
    view.vehicle.name = "Marl \u{1f697}".to_owned();
    view.changes[0].why = said("scale \u{2713} \u{202e}again");
    let rendered = render(&view, &Options::default()).unwrap();
    assert_eq!(rendered.warnings.len(), 2, "{:?}", rendered.warnings);
    let all: String = pages_of(&view).iter().map(words).collect();
    for spelled in ["[U+1F697]", "[U+2713]", "[U+202E]"] {
        assert!(all.contains(spelled), "{spelled}");
    }
}

/// Words that are PDF, script or steering signs, each where a person can write.
fn hostile() -> Vec<String> {
    let mut hostile: Vec<String> = [
        ") Tj /JS (app.alert(1)) ET",
        "endstream endobj 1 0 obj << /Type /Catalog /OpenAction << /S /JavaScript /JS (x) >> >> endobj",
        "\\) \\( \\\\ \\053 \\",
        "%%EOF\ntrailer << /Root 1 0 R >>\nstartxref\n0\n%%EOF",
        "<script>alert(1)</script> <<>> [ ] { }",
        "/URI (http://example.invalid) /Launch /AA /EmbeddedFile",
        "\u{202e}kcab\u{202c} \u{2066}x\u{2069}",
        "\u{1f697}\u{fe0f}\u{200d}\u{1f527}",
        "\0\u{1}\u{7}\u{1b}[31m\u{7f}\u{9b}",
        "",
        " ",
    ]
    .map(str::to_owned)
    .to_vec();
    hostile.push("x".repeat(10_000));
    hostile
}

/// Every key of every dictionary, and the number of objects.
fn anatomy(pdf: &[u8]) -> (BTreeSet<String>, usize, usize) {
    fn keys_of(object: &lopdf::Object, keys: &mut BTreeSet<String>) {
        let dictionary = match object {
            lopdf::Object::Dictionary(dictionary) => dictionary,
            lopdf::Object::Stream(stream) => &stream.dict,
            lopdf::Object::Array(items) => return items.iter().for_each(|item| keys_of(item, keys)),
            _ => return,
        };
        for (key, value) in dictionary.iter() {
            keys.insert(String::from_utf8_lossy(key).into_owned());
            keys_of(value, keys);
        }
    }
    let file = lopdf::Document::load_mem(pdf).unwrap();
    let mut keys = BTreeSet::new();
    file.objects.values().for_each(|object| keys_of(object, &mut keys));
    (keys, file.objects.len(), file.get_pages().len())
}

#[test]
fn nothing_a_person_writes_is_read_as_pdf() {
    let (benign_keys, benign_objects, benign_pages) =
        anatomy(&render(&normal(), &Options::default()).unwrap().pdf);
    for refused in ["JS", "JavaScript", "OpenAction", "URI", "Launch", "AA", "EmbeddedFile", "Names"] {
        assert!(!benign_keys.contains(refused), "{refused}");
    }
    for words_of_a_person in hostile() {
        let mut view = normal();
        view.head.workshop = words_of_a_person.clone();
        view.vehicle.plate = words_of_a_person.clone();
        view.changes[0].why = said(&words_of_a_person);
        let (keys, objects, pages) = anatomy(&render(&view, &Options::default()).unwrap().pdf);
        assert_eq!(keys, benign_keys, "{words_of_a_person:?}");
        // A page more has its own page object, its resources and its content.
        assert_eq!(objects, benign_objects + 3 * (pages - benign_pages), "{words_of_a_person:?}");
    }
}

#[test]
fn what_a_person_writes_appears_literally() {
    let literal = ") Tj /JS (x) endstream endobj \\ %%EOF <script>";
    let mut view = normal();
    view.vehicle.plate = literal.to_owned();
    let pdf = render(&view, &Options::default()).unwrap().pdf;
    let file = lopdf::Document::load_mem(&pdf).unwrap();
    let read = file.extract_text(&[1]).unwrap().replace('\n', " ");
    for word in literal.split(' ') {
        assert!(read.contains(word), "{word}: {read}");
    }
}

#[test]
fn the_sentences_that_stand_out_exist_under_their_keys() {
    use standpipe_engine::text::sentence::MESSAGES;
    for key in ["short-share", "exchange-share", "exchange-share-after-pan"] {
        assert!(MESSAGES.iter().any(|message| message.key == key), "{key} is no sentence any more");
    }
}

#[test]
fn next_due_ends_page_one_and_is_left_out_where_nothing_is_due() {
    let mut view = normal();
    assert!(!pages_of(&view).iter().any(|page| words(page).contains("Next due")));
    view.next_due.sentences = vec![sentence::next_due_both("18 March 2030", "168\u{202f}254\u{a0}km")];
    let pages = pages_of(&view);
    let first = words(&pages[0]);
    let (done, due) = (first.find("Done and fitted").unwrap(), first.find("Next due").unwrap());
    assert!(done < due && first.contains("whichever comes first"), "{first}");
    assert!(!pages[1..].iter().any(|page| words(page).contains("Next due")));
}

#[test]
fn a_counted_drip_and_how_full_the_vehicle_arrived_stand_on_the_expert_s_pages_only() {
    let mut view = normal();
    view.level.drip = Some(sentence::level_drip_unknown(120, "reading", "43\u{a0}°C"));
    view.balance.as_mut().unwrap().arrived =
        Some(sentence::balance_arrived("0.8\u{a0}L", "short", "0.4", "0.6\u{a0}L"));
    let pages = pages_of(&view);
    let rest = pages[1..].iter().map(words).collect::<Vec<_>>().join(" ");
    for text in ["120 drops a minute", "short (from 0.4"] {
        assert!(!words(&pages[0]).contains(text) && rest.contains(text), "{text}: {rest}");
    }
}

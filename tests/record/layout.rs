//! Where the words of a record stand, as poppler finds them: inside the margins, and not over each other.

use standpipe_tests::programs;
use std::path::Path;
use std::process::Command;

/// A4 (ISO 216) and our margins in points: 18 mm, at the foot 11 mm.
const WIDTH: f64 = 210.0 * 72.0 / 25.4;
const HEIGHT: f64 = 297.0 * 72.0 / 25.4;
const MARGIN: f64 = 18.0 * 72.0 / 25.4;
const FOOT_MARGIN: f64 = 11.0 * 72.0 / 25.4;
/// Poppler's box of a word is as high as the font's tallest letter and lowest tail, so it sticks out of its line.
const BEYOND: f64 = 3.0;

#[derive(Debug, Clone)]
struct Word {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
    text: String,
}

/// Number of pages.
pub fn pages(pdf: &Path) -> Option<usize> {
    Some(boxes(pdf)?.len())
}

/// The text of one page as it is laid out.
pub fn page_text(pdf: &Path, page: usize) -> Option<String> {
    let page = page.to_string();
    let mut command = Command::new(programs::tool("pdftotext")?);
    let output = command.args(["-layout", "-f", &page, "-l", &page]).arg(pdf).arg("-").output().unwrap();
    assert!(output.status.success());
    Some(String::from_utf8(output.stdout).unwrap())
}

/// The words of each page with their boxes.
fn boxes(pdf: &Path) -> Option<Vec<Vec<Word>>> {
    let output = Command::new(programs::tool("pdftotext")?).arg("-bbox").arg(pdf).arg("-").output().unwrap();
    assert!(output.status.success());
    let html = String::from_utf8(output.stdout).unwrap();
    let mut pages: Vec<Vec<Word>> = Vec::new();
    for line in html.lines().map(str::trim) {
        if line.starts_with("<page ") {
            assert!(
                (number(line, "width") - WIDTH).abs() < 0.1 && (number(line, "height") - HEIGHT).abs() < 0.1,
                "{line}"
            );
            pages.push(Vec::new());
        } else if line.starts_with("<word ") {
            let text = line.split_once('>').unwrap().1.trim_end_matches("</word>").to_owned();
            let [left, top, right, bottom] = ["xMin", "yMin", "xMax", "yMax"].map(|key| number(line, key));
            pages.last_mut().unwrap().push(Word { left, top, right, bottom, text });
        }
    }
    Some(pages)
}

fn number(line: &str, key: &str) -> f64 {
    let rest = line.split_once(&format!("{key}=\"")).unwrap().1;
    rest.split_once('"').unwrap().0.parse().unwrap()
}

fn overlap(from: (f64, f64), with: (f64, f64)) -> f64 {
    (from.1.min(with.1) - from.0.max(with.0)).max(0.0)
}

/// True where one word is written over another: they share width, and more than a third of the lower one's height.
fn collide(one: &Word, other: &Word) -> bool {
    let width = overlap((one.left, one.right), (other.left, other.right));
    let height = overlap((one.top, one.bottom), (other.top, other.bottom));
    let lower = (one.bottom - one.top).min(other.bottom - other.top);
    width > 0.5 && height > lower / 3.0
}

/// Requires every word inside the margins and none over another.
#[track_caller]
pub fn assert_laid_out(pdf: &Path, expected: usize) {
    let Some(pages) = boxes(pdf) else { return };
    assert_eq!(pages.len(), expected);
    for (page, words) in (1..).zip(&pages) {
        assert!(words.len() > 20, "page {page} has {} words", words.len());
        for (index, word) in words.iter().enumerate() {
            let inside = word.left >= MARGIN - 0.5
                && word.right <= WIDTH - MARGIN + 0.5
                && word.top >= MARGIN - BEYOND
                && word.bottom <= HEIGHT - FOOT_MARGIN + BEYOND;
            assert!(inside, "page {page}: {word:?} leaves the margins");
            let over = words[index + 1..].iter().find(|other| collide(word, other));
            assert!(over.is_none(), "page {page}: {word:?} stands over {over:?}");
        }
    }
}

#[test]
fn two_words_on_one_spot_are_told_from_two_lines() {
    let word =
        |left: f64, top: f64| Word { left, top, right: left + 20.0, bottom: top + 11.0, text: "word".into() };
    assert!(collide(&word(100.0, 100.0), &word(110.0, 104.0)));
    assert!(
        !collide(&word(100.0, 100.0), &word(100.0, 110.0))
            && !collide(&word(100.0, 100.0), &word(121.0, 100.0))
    );
    assert_eq!(word(0.0, 0.0).text, "word");
}

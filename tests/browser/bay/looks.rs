//! What the page looks like on a tablet, and what everybody needs who cannot see it well or wears gloves.
//!
//! Web Content Accessibility Guidelines 2.2, with targets larger than they ask for: 64 by 64 points for gloves (house
//! value). Pictures are taken at every run; with `STANDPIPE_SNAPSHOT=update` they are put among the snapshots.

use super::super::axe;
use super::super::pictures::{WRONG, keep};
use super::*;

/// Most bytes of the page with its style and script, as they are sent uncompressed.
const BYTES_MAX: u64 = 100_000;
/// Least height of what is touched, in points.
const TARGET_LEAST: u64 = 64;

impl Tablet<'_> {
    /// Nothing is wrong with the page as it stands, at any width; and its picture.
    #[track_caller]
    fn look(&self, name: &str) {
        for (width, height) in [(640, 800), (820, 1180), (1280, 800)] {
            size_inside(self.browser, width, height);
            assert_eq!(self.run(WRONG), json!([]), "{name} at {width} points");
        }
        axe::assert_accessible(self.browser, name);
        let small = format!(
            "return [...document.querySelectorAll('#ask button, #commands button')].filter(it => it.getClientRects().\
             length > 0 && it.getBoundingClientRect().height < {TARGET_LEAST}).map(it => it.textContent)"
        );
        assert_eq!(self.run(&small), json!([]), "{name}: too small for gloves");
        // Two metres away: the question is 44 points at least, choices 34.
        let size = "return parseFloat(getComputedStyle(document.getElementById('question')).fontSize)";
        assert!(self.run(size).as_f64().unwrap() >= 44.0, "{name}");
        let first = "const it = document.querySelector('#ask button:not(.quiet):not(.done)'); return it ? \
            parseFloat(getComputedStyle(it).fontSize) : 34";
        assert!(self.run(first).as_f64().unwrap() >= 34.0, "{name}");
        keep(&format!("bay-{name}.png"), &self.browser.picture());
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn the_page_reads_well_from_two_metres() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.look("person");
    tablet.person("A");
    tablet.asked("vin", "last_eight");
    tablet.look("identity");
    tablet.answer(&TO_THE_EXCHANGE[..4]);
    tablet.asked("drive-before", "warmth");
    tablet.answer(&TO_THE_EXCHANGE[4..]);
    tablet.asked("exchange", "-");
    tablet.look("go-ahead");
    tablet.answer(FIRST_LOOKS);
    tablet.answer(&LAST_LOOKS[..1]);
    tablet.asked("exchange", "tube_percent");
    tablet.look("look-asked");
    tablet.answer(&LAST_LOOKS[1..2]);
    tablet.asked("exchange", "volume_in_litres");
    tablet.look("after-the-look");
    tablet.answer(&LAST_LOOKS[2..]);
    tablet.answer(PAN);
    tablet.answer(&LEVEL[..2]);
    tablet.browser.wait("document.getElementById('context').textContent.includes('too hot')");
    tablet.asked("temperature", "temperature_celsius");
    tablet.look("level-too-hot");
    let away = office.without_server().await;
    let tablet = Tablet::of(&away.browser);
    tablet.answer(&LEVEL[2..3]);
    tablet.browser.wait("document.getElementById('sent').textContent.includes('offline since')");
    tablet.browser.wait("document.getElementById('ask').hasAttribute('data-open')");
    // What was said of the reading before counts no more, and nobody is told to open anything.
    let page = tablet.shown();
    assert!(!page.contains("open the level plug") && !page.contains("61 °C"), "{page}");
    tablet.look("offline");
    let office = away.back().await;
    office.browser.wait("document.getElementById('sent').textContent === 'all sent'");
    office.go("/bay");
    keep("bay-jobs.png", &office.browser.picture());
    let printed = office.browser.printed();
    assert!(printed.starts_with(b"%PDF-"));
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn page_style_and_script_together_are_at_most_a_hundred_kilobytes() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    tablet.asked("vin", "last_eight");
    let sizes = "const done = arguments[0]; Promise.all(['/bay/HL-26-0001', '/bay.css', '/bay.js'].map(async path => \
        (await (await fetch(path, {cache: 'no-store'})).arrayBuffer()).byteLength)).then(done);";
    let sizes = office.browser.run_on(sizes, json!([]));
    let sum: u64 = sizes.as_array().unwrap().iter().map(|size| size.as_u64().unwrap()).sum();
    println!("page, style and script: {sizes}, together {sum} bytes");
    assert!(sum <= BYTES_MAX, "{sizes}: {sum}");
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn the_keyboard_alone_answers_and_the_focus_goes_to_the_new_question() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    tablet.asked("vin", "last_eight");
    let browser = tablet.browser;
    browser.press(&format!("LA042317{}", super::super::driver::ENTER));
    tablet.asked("variant", "-");
    assert_eq!(tablet.run("return document.activeElement.id"), json!("question"));
    browser.press(&format!("{}{}", super::super::driver::TAB, super::super::driver::ENTER));
    tablet.asked("codes-before", "state");
    assert_eq!(tablet.run("return document.activeElement.id"), json!("question"));
    assert_ne!(
        tablet.run("return document.getElementById('told').textContent"),
        json!(""),
        "what was understood is told"
    );
    office.close().await;
}

//! Everything of a question is seen at once, whichever way the tablet is held, and nothing moves from where it was.

use super::*;
use standpipe_proto::v1::{self, fact::Kind};
use std::collections::BTreeMap;

/// A tablet of ten inches, lying and standing, in points.
const HELD: [(u32, u32); 2] = [(1280, 800), (800, 1280)];

/// What is wrong with the place of anything that is shown: a line each. A line of words may be folded away where a button
/// says so; what is touched is on the page whole, and nothing lies over it.
const ASTRAY: &str = r##"
const wrong = [];
const left = document.querySelector(".left");
if (left.scrollHeight > left.clientHeight + 1) wrong.push("the question scrolls by " + (left.scrollHeight - left.clientHeight));
if (document.documentElement.scrollHeight > innerHeight) wrong.push("the page scrolls");
for (const it of document.querySelectorAll("#ask button, #ask input, #commands button, #refused, #question, #cautions li")) {
  const box = it.getBoundingClientRect();
  if (box.width === 0) continue;
  if (box.bottom > innerHeight + 1 || box.right > innerWidth + 1 || box.top < 0) wrong.push("outside: " + it.textContent);
  const seen = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
  if (!seen || !(it.contains(seen) || seen.contains(it))) wrong.push("covered: " + it.textContent + " by " + (seen && seen.tagName));
}
const lines = [...document.querySelectorAll("#question, #context, .number:not([hidden]), #go-ahead p, #go-ahead li, #now li, #stops li, #told, #curve figcaption p")]
  .map((it) => [it, it.getBoundingClientRect()]).filter(([, box]) => box.width > 0);
for (const [one, a] of lines) for (const [other, b] of lines) {
  if (one === other || one.contains(other) || other.contains(one)) continue;
  if (a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 2 && b.top < a.bottom - 2) wrong.push("over each other: " + one.textContent + " / " + other.textContent);
}
return wrong;
"##;

/// Where each command stands.
const PLACES: &str = "return [...document.querySelectorAll('#commands [data-key]')].map(it => { const box = \
    it.getBoundingClientRect(); return [it.dataset.key, Math.round(box.left), Math.round(box.top - innerHeight)]; })";

impl Tablet<'_> {
    /// Looks at the question as it stands, both ways; `places` holds where each command was seen first.
    #[track_caller]
    fn fits(&self, places: &mut BTreeMap<String, Value>) {
        for (width, height) in HELD {
            size_inside(self.browser, width, height);
            let step = self
                .run("const it = document.querySelector('main').dataset; return it.step + ' ' + it.field");
            assert_eq!(self.run(ASTRAY), json!([]), "{step} at {width} by {height}: {}", self.shown());
            for place in self.run(PLACES).as_array().unwrap() {
                let first = places.entry(format!("{} {width}", place[0])).or_insert_with(|| place.clone());
                assert_eq!(place, first, "{step}: a command has left its place");
            }
        }
        size_inside(self.browser, HELD[0].0, HELD[0].1);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn every_question_of_a_job_fits_both_ways_and_no_command_leaves_its_place() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    let mut places = BTreeMap::new();
    for part in [TO_THE_EXCHANGE, FIRST_LOOKS, LAST_LOOKS, PAN, LEVEL, TO_THE_END] {
        for answered in part {
            tablet.asked(answered.0, answered.1);
            tablet.fits(&mut places);
            tablet.answer(std::slice::from_ref(answered));
        }
    }
    tablet.view("over");
    for (width, _) in HELD {
        let place = |key: &str| &places[&format!("\"{key}\" {width}")];
        let apart = place("skip")[1].as_i64().unwrap() - place("back")[1].as_i64().unwrap();
        assert!(apart > i64::from(width) / 2, "what leaves a step out stands far from back: {apart}");
    }
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_stop_is_said_once_and_the_keys_are_there_under_several() {
    let Some(mut office) = Office::of_today().await else { return };
    office.booked();
    let job = office.job("HL-26-0001").await;
    let tablet = office.tablet(&office.browser, "office");
    tablet.until_looked(&FIRST_LOOKS[..3]);
    let fluid = |code: &str, part| {
        Kind::PartChecked(v1::PartChecked { code: code.to_owned(), part, read_by: 1, ..Default::default() })
    };
    // A container that does not belong here, after fluid was pushed in; and more that left than entered.
    let reading = v1::ExchangeReading {
        volume_in_litres: 6.0,
        volume_out_litres: Some(7.5),
        tube_percent: Some(50),
        ..Default::default()
    };
    office
        .bay_states(&job, [fluid("BR-861", v1::Part::FluidContainer.into()), Kind::ExchangeReading(reading)])
        .await;
    let tablet = Tablet { browser: &office.browser, touches: Cell::new(0) };
    tablet.browser.wait("document.querySelectorAll('#stops li').length > 0");
    // What went in comes out before anything else.
    tablet.asked("engine-off", "");
    tablet.fits(&mut BTreeMap::new());
    tablet.command("other");
    tablet.view("listing");
    tablet.tap("#ask [data-word='exchange']");
    tablet.asked("exchange", "volume_in_litres");
    tablet.fits(&mut BTreeMap::new());
    let page = tablet.shown();
    assert!(page.contains("No go-ahead for the exchange"), "{page}");
    // Once, though perhaps behind the button that shows the rest.
    let said = "return [...document.querySelectorAll('#stops li, #go-ahead li, #now li')].filter(it => !it.hidden && \
        it.textContent.includes('does not belong to')).length";
    assert_eq!(tablet.run(said), json!(1), "{page}");
    let size = "return parseFloat(getComputedStyle(document.querySelector('#go-ahead .answer')).fontSize)";
    assert!(tablet.run(size).as_f64().unwrap() >= 30.0, "the answer of the go-ahead is large");
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn the_cautions_of_a_step_are_large_and_name_every_group_of_its_state() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    let named = "return [...document.querySelectorAll('#cautions strong')].map(it => it.textContent.trim())";
    tablet.answer(&TO_THE_EXCHANGE[..3]);
    tablet.asked("drive-before", "ticks");
    assert_eq!(tablet.run(named), json!(["Driving:"]));
    tablet.answer(&TO_THE_EXCHANGE[3..5]);
    tablet.asked("caution-lifted", "");
    // The whole text of the group is read, larger than anything but the question.
    let size = "return parseFloat(getComputedStyle(document.querySelector('#reading p')).fontSize)";
    assert!(tablet.run(size).as_f64().unwrap() >= 30.0);
    assert!(tablet.shown().contains("nobody under a moving lift"), "{}", tablet.shown());
    tablet.answer(&TO_THE_EXCHANGE[5..]);
    tablet.asked("exchange", "-");
    assert_eq!(tablet.run(named), json!(["Engine running:", "Cooler line:"]));
    let size = "return parseFloat(getComputedStyle(document.querySelector('#cautions li')).fontSize)";
    assert!(tablet.run(size).as_f64().unwrap() >= 25.0);
    tablet.answer(FIRST_LOOKS);
    tablet.answer(LAST_LOOKS);
    // Confirmed together: the engine is off in both.
    tablet.asked("engine-off", "");
    let page = tablet.shown();
    assert!(page.contains("Engine off, cooler line closed") && page.contains("Hot fluid burns"), "{page}");
    assert!(!page.contains("Engine running:"), "{page}");
    tablet.answer(&PAN[..1]);
    tablet.asked("pan", "amount");
    assert_eq!(tablet.run(named), json!(["Hot fluid:", "Used oil:", "Vehicle lifted:"]));
    office.close().await;
}

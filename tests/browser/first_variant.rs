//! A workshop with an empty catalogue: its first job gets as far as its variant, and its first variant is entered.

use super::Office;
use serde_json::json;
use standpipe_tests::facts;

/// Seconds for a key, for a tap with reaching for it, and for going to another box and making up one's mind: values of
/// the size of the keystroke-level model (Card, Moran and Newell, 1980; from memory) for somebody who types slowly.
const KEY_SECONDS: f64 = 0.3;
const TAP_SECONDS: f64 = 1.2;
const FIELD_SECONDS: f64 = 2.0;
/// Most seconds for all of it.
const GREATEST_SECONDS: f64 = 180.0;

/// Counts what a person does.
pub(super) struct Hand<'a> {
    office: &'a Office,
    keys: usize,
    taps: usize,
    fields: usize,
}

impl<'a> Hand<'a> {
    pub(super) fn of(office: &'a Office) -> Self {
        Self { office, keys: 0, taps: 0, fields: 0 }
    }

    pub(super) fn fill(&mut self, name: &str, text: &str) {
        self.office.browser.write(&format!("[id='{name}']"), text);
        self.fields += 1;
        self.keys += text.chars().count();
    }

    /// Types over what stands in a box: all of it is chosen with two keys first.
    pub(super) fn overwrite(&mut self, name: &str, text: &str) {
        let script = "document.querySelector(arguments[0]).select()";
        self.office.browser.run(script, serde_json::json!([format!("[id='{name}']")]));
        self.fill(name, text);
        self.keys += 2;
    }

    pub(super) fn tap(&mut self, selector: &str, then: &str) {
        self.office.browser.click(selector);
        self.taps += 1;
        self.office.browser.wait(then);
    }

    pub(super) fn seconds(&self) -> f64 {
        self.keys as f64 * KEY_SECONDS + self.taps as f64 * TAP_SECONDS + self.fields as f64 * FIELD_SECONDS
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_first_job_and_a_first_variant_take_at_most_three_minutes_with_an_empty_catalogue() {
    let Some(office) = Office::open_bare().await else { return };
    office.sign_in();
    let mut hand = Hand::of(&office);
    hand.tap("main a[href='/open']", "document.querySelector('#plate')");
    hand.fill("plate", "ph 482 k");
    hand.fill("vin", facts::VIN_SECOND_SERIES);
    hand.fill("odometer_kilometres", "118240");
    hand.tap("main button", "document.querySelector('h1').textContent.includes('PH 482 K')");
    hand.tap("main a[href^='/variant']", "document.querySelector('#maker')");
    for (name, text) in [
        ("maker", "Tarnwick"),
        ("name", "Alder-8"),
        ("code", "A8-II"),
        ("label", "second series"),
        ("fluid_code", "LN-847"),
        ("fluid_name", "Linden"),
        ("density_at_15_celsius_kilograms_per_cubic_metre", "847"),
        ("total_fill_litres", "9,0"),
        ("level_from_celsius", "40"),
        ("level_to_celsius", "50"),
        ("source", "Tarnwick parts data"),
        ("edition", "2025-11"),
    ] {
        hand.fill(name, text);
    }
    hand.tap(
        "main form[action='/variant'] button",
        "document.querySelector('select option[value=\"ANSWER_YES\"]')",
    );
    // The plate on the transmission agrees: opened, chosen, sent.
    hand.tap("main select option[value='ANSWER_YES']", "true");
    hand.taps += 1;
    hand.tap("main form.search button", "document.querySelector('h1').textContent.includes('PH 482 K')");
    let page = office.browser.text();
    assert!(page.contains("second series") && !page.contains("Enter its variant"), "{page}");
    let story =
        "return [...document.querySelectorAll('tr[id^=entry-]')].map(row => row.innerText).join('; ')";
    let story = office.browser.run(story, json!([]));
    assert!(story.as_str().unwrap().contains("Tarnwick parts data, 2025-11"), "{story}");
    let seconds = hand.seconds();
    println!("{} keys, {} taps, {} boxes: {seconds:.0} s", hand.keys, hand.taps, hand.fields);
    assert!(seconds <= GREATEST_SECONDS, "{seconds:.0} s");
    office.go("/catalogue");
    assert!(office.browser.text().contains("Alder-8, second series"));
    office.assert_quiet();
    office.close().await;
}

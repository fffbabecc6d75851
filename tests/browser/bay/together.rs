//! The page beside others: an instrument that reads, another tablet at the same job.

use super::*;
use standpipe_proto::v1::{self, fact::Kind};

fn read(litres: f64, tube: Option<i32>) -> Kind {
    let reading = v1::ExchangeReading { volume_in_litres: litres, tube_percent: tube, ..Default::default() };
    Kind::ExchangeReading(reading)
}

/// Rightmost place of the line that is drawn.
const DRAWN: &str = "Math.max(...[...document.querySelectorAll('.curve-line')].flatMap(line => \
    line.getAttribute('points').trim().split(' ').map(point => Number(point.split(',')[0]))))";

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn the_curve_grows_while_another_station_reads_and_the_estimate_hides_while_a_look_is_asked() {
    let Some(mut office) = Office::of_today().await else { return };
    office.booked();
    let job = office.job("HL-26-0001").await;
    let tablet = office.tablet(&office.browser, "office");
    tablet.until_looked(FIRST_LOOKS);
    let number =
        "document.querySelector('#number .number:not([hidden]) strong').textContent.replace('\\u{a0}', ' ')";
    tablet.browser.wait(&format!("{number} === '6.0 L'"));
    let before = tablet.run(&format!("return {DRAWN}")).as_f64().unwrap();
    assert!(
        tablet.shown().contains("of 100 parts are new"),
        "the estimate came with the answer: {}",
        tablet.shown()
    );
    office.bay_states(&job, [read(7.4, None)]).await;
    let tablet = Tablet { browser: &office.browser, touches: Cell::new(0) };
    tablet.browser.wait(&format!("{number} === '7.4 L'"));
    tablet.browser.wait(&format!("{DRAWN} > {before}"));
    // The next look: litres first, then the tube.
    tablet.answer(&[("exchange", "volume_in_litres", Number("8", "L"))]);
    tablet.asked("exchange", "tube_percent");
    let seen = "return [...document.querySelectorAll('.estimate')].filter(it => it.getClientRects().length > 0).length";
    assert_eq!(tablet.run(seen), json!(0), "nothing of the estimate is seen");
    assert!(!tablet.shown().contains("of 100 parts are new"), "{}", tablet.shown());
    // Nor any other line that tells a value; an alarm would stand.
    let told = "return [...document.querySelectorAll('#now li:not(.alarm)')].filter(it => it.getClientRects().length > 0).length";
    assert_eq!(tablet.run(told), json!(0));
    let circles = tablet.run("return document.querySelectorAll('svg.flat circle.look').length");
    tablet.answer(&[("exchange", "tube_percent", Taps(&["75"]))]);
    tablet.asked("exchange", "volume_in_litres");
    tablet.browser.wait("document.querySelector('figcaption .estimate').getClientRects().length > 0");
    assert!(tablet.shown().contains("of 100 parts are new"));
    let now = tablet.run("return document.querySelectorAll('svg.flat circle.look').length");
    assert_eq!(now.as_u64(), circles.as_u64().map(|it| it + 1));
    office.assert_quiet();
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn two_tablets_at_one_job_see_each_others_answers() {
    let Some(office) = Office::of_today().await else { return };
    let Some(other) = Browser::start() else { return };
    office.booked();
    let one = office.at_bay();
    one.person("A");
    one.answer(&TO_THE_EXCHANGE[..2]);
    let two = office.tablet(&other, "office");
    two.person("B");
    two.asked("codes-before", "state");
    one.answer(&TO_THE_EXCHANGE[2..3]);
    two.asked("drive-before", "ticks");
    two.answer(&TO_THE_EXCHANGE[3..5]);
    one.asked("caution-lifted", "");
    assert!(one.shown().contains("harsh changes"), "{}", one.shown());
    office.close().await;
}

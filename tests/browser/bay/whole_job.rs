//! The whole job of the demo through the page, counted.

use super::*;

/// Touches of a normal job at most (practice of the trade: nobody types more in gloves).
const TOUCHES_MAX: usize = 90;

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_whole_normal_job_takes_at_most_ninety_touches_on_the_page() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    for part in [TO_THE_EXCHANGE, FIRST_LOOKS, LAST_LOOKS, PAN, LEVEL, TO_THE_END] {
        tablet.answer(part);
    }
    tablet.view("over");
    let touches = tablet.touches.get();
    println!("a whole normal job on the page: {touches} touches");
    assert!(touches <= TOUCHES_MAX, "{touches} touches");
    assert!(tablet.shown().contains("The job is closed."), "{}", tablet.shown());
    office.go("/job/HL-26-0001");
    let page = office.browser.text().replace('\u{a0}', " ");
    for words in ["61 °C", "43 °C", "LN-847", "SP-68", "0.12", "L-2209", "The job is closed."] {
        assert!(page.contains(words), "{words}: {page}");
    }
    office.assert_quiet();
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn two_taps_state_once_and_a_step_that_was_left_out_or_put_off_is_told_so() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    tablet.answer(&TO_THE_EXCHANGE[..2]);
    tablet.asked("codes-before", "state");
    let twice =
        "const it = document.querySelector(\"#ask [data-word='none']\"); it.click(); it.click(); it.click();";
    tablet.run(twice);
    tablet.asked("drive-before", "ticks");
    tablet.command("skip");
    tablet.view("skipping");
    tablet.tap("#ask [data-word='not-possible']");
    tablet.asked("caution-lifted", "");
    let skips = "return document.querySelectorAll(\"#commands [data-key='skip']\").length";
    assert_eq!(tablet.run(skips), json!(0), "what safety rests on is never left out");
    tablet.command("later");
    tablet.asked("fluid", "-");
    tablet.command("back");
    tablet.asked("caution-lifted", "");
    assert!(tablet.shown().contains("left out"), "{}", tablet.shown());
    office.go("/job/HL-26-0001");
    let codes = "return document.querySelector('main').innerText.split('Fault codes before').length";
    assert_eq!(office.browser.run(codes, json!([])), json!(2), "{}", office.browser.text());
    office.close().await;
}

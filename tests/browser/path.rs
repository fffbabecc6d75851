//! What the office does in a day.

use super::driver::{ENTER, SPACE, TAB};
use super::{Office, PIN};
use serde_json::json;
use standpipe_tests::facts;

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_job_is_opened_watched_live_printed_issued_reprinted_and_found_again() {
    let Some(mut office) = Office::open().await else { return };
    office.sign_in();
    office.browser.click("main a[href='/open']");
    for (name, text) in [
        ("plate", "ph 482 k"),
        ("vin", facts::VIN_SECOND_SERIES),
        ("odometer_kilometres", "118 240"),
        ("vehicle_maker", "Tarnwick"),
        ("vehicle_model", "Marl"),
        ("name", "Customer C"),
        ("telephone", "0555 0199"),
    ] {
        office.browser.write(&format!("#{name}"), text);
    }
    office.browser.click("input[value='VISIT_REASON_HARSH_CHANGE']");
    office.browser.click("main button");
    office.browser.wait("document.querySelector('h1').textContent.includes('PH 482 K')");
    let number =
        office.browser.run("return document.querySelector('h1').textContent.slice(0, 10)", json!([]));
    assert_eq!(number, "HL-26-0001");
    office.go("/");
    office.browser.wait("document.querySelector('tbody a').textContent === 'HL-26-0001'");
    let job = office.job("HL-26-0001").await;

    // Somebody types and selects while the bay works: the page changes around it.
    office.browser.wait("document.querySelector('#live-note').textContent === 'Kept up to date.'");
    office.browser.write("#search", "half a wor");
    office.browser.run("window.unbroken = true", json!([]));
    office.bay_states(&job, [facts::last_eight(&facts::VIN_SECOND_SERIES[9..])]).await;
    office.bay_states(&job, [facts::settled_by_rule("A8-II")]).await;
    office.browser.wait("document.querySelector('tbody tr').innerText.includes('second series')");
    let kept = "return [window.unbroken, document.activeElement.id, document.activeElement.value]";
    assert_eq!(office.browser.run(kept, json!([])), json!([true, "search", "half a wor"]));

    office.go("/job/HL-26-0001");
    office.browser.wait("document.querySelector('#live-note').textContent === 'Kept up to date.'");
    office.browser.run("window.unbroken = true; document.querySelector('.ways a').focus()", json!([]));
    let rows = office.browser.run("return document.querySelectorAll('tr[id^=entry-]').length", json!([]));
    let rest: Vec<_> = facts::whole_service().into_iter().skip(4).collect();
    let stated = rest.len() as u64;
    office.bay_states(&job, rest).await;
    let rows = rows.as_u64().unwrap() + stated;
    office.browser.wait(&format!("document.querySelectorAll('tr[id^=entry-]').length === {rows}"));
    office.browser.wait("document.querySelector('main').innerText.includes('The job is closed')");
    let kept = "return [window.unbroken, document.activeElement.getAttribute('href')]";
    assert_eq!(office.browser.run(kept, json!([])), json!([true, "/job/HL-26-0001/record.pdf"]));

    office.paper("/job/HL-26-0001/record.pdf");
    office.browser.follow("form[action$='/issue'] button");
    assert_eq!(office.browser.address(), office.at("/job/HL-26-0001/edition/1"));
    office.go("/job/HL-26-0001");
    let first = office.paper("/job/HL-26-0001/edition/1");
    // The page comes back at its own address, so it is the button that has to go.
    office.browser.click("form[action$='/handover'] button");
    office
        .browser
        .wait("document.readyState === 'complete' && !document.querySelector(\"form[action$='/handover']\")");
    assert_eq!(office.browser.address(), office.at("/job/HL-26-0001"));
    let buttons = "return document.querySelectorAll('.ways button').length";
    assert_eq!(office.browser.run(buttons, json!([])), json!(0), "issued and handed over");
    office.bay_states(&job, [facts::temperature(30.0)]).await;
    office.browser.wait("document.querySelector('main').innerText.includes('30\u{a0}°C')");
    assert_eq!(office.paper("/job/HL-26-0001/edition/1"), first, "a reprint is the same to the byte");
    assert_ne!(office.paper("/job/HL-26-0001/record.pdf"), first);

    for wanted in ["PH482K", "ph 482", "HL-26-0001", "26-0001", "customer c", "7LA042317", "0555 0199"] {
        office.go("/");
        office.browser.write("#search", &format!("{wanted}{ENTER}"));
        office.browser.wait(&format!("new URLSearchParams(location.search).get('search') === '{wanted}'"));
        assert!(office.browser.text().contains("PH 482 K"), "{wanted} finds it");
    }
    office.go("/?search=XX+999");
    assert!(office.browser.text().contains("No job fits 'XX 999'."));
    office.assert_quiet();
    office.close().await;
}

/// What is focused: its tag and what names it; and whether that is to be seen.
const FOCUSED: &str = "const it = document.activeElement; const style = getComputedStyle(it); return [it.tagName + ' ' + \
    (it.id || it.getAttribute('href') || it.value || it.textContent.trim()), style.outlineStyle !== 'none' && \
    parseFloat(style.outlineWidth) >= 2 && it.getBoundingClientRect().height > 10];";

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn everything_is_reached_and_done_by_the_keyboard_alone() {
    let Some(office) = Office::open().await else { return };
    let browser = &office.browser;
    office.go("/login");
    browser.press(&format!("B{TAB}{PIN}{ENTER}"));
    browser.wait("document.querySelector('h1').textContent === 'Jobs'");
    let mut order = Vec::new();
    for _ in 0..11 {
        browser.press(TAB);
        let focused = browser.run(FOCUSED, json!([]));
        assert_eq!(focused[1], true, "the focus on {} is seen", focused[0]);
        order.push(focused[0].as_str().unwrap().to_owned());
    }
    let expected = [
        "A #content",
        "A /",
        "A /store",
        "A /tools",
        "A /waste",
        "A /month",
        "A /catalogue",
        "BUTTON Sign out office B",
        "A /open",
        "INPUT search",
        "BUTTON Search",
    ];
    assert_eq!(order, expected);
    // Over the link to the form, and through it.
    office.go("/");
    // A key that comes while the page still takes over the keyboard is lost, so it is looked at after each.
    let reached = (0..expected.len()).any(|_| {
        browser.press(TAB);
        browser.run(FOCUSED, json!([]))[0] == "A /open"
    });
    assert!(reached, "the link to the form is reached");
    browser.press(ENTER);
    browser.wait("document.querySelector('h1').textContent === 'Open a job'");
    assert_eq!(browser.run(FOCUSED, json!([]))[0], "INPUT plate", "the first box has the focus");
    // The day of first registration is left out.
    browser.press(&format!(
        "PH 482 K{TAB}{}{TAB}118240{TAB}Tarnwick{TAB}Marl{TAB}{TAB}{TAB}",
        facts::VIN_SECOND_SERIES
    ));
    // Past the other seven reasons and the job complained of to the words, then the customer.
    browser.press(&format!("{SPACE}{}Jerks when cold.{TAB}Service{TAB}", TAB.repeat(9)));
    browser.press(&format!("Customer C{TAB}0555 0199{TAB}{ENTER}"));
    browser.wait("document.querySelector('h1').textContent.includes('PH 482 K')");
    let page = browser.text().replace('\u{a0}', " ");
    assert!(page.contains("Customer C") && page.contains("118\u{202f}240 km"), "{page}");
    office.assert_quiet();
    office.close().await;
}

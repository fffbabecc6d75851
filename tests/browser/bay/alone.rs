//! The page without its server: answers go on, wait in the browser, and are stated once when the server is back.

use super::*;

/// Whether the browser asks before this page is left.
const LEAVES: &str = "const it = new Event('beforeunload', { cancelable: true }); window.dispatchEvent(it); return it.defaultPrevented";

/// Entries of the job in the journal, by the page of the office.
fn stated(office: &Office) -> usize {
    let script = "const done = arguments[1]; fetch(arguments[0], {cache: 'no-store'}).then(a => a.text()).then(text => \
        done(Number(/data-seq=\"(\\d+)\"/.exec(text)[1])));";
    let seq = office.browser.run_on(script, json!([format!("{JOB}/part")]));
    usize::try_from(seq.as_u64().unwrap()).unwrap()
}

/// A tablet at the booked job that stated its first answer; nothing where there is no browser.
async fn with_first_answer() -> Option<Office> {
    let office = Office::of_today().await?;
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    tablet.answer(&TO_THE_EXCHANGE[..1]);
    tablet.asked("variant", "-");
    Some(office)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn answers_go_on_without_the_server_and_are_stated_once_when_it_is_back() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    tablet.answer(&TO_THE_EXCHANGE[..5]);
    tablet.asked("caution-lifted", "");
    let before = stated(&office);
    let away = office.without_server().await;
    let tablet = Tablet::of(&away.browser);
    tablet.answer(&TO_THE_EXCHANGE[5..6]);
    tablet.browser.wait("document.getElementById('sent').textContent.includes('offline since')");
    tablet.answer(&TO_THE_EXCHANGE[6..]);
    tablet.asked("exchange", "-");
    let page = tablet.shown();
    // Two steps by one tap are two entries.
    assert!(page.contains("8 answers kept here"), "{page}");
    assert!(page.contains("No go-ahead is known while offline"), "{page}");
    let seen = "return [...document.querySelectorAll('#go-ahead p, .estimate')].some(it => it.getClientRects().length > 0)";
    assert_eq!(tablet.run(seen), json!(false), "no old go-ahead and no estimate");
    assert_eq!(
        tablet.run(LEAVES),
        json!(true),
        "whoever would leave a page that cannot be loaded again is asked"
    );
    let office = away.back().await;
    office.browser.wait("document.getElementById('sent').textContent === 'all sent'");
    assert_eq!(stated(&office), before + 8, "nothing twice, nothing lost");
    let tablet = Tablet::of(&office.browser);
    tablet.asked("exchange", "-");
    assert_eq!(tablet.run(LEAVES), json!(false));
    assert!(tablet.shown().contains("Go-ahead for the exchange"), "{}", tablet.shown());
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn an_answer_that_the_server_took_without_its_word_coming_back_is_posted_again_with_the_same_bytes() {
    let Some(office) = with_first_answer().await else { return };
    let tablet = Tablet::of(&office.browser);
    let before = stated(&office);
    // The first answer is lost on its way back.
    let lose = "const real = window.fetch; window.posted = []; window.fetch = async (path, options) => { if (options && \
        options.method === 'POST') { window.posted.push(options.body); if (window.posted.length === 1) { await real(path, \
        options); throw new TypeError('lost'); } } return real(path, options); };";
    tablet.run(lose);
    tablet.answer(&TO_THE_EXCHANGE[1..2]);
    tablet
        .browser
        .wait("window.posted.length >= 2 && document.getElementById('sent').textContent === 'all sent'");
    let posted = tablet.run("return window.posted");
    assert_eq!(posted[0], posted[1], "the same bytes");
    tablet.asked("codes-before", "state");
    assert_eq!(stated(&office), before + 1);
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn two_tabs_of_one_tablet_share_their_numbers_and_state_nothing_twice() {
    let Some(office) = with_first_answer().await else { return };
    let tablet = Tablet::of(&office.browser);
    let before = stated(&office);
    let first = office.browser.another_tab();
    office.go(JOB);
    office.browser.wait("document.querySelector('main').dataset.ready === 'yes'");
    tablet.answer(&TO_THE_EXCHANGE[1..2]);
    tablet.asked("codes-before", "state");
    office.browser.tab(&first);
    tablet.answer(&TO_THE_EXCHANGE[2..3]);
    tablet.asked("drive-before", "ticks");
    assert_eq!(stated(&office), before + 2);
    let kept = tablet.run(
        "const it = JSON.parse(localStorage.getItem('standpipe-bay')); return [it.number, it.waiting.length]",
    );
    assert_eq!(kept, json!([3, 0]), "one row of numbers");
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_storage_that_was_set_back_draws_a_new_epoch_and_loses_nothing() {
    let Some(office) = with_first_answer().await else { return };
    let tablet = Tablet::of(&office.browser);
    let back = "const it = JSON.parse(localStorage.getItem('standpipe-bay')); it.number = 0; \
        localStorage.setItem('standpipe-bay', JSON.stringify(it)); return it.epoch;";
    let epoch = tablet.run(back);
    let before = stated(&office);
    tablet.answer(&TO_THE_EXCHANGE[1..2]);
    tablet.asked("codes-before", "state");
    assert_eq!(stated(&office), before + 1);
    let now = tablet.run("return JSON.parse(localStorage.getItem('standpipe-bay')).epoch");
    assert_ne!(now, epoch);
    office.close().await;
}

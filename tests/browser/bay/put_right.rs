//! What was answered before is asked again, taken back, put off or signed, all by touch.

use super::*;
use standpipe_server::Desk;

/// The answers of a job in words, as the office reads them.
fn story(office: &Office) -> String {
    let script = "const done = arguments[0]; fetch('/job/HL-26-0001', {cache: 'no-store'}).then(a => a.text()).then(text => \
        done(new DOMParser().parseFromString(text, 'text/html').querySelector('main').textContent));";
    office.browser.run_on(script, json!([])).as_str().unwrap().replace('\u{a0}', " ")
}

/// A person who is signed in with a PIN, at the booked job.
async fn with_office_person() -> Option<Office> {
    let office = Office::of_today().await?;
    office.booked();
    office.go(JOB);
    office.browser.wait("document.querySelector('main').dataset.ready === 'yes'");
    size_inside(&office.browser, 1280, 800);
    Some(office)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_wrong_vin_of_the_papers_is_put_right_from_the_line_of_its_step() {
    let Some(office) = with_office_person().await else { return };
    let tablet = Tablet::of(&office.browser);
    tablet.answer(&TO_THE_EXCHANGE[..4]);
    tablet.asked("drive-before", "warmth");
    tablet.tap("#steps li:first-child");
    tablet.view("answers");
    assert_eq!(tablet.run("return document.querySelectorAll('#ask [data-word=\"vin\"]').length"), json!(2));
    // The one of the booking, which is below the other.
    tablet.browser.run("document.querySelectorAll('#ask [data-word=\"vin\"]')[1].click()", json!([]));
    tablet.view("former");
    assert!(tablet.shown().contains(standpipe_tests::facts::VIN_SECOND_SERIES), "{}", tablet.shown());
    tablet.tap("#ask [data-word='again']");
    tablet.answer(&[("vin", "vin", Text(standpipe_tests::facts::VIN_FIRST_SERIES))]);
    tablet.view("reason");
    tablet.tap("#ask [data-word='read']");
    tablet.browser.wait("document.getElementById('sent').textContent === 'all sent'");
    tablet.browser.wait("document.querySelector('main').dataset.view === 'asking'");
    let story = story(&office);
    let put_right = format!("VIN {}, read in the papers", standpipe_tests::facts::VIN_FIRST_SERIES);
    assert!(story.contains(&put_right) && story.contains("read wrongly"), "{story}");
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn back_asks_the_last_answer_again_or_takes_it_back_and_what_was_put_off_stays_so_over_a_reload() {
    let Some(office) = with_office_person().await else { return };
    let tablet = Tablet::of(&office.browser);
    tablet.answer(&TO_THE_EXCHANGE[..3]);
    tablet.asked("drive-before", "ticks");
    tablet.command("back");
    tablet.view("former");
    tablet.tap("#ask [data-word='again']");
    tablet.asked("codes-before", "state");
    tablet.tap("#ask [data-word='not-readable']");
    tablet.view("reason");
    tablet.tap("#ask [data-word='looked']");
    tablet.asked("drive-before", "ticks");
    tablet.command("later");
    tablet.asked("caution-lifted", "");
    office.go(JOB);
    tablet.asked("caution-lifted", "");
    tablet.answer(&TO_THE_EXCHANGE[5..6]);
    tablet.asked("sample-before", "-");
    tablet.command("back");
    tablet.view("former");
    tablet.tap("#ask [data-word='withdraw']");
    tablet.view("reason");
    tablet.tap("#ask [data-word='typed']");
    tablet.browser.wait("document.querySelector('main').dataset.view === 'asking'");
    let story = story(&office);
    assert!(story.contains("looked again and saw something else") && story.contains("Withdrawn"), "{story}");
    let kept = "return localStorage.getItem('standpipe-bay-later')";
    assert_eq!(tablet.run(kept), json!("[[\"HL-26-0001\",[\"drive-before\"]]]"));
    tablet.command("other");
    tablet.view("listing");
    tablet.tap("#ask [data-word='drive-before']");
    tablet.answer(&TO_THE_EXCHANGE[3..5]);
    tablet.browser.wait("localStorage.getItem('standpipe-bay-later') === '[]'");
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_stopped_job_is_signed_with_the_pin_by_touch_and_a_wrong_pin_is_said() {
    let Some(office) = with_office_person().await else { return };
    let tablet = Tablet::of(&office.browser);
    tablet.asked("vin", "last_eight");
    tablet.command("other");
    tablet.view("listing");
    tablet.command("stop-job");
    tablet.view("stopping");
    tablet.tap("#ask [data-word='3']");
    tablet.view("stopping");
    tablet.tap("#ask [data-word='informed']");
    tablet.view("stopping");
    tablet.tap("#ask [data-word='stop']");
    tablet.view("signing");
    for digit in "0000".chars() {
        tablet.tap(&format!("#ask [data-digit='{digit}']"));
    }
    assert_eq!(tablet.run("return document.querySelector('.shown').textContent"), json!("••••"));
    tablet.tap("#ask .unit");
    tablet.browser.wait("document.getElementById('refused').innerText.includes('PIN')");
    tablet.view("signing");
    for digit in super::super::PIN.chars() {
        tablet.tap(&format!("#ask [data-digit='{digit}']"));
    }
    tablet.tap("#ask .unit");
    tablet.view("over");
    let story = story(&office);
    assert!(
        story.contains("the customer does not want it") && story.contains("signed with a PIN"),
        "{story}"
    );
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn how_a_temperature_is_read_is_asked_once_a_job_and_shown_after() {
    let Some(office) = with_office_person().await else { return };
    let tablet = Tablet::of(&office.browser);
    for part in [TO_THE_EXCHANGE, FIRST_LOOKS, LAST_LOOKS, PAN] {
        tablet.answer(part);
    }
    tablet.answer(&[("temperature", "means", Taps(&["thermometer"])), LEVEL[1]]);
    tablet.asked("temperature", "temperature_celsius");
    let beside = "return document.querySelector('#ask [data-key=\"read-with\"]').textContent";
    assert!(tablet.run(beside).as_str().unwrap().contains("thermometer"));
    tablet.tap("#ask [data-key='read-with']");
    tablet.answer(&[("temperature", "means", Taps(&["scan-tool"])), LEVEL[2]]);
    tablet.asked("level", "overflow");
    let story = story(&office);
    assert!(story.contains("61 °C: fluid in the transmission (thermometer)"), "{story}");
    assert!(story.contains("43 °C: fluid in the transmission (scan tool)"), "{story}");
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_photo_of_the_tablet_is_kept_with_the_job() {
    let Some(office) = with_office_person().await else { return };
    let tablet = Tablet::of(&office.browser);
    tablet.asked("vin", "last_eight");
    tablet.command("photo");
    // The chooser of files is the browser's; what it would give is put into its field.
    let chosen = "const done = arguments[0]; const canvas = document.createElement('canvas'); canvas.width = 64; \
        canvas.height = 48; canvas.getContext('2d').fillRect(0, 0, 64, 48); canvas.toBlob(blob => { const files = new \
        DataTransfer(); files.items.add(new File([blob], 'any.jpg', { type: 'image/jpeg' })); const input = \
        document.querySelector('input[type=file]'); input.files = files.files; input.dispatchEvent(new Event('change')); \
        done(true); }, 'image/jpeg');";
    office.browser.run_on(chosen, json!([]));
    tablet.browser.wait("document.getElementById('told').textContent.startsWith('Photo')");
    let story = story(&office);
    assert!(story.contains("Photo: "), "{story}");
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn without_locks_of_the_browser_two_tabs_draw_no_number_twice() {
    let Some(office) = with_office_person().await else { return };
    let tablet = Tablet::of(&office.browser);
    tablet.asked("vin", "last_eight");
    let draw = "Object.defineProperty(navigator, 'locks', { value: undefined }); window.drawn = \
        Promise.all([1, 2, 3, 4].map(() => standpipe.envelope({}))).then(all => all.map(it => it.number));";
    tablet.run(draw);
    let first = office.browser.another_tab();
    office.go(JOB);
    office.browser.wait("document.querySelector('main').dataset.ready === 'yes'");
    tablet.run(draw);
    let drawn = "const done = arguments[0]; window.drawn.then(done);";
    let mut numbers = office.browser.run_on(drawn, json!([])).as_array().unwrap().clone();
    office.browser.tab(&first);
    numbers.extend(office.browser.run_on(drawn, json!([])).as_array().unwrap().clone());
    let mut numbers: Vec<u64> = numbers.iter().map(|number| number.as_u64().unwrap()).collect();
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=8).collect::<Vec<u64>>());
    assert_eq!(tablet.run("return localStorage.getItem('standpipe-bay-lease')"), Value::Null, "given back");
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_page_at_which_nobody_is_listed_says_what_to_do() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let away = office.without_server().await;
    let mut desk = Desk::open(&away.site.dir()).await.unwrap();
    for person in ["A", "B"] {
        desk.remove_person(person).await.unwrap();
    }
    desk.close().await.unwrap();
    let office = away.back().await;
    let tablet = office.at_bay();
    tablet.view("person");
    assert!(tablet.shown().contains("Whoever looks after the shop server"), "{}", tablet.shown());
    office.close().await;
}

//! What cannot be taken is said at once, large and beside what was typed, and nothing of it is lost.

use super::*;

/// The box of the refusal with what it says; its size in points.
const REFUSED: &str = "const it = document.getElementById('refused'); return [it.innerText.replace(/\\u00a0/g, ' '), \
    it.getClientRects().length > 0 ? parseFloat(getComputedStyle(it.querySelector('p')).fontSize) : 0, \
    it.nextElementSibling.id]";

impl Tablet<'_> {
    /// What is refused, which stands large and right above the keys.
    #[track_caller]
    fn refused(&self) -> String {
        let told = self.run(REFUSED);
        assert!(told[1].as_f64().unwrap() >= 30.0, "{told}");
        assert_eq!(told[2], json!("ask"), "beside what was typed");
        told[0].as_str().unwrap().to_owned()
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_value_out_of_bounds_is_refused_at_its_own_question_and_stays_to_be_put_right() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    tablet.asked("vin", "last_eight");
    tablet.browser.write("#typed", "LAO42317");
    tablet.tap("#ask .done");
    let said = tablet.refused();
    assert!(said.starts_with("VIN: the letter O") && said.contains("most often a 0"), "{said}");
    assert_eq!(tablet.run("return document.getElementById('typed').value"), json!("LAO42317"));
    tablet.run("document.getElementById('typed').value = ''");
    tablet.browser.write("#typed", "la 042-31");
    tablet.tap("#ask .done");
    assert!(tablet.refused().contains("VIN: 7 characters, 8 are needed"), "{}", tablet.refused());
    // Only what lacks is typed.
    tablet.browser.write("#typed", "7");
    tablet.tap("#ask .done");
    tablet.asked("variant", "-");
    tablet.answer(&TO_THE_EXCHANGE[1..]);
    tablet.answer(&FIRST_LOOKS[..1]);
    tablet.answer(&[("exchange", "volume_in_litres", Number("99", "L"))]);
    // The bound of the one table, `ExchangeReading.volume_in_litres` in proto/src/limits.rs.
    let said = tablet.refused();
    assert!(said.contains("Litres pushed in so far: 99 L is not between 0 and 60 L"), "{said}");
    tablet.asked("exchange", "volume_in_litres");
    assert_eq!(tablet.run("return document.querySelector('.shown').textContent"), json!("99"));
    let away = office.without_server().await;
    let tablet = Tablet::of(&away.browser);
    tablet.tap("#ask [data-digit='erase']");
    tablet.tap("#ask [data-unit='L']");
    tablet.asked("exchange", "tube_percent");
    assert_eq!(tablet.run(REFUSED)[1], json!(0), "what was put right is not refused any more");
    tablet.tap("#ask [data-word='75']");
    tablet.browser.wait("document.getElementById('sent').textContent.includes('offline since')");
    tablet.answer(&[("exchange", "volume_in_litres", Number("77", "L"))]);
    assert!(tablet.refused().contains("77 L is not between 0 and 60 L"), "also without the server");
    assert!(tablet.shown().contains("1 answer kept here"), "{}", tablet.shown());
    let office = away.back().await;
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn an_answer_that_only_the_server_refuses_keeps_what_was_answered_behind_it() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    tablet.asked("vin", "last_eight");
    let asked = "const field = (name, input) => ({ name, ask: name, input, choices: [], units: ['L'], needed: true }); \
        const step = { name: 's', kind: 'k', preset: [], fields: [field('a', 'quantity'), field('b', 'quantity'), \
        field('c', 'text')] }; const asked = new standpipe.Asked(step, { only_with: [], alone: [] }, null); \
        asked.take('1 L', '1 L'); asked.take('2 L', '2 L'); asked.take('x', 'x'); asked.again('b'); \
        const before = [asked.field.name, asked.given[asked.at], asked.isComplete]; asked.take('3 L', '3 L'); \
        return [before, asked.isComplete, asked.stated];";
    assert_eq!(
        tablet.run(asked),
        json!([["b", "2 L", false], true, [["a", "1 L"], ["b", "3 L"], ["c", "x"]]])
    );
    office.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_refusal_of_an_answer_kept_offline_stays_over_a_reload_until_somebody_has_read_it() {
    let Some(office) = Office::of_today().await else { return };
    office.booked();
    let tablet = office.at_bay();
    tablet.person("A");
    tablet.asked("vin", "last_eight");
    let refused = "const it = JSON.parse(localStorage.getItem('standpipe-bay')); it.told.push({ id: 'x', job: \
        'HL-26-0001', ok: false, untold: true, line: 'Volume: 99 L is outside 0 to 60 L', field: '' }); \
        localStorage.setItem('standpipe-bay', JSON.stringify(it));";
    tablet.run(refused);
    for _ in 0..2 {
        office.go(JOB);
        tablet.asked("vin", "last_eight");
        let said = tablet.refused();
        assert!(said.contains("An answer was not kept: Volume: 99 L"), "{said}");
    }
    tablet.tap("#refused [data-key='noticed']");
    tablet.browser.wait("document.getElementById('refused').getClientRects().length === 0");
    office.go(JOB);
    tablet.asked("vin", "last_eight");
    assert_eq!(tablet.run(REFUSED)[1], json!(0));
    office.close().await;
}

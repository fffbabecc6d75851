//! The page beside the vehicle in a real browser of the size of a tablet: a whole job by taps, and what the page does
//! without the server, beside another tablet and while an instrument reads.
//!
//! How touches are counted: every tap is one, and every sign that is typed into a box, as a terminal counts its keys.
//! What the office types when it books the vehicle is not the bay's and not in it.

mod alone;
mod fits;
mod looks;
mod put_right;
mod refused;
mod together;
mod whole_job;

use super::Office;
use super::driver::Browser;
use serde_json::{Value, json};
use standpipe_server::{Server, ServerOptions};
use standpipe_tests::clock::Hand;
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::Site;
use std::cell::Cell;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

const JOB: &str = "/bay/HL-26-0001";

/// What answers one question.
#[derive(Debug, Clone, Copy)]
enum By {
    /// Taps, one after the other.
    Taps(&'static [&'static str]),
    /// A number on the page's own keys, then its unit.
    Number(&'static str, &'static str),
    /// Signs in a box, then its button.
    Text(&'static str),
}
use By::{Number, Taps, Text};

/// A question by its step and field, and what answers it.
type Answered = (&'static str, &'static str, By);

const TO_THE_EXCHANGE: &[Answered] = &[
    ("vin", "last_eight", Text("LA042317")),
    ("variant", "-", Taps(&["yes"])),
    ("codes-before", "state", Taps(&["none"])),
    ("drive-before", "ticks", Taps(&["harsh", "done"])),
    ("drive-before", "warmth", Taps(&["warm"])),
    ("caution-lifted", "", Taps(&["yes"])),
    ("sample-before", "-", Taps(&["brown"])),
    ("sample-before", "clouding", Taps(&["hazy"])),
    ("sample-before", "smell", Taps(&["burnt"])),
    ("sample-before", "specks", Taps(&["none"])),
    ("fluid", "-", Taps(&["LN-847"])),
    ("fluid", "lot", Text("L-2209")),
    ("filter", "-", Taps(&["F8-20"])),
    ("caution-line", "", Taps(&["yes"])),
    ("hookup", "-", Taps(&["cooler-line"])),
    ("caution-engine", "", Taps(&["yes"])),
];
const FIRST_LOOKS: &[Answered] = &[
    ("exchange", "-", Taps(&["zero"])),
    ("exchange", "volume_in_litres", Number("3", "L")),
    ("exchange", "tube_percent", Taps(&["25"])),
    ("exchange", "volume_in_litres", Number("6", "L")),
    ("exchange", "tube_percent", Taps(&["50"])),
];
const LAST_LOOKS: &[Answered] = &[
    ("exchange", "volume_in_litres", Number("9", "L")),
    ("exchange", "tube_percent", Taps(&["75"])),
    ("exchange", "volume_in_litres", Number("12", "L")),
    ("exchange", "tube_percent", Taps(&["75"])),
    ("exchange", "last", Taps(&["yes"])),
    ("exchange", "volume_out_litres", Number("11.9", "L")),
];
const PAN: &[Answered] = &[
    ("engine-off", "", Taps(&["yes"])),
    ("pan", "amount", Number("3.05", "kg")),
    ("pan", "debris", Taps(&["fine-grey-paste"])),
    ("pan-seen", "-", Taps(&["SP-68"])),
    ("old-filter", "-", Taps(&["F8-20"])),
    ("fitted", "-", Taps(&["all"])),
    ("screws", "-", Taps(&["all"])),
    ("refill", "amount", Taps(&["3.05 kg"])),
    ("refill", "-", Taps(&["compared"])),
    ("clear", "", Taps(&["yes"])),
    ("gears", "-", Taps(&["clear"])),
];
const LEVEL: &[Answered] = &[
    ("temperature", "means", Taps(&["scan-tool"])),
    ("temperature", "temperature_celsius", Number("61", "°C")),
    ("temperature", "temperature_celsius", Number("43", "°C")),
    ("level", "overflow", Taps(&["drops"])),
    ("level", "-", Taps(&["all"])),
    ("level", "caught_litres", Number("0.12", "L")),
];
const TO_THE_END: &[Answered] = &[
    ("plug", "-", Taps(&["all"])),
    ("leaks", "-", Taps(&["dry"])),
    ("codes-after", "state", Taps(&["none"])),
    ("drive-after", "-", Taps(&["well"])),
    ("waste", "amount", Taps(&["proposal"])),
    ("closing", "outcome", Taps(&["done"])),
];

/// Size of what the page has, whatever the browser puts around it.
fn size_inside(browser: &Browser, width: u32, height: u32) {
    browser.size(width, height);
    let around = browser.run("return outerHeight - innerHeight", json!([]));
    browser.size(width, height + u32::try_from(around.as_u64().unwrap()).unwrap());
}

/// A tablet before the page.
struct Tablet<'a> {
    browser: &'a Browser,
    touches: Cell<usize>,
}

impl<'a> Tablet<'a> {
    fn of(browser: &'a Browser) -> Self {
        size_inside(browser, 1280, 800);
        Self { browser, touches: Cell::new(0) }
    }

    /// Waits until a question may be answered.
    #[track_caller]
    fn asked(&self, step: &str, field: &str) {
        self.browser.wait(&format!(
            "document.querySelector('main').dataset.step === '{step}' && document.querySelector('main').dataset.field \
             === '{field}' && document.querySelector('main').dataset.view === 'asking' && \
             document.getElementById('ask').hasAttribute('data-open')"
        ));
    }

    /// Who works is one tap, once a shift.
    #[track_caller]
    fn person(&self, code: &str) {
        self.view("person");
        self.tap(&format!("#ask [data-word='{code}']"));
    }

    /// Waits until something else than a question is shown.
    #[track_caller]
    fn view(&self, view: &str) {
        self.browser.wait(&format!(
            "document.querySelector('main').dataset.view === '{view}' && (document.getElementById('ask').\
             hasAttribute('data-open') || '{view}' === 'over')"
        ));
    }

    #[track_caller]
    fn tap(&self, selector: &str) {
        self.browser.click(selector);
        self.touches.set(self.touches.get() + 1);
    }

    #[track_caller]
    fn command(&self, key: &str) {
        self.browser.wait("document.getElementById('ask').hasAttribute('data-open')");
        self.tap(&format!("#commands [data-key='{key}']"));
    }

    /// As person B from the arrival until these looks are answered.
    #[track_caller]
    fn until_looked(&self, looks: &[Answered]) {
        self.person("B");
        self.answer(TO_THE_EXCHANGE);
        self.answer(looks);
        self.asked("exchange", "volume_in_litres");
    }

    #[track_caller]
    fn answer(&self, all: &[Answered]) {
        for (step, field, by) in all {
            self.asked(step, field);
            match by {
                Taps(words) => {
                    for word in *words {
                        match *word {
                            "proposal" => self.tap("#ask .proposal"),
                            word => self.tap(&format!("#ask [data-word='{word}']")),
                        }
                    }
                }
                Number(number, unit) => {
                    for digit in number.chars() {
                        self.tap(&format!("#ask [data-digit='{digit}']"));
                    }
                    self.tap(&format!("#ask [data-unit='{unit}']"));
                }
                Text(text) => {
                    self.browser.write("#typed", text);
                    self.touches.set(self.touches.get() + text.chars().count());
                    self.tap("#ask .done");
                }
            }
        }
    }

    fn shown(&self) -> String {
        self.browser.text().replace('\u{a0}', " ")
    }

    fn run(&self, script: &str) -> Value {
        self.browser.run(script, json!([]))
    }
}

/// A site whose server is off.
struct Away {
    site: Site,
    clock: Arc<Hand>,
    address: SocketAddr,
    sealer: Sealer,
    browser: Browser,
}

impl Away {
    /// The server is there again, at the same address.
    async fn back(self) -> Office {
        let Self { site, clock, address, sealer, browser } = self;
        let options =
            ServerOptions { listen: address, clock: clock.clone(), ..ServerOptions::new(site.dir()) };
        let server = Server::start(options).await.unwrap();
        Office { site, clock, server, sealer, browser }
    }
}

impl Office {
    /// The same with a server whose clock is that of the browser.
    async fn of_today() -> Option<Self> {
        let mut away = Self::open().await?.without_server().await;
        let today = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_micros();
        // A little ahead, so that no answer comes from a time that is still to come.
        away.clock = Hand::at(i64::try_from(today).unwrap() + 90_000_000);
        Some(away.back().await)
    }

    /// A job that the office booked.
    fn booked(&self) {
        self.sign_in();
        self.go("/open");
        let boxes = [
            ("plate", "PH 482 K"),
            ("vin", facts::VIN_SECOND_SERIES),
            ("odometer_kilometres", "118240"),
            ("vehicle_maker", "Tarnwick"),
            ("vehicle_model", "Marl"),
        ];
        for (label, text) in boxes {
            self.browser.write(&format!("#{label}"), text);
        }
        self.browser.click("input[value='VISIT_REASON_HARSH_CHANGE']");
        self.browser.click("main button");
        self.browser.wait("document.querySelector('h1').textContent.startsWith('HL-26')");
    }

    /// The page of the job on a tablet that joined as a station.
    fn at_bay(&self) -> Tablet<'_> {
        self.tablet(&self.browser, "bay-1")
    }

    fn tablet<'a>(&self, browser: &'a Browser, station: &str) -> Tablet<'a> {
        let tablet = Tablet::of(browser);
        browser.open(&self.at("/login"));
        let key = format!("{}.{}", self.site.token(station), "5e".repeat(32));
        browser.cookie("standpipe-station", &key);
        browser.open(&self.at(JOB));
        browser.wait("document.querySelector('main').dataset.ready === 'yes'");
        tablet
    }

    /// The server is gone; gives what starts it again.
    async fn without_server(self) -> Away {
        let Self { site, clock, server, sealer, browser } = self;
        let address = server.addr;
        server.shutdown();
        server.join().await.unwrap();
        Away { site, clock, address, sealer, browser }
    }
}

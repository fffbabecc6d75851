//! What the pages look like, and what everybody needs who cannot see them well.
//!
//! Pictures are taken at every run; with `STANDPIPE_SNAPSHOT=update` they are put among the snapshots, for whoever
//! looks at them.

use super::{Office, axe};
use serde_json::json;
use standpipe_proto::v1::{self, fact::Kind};
use standpipe_tests::{facts, programs};
use std::process::Command;

/// What is wrong with a page for those who hear it, magnify it or cannot tell colours: one line each.
///
/// Web Content Accessibility Guidelines 2.2: 1.3.1 and 4.1.2 (labels), 1.4.3 (contrast 4.5:1, of large text 3:1),
/// 1.4.10 (no scrolling sideways), 2.4.6 (headings), 3.1.1 (language).
pub(super) const WRONG: &str = r#"
const wrong = [];
if (document.documentElement.lang !== "en") wrong.push("no language");
if (document.querySelectorAll("h1").length !== 1) wrong.push("not one h1");
let level = 1;
for (const heading of document.querySelectorAll("h1,h2,h3,h4")) {
  const own = Number(heading.tagName[1]);
  if (own > level + 1) wrong.push("heading skips a level: " + heading.textContent);
  level = own;
}
for (const box of document.querySelectorAll("input:not([type=hidden]),select,textarea")) {
  if (box.labels.length === 0) wrong.push("no label: " + box.name);
  for (const id of (box.getAttribute("aria-describedby") || "").split(" ").filter(Boolean))
    if (!document.getElementById(id)) wrong.push("described by nothing: " + box.name);
}
for (const head of document.querySelectorAll("th")) if (!head.scope) wrong.push("th without scope");
const ids = [...document.querySelectorAll("[id]")].map((it) => it.id);
if (new Set(ids).size !== ids.length) wrong.push("an id twice");
if (document.documentElement.scrollWidth > innerWidth) {
  const far = [...document.querySelectorAll("body *")].filter((it) => it.getBoundingClientRect().right > innerWidth + 1);
  wrong.push("scrolls sideways: " + far.map((it) => it.tagName + " " + it.textContent).join("; "));
}
const part = (text) => { const c = text / 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
const light = (rgb) => 0.2126 * part(rgb[0]) + 0.7152 * part(rgb[1]) + 0.0722 * part(rgb[2]);
const colour = (text) => text.match(/[\d.]+/g).map(Number);
for (const it of document.querySelectorAll("body *")) {
  const words = [...it.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
  if (!words || !it.getClientRects().length) continue;
  const style = getComputedStyle(it);
  let behind = it, back = [255, 255, 255];
  for (; behind; behind = behind.parentElement) {
    const found = colour(getComputedStyle(behind).backgroundColor);
    if (found.length < 4 || found[3] > 0) { back = found; break; }
  }
  const [a, b] = [light(colour(style.color)), light(back)];
  const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  const large = parseFloat(style.fontSize) >= 24 || (parseFloat(style.fontSize) >= 18.66 && style.fontWeight >= 700);
  if (ratio < (large ? 3 : 4.5)) wrong.push("contrast " + ratio.toFixed(1) + ": " + it.textContent);
  if (it.scrollWidth > it.clientWidth + 1 && style.overflow !== "visible" && !it.matches("input,select"))
    wrong.push("cut: " + it.textContent);
}
return wrong;
"#;

/// Pages whose pictures are kept; the others are looked at all the same.
const KEPT: [&str; 6] = ["login", "jobs", "job", "open", "open-wrong", "variant"];

impl Office {
    /// Looks at a page in three widths, and keeps its picture if asked to.
    #[track_caller]
    fn look(&self, name: &str, path: &str) {
        if !path.is_empty() {
            self.go(path);
        }
        for width in [360, 820, 1240] {
            self.browser.size(width, 900);
            let wrong = self.browser.run(WRONG, json!([]));
            assert_eq!(wrong, json!([]), "{name} at {width} points");
            if width != 820 {
                axe::assert_accessible(&self.browser, &format!("{name} at {width} points"));
            }
        }
        self.assert_words_only_on_paper(name);
        let height =
            self.browser.run("return Math.ceil(document.body.getBoundingClientRect().bottom)", json!([]));
        let inside = self.browser.run("return window.outerHeight - window.innerHeight", json!([]));
        let height = height.as_u64().unwrap() + inside.as_u64().unwrap();
        self.browser.size(1240, u32::try_from(height.clamp(200, 3_000)).unwrap());
        let picture = self.browser.picture();
        if KEPT.contains(&name) {
            keep(&format!("office-{name}.png"), &picture);
        }
        self.browser.size(1240, 900);
    }
}

/// Looks at the page that the first link to such an address leads to.
#[track_caller]
fn look_behind(office: &Office, name: &str, on: &str, link: &str) {
    office.go(on);
    let script =
        "const it = document.querySelector(`main a[href^='${arguments[0]}']`); return it && it.pathname";
    let path = office.browser.run(script, json!([link]));
    office.look(name, path.as_str().unwrap_or_else(|| panic!("{on} has no link to {link}")));
}

#[track_caller]
pub(super) fn keep(name: &str, picture: &[u8]) {
    assert!(picture.starts_with(b"\x89PNG") && picture.len() < 400_000, "{name}: {} bytes", picture.len());
    if std::env::var("STANDPIPE_SNAPSHOT").is_ok_and(|it| it == "update") {
        let kept = format!("{}/snapshots/{name}", env!("CARGO_MANIFEST_DIR"));
        std::fs::write(&kept, picture).unwrap();
        println!("{kept}: {} bytes", picture.len());
    }
}

/// First page of a PDF as a picture.
fn first_page(office: &Office, pdf: &[u8], resolution: &str) -> Option<Vec<u8>> {
    let pdftoppm = programs::tool("pdftoppm")?;
    let (file, stem) = (office.site.folder.path().join("page.pdf"), office.site.folder.path().join("page"));
    std::fs::write(&file, pdf).unwrap();
    let arguments = ["-png", "-singlefile", "-gray", "-r", resolution];
    assert!(Command::new(pdftoppm).args(arguments).arg(&file).arg(&stem).status().unwrap().success());
    Some(std::fs::read(stem.with_extension("png")).unwrap())
}

fn corrected_level(entry_id: &str) -> Kind {
    let right = facts::level(44.0, v1::Overflow::Drops);
    Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: entry_id.to_owned(),
        reason: "read from the wrong line".to_owned(),
        outcome: Some(v1::correction::Outcome::Replacement(Box::new(v1::Fact { kind: Some(right) }))),
    }))
}

/// A few jobs in different states.
async fn furnish(office: &mut Office) {
    let browser = &office.browser;
    for (plate, vin, name) in [
        ("PH 482 K", facts::VIN_SECOND_SERIES, "Customer C"),
        ("QR 117 T", facts::VIN_FIRST_SERIES, "Customer D"),
        (
            "LM 903 B",
            "",
            "Customer E, with a name that is as long as names of companies and partnerships can be",
        ),
        ("KD 250 A", facts::VIN_SECOND_SERIES, "Customer F"),
    ] {
        office.go("/open");
        for (label, text) in
            [("plate", plate), ("vin", vin), ("name", name), ("odometer_kilometres", "118240")]
        {
            browser.write(&format!("#{label}"), text);
        }
        browser.write("#vehicle_maker", "Tarnwick");
        browser.write("#vehicle_model", "Marl");
        browser.click("input[value='VISIT_REASON_HARSH_CHANGE']");
        browser.click("main button");
        browser.wait("document.querySelector('h1').textContent.startsWith('HL-26')");
    }
    for (number, entries) in [("HL-26-0001", 15), ("HL-26-0002", 4), ("HL-26-0004", 17)] {
        let job = office.job(number).await;
        let first = number == "HL-26-0002";
        let variant =
            if first { ("A8-I", facts::VIN_FIRST_SERIES) } else { ("A8-II", facts::VIN_SECOND_SERIES) };
        let kinds: Vec<_> = facts::whole_service().into_iter().take(entries).skip(4).collect();
        office
            .bay_states(&job, [facts::last_eight(&variant.1[9..]), facts::settled_by_rule(variant.0)])
            .await;
        office.bay_states(&job, kinds).await;
        if number == "HL-26-0001" {
            let level = office.sealer.seal(&job, facts::level(43.0, v1::Overflow::Drops));
            let mut bay =
                standpipe_tests::site::journal(office.server.addr, office.site.token("bay-1")).await;
            standpipe_tests::site::append(&mut bay, &level).await.unwrap();
            office.bay_states(&job, [corrected_level(&level.entry_id)]).await;
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn every_page_reads_well_at_every_width_and_on_paper() {
    let Some(mut office) = Office::open().await else { return };
    office.look("login", "/login");
    office.browser.write("#person", "B");
    office.browser.write("#pin", "0000");
    office.browser.click("main button");
    office.browser.wait("document.querySelector('[aria-invalid]')");
    office.look("login-wrong", "");
    office.sign_in();
    office.look("no-job", "/");
    furnish(&mut office).await;
    office.look("jobs", "/");
    office.look("job", "/job/HL-26-0001");
    let printed = office.browser.printed();
    if let Some(picture) = first_page(&office, &printed, "90") {
        keep("office-job-printed.png", &picture);
    }
    office.look("open", "/open");
    for (label, text) in
        [("plate", ""), ("odometer_kilometres", "many"), ("vin", "AZTWA8M4"), ("telephone", "0555 0199")]
    {
        office.browser.write(&format!("#{label}"), text);
    }
    office.browser.click("main button");
    office.browser.wait("document.querySelector('[aria-invalid]')");
    office.look("open-wrong", "");
    office.look("variant", "/variant");
    office.browser.click("main button");
    office.browser.wait("document.querySelector('[aria-invalid]')");
    office.look("variant-wrong", "");
    for (name, path) in [
        ("catalogue", "/catalogue"),
        ("state-lot", "/state/lot"),
        ("state-torque-tool", "/state/torque-tool"),
        ("store", "/store"),
        ("recall", "/recall"),
        ("tools", "/tools"),
        ("equipment", "/equipment"),
        ("waste", "/waste?period=2026-03"),
        ("month", "/month?period=2026-03"),
    ] {
        office.look(name, path);
    }
    office.go("/state/lot");
    office.browser.write("#volume_litres", "many");
    office.browser.click("main button");
    office.browser.wait("document.querySelector('[aria-invalid]')");
    office.look("state-lot-wrong", "");
    office.browser.run("document.querySelector('#volume_litres').value = '208,5'", json!([]));
    office.browser.write("#code", "LN-847");
    office.browser.write("#lot", "L-2209");
    office.browser.click("main button");
    office.browser.wait("location.pathname === '/store'");
    office.look("stated", "/stated");
    assert!(office.browser.text().contains("lot L-2209"), "what was stated is seen at once");
    look_behind(&office, "put-right", "/stated", "/put-right/");
    look_behind(&office, "lot", "/store", "/lot/");
    look_behind(&office, "catalogue-variant", "/catalogue", "/catalogue/variant/");
    look_behind(&office, "catalogue-revision", "/catalogue", "/catalogue/revision/");
    office.look("join", "/join");
    office.look("no-page", "/job/HL-26-0999");
    let sheet = "const done = arguments[1]; fetch(arguments[0]).then(a => a.arrayBuffer()).then(b => \
        done(btoa(String.fromCharCode(...new Uint8Array(b)))));";
    let sheet = office.browser.run_on(sheet, json!(["/job/HL-26-0001/sheet.pdf"]));
    let sheet = super::driver::bytes(&sheet);
    if let Some(picture) = first_page(&office, &sheet, "90") {
        keep("bay-sheet.png", &picture);
    }
    office.close().await;
}

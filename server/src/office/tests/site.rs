//! Facts of the site, recalls and variants as the office states them.

use super::{Answer, BOOKING, Browser, shop};
use crate::office::tally::PAGES;

const LOT: [(&str, &str); 5] = [
    ("what", "SUPPLY_FLUID"),
    ("code", "LN-847"),
    ("lot", "L-2209"),
    ("volume_litres", "208,5"),
    ("expires_on", "2028-05-31"),
];
/// A variant of the vehicle that is booked in.
pub(super) const VARIANT: [(&str, &str); 20] = [
    ("maker", "Tarnwick"),
    ("name", "Alder-8"),
    ("code", "A8-III"),
    ("label", "third series"),
    ("fluid_code", "LN-847"),
    ("fluid_name", "Linden"),
    ("density_at_15_celsius_kilograms_per_cubic_metre", "847"),
    ("total_fill_litres", "9,0"),
    ("level_method", "standpipe_overflow"),
    ("level_from_celsius", "40"),
    ("level_to_celsius", "50"),
    ("standpipe_code", "SP-68"),
    ("standpipe_label", "long"),
    ("pan_screw_count", "13"),
    ("pan_screw_torque_newton_metres", "9"),
    ("pattern", "AZT*A8[M-N]**L*******"),
    ("serial_from", "38000"),
    ("serial_to", "999999"),
    ("source", "parts data"),
    ("edition", "2026-03"),
];
/// A form, what is filled in, and what is then said.
type Stated<'a> = (&'a str, &'a [(&'a str, &'a str)], &'a str);
/// What every form of a fact carries.
pub(super) const HIDDEN: [&str; 2] = ["form_key", "request"];

/// The same boxes with others in some of them.
fn with<'a>(boxes: &[(&'a str, &'a str)], other: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let kept = boxes.iter().filter(|(name, _)| !other.iter().any(|(known, _)| known == name));
    kept.chain(other).copied().collect()
}

/// What stands beside a box.
fn beside(answer: &Answer, name: &str) -> String {
    let text = answer.text();
    let (_, rest) = text.split_once(&format!("id=\"{name}-about\">")).expect(name);
    rest.split('<').next().unwrap().to_owned()
}

/// Address of the form that puts the newest fact right.
async fn put_right(browser: &mut Browser<'_>) -> String {
    let page = browser.get("/stated").await.text();
    let (_, rest) = page.split_once("href=\"/put-right/").unwrap();
    format!("/put-right/{}", rest.split('"').next().unwrap())
}

#[tokio::test]
async fn nobody_sees_a_page_of_the_site_without_signing_in() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::new(&server);
    let tallies = PAGES.iter().map(|page| page.route.replace("{about}", "X-1"));
    let others = ["/catalogue", "/stated", "/state/lot", "/put-right/x", "/store?as=csv", "/recall?as=pdf"];
    for page in tallies.chain(others.map(str::to_owned)) {
        let answer = browser.get(&page).await;
        assert_eq!((answer.status, answer.header("location")), (303, Some("/login")), "{page}");
    }
    for form in ["/state/lot", "/put-right/x", "/job/1/recall", "/job/1/variant"] {
        assert_eq!(browser.post(form, &LOT).await.status, 403, "{form}");
    }
    let mut browser = Browser::signed_in(&server).await;
    for form in ["/state/lot", "/put-right/x", "/job/1/recall", "/job/1/variant"] {
        assert_eq!(browser.post(form, &LOT).await.status, 403, "{form} without the key of the session");
    }
    assert_eq!(browser.get("/state/nothing").await.status, 404);
}

#[tokio::test]
async fn a_delivery_is_stated_once_and_seen_at_once_with_who_and_when() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let form = browser.get("/state/lot?code=LN-847").await;
    assert!(form.text().contains("value=\"LN-847\""), "what stands in the address is filled in");
    let hidden = HIDDEN.map(|name| form.hidden(name));
    let boxes: Vec<_> = HIDDEN.into_iter().zip(hidden.iter().map(String::as_str)).chain(LOT).collect();
    for _ in 0..2 {
        let stated = browser.post("/state/lot", &boxes).await;
        assert_eq!((stated.status, stated.header("location")), (303, Some("/store")), "{}", stated.text());
    }
    let page = browser.get("/stated").await.text().replace('\u{a0}', " ");
    let said = "Received: 208.5 L, fluid LN-847, lot L-2209, to be used until 2028-05-31.";
    assert_eq!(page.matches(said).count(), 1, "{page}");
    assert!(page.contains("technician A") && page.contains("18 Mar 2026, 11:00"), "{page}");
}

#[tokio::test]
async fn what_is_wrong_stands_beside_its_box_and_nothing_is_lost() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    for (box_name, boxes, said) in [
        ("volume_litres", with(&LOT, &[("volume_litres", "many")]), "is no number"),
        ("volume_litres", with(&LOT, &[("volume_litres", "20000")]), "20000"),
        ("volume_litres", with(&LOT, &[("volume_litres", "")]), "missing"),
        ("volume_litres", with(&LOT, &[("what", "SUPPLY_FILTER")]), "Fluid comes in litres"),
        ("piece_count", with(&LOT, &[("piece_count", "4")]), "Only one of these boxes"),
        ("lot", with(&LOT, &[("lot", "")]), "write the lot number as it stands on the container"),
        ("lot", with(&LOT, &[("lot", ""), ("volume_litres", "many")]), "write the lot number"),
        (
            "expires_on",
            with(&LOT, &[("expires_on", "may 2028")]),
            "'may 2028' is no day; write it as 2026-01-31 (year-month-day).",
        ),
        ("expires_on", with(&LOT, &[("expires_on", "31.01.2026")]), "write it as 2026-01-31"),
        ("container_count", with(&LOT, &[("container_count", "two")]), "is no whole number"),
    ] {
        let refused = browser.fill("/state/lot", &HIDDEN, &boxes).await;
        assert_eq!(refused.status, 422, "{boxes:?}");
        assert!(beside(&refused, box_name).contains(said), "{boxes:?}: {}", beside(&refused, box_name));
        assert!(refused.text().contains("value=\"LN-847\""), "what was typed stays");
    }
    let torques = [
        ("tool", "TW-2"),
        ("torques[1].shown_newton_metres", "9"),
        ("torques[1].reference_newton_metres", "2000"),
    ];
    let refused = browser.fill("/state/torque-tool", &HIDDEN, &torques).await;
    assert!(!beside(&refused, "torques[1].reference_newton_metres").is_empty(), "{}", refused.text());
    assert!(browser.get("/stated").await.text().contains("Nothing yet."));
}

#[tokio::test]
async fn every_form_states_its_fact() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let forms: [Stated<'_>; 8] = [
        (
            "count",
            &[("what", "SUPPLY_FILTER"), ("code", "F8-20"), ("piece_count", "3")],
            "Counted: 3 pieces of F8-20",
        ),
        (
            "torque-tool",
            &[
                ("tool", "TW-2"),
                ("least_newton_metres", "5"),
                ("greatest_newton_metres", "25"),
                ("limit_percent", "6"),
                ("torques[0].shown_newton_metres", "9"),
                ("torques[0].reference_newton_metres", "9,2"),
            ],
            "Torque tool TW-2 checked",
        ),
        (
            "litre-display",
            &[
                ("tool", "EX-1"),
                ("shown_litres", "5,0"),
                ("reference_kilograms", "4,19"),
                ("fluid_code", "LN-847"),
                ("temperature_celsius", "22"),
            ],
            "Litre display EX-1 checked",
        ),
        (
            "tool",
            &[("tool", "TW-3"), ("kind", "TOOL_KIND_TORQUE_TOOL"), ("event", "TOOL_EVENT_OVERLOADED")],
            "Torque tool TW-3 overloaded",
        ),
        (
            "equipment",
            &[
                ("equipment", "EX-1"),
                ("held", "HELD_FLUID"),
                ("fluid_code", "BR-861"),
                ("held_litres", "0.6"),
            ],
            "Equipment EX-1 holds BR-861",
        ),
        (
            "waste",
            &[
                ("waste_code", "13 02 05*"),
                ("mass_kilograms", "180"),
                ("carrier", "Collector D"),
                ("document", "D-77"),
            ],
            "180 kg taken by Collector D",
        ),
        ("recall", &[("lot", "L-2209"), ("reason", "wrong fluid in the cans")], "Lot L-2209 recalled"),
        (
            "recall",
            &[("lot", "L-2209"), ("reason", "looked at again"), ("lifted", "yes")],
            "Recall of lot L-2209 lifted",
        ),
    ];
    for (form, boxes, said) in forms {
        let stated = browser.fill(&format!("/state/{form}"), &HIDDEN, boxes).await;
        assert_eq!(stated.status, 303, "{form}: {}", stated.text());
        let page = browser.get("/stated").await.text().replace('\u{a0}', " ");
        assert!(page.contains(said), "{form}: {page}");
    }
}

#[tokio::test]
async fn a_wrong_fact_is_withdrawn_with_a_reason_and_stays_to_be_seen() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    browser.fill("/state/lot", &HIDDEN, &LOT).await;
    let form = put_right(&mut browser).await;
    let refused = browser.fill(&form, &HIDDEN, &[("reason", "x")]).await;
    assert_eq!(refused.status, 422);
    assert!(beside(&refused, "reason").contains("characters"), "{}", refused.text());
    let page = browser.get(&form).await;
    let hidden = HIDDEN.map(|name| page.hidden(name));
    let boxes = HIDDEN.into_iter().zip(hidden.iter().map(String::as_str));
    let boxes: Vec<_> = boxes.chain([("reason", "read from the wrong note")]).collect();
    assert_eq!(browser.post(&form, &boxes).await.header("location"), Some("/store"));
    assert_eq!(browser.post(&form, &boxes).await.header("location"), Some("/stated"), "sent again");
    let page = browser.get("/stated").await.text();
    assert!(page.contains("<s>Received: 208.5"), "{page}");
    assert!(
        page.contains("Withdrawn: read from the wrong note (technician A, 18 Mar 2026, 11:00)"),
        "{page}"
    );
    assert!(!page.contains("/put-right/"), "{page}");
    assert_eq!(browser.get(&form).await.status, 404);
}

#[tokio::test]
async fn what_came_of_a_call_is_a_fact_of_the_job() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    browser.fill("/open", &["form_key", "job", "salt"], &BOOKING).await;
    let mut answer = async |answer: &'static str, request: &str| {
        let key = browser.get("/").await.hidden("form_key");
        let boxes = [("form_key", key.as_str()), ("request", request), ("answer", answer)];
        let status = browser.post("/job/HL-26-0001/recall", &boxes).await.status;
        (status, browser.get("/job/HL-26-0001").await.text())
    };
    let (status, _) = answer("nothing", "01890a5d-ac96-774b-bcce-000000000001").await;
    assert_eq!(status, 403);
    for _ in 0..2 {
        let (status, page) = answer("told", "01890a5d-ac96-774b-bcce-000000000002").await;
        assert_eq!((status, page.matches("a recall").count()), (303, 1), "{page}");
    }
    let (status, page) = answer("put-right", "01890a5d-ac96-774b-bcce-000000000003").await;
    assert!(status == 303 && page.contains("What was recalled: put right"), "{page}");
}

#[tokio::test]
async fn a_used_identity_never_drops_what_is_stated_under_it() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let form = browser.get("/state/lot").await;
    let hidden = HIDDEN.map(|name| form.hidden(name));
    let hidden: Vec<_> = HIDDEN.into_iter().zip(hidden.iter().map(String::as_str)).collect();
    let boxes = |other: &[(&'static str, &'static str)]| [hidden.clone(), with(&LOT, other)].concat();
    assert_eq!(browser.post("/state/lot", &boxes(&[])).await.status, 303);
    let refused = browser.post("/state/lot", &boxes(&[("lot", "L-2210")])).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text().contains("sent before with something else in it"), "{}", refused.text());
    assert!(refused.text().contains("value=\"L-2210\""), "what was typed stays");
    let request = refused.hidden("request");
    let again: Vec<_> =
        [vec![hidden[0], ("request", request.as_str())], with(&LOT, &[("lot", "L-2210")])].concat();
    assert_eq!(browser.post("/state/lot", &again).await.status, 303);
    let page = browser.get("/stated").await.text();
    assert!(page.contains("lot L-2209") && page.contains("lot L-2210"), "{page}");
}

#[tokio::test]
async fn each_button_of_a_call_states_what_it_says() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    browser.fill("/open", &["form_key", "job", "salt"], &BOOKING).await;
    let key = browser.get("/").await.hidden("form_key");
    let request = "01890a5d-ac96-774b-bcce-000000000009";
    let boxes = |answer: &'static str| [("form_key", key.as_str()), ("request", request), ("answer", answer)];
    assert_eq!(browser.post("/job/HL-26-0001/recall", &boxes("declined")).await.status, 303);
    let refused = browser.post("/job/HL-26-0001/recall", &boxes("in-order")).await;
    assert_eq!(refused.status, 409);
    assert!(refused.text().contains("This was not stated"), "{}", refused.text());
    let page = browser.get("/job/HL-26-0001").await.text();
    assert!(page.contains("declines") && !page.contains("in order"), "{page}");
}

#[tokio::test]
async fn an_entered_variant_settles_the_open_job_and_stands_in_the_catalogue() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    browser.fill("/open", &["form_key", "job", "salt"], &BOOKING).await;
    assert!(browser.get("/catalogue").await.text().contains("No variant yet."));
    assert!(browser.get("/job/HL-26-0001").await.text().contains("href=\"/variant?job=HL-26-0001\""));
    let entered = browser.fill("/variant?job=HL-26-0001", &["form_key", "job"], &VARIANT).await;
    assert_eq!(entered.status, 200, "{}", entered.text());
    let boxes: Vec<_> = ["form_key", "request", "code"].map(|name| (name, entered.hidden(name))).into();
    let mut boxes: Vec<_> = boxes.iter().map(|(name, value)| (*name, value.as_str())).collect();
    boxes.push(("plate", "ANSWER_YES"));
    let settled = browser.post("/job/HL-26-0001/variant", &boxes).await;
    assert_eq!(settled.header("location"), Some("/job/HL-26-0001"), "{}", settled.text());
    let page = browser.get("/job/HL-26-0001").await.text();
    assert!(page.contains("third series") && !page.contains("Enter its variant"), "{page}");
    let variant = browser.get("/catalogue/variant/A8-III").await.text().replace('\u{a0}', " ");
    for said in ["9 N·m", "AZT*A8[M-N]**L*******", "038000 to 999999", "parts data, 2026-03", "847 kg/m³"] {
        assert!(variant.contains(said), "{said}: {variant}");
    }
    assert_eq!(browser.get("/catalogue/variant/none").await.status, 404);
    let found = browser.get("/catalogue?text=third+linden").await.text();
    assert!(found.contains("/catalogue/variant/A8-III"), "{found}");
    let found = browser.get("/catalogue?text=bramble&page=9").await.text();
    assert!(found.contains("No variant has 'bramble'"), "{found}");
    let other = with(
        &VARIANT,
        &[("code", "A8-IV"), ("label", "fourth series"), ("serial_from", "0"), ("serial_to", "37999")],
    );
    let entered = browser.fill("/variant", &["form_key", "job"], &other).await;
    assert_eq!(entered.status, 200, "{}", entered.text());
    let page = browser.get("/catalogue").await.text().replace('\u{a0}', " ");
    let (_, revision) = page.split_once("href=\"/catalogue/revision/").unwrap();
    let revision = format!("/catalogue/revision/{}", revision.split('"').next().unwrap());
    let changed = browser.get(&revision).await.text();
    assert!(changed.contains("Variant A8-IV") && changed.contains("came in"), "{changed}");
    assert!(!changed.contains("A8-III, "), "{changed}");
    for said in
        ["A8-III", "SP-68, long", "Pan: 13 × 9 N·m", "see the maker", "parts data, 2026-03", ", in use"]
    {
        assert!(page.contains(said), "{said}: {page}");
    }
}

#[tokio::test]
async fn kit_hook_up_and_cautions_are_entered_with_a_variant_and_shown_in_the_catalogue() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    let kit = [("kit_code", "K8-30"), ("kit_screws", "13"), ("caution_1", "Never above idle.")];
    let hookup =
        [("hookup_place", "cooler_line"), ("hookup_adapter", "AD-14"), ("hookup_note", "the upper line")];
    let boxes = with(&VARIANT, &[&kit[..], &hookup].concat());
    // A kit without parts is none, which is said where they are ticked; what was filled in stays and is not folded.
    let refused = browser.fill("/variant", &["form_key", "job"], &boxes).await;
    let text = refused.text();
    assert!(refused.status == 422 && text.contains("<details class=\"more\" open>"), "{text}");
    let (_, parts) = text.split_once("name=\"kit_parts\"").unwrap();
    assert!(parts.split("</fieldset>").next().unwrap().contains("class=\"wrong\""), "{text}");
    let ticked = [&boxes[..], &[("kit_parts", "filter"), ("kit_parts", "pan_screws")]].concat();
    let entered = browser.fill("/variant", &["form_key", "job"], &ticked).await;
    assert_eq!(entered.status, 200, "{}", entered.text());
    let page = browser.get("/catalogue/variant/A8-III").await.text();
    for said in ["K8-30", "AD-14", "the upper line", "Never above idle."] {
        assert!(page.contains(said), "{said}: {page}");
    }
}

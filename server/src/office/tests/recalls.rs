//! Who is named to whom: customers on the page of recalls and nowhere else; and what an entered variant is judged by.

use super::site::{HIDDEN, VARIANT};
use super::{BOOKING, Browser, shop};
use crate::tests::Shop;
use crate::{Order, RunningServer, order};
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::tally_service_client::TallyServiceClient;
use standpipe_proto::v1::{self, AppendRequest, GetTallyRequest, MayRequest, PrintTallyRequest, fact::Kind};

/// States a fact of the job with this number at the bay.
async fn state(shop: &Shop, server: &RunningServer, number: &str, kind: Kind) {
    let mut jobs = JobServiceClient::new(shop.bearer(server, "bay-1").await);
    let job = jobs.get(v1::GetRequest { job: number.into() }).await.unwrap().into_inner().job.unwrap();
    let id = job.summary.unwrap().job_id;
    let mut bay = shop.journal(server, "bay-1").await;
    bay.append(AppendRequest { entry: shop.seal("bay-1", &id, kind) }).await.unwrap();
}

#[tokio::test]
async fn a_customer_is_named_on_the_page_of_recalls_and_nowhere_else() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    browser.fill("/open", &["form_key", "job", "salt"], &BOOKING).await;
    let fill = v1::Fill {
        purpose: v1::FillPurpose::Refill.into(),
        amount: Some(v1::fill::Amount::VolumeLitres(9.0)),
        means: v1::Means::Jug.into(),
        fluid_code: "LN-847".into(),
        lot: "L-2209".into(),
        ..Default::default()
    };
    state(&shop, &server, "HL-26-0001", Kind::Fill(fill)).await;
    let recall = [("lot", "L-2209"), ("reason", "water in the drum")];
    assert_eq!(browser.fill("/state/recall", &HIDDEN, &recall).await.status, 303);
    let names = |text: &str| text.contains("Customer C") || text.contains("0555 0199");
    let page = browser.get("/recall").await.text();
    assert!(page.contains("Customer C") && page.contains("0555 0199"), "{page}");
    for erased in [false, true] {
        for other in [
            "/recall?as=csv",
            "/recall?as=csv&table=2",
            "/recall?as=pdf",
            "/lot/L-2209",
            "/lot/L-2209?as=csv",
            "/month",
            "/month?as=pdf",
            "/store",
        ] {
            let answer = browser.get(other).await;
            assert_eq!(answer.status, 200, "{other}");
            assert!(!names(&answer.text()), "{other}: {}", answer.text());
        }
        let mut tallies = TallyServiceClient::new(shop.bearer(&server, "office").await);
        let (tally, about, period) = ("recall".to_owned(), String::new(), String::new());
        let asked = GetTallyRequest { tally: tally.clone(), about: about.clone(), period: period.clone() };
        let sheet = tallies.get_tally(asked).await.unwrap().into_inner();
        assert!(!names(&format!("{sheet:?}")));
        let pdf =
            tallies.print_tally(PrintTallyRequest { tally, about, period }).await.unwrap().into_inner().pdf;
        assert!(!names(&String::from_utf8_lossy(&pdf)));
        let page = browser.get("/recall").await.text();
        assert_eq!(names(&page), !erased, "{page}");
        if !erased {
            order(&shop.dir, Order::EraseCustomer { job: "1".into() }).await.unwrap();
        }
    }
}

#[tokio::test]
async fn an_open_job_is_judged_by_the_variant_that_was_entered_for_it() {
    let shop = shop().await;
    let server = shop.serve().await;
    let mut browser = Browser::signed_in(&server).await;
    browser.fill("/open", &["form_key", "job", "salt"], &BOOKING).await;
    let entered = browser.fill("/variant?job=HL-26-0001", &["form_key", "job"], &VARIANT).await;
    let said = entered.text();
    assert!(said.contains("judged by it once its variant is settled by it"), "{said}");
    let check = v1::PartChecked {
        part: v1::Part::FluidContainer.into(),
        code: "BR-861".into(),
        ..v1::PartChecked::default()
    };
    state(&shop, &server, "HL-26-0001", Kind::PartChecked(check)).await;
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-1").await);
    let mut against = async || {
        let asked = MayRequest { job: "HL-26-0001".into(), gate: "exchange".into() };
        let answer = jobs.may(asked).await.unwrap().into_inner();
        format!("{:?}", answer.missing)
    };
    assert!(!against().await.contains("Linden"), "nothing is known of its variant yet");
    let boxes: Vec<_> = ["form_key", "request", "code"].map(|name| (name, entered.hidden(name))).into();
    let mut boxes: Vec<_> = boxes.iter().map(|(name, value)| (*name, value.as_str())).collect();
    boxes.push(("plate", "ANSWER_YES"));
    assert_eq!(browser.post("/job/HL-26-0001/variant", &boxes).await.status, 303);
    let said = against().await;
    assert!(
        said.contains("third series, which needs Linden"),
        "the fluid of the entered variant is asked for: {said}"
    );
    let workshop = shop.workshop().await;
    let row = workshop.find("1").await.unwrap();
    let entries = workshop.journal.read_job(row.job_id).await.unwrap();
    let settled = standpipe_engine::job::settled_last(&crate::sight::recorded(&entries), |_| false).unwrap();
    let kept = v1::VariantSettled {
        variant_code: settled.variant_code.clone(),
        means: settled.means,
        source: settled.source.clone(),
        looked_up_date: settled.looked_up_date.clone(),
        transmission_plate_agrees: settled.transmission_plate_agrees,
        ..v1::VariantSettled::default()
    };
    assert_eq!(settled, kept, "its values stand in the revision and nowhere else");
    workshop.journal.close().await.unwrap();
}

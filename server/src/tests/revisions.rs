//! A catalogue that changes while a job is open: the job keeps its own until the variant is settled again.

use super::network::append;
use super::*;
use crate::{Done, Order, order};
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{MayRequest, RenderRequest};
use std::fs;

const WORKSHOP: &str = include_str!("../../../deploy/catalogue/workshop.toml");
const ALDER: &str = include_str!("../../../deploy/catalogue/alder-8.toml");

/// Brings a catalogue with these transmissions to the running server.
async fn import(shop: &Shop, alder: Option<&str>) -> String {
    let from = shop._home.path().join("catalogue");
    fs::create_dir_all(&from).unwrap();
    fs::write(from.join("workshop.toml"), WORKSHOP).unwrap();
    if let Some(alder) = alder {
        fs::write(from.join("alder-8.toml"), alder).unwrap();
    }
    match order(&shop.dir, Order::ImportCatalogue { from }).await.unwrap() {
        Done::Imported { revision_id, .. } => revision_id,
        other => panic!("not imported: {other:?}"),
    }
}

fn vin() -> Kind {
    let reading = Some(v1::vin_reading::Reading::Vin("AZTWA8M47LA042317".into()));
    Kind::VinReading(v1::VinReading { reading, source: v1::VinSource::BodyPlate.into() })
}

fn settled() -> Kind {
    Kind::VariantSettled(v1::VariantSettled {
        variant_code: "A8-II".into(),
        means: v1::SettledBy::CatalogueRule.into(),
        transmission_plate_agrees: v1::Answer::Yes.into(),
        transmission_as_built: v1::Answer::Yes.into(),
        ..Default::default()
    })
}

fn caution(group: v1::CautionGroup) -> Kind {
    Kind::CautionRead(v1::CautionRead { group: group.into() })
}

fn container(code: &str) -> Kind {
    let part = v1::Part::FluidContainer.into();
    Kind::PartChecked(v1::PartChecked { part, code: code.into(), ..Default::default() })
}

/// Everything that the exchange needs, but for the variant.
fn beside_the_variant() -> Vec<Kind> {
    let before = v1::Moment::Before.into();
    vec![
        Kind::FaultCodes(v1::FaultCodes {
            moment: before,
            state: v1::CodesState::None.into(),
            ..Default::default()
        }),
        Kind::RoadTest(v1::RoadTest { moment: before, ticks: vec![1], ..Default::default() }),
        caution(v1::CautionGroup::Lifted),
        caution(v1::CautionGroup::LineOpening),
        caution(v1::CautionGroup::EngineRunning),
        Kind::ConditionConfirmed(v1::ConditionConfirmed {
            conditions: vec![v1::Condition::LiftLocked.into()],
        }),
        Kind::FluidSample(v1::FluidSample {
            moment: v1::SampleTime::Before.into(),
            colour: v1::ColourWord::Brown.into(),
            clouding: v1::Clouding::Clear.into(),
            ..Default::default()
        }),
        container("LN-847"),
        Kind::Hookup(v1::Hookup {
            place: v1::HookupPlace::CoolerLine.into(),
            direction_tested: v1::Answer::Yes.into(),
            ..Default::default()
        }),
    ]
}

/// Keys of what the exchange lacks.
async fn lacks(shop: &Shop, server: &RunningServer) -> Vec<String> {
    let mut jobs = JobServiceClient::new(shop.bearer(server, "bay-1").await);
    let asked = MayRequest { job: "1".into(), gate: "exchange".into() };
    let answer = jobs.may(asked).await.unwrap().into_inner();
    assert_eq!(answer.yes, answer.missing.is_empty());
    answer.missing.into_iter().map(|missing| missing.key).collect()
}

async fn state(shop: &Shop, server: &RunningServer, kinds: Vec<Kind>) {
    let mut bay = shop.journal(server, "bay-1").await;
    for kind in kinds {
        append(&mut bay, shop.seal("bay-1", &job_id(1), kind)).await.unwrap();
    }
}

async fn draft(shop: &Shop, server: &RunningServer) -> Vec<u8> {
    let mut records = RecordServiceClient::new(shop.bearer(server, "office").await);
    let asked = RenderRequest { job: "1".into(), ..RenderRequest::default() };
    records.render(asked).await.unwrap().into_inner().pdf.to_vec()
}

#[tokio::test]
async fn a_changed_catalogue_reopens_the_exchange_until_the_variant_is_settled_again() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    import(&shop, Some(ALDER)).await;
    state(&shop, &server, [vec![arrival("AB 123"), vin(), settled()], beside_the_variant()].concat()).await;
    assert_eq!(lacks(&shop, &server).await, [""; 0]);
    let printed = draft(&shop, &server).await;

    let same = ALDER.replace("edition = \"2025-11\"", "edition = \"2026-01\"");
    import(&shop, Some(&same)).await;
    assert_eq!(lacks(&shop, &server).await, [""; 0], "it decides the same");
    let changed = same.replace("LN-847", "LN-850").replace("\"Linden\"", "\"Linden II\"");
    import(&shop, Some(&changed)).await;
    assert_eq!(lacks(&shop, &server).await, ["catalogue-newer"]);
    assert_eq!(draft(&shop, &server).await, printed, "what is printed of the same entries stays as it was");

    state(&shop, &server, vec![settled()]).await;
    assert_eq!(lacks(&shop, &server).await, ["contradiction"], "the container is that of the old fluid");
    state(&shop, &server, vec![container("LN-850")]).await;
    assert_eq!(lacks(&shop, &server).await, [""; 0]);
}

#[tokio::test]
async fn a_first_variant_entered_during_a_job_settles_it() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    import(&shop, None).await;
    state(&shop, &server, [vec![arrival("AB 123"), vin(), settled()], beside_the_variant()].concat()).await;
    let before = lacks(&shop, &server).await;
    assert!(before.contains(&"no-rule".to_owned()) && before.contains(&"variant".to_owned()), "{before:?}");
    import(&shop, Some(ALDER)).await;
    assert!(lacks(&shop, &server).await.contains(&"catalogue-newer".to_owned()));
    state(&shop, &server, vec![settled()]).await;
    assert_eq!(lacks(&shop, &server).await, [""; 0]);
}

//! What the book of who was let in promises, and the kinds of stations.

use super::{Maker, fresh, reopened};
use crate::{AuditBook as _, AuditLine, Beside as _, Station, StoreError};

pub(super) async fn run<M: Maker>(maker: &M) {
    the_same_again_is_counted_and_not_written_anew(maker).await;
    a_station_is_limited_to_kinds(maker).await;
}

fn line(at_us: i64, what: &str) -> AuditLine {
    AuditLine {
        at_us,
        until_us: at_us,
        times: 1,
        what: what.into(),
        station: "bay-1".into(),
        person: "A".into(),
        address: "192.0.2.7".into(),
        about: "26-0001".into(),
        ..AuditLine::default()
    }
}

async fn the_same_again_is_counted_and_not_written_anew<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    assert_eq!(store.audit_since(0).await, Ok(vec![]));
    store.put_audit(line(5, "pin")).await.expect("put");
    store.put_audit(line(6, "pin")).await.expect("put");
    store.put_audit(AuditLine { until_us: 9, times: 3, ..line(5, "pin") }).await.expect("put");
    for other in [
        AuditLine { allowed: true, ..line(5, "pin") },
        AuditLine { station: String::new(), ..line(5, "pin") },
        AuditLine { person: "B".into(), ..line(5, "pin") },
        AuditLine { address: "192.0.2.8".into(), ..line(5, "pin") },
        AuditLine { about: String::new(), ..line(5, "pin") },
        line(5, "token"),
    ] {
        store.put_audit(other).await.expect("put");
    }
    let store = reopened(maker, store).await;
    let lines = store.audit_since(6).await.expect("lines");
    assert_eq!(lines, [line(6, "pin"), AuditLine { until_us: 9, times: 4, ..line(5, "pin") }]);
    let all = store.audit_since(i64::MIN).await.expect("lines");
    assert_eq!((all.len(), &all[0]), (8, &line(5, "token")), "the latest written comes first");
}

async fn a_station_is_limited_to_kinds<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let kinds = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    let unknown = store.set_station_kinds("probe-1", &kinds(&["drain"])).await;
    assert_eq!(unknown, Err(StoreError::StationUnknown { id: "probe-1".into() }));
    for id in ["bay-1", "probe-1"] {
        let station =
            Station { id: id.into(), name: id.into(), role: "bay".into(), created_us: 5, revoked_us: None };
        store.add_station(station).await.expect("add");
    }
    store.set_station_kinds("probe-1", &kinds(&["drain"])).await.expect("set");
    store
        .set_station_kinds("probe-1", &kinds(&["temperature_reading", "exchange_reading"]))
        .await
        .expect("set");
    store.set_station_kinds("bay-1", &[]).await.expect("set");
    let store = reopened(maker, store).await;
    let limited = store.station_kinds().await.expect("kinds");
    let expected = ("probe-1".to_owned(), kinds(&["temperature_reading", "exchange_reading"]));
    assert_eq!(limited.into_iter().collect::<Vec<_>>(), [expected]);
    store.set_station_kinds("probe-1", &[]).await.expect("set");
    assert!(store.station_kinds().await.expect("kinds").is_empty());
}

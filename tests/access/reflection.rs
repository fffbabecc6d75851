//! Reflection and health as tools use them: both versions list every service, for a good token only.

use standpipe_proto::METHODS;
use standpipe_server::Role;
use standpipe_tests::site::{Site, channel, shown};
use std::collections::BTreeSet;
use tonic::Code;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::{HealthCheckRequest, health_client::HealthClient};
use tonic_reflection::pb::{v1, v1alpha};

/// What a tool lists: our services by the generated methods, and the three that every server has.
fn expected() -> BTreeSet<String> {
    let services = METHODS.iter().filter_map(|path| path.split('/').nth(1));
    let common = ["grpc.health.v1.Health", "grpc.reflection.v1.ServerReflection"];
    services.chain(common).map(str::to_owned).collect()
}

macro_rules! listed {
    ($version:ident, $service:expr) => {{
        use $version::server_reflection_client::ServerReflectionClient;
        use $version::server_reflection_request::MessageRequest;
        use $version::server_reflection_response::MessageResponse;
        let ask =
            |asked| $version::ServerReflectionRequest { host: String::new(), message_request: Some(asked) };
        let requests = [
            ask(MessageRequest::ListServices(String::new())),
            ask(MessageRequest::FileContainingSymbol("standpipe.v1.Entry".into())),
            ask(MessageRequest::FileContainingSymbol("standpipe.v1.Nothing".into())),
        ];
        let mut client = ServerReflectionClient::new($service);
        match client.server_reflection_info(tokio_stream::iter(requests)).await {
            Err(status) => Err(status),
            Ok(answers) => {
                let mut answers = answers.into_inner();
                let mut next = async || answers.message().await.unwrap().unwrap().message_response;
                let Some(MessageResponse::ListServicesResponse(list)) = next().await else {
                    panic!("no list")
                };
                let Some(MessageResponse::FileDescriptorResponse(file)) = next().await else {
                    panic!("no file")
                };
                assert!(file.file_descriptor_proto.iter().any(|bytes| contains(bytes, b"VinReading")));
                assert!(answers.message().await.map_or(true, |answer| !matches!(
                    answer.and_then(|answer| answer.message_response),
                    Some(MessageResponse::FileDescriptorResponse(_))
                )));
                Ok(list.service.into_iter().map(|service| service.name).collect::<BTreeSet<_>>())
            }
        }
    }};
}

fn contains(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

#[tokio::test]
async fn both_versions_list_every_service_and_its_messages_for_any_good_token() {
    let site = Site::with(&[("bay-1", Role::Bay), ("office", Role::Office)]).await;
    let server = site.serve().await;
    for token in [site.token("bay-1"), site.token("office"), &site.admin] {
        let found = listed!(v1, shown(server.addr, token).await).unwrap();
        assert!(found.is_superset(&expected()), "{found:?}");
        let found = listed!(v1alpha, shown(server.addr, token).await).unwrap();
        let own = |name: &&String| name.starts_with("standpipe.v1.");
        assert_eq!(found.iter().filter(own).count(), expected().iter().filter(own).count(), "{found:?}");
    }
    assert_eq!(listed!(v1, channel(server.addr).await).unwrap_err().code(), Code::Unauthenticated);
    assert_eq!(listed!(v1alpha, channel(server.addr).await).unwrap_err().code(), Code::Unauthenticated);
}

#[tokio::test]
async fn health_tells_anybody_of_the_whole_and_of_each_service_and_of_nothing_else() {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let server = site.serve().await;
    let mut health = HealthClient::new(channel(server.addr).await);
    let own: BTreeSet<_> = expected().into_iter().filter(|name| name.starts_with("standpipe.")).collect();
    for service in own.iter().cloned().chain([String::new()]) {
        let asked = HealthCheckRequest { service: service.clone() };
        let answer = health.check(asked).await.unwrap().into_inner();
        assert_eq!(answer.status(), ServingStatus::Serving, "{service}");
    }
    let unknown = HealthCheckRequest { service: "standpipe.v1.Nothing".into() };
    assert_eq!(health.check(unknown).await.unwrap_err().code(), Code::NotFound);
}

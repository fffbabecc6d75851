//! Health, and stopping although somebody holds on.

use super::*;
use standpipe_proto::v1::AppendStreamRequest;
use std::time::{Duration, Instant};
use tokio_stream::StreamExt as _;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Code;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::health_client::HealthClient;
use tonic_reflection::pb::v1::ServerReflectionRequest;
use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;
use tonic_reflection::pb::v1::server_reflection_request::MessageRequest;
use tonic_reflection::pb::v1::server_reflection_response::MessageResponse;

#[tokio::test]
async fn an_open_stream_gets_its_answers_and_ends_when_the_server_stops() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut health = HealthClient::new(bearer(&server, "0").await);
    let service = "standpipe.v1.JournalService".to_owned();
    let mut watch = health.watch(HealthCheckRequest { service }).await.unwrap().into_inner();
    assert_eq!(watch.next().await.unwrap().unwrap().status(), ServingStatus::Serving);
    let (sender, requests) = tokio::sync::mpsc::channel(4);
    let mut bay = shop.journal(&server, "bay-1").await;
    let entry = shop.seal("bay-1", &job_id(1), arrival("AB 123"));
    sender.send(AppendStreamRequest { entry }).await.unwrap();
    let mut answers = bay.append_stream(ReceiverStream::new(requests)).await.unwrap().into_inner();
    assert!(answers.next().await.unwrap().unwrap().answer.is_some());
    let began = Instant::now();
    server.shutdown();
    let ended = answers.next().await.unwrap().unwrap_err();
    assert_eq!(ended.code(), Code::Unavailable);
    assert_eq!(watch.next().await.unwrap().unwrap().status(), ServingStatus::NotServing);
    assert!(watch.next().await.is_none());
    server.join().await.unwrap();
    // The client still holds its end; far below the deadline shows that nobody waited for it.
    assert!(began.elapsed() < Duration::from_secs(9));
    drop(sender);
    assert!(crate::verify(&shop.dir).await.unwrap().is_sound());
}

#[tokio::test]
async fn who_holds_on_is_cut_off_at_the_deadline_or_by_a_second_request() {
    let shop = Shop::found().await;
    let listen = "127.0.0.1:0".parse().unwrap();
    let options =
        ServerOptions { listen, stop_within: Duration::from_millis(50), ..ServerOptions::new(&shop.dir) };
    let server = Server::start(options).await.unwrap();
    let (_held, requests) = tokio::sync::mpsc::channel::<ServerReflectionRequest>(1);
    let mut reflection = ServerReflectionClient::new(shop.bearer(&server, "bay-1").await);
    let _open = reflection.server_reflection_info(ReceiverStream::new(requests)).await.unwrap();
    server.shutdown();
    server.join().await.unwrap();
    let server = shop.serve().await;
    let (_held, requests) = tokio::sync::mpsc::channel::<ServerReflectionRequest>(1);
    let mut reflection = ServerReflectionClient::new(shop.bearer(&server, "bay-1").await);
    let _open = reflection.server_reflection_info(ReceiverStream::new(requests)).await.unwrap();
    let began = Instant::now();
    let stopper = server.stopper();
    stopper.in_order();
    stopper.now();
    server.join().await.unwrap();
    assert!(began.elapsed() < Duration::from_secs(9));
}

#[tokio::test]
async fn reflection_tells_any_good_token_what_there_is() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut reflection = ServerReflectionClient::new(shop.bearer(&server, "bay-1").await);
    let ask = |what| ServerReflectionRequest { host: String::new(), message_request: Some(what) };
    let requests = [
        ask(MessageRequest::ListServices(String::new())),
        ask(MessageRequest::FileContainingSymbol("standpipe.v1.Entry".into())),
        ask(MessageRequest::FileByFilename("google/protobuf/timestamp.proto".into())),
    ];
    let answers = reflection.server_reflection_info(tokio_stream::iter(requests)).await.unwrap().into_inner();
    let answers: Vec<_> = answers.map(|answer| answer.unwrap().message_response.unwrap()).collect().await;
    let MessageResponse::ListServicesResponse(services) = &answers[0] else { panic!("{:?}", answers[0]) };
    let names: Vec<_> = services.service.iter().map(|service| service.name.as_str()).collect();
    for name in ["standpipe.v1.JobService", "grpc.health.v1.Health", "grpc.reflection.v1.ServerReflection"] {
        assert!(names.contains(&name), "{name} in {names:?}");
    }
    for answer in &answers[1..] {
        assert!(matches!(answer, MessageResponse::FileDescriptorResponse(_)), "{answer:?}");
    }
    let mut stranger = ServerReflectionClient::new(bearer(&server, "0").await);
    let refused = stranger.server_reflection_info(tokio_stream::iter([])).await.unwrap_err();
    assert_eq!(refused.code(), Code::Unauthenticated);
}

//! What is served and within which limits: our services, health and reflection behind the access table.

use crate::access::AccessLayer;
use crate::door::Door;
use crate::error::ServerError;
use crate::figures::layer::FiguresLayer;
use crate::office;
use crate::rpc;
use crate::workshop::Workshop;
use standpipe_proto::limits::door as bounds;
use standpipe_proto::v1::{
    blob_service_server::BlobServiceServer, catalogue_service_server::CatalogueServiceServer,
    customer_service_server::CustomerServiceServer, forwarding_service_server::ForwardingServiceServer,
    job_service_server::JobServiceServer, journal_service_server::JournalServiceServer,
    record_service_server::RecordServiceServer, station_service_server::StationServiceServer,
    tally_service_server::TallyServiceServer,
};
use standpipe_proto::{DESCRIPTOR_SET, METHODS, limits};
use std::collections::BTreeSet;
use std::sync::Arc;
use tokio::sync::watch;
use tonic::codec::CompressionEncoding;
use tonic::service::Routes;
use tonic_health::ServingStatus;
use tonic_health::pb::health_server::HealthServer;
use tonic_health::server::{HealthReporter, HealthService};

/// Room for the fields beside the PDF in the answer that carries a record.
const RECORD_FRAME_BYTES: usize = 4096;

/// Greatest size of a question about health: it holds the name of a service. Anybody may ask.
const HEALTH_BYTES_MAX: usize = 1024;

/// Everything that answers calls.
pub(crate) struct Services {
    routes: Routes,
    pages: axum::Router,
    pub(crate) health: Health,
}

/// What the health service says, for the server as a whole and for each service.
#[derive(Clone)]
pub(crate) struct Health(HealthReporter);

impl Health {
    fn names() -> BTreeSet<&'static str> {
        let services = METHODS.iter().filter_map(|path| path.trim_start_matches('/').split('/').next());
        services.chain([""]).collect()
    }

    /// Says of everything whether it is served.
    pub(crate) async fn set_serving(&self, serving: bool) {
        let status = if serving { ServingStatus::Serving } else { ServingStatus::NotServing };
        for name in Self::names() {
            self.0.set_service_status(name, status).await;
        }
    }

    /// Ends the streams of those who watch, after they have seen the last status; they would hold up a stop.
    pub(crate) async fn end_watches(&mut self) {
        for name in Self::names() {
            self.0.clear_service_status(name).await;
        }
    }
}

/// Puts all services together, with their limits of message sizes both ways.
pub(crate) async fn services(workshop: &Arc<Workshop>) -> Result<Services, ServerError> {
    let (small, large) = (limits::MESSAGE_BYTES_MAX, limits::RECORD_BYTES_MAX);
    macro_rules! bounded {
        ($server:ident, $handler:expr, $answer:expr) => {
            $server::new($handler).max_decoding_message_size(small).max_encoding_message_size($answer)
        };
    }
    let shop = || Arc::clone(workshop);
    let health = Health(HealthReporter::new());
    health.set_serving(true).await;
    let mut builder = Routes::builder();
    builder
        .add_service(bounded!(JournalServiceServer, rpc::journal::Journal(shop()), small))
        // A job of many entries is told in more words than an entry may have.
        .add_service(bounded!(JobServiceServer, rpc::job::Job(shop()), large))
        .add_service(bounded!(RecordServiceServer, rpc::record::Record(shop()), large + RECORD_FRAME_BYTES))
        .add_service(
            bounded!(StationServiceServer, rpc::station::Station(shop()), small)
                .max_decoding_message_size(limits::ENTRY_BYTES_MAX),
        )
        .add_service(bounded!(CatalogueServiceServer, rpc::catalogue::Catalogue(shop()), small))
        .add_service(bounded!(BlobServiceServer, rpc::blob::Blob::new(shop()), small))
        .add_service(bounded!(CustomerServiceServer, rpc::customer::Customer(shop()), small))
        .add_service(bounded!(TallyServiceServer, rpc::tally::Tally(shop()), large + RECORD_FRAME_BYTES))
        .add_service(
            ForwardingServiceServer::new(rpc::forwarding::Forwardings(shop()))
                .accept_compressed(CompressionEncoding::Gzip)
                .send_compressed(CompressionEncoding::Gzip)
                // Of what was unpacked as well.
                .max_decoding_message_size(limits::FORWARD_MESSAGE_BYTES_MAX)
                .max_encoding_message_size(limits::FORWARD_MESSAGE_BYTES_MAX),
        )
        .add_service(
            HealthServer::new(HealthService::from_health_reporter(health.0.clone()))
                .max_decoding_message_size(HEALTH_BYTES_MAX),
        );
    let described = || {
        tonic_reflection::server::Builder::configure()
            .register_encoded_file_descriptor_set(DESCRIPTOR_SET)
            .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
    };
    let failed = |error: tonic_reflection::server::Error| ServerError::Network { cause: error.to_string() };
    builder
        .add_service(described().build_v1().map_err(failed)?)
        .add_service(described().build_v1alpha().map_err(failed)?);
    Ok(Services { routes: builder.routes(), pages: office::pages(workshop).await?, health })
}

/// Answers calls until draining begins and all calls have ended.
pub(crate) async fn serve(
    services: Services,
    workshop: Arc<Workshop>,
    door: Door,
    mut draining: watch::Receiver<bool>,
) -> Result<(), ServerError> {
    let drained = async move {
        // An error means that nobody is left who could ask; then it is time to end as well.
        let _ = draining.wait_for(|draining| *draining).await;
    };
    let sign_of_life = Some(workshop.limits.sign_of_life);
    tonic::transport::Server::builder()
        .max_concurrent_streams(limits::STREAMS_PER_CONNECTION_MAX)
        .initial_stream_window_size(bounds::STREAM_WINDOW_BYTES)
        .initial_connection_window_size(bounds::CONNECTION_WINDOW_BYTES)
        .http2_max_header_list_size(limits::METADATA_BYTES_MAX)
        .http2_keepalive_interval(sign_of_life)
        .http2_keepalive_timeout(sign_of_life)
        .http2_max_pending_accept_reset_streams(Some(bounds::RESET_STREAMS_MAX))
        .http2_max_local_error_reset_streams(Some(bounds::RESET_STREAMS_MAX))
        .accept_http1(true)
        .layer(FiguresLayer(Arc::clone(&workshop)))
        .layer(AccessLayer::new(workshop, services.pages))
        .add_routes(services.routes)
        .serve_with_incoming_shutdown(door.open(), drained)
        .await
        .map_err(|error| ServerError::Network { cause: error.to_string() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn health_knows_the_server_as_a_whole_and_each_service() {
        let names = Health::names();
        assert!(names.contains("") && names.contains("standpipe.v1.JournalService"));
        assert_eq!(names.len(), 10);
    }
}

//! `ForwardingService`: takes the journals of workshops at their owner's server, and gives back what it has of them.
//!
//! Thin: who may call is decided before, what is kept is [`crate::forwarding`]'s.

use super::inside_bounds;
use crate::access::{Who, who};
use crate::forwarding::{Sites, keeping, offered};
use crate::status::{Cause, Forwarding};
use crate::workshop::Workshop;
use standpipe_proto::v1::forwarding_service_server::ForwardingService;
use standpipe_proto::v1::{
    CompareJournalRequest, CompareJournalResponse, ForwardEntriesRequest, ForwardEntriesResponse,
    GetSharedRevisionRequest, GetSharedRevisionResponse, ListSharedRevisionsRequest,
    ListSharedRevisionsResponse, PutSharedRevisionRequest, PutSharedRevisionResponse, ReturnEntriesRequest,
    ReturnEntriesResponse,
};
use standpipe_proto::visit::Visit;
use std::sync::Arc;
use tonic::{Request, Response, Status, Streaming};

pub(crate) struct Forwardings(pub(crate) Arc<Workshop>);

impl Forwardings {
    /// The workshops whose journals are kept here.
    fn sites(&self) -> Result<&Sites, Cause> {
        Ok(self.0.sites.as_deref().ok_or(Forwarding::NoOwner)?)
    }

    /// The same with who asks, and a request that is inside its bounds.
    fn asked<M: Visit>(&self, request: Request<M>) -> Result<(&Sites, Arc<Who>, M), Cause> {
        let who = who(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok((self.sites()?, who, request))
    }
}

#[tonic::async_trait]
impl ForwardingService for Forwardings {
    async fn compare_journal(
        &self,
        request: Request<CompareJournalRequest>,
    ) -> Result<Response<CompareJournalResponse>, Status> {
        let (sites, who, request) = self.asked(request)?;
        Ok(Response::new(keeping::compare(sites, &who, request).await?))
    }

    async fn forward_entries(
        &self,
        request: Request<ForwardEntriesRequest>,
    ) -> Result<Response<ForwardEntriesResponse>, Status> {
        let (sites, who, request) = self.asked(request)?;
        Ok(Response::new(keeping::forward(sites, &who, request).await?))
    }

    async fn return_entries(
        &self,
        request: Request<ReturnEntriesRequest>,
    ) -> Result<Response<ReturnEntriesResponse>, Status> {
        let (sites, who, request) = self.asked(request)?;
        Ok(Response::new(keeping::give_back(sites, &who, request).await?))
    }

    async fn list_shared_revisions(
        &self,
        request: Request<ListSharedRevisionsRequest>,
    ) -> Result<Response<ListSharedRevisionsResponse>, Status> {
        let (sites, who, request) = self.asked(request)?;
        Ok(Response::new(offered::list(sites, &who, request).await?))
    }

    async fn get_shared_revision(
        &self,
        request: Request<GetSharedRevisionRequest>,
    ) -> Result<Response<GetSharedRevisionResponse>, Status> {
        let (sites, who, request) = self.asked(request)?;
        Ok(Response::new(offered::get(sites, &who, request).await?))
    }

    async fn put_shared_revision(
        &self,
        request: Request<Streaming<PutSharedRevisionRequest>>,
    ) -> Result<Response<PutSharedRevisionResponse>, Status> {
        let who = who(request.extensions())?;
        let sites = self.sites()?;
        let putting = offered::put(sites, &who, request.into_inner(), self.0.limits.blob_part);
        let mut stopping = self.0.stopping.clone();
        tokio::select! {
            // A site that is in the middle of it sends it again.
            _ = stopping.wait_for(|stopping| *stopping) => return Err(Cause::Stopping.into()),
            () = self.0.until_token_ends(&who) => return Err(Cause::Unauthenticated.into()),
            put = putting => put?,
        }
        Ok(Response::new(PutSharedRevisionResponse {}))
    }
}

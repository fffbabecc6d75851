//! `ForwardingService`: takes the journals of workshops at their owner's server, and gives back what it has of them.
//!
//! Thin: who may call is decided before, what is kept is [`crate::forwarding`]'s.

use super::inside_bounds;
use crate::access::{Who, who};
use crate::audit::{Deed, Event, address_of_call};
use crate::forwarding::{Sites, keeping, offered};
use crate::status::{Cause, Forwarding};
use crate::workshop::Workshop;
use standpipe_proto::v1::forwarding_service_server::ForwardingService;
use standpipe_proto::v1::{
    CompareJournalRequest, CompareJournalResponse, ForwardEntriesRequest, ForwardEntriesResponse,
    GetSharedRevisionRequest, GetSharedRevisionResponse, JournalStanding, ListSharedRevisionsRequest,
    ListSharedRevisionsResponse, PutSharedRevisionRequest, PutSharedRevisionResponse, ReturnEntriesRequest,
    ReturnEntriesResponse,
};
use standpipe_proto::visit::Visit;
use std::net::IpAddr;
use std::sync::Arc;
use tonic::{Request, Response, Status, Streaming};

pub(crate) struct Forwardings(pub(crate) Arc<Workshop>);

impl Forwardings {
    /// The workshops whose journals are kept here.
    fn sites(&self) -> Result<&Arc<Sites>, Cause> {
        Ok(self.0.sites.as_ref().ok_or(Forwarding::NoOwner)?)
    }

    /// The same with who asks from where, and a request that is inside its bounds.
    fn asked<M: Visit>(&self, request: Request<M>) -> Result<(&Arc<Sites>, Caller, M), Cause> {
        let caller = Caller::of(request.extensions())?;
        let request = request.into_inner();
        inside_bounds(&request)?;
        Ok((self.sites()?, caller, request))
    }

    async fn refused(&self, caller: &Caller, about: &str) {
        let refused = Event::refused(Deed::Forward);
        let event = Event { station: &caller.who.station_id, address: caller.from, about, ..refused };
        self.0.audit.note(event).await;
    }

    /// Writes down that a station asked for another site than its own.
    async fn answered<T>(&self, caller: &Caller, answer: Result<T, Cause>) -> Result<Response<T>, Status> {
        if let Err(Cause::Forwarding(Forwarding::SiteNotOfStation { named, .. })) = &answer {
            self.refused(caller, named).await;
        }
        Ok(Response::new(answer?))
    }
}

/// Who asks, and from where.
struct Caller {
    who: Arc<Who>,
    from: Option<IpAddr>,
}

impl Caller {
    fn of(extensions: &tonic::Extensions) -> Result<Self, Cause> {
        Ok(Self { who: who(extensions)?, from: address_of_call(extensions) })
    }
}

#[tonic::async_trait]
impl ForwardingService for Forwardings {
    async fn compare_journal(
        &self,
        request: Request<CompareJournalRequest>,
    ) -> Result<Response<CompareJournalResponse>, Status> {
        let (sites, caller, request) = self.asked(request)?;
        let named = request.site_id.clone();
        let answer = keeping::compare(sites, &caller.who, request).await;
        if matches!(&answer, Ok(answer) if answer.standing() == JournalStanding::Another) {
            let about = &format!("another workshop of the identity {named}");
            self.refused(&caller, about).await;
        }
        self.answered(&caller, answer).await
    }

    async fn forward_entries(
        &self,
        request: Request<ForwardEntriesRequest>,
    ) -> Result<Response<ForwardEntriesResponse>, Status> {
        let (sites, caller, request) = self.asked(request)?;
        let answer = keeping::forward(sites, &caller.who, request).await;
        self.answered(&caller, answer).await
    }

    async fn return_entries(
        &self,
        request: Request<ReturnEntriesRequest>,
    ) -> Result<Response<ReturnEntriesResponse>, Status> {
        let (sites, caller, request) = self.asked(request)?;
        let answer = keeping::give_back(sites, &caller.who, request).await;
        self.answered(&caller, answer).await
    }

    async fn list_shared_revisions(
        &self,
        request: Request<ListSharedRevisionsRequest>,
    ) -> Result<Response<ListSharedRevisionsResponse>, Status> {
        let (sites, caller, request) = self.asked(request)?;
        let answer = offered::list(sites, &caller.who, request).await;
        self.answered(&caller, answer).await
    }

    async fn get_shared_revision(
        &self,
        request: Request<GetSharedRevisionRequest>,
    ) -> Result<Response<GetSharedRevisionResponse>, Status> {
        let (sites, caller, request) = self.asked(request)?;
        let answer = offered::get(sites, &caller.who, request).await;
        self.answered(&caller, answer).await
    }

    async fn put_shared_revision(
        &self,
        request: Request<Streaming<PutSharedRevisionRequest>>,
    ) -> Result<Response<PutSharedRevisionResponse>, Status> {
        let caller = Caller::of(request.extensions())?;
        let sites = self.sites()?;
        let putting = offered::put(sites, &caller.who, request.into_inner(), self.0.limits.blob_part);
        let mut stopping = self.0.stopping.clone();
        let put = tokio::select! {
            // A site that is in the middle of it sends it again.
            _ = stopping.wait_for(|stopping| *stopping) => return Err(Cause::Stopping.into()),
            () = self.0.until_token_ends(&caller.who) => return Err(Cause::Unauthenticated.into()),
            put = putting => put,
        };
        self.answered(&caller, put.map(|()| PutSharedRevisionResponse {})).await
    }
}

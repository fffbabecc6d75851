//! `StationService`: tells a station who it is and who else is there.

use super::inside_bounds;
use crate::access::{Role, who};
use crate::audit;
use crate::convert::timestamp;
use crate::desk::latest;
use crate::door::Peer;
use crate::forwarding::intake;
use crate::joining;
use crate::page;
use crate::pin::PIN_DIGITS;
use crate::signing;
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_proto::v1::station_service_server::StationService;
use standpipe_proto::v1::{
    self, DescribeRequest, DescribeResponse, JoinRequest, JoinResponse, ListPersonsRequest,
    ListPersonsResponse, ListStationsRequest, ListStationsResponse, RenewTokenRequest, RenewTokenResponse,
    SignRequest, SignResponse,
};
use std::sync::Arc;
use tonic::{Request, Response, Status};

pub(crate) struct Station(pub(crate) Arc<Workshop>);

#[tonic::async_trait]
impl StationService for Station {
    async fn describe(
        &self,
        request: Request<DescribeRequest>,
    ) -> Result<Response<DescribeResponse>, Status> {
        let who = who(request.extensions())?;
        let station = v1::Station {
            station_id: who.station_id.clone(),
            name: who.name.clone(),
            role: v1::Role::from(who.role).into(),
            revoked: false,
            kinds: who.kinds.clone(),
            create_time: Some(timestamp(who.created_us)),
            token_expire_time: who.token_ends_us.map(timestamp),
        };
        Ok(Response::new(DescribeResponse {
            station: Some(station),
            site_id: self.0.site_id.clone(),
            site_name: self.0.site_name.clone(),
            server_time: Some(timestamp(self.0.clock.now_us())),
            server_version: crate::VERSION.to_owned(),
            catalogue_revision_id: self.0.catalogue().now().id.clone(),
            token_expire_time: who.token_ends_us.map(timestamp),
        }))
    }

    async fn list_stations(
        &self,
        request: Request<ListStationsRequest>,
    ) -> Result<Response<ListStationsResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        let stations = self.0.beside.stations().await.map_err(Cause::from)?;
        let asked = (request.page_size, request.page_token.as_str());
        let (page, next_page_token) = page::cut(stations, &["ListStations"], asked, |station| &station.id)?;
        let tokens = self.0.beside.tokens().await.map_err(Cause::from)?;
        let mut kinds = self.0.book.station_kinds().await.map_err(Cause::from)?;
        let stations = page.into_iter().map(|station| v1::Station {
            create_time: Some(timestamp(station.created_us)),
            token_expire_time: latest(&tokens, &station.id).and_then(|token| token.ends_us).map(timestamp),
            role: Role::from_name(&station.role).map_or(v1::Role::Unspecified, v1::Role::from).into(),
            revoked: station.revoked_us.is_some(),
            kinds: kinds.remove(&station.id).unwrap_or_default(),
            station_id: station.id,
            name: station.name,
        });
        Ok(Response::new(ListStationsResponse { stations: stations.collect(), next_page_token }))
    }

    async fn list_persons(
        &self,
        request: Request<ListPersonsRequest>,
    ) -> Result<Response<ListPersonsResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        let mut persons = self.0.beside.persons().await.map_err(Cause::from)?;
        // Who was taken off the list keeps the code in old entries and is not offered any more.
        persons.retain(|person| person.erased_us.is_none());
        let asked = (request.page_size, request.page_token.as_str());
        let (page, next_page_token) = page::cut(persons, &["ListPersons"], asked, |person| &person.code)?;
        let mut persons = Vec::with_capacity(page.len());
        for person in page {
            let has_pin = self.0.beside.person_pin(&person.code).await.map_err(Cause::from)?.is_some();
            let name = person.name.unwrap_or_default();
            persons.push(v1::Person { person_code: person.code, name, has_pin });
        }
        Ok(Response::new(ListPersonsResponse { persons, next_page_token }))
    }

    async fn join(&self, request: Request<JoinRequest>) -> Result<Response<JoinResponse>, Status> {
        // The door puts it there; without it nobody knows whom the guesses are counted against.
        let peer = request.extensions().get::<Peer>().ok_or(Cause::JoinCodeNotGood)?.address.ip();
        let request = request.into_inner();
        inside_bounds(&request)?;
        let founding = intake::hash_if_told("founding", &request.founding)?;
        let brings = request.brings_journal.then_some((request.site_id.as_str(), founding));
        let shown = (request.secret.as_str(), request.token.as_str());
        let (token, station) = joining::join(&self.0, peer, shown, brings).await?;
        let token_expire_time = token.ends_us.map(timestamp);
        let station = v1::Station {
            role: Role::from_name(&station.role).map_or(v1::Role::Unspecified, v1::Role::from).into(),
            station_id: station.id,
            name: station.name,
            create_time: Some(timestamp(station.created_us)),
            token_expire_time,
            ..v1::Station::default()
        };
        Ok(Response::new(JoinResponse {
            station: Some(station),
            site_id: self.0.site_id.clone(),
            site_name: self.0.site_name.clone(),
            server_time: Some(timestamp(self.0.clock.now_us())),
            token_expire_time,
        }))
    }

    async fn renew_token(
        &self,
        request: Request<RenewTokenRequest>,
    ) -> Result<Response<RenewTokenResponse>, Status> {
        let who = who(request.extensions())?;
        let address = request.extensions().get::<Peer>().map(|peer| peer.address.ip());
        let request = request.into_inner();
        inside_bounds(&request)?;
        let ends_us = joining::renew(&self.0, &who, address, &request.token).await?;
        Ok(Response::new(RenewTokenResponse { token_expire_time: ends_us.map(timestamp) }))
    }

    async fn sign(&self, request: Request<SignRequest>) -> Result<Response<SignResponse>, Status> {
        let who = who(request.extensions())?;
        let address = audit::address_of_call(request.extensions());
        let request = request.into_inner();
        to_sign_inside_bounds(&request)?;
        let entry_ids = signing::sign(&self.0, &who, address, request).await?;
        Ok(Response::new(SignResponse { entry_ids }))
    }
}

/// Holds a request to sign against the table of bounds; what is wrong is told without a digit of the PIN.
pub(crate) fn to_sign_inside_bounds(request: &SignRequest) -> Result<(), Cause> {
    let Err(cause) = inside_bounds(request) else { return Ok(()) };
    let Cause::OutsideBounds(mut violations) = cause else { return Err(cause) };
    let (least, most) = (PIN_DIGITS.start(), PIN_DIGITS.end());
    for violation in violations.iter_mut().filter(|violation| violation.field == "pin") {
        violation.what = format!("is not {least} to {most} digits; type the PIN as it was set");
    }
    Err(Cause::OutsideBounds(violations))
}

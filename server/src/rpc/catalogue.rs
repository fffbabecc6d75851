//! `CatalogueService`: the catalogue in use and the files of every adopted revision.

use super::inside_bounds;
use crate::catalogue::{files_of_page, kept_files};
use crate::convert;
use crate::page;
use crate::status::Cause;
use crate::workshop::{Workshop, off_the_network};
use standpipe_proto::limits::{CATALOGUE_FILE_BYTES_MAX, MESSAGE_BYTES_MAX};
use standpipe_proto::v1::catalogue_service_server::CatalogueService;
use standpipe_proto::v1::{
    CatalogueFile, GetRevisionRequest, GetRevisionResponse, ListVariantsRequest, ListVariantsResponse,
};
use std::sync::Arc;
use tonic::{Request, Response, Status};

/// Bytes of the files of one answer: what a message may have, less the names and frames around them.
const PAGE_BYTES_MAX: usize = MESSAGE_BYTES_MAX - 128 * 1024;
const _: () = assert!(CATALOGUE_FILE_BYTES_MAX <= PAGE_BYTES_MAX);

pub(crate) struct Catalogue(pub(crate) Arc<Workshop>);

#[tonic::async_trait]
impl CatalogueService for Catalogue {
    async fn list_variants(
        &self,
        request: Request<ListVariantsRequest>,
    ) -> Result<Response<ListVariantsResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        let catalogue = self.0.catalogue();
        let adopted = catalogue.now();
        let mut variants: Vec<_> = adopted.revision.variants().iter().map(convert::variant).collect();
        variants.sort_by(|one, other| one.code.cmp(&other.code));
        let question = ["ListVariants", adopted.id.as_str()];
        let asked = (request.page_size, request.page_token.as_str());
        let (variants, next_page_token) = page::cut(variants, &question, asked, |variant| &variant.code)?;
        let revision_id = adopted.id.clone();
        Ok(Response::new(ListVariantsResponse { variants, next_page_token, revision_id }))
    }

    async fn get_revision(
        &self,
        request: Request<GetRevisionRequest>,
    ) -> Result<Response<GetRevisionResponse>, Status> {
        let request = request.into_inner();
        inside_bounds(&request)?;
        let catalogue = self.0.catalogue();
        let revision_id = match request.revision_id.as_str() {
            "" => catalogue.current().ok_or(Cause::NoCatalogue)?.id.clone(),
            asked if catalogue.has(asked) => asked.to_owned(),
            asked => return Err(Cause::RevisionUnknown { revision: asked.to_owned() }.into()),
        };
        let (folder, wanted) = (self.0.folder.clone(), revision_id.clone());
        let files = off_the_network(move || kept_files(&folder, &wanted))
            .await?
            .map_err(|error| Cause::internal("reading a catalogue revision", &error))?;
        let question = ["GetRevision", revision_id.as_str()];
        let asked = (request.page_size, request.page_token.as_str());
        let (files, next_page_token) = files_of_page(files, &question, asked, PAGE_BYTES_MAX)?;
        let files = files.into_iter().map(|(name, content)| CatalogueFile { name, content });
        Ok(Response::new(GetRevisionResponse {
            files: files.collect(),
            next_page_token,
            revision_id: revision_id.clone(),
        }))
    }
}

//! The office pages: jobs in a browser, on the same port as the calls of the stations.
//!
//! Plain pages made on the server; one small script keeps those up to date that show what changes, and no page needs
//! it. [`guard`] decides who sees them; a page asks the workshop like a
//! handler of the network does and states facts through its own station, [`station`]. Never here: a rule of the
//! trade, SQL, page geometry of the record. Mounted by [`crate::wiring`].

mod at_owner;
mod bay;
mod beside;
mod catalogue;
mod cookies;
mod fact;
mod frame;
mod guard;
mod job;
mod jobs;
mod join;
mod language;
mod live;
mod login;
mod open;
mod owner;
mod paper;
mod put_right;
mod session;
mod station;
mod story;
mod tally;
#[cfg(test)]
mod tests;
mod trouble;
mod variant;

use crate::clock::{Entropy, SystemEntropy};
use crate::error::ServerError;
use crate::places::Places;
use crate::workshop::Workshop;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn_with_state;
use axum::routing::{get, post};
use guard::SignedIn;
pub(crate) use guard::is_asked_here;
use maud::Markup;
use standpipe_proto::limits::PAGE_STREAMS_PER_SESSION_MAX;
use standpipe_proto::limits::door::BLOBS_PER_STATION_MAX;
use std::sync::Arc;

pub use station::OFFICE_STATION;

/// Most bytes of a form.
const FORM_BYTES_MAX: usize = 64 * 1024;

/// What the pages share.
struct Office {
    workshop: Arc<Workshop>,
    entropy: Arc<dyn Entropy>,
    sessions: session::Sessions,
    station: station::OfficeStation,
    /// Of what renewed tokens of tablets are made; another one after each start.
    renewal_secret: [u8; 32],
    /// Pages that are kept up to date, by session or station.
    streams: Arc<Places>,
    /// Photos that are taken in, by station.
    photos: Arc<Places>,
}

impl Office {
    async fn of(workshop: &Arc<Workshop>) -> Result<Self, ServerError> {
        let entropy: Arc<dyn Entropy> = Arc::new(SystemEntropy);
        let station = station::OfficeStation::open(workshop, &*entropy).await?;
        let mut renewal_secret = [0; 32];
        entropy.fill(&mut renewal_secret)?;
        Ok(Self {
            workshop: Arc::clone(workshop),
            renewal_secret,
            entropy,
            sessions: session::Sessions::default(),
            station,
            streams: Arc::new(Places::new(PAGE_STREAMS_PER_SESSION_MAX)),
            photos: Arc::new(Places::new(BLOBS_PER_STATION_MAX)),
        })
    }

    /// A page for the person who is signed in.
    fn page(&self, person: &SignedIn, title: &str, content: Markup) -> Markup {
        let frame = frame::Frame {
            workshop: &self.workshop.site_name,
            title,
            person: Some(person),
            owner: self.workshop.tallies.is_some(),
            live: None,
        };
        frame.around(content)
    }

    /// The same for a page that shows what changes, with the path of the stream that says so.
    fn live_page(&self, person: &SignedIn, title: &str, live: &str, content: Markup) -> Markup {
        let frame = frame::Frame {
            workshop: &self.workshop.site_name,
            title,
            person: Some(person),
            owner: self.workshop.tallies.is_some(),
            live: Some(live),
        };
        frame.around(content)
    }

    fn now_us(&self) -> i64 {
        self.workshop.clock.now_us()
    }
}

/// All pages behind their guard.
///
/// # Errors
/// When the station of the pages cannot be opened.
pub(crate) async fn pages(workshop: &Arc<Workshop>) -> Result<Router, ServerError> {
    let office = Arc::new(Office::of(workshop).await?);
    let tallies = tally::PAGES.iter();
    let router = tallies.fold(Router::new(), |router, page| router.route(page.route, get(tally::show)));
    // An owner looks at the workshops first; the owner's server has hardly a job of its own.
    let router = match workshop.tallies {
        Some(_) => router.route("/", get(owner::show)).route("/jobs", get(jobs::show)),
        None => router.route("/", get(jobs::show)),
    };
    let router = router
        .route("/workshops", get(owner::show))
        .route("/workshops/jobs.csv", get(owner::csv))
        .route("/workshops/jobs.jsonl", get(owner::json_lines))
        .route("/workshop/{site}", get(owner::site))
        .route("/workshop/{site}/job/{job}", get(owner::job))
        .route("/live", get(live::jobs))
        .route(login::PATH, get(login::ask).post(login::enter))
        .route("/logout", post(login::leave))
        .route(join::PATH, get(join::show).post(join::become_station))
        .route(join::SCRIPT, get(join::script))
        .route(join::AUTHORITY, get(join::authority))
        .route("/open", get(open::ask).post(open::open))
        .route("/job/{job}", get(job::show))
        .route("/job/{job}/live", get(live::job))
        .route("/job/{job}/put-right/{entry}", get(put_right::ask).post(put_right::put_right))
        .route("/job/{job}/sign/{entry}", get(put_right::ask_pin).post(put_right::sign))
        .route("/photo-sheet.pdf", get(paper::photo_sheet))
        .route("/job/{job}/record.pdf", get(paper::draft))
        .route("/job/{job}/sheet.pdf", get(paper::sheet))
        .route("/job/{job}/edition/{edition}", get(paper::edition))
        .route("/job/{job}/issue", post(paper::issue))
        .route("/job/{job}/handover", post(paper::hand_over))
        .route("/job/{job}/photo/{digest}", get(beside::photo))
        .route("/job/{job}/recall", post(tally::recall::answer))
        .route("/job/{job}/variant", post(variant::settle::settle))
        .route("/state/{form}", get(fact::ask).post(fact::state))
        .route("/stated", get(fact::stated::show))
        .route("/put-right/{entry}", get(fact::stated::ask).post(fact::stated::withdraw))
        .route("/catalogue", get(catalogue::show))
        .route("/catalogue/offered/{revision}", post(at_owner::adopt))
        .route("/catalogue/variant/{code}", get(catalogue::one::show))
        .route("/catalogue/revision/{seq}", get(catalogue::changed::show))
        .route("/variant", get(variant::ask).post(variant::enter))
        .route(frame::STYLE, get(frame::style))
        .route(frame::SCRIPT, get(frame::script))
        .route(frame::ICON, get(frame::icon))
        .merge(bay::routes())
        .fallback(|| async { trouble::Trouble::NoPage })
        .layer(DefaultBodyLimit::max(FORM_BYTES_MAX))
        .layer(from_fn_with_state(Arc::clone(&office), guard::pass))
        .layer(from_fn_with_state(Arc::clone(&office), language::pass))
        .with_state(office);
    Ok(router)
}

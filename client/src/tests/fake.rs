//! A small shop server for tests of the station: it keeps a journal in memory and misbehaves when told to.
//! It is no second implementation: it checks nothing but the token.

use bytes::Bytes;
use prost::Message as _;
use standpipe_proto::v1::append_stream_response::Answer;
use standpipe_proto::v1::blob_service_server::{BlobService, BlobServiceServer};
use standpipe_proto::v1::job_service_server::{JobService, JobServiceServer};
use standpipe_proto::v1::journal_service_server::{JournalService, JournalServiceServer};
use standpipe_proto::v1::record_service_server::{RecordService, RecordServiceServer};
use standpipe_proto::v1::station_service_server::{StationService, StationServiceServer};
use standpipe_proto::v1::*;
use standpipe_proto::v1::{fact::Kind, header::Subject};
use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use tokio::sync::oneshot;
use tokio_stream::wrappers::{ReceiverStream, TcpListenerStream};
use tonic::{Request, Response, Status, Streaming};
use tonic_types::{ErrorDetails, StatusExt as _};

pub(crate) const TOKEN: &str = "a_token";
/// The only PIN that is right.
pub(crate) const PIN: &str = "80417";

/// What the server has and how it behaves.
#[derive(Default)]
pub(crate) struct Shop {
    pub(crate) journal: Vec<Bytes>,
    /// Refuses entries of this kind: kind, code, sentence.
    pub(crate) refuses: Option<(&'static str, tonic::Code)>,
    /// Breaks the stream after so many answers, once.
    pub(crate) breaks_after: Option<usize>,
    /// Keeps an entry and breaks the stream before it says so, once.
    pub(crate) dies_before_answer: bool,
    pub(crate) knows_no_stream: bool,
    pub(crate) says_numbers_are_reused: bool,
    pub(crate) wants_decisions_signed: bool,
    /// What was signed.
    pub(crate) signed: Vec<SignRequest>,
    pub(crate) says_yes: bool,
    pub(crate) now_seconds: i64,
    /// Calls other than Describe.
    pub(crate) calls: usize,
    /// The steps of every job.
    pub(crate) steps: Vec<Step>,
    /// Files by their digest.
    pub(crate) blobs: HashMap<String, Vec<u8>>,
    /// Takes no files for now, or never.
    pub(crate) refuses_blobs: Option<tonic::Code>,
    /// Request and edition of each issue.
    pub(crate) issued: Vec<String>,
    /// Issues an edition and does not say so, once.
    pub(crate) loses_issue: bool,
    /// What changes what is done next, in every job.
    pub(crate) now: Vec<String>,
    /// What each watch tells before it ends, the first watch first; the last one ends by a refusal.
    pub(crate) watches: Vec<Vec<Vec<String>>>,
    /// Ends the next watch as a server that stops does.
    pub(crate) stops_watching: bool,
    /// Litres that plans were asked for.
    pub(crate) kits: Vec<Option<f64>>,
}

impl Shop {
    pub(crate) fn entries(&self) -> Vec<Entry> {
        self.journal.iter().map(|bytes| Entry::decode(bytes.as_ref()).unwrap()).collect()
    }

    pub(crate) fn ids(&self) -> Vec<String> {
        self.entries().into_iter().map(|entry| entry.header.unwrap().entry_id).collect()
    }

    fn jobs(&self) -> HashMap<String, (String, String)> {
        let mut jobs = HashMap::new();
        for entry in self.entries() {
            if let Some(Kind::Arrival(arrival)) = entry.fact.clone().unwrap().kind {
                let number = format!("HL-26-{:04}", jobs.len() + 1);
                jobs.insert(job_id(&entry), (number, arrival.plate));
            }
        }
        jobs
    }

    fn take(&mut self, bytes: &Bytes) -> Result<Acknowledgement, Refusal> {
        let entry = Entry::decode(bytes.as_ref()).unwrap();
        let entry_id = entry.header.clone().unwrap().entry_id;
        let refusal = |code: tonic::Code, reason: &str, message: &str| Refusal {
            entry_id: entry_id.clone(),
            code: code.into(),
            reason: reason.into(),
            message: message.into(),
        };
        let known = self.ids().iter().position(|id| *id == entry_id);
        if let Some(at) = known
            && self.journal[at] != *bytes
        {
            return Err(refusal(
                tonic::Code::AlreadyExists,
                "ENTRY_ID_REUSED",
                "the id was used for another entry",
            ));
        }
        let kind =
            crate::words::descriptor::Words::get().unwrap().kind_of(entry.fact.as_ref().unwrap()).unwrap();
        if let Some((refused, code)) = self.refuses
            && refused == kind
        {
            return Err(refusal(code, "TEST", "it is refused in this test"));
        }
        if known.is_none() {
            if kind != "arrival" && !job_id(&entry).is_empty() && !self.jobs().contains_key(&job_id(&entry)) {
                return Err(refusal(tonic::Code::NotFound, "JOB_UNKNOWN", "the job is not known here"));
            }
            self.journal.push(bytes.clone());
        }
        let seq = known.unwrap_or(self.journal.len() - 1) as i64 + 1;
        let (job_number, plate) = self.jobs().remove(&job_id(&entry)).unwrap_or_default();
        Ok(Acknowledgement {
            entry_id,
            seq,
            received_time: Some(prost_types::Timestamp { seconds: self.now_seconds, nanos: 0 }),
            job_number,
            plate,
            repeated: known.is_some(),
            station_number_reused: self.says_numbers_are_reused,
            signature_needed: self.wants_decisions_signed && kind == "decision",
        })
    }

    fn summary(&self, job: &str) -> Result<JobSummary, Status> {
        let found = self.jobs().into_iter().find(|(id, (number, _))| {
            id == job || number == job || job.parse().is_ok_and(|n: u32| number.ends_with(&format!("{n:04}")))
        });
        let (job_id, (number, plate)) = found.ok_or_else(|| {
            told(tonic::Code::NotFound, "JOB_UNKNOWN", &format!("job '{job}' is not known here"))
        })?;
        Ok(JobSummary { job_id, number, plate, ..JobSummary::default() })
    }
}

fn job_id(entry: &Entry) -> String {
    match entry.header.clone().unwrap().subject.unwrap() {
        Subject::JobId(job) => job,
        Subject::SiteId(_) => String::new(),
    }
}

fn told(code: tonic::Code, reason: &str, message: &str) -> Status {
    let details = ErrorDetails::with_error_info(reason, standpipe_proto::ERROR_DOMAIN, HashMap::new());
    Status::with_error_details(code, message, details)
}

/// A running server; it stops when dropped.
pub(crate) struct Fake {
    pub(crate) address: String,
    pub(crate) shop: Arc<Mutex<Shop>>,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Fake {
    pub(crate) fn start() -> Self {
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        Self::serve(
            listener,
            Arc::new(Mutex::new(Shop { now_seconds: super::START / 1_000_000, ..Shop::default() })),
        )
    }

    pub(crate) fn shop(&self) -> std::sync::MutexGuard<'_, Shop> {
        self.shop.lock().unwrap()
    }

    fn serve(listener: std::net::TcpListener, shop: Arc<Mutex<Shop>>) -> Self {
        let address = format!("http://{}", listener.local_addr().unwrap());
        listener.set_nonblocking(true).unwrap();
        let (stop, stopped) = oneshot::channel::<()>();
        let served = Served(Arc::clone(&shop));
        let thread = std::thread::spawn(move || {
            super::wait_for(async move {
                let listener = tokio::net::TcpListener::from_std(listener).unwrap();
                let server = tonic::transport::Server::builder()
                    .add_service(JournalServiceServer::new(served.clone()))
                    .add_service(JobServiceServer::new(served.clone()))
                    .add_service(RecordServiceServer::new(served.clone()))
                    .add_service(BlobServiceServer::new(served.clone()))
                    .add_service(StationServiceServer::new(served))
                    .serve_with_incoming(TcpListenerStream::new(listener));
                // Dropping the server cuts every connection, as a killed one would.
                tokio::select! { _ = server => {}, _ = stopped => {} }
            });
        });
        Self { address, shop, stop: Some(stop), thread: Some(thread) }
    }
}

impl Drop for Fake {
    fn drop(&mut self) {
        drop(self.stop.take());
        let _ = self.thread.take().unwrap().join();
    }
}

#[derive(Clone)]
struct Served(Arc<Mutex<Shop>>);

impl Served {
    fn ask<T>(&self, request: &Request<T>) -> Result<std::sync::MutexGuard<'_, Shop>, Status> {
        let shown = request.metadata().get("authorization").and_then(|value| value.to_str().ok());
        if shown != Some(&format!("Bearer {TOKEN}")) {
            return Err(told(
                tonic::Code::Unauthenticated,
                "TOKEN_NOT_GOOD",
                "the station's token is not good here",
            ));
        }
        let mut shop = self.0.lock().unwrap();
        shop.calls += 1;
        Ok(shop)
    }
}

#[tonic::async_trait]
impl JournalService for Served {
    async fn append(&self, request: Request<AppendRequest>) -> Result<Response<AppendResponse>, Status> {
        let taken = self.ask(&request)?.take(&request.get_ref().entry);
        let acknowledgement = taken.map_err(|refusal| {
            told(tonic::Code::from_i32(refusal.code), &refusal.reason, &refusal.message)
        })?;
        Ok(Response::new(AppendResponse { acknowledgement: Some(acknowledgement) }))
    }

    type AppendStreamStream = ReceiverStream<Result<AppendStreamResponse, Status>>;

    async fn append_stream(
        &self,
        request: Request<Streaming<AppendStreamRequest>>,
    ) -> Result<Response<Self::AppendStreamStream>, Status> {
        if self.ask(&request)?.knows_no_stream {
            return Err(Status::unimplemented("no such method"));
        }
        let shop = Arc::clone(&self.0);
        let mut requests = request.into_inner();
        let (answers, stream) = tokio::sync::mpsc::channel(64);
        tokio::spawn(async move {
            let mut answered = 0;
            while let Ok(Some(request)) = requests.message().await {
                let (answer, dies) = {
                    let mut shop = shop.lock().unwrap();
                    if shop.breaks_after == Some(answered) {
                        shop.breaks_after = None;
                        break;
                    }
                    let answer = shop.take(&request.entry);
                    (answer, std::mem::take(&mut shop.dies_before_answer))
                };
                if dies {
                    break;
                }
                answered += 1;
                let answer = match answer {
                    Ok(acknowledgement) => Answer::Acknowledgement(acknowledgement),
                    Err(refusal) => Answer::Refusal(refusal),
                };
                if answers.send(Ok(AppendStreamResponse { answer: Some(answer) })).await.is_err() {
                    break;
                }
            }
        });
        Ok(Response::new(ReceiverStream::new(stream)))
    }

    async fn read(&self, request: Request<ReadRequest>) -> Result<Response<ReadResponse>, Status> {
        let shop = self.ask(&request)?;
        let of_job = |bytes: &&Bytes| {
            Entry::decode(bytes.as_ref()).is_ok_and(|entry| job_id(&entry) == request.get_ref().job)
        };
        let entries = shop.journal.iter().filter(of_job);
        let entries = entries.map(|entry| RecordedEntry { entry: entry.clone(), ..RecordedEntry::default() });
        Ok(Response::new(ReadResponse { entries: entries.collect(), ..ReadResponse::default() }))
    }
}

#[tonic::async_trait]
impl StationService for Served {
    async fn describe(
        &self,
        request: Request<DescribeRequest>,
    ) -> Result<Response<DescribeResponse>, Status> {
        self.ask(&request)?.calls -= 1;
        let station = Station { station_id: "bay-1".into(), name: "bay-1".into(), ..Station::default() };
        Ok(Response::new(DescribeResponse {
            station: Some(station),
            site_id: "harbour-lane".into(),
            site_name: "Harbour Lane".into(),
            ..DescribeResponse::default()
        }))
    }

    async fn list_stations(
        &self,
        _: Request<ListStationsRequest>,
    ) -> Result<Response<ListStationsResponse>, Status> {
        Err(Status::unimplemented("not in this test"))
    }

    async fn list_persons(
        &self,
        _: Request<ListPersonsRequest>,
    ) -> Result<Response<ListPersonsResponse>, Status> {
        Err(Status::unimplemented("not in this test"))
    }

    async fn join(&self, _: Request<JoinRequest>) -> Result<Response<JoinResponse>, Status> {
        Err(Status::unimplemented("not in this test"))
    }

    async fn renew_token(
        &self,
        _: Request<RenewTokenRequest>,
    ) -> Result<Response<RenewTokenResponse>, Status> {
        Err(Status::unimplemented("not in this test"))
    }

    async fn sign(&self, request: Request<SignRequest>) -> Result<Response<SignResponse>, Status> {
        let mut shop = self.ask(&request)?;
        let request = request.into_inner();
        if request.pin != PIN {
            return Err(told(tonic::Code::PermissionDenied, "PIN_NOT_GOOD", "the PIN is not the person's"));
        }
        let entry_ids = request.entry_ids.clone();
        shop.signed.push(request);
        Ok(Response::new(SignResponse { entry_ids }))
    }
}

#[tonic::async_trait]
impl JobService for Served {
    async fn list(&self, request: Request<ListRequest>) -> Result<Response<ListResponse>, Status> {
        let shop = self.ask(&request)?;
        let mut jobs: Vec<_> = shop.jobs().keys().map(|job| shop.summary(job).unwrap()).collect();
        jobs.sort_by(|a, b| b.number.cmp(&a.number));
        // One job a page, so that paging is seen.
        let at: usize = request.get_ref().page_token.parse().unwrap_or(0);
        let next = if at + 1 < jobs.len() { (at + 1).to_string() } else { String::new() };
        let jobs = jobs.into_iter().skip(at).take(1).collect();
        Ok(Response::new(ListResponse { jobs, next_page_token: next }))
    }

    async fn get(&self, request: Request<GetRequest>) -> Result<Response<GetResponse>, Status> {
        let shop = self.ask(&request)?;
        let summary = shop.summary(&request.get_ref().job)?;
        let words = crate::words::descriptor::Words::get().unwrap();
        let story: Vec<_> = shop
            .entries()
            .into_iter()
            .enumerate()
            .filter(|(_, entry)| job_id(entry) == summary.job_id)
            .map(|(at, entry)| StoryLine {
                seq: at as i64 + 1,
                kind: words.kind_of(entry.fact.as_ref().unwrap()).unwrap(),
                text: "a fact".into(),
                entry_id: entry.header.clone().unwrap().entry_id,
                person_code: entry.header.clone().unwrap().person_code,
                time: entry.header.unwrap().station_time,
                ..StoryLine::default()
            })
            .collect();
        let job = Job { entry_count: story.len() as i64, summary: Some(summary), story, ..Job::default() };
        Ok(Response::new(GetResponse { job: Some(job) }))
    }

    async fn may(&self, request: Request<MayRequest>) -> Result<Response<MayResponse>, Status> {
        let shop = self.ask(&request)?;
        let summary = Some(shop.summary(&request.get_ref().job)?);
        let missing = MissingPoint {
            text: "The fluid is not the one of the variant.".into(),
            stops: true,
            key: "fluid-differs".into(),
            decidable: false,
        };
        let missing = if shop.says_yes { Vec::new() } else { vec![missing] };
        let time = Some(prost_types::Timestamp { seconds: shop.now_seconds, nanos: 0 });
        Ok(Response::new(MayResponse {
            yes: shop.says_yes,
            missing,
            time,
            summary,
            ..MayResponse::default()
        }))
    }

    async fn next(&self, request: Request<NextRequest>) -> Result<Response<NextResponse>, Status> {
        let shop = self.ask(&request)?;
        let summary = shop.summary(&request.get_ref().job)?;
        let since: Vec<_> =
            shop.entries().into_iter().filter(|entry| job_id(entry) == summary.job_id).collect();
        let answer = NextResponse {
            summary: Some(summary),
            steps: super::steps::as_begun(&shop.steps, &since),
            last_seq: shop.journal.len() as i64,
            stops: Vec::new(),
            now: shop.now.clone(),
        };
        Ok(Response::new(answer))
    }

    async fn plan(&self, request: Request<PlanRequest>) -> Result<Response<PlanResponse>, Status> {
        let mut shop = self.ask(&request)?;
        let summary = Some(shop.summary(&request.get_ref().job)?);
        shop.kits.push(request.get_ref().kit_litres);
        let choice = |name: &str, new_share, advised| PlanChoice {
            key: name.into(),
            name: name.into(),
            volume_litres: 14.0,
            pushed_litres: 9.4,
            new_share,
            new_share_least: new_share - 0.2,
            new_share_greatest: new_share + 0.15,
            duration_minutes: 58.8,
            text: "What it shows or risks, in a sentence that is longer than the line of a terminal is."
                .into(),
            advised,
        };
        Ok(Response::new(PlanResponse {
            summary,
            basis: vec!["It rests on 9.0\u{a0}L and on what is usual.".into()],
            choices: vec![choice("Drain and fill, 4 times", 0.601, false), choice("Exchange", 0.784, true)],
            advice: "Exchange: most new fluid for the same litres.".into(),
            ..PlanResponse::default()
        }))
    }

    type WatchStream = ReceiverStream<Result<WatchResponse, Status>>;

    async fn watch(&self, request: Request<WatchRequest>) -> Result<Response<Self::WatchStream>, Status> {
        let mut shop = self.ask(&request)?;
        let summary = Some(shop.summary(&request.get_ref().job)?);
        let states = shop.watches.remove(0);
        let time = Some(prost_types::Timestamp { seconds: shop.now_seconds, nanos: 0 });
        let (sender, stream) = tokio::sync::mpsc::channel(states.len() + 1);
        for (at, now) in states.into_iter().enumerate() {
            let last_seq = at as i64 + 1;
            let state =
                WatchResponse { summary: summary.clone(), now, last_seq, time, ..WatchResponse::default() };
            sender.try_send(Ok(state)).unwrap();
        }
        if std::mem::take(&mut shop.stops_watching) {
            let stopping = "the server is stopping; send again when it is back";
            sender.try_send(Err(told(tonic::Code::Unavailable, "SERVER_STOPPING", stopping))).unwrap();
        } else if shop.watches.is_empty() {
            let last = told(tonic::Code::PermissionDenied, "TEST", "no more watching in this test");
            sender.try_send(Err(last)).unwrap();
        }
        Ok(Response::new(ReceiverStream::new(stream)))
    }
}

#[tonic::async_trait]
impl RecordService for Served {
    async fn render(&self, request: Request<RenderRequest>) -> Result<Response<RenderResponse>, Status> {
        let summary = self.ask(&request)?.summary(&request.get_ref().job)?;
        Ok(Response::new(RenderResponse {
            pdf: b"%PDF-1.7 test".to_vec(),
            file_name: format!("{}.pdf", summary.number),
            check_value: "0123456789abcdef".into(),
            warnings: Vec::new(),
        }))
    }

    async fn issue(&self, request: Request<IssueRequest>) -> Result<Response<IssueResponse>, Status> {
        let mut shop = self.ask(&request)?;
        let request = request.into_inner();
        let summary = shop.summary(&request.job)?;
        let known = shop.issued.iter().position(|id| *id == request.request_id);
        let edition = known.unwrap_or_else(|| {
            shop.issued.push(request.request_id);
            shop.issued.len() - 1
        }) + 1;
        if std::mem::take(&mut shop.loses_issue) {
            return Err(Status::unavailable("the line broke"));
        }
        Ok(Response::new(IssueResponse {
            edition: edition as i32,
            pdf: b"%PDF-1.7 issued".to_vec(),
            file_name: format!("{}-{edition}.pdf", summary.number),
            check_value: "0123456789abcdef".into(),
        }))
    }

    async fn bay_sheet(
        &self,
        request: Request<BaySheetRequest>,
    ) -> Result<Response<BaySheetResponse>, Status> {
        let summary = self.ask(&request)?.summary(&request.get_ref().job)?;
        let file_name = format!("{}-sheet.pdf", summary.number);
        Ok(Response::new(BaySheetResponse { pdf: b"%PDF-1.7 sheet".to_vec(), file_name }))
    }

    async fn photo_sheet(
        &self,
        request: Request<PhotoSheetRequest>,
    ) -> Result<Response<PhotoSheetResponse>, Status> {
        drop(self.ask(&request)?);
        let file_name = "photo-sheet.pdf".to_owned();
        Ok(Response::new(PhotoSheetResponse { pdf: b"%PDF-1.7 greys".to_vec(), file_name }))
    }
}

#[tonic::async_trait]
impl BlobService for Served {
    async fn put_blob(
        &self,
        request: Request<Streaming<PutBlobRequest>>,
    ) -> Result<Response<PutBlobResponse>, Status> {
        if let Some(code) = self.ask(&request)?.refuses_blobs {
            return Err(told(code, "TEST", "no files in this test"));
        }
        let mut parts = request.into_inner();
        let (mut digest, mut bytes) = (String::new(), Vec::new());
        while let Some(part) = parts.message().await? {
            digest = part.blob_digest;
            bytes.extend_from_slice(&part.part);
        }
        let size_bytes = bytes.len() as i64;
        let repeated = self.0.lock().unwrap().blobs.insert(digest, bytes).is_some();
        Ok(Response::new(PutBlobResponse { size_bytes, repeated }))
    }

    type GetBlobStream = ReceiverStream<Result<GetBlobResponse, Status>>;

    async fn get_blob(&self, _: Request<GetBlobRequest>) -> Result<Response<Self::GetBlobStream>, Status> {
        Err(Status::unimplemented("not in this test"))
    }
}

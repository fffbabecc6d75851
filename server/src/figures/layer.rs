//! Counts every call from its beginning to its end, and serves the figures at `/metrics`.
//!
//! Outermost of all layers, so that what the access table refuses is counted too. The figures are shown to this
//! machine without a token, but not to a page of a browser; to others only with the token of an admin or the owner.

use super::Figures;
use crate::access::station_of;
use crate::door::Peer;
use crate::office::is_asked_here;
use crate::status::Cause;
use crate::token::Token;
use crate::workshop::Workshop;
use axum::body::{Bytes, HttpBody};
use http::header::{AUTHORIZATION, CONTENT_TYPE};
use http::{HeaderMap, Method, Request, Response, StatusCode};
use http_body::{Frame, SizeHint};
use metrics::Gauge;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Instant;
use tonic::body::Body;
use tonic::{Code, Status};
use tower::{Layer, Service};

/// Where the figures stand.
const PATH: &str = "/metrics";
/// Type of their text (Prometheus, 'Exposition formats', text format 0.0.4).
const TEXT: &str = "text/plain; version=0.0.4; charset=utf-8";
/// How calls are told whose method is not in the access table.
const OTHER: &str = "other";
/// Roles that read the figures from another machine.
const READERS: [&str; 2] = ["admin", "owner"];

/// Puts the counting around everything.
#[derive(Clone)]
pub(crate) struct FiguresLayer(pub(crate) Arc<Workshop>);

impl<S> Layer<S> for FiguresLayer {
    type Service = Counting<S>;

    fn layer(&self, inner: S) -> Counting<S> {
        Counting { workshop: Arc::clone(&self.0), inner }
    }
}

/// Everything that is served, with its calls counted.
#[derive(Clone)]
pub(crate) struct Counting<S> {
    workshop: Arc<Workshop>,
    inner: S,
}

type Answering<E> = Pin<Box<dyn Future<Output = Result<Response<Body>, E>> + Send>>;

impl<S> Service<Request<Body>> for Counting<S>
where
    S: Service<Request<Body>, Response = Response<Body>>,
    S::Future: Send + 'static,
    S::Error: Send,
{
    type Response = Response<Body>;
    type Error = S::Error;
    type Future = Answering<S::Error>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: Request<Body>) -> Self::Future {
        let figures = &self.workshop.figures;
        if figures.served && request.uri().path() == PATH {
            let asked = Asked::of(&request);
            let workshop = Arc::clone(&self.workshop);
            return Box::pin(async move { Ok(asked.answer(&workshop).await) });
        }
        let call = is_call(&request).then(|| Call::begin(figures, request.uri().path()));
        let answering = self.inner.call(request);
        Box::pin(async move {
            let answer = answering.await?;
            Ok(match call {
                Some(call) => call.around(answer),
                None => answer,
            })
        })
    }
}

fn is_call(request: &Request<Body>) -> bool {
    let content = request.headers().get(CONTENT_TYPE);
    content.is_some_and(|content| content.as_bytes().starts_with(b"application/grpc"))
}

/// One call; counted when it is dropped.
struct Call {
    figures: Arc<Figures>,
    method: &'static str,
    open: Gauge,
    began: Instant,
    code: Code,
}

impl Call {
    fn begin(figures: &Arc<Figures>, path: &str) -> Self {
        let known = crate::access::TABLE.iter().map(|(method, _)| *method).find(|method| *method == path);
        let method = known.unwrap_or(OTHER);
        let open = figures.calls_open(method);
        open.increment(1.0);
        // What nobody waits for any more ends without a code.
        Self { figures: Arc::clone(figures), method, open, began: Instant::now(), code: Code::Cancelled }
    }

    fn around(mut self, answer: Response<Body>) -> Response<Body> {
        self.note(answer.headers());
        answer.map(|body| Body::new(Counted { body, call: self }))
    }

    fn note(&mut self, headers: &HeaderMap) {
        if let Some(status) = Status::from_header_map(headers) {
            self.code = status.code();
        }
    }
}

impl Drop for Call {
    fn drop(&mut self) {
        self.open.decrement(1.0);
        self.figures.call_ended(self.method, self.code, self.began.elapsed());
    }
}

/// The body of an answer, which carries the code at its end.
struct Counted {
    body: Body,
    call: Call,
}

impl HttpBody for Counted {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let polled = Pin::new(&mut self.body).poll_frame(context);
        if let Poll::Ready(Some(Ok(frame))) = &polled
            && let Some(trailers) = frame.trailers_ref()
        {
            self.call.note(trailers);
        }
        polled
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

/// What decides whether somebody is shown the figures.
struct Asked {
    is_get: bool,
    from_here: bool,
    peer: Option<Peer>,
    token: Option<Token>,
}

impl Asked {
    fn of(request: &Request<Body>) -> Self {
        let headers = request.headers();
        // A page elsewhere that a browser of this machine shows is not this machine.
        let by_page = headers.get("sec-fetch-site").is_some_and(|site| site != "none")
            || headers.contains_key("origin");
        // Nor is one that reaches this machine under a foreign name.
        let by_name = is_asked_here(request.uri(), headers);
        let peer = request.extensions().get::<Peer>().cloned();
        let from = peer.as_ref().map(|peer| peer.address.ip().to_canonical());
        let shown = headers.get(AUTHORIZATION).and_then(|shown| shown.to_str().ok());
        Self {
            is_get: request.method() == Method::GET,
            from_here: from.is_some_and(|from| from.is_loopback()) && !by_page && by_name,
            peer,
            token: shown.and_then(|shown| shown.strip_prefix("Bearer ")).and_then(Token::read),
        }
    }

    async fn answer(self, workshop: &Workshop) -> Response<Body> {
        if !self.is_get {
            return plain(StatusCode::METHOD_NOT_ALLOWED, "the figures are read with GET\n".to_owned());
        }
        if !self.from_here {
            match station_of(workshop, self.token.as_ref(), self.peer.as_ref()).await {
                Ok(who) if READERS.contains(&who.role.name()) => {}
                Ok(_) | Err(Cause::Unauthenticated) => {
                    let sentence = "the figures are shown on the shop server's own machine, and elsewhere for the token \
                                    of an admin or the owner: send it as authorization: Bearer TOKEN\n";
                    return plain(StatusCode::UNAUTHORIZED, sentence.to_owned());
                }
                Err(_) => {
                    let sentence = "the token is not looked up now; try again in a minute\n";
                    return plain(StatusCode::SERVICE_UNAVAILABLE, sentence.to_owned());
                }
            }
        }
        plain(StatusCode::OK, workshop.figures.text(workshop).await)
    }
}

fn plain(status: StatusCode, text: String) -> Response<Body> {
    let mut answer = Response::new(Body::new(axum::body::Body::from(text)));
    *answer.status_mut() = status;
    answer.headers_mut().insert(CONTENT_TYPE, http::HeaderValue::from_static(TEXT));
    answer
}

//! What crosses between a workshop and its owner's server, byte by byte: heard inside the encryption by somebody who has the
//! owner's key, taken out of its frames (RFC 9113) and messages (gRPC over HTTP/2) and unpacked (RFC 1952).

use super::workshops::{Place, code_for, serve, stop};
use flate2::read::GzDecoder;
use rustls_pki_types::pem::PemObject as _;
use rustls_pki_types::{CertificateDer, PrivateKeyDer};
use standpipe_proto::join::SERVER_NAME;
use standpipe_server::config::Mode;
use standpipe_server::{JOURNAL_FILE, Order, SystemClock, order};
use standpipe_store::{Beside as _, Customer, Journal as _, SqliteStore};
use standpipe_tests::door::Trust;
use standpipe_tests::shop::Shop;
use std::collections::BTreeMap;
use std::io::Read as _;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::{Arc, Mutex};
use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _};
use tokio::net::TcpListener;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;

/// What a client says before its first frame (RFC 9113, section 3.4).
const PREFACE: &[u8] = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
/// Head of a frame (RFC 9113, section 4.1).
const FRAME_HEAD_BYTES: usize = 9;
const DATA: u8 = 0;
const PADDED: u8 = 8;

type Heard = Arc<Mutex<Vec<Vec<u8>>>>;

/// Listens in between with the owner's own key; gives its address and what each direction of each connection said.
async fn listen(owner: SocketAddr, dir: &Path) -> (SocketAddr, Heard) {
    let certificate = |name: &str| CertificateDer::from_pem_file(dir.join("tls").join(name)).unwrap();
    let key = PrivateKeyDer::from_pem_file(dir.join("tls/server-key.pem")).unwrap();
    let mut config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(vec![certificate("server.pem"), certificate("authority.pem")], key)
        .unwrap();
    config.alpn_protocols = vec![b"h2".to_vec()];
    let (acceptor, trust) = (TlsAcceptor::from(Arc::new(config)), Trust::of(dir, &[b"h2"]));
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let heard = Heard::default();
    let all = Arc::clone(&heard);
    tokio::spawn(async move {
        while let Ok((tcp, _)) = listener.accept().await {
            let near = acceptor.accept(tcp).await.unwrap();
            let far = trust.connect(owner, SERVER_NAME).await.unwrap();
            let ((near_in, near_out), (far_in, far_out)) = (tokio::io::split(near), tokio::io::split(far));
            tokio::spawn(record(near_in, far_out, Arc::clone(&all)));
            tokio::spawn(record(far_in, near_out, Arc::clone(&all)));
        }
    });
    (address, heard)
}

async fn record(mut from: impl AsyncRead + Unpin, mut to: impl AsyncWrite + Unpin, heard: Heard) {
    let place = {
        let mut heard = heard.lock().unwrap();
        heard.push(Vec::new());
        heard.len() - 1
    };
    let mut bytes = vec![0; 16 * 1024];
    while let Ok(read) = from.read(&mut bytes).await {
        if read == 0 {
            break;
        }
        // Written down before it goes on, so that nothing is acted on that was not heard.
        heard.lock().unwrap()[place].extend_from_slice(&bytes[..read]);
        if to.write_all(&bytes[..read]).await.is_err() || to.flush().await.is_err() {
            break;
        }
    }
}

/// The messages of one direction of a connection, unpacked, and how many of them were packed.
fn messages(said: &[u8]) -> (Vec<Vec<u8>>, usize) {
    let mut rest = said.strip_prefix(PREFACE).unwrap_or(said);
    let mut streams: BTreeMap<u32, Vec<u8>> = BTreeMap::new();
    while rest.len() >= FRAME_HEAD_BYTES {
        let length = usize::from(rest[0]) << 16 | usize::from(rest[1]) << 8 | usize::from(rest[2]);
        let (kind, flags) = (rest[3], rest[4]);
        let stream = u32::from_be_bytes([rest[5], rest[6], rest[7], rest[8]]) & 0x7fff_ffff;
        let Some(payload) = rest.get(FRAME_HEAD_BYTES..FRAME_HEAD_BYTES + length) else { break };
        if kind == DATA {
            let padding = if flags & PADDED == 0 { 0 } else { usize::from(payload[0]) };
            let from = usize::from(flags & PADDED != 0);
            streams.entry(stream).or_default().extend_from_slice(&payload[from..payload.len() - padding]);
        }
        rest = &rest[FRAME_HEAD_BYTES + length..];
    }
    let (mut messages, mut packed) = (Vec::new(), 0);
    for said in streams.values() {
        let mut rest = &said[..];
        while rest.len() >= 5 {
            let length = u32::from_be_bytes([rest[1], rest[2], rest[3], rest[4]]) as usize;
            let Some(message) = rest.get(5..5 + length) else { break };
            let mut plain = Vec::new();
            if rest[0] == 1 {
                packed += 1;
                GzDecoder::new(message).read_to_end(&mut plain).unwrap();
            } else {
                plain.extend_from_slice(message);
            }
            messages.push(plain);
            rest = &rest[5 + length..];
        }
    }
    (messages, packed)
}

fn holds(heard: &[Vec<u8>], text: &[u8]) -> bool {
    heard.iter().any(|message| message.windows(text.len()).any(|window| window == text))
}

/// A workshop with everything that must stay there: customer, names, words, a photo.
async fn private(shop: &Shop) -> Vec<Vec<u8>> {
    let words = "bangs into second when cold";
    // Names that stand in no file of the catalogue, which does cross.
    let names = [("A", "technician Q"), ("B", "office R")];
    let work = || {
        for (code, name) in names {
            shop.verb(&format!("person add {code} --name '{name}'")).fine();
        }
        let bay = shop.station("bay-1", "A");
        bay.say("open 'PH 482 K'").fine();
        bay.say(&format!("remark '{words}' --subject complaint")).fine();
        let photo = shop.path("photo.jpg");
        std::fs::write(&photo, standpipe_tests::blobs::photo_with_notes()).unwrap();
        bay.say(&format!("photo '{}' --subject magnets", photo.display()))
    };
    let photo = tokio::task::block_in_place(work);
    assert_eq!(photo.exit, 0, "{photo:?}");
    shop.close();
    let store = SqliteStore::open(&shop.dir().join(JOURNAL_FILE)).await.unwrap();
    let job = store.jobs(None, 1).await.unwrap()[0].job_id;
    let customer =
        Customer { name: "customer Z of the test".to_owned(), telephone: "0555 0100200".to_owned() };
    store.put_customer(job, &customer, 1).await.unwrap();
    store.close().await.unwrap();
    let texts = [names[0].1, names[1].1, words, &*customer.name, &*customer.telephone];
    let mut private: Vec<_> = texts.iter().map(|text| text.as_bytes().to_vec()).collect();
    // A stretch of the photo's own bytes, which stand nowhere else.
    private.push(standpipe_tests::blobs::PHOTO[200..232].to_vec());
    private
}

#[tokio::test(flavor = "multi_thread")]
async fn forwarding_never_carries_customers_names_words_or_photos() {
    let shop = tokio::task::block_in_place(Shop::open);
    let private = private(&shop).await;
    let owner_place = Place::owner().await;
    let owner = owner_place.serve().await;
    let (address, heard) = listen(owner.addr, &owner_place.dir()).await;
    let server = serve(&shop.dir(), Mode::Workshop, Arc::new(SystemClock)).await;
    let code = code_for(&owner_place, "harbour-lane").await;
    order(&shop.dir(), Order::JoinOwner { host: address.to_string(), code }).await.unwrap();
    let kept = server.level_with_owner().await.unwrap();
    assert!(kept > 5);
    stop(server).await;
    stop(owner).await;
    let said = heard.lock().unwrap().clone();
    let (mut all, mut packed) = (said.clone(), 0);
    for direction in &said {
        let (messages, of_them) = messages(direction);
        packed += of_them;
        all.extend(messages);
    }
    // That the search finds what does cross: the plate of a sealed entry, the words of a catalogue file, the site's name.
    let file = std::fs::read(standpipe_tests::site::catalogue().join("workshop.toml")).unwrap();
    for crosses in [&b"PH 482 K"[..], b"Harbour Lane", &file[..file.len().min(64)]] {
        assert!(holds(&all, crosses), "{} was not heard", String::from_utf8_lossy(crosses));
    }
    assert!(packed > 0, "nothing was packed");
    for text in &private {
        assert!(!holds(&all, text), "{} crossed", String::from_utf8_lossy(text));
    }
}

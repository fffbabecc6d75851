//! Whoever stands between a new station and its shop server learns nothing and changes nothing.
//!
//! The one in between is a TLS server of the test's own that counts what it is told inside the encryption. What it may
//! show is everything but what the shop server alone has: its private key.

use rcgen::{BasicConstraints, CertificateParams, DistinguishedName, DnType, IsCa, Issuer, KeyPair};
use rustls_pki_types::pem::PemObject as _;
use rustls_pki_types::{CertificateDer, PrivateKeyDer};
use sha2::{Digest as _, Sha256};
use standpipe_proto::join::SERVER_NAME;
use standpipe_tests::shop::{Home, Said, Shop};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use tokio::io::AsyncReadExt as _;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::server::{ClientHello, ResolvesServerCert};
use tokio_rustls::rustls::sign::CertifiedKey;

/// What somebody shows who is asked for a certificate.
struct Shown {
    chain: Vec<CertificateDer<'static>>,
    key: PrivateKeyDer<'static>,
}

/// Shows it without asking whether key and certificate belong together.
#[derive(Debug)]
struct Shows(Arc<CertifiedKey>);

impl ResolvesServerCert for Shows {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(Arc::clone(&self.0))
    }
}

/// What one connection came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Told {
    /// Whether the station took the handshake.
    shaken: bool,
    /// Bytes that it sent inside the encryption.
    bytes: usize,
}

/// Somebody in between.
struct Between {
    address: SocketAddr,
    told: mpsc::UnboundedReceiver<Told>,
}

impl Between {
    async fn with(shown: Shown) -> Self {
        let signing = ring::sign::any_supported_type(&shown.key).unwrap();
        let shows = Shows(Arc::new(CertifiedKey::new(shown.chain, signing)));
        let mut config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_no_client_auth()
            .with_cert_resolver(Arc::new(shows));
        config.alpn_protocols = vec![b"h2".to_vec()];
        let acceptor = TlsAcceptor::from(Arc::new(config));
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let (tell, told) = mpsc::unbounded_channel();
        tokio::spawn(async move {
            while let Ok((tcp, _)) = listener.accept().await {
                let _ = tell.send(listen_to(tcp, &acceptor).await);
            }
        });
        Self { address, told }
    }

    /// What the connections came to that were made so far; at least one was.
    async fn told(&mut self) -> Told {
        let mut all = self.told.recv().await.unwrap();
        while let Ok(more) = self.told.try_recv() {
            all = Told { shaken: all.shaken || more.shaken, bytes: all.bytes + more.bytes };
        }
        all
    }
}

/// Takes the handshake and hears what comes first.
async fn listen_to(tcp: TcpStream, acceptor: &TlsAcceptor) -> Told {
    let Ok(mut inside) = acceptor.accept(tcp).await else { return Told { shaken: false, bytes: 0 } };
    let mut heard = [0; 4096];
    // A station that goes away is what is hoped for.
    let bytes = inside.read(&mut heard).await.unwrap_or(0);
    Told { shaken: true, bytes }
}

/// What the shop server's folder holds, and what a stranger can make.
struct Material {
    authority: CertificateDer<'static>,
    server: CertificateDer<'static>,
    server_key: PrivateKeyDer<'static>,
    authority_key: String,
}

impl Material {
    fn of(dir: &Path) -> Self {
        let tls = dir.join("tls");
        let certificate = |name: &str| CertificateDer::from_pem_file(tls.join(name)).unwrap();
        Self {
            authority: certificate("authority.pem"),
            server: certificate("server.pem"),
            server_key: PrivateKeyDer::from_pem_file(tls.join("server-key.pem")).unwrap(),
            authority_key: std::fs::read_to_string(tls.join("authority-key.pem")).unwrap(),
        }
    }

    /// Parameters that make the same subject as the real authority's, whose key this is.
    fn authority_with(key: KeyPair) -> (CertificateParams, Issuer<'static, KeyPair>) {
        let tag: String =
            Sha256::digest(key.public_key_raw()).iter().take(4).map(|byte| format!("{byte:02x}")).collect();
        let mut params = CertificateParams::default();
        params.distinguished_name = DistinguishedName::new();
        params.distinguished_name.push(DnType::CommonName, format!("standpipe authority {tag}"));
        params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
        (params.clone(), Issuer::new(params, key))
    }

    /// Everything that somebody without the server's key could show, by what it is.
    fn of_strangers(&self) -> Vec<(&'static str, Shown)> {
        let (own, own_issuer) = Self::authority_with(KeyPair::generate().unwrap());
        let own_authority = own.self_signed(own_issuer.key()).unwrap().der().clone();
        let real_issuer = Self::authority_with(KeyPair::from_pem(&self.authority_key).unwrap()).1;
        let leaf = |name: &str, issuer: &Issuer<'static, KeyPair>| {
            let key = KeyPair::generate().unwrap();
            let params = CertificateParams::new([name.to_owned()]).unwrap();
            let certificate = params.signed_by(&key, issuer).unwrap().der().clone();
            (certificate, PrivateKeyDer::try_from(key.serialize_der()).unwrap())
        };
        let alone = KeyPair::generate().unwrap();
        let by_itself =
            CertificateParams::new([SERVER_NAME.to_owned()]).unwrap().self_signed(&alone).unwrap();
        let any_key = || PrivateKeyDer::try_from(KeyPair::generate().unwrap().serialize_der()).unwrap();
        let (by_own, by_own_key) = leaf(SERVER_NAME, &own_issuer);
        let (other_name, other_name_key) = leaf("shop.lan", &real_issuer);
        let real = &self.authority;
        vec![
            (
                "an authority of its own",
                Shown { chain: vec![by_own.clone(), own_authority], key: by_own_key.clone_key() },
            ),
            (
                "its own certificate beside the real authority",
                Shown { chain: vec![by_own, real.clone()], key: by_own_key },
            ),
            (
                "a certificate that nobody signed beside the real authority",
                Shown {
                    chain: vec![by_itself.der().clone(), real.clone()],
                    key: PrivateKeyDer::try_from(alone.serialize_der()).unwrap(),
                },
            ),
            (
                "the real chain without its key",
                Shown { chain: vec![self.server.clone(), real.clone()], key: any_key() },
            ),
            (
                "the real authority as if it were the server",
                Shown { chain: vec![real.clone()], key: any_key() },
            ),
            (
                "a certificate of the real authority for another name",
                Shown { chain: vec![other_name, real.clone()], key: other_name_key },
            ),
        ]
    }

    /// What the shop server itself shows.
    fn of_the_server(&self) -> Shown {
        let chain = vec![self.server.clone(), self.authority.clone()];
        Shown { chain, key: self.server_key.clone_key() }
    }

    /// A certificate that the real authority made for the right name, to show that such a one would be taken.
    fn of_the_authority(&self) -> Shown {
        let issuer = Self::authority_with(KeyPair::from_pem(&self.authority_key).unwrap()).1;
        let key = KeyPair::generate().unwrap();
        let params = CertificateParams::new([SERVER_NAME.to_owned()]).unwrap();
        let certificate = params.signed_by(&key, &issuer).unwrap().der().clone();
        let key = PrivateKeyDer::try_from(key.serialize_der()).unwrap();
        Shown { chain: vec![certificate, self.authority.clone()], key }
    }
}

/// Says something at a station while others are listened to.
async fn say(home: &Home, line: String) -> Said {
    let home = home.clone();
    tokio::task::spawn_blocking(move || home.say(&line)).await.unwrap()
}

const NOTHING: Told = Told { shaken: false, bytes: 0 };

#[tokio::test(flavor = "multi_thread")]
async fn whoever_stands_between_at_joining_is_told_nothing() {
    let shop = Shop::open();
    let added = shop.verb("station add bay-3").fine();
    let (_, code) = added.line().split_once(' ').unwrap();
    let material = Material::of(&shop.dir());
    let home = shop.home("bay-3");
    for (what, shown) in material.of_strangers() {
        let mut between = Between::with(shown).await;
        let refused = say(&home, format!("join {} {code}", between.address)).await.refused(65);
        assert!(
            refused.contains("is not the one that the code is from") && refused.contains("Do not go on"),
            "{what}: {refused}"
        );
        assert_eq!(between.told().await, NOTHING, "{what}");
    }
    // Without the authority in the chain nothing can be held against the code.
    let alone = Shown { chain: vec![material.server.clone()], key: material.server_key.clone_key() };
    let mut between = Between::with(alone).await;
    say(&home, format!("join {} {code}", between.address)).await.refused(65);
    assert_eq!(between.told().await, NOTHING);
    // What is counted is counted: with the right key the station goes on, and is heard.
    for shown in [material.of_the_server(), material.of_the_authority()] {
        let mut between = Between::with(shown).await;
        say(&home, format!("join {} {code}", between.address)).await.refused(75);
        let told = between.told().await;
        assert!(told.shaken && told.bytes > 0, "{told:?}");
    }
    // The code was never spent.
    say(&home, format!("join {}", added.line())).await.fine();
    shop.close();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_station_that_has_joined_sends_nothing_to_anybody_else() {
    let shop = Shop::open();
    let home = shop.home("bay-3");
    let added = shop.verb("station add bay-3").fine();
    say(&home, format!("join {}", added.line())).await.fine();
    say(&home, "as A".to_owned()).await.fine();
    let material = Material::of(&shop.dir());
    let file = home.path.join("station.toml");
    let joined = std::fs::read_to_string(&file).unwrap();
    let mut kept = 0;
    for (what, shown) in material.of_strangers() {
        let mut between = Between::with(shown).await;
        let moved = joined.replace(&shop.address(), &between.address.to_string());
        assert_ne!(moved, joined);
        std::fs::write(&file, moved).unwrap();
        let said = say(&home, format!("open 'PH {kept}'")).await.ended(75);
        kept += 1;
        let all = format!("{}{}", said.out, said.err);
        assert!(all.contains("is not the one that this station joined"), "{what}: {said:?}");
        assert!(said.out.contains("kept unsent"), "{what}: {said:?}");
        assert_eq!(between.told().await, NOTHING, "{what}");
    }
    std::fs::write(&file, joined).unwrap();
    assert_eq!(home.unsent_files().len(), kept);
    say(&home, "send".to_owned()).await.fine();
    assert_eq!(home.unsent_files().len(), 0, "everything arrived at the right one");
    shop.close();
}

#[tokio::test(flavor = "multi_thread")]
async fn where_no_shop_server_listens_the_sentence_says_what_to_look_at() {
    let shop = Shop::founded();
    let added = shop.verb("station add bay-3").fine();
    let (_, code) = added.line().split_once(' ').unwrap();
    let home = shop.home("bay-3");
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let plain = listener.local_addr().unwrap();
    tokio::spawn(async move {
        while let Ok((mut tcp, _)) = listener.accept().await {
            let answer = b"HTTP/1.1 400 Bad Request\r\nconnection: close\r\n\r\n";
            let _ = tokio::io::AsyncWriteExt::write_all(&mut tcp, answer).await;
            // What came is read, so that the answer is not lost to a reset.
            let _ = tcp.read(&mut [0; 4096]).await;
        }
    });
    let said = say(&home, format!("join {plain} {code}")).await.refused(75);
    assert!(said.contains("is no shop server with TLS"), "{said}");
    // Never given to a test that asks for a free port.
    let free = "127.0.0.1:1";
    let said = say(&home, format!("join {free} {code}")).await.refused(75);
    assert!(said.contains(&format!("nothing listens at {free}")), "{said}");
    // RFC 6761, section 6.4: a name below invalid. is never found; where nobody answers for names, time runs out.
    let said = say(&home, format!("join shop.invalid {code}")).await.refused(75);
    assert!(
        said.contains("no machine is called 'shop.invalid'") || said.contains("no answer in time"),
        "{said}"
    );
}

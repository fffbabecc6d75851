//! Every method of every service, of health and of reflection, for every kind of caller. The list of methods is the
//! generated one, so a new method is asked for without being named here; what a bay may not is written out once more.

use standpipe_proto::{Bytes, METHODS};
use standpipe_server::{Desk, Role, Rule, SystemEntropy, TABLE};
use standpipe_tests::clock::{DAY_US, Hand};
use standpipe_tests::sealed::START_US;
use standpipe_tests::site::{Site, channel, shown};
use standpipe_tests::told::{call, info, reason};
use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::sync::Arc;
use tonic::{Code, Status};

/// Every role there is.
const ALL: &[Role] = &[Role::Bay, Role::Office, Role::Admin, Role::Owner, Role::Forwarder];
/// Who may call what, written out once more; what is not named here is for everybody who reads jobs.
const ONLY: [(&[&str], &[Role]); 5] = [
    (
        &[
            "/standpipe.v1.JournalService/Append",
            "/standpipe.v1.JournalService/AppendStream",
            "/standpipe.v1.RecordService/Issue",
            "/standpipe.v1.BlobService/PutBlob",
            "/standpipe.v1.StationService/Sign",
        ],
        &[Role::Bay, Role::Office, Role::Admin],
    ),
    (
        &[
            "/standpipe.v1.CustomerService/PutCustomer",
            "/standpipe.v1.CustomerService/GetCustomer",
            "/standpipe.v1.CustomerService/EraseCustomer",
        ],
        &[Role::Office, Role::Admin],
    ),
    (
        &[
            "/standpipe.v1.StationService/ListStations",
            "/standpipe.v1.TallyService/PrintTally",
            "/standpipe.v1.TallyService/ListTallyJobs",
        ],
        &[Role::Office, Role::Admin, Role::Owner],
    ),
    (
        &[
            "/standpipe.v1.ForwardingService/CompareJournal",
            "/standpipe.v1.ForwardingService/ForwardEntries",
            "/standpipe.v1.ForwardingService/ReturnEntries",
            "/standpipe.v1.ForwardingService/ListSharedRevisions",
            "/standpipe.v1.ForwardingService/GetSharedRevision",
            "/standpipe.v1.ForwardingService/PutSharedRevision",
        ],
        &[Role::Forwarder],
    ),
    (
        &[
            "/standpipe.v1.StationService/Describe",
            "/standpipe.v1.StationService/RenewToken",
            REFLECTION[0],
            REFLECTION[1],
        ],
        ALL,
    ),
];
const READERS: &[Role] = &[Role::Bay, Role::Office, Role::Admin, Role::Owner];
/// What is asked without a token.
const OPEN: [&str; 3] = [HEALTH[0], HEALTH[1], "/standpipe.v1.StationService/Join"];

fn expected(method: &str) -> &'static [Role] {
    if OPEN.contains(&method) {
        return &[];
    }
    ONLY.iter().find(|(methods, _)| methods.contains(&method)).map_or(READERS, |(_, roles)| roles)
}

const HEALTH: [&str; 2] = ["/grpc.health.v1.Health/Check", "/grpc.health.v1.Health/Watch"];
const REFLECTION: [&str; 2] = [
    "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
    "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
];
/// Reasons that mean that the caller may not, whatever the message says.
const MAY_NOT: [&str; 2] = ["TOKEN_NOT_GOOD", "ROLE_NOT_PERMITTED"];

struct Callers {
    site: Site,
    /// Tokens of which none is good here, each for another reason.
    bad: Vec<String>,
}

impl Callers {
    async fn enrolled() -> Self {
        let stations = [
            ("bay-1", Role::Bay),
            ("bay-2", Role::Bay),
            ("bay-3", Role::Bay),
            ("bay-4", Role::Bay),
            ("office", Role::Office),
            ("owner", Role::Owner),
            ("forwarder", Role::Forwarder),
        ];
        let site = Site::with(&stations).await;
        let (revoked, replaced) = (site.token("bay-2").to_owned(), site.token("bay-4").to_owned());
        let mut desk = Desk::open(&site.dir()).await.unwrap();
        desk.revoke_station("bay-2").await.unwrap();
        desk.renew_token("bay-4").await.unwrap();
        desk.close().await.unwrap();
        let long_ago = Hand::at(START_US - 3 * DAY_US);
        let mut desk = Desk::open_with(&site.dir(), long_ago, Arc::new(SystemEntropy)).await.unwrap();
        let ended = desk.renew_token_for("bay-3", Some(1)).await.unwrap().token.to_string();
        desk.close().await.unwrap();
        let foreign = Site::bare(&[("bay-1", Role::Bay)]).await;
        let foreign = [foreign.token("bay-1").to_owned(), foreign.admin.clone()];
        let bad = [revoked, replaced, ended].into_iter().chain(foreign).collect();
        Self { site, bad }
    }

    /// Callers whose token is not good, in every way in which it may be so.
    fn strangers(&self) -> Vec<Option<String>> {
        let good = self.site.token("bay-1");
        let mut strangers: Vec<_> = [
            "",
            " ",
            "0",
            "garbage",
            &"0".repeat(64),
            &good[1..],
            &format!("{good}0"),
            &format!("{good} {good}"),
            "admin",
            "bay-1",
        ]
        .map(|token| Some(token.to_owned()))
        .into();
        strangers.extend(self.bad.iter().cloned().map(Some));
        strangers.push(None);
        strangers
    }

    fn stations(&self) -> [(Role, &str); 5] {
        let token = |station| self.site.token(station);
        [
            (Role::Bay, token("bay-1")),
            (Role::Office, token("office")),
            (Role::Admin, &self.site.admin),
            (Role::Owner, token("owner")),
            (Role::Forwarder, token("forwarder")),
        ]
    }
}

fn all_methods() -> Vec<&'static str> {
    METHODS.iter().copied().chain(HEALTH).chain(REFLECTION).collect()
}

/// Calls a method with an empty message; health is asked for the server as a whole.
async fn ask(address: SocketAddr, token: Option<&str>, method: &str) -> Result<(), Status> {
    let answered = match token {
        Some(token) => call(shown(address, token).await, method, Bytes::new()).await,
        None => call(channel(address).await, method, Bytes::new()).await,
    };
    answered.map(drop)
}

#[test]
fn the_generated_list_names_every_method_of_the_descriptor() {
    let pool = prost_reflect::DescriptorPool::decode(standpipe_proto::DESCRIPTOR_SET).unwrap();
    let services: Vec<_> = pool.services().collect();
    let methods = services.iter().flat_map(|service| service.methods().collect::<Vec<_>>());
    let paths: BTreeSet<String> =
        methods.map(|method| format!("/{}/{}", method.parent_service().full_name(), method.name())).collect();
    assert_eq!(paths, METHODS.iter().map(|path| (*path).to_owned()).collect());
}

#[test]
fn the_published_table_says_the_same_as_this_one() {
    let rows: BTreeSet<&str> = TABLE.iter().map(|(path, _)| *path).collect();
    assert_eq!(rows, all_methods().into_iter().collect());
    for (path, rule) in TABLE {
        let roles: &[Role] = match rule {
            Rule::Anybody => &[],
            Rule::Stations(roles) => roles,
        };
        let set = |roles: &[Role]| roles.iter().map(|role| role.name()).collect::<BTreeSet<_>>();
        assert_eq!(set(roles), set(expected(path)), "{path}");
    }
}

#[tokio::test]
async fn every_role_may_call_what_the_table_says_and_nothing_else() {
    let callers = Callers::enrolled().await;
    let server = callers.site.serve().await;
    let (mut may, mut may_not) = (0, 0);
    for method in all_methods() {
        for (role, token) in callers.stations() {
            let refused = ask(server.addr, Some(token), method).await.err();
            let told = refused.as_ref().and_then(|status| info(status).ok());
            // Reading the whole site is closed to a bay for another reason than the method.
            let by_method = |told: &tonic_types::ErrorInfo| {
                MAY_NOT.contains(&told.reason.as_str())
                    && told.metadata.get("method").is_none_or(|it| it == method)
            };
            let closed = told.as_ref().is_some_and(by_method);
            let open = OPEN.contains(&method) || expected(method).contains(&role);
            assert_eq!(closed, !open, "{method} {role:?}: {refused:?}");
            if closed {
                let status = refused.unwrap();
                assert_eq!(status.code(), Code::PermissionDenied);
                assert_eq!(told.unwrap().metadata["role"], role.name());
                may_not += 1;
            } else {
                may += 1;
            }
        }
    }
    assert_eq!(may + may_not, all_methods().len() * Role::ALL.len());
    assert!(may_not > Role::ALL.len(), "{may_not}");
}

#[tokio::test]
async fn whoever_has_no_good_token_gets_one_and_the_same_answer_everywhere_but_at_health_and_joining() {
    let callers = Callers::enrolled().await;
    let mut told = BTreeSet::new();
    // So many calls with tokens that are not good are answered at once; a server that was started anew counts anew.
    for methods in all_methods().chunks(20) {
        let server = callers.site.serve().await;
        for method in methods {
            for stranger in callers.strangers() {
                told.extend(strange(server.addr, stranger.as_deref(), method).await);
            }
        }
        server.shutdown();
        server.join().await.unwrap();
    }
    assert_eq!(told.len(), 1, "{told:?}");
}

/// What a stranger is told of a method that asks for a token.
async fn strange(address: SocketAddr, token: Option<&str>, method: &str) -> Option<(String, Vec<u8>)> {
    let answer = ask(address, token, method).await;
    if HEALTH.contains(&method) {
        answer.unwrap();
        return None;
    }
    let status = answer.expect_err(method);
    if OPEN.contains(&method) {
        assert_eq!(reason(&status), "OUTSIDE_BOUNDS", "an empty code is looked at without a token");
        return None;
    }
    assert_eq!(status.code(), Code::Unauthenticated, "{method} {token:?}");
    Some((status.message().to_owned(), status.details().to_vec()))
}

#[tokio::test]
async fn a_path_that_is_not_in_the_table_is_closed_to_everybody() {
    let callers = Callers::enrolled().await;
    let server = callers.site.serve().await;
    let unknown = [
        "/standpipe.v1.JournalService/Delete",
        "/standpipe.v1.JournalService/append",
        "/standpipe.v1.JournalService",
        "/standpipe.v2.JournalService/Append",
        "//standpipe.v1.JournalService/Append",
        "/standpipe.v1.JournalService/Append/",
        "/grpc.health.v1.Health/List",
        "/",
    ];
    for path in unknown {
        for (role, token) in callers.stations() {
            let status = ask(server.addr, Some(token), path).await.expect_err(path);
            assert_eq!(
                (status.code(), reason(&status).as_str()),
                (Code::PermissionDenied, MAY_NOT[1]),
                "{path}"
            );
            let told = info(&status).unwrap().metadata;
            assert_eq!((told["role"].as_str(), told["method"].as_str()), (role.name(), path));
        }
        let status = ask(server.addr, None, path).await.expect_err(path);
        assert_eq!(status.code(), Code::Unauthenticated, "a stranger does not learn what there is: {path}");
    }
    let long = format!("/{}", "x".repeat(8_000));
    let status = ask(server.addr, Some(&callers.site.admin), &long).await.unwrap_err();
    assert_eq!(status.code(), Code::PermissionDenied);
    assert!(status.message().len() < 300, "{}", status.message().len());
}

#[tokio::test]
async fn only_the_form_bearer_is_a_token() {
    let callers = Callers::enrolled().await;
    let server = callers.site.serve().await;
    let good = callers.site.token("bay-1").to_owned();
    let method = "/standpipe.v1.StationService/Describe";
    for (form, taken) in
        [("Bearer TOKEN", true), ("bearer TOKEN", false), ("Basic TOKEN", false), ("TOKEN", false)]
    {
        let value: tonic::metadata::MetadataValue<_> = form.replace("TOKEN", &good).parse().unwrap();
        let add = move |mut request: tonic::Request<()>| {
            request.metadata_mut().insert("authorization", value.clone());
            Ok(request)
        };
        let service = tonic::service::interceptor::InterceptedService::new(channel(server.addr).await, add);
        assert_eq!(call(service, method, Bytes::new()).await.is_ok(), taken, "{form}");
    }
}
